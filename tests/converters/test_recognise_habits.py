"""Random frames x drawing habits: the side view must be recognised and measured right, whatever the habit.

The truth is the frame the drawing was made from (tests/helpers_habits.py draws it without any of droptrail's
drawing or reading code). Tolerances: 0.05 mm and 0.02 degrees for drawings with exact nodes.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Curve, Drawing
from droptrail.converters.drawings.dxf.read_dxf import read_dxf
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.drawings.sideview.side_view import SideView
from droptrail.model.errors import InputError
from droptrail.model.geometry.statements import FIELDS
from helpers_habits import EXTRAS, Habit, draw, place, random_drawn_frame
from hypothesis import given, settings
from hypothesis import strategies as st

ALL = tuple(name for name in EXTRAS if name not in ("clearance", "clutter"))
HABITS = {
    "plain": Habit(),
    "arcs": Habit(wheels="arcs"),
    "splines": Habit(wheels="spline"),
    "polygons": Habit(wheels="polygon"),
    "short lines": Habit(wheels="short_lines", rims=True),
    "no marks": Habit(axle_marks="none", bb_mark=False),
    "crosses": Habit(axle_marks="cross"),
    "chain through the bottom bracket": Habit(lines="chain"),
    "closed main triangle": Habit(lines="loop"),
    "collinear pieces": Habit(lines="pieces"),
    "polylines": Habit(lines="polyline"),
    "drawn twice": Habit(repeated=True, rims=True),
    "gaps of 2 mm": Habit(gaps=2.0),
    "gaps of 0.3 mm": Habit(gaps=0.3),
    "outlines": Habit(lines="outline"),
    "open edges": Habit(lines="outline", broken_edges=True),
    "outlines, raked blade": Habit(lines="outline", fork="raked"),
    "outlines, no marks": Habit(lines="outline", axle_marks="none", bb_mark=False),
    "boxes": Habit(lines="boxes"),
    "both": Habit(lines="both", overrun=20.0, repeated=True),
    "axis and offset": Habit(fork="axis_offset"),
    "both, raked": Habit(lines="both", fork="raked"),
    "raked": Habit(fork="raked"),
    "curved blade": Habit(fork="curve"),
    "chained fork": Habit(fork="chained"),
    "pieces, axis and offset": Habit(lines="pieces", fork="axis_offset"),
    "arc stays": Habit(stays="arc"),
    "bulge stays": Habit(stays="bulge"),
    "clutter": Habit(extras=("clutter",)),
    "mudguards": Habit(extras=("clearance",), rims=True),
    "everything": Habit(extras=ALL, rims=True),
    "everything, outlines": Habit(lines="outline", extras=ALL, rims=True),
    "everything, both": Habit(lines="both", overrun=25.0, extras=ALL, rims=True, repeated=True),
    "everything, open edges, raked": Habit(
        lines="outline",
        broken_edges=True,
        fork="raked",
        extras=(*ALL, "clutter"),
        wheels="arcs",
        rims=True,
    ),
}
EACH = 8
FALSE_ALARMS = {
    "side-second-line",
    "side-runner-up",
    "side-node-disagrees",
    "side-drawn-twice",
    "side-edge-missing",
    "side-outline-odd",
    "side-outline-off-centre",
    "side-outline-uneven",
    "side-outline-tapers",
    "side-crown-off-axis",
    "side-crown-doubtful",
    "side-doubtful",
    "side-member-missing",
}


def drawn(name: str, k: int, habit: Habit | None = None):
    """Frame and drawing number k of a habit, anywhere on the sheet, facing any way."""
    rng = np.random.default_rng([sum(map(ord, name)), k])
    frame = random_drawn_frame(rng)
    sheet = draw(frame, habit or HABITS[name], rng)
    far = float(rng.choice([0.0, 1e3, 1e5]))
    placed = place(
        sheet,
        turn=float(rng.choice([0.0, rng.uniform(-180, 180)])),
        mirrored=bool(rng.random() < 0.3),
        flipped=bool(rng.random() < 0.2),
        scale=float(rng.choice([1.0, 1 / 25.4])),
        header=None,
        offset=(rng.uniform(-far, far), rng.uniform(-far, far)),
        layers=str(rng.choice(["zero", "en", "de", "fr", "es", "it"])),
    )
    return frame, placed


def unit(placed) -> str:
    return "mm" if placed.scale == 1.0 else "inch"


def off(view: SideView, frame, mm: float = 0.05, deg: float = 0.02) -> dict[str, float]:
    """Dimensions that differ from the frame drawn by more than the tolerance."""
    truth, got = frame.dimensions, view.dimensions
    pairs = {name: (getattr(got, name), getattr(truth, name)) for name in FIELDS}
    # of a centre-line the upper side is not known
    outlined = view.diameters["top_tube"] is not None
    half = frame.diameters["top_tube"] / 2 if outlined else 0.0
    pairs["top_tube_half"] = (got.given.top_tube_half, half)
    pairs |= {"trail": (got.trail, truth.trail), "stack": (got.stack, truth.stack)}
    return {
        name: (np.inf if a is None else a - b)
        for name, (a, b) in pairs.items()
        if b is not None and (a is None or abs(a - b) > (deg if "angle" in name else mm))
    }


@pytest.mark.parametrize("name", HABITS)
def test_every_habit_is_read_right(name):
    # A blade cut 0.3 mm short lies 0.04 mm from the axis: its crown is known to 0.1 mm only.
    mm = 0.1 if HABITS[name].gaps else 0.05
    for k in range(EACH):
        frame, placed = drawn(name, k)
        # in one line with the fork nothing shows whether a headset is between them
        one_line = HABITS[name].fork == "chained" and frame.dimensions.lower_stack == 0.0
        pick = {"lower_stack": "0mm"} if one_line else None
        view = recognise(placed.drawing(), units=unit(placed), pick=pick)
        assert off(view, frame, mm) == {}, (name, k)
        assert [f for f in view.findings if f.severity == "error"] == []
        # racks, chains, dimension lines: nothing else is taken for a tube
        assert "side-further-tube" not in {f.code for f in view.findings}, (name, k)
        if (
            not HABITS[name].extras and HABITS[name].axle_marks != "cross"
        ):  # a sound drawing raises no false alarm
            assert not FALSE_ALARMS & {f.code for f in view.findings}, (name, k)


@pytest.mark.parametrize("name", ["raked", "curved blade", "arc stays", "bulge stays", "splines"])
def test_curves_exploded_to_short_lines(name):
    """As plotter and page programs write them (pstoedit -polyaslines): the same numbers, or a refusal."""
    # A cubic for a quarter circle leaves it by up to 0.027 %, 0.1 mm of a wheel, and here its middle counts too.
    mm = 0.1 if name == "splines" else 0.05
    read = 0
    for k in range(EACH):
        frame, placed = drawn(name, k)
        try:
            view = recognise(exploded(placed.drawing()), units=unit(placed))
        except InputError:
            continue
        wrong = off(view, frame, mm)
        read += not wrong
        assert not wrong or any(f.severity != "info" for f in view.findings), (name, k, wrong)
    assert read >= EACH - 1


def exploded(drawing: Drawing) -> Drawing:
    """Every curve as lines between its vertices; of a long smooth one between each fourth."""
    out: list[Curve] = []
    for curve in drawing.curves:
        last = len(curve.points) - 1
        step = 4 if last >= 32 and curve.kind != "polyline" else 1  # a polyline's corners count
        stops = np.unique([*range(0, last, step), last]).tolist()
        out += [
            Curve("line", curve.points[[a, b]], curve.layer, curve.linetype)
            for a, b in pairwise(stops)
        ]
    return replace(drawing, curves=tuple(replace(c, handle=f"{n:X}") for n, c in enumerate(out, 1)))


def test_at_least_200_drawings():
    assert len(HABITS) * EACH >= 200


def test_the_comparison_can_fail():
    _, placed = drawn("plain", 0)
    other, _ = drawn("plain", 1)
    assert off(recognise(placed.drawing(), units=unit(placed)), other)


@pytest.mark.parametrize("name", ["outlines", "boxes", "both", "everything, outlines"])
def test_outside_diameters(name):
    for k in range(4):
        frame, placed = drawn(name, k)
        diameters = recognise(placed.drawing(), units=unit(placed)).diameters
        for tube in (
            "head_tube",
            "top_tube",
            "down_tube",
            "seat_tube",
            "chainstay",
            "seatstay",
            "bb_shell",
        ):
            assert diameters[tube] == pytest.approx(frame.diameters[tube], abs=0.05), (tube, k)
        assert diameters["fork_blade"] == pytest.approx(frame.diameters["fork_blade"], abs=0.3), k


def test_centre_lines_hold_no_diameters():
    _, placed = drawn("plain", 2)
    diameters = recognise(placed.drawing(), units=unit(placed)).diameters
    assert {name for name, value in diameters.items() if value is not None} == {"bb_shell"}


@pytest.mark.parametrize("version", ["R12", "R2000", "R2007"])
@pytest.mark.parametrize(
    "name", ["plain", "raked", "outlines", "bulge stays", "splines", "everything, both"]
)
def test_through_dxf_text(tmp_path, name, version):
    """The same drawings as DXF text: nothing is lost between file and dimensions."""
    frame, placed = drawn(name, 3)
    placed.dxf(version).write(tmp_path / "frame.dxf")
    view = read_side_view(tmp_path / "frame.dxf", units=unit(placed))
    assert off(view, frame) == {}
    assert len(read_dxf(tmp_path / "frame.dxf").curves) == len(placed.items)


@settings(deadline=None, max_examples=25)
@given(
    turn=st.floats(-180, 180),
    mirrored=st.booleans(),
    flipped=st.booleans(),
    scale=st.sampled_from([1.0, 0.1, 1e-3]),
    x=st.floats(-1e6, 1e6),
    y=st.floats(-1e6, 1e6),
)
def test_placement_changes_nothing(turn, mirrored, flipped, scale, x, y):
    rng = np.random.default_rng(5)
    frame = random_drawn_frame(rng)
    sheet = draw(frame, Habit(fork="raked", stays="arc"), rng)
    placed = place(sheet, turn, mirrored, flipped, scale, (x * scale, y * scale))
    view = recognise(placed.drawing(), units="mm", scale=1 / scale)
    assert off(view, frame, 0.02, 0.01) == {}
    assert view.transform.mm_per_unit == pytest.approx(1 / scale)


@pytest.mark.parametrize(
    ("mirrored", "flipped", "turn", "code"),
    [
        (True, False, 0.0, "side-facing-left"),
        (False, True, 0.0, "side-upside-down"),
        (False, False, 30.0, "side-rotated"),
        (False, False, 180.0, "side-turned-over"),
        (False, False, 0.4, "side-tilted"),
    ],
)
def test_placement_is_told(mirrored, flipped, turn, code):
    rng = np.random.default_rng(8)
    frame = random_drawn_frame(rng, "700C")
    drawing = place(draw(frame, Habit(), rng), turn, mirrored, flipped).drawing()
    view = recognise(drawing)
    assert code in {f.code for f in view.findings}
    assert (view.transform.mirrored, view.transform.flipped) == (mirrored, flipped)
    straight = recognise(place(draw(frame, Habit(), rng)).drawing())
    placing = {
        "side-facing-left",
        "side-upside-down",
        "side-rotated",
        "side-turned-over",
        "side-tilted",
    }
    assert not placing & {f.code for f in straight.findings}


@pytest.mark.parametrize("jitter", [0.05, 0.3, 1.0])
def test_a_sloppy_drawing_states_its_own_precision(jitter):
    """Every end set down anywhere within `jitter` of its node: trail and drop stay within the ± that is stated, and
    the lines that miss their nodes are named."""
    for k in range(12):
        rng = np.random.default_rng([k, 31])
        frame = random_drawn_frame(rng)
        view = recognise(
            place(draw(frame, Habit(jitter=jitter), rng), turn=20.0).drawing(), units="mm"
        )
        assert abs(view.dimensions.trail - frame.dimensions.trail) <= view.precision.trail
        assert abs(view.dimensions.bb_drop - frame.dimensions.bb_drop) <= view.precision.drop
        assert view.precision.trail < 20 * jitter
        if jitter > 0.1:
            assert {"side-beside-node", "side-node-disagrees"} & {f.code for f in view.findings}


@pytest.mark.parametrize(("digits", "mm"), [(4, 0.01), (3, 0.02), (2, 0.2), (1, 2.0)])
def test_digits_limit_the_precision(digits, mm):
    rng = np.random.default_rng(12)
    frame = random_drawn_frame(rng)
    view = recognise(
        place(draw(frame, Habit(), rng), offset=(300.0, 900.0), digits=digits).drawing(), units="mm"
    )
    assert abs(view.dimensions.trail - frame.dimensions.trail) <= view.precision.trail <= mm
    assert view.precision.resolution == pytest.approx(10.0**-digits)
