"""Starter sheets with racks and suspension forks, and of points and tubes: read back, solved, held to their words."""

from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.validation.check import check


def written(tmp_path: Path, *options: str, name: str = "n.csv") -> Path:
    sheet = tmp_path / name
    assert main(["new", str(sheet), *options]) == 0
    return sheet


@pytest.mark.parametrize(
    "options",
    [
        ("--with", "rack"),
        ("--with", "rear_rack", "--with", "lowrider"),
        ("--with", "suspension fork"),
        ("--plan", "mixte", "--with", "rack"),
        ("--plan", "tandem", "--with", "rack"),
    ],
    ids=" ".join,
)
@pytest.mark.parametrize("name", ["n.csv", "n.xlsx"])
def test_a_starter_with_extras_passes_its_check(
    tmp_path: Path, options: tuple[str, ...], name: str
) -> None:
    reading = read_input(written(tmp_path, *options, name=name))
    done = check(reading)
    assert done.verdict == "pass"
    assert [f for f in done.findings if f.severity != "info"] == []
    bicycle = reading.need_bicycle()
    assert bool(bicycle.plan.racks) == any("rack" in word for word in options)
    assert (bicycle.suspension is not None) == ("suspension fork" in options)
    # luggage hangs on what was asked for, and every size of it stands in the sheet
    for rack in bicycle.plan.racks:
        assert getattr(bicycle.loads, f"{rack.end}_luggage") > 0
    assert {item.key for item in bicycle.plan.items} == {*bicycle.placing}
    assert not [one for one in bicycle.assumed if one.key.startswith("suspension_")]


@pytest.mark.parametrize("name", ["n.csv", "n.xlsx"])
def test_a_starter_of_points_is_a_model_by_itself(tmp_path: Path, name: str) -> None:
    """40 kg on a trailer: axle and hitch share it by the lever, 120 mm before the axle of 980 mm."""
    reading = read_input(written(tmp_path, "--plan", "points", name=name))
    assert reading.model is not None
    assert {case.name for case in reading.cases} == {"loaded", "corner"}
    done = check(reading)
    assert done.verdict == "pass"
    reactions = done.analysis.results["loaded"].reactions
    assert reactions["hitch"][1] == pytest.approx(400.0 * 120.0 / 980.0, rel=1e-9)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--with", "panniers"), "'panniers' is no extra of a starter sheet; known: rear_rack"),
        (("--with", "lowrider", "--with", "suspension"), "lowrider struts meets a fork blade"),
        (("--plan", "points", "--with", "rack"), "points and tubes stand for themselves"),
    ],
    ids=["unknown", "no blades", "points"],
)
def test_what_does_not_go_together_is_a_wrong_command(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], options: tuple[str, ...], said: str
) -> None:
    assert main(["new", str(tmp_path / "n.csv"), *options]) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "n.csv").exists()
