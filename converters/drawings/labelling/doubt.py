"""A doubt between two readings, and what settles it by hand: only picks that were tried and do settle it are proposed.

Vocabulary: a DOUBT is two readings too close to choose between; an OPTION is the picks that ask for one of them.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from ....model.errors import InputError
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.quantities import QUANTITIES
from ....model.geometry.statements import FIELDS
from ....model.words import DASH, spoken
from ..drawing import Curve
from ..linework.evidence import Evidence
from ..linework.lines import Candidate
from .search import Labelling


@dataclass(frozen=True)
class Proposal:
    """One way to settle a doubt: as typed, the picks (member -> handles) it stands for, and in words what it gives."""

    words: str
    picks: Mapping[str, str]
    gives: str = ""


def as_typed(picks: Mapping[str, str]) -> str:
    """Picks as typed on the command line."""
    return " ".join(f"--pick {name}={held}" for name, held in picks.items())


class InDoubtError(InputError):
    """Two readings too close to choose between: the builder is asked, nothing else is tried.

    options: what settles it, as typed, with the picks (member -> handles) it stands for; readings: of those options
    that were measured, the dimensions they give. word: what a sheet has to say of it. lines: handles of what is in
    doubt. asked: items that a stated length would settle.
    """

    def __init__(
        self,
        said: str,
        options: Sequence[tuple[str, Mapping[str, str]]] = (),
        readings: Sequence[tuple[str, FrameDimensions]] = (),
        word: str = "",
        lines: Iterable[str] = (),
        asked: Sequence[str] = (),
    ) -> None:
        self.said = said
        self.asked = asked
        self.options = options
        self.readings = readings
        measured = dict(readings)
        every = list(measured.values())
        self.proposals = tuple(
            Proposal(words, picks, _told(measured[words], every) if words in measured else "")
            for words, picks in options
        )
        tried = [f"{p.words} -> {p.gives}" if p.gives else p.words for p in self.proposals]
        way = f", or settle it with {' or '.join(tried)}" if tried else ""
        super().__init__(f"{said}{way}{word}", lines=lines, option="--pick" if tried else "")

    def with_word(self, word: str) -> "InDoubtError":
        """The same doubt with a word of the sheet's behind it."""
        return self.again(self.said, self.readings, word)

    def again(
        self, said: str, readings: Sequence[tuple[str, FrameDimensions]], word: str = ""
    ) -> "InDoubtError":
        """The same doubt said otherwise, or with what its options give."""
        return InDoubtError(said, self.options, readings, word, self.lines, self.asked)

    def with_first(self, picks: Mapping[str, str], gives: FrameDimensions) -> "InDoubtError":
        """The same doubt with one more way to settle it, before the others."""
        words = as_typed(picks)
        others = [(w, p) for w, p in self.options if w != words]
        measured = [(w, d) for w, d in self.readings if w != words]
        return InDoubtError(
            self.said,
            [(words, picks), *others],
            [(words, gives), *measured],
            lines=self.lines,
            asked=self.asked,
        )


TOLD_APART = 0.3  # mm or degrees between readings that is worth a word
Picks = Mapping[str, tuple[int, ...]]  # member or wheel -> curves


def _told(d: FrameDimensions, all_readings: Sequence[FrameDimensions]) -> str:
    """Trail and stack of a reading, and the first of its own items in which the readings differ."""
    said = [f"trail {d.trail:.1f}", f"stack {d.stack:.0f}"]
    for name in FIELDS:
        values = [getattr(r, name) for r in all_readings]
        known = [v for v in values if v is not None]
        if name != "reach" and known and max(known) - min(known) > TOLD_APART:
            value = getattr(d, name)
            shown = DASH if value is None else f"{value:.1f}"
            return ", ".join([*said, f"{QUANTITIES[name].label} {shown}"])
    return ", ".join(said)


@dataclass(frozen=True, eq=False)
class Doubt:
    """`said`: what is in doubt; `draw`: what settles it in the drawing; `options`: what would settle it by hand."""

    said: str
    draw: str
    options: tuple[Picks, ...]

    def refusal(self, curves: Sequence[Curve], settles: Callable[[Picks], bool]) -> InDoubtError:
        """The question to the builder; `settles` tries an option."""
        given = {_as_typed(picks, curves): picks for picks in self.options}
        tried = [
            (words, _handles(picks, curves))
            for words, picks in given.items()
            if words and settles(picks)
        ]
        doubtful = {i for picks in self.options for held in picks.values() for i in held}
        return InDoubtError(
            f"{self.said}; {self.draw}", tried, lines=(curves[i].handle for i in doubtful)
        )


def at_once(one: Doubt | None, other: Doubt | None) -> Doubt | None:
    """Two doubts of one bicycle as one question, so that one answer settles both."""
    if one is None or other is None:
        return one or other
    # picks of other wheels mean another bicycle, whose other doubts are not this one's
    wheels = any(name.startswith("wheel") for picks in one.options for name in picks)
    shared = {name for picks in one.options for name in picks} & set(other.options[0])
    if wheels or shared:
        return one
    pairs = tuple({**a, **b} for a, b in product(one.options, other.options))
    return Doubt(f"{one.said}; and {other.said}", one.draw, pairs)


def _handles(picks: Picks, curves: Sequence[Curve]) -> dict[str, str]:
    """Member -> handles, joined by commas; '' where a curve has none."""
    out = {}
    for name, held in picks.items():
        handles = dict.fromkeys(curves[i].handle for i in held)
        out[name] = ",".join(handles) if handles and all(handles) else ""
    return out


def _as_typed(picks: Picks, curves: Sequence[Curve]) -> str:
    """The option as typed; '' when a curve has no handle."""
    handles = _handles(picks, curves)
    if not all(handles.values()):
        return ""
    return as_typed(handles)


def with_picks(evidence: Evidence, picks: Picks) -> Evidence:
    """The evidence as if the user had picked these curves: by handle, so all curves that share one."""
    roles = dict(evidence.roles)
    for name, held in picks.items():
        # a pick is typed by handle, so it takes all curves of a block inserted twice
        handles = {evidence.curves[i].handle for i in held}
        roles.update({i: name for i, c in enumerate(evidence.curves) if c.handle in handles})
    return replace(evidence, roles=roles)


def taken_as(reading: Labelling, name: str) -> tuple[int, ...]:
    """Curves a reading takes as a member or wheel; only the head tube's own stretch of the steering axis."""
    if name in ("wheel_front", "wheel_rear"):
        return (reading.front if name == "wheel_front" else reading.rear).tyre.curves
    member = reading.members[name]
    if member is None:
        return ()
    if name == "head_tube" and not member.is_tube and reading.span.pieces:
        return tuple(dict.fromkeys(int(reading.view.owner[k]) for k in reading.span.pieces))
    return curves_of(reading, member)


def curves_of(reading: Labelling, line: Candidate) -> tuple[int, ...]:
    """Curves a line is drawn with, straight and curved."""
    bents = (i for k in line.bents for i in reading.view.bents[k].owners)
    return tuple(dict.fromkeys([*reading.view.curves_of(line.strokes), *bents]))


def member_doubt(
    member: str, one: Labelling, other: Labelling, shares: tuple[float, float]
) -> Doubt:
    """Two readings of one bicycle that disagree on a member; scores that differ as printed are not called equal."""
    a, b = (f"{share:.1%}" for share in shares)
    if a == b:
        how = f"are equally good (both {a})"
    else:
        how = f"are too close to choose between (scores {a} and {b})"
    held = [taken_as(reading, member) for reading in (one, other)]
    names = " and ".join(dict.fromkeys(listed(one.view.evidence.curves, curves) for curves in held))
    return Doubt(
        f"two readings of the {spoken(member)} {how}: {names}",
        "delete the one not meant",
        tuple({member: curves} for curves in held),
    )


def listed(curves: Sequence[Curve], held: Sequence[int]) -> str:
    """``36 on layer 0, 38 on layer 0``."""
    return ", ".join(
        f"{curves[i].handle or 'no handle'} on layer {curves[i].layer}" for i in held[:4]
    )
