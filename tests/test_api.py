"""droptrail as a library: ten-line examples that run, public names that are typed, JSON keys that stay.

Each example is a script of its own, run in a process of its own from another folder, as a notebook would.
"""

import inspect
import json
import subprocess
import sys
from pathlib import Path
from textwrap import dedent

import pytest
from droptrail import converters, model
from droptrail.cli.main import main

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_drawings"
KEYS = ROOT / "tests" / "data" / "json_keys.json"

EXAMPLES = {
    "drawing against sheet": """
        from droptrail.converters import read_input

        reading = read_input("tourer_700c.dxf", sheet="tourer_700c.csv")
        d = reading.dimensions
        print(f"trail {d.trail:.1f} mm, drop {d.bb_drop:.1f} mm, stack {d.stack:.1f} mm")
        for finding in reading.findings:
            print(finding.severity, finding.code, finding.message)
        """,
    "stiffness of a frame": """
        from droptrail.converters import read_fit_sheet, bicycle_from_sheet
        from droptrail.model import lay_out, load_cases, mesh, solve

        bicycle = bicycle_from_sheet(read_fit_sheet("tourer_700c.csv")).bicycle
        layout = lay_out(bicycle)
        results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, ["side_push", "climb"]))
        print(results["side_push"].stiffness["head_sideways"], "N/mm under", results["side_push"].case.notes)
        """,
    "a frame from nothing but numbers": """
        from droptrail.model import Bicycle, Fittings, FrameDimensions, Loads, Tube, find_material, lay_out

        steel = find_material("4130")
        tubes = {name: Tube(steel, od, od, (0.9,)) for name, od in {
            "head_tube": 36.0, "top_tube": 28.6, "down_tube": 31.8, "seat_tube": 28.6, "chainstay": 19.0,
            "seatstay": 16.0, "fork_blade": 24.0, "steerer": 25.4}.items()}
        d = FrameDimensions(reach=379.0, head_angle=71.8, seat_angle=72.6, bb_drop=76.0, chainstay=452.0,
                            head_tube=158.0, lower_stack=13.0, fork_length=389.0, fork_offset=50.0,
                            wheel_radius_front=348.0, wheel_radius_rear=348.0, seat_tube=550.0,
                            top_tube_on_seat_tube=522.0, top_tube_below_head_top=34.0,
                            down_tube_above_head_bottom=36.0, seatstay_below_top_tube=16.0)
        print(lay_out(Bicycle(d, tubes, Fittings(), Loads(rider_mass=90.0))).joints["head_tube_top"])
        """,
    "which tube is worth changing": """
        from droptrail.converters import choices, read_input
        from droptrail.model import compare, grid, lay_out, load_cases

        bicycle = read_input("tourer_700c.csv").bicycle
        variants = grid(bicycle, choices(["top_tube=25.4,31.8", "down_tube=34.9x0.8/0.5/0.8"], bicycle))
        comparison = compare(bicycle, variants, lambda b, layout: load_cases(b, layout, ["side_push"]))
        for row in comparison.rows:
            print(row.name, [round(value, 1) for value in row.values])
        """,
    "any frame model of your own": """
        from droptrail.model import Element, FrameModel, LoadCase, find_material, round_tube, solve

        steel, tube = find_material("4130"), round_tube(28.6, 0.9, 0.29)
        nodes = {"foot": (0.0, 0.0, 0.0), "tip": (0.0, 500.0, 0.0)}
        beam = FrameModel(nodes, (Element("1", "foot", "tip", tube, steel, (1.0, 0.0, 0.0)),))
        push = LoadCase("push", {"tip": (0, 0, 100, 0, 0, 0)}, supports={"foot": (1, 1, 1, 1, 1, 1)})
        print(solve(beam, [push])["push"].u[1, 2], "mm")
        """,
    "natural modes": """
        from droptrail.converters import read_input
        from droptrail.model import modes, vibration_model

        frame, case = vibration_model(read_input("tourer_700c.csv").bicycle, "tyres")
        found = modes(frame, case.supports, case.springs, count=4)
        print([round(hz, 2) for hz in found.frequencies_hz])
        """,
    "files out": """
        from droptrail.converters import draw_frame, read_input, write_fit_sheet, write_mitres

        bicycle = read_input("tourer_700c.csv").bicycle
        draw_frame(bicycle, "frame.dxf")
        write_fit_sheet(bicycle, "again.xlsx")
        files, findings = write_mitres(bicycle, "mitres", ["svg"])
        print(len(files), "templates; the same trail again:", read_input("again.xlsx").dimensions.trail)
        """,
    "what is refused": """
        from droptrail.converters import read_input
        from droptrail.model import FrameError

        try:
            read_input("no_such_file.csv")
        except FrameError as error:
            print("refused:", error)
        """,
}


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_run(tmp_path, name):
    for sample in ("tourer_700c.dxf", "tourer_700c.csv"):
        (tmp_path / sample).write_bytes((SAMPLES / sample).read_bytes())
    code = dedent(EXAMPLES[name]).strip()
    assert len(code.splitlines()) <= 14
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**_path(), "PYTHONIOENCODING": "utf-8"},
        check=False,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.strip()


def _path() -> dict[str, str]:
    import os

    return {**os.environ, "PYTHONPATH": str(ROOT)}


def test_an_example_gives_the_right_number(tmp_path):
    """A cantilever of 500 mm under 100 N: P L^3 / 3 E I and the shear's part (Roark, from memory)."""
    code = dedent(EXAMPLES["any frame model of your own"])
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        env=_path(),
        check=True,
    )
    steel, tube = model.find_material("4130"), model.round_tube(28.6, 0.9, 0.29)
    wanted = 100 * 500**3 / (3 * steel.E * tube.Iy) + 100 * 500 / (steel.G * tube.Asz)
    assert float(done.stdout.split()[0]) == pytest.approx(wanted, rel=1e-9)


# --- names and types ------------------------------------------------------------------------------------------------
PACKAGES = (model, converters)


@pytest.mark.parametrize("package", PACKAGES)
def test_every_public_name_is_there_typed_and_told(package):
    for name in package.__all__:
        value = getattr(package, name)
        assert not inspect.ismodule(value)
        if isinstance(value, str):
            continue
        assert inspect.getdoc(value), name
        if inspect.isfunction(value):
            held = set(inspect.signature(value).parameters) | {"return"}
            assert held <= set(value.__annotations__), name


def test_a_name_that_is_not_there_is_refused():
    for package in PACKAGES:
        assert len(package.__all__) > 20
        assert set(package.__all__) <= set(dir(package))
        with pytest.raises(AttributeError, match=r"attribute .?wheel_of_fortune"):
            package.wheel_of_fortune  # noqa: B018 - looking is the test


def test_the_packages_say_that_they_are_typed():
    for layer in ("cli", "converters", "model", "validation"):
        assert (ROOT / layer / "py.typed").exists()


# --- JSON keys ------------------------------------------------------------------------------------------------------
SHEET, DRAWING = str(SAMPLES / "tourer_700c.csv"), str(SAMPLES / "tourer_700c.dxf")
PRINTED = {
    "geometry": ["geometry", DRAWING, "--sheet", SHEET, "--json"],
    "read": ["read", DRAWING, "--json"],
    "solve": ["solve", SHEET, "--json"],
    "check": ["check", DRAWING, "--sheet", SHEET, "--json"],
    "modes": ["modes", SHEET, "--count", "4", "--json"],
    "compare": ["compare", SHEET, "--option", "top_tube=31.8", "--json"],
    "search": ["search", SHEET, "--option", "top_tube=25.4,31.8", "--json"],
    "model": ["model", SHEET],
    "tubes": ["tubes", SHEET, "--case", "climb", "--json"],
    "audit": ["audit", SHEET, "--case", "side_push", "--json"],
    "measured": ["measured", SHEET, str(SAMPLES / "tourer_700c_readings.csv"), "--json"],
    "shimmy": ["shimmy", SHEET, "--json"],
    "cases": ["cases", "--json"],
}
# Where the keys are names out of the input - nodes, elements, cases, tubes, figures - and not the contract's own.
NAMED = {
    "load_cases",
    "displacements",
    "reactions",
    "end_forces",
    "stiffness",
    "supports",
    "cross_check",
    "shape",
    "nodes",
    "materials",
    "sections",
    "loads",
    "nodal",
    "values",
    "change_percent",
    "percent_per_10_g",
    "members",
    "amplitude_mm",
    "static_mm",
    "amplification",
    "kinds",
    "outside_diameters",
    "touching",
    "tubes",
    "choices",
    "rim_radii",
    "moves",
    "measured",
}


def key_paths(value: object, at: str = "") -> set[str]:
    """Every key with the keys above it; list places and names out of the input as `*`."""
    if isinstance(value, list):
        return set().union(*(key_paths(held, f"{at}[]") for held in value[:40])) if value else set()
    if not isinstance(value, dict):
        return set()
    named = at.rpartition(".")[2].removesuffix("[]") in NAMED
    found: set[str] = set()
    for key, held in value.items():
        path = f"{at}.*" if named else f"{at}.{key}".lstrip(".")
        found |= {path} | key_paths(held, path)
    return found


def printed(capsys, argv: list[str]) -> set[str]:
    assert main(argv) in (0, 1)
    return key_paths(json.loads(capsys.readouterr().out))


@pytest.mark.parametrize("name", PRINTED)
def test_json_keys_stay(capsys, name):
    """Keys may come, none may go: scripts rely on them. To enter new ones: python tests/test_api.py"""
    held = set(json.loads(KEYS.read_text(encoding="utf-8"))[name])
    assert held - printed(capsys, PRINTED[name]) == set()
    assert len(held) > 10


def test_a_key_that_goes_is_noticed():
    assert key_paths({"a": {"b": [{"c": 1}]}}) == {"a", "a.b", "a.b[].c"}
    assert key_paths({"nodes": {"x": {"u": 1}, "y": {}}}) == {"nodes", "nodes.*", "nodes.*.u"}
    assert key_paths({"a": {"b": [{}]}}) < key_paths({"a": {"b": [{"c": 1}]}})


if __name__ == "__main__":
    import contextlib
    import io

    table = {}
    for command, words in PRINTED.items():
        with contextlib.redirect_stdout(io.StringIO()) as out:
            main(words)
        table[command] = sorted(key_paths(json.loads(out.getvalue())))
    KEYS.write_text(json.dumps(table, indent=1) + "\n", encoding="utf-8")
