"""Wheels of which a part is drawn, with mudguards about them: read right, or warned with the pick that is right."""

import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Drawing
from droptrail.converters.drawings.sideview.recognise import recognise
from helpers_habits import DrawnFrame, place
from helpers_sheets import Full, _guards, random_sheet
from test_workshop_sheets import off, true_items

TURNS = (190.0, 120.0, 75.0)  # degrees of the tyre that are drawn
COUNT = 8


def half_wheels(number: int, turn: float, guards: str) -> tuple[DrawnFrame, Full, Drawing]:
    """A full sheet whose tyres and rims are arcs, with a mudguard of one line, two or a band about either."""
    rng = np.random.default_rng((17, number))
    frame, how, sheet = random_sheet(rng)
    items = [i for i in sheet.items if i.part != "guard"]
    for k, item in enumerate(items):
        if item.kind == "circle" and item.part.startswith("wheel") and item.radius > 150.0:
            start = float(rng.uniform(180.0, 220.0))
            items[k] = replace(item, kind="arc", start=start, end=start + turn)
    sheet.items[:] = items
    if guards:
        _guards(sheet, frame, guards, rng)
    return frame, how, place(sheet, layers=how.layers).drawing()


def result(frame: DrawnFrame, drawing: Drawing) -> str:
    truth = true_items(frame)
    view = recognise(drawing)
    if not off(view, truth):
        return "right"
    doubts = [f.message for f in view.findings if f.code == "side-tyre-doubt"]
    for message in doubts:
        picks = dict(re.findall(r"--pick (wheel_\w+)=(\w+)", message))
        if picks and not off(recognise(drawing, pick=picks), truth):
            return "right by the warned pick"
    return "warned" if doubts else "silent"


@pytest.mark.parametrize("turn", TURNS)
@pytest.mark.parametrize("guards", ["", "one", "two", "band"])
def test_half_wheels_and_mudguards(turn, guards):
    seen = Counter(result(*half_wheels(n, turn, guards)[::2]) for n in range(COUNT))
    assert set(seen) <= {"right", "right by the warned pick"}
    assert seen["right"] >= COUNT / 2


def test_the_layer_of_the_mudguards_settles_it():
    """Arcs of more than half a turn on a layer for mudguards, the tyres' less: the tyres are the wheels."""
    numbers = [n for n in range(COUNT) if half_wheels(n, 120.0, "one")[1].layers == "words"]
    assert numbers
    for number in numbers:
        frame, _, drawing = half_wheels(number, 120.0, "one")
        assert off(recognise(drawing), true_items(frame)) == []
