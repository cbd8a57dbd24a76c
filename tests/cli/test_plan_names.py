"""`droptrail new --plan`: the list needs no sheet, a name that is none is wrong usage."""

from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.model.tubes.known_plans import PLANS


def test_the_list_of_plans_needs_no_sheet(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["new", "--plan", "list"]) == 0
    said = capsys.readouterr().out
    assert [name for name in PLANS if name not in said] == []


def test_without_a_sheet_and_without_the_list_the_sheet_is_asked_for(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert main(["new"]) == 2
    assert "name the sheet to write" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("plan", "words"),
    [
        ("Recumbent", "sample_drawings/recumbent_nodes.csv"),
        ("mixte +", "name is missing beside a '+'"),
        ("banana", "plan 'banana' is not known; known: diamond"),
        ("mixte + step through", "do not go together"),
    ],
)
def test_a_plan_that_is_none_is_wrong_usage(
    plan: str, words: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sheet = tmp_path / "start.csv"
    assert main(["new", str(sheet), "--plan", plan]) == 2
    assert words in capsys.readouterr().err
    assert not sheet.exists()
