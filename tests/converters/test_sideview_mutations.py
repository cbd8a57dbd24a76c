"""No wrong geometry without a finding: good drawings damaged at random.

One entity is deleted, shifted by 1 to 30 mm, or copied and shifted. What comes back must be the right numbers, a
refusal, or numbers with a finding that was not there before (a warning, or for lines that miss their node by a few
tenths a note of what was snapped, by how much); a value that is no longer drawn is None, not invented.
"""

from collections import Counter
from dataclasses import replace
from math import cos, pi, sin

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve, Drawing
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.model.errors import InputError
from test_sideview_truth import GOOD, TOLERANCE, TRUTH, off

UNIT = {"07": 1 / 25.4, "23": 1 / 25.4, "09": 0.1}  # drawing units per mm, where it is not 1


@pytest.fixture(scope="module")
def drawings() -> dict[str, tuple[Drawing, frozenset[str]]]:
    read = {number: read_dxf(path) for number, path in GOOD.items()}
    return {
        number: (d, frozenset(f.message for f in recognise(d).findings))
        for number, d in read.items()
    }


def shifted(curve: Curve, by: np.ndarray) -> Curve:
    centre = None if curve.centre is None else (curve.centre[0] + by[0], curve.centre[1] + by[1])
    return replace(curve, points=curve.points + by, centre=centre)


def damaged(drawing: Drawing, number: str, rng: np.random.Generator) -> tuple[Drawing, str]:
    curves, k = list(drawing.curves), int(rng.integers(len(drawing.curves)))
    kind = ("delete", "shift", "copy")[rng.integers(3)]
    angle = rng.uniform(0, 2 * pi)
    by = np.array([cos(angle), sin(angle)]) * rng.uniform(1, 30) * UNIT.get(number, 1.0)
    put = {
        "delete": [],
        "shift": [shifted(curves[k], by)],
        "copy": [curves[k], shifted(curves[k], by)],
    }[kind]
    return replace(
        drawing, curves=(*curves[:k], *put, *curves[k + 1 :])
    ), f"{number} {kind} {curves[k].handle} {by}"


def outcome(drawing: Drawing, number: str, known: frozenset[str]) -> str:
    try:
        view = recognise(drawing)
    except InputError:
        return "refused"
    mm, deg = TOLERANCE.get(number, (0.05, 0.02))
    wrong = [
        item
        for item in off(view, TRUTH[number], max(mm, 0.1), max(deg, 0.02))
        if ": None" not in item
    ]
    if not wrong:
        return "right"
    fresh = {f.severity for f in view.findings if f.message not in known}
    return f"silent: {wrong}" if not fresh else "warned" if fresh - {"info"} else "noted"


@pytest.mark.slow
def test_2000_damaged_drawings(drawings):
    rng = np.random.default_rng(4210)
    seen: Counter[str] = Counter()
    for _ in range(2000):
        number = str(rng.choice(list(drawings)))
        drawing, known = drawings[number]
        broken, what = damaged(drawing, number, rng)
        result = outcome(broken, number, known)
        assert not result.startswith("silent"), f"{what}: {result}"
        seen[result] += 1
    assert (
        min(seen["right"], seen["refused"], seen["warned"]) > 50
    )  # all three ways were really met
    assert seen["noted"] < 20


def test_the_check_notices_a_wrong_number(drawings, monkeypatch):
    """A front axle 5 mm off in the truth must not count as right."""
    drawing, known = drawings["01"]
    params = TRUTH["01"]["params"] | {"fork_offset": 57.0}
    monkeypatch.setitem(TRUTH, "01", {"params": params, "derived": TRUTH["01"]["derived"]})
    assert outcome(drawing, "01", known).startswith("silent")
