"""Ends of head and seat tube that no line of the drawing shows: what they could be, and what the builder can state.

A bare centre-line ends a tube only where it was ended on purpose. Where head tube and fork are one line, where the
line runs on to the stem, or where it is made of single dashes, a length has to be stated: by a number written on the
sheet of paper, by the fit sheet, by hand (``--pick head_tube=150mm``).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from ....model.arrays import Array
from ....model.findings import Finding
from ....model.words import spoken
from ..drawing import Drawing
from ..labelling.doubt import InDoubtError, as_typed, taken_as
from ..labelling.measure import Measured
from ..labelling.rivals import AT_CROWN
from ..linework.lines import Candidate
from ..linework.strokes import DASH, DASHES
from .say import find
from .written import written_lengths

USUAL_STACK = 12.0  # mm; a headset's lower part, an external cup (common practice, no source)
# mm of head tube above the top tube: usual where nothing is known, and from which its upper end is doubtful
USUAL_ABOVE = 30.0
ABOVE = 70.0
ROUND = (50.0, 10.0, 5.0, 1.0)  # mm; what a builder draws is a round number more often than not
NEARLY = 0.05  # mm from a round number that still are one
SAME_DASH = 0.02  # share of its length by which a dash differs from others of its kind
LEAST_HEAD = 60.0  # mm; no shorter head tube is proposed


@dataclass(frozen=True)
class OpenDash:
    """A tube drawn in dashes: its length as drawn, and with the space beyond the open end, mm; which end is open."""

    member: str
    least: float
    most: float
    lower: bool
    upper: bool

    @property
    def proposed(self) -> float:
        """The roundest of the lengths it may have."""
        for step in ROUND:
            whole = np.ceil(self.least / step - NEARLY / step) * step
            if whole <= self.most + NEARLY:
                return float(whole)
        return self.least


def refuse_open_ends(m: Measured, drawing: Drawing) -> None:
    """Asks for the head tube's ends where its line is the fork's as well, or runs on to the stem.

    Raises InDoubtError.
    """
    evidence = m.labelled.reading.view.evidence
    if not _on_fork(m) or "head_tube" in evidence.lengths or evidence.claimed("head_tube"):
        return
    handles = ",".join(
        dict.fromkeys(drawing.curves[i].handle for i in taken_as(m.labelled.reading, "head_tube"))
    )
    length = m.dimensions.head_tube
    if _too_high(m):
        above = m.dimensions.top_tube_below_head_top
        said = (
            f"the line of the head tube (handle {handles}) begins at the fork and ends {above:.4g} mm above the top "
            f"tube: a head tube {length:.4g} mm long, or the steering axis from the crown to the stem, on which the "
            "head tube's own ends are not drawn"
        )
        ways = [*_from_crown(m, drawing), {"head_tube": handles}]
        # a round number was drawn as a length of its own
        ways = ways[::-1] if _roundness(length) >= ROUND[2] else ways
    elif "lower_stack" in evidence.lengths or not _one_line(m):
        return
    else:
        said = (
            f"head tube and fork are one line (handle {handles}), on which a headset between them would not show: the "
            f"head tube is {length:.4g} mm long down to the crown, or shorter by the headset's lower part"
        )
        ways = _above_crown(m, drawing)
    if not handles:
        ways = [way for way in ways if "head_tube" not in way or way["head_tube"]]
    raise InDoubtError(
        f"{said}; draw the head tube as a line of its own, from its lower to its upper end",
        [(as_typed(way), way) for way in ways],
        lines=handles.split(","),
        asked=("lower_stack", "head_tube"),
    )


def _above_crown(m: Measured, drawing: Drawing) -> list[dict[str, str]]:
    """A lower stack for each way the line may be shared out, the rounder head tube first; written ones before them."""
    length = m.dimensions.head_tube
    written = [
        length - told
        for told in written_lengths(drawing, "head_tube", m.labelled.pose.scale)
        if LEAST_HEAD <= told <= length
    ]
    usual = sorted((0.0, USUAL_STACK), key=lambda stack: -_roundness(length - stack))
    stacks = dict.fromkeys(round(stack, 2) for stack in [*written, *usual])
    return [{"lower_stack": f"{stack:g}mm"} for stack in stacks]


def _from_crown(m: Measured, drawing: Drawing) -> list[dict[str, str]]:
    """Lower stack and head tube, as written on the sheet or as is usual about the tubes that join."""
    top = m.dimensions.head_tube - (m.dimensions.top_tube_below_head_top or 0.0)
    step = ROUND[1]
    usual = max(round((top - USUAL_STACK + USUAL_ABOVE) / step) * step, LEAST_HEAD)
    lengths = [*written_lengths(drawing, "head_tube", m.labelled.pose.scale), usual]
    return [
        {"lower_stack": f"{USUAL_STACK:g}mm", "head_tube": f"{length:g}mm"}
        for length in dict.fromkeys(lengths)
        if LEAST_HEAD <= length < m.dimensions.head_tube
    ]


def _roundness(length: float) -> float:
    """The greatest round step that a length is a multiple of, mm."""
    fits = (s for s in ROUND if abs(length - round(length / s) * s) <= NEARLY)
    return next(fits, 0.0)


# --- what the head tube's line is ---------------------------------------------------------------------------


def _on_fork(m: Measured) -> bool:
    """A head tube that is a mere stretch of the steering axis, down to the fork."""
    reading = m.labelled.reading
    # an outline shows its own ends, and a space above the crown shows that the line was ended on purpose
    bare = not reading.axis.is_tube and m.labelled.members["head_tube"].tube is None
    drawn = m.head_bottom if "lower_stack" in reading.view.evidence.lengths else m.crown
    return bare and _open_dash(m, "head_tube") is None and abs(m.head_bottom - drawn) <= AT_CROWN


def _one_line(m: Measured) -> bool:
    """Head tube and fork share a curve."""
    reading = m.labelled.reading
    fork = m.labelled.fork
    if fork is None:
        return False
    view = reading.view
    head = {int(view.owner[k]) for k in reading.span.pieces}
    # only a fork that shares its line with the head tube has pieces; else its strokes tell
    below = {int(view.owner[k]) for k in fork.pieces} or set(view.curves_of(fork.strokes))
    return bool(head & below)


def _too_high(m: Measured) -> bool:
    above = m.dimensions.top_tube_below_head_top
    return above is not None and above > ABOVE


# --- dashes ---------------------------------------------------------------------------------------------------


def dash_findings(m: Measured) -> Iterator[Finding]:
    """Tubes drawn in single dashes whose last dash may be followed by a space that is part of them."""
    stated = m.labelled.reading.view.evidence.lengths
    for name in ("head_tube", "seat_tube"):
        open_ = _open_dash(m, name)
        if open_ is None or name in stated or (name == "head_tube" and "lower_stack" in stated):
            continue
        if open_.lower and open_.upper:
            where = "at one of its ends"
        else:
            where = f"at its {'lower' if open_.lower else 'upper'} end"
        yield find(
            "ends-doubtful",
            "warning",
            f"the {spoken(name)} is a line of single dashes and may run on through a space {where}: it is "
            f"{open_.least:.4g} to {open_.most:.4g} mm long. Draw it as one line with a line type, or state its "
            f"length, such as --pick {name}={open_.proposed:.4g}mm",
        )


def _open_dash(m: Measured, name: str) -> OpenDash | None:
    """What a tube's dashes leave open; None where it is no line of dashes or both its ends are known."""
    member = m.labelled.members[name]
    if member.tube is not None or len(member.line.strokes) != 1:
        return None
    if name == "head_tube":
        pieces: Sequence[int] = m.labelled.reading.span.pieces
        length = m.dimensions.head_tube
    else:
        pieces = m.labelled.reading.view.strokes.pieces[member.line.strokes[0]]
        length = m.dimensions.seat_tube or 0.0
    spans = _dashes(m, member.line, pieces)
    if not _are_dashes(spans):
        return None
    lower, upper = _open_at(spans)
    # a seat tube begins at the bottom bracket, wherever its dashes do
    lower = lower and name == "head_tube"
    if not lower and not upper:
        return None
    return OpenDash(name, length, length + _space(spans), lower, upper)


def widest_space(m: Measured, line: Candidate) -> float:
    """Between two dashes of a line, mm; 0 where it is drawn otherwise."""
    if len(line.strokes) != 1 or line.bents:
        return 0.0
    spans = _dashes(m, line, m.labelled.reading.view.strokes.pieces[line.strokes[0]])
    if _are_dashes(spans):
        return _space(spans)
    return 0.0


def _are_dashes(spans: Array) -> bool:
    return len(spans) >= DASHES and bool((spans[:, 1] - spans[:, 0]).max() <= DASH)


def _space(spans: Array) -> float:
    return float((spans[1:, 0] - spans[:-1, 1]).max(initial=0.0))


def _dashes(m: Measured, line: Candidate, pieces: Sequence[int]) -> Array:
    """Lower and upper end of each dash along the line, mm, in order."""
    view = m.labelled.reading.view
    ends = m.labelled.pose.apply_all(view.pieces[list(pieces)].reshape(-1, 2, 2))
    along: Array = np.sort((ends - np.array(line.p)) @ np.array(line.u), axis=1)
    return along[np.argsort(along[:, 0])]


def _open_at(spans: Array) -> tuple[bool, bool]:
    """Whether the lower and the upper end may lie in a space.

    A cut dash ends where its line does. A line type is begun with its long dash, so a whole one is the line's beginning
    where the other end is cut or a dot; of two whole long dashes either may be.
    """
    sizes = spans[:, 1] - spans[:, 0]
    inner = sizes[1:-1]
    longest = float(np.median(inner[inner >= inner.max() / 2]))
    whole = []
    begun = []
    for end in (0, -1):
        size = sizes[end]
        whole.append(bool((np.abs(inner - size) <= SAME_DASH * size).any()))
        begun.append(whole[-1] and abs(size - longest) <= SAME_DASH * longest)
    if all(begun):
        return True, True
    return whole[0] and not begun[0], whole[1] and not begun[1]
