"""A doubt between two readings, and what settles it by hand: only picks that were tried and do settle it are proposed.

Vocabulary: a DOUBT is two readings too close to choose between; an OPTION is the picks that ask for one of them.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from ....model.errors import InputError
from ....model.words import spoken
from ..drawing import Curve
from ..linework.evidence import Evidence
from ..linework.lines import Candidate
from .search import Labelling


class InDoubtError(InputError):
    """Two readings too close to choose between: the builder is asked, nothing else is tried."""


Picks = Mapping[str, tuple[int, ...]]  # member or wheel -> curves


@dataclass(frozen=True, eq=False)
class Doubt:
    """`said`: what is in doubt; `draw`: what settles it in the drawing; `options`: what would settle it by hand."""

    said: str
    draw: str
    options: tuple[Picks, ...]

    def sentence(self, curves: Sequence[Curve], settles: Callable[[Picks], bool]) -> str:
        """The refusal; `settles` tries an option."""
        given = {_arguments(picks, curves): picks for picks in self.options}
        tried = [words for words, picks in given.items() if words and settles(picks)]
        return f"{self.said}; {self.draw}" + (
            f", or settle it with {' or '.join(tried)}" if tried else ""
        )


def _arguments(picks: Picks, curves: Sequence[Curve]) -> str:
    """The options as typed; '' when a curve has no handle."""
    handles = {
        name: [curves[i].handle for i in dict.fromkeys(held)] for name, held in picks.items()
    }
    if not all(held and all(held) for held in handles.values()):
        return ""
    return " ".join(
        f"--pick {name}={','.join(dict.fromkeys(held))}" for name, held in handles.items()
    )


def with_picks(evidence: Evidence, picks: Picks) -> Evidence:
    """The evidence as if the user had picked these curves: by handle, so all curves that share one."""
    roles = dict(evidence.roles)
    for name, held in picks.items():
        handles = {evidence.curves[i].handle for i in held}
        roles.update({i: name for i, c in enumerate(evidence.curves) if c.handle in handles})
    return Evidence(evidence.curves, roles)


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
