"""Ends that no line shows: what is asked or told, what each proposed length gives, and what the builder states.

Lines are cut into dashes here as CAD programs explode a line type: begun with its long dash at one end, or with both
end dashes cut alike so that both ends are drawn (common practice, no source).
"""

import re
from dataclasses import replace
from math import hypot

import numpy as np
import pytest
from droptrail.converters.drawings.drawing import Note
from droptrail.converters.drawings.labelling.doubt import InDoubtError
from droptrail.converters.drawings.sideview.recognise import recognise
from droptrail.converters.drawings.sideview.side_view import SideView
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.converters.showing.report.doubt import doubt_picture
from droptrail.model.errors import InputError
from helpers_habits import (
    DrawnFrame,
    Habit,
    Item,
    Sheet,
    _go,
    _unit,
    draw,
    place,
    random_drawn_frame,
)

DASHES = ((32.0, 6.0), (6.0, 6.0))  # mm: dash and space, dot and space
FLUSH, HEADSET = 0.0, 12.0


def frame_of(number: int, stack: float) -> DrawnFrame:
    """A frame whose top tube joins near the upper end of a head tube long enough for dashes."""
    rng = np.random.default_rng((61, number))
    while True:
        frame = random_drawn_frame(rng)
        if frame.dimensions.head_tube > 120.0:
            return replace(frame, dimensions=replace(frame.dimensions, lower_stack=stack))


def in_one_line(frame: DrawnFrame, top: float = 0.0) -> Sheet:
    """Centre-lines; from `top` mm above the head tube to the axle one polyline with a corner at the crown."""
    d = frame.dimensions
    sheet = draw(frame, Habit(), np.random.default_rng(1))
    sheet.items[:] = [i for i in sheet.items if i.part not in ("head_tube", "fork")]
    start = d.head_tube_top.along(d.axis_up, top)
    if top:
        sheet.line(start, d.fork_crown, "head_tube")
        sheet.line(d.fork_crown, d.front_axle, "fork")
    else:
        sheet.polyline([start, d.fork_crown, d.front_axle], "head_tube")
    return sheet


def asked(sheet: Sheet, **more: object) -> InDoubtError:
    drawing = replace(place(sheet).drawing(), **more)
    with pytest.raises(InDoubtError) as refused:
        recognise(drawing)
    return refused.value


def head_of(view: SideView) -> tuple[float, float, float]:
    d = view.dimensions
    return d.head_tube, d.lower_stack, d.stack


def true_head(frame: DrawnFrame) -> tuple[float, float, float]:
    d = frame.dimensions
    return d.head_tube, d.lower_stack, d.stack


@pytest.mark.parametrize("stack", [FLUSH, HEADSET])
@pytest.mark.parametrize("number", range(4))
def test_head_tube_and_fork_in_one_line_are_asked_about(number: int, stack: float) -> None:
    frame = frame_of(number, stack)
    sheet = in_one_line(frame)
    doubt = asked(sheet)
    for (_, picks), proposal in zip(doubt.options, doubt.proposals, strict=True):
        view = recognise(place(sheet).drawing(), pick=dict(picks))
        assert f"head tube length {view.dimensions.head_tube:.1f}" in proposal.gives
        assert "side-ends-doubtful" not in {f.code for f in view.findings}
    answered = recognise(place(sheet).drawing(), pick={"lower_stack": f"{stack:g}mm"})
    assert head_of(answered) == pytest.approx(true_head(frame), abs=1e-6)
    assert {f"{stack:g}mm"} <= {picks["lower_stack"] for _, picks in doubt.options}


@pytest.mark.parametrize("number", range(4))
def test_an_axis_from_crown_to_stem_is_asked_about_and_settled_by_two_lengths(number: int) -> None:
    frame = frame_of(number, 14.0)
    sheet = in_one_line(frame, top=75.0)
    doubt = asked(sheet)
    (line,) = [picks["head_tube"] for _, picks in doubt.options if "lower_stack" not in picks]
    as_drawn = recognise(place(sheet).drawing(), pick={"head_tube": line})
    d = frame.dimensions
    assert as_drawn.dimensions.head_tube == pytest.approx(d.head_tube + 75.0 + 14.0, abs=1e-6)
    stated = {"lower_stack": "14mm", "head_tube": f"{d.head_tube}mm"}
    answered = recognise(place(sheet).drawing(), pick=stated)
    assert head_of(answered) == pytest.approx(true_head(frame), abs=1e-6)
    assert answered.dimensions.trail == pytest.approx(d.trail, abs=1e-6)


def test_a_number_written_on_the_paper_is_proposed_first() -> None:
    frame = frame_of(1, 17.0)
    told = f"HEAD TUBE {frame.dimensions.head_tube:.2f}"
    doubt = asked(in_one_line(frame), notes=(Note(told, (0.0, 900.0), 20.0),))
    first = dict(doubt.options[0][1])
    assert float(first["lower_stack"].removesuffix("mm")) == pytest.approx(17.0, abs=0.011)


def test_the_sheets_lengths_are_proposed_first_and_never_taken(tmp_path) -> None:
    frame = frame_of(2, 13.5)
    d = frame.dimensions
    drawing = tmp_path / "frame.dxf"
    place(in_one_line(frame)).dxf("R2000").write(drawing)
    rows = {
        "head angle": d.head_angle, "seat angle": d.seat_angle, "bb drop": d.bb_drop, "reach": d.reach,
        "chainstay": d.chainstay, "head tube": d.head_tube, "lower headset stack": d.lower_stack,
        "fork length along axis": d.fork_length, "fork offset": d.fork_offset,
        "front wheel radius": d.wheel_radius_front, "rear wheel radius": d.wheel_radius_rear,
        "seat tube": d.seat_tube, "top tube on seat tube": d.top_tube_on_seat_tube,
        "top tube below head tube top": d.top_tube_below_head_top,
        "down tube above head tube bottom": d.down_tube_above_head_bottom,
        "seatstay below top tube": d.seatstay_below_top_tube,
    }  # fmt: skip
    sheet = tmp_path / "frame.csv"
    sheet.write_text("item,value\n" + "".join(f"{k},{v:.6f}\n" for k, v in rows.items()))
    with pytest.raises(InDoubtError, match="The first is what the sheet states") as refused:
        read_input(drawing, sheet)
    picks = dict(refused.value.options[0][1])
    answered = read_input(drawing, sheet, ReadOptions(pick=picks)).view
    assert answered is not None
    assert head_of(answered) == pytest.approx(true_head(frame), abs=1e-3)


# --- dashes -----------------------------------------------------------------------------------------------------


def dashed(item: Item, begun: str) -> list[Item]:
    """A line as single dashes and dots, begun at its "lower" or "upper" end, or "both": both end dashes cut alike."""
    p, q = sorted(item.points, key=lambda at: at[1], reverse=begun == "upper")
    size = hypot(q[0] - p[0], q[1] - p[1])
    (dash, space), (dot, last) = DASHES
    period = dash + space + dot + last
    at = 0.0
    if begun == "both":
        rest = (size - (space + dot + last)) % period
        at = rest / 2 - dash
    pieces = []
    while at < size:
        for ink, gap in DASHES:
            ends = [_go(p, _unit(p, q), min(max(t, 0.0), size)) for t in (at, at + ink)]
            if ends[0] != ends[1]:
                pieces.append(replace(item, points=(ends[0], ends[1])))
            at += ink + gap
    return pieces


def in_dashes(frame: DrawnFrame, begun: str) -> Sheet:
    sheet = draw(frame, Habit(fork="raked"), np.random.default_rng(1))
    sheet.items[:] = [
        piece
        for item in sheet.items
        for piece in (dashed(item, begun) if item.part == "head_tube" else [item])
    ]
    return sheet


@pytest.mark.parametrize("begun", ["lower", "upper"])
def test_an_end_in_a_space_between_dashes_is_told_with_what_it_may_be(begun: str) -> None:
    """Head tubes of every length: the truth lies in the range told, or the end is drawn."""
    told = 0
    for number in range(24):
        frame = frame_of(number, 12.0)
        view = recognise(place(in_dashes(frame, begun)).drawing())
        said = [f.message for f in view.findings if f.code == "side-ends-doubtful"]
        length = frame.dimensions.head_tube
        if not said:
            assert view.dimensions.head_tube == pytest.approx(length, abs=0.6)
            continue
        (words,) = said
        least, most = (
            float(x) for x in re.search(r"it is ([\d.]+) to ([\d.]+) mm", words).groups()
        )
        assert least - 0.1 <= length <= most + 0.1
        assert most - least <= 6.1
        proposed = re.search(r"--pick head_tube=([\d.]+)mm", words)
        assert least - 0.1 <= float(proposed[1]) <= most + 0.1
        told += 1
    assert 2 <= told <= 20


def test_dashes_that_are_cut_at_both_ends_leave_nothing_open() -> None:
    for number in range(12):
        frame = frame_of(number, 12.0)
        view = recognise(place(in_dashes(frame, "both")).drawing())
        assert head_of(view) == pytest.approx(true_head(frame), abs=0.1)
        assert "side-ends-doubtful" not in {f.code for f in view.findings}


def test_a_stated_length_settles_the_dashes() -> None:
    for number in range(24):
        frame = frame_of(number, 12.0)
        drawing = place(in_dashes(frame, "upper")).drawing()
        if "side-ends-doubtful" in {f.code for f in recognise(drawing).findings}:
            length = frame.dimensions.head_tube
            view = recognise(drawing, pick={"head_tube": f"{length}mm"})
            assert "side-ends-doubtful" not in {f.code for f in view.findings}
            assert head_of(view) == pytest.approx(true_head(frame), abs=1e-6)
            return
    raise AssertionError("no end of 24 lay in a space")


# --- what can be stated ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("pick", "said"),
    [
        ({"top_tube": "500mm"}, "a length can be stated of head_tube, lower_stack, seat_tube"),
        ({"lower_stack": "4F"}, "is no line; state it in millimetres, as --pick lower_stack=12mm"),
    ],
)
def test_what_cannot_be_stated_is_refused(pick: dict[str, str], said: str) -> None:
    drawing = place(draw(frame_of(0, 12.0), Habit(), np.random.default_rng(1))).drawing()
    with pytest.raises(InputError, match=re.escape(said)):
        recognise(drawing, pick=pick)


def test_a_stated_seat_tube_is_taken() -> None:
    drawing = place(draw(frame_of(0, 12.0), Habit(), np.random.default_rng(1))).drawing()
    assert recognise(drawing, pick={"seat_tube": "612.5mm"}).dimensions.seat_tube == 612.5


def test_a_length_is_no_line_to_click_but_the_line_in_doubt_stands_out() -> None:
    sheet = in_one_line(frame_of(1, 0.0))
    doubt = asked(sheet)
    ways = [picks.values() for _, picks in doubt.options]
    shown = doubt_picture(place(sheet).drawing(), ways, doubt.lines)
    assert shown.count("data-option") == len(ways)
    assert "tabindex" not in shown
    assert shown.count('class="doubtful"') == 1
    (handle,) = doubt.lines
    clicked = doubt_picture(place(sheet).drawing(), [[handle], *ways], doubt.lines)
    assert clicked.count("tabindex") == 1
    assert "doubtful" not in clicked
