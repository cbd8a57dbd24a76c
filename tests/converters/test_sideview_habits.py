"""Random frames drawn with random habits (tests/helpers_habits.py): the right numbers or a refusal, never others.

Frames, habits, placement, scale and layer language are all drawn by lot; nothing of the reader is known to the
draughtsman. Every fourth drawing goes through DXF text and the file reader.
"""

from collections import Counter

import numpy as np
import pytest
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.drawings.sideview.side_view import SideView
from droptrail.model.errors import InputError
from droptrail.model.geometry.dimensions import FrameDimensions
from helpers_habits import EXTRAS, Habit, Placed, draw, place, random_drawn_frame

ITEMS = (
    "trail",
    "bb_drop",
    "head_angle",
    "seat_angle",
    "chainstay",
    "fork_offset",
    "wheelbase",
    "reach",
    "stack",
)
COUNT = 240
SHOWN_ENDS = ("outline", "boxes", "both")  # of the head tube, by its edges


def habit(rng: np.random.Generator) -> Habit:
    def one(*choices: str) -> str:
        return str(rng.choice(choices))

    slop = one("clean", "clean", "gaps", "jitter", "overrun")
    return Habit(
        wheels=one("circle", "circle", "arcs", "spline", "polygon", "short_lines"),
        rims=bool(rng.random() < 0.4),
        axle_marks=one("circle", "cross", "none"),
        bb_mark=bool(rng.random() < 0.8),
        lines=one(
            "centre", "centre", "outline", "boxes", "both", "chain", "loop", "pieces", "polyline"
        ),
        broken_edges=bool(rng.random() < 0.2),
        gaps=float(rng.uniform(0.1, 2)) if slop == "gaps" else 0.0,
        jitter=float(rng.uniform(0.01, 0.2)) if slop == "jitter" else 0.0,
        overrun=float(rng.uniform(5, 45)) if slop == "overrun" else 0.0,
        fork=one("oblique", "axis_offset", "raked", "curve", "chained"),
        stays=one("straight", "straight", "arc", "bulge"),
        repeated=bool(rng.random() < 0.2),
        extras=tuple(e for e in EXTRAS if rng.random() < 0.15),
        layers=one("zero", "en", "de", "fr", "es", "it"),
    )


def placed(drawn: object, how: Habit, rng: np.random.Generator) -> Placed:
    turn = float(rng.uniform(-180, 180)) if rng.random() < 0.4 else 0.0
    offset = (float(rng.uniform(-5000, 5000)), float(rng.uniform(-5000, 5000)))
    return place(
        drawn,
        turn=turn,
        mirrored=bool(rng.random() < 0.4),
        scale=float(rng.choice([1, 1, 1 / 25.4, 0.1])),
        offset=offset,
        layers=how.layers,
        header=None,
    )


def wrong(got: FrameDimensions, true: FrameDimensions, how: Habit) -> list[str]:
    """Items off by more than the draughtsman's own sloppiness explains."""
    tolerance = 0.1 + 3 * how.jitter + (0.6 if how.wheels in ("polygon", "short_lines") else 0.0)
    a, b = ({**vars(d), **d.derived()} for d in (got, true))
    return [
        f"{item}: {a[item]:.2f} for {b[item]:.2f}"
        for item in ITEMS
        if abs(a[item] - b[item]) > tolerance * (3 if item == "trail" else 1)
    ]


def seen(paper: Placed, through_file: bool, folder, pick: dict[str, str] | None = None) -> SideView:
    if not through_file:
        return recognise(paper.drawing(), pick=pick)
    path = folder / "drawn.dxf"
    paper.dxf("R2000").write(path)
    return read_side_view(path, pick=pick)


@pytest.mark.slow
def test_random_drawings(tmp_path):
    result: Counter[str] = Counter()
    for number in range(COUNT):
        rng = np.random.default_rng((2024, number))
        frame, how = random_drawn_frame(rng), habit(rng)
        paper = placed(draw(frame, how, rng), how, rng)
        # a head tube in one line with the fork: nothing shows whether a headset is between them, so it is asked
        one_line = how.fork == "chained" and frame.dimensions.lower_stack == 0.0
        pick = {"lower_stack": "0mm"} if one_line and how.lines not in SHOWN_ENDS else None
        try:
            view = seen(paper, number % 4 == 0, tmp_path, pick)
        except InputError:
            result["refused"] += 1
            continue
        off = wrong(view.dimensions, frame.dimensions, how)
        assert not off or any(f.severity != "info" for f in view.findings), f"{number} {how}: {off}"
        result["warned" if off else "right"] += 1
    assert result["right"] >= 0.97 * COUNT


def test_the_comparison_can_fail():
    rng = np.random.default_rng(1)
    one, other = random_drawn_frame(rng), random_drawn_frame(rng)
    assert wrong(one.dimensions, other.dimensions, Habit())
    assert not wrong(one.dimensions, one.dimensions, Habit())
