"""A reading turned into members in true millimetres: centre-line and outline of one tube brought together."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from math import hypot

from ....model.arrays import Array
from ..linework.lines import Candidate
from ..linework.plane import Vec
from ..linework.pose import Pose
from .courses import beside, course, end_on, width
from .fork import Fork
from .search import Labelling

Move = Callable[[Vec], Vec]

TOGETHER = 3.0  # mm; a centre-line this near an outline's middle belongs to the same tube
AGREED = 0.6  # mm; nearer than this the drawn centre-line is used, else the one that fits the nodes
START = 75.0  # mm between the starts of a centre-line and its outline
WHOLE = 0.85  # a centre-line runs from node to node, so it is hardly shorter than the outline (a spoke is)
FACE_AT_END = 3.0  # mm; a head tube's face stands nearer than this to the end of its centre-line
ALIKE = 0.02  # rad between the two
# Member -> tubes on whose axes its lower or rear end and its other end lie; stays and down tube begin at a node.
HOSTS = {
    "top_tube": ("seat_tube", "head_tube"),
    "down_tube": ("", "head_tube"),
    "seatstay": ("", "seat_tube"),
}


@dataclass(frozen=True, eq=False)
class DrawnMember:
    """A tube of the side view. line: its centre-line (drawn, or the middle of its edges), lower or rear end
    first; tube: its outline, when two edges are drawn; off: distance between a drawn centre-line and the
    outline's middle, mm; drawn: `line` is a drawn centre-line."""

    name: str
    line: Candidate
    tube: Candidate | None = None
    off: float = 0.0
    drawn: bool = True

    @property
    def diameter(self) -> float | None:
        if self.tube is None:
            return None
        return self.tube.diameter

    @property
    def extent(self) -> Candidate:
        """Where the tube begins and ends: its outline if there is one (a centre-line may overrun)."""
        if self.tube is None:
            return self.line
        return self.tube

    @property
    def strokes(self) -> tuple[int, ...]:
        return self.line.strokes + (self.tube.strokes if self.tube is not None else ())

    @property
    def bents(self) -> tuple[int, ...]:
        return self.line.bents + (self.tube.bents if self.tube is not None else ())

    def moved(self, move: Move, scale: float) -> "DrawnMember":
        if self.tube is None:
            tube = None
        else:
            tube = self.tube.moved(move, scale)
        return replace(self, line=self.line.moved(move, scale), tube=tube, off=self.off * scale)


@dataclass(frozen=True, eq=False)
class Labelled:
    """A reading in true millimetres in the axes of `pose` (rear axle near the origin, ground level). loose : members
    whose upper end joins a tube that is not drawn."""

    reading: Labelling
    pose: Pose
    members: dict[str, DrawnMember]
    head_bottom: Vec
    head_top: Vec
    crown: Vec | None
    fork: Fork | None
    bb: Vec
    loose: frozenset[str] = frozenset()

    @property
    def axis(self) -> Candidate:
        return self.members["head_tube"].line

    def moved(self, pose: Pose) -> "Labelled":
        """The same seen in another pose of the same scale."""
        old = self.pose
        return self._mapped(lambda p: pose.apply(old.back(p)), pose, 1.0)

    def _mapped(self, move: Move, pose: Pose, scale: float) -> "Labelled":
        members = {name: m.moved(move, scale) for name, m in self.members.items()}
        fork = self.fork
        if fork is not None:
            fork = replace(
                fork,
                start=None if fork.start is None else move(fork.start),
                end=None if fork.end is None else move(fork.end),
                line=None if fork.line is None else fork.line.moved(move, scale),
            )
        return Labelled(
            self.reading,
            pose,
            members,
            move(self.head_bottom),
            move(self.head_top),
            None if self.crown is None else move(self.crown),
            fork,
            move(self.bb),
            self.loose,
        )


def label(
    reading: Labelling,
    rivals: Sequence[Labelling],
    slots: dict[str, list[Candidate]],
    mm: float,
    loose: frozenset[str] = frozenset(),
) -> Labelled:
    """Members of a reading in millimetres; `mm` is millimetres per drawing unit, `loose` as in `Labelled`."""
    members = {}
    for name, c in reading.members.items():
        if c is not None:
            shown = [o for o in slots[name] if not _hidden(reading, o)]
            if name == "head_tube" and not c.is_tube:
                shown = [o for o in shown if not _about(reading, o)]
            members[name] = _together(name, c, shown, reading)
    ends = _head_ends_by(reading, members["head_tube"], rivals)
    if reading.fork is None:
        crown = None
    else:
        crown = reading.axis.at(reading.fork.crown)
    rough = Labelled(
        reading,
        reading.view.pose,
        members,
        ends.axis.at(ends.span.low),
        ends.axis.at(ends.span.high),
        crown,
        reading.fork,
        reading.bb,
        loose,
    )
    factor = mm / reading.view.pose.scale
    return rough._mapped(
        lambda p: (factor * p[0], factor * p[1]), reading.view.pose.scaled(factor), factor
    )


def _hidden(reading: Labelling, other: Candidate) -> bool:
    """Two dashed lines about a centre-line: inner walls or a steerer, no outline; one between two edges: the axis of
    something behind, no centre-line. Of an outline neither edge is another thing's, such as the side of a bag."""
    evidence = reading.view.evidence
    edges = [reading.view.curves_of((k,)) for k in other.strokes if other.is_tube]
    foreign = any(all(map(evidence.elsewhere, edge)) for edge in edges)
    return foreign or evidence.all_dashed(reading.view.curves_of(other.strokes))


def _about(reading: Labelling, tube: Candidate) -> bool:
    """A tube between two faces that stand away from both ends of the head tube's own line: the cones of a jig."""
    if not tube.is_tube or any(not _square(reading, tube, k) for k in tube.strokes):
        return False
    low, high = (tube.along(reading.axis.at(t)) for t in (reading.span.low, reading.span.high))
    return low > FACE_AT_END and high < tube.length - FACE_AT_END


def _square(reading: Labelling, tube: Candidate, stroke: int) -> bool:
    x0, y0, x1, y1 = reading.view.ends[stroke].tolist()
    along = abs((x1 - x0) * tube.u[0] + (y1 - y0) * tube.u[1])
    return bool(along <= ALIKE * hypot(x1 - x0, y1 - y0))


def _together(
    name: str, taken: Candidate, others: Sequence[Candidate], reading: Labelling
) -> DrawnMember:
    """The tube's other drawing, if it is drawn both as centre-line and as outline."""
    if taken.bents:
        return _curved(name, taken, others, reading)
    if taken.links:
        return DrawnMember(name, taken, taken if taken.is_tube else None, drawn=not taken.is_tube)
    partners = [
        (off, c)
        for c in others
        if c.is_tube != taken.is_tube
        and not c.bents
        and not c.links
        and (off := _apart(taken, c)) is not None
    ]
    if not partners:
        return DrawnMember(name, taken, taken if taken.is_tube else None, drawn=not taken.is_tube)
    # rounded first: of lines equally near the longest says most about the direction
    off, partner = min(partners, key=lambda p: (round(p[0], 1), -p[1].length))
    if taken.is_tube:
        line = partner
        tube = taken
    else:
        line = taken
        tube = partner
    # too far off to be its centre-line, near enough to be told in a finding
    if taken.is_tube and off > AGREED:
        return DrawnMember(name, taken, taken, off, drawn=False)
    return DrawnMember(name, line, tube, off)


def _curved(
    name: str, taken: Candidate, others: Sequence[Candidate], reading: Labelling
) -> DrawnMember:
    """A curved tube, its ends where its course meets the axes of the tubes it ends on."""
    line = _to_hosts(name, taken, reading)
    if taken.is_tube:
        return DrawnMember(name, line, _as_wide(line, reading), drawn=False)
    partners = []
    for other in others:
        if other.is_tube and other.bents and not set(other.bents) & set(taken.bents):
            off = beside(_path(taken, reading), _path(other, reading))
            if off <= TOGETHER:
                partners.append((off, other))
    if not partners:
        return DrawnMember(name, line)
    off, tube = min(partners, key=lambda partner: partner[0])
    return DrawnMember(name, line, _as_wide(tube, reading), off)


def _as_wide(tube: Candidate, reading: Labelling) -> Candidate:
    """A curved tube with its width between the edges; as a candidate it had that of their ends."""
    wide = width(reading.view, reading.view.pose, tube)
    if wide is None:
        return tube
    return replace(tube, diameter=wide)


def _to_hosts(name: str, line: Candidate, reading: Labelling) -> Candidate:
    """The line with its ends moved to the axes of the tubes it ends on."""
    path = _path(line, reading)
    ends = [line.p, line.q]
    for end, host in enumerate(HOSTS.get(name, ("", ""))):
        axis = reading.members.get(host)
        if axis is not None:
            way = path if end else path[::-1]
            ends[end] = end_on(way, axis) or ends[end]
    return replace(line, p=ends[0], q=ends[1])


def _path(line: Candidate, reading: Labelling) -> Array:
    return course(reading.view, reading.view.pose, line)


def _apart(a: Candidate, b: Candidate) -> float | None:
    """Greatest distance between two lines over the tube's length; None when they are not one tube's."""
    if a.is_tube:
        tube = a
        line = b
    else:
        tube = b
        line = a
    if (
        abs(tube.u[0] * line.u[1] - tube.u[1] * line.u[0]) > ALIKE
        or line.length < WHOLE * tube.length
    ):
        return None
    off = max(abs(line.lateral(tube.p)), abs(line.lateral(tube.q)))
    start = abs(line.along(tube.p))  # a seatpost or steerer inside the tube starts elsewhere
    if off <= TOGETHER and start <= START:
        return off
    return None


def _head_ends_by(reading: Labelling, head: DrawnMember, rivals: Sequence[Labelling]) -> Labelling:
    """The reading whose span gives the head tube's ends: by its outline where one is drawn."""
    if reading.axis.is_tube or head.tube is None:
        return reading
    by_outline = [
        r
        for r in rivals
        if r.axis.is_tube and r.view is reading.view and _apart(reading.axis, r.axis) is not None
    ]
    return max(by_outline, key=lambda r: r.score, default=reading)
