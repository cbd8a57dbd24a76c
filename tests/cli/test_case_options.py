"""Every command that works with load cases takes the builder's own, and passes on what is wrong with them."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main

SHEET = str(Path(__file__).parents[2] / "sample_drawings" / "tourer_700c.csv")
OWN = """
[kerb]
like = "side_push"
[[kerb.load]]
at = "head_tube_top"
force = [0, 0, 100]
[[kerb.measure]]
name = "head"
at = "head_tube_top"
move = [0, 0, 1]
reference = 100
"""
OPTION = ("--option", "top_tube=25.4,28.6x0.8")
WITH_CASES = {
    "solve": (),
    "check": (),
    "tubes": (),
    "model": (),
    "audit": (),
    "compare": OPTION,
    "search": OPTION,
}


@pytest.fixture
def run(capsys):
    """Runs a command; returns its exit code and all it printed."""

    def told(*argv: str) -> tuple[int, str]:
        code = main(list(argv))
        printed = capsys.readouterr()
        return code, printed.out + printed.err

    return told


@pytest.mark.parametrize("command", WITH_CASES)
def test_own_cases_are_worked_with(run, tmp_path, command):
    path = tmp_path / "own.toml"
    path.write_text(OWN, encoding="utf-8")
    code, out = run(command, SHEET, *WITH_CASES[command], "--cases", str(path), "--json")
    assert code == 0, out
    assert "kerb" in out
    assert "climb" not in out


def test_an_own_case_gives_the_stiffness_of_the_library_case_it_is_like(run, tmp_path):
    path = tmp_path / "own.toml"
    path.write_text(OWN, encoding="utf-8")
    figures = {}
    for name, how in (
        ("kerb.head", ("--cases", str(path))),
        ("side_push.head_sideways", ("--case", "side_push")),
    ):
        out = json.loads(run("compare", SHEET, *OPTION, *how, "--json")[1])
        figures[name] = [variant["values"][name] for variant in out["variants"]]
    assert figures["kerb.head"] == pytest.approx(figures["side_push.head_sideways"], rel=1e-9)


@pytest.mark.parametrize("command", WITH_CASES)
@pytest.mark.parametrize(
    "text", ["[kerb", "", "[kerb]\nload = 3\n"], ids=["broken", "empty", "no loads"]
)
def test_a_file_of_cases_that_cannot_be_used_is_refused(run, tmp_path, command, text):
    path = tmp_path / "own.toml"
    path.write_text(text, encoding="utf-8")
    code, out = run(command, SHEET, *WITH_CASES[command], "--cases", str(path))
    assert code == 3
    assert "own.toml" in out


@pytest.mark.parametrize("command", ["geometry", "shimmy", "modes", "read", "draw", "mitre"])
def test_commands_without_load_cases_do_not_take_them(run, command):
    code, out = run(
        command, SHEET, "--cases", "own.toml", *(("-o", "x.dxf") if command == "draw" else ())
    )
    assert code == 2
    assert "--cases" in out


@pytest.mark.parametrize("command", ["solve", "check", "tubes", "audit", "compare", "search"])
def test_a_wheel_that_would_lift_is_told_by_every_command(run, command):
    code, out = run(command, SHEET, *WITH_CASES[command], "--case", "brake_front_rim", "--json")
    assert code == 1
    assert "wheel-lifts" in [finding["code"] for finding in json.loads(out)["findings"]]


def test_a_bicycle_is_not_held_by_a_load_case_when_it_vibrates(run):
    code, out = run("modes", SHEET, "--case", "climb")
    assert code == 3
    assert "--supports" in out


@pytest.mark.parametrize(
    "words",
    [
        ("--tolerance-mm", "nan"),
        ("--tolerance-mm", "inf"),
        ("--tolerance-deg", "-1"),
        ("--scale", "1:nan"),
        ("--scale", "1:1e400"),
    ],
)
def test_tolerances_and_scales_that_are_no_numbers_are_wrong_usage(run, words):
    code, out = run("geometry", SHEET, *words)
    assert code == 2
    assert words[0] in out
