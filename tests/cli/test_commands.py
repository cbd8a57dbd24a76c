"""The command line as a builder and a script meet it: exit codes, one-line refusals, stable JSON keys."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import COMMANDS, main
from droptrail.validation.opensees import available

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
TOURER = [str(SAMPLES / "tourer_700c.dxf"), "--sheet", str(SAMPLES / "tourer_700c.csv")]
SHEET = str(SAMPLES / "tourer_700c.csv")


def told(capsys, *argv: str) -> tuple[int, str, str]:
    code = main(list(argv))
    out = capsys.readouterr()
    return code, out.out, out.err


def answer(capsys, *argv: str) -> tuple[int, dict]:
    code, out, err = told(capsys, *argv)
    assert err == ""
    return code, json.loads(out, parse_constant=lambda name: pytest.fail(f"{name} is not JSON"))


def test_geometry_contract(capsys):
    code, got = answer(capsys, "geometry", *TOURER, "--json")
    assert code == 0
    assert list(got) == [
        "source",
        "units",
        "dimensions",
        "derived",
        "joints",
        "parts",
        "precision",
        "findings",
        "assumed",
        "assumptions",
    ]
    assert got["units"] == {"length": "mm", "angle": "deg"}
    assert {
        "stack",
        "reach",
        "head_angle",
        "seat_angle",
        "bb_drop",
        "chainstay",
        "head_tube",
        "fork_length",
        "fork_offset",
        "wheel_radius_front",
        "wheel_radius_rear",
    } <= set(got["dimensions"])
    assert {
        "trail",
        "mechanical_trail",
        "wheel_flop",
        "wheelbase",
        "front_center",
        "front_center_horizontal",
        "bb_height",
        "effective_top_tube",
        "top_tube_slope_deg",
        "axle_to_crown_straight",
    } <= set(got["derived"])
    assert {
        "bottom_bracket",
        "rear_axle",
        "front_axle",
        "head_tube_top",
        "head_tube_bottom",
        "seat_tube_top",
    } <= set(got["joints"])
    assert all(xyz is None or len(xyz) == 3 for xyz in got["joints"].values())


def test_a_drawing_alone_does_not_invent_sizes_across(capsys):
    _, got = answer(capsys, "geometry", TOURER[0], "--json")
    assert got["joints"]["rear_axle"][2] == 0
    assert got["joints"]["rear_dropout_right"] is None


def test_solve_contract(capsys):
    code, got = answer(capsys, "solve", SHEET, "--json")
    assert code == 0
    assert set(got) == {"load_cases", "provenance", "findings", "assumed", "assumptions"}
    assert set(got["load_cases"]) == {
        "seated",
        "seated_luggage",
        "climb",
        "side_push",
        "frame_torsion",
        "saddle_push",
    }
    assert {"input_sha256", "version", "units", "elements", "dofs"} <= set(got["provenance"])
    case = got["load_cases"]["side_push"]
    assert {
        "loads",
        "supports",
        "displacements",
        "reactions",
        "end_forces",
        "stiffness",
        "residual",
        "force_balance",
        "moment_balance",
    } <= set(case)
    assert all(len(u) == 6 for u in case["displacements"].values())
    assert all(len(end["i"]) == len(end["j"]) == 6 for end in case["end_forces"].values())
    assert case["stiffness"]["head_sideways"]["unit"] == "N/mm"
    top = case["displacements"]["head_tube_top"]
    assert case["stiffness"]["head_sideways"]["value"] == pytest.approx(200 / top[2])


def test_check_contract_and_verdict(capsys):
    code, got = answer(capsys, "check", *TOURER, "--json")
    assert (code, got["verdict"]) == (0, "pass")
    assert [row["item"] for row in got["dimensions"]][:2] == ["trail", "bb_drop"]
    assert set(got["dimensions"][0]) >= {
        "item",
        "drawing",
        "sheet",
        "difference",
        "tolerance",
        "ok",
    }
    assert set(got["cross_check"]) == (
        {"seated", "seated_luggage", "climb", "side_push", "frame_torsion", "saddle_push"}
        if available() is None
        else set()
    )
    assert all(difference < 1e-8 for difference in got["cross_check"].values())


def test_check_finds_what_disagrees(capsys):
    code, got = answer(
        capsys,
        "check",
        str(SAMPLES / "disagree_tourer.dxf"),
        "--sheet",
        str(SAMPLES / "disagree_tourer.csv"),
        "--json",
    )
    assert (code, got["verdict"]) == (1, "fail")
    off = {row["item"] for row in got["dimensions"] if row["ok"] is False}
    assert {"trail", "bb_drop", "fork_offset"} <= off


def test_tolerance_decides(capsys):
    loose = ["--tolerance-mm", "20", "--tolerance-deg", "5"]
    code, got = answer(
        capsys,
        "check",
        str(SAMPLES / "disagree_tourer.dxf"),
        "--sheet",
        str(SAMPLES / "disagree_tourer.csv"),
        "--json",
        *loose,
    )
    assert (code, got["verdict"]) == (0, "pass")


def test_settings_change_the_load_and_not_the_stiffness(capsys):
    _, once = answer(capsys, "solve", SHEET, "--case", "side_push", "--json")
    _, twice = answer(
        capsys, "solve", SHEET, "--case", "side_push", "--set", "side_push=400", "--json"
    )
    first, second = (got["load_cases"]["side_push"] for got in (once, twice))
    moved = [case["measured"]["head_sideways"]["value"] for case in (first, second)]
    assert moved[1] == pytest.approx(2 * moved[0])
    assert second["stiffness"]["head_sideways"]["value"] == pytest.approx(
        first["stiffness"]["head_sideways"]["value"]
    )


def test_model_file_solves_to_the_same_numbers(capsys, tmp_path):
    file = tmp_path / "frame.json"
    assert told(capsys, "model", SHEET, "-o", str(file))[0] == 0
    _, direct = answer(capsys, "solve", SHEET, "--json")
    _, through = answer(capsys, "solve", str(file), "--json")
    for name, case in direct["load_cases"].items():
        for measure, stiffness in case["stiffness"].items():
            again = through["load_cases"][name]["stiffness"][measure]["value"]
            assert again == (stiffness["value"] and pytest.approx(stiffness["value"], rel=1e-9))


def test_new_sheet_reads_back(capsys, tmp_path):
    for name in ("mine.csv", "mine.xlsx"):
        assert told(capsys, "new", str(tmp_path / name))[0] == 0
        assert told(capsys, "geometry", str(tmp_path / name))[0] == 0
    code, _, err = told(capsys, "new", str(tmp_path / "mine.csv"))
    assert code == 3
    assert "--force" in err


@pytest.mark.parametrize(
    ("argv", "code", "words"),
    [
        (["geometry", "missing.dxf"], 3, "missing.dxf"),
        (["geometry", "missing.csv"], 3, "missing.csv"),
        (["solve", TOURER[0]], 3, "--sheet"),
        (["solve", SHEET, "--case", "seatd"], 2, "seated"),
        (["solve", SHEET, "--set", "rider_wait=90"], 3, "rider_mass"),
        (["solve", SHEET, "--set", "rider_mass=heavy"], 3, "not a number"),
        (["solve", SHEET, "--set", "rider_mass=-5"], 1, "rider mass"),
        (["solve", SHEET, "--element-length", "0"], 2, "element-length"),
        (["solve"], 2, ""),
        (["solv", SHEET], 2, ""),
        (["geometry", TOURER[0], "--scale", "one to ten"], 2, "1:10"),
    ],
)
def test_refusals_are_one_line(capsys, argv, code, words):
    got, out, err = told(capsys, *argv)
    assert got == code
    assert words in err
    assert "Traceback" not in err + out
    assert out == ""
    if code != 2:
        assert len(err.strip().splitlines()) == 1


def test_a_fault_of_the_program_is_one_line_too(capsys, monkeypatch):
    monkeypatch.setattr("droptrail.cli.geometry.read", lambda *a, **k: 1 / 0)
    code, _, err = told(capsys, "geometry", SHEET)
    assert code == 3
    assert len(err.strip().splitlines()) == 1
    assert "fault of the program" in err


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help(capsys, name):
    code, out, _ = told(capsys, name, "--help")
    assert code == 0
    assert "Usage" in out


@pytest.mark.parametrize(
    ("command", "words"),
    [
        (
            ("tubes", SHEET, "--case", "climb", "--case", "climb_left"),
            (
                "Nominal stress of tubes meeting at their centre-lines",
                "Not a strength certificate",
                "brazing, welding, scratches, rust and holes lower it",
            ),
        ),
        (
            ("shimmy", SHEET),
            ("no promise that it runs steadily", "Tyres, wheels and rider are assumed values"),
        ),
    ],
)
def test_the_caution_stands_beside_the_figures(capsys, command, words):
    _, out, _ = told(capsys, *command)
    said = " ".join(out.split())
    assert [word for word in words if word not in said] == []


def test_help_lists_every_command_and_the_caution(capsys):
    code, out, _ = told(capsys, "--help")
    assert code == 0
    assert all(name in out for name in COMMANDS)
    assert "ISO 4210" in out


OWN_CASE = """
[rack_test]
title = "Weight on the saddle"
like = "side_push"
[[rack_test.load]]
at = "saddle"
force = [0, -500, 0]
"""


def test_a_case_of_ones_own_is_solved(capsys, tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(OWN_CASE, encoding="utf-8")
    code, got = answer(capsys, "solve", SHEET, "--cases", str(file), "--json")
    assert code == 0
    assert list(got["load_cases"]) == ["rack_test"]
    case = got["load_cases"]["rack_test"]
    assert case["loads"]["nodal"] == {"saddle": [0.0, -500.0, 0.0, 0.0, 0.0, 0.0]}
    # Nothing pushes sideways, so the sideways measure is rounding: no stiffness may be made of it.
    assert case["stiffness"]["head_sideways"]["value"] is None
    _, both = answer(
        capsys,
        "solve",
        SHEET,
        "--cases",
        str(file),
        "--case",
        "seated",
        "--case",
        "rack_test",
        "--json",
    )
    assert list(both["load_cases"]) == ["seated", "rack_test"]


def test_a_support_in_thin_air_is_flagged(capsys, tmp_path):
    file = tmp_path / "own.toml"
    file.write_text(
        OWN_CASE
        + '[[rack_test.support]]\nat = "rear_axle"\nheld = ["ux", "uy", "uz", "rx", "ry"]\n'
        '[[rack_test.support]]\nat = "bar_centre"\nheld = ["uy", "uz"]\n',
        encoding="utf-8",
    )
    code, got = answer(capsys, "solve", SHEET, "--cases", str(file), "--json")
    assert code == 1
    assert any("bar centre" in finding["message"] for finding in got["findings"])


def test_tubes_contract(capsys):
    code, got = answer(capsys, "tubes", SHEET, "--case", "side_push", "--json")
    assert code == 0
    shares = got["energy"]["side_push"]
    assert 0.95 < sum(sum(kinds.values()) for kinds in shares.values()) <= 1.0 + 1e-9
    assert {row["tube"] for row in got["sensitivities"]} >= {"top_tube", "down_tube", "seat_tube"}
    assert got["masses_kg"]["top_tube"] == pytest.approx(0.2267, abs=0.001)
