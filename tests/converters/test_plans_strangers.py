"""Drawings of every plan by other people's programs and habits, beside their sheets and alone: none is silently wrong.

Some forty of each kind, drawn with other seeds, were looked at outside of the suite.
"""

import re
from pathlib import Path

import pytest
from droptrail.converters.drawings.labelling.doubt import InDoubtError
from droptrail.converters.inputs import Reading, ReadOptions, read_input
from droptrail.model.errors import InputError
from helpers_plan_readings import read_beside, wrong
from helpers_plan_sheets import KINDS
from helpers_plan_strangers import StrangeSheet, strange_sheet

pytestmark = pytest.mark.slow

NUMBERS = (1001, 1002, 1003)
SHARE = 0.9  # of them right at once or after one proposed pick
# Seen from the side they are diamonds, or differ from one by a fork that a diamond may have too.
AS_DIAMONDS = {
    "twin_top_tubes", "mono_stay", "seat_mast", "tapered_head", "head_44", "unicrown_fork", "segmented_fork",
}  # fmt: skip
NO_DIAMOND = {"side-further-tube", "side-tube-bent", "side-stays-run-on", "side-member-missing"}


@pytest.mark.parametrize("k", NUMBERS)
def test_strangers_drawings_beside_their_sheets(k: int, tmp_path: Path) -> None:
    came = {kind: read_beside(strange_sheet(kind, k), tmp_path) for kind in KINDS}
    silent = [kind for kind, how in came.items() if how == "silent"]
    assert not silent
    right = [kind for kind, how in came.items() if how in ("right", "hint")]
    assert len(right) >= SHARE * len(KINDS), came


def _reading(drawn: StrangeSheet, folder: Path) -> Reading | None:
    """The drawing alone; None where it is in doubt or refused."""
    drawing, _ = drawn.write(folder)
    try:
        return read_input(drawing)
    except InputError:
        return None


@pytest.mark.parametrize("k", NUMBERS)
def test_strangers_drawings_alone_are_no_diamonds_in_silence(k: int, tmp_path: Path) -> None:
    measured = 0
    for kind in KINDS:
        drawn = strange_sheet(kind, k)
        reading = _reading(drawn, tmp_path)
        if reading is None:
            continue
        warned = {f.code for f in reading.findings if f.severity != "info"}
        told = {f.code for f in reading.findings} & NO_DIAMOND
        assert warned or not wrong(reading, drawn), kind
        assert warned or told or kind in AS_DIAMONDS, kind
        measured += not wrong(reading, drawn)
    assert measured >= 0.75 * len(KINDS)


def test_a_polylines_vertices_end_no_head_tube(tmp_path: Path) -> None:
    """Outline and centre-line both, each a polyline with a vertex more somewhere along it."""
    for kind, k in (("mixte", 2002), ("second_top_tube", 2055)):
        drawn = strange_sheet(kind, k)
        assert (drawn.habit.lines, drawn.way.make) == ("both", "polylines")
        assert read_beside(drawn, tmp_path) == "right"


def test_a_piece_drawn_twice_ends_no_seat_tube(tmp_path: Path) -> None:
    """Part of a centre-line once more on top, from anywhere along it to above the seatstays' joint."""
    for kind, k in (("unicrown_fork", 3054), ("step_through_twin", 15)):
        drawn = strange_sheet(kind, k)
        assert drawn.way.make == "doubled"
        assert read_beside(drawn, tmp_path) == "right"


def test_a_seat_tube_cut_in_pieces_is_told_where_it_may_go_on(tmp_path: Path) -> None:
    """A centre-line cut above the joints looks as a seatpost's does; a length stated by hand settles it."""
    drawn = strange_sheet("seat_mast", 3006)
    drawing, _ = drawn.write(tmp_path)
    reading = read_input(drawing)
    assert wrong(reading, drawn) == ["seat_tube"]
    (said,) = [
        f for f in reading.findings if f.code == "side-seat-top" and "goes on for" in str(f.message)
    ]
    assert said.severity == "warning"
    length = drawn.frame.dimensions.seat_tube
    stated = read_input(drawing, options=ReadOptions(pick={"seat_tube": f"{length}mm"}))
    assert not wrong(stated, drawn)


def test_stays_close_beside_others_are_told(tmp_path: Path) -> None:
    """Upper stays that lie 7 mm within the seatstays near the dropout."""
    reading = _reading(strange_sheet("split_seatstays", 2002), tmp_path)
    assert reading is not None
    (said,) = [str(f.message) for f in reading.findings if f.code == "side-further-tube"]
    assert "--plan split_seatstays" in said


def test_a_fork_in_pieces_on_the_steering_axis_is_told_and_settled_as_told(tmp_path: Path) -> None:
    """Its upper piece, below the head tube that the user names, may be the headset's; the pick that the warning
    proposes makes it the fork's."""
    drawn = strange_sheet("seat_mast", 3014)
    drawing, _ = drawn.write(tmp_path)
    with pytest.raises(InDoubtError) as doubt:
        read_input(drawing)
    _, head = min(doubt.value.options, key=lambda option: len(option[1]["head_tube"]))
    reading = read_input(drawing, options=ReadOptions(pick=dict(head)))
    assert wrong(reading, drawn) == ["fork_length"]
    told = [f.message for f in reading.findings if f.code == "side-lower-stack"]
    proposed = re.search(r"--pick fork=([0-9A-F,]+)", told[0])
    assert proposed is not None
    fork = proposed.group(1)
    assert wrong(read_input(drawing, options=ReadOptions(pick={**head, "fork": fork})), drawn) == []
