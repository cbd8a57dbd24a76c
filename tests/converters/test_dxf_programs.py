"""Exports of many more general programs, one habit or fault of each: the numbers, or a refusal that says why.

The files in tests/data/dxf_programs are as their programs wrote them. The frames are invented; truth.json holds what
was put in, and stack, trail, front-centre and wheelbase worked out from that beside this project. `findings` are
warnings that must be there, `refused` what a refusal must say: the wheels or the fork are not in those files, or not
as lines.
"""

import json
import re
from pathlib import Path

import pytest
from droptrail.converters.drawings.sideview.explain import explain
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.model.errors import InputError

FOLDER = Path(__file__).parents[1] / "data" / "dxf_programs"
TRUTH = json.loads((FOLDER / "truth.json").read_text(encoding="utf-8"))
READ = [name for name, entry in TRUTH.items() if "refused" not in entry]


def off(view, entry) -> list[str]:
    """Items that differ from the truth by more than what the export keeps."""
    d, limits = view.dimensions, entry["tolerance"]
    got = {**vars(d), **d.derived(), "stack": d.stack}
    return [
        f"{name}: {got[name]} for {value}"
        for name, value in (entry["params"] | entry["derived"]).items()
        if got[name] is None
        or abs(got[name] - value) > limits["angle_deg" if "angle" in name else "length_mm"]
    ]


def test_every_file_has_its_truth():
    assert set(TRUTH) == {path.name for path in FOLDER.glob("*.dxf")}
    assert len({entry["written_by"].split()[0] for entry in TRUTH.values()}) >= 14


@pytest.mark.parametrize("name", READ)
def test_numbers(name):
    entry = TRUTH[name]
    view = read_side_view(FOLDER / name, **entry["options"])
    assert off(view, entry) == []
    warned = {f.code for f in view.findings if f.severity == "warning"}
    assert set(entry["findings"]) <= warned
    if not entry["findings"]:
        assert not warned & {
            "unit-contradicted",
            "unit-inferred",
            "dxf-stray-line",
            "side-node-disagrees",
        }


@pytest.mark.parametrize("name", [name for name in TRUTH if name not in READ])
def test_refusals(name):
    with pytest.raises(InputError) as error:
        read_side_view(FOLDER / name)
    assert re.search(TRUTH[name]["refused"], str(error.value))


def test_the_comparison_can_fail():
    name = "solvespace_outline_turned.dxf"
    wrong = TRUTH[name] | {"params": TRUTH[name]["params"] | {"fork_offset": 40.0}}
    assert len(off(read_side_view(FOLDER / name), wrong)) == 1


def test_a_line_without_handle_can_be_picked():
    """R12 knows no handles: the table numbers the objects, and the number is as good as a handle."""
    drawing, entry = FOLDER / "dxfwrite_block_r12.dxf", TRUTH["dxfwrite_block_r12.dxf"]
    rows = explain(read_side_view(drawing))
    assert sorted(int(row.handle.removeprefix("#")) for row in rows) == list(
        range(1, len(rows) + 1)
    )
    edges = ",".join(row.handle for row in rows if row.taken_as == "head tube")
    assert off(read_side_view(drawing, pick={"head_tube": edges}), entry) == []
    with pytest.raises(InputError, match="no line has this handle"):
        read_side_view(drawing, pick={"head_tube": f"#{len(rows) + 1}"})
