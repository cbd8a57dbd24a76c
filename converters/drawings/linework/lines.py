"""A line that may be a member: single centre-line, middle of two edges, or bent line; and where lines cross."""

from collections.abc import Callable
from dataclasses import dataclass, field
from math import hypot

from .plane import Vec

Link = tuple[Vec, Vec]


# sine, of about 1 degree: below it a tenth of a mm across moves a crossing by more than 5 mm
NEARLY_PARALLEL = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Candidate:
    """p, q: lower or rear end first. strokes: one for a line, those of both edges for a tube.

    bents: curved runs it is drawn with (and then perhaps strokes that continue them); only its ends p and q
    count. edges: each edge's two ends, nearest p first. links: the straight parts of a tube with a bend, from p to q.
    """

    p: Vec
    q: Vec
    strokes: tuple[int, ...] = ()
    bents: tuple[int, ...] = ()
    diameter: float | None = None
    edges: tuple[tuple[Vec, Vec], ...] = ()
    bonus: float = 0.0
    links: tuple[Link, ...] = ()
    length: float = field(init=False)
    u: Vec = field(init=False)

    def __post_init__(self) -> None:
        # the floor keeps the direction of a line of no length finite
        length = hypot(self.q[0] - self.p[0], self.q[1] - self.p[1]) or 1e-12
        # worked out once: a search asks for them millions of times
        object.__setattr__(self, "length", length)
        object.__setattr__(
            self, "u", ((self.q[0] - self.p[0]) / length, (self.q[1] - self.p[1]) / length)
        )

    @property
    def is_tube(self) -> bool:
        return bool(self.edges)

    @property
    def first(self) -> "Candidate":
        """The straight part at p; the whole line where it has no bend."""
        return self._link(0)

    @property
    def last(self) -> "Candidate":
        """The straight part at q."""
        return self._link(-1)

    def _link(self, which: int) -> "Candidate":
        if not self.links:
            return self
        p, q = self.links[which]
        return Candidate(p, q, self.strokes, diameter=self.diameter, edges=self.edges)

    def lateral(self, at: Vec) -> float:
        """Signed distance of a point from the line, left of p -> q positive."""
        return self.u[0] * (at[1] - self.p[1]) - self.u[1] * (at[0] - self.p[0])

    def along(self, at: Vec) -> float:
        """Distance along the line from p to the foot of the point."""
        return self.u[0] * (at[0] - self.p[0]) + self.u[1] * (at[1] - self.p[1])

    def at(self, distance: float) -> Vec:
        return (self.p[0] + distance * self.u[0], self.p[1] + distance * self.u[1])

    def reversed(self) -> "Candidate":
        edges = tuple((b, a) for a, b in self.edges)
        links = tuple((b, a) for a, b in reversed(self.links))
        return Candidate(
            self.q, self.p, self.strokes, self.bents, self.diameter, edges, self.bonus, links
        )

    def moved(self, move: Callable[[Vec], Vec], scale: float) -> "Candidate":
        """The same in other axes; `scale` is the length ratio new to old."""
        edges = tuple((move(a), move(b)) for a, b in self.edges)
        if self.diameter is None:
            width = None
        else:
            width = self.diameter * scale
        links = tuple((move(a), move(b)) for a, b in self.links)
        return Candidate(
            move(self.p), move(self.q), self.strokes, self.bents, width, edges, self.bonus, links
        )


def crossing(a: Candidate, b: Candidate) -> Vec | None:
    """Where two lines (extended) cross; None when nearly parallel."""
    det = a.u[0] * b.u[1] - a.u[1] * b.u[0]
    if abs(det) < NEARLY_PARALLEL:
        return None
    dx = b.p[0] - a.p[0]
    dy = b.p[1] - a.p[1]
    return a.at((dx * b.u[1] - dy * b.u[0]) / det)
