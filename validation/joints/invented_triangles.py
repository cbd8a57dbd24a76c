"""Front triangles of invented sizes, in shells and as beams: the law tried away from its reference."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import cos, radians, sin, sqrt

import numpy as np

from ...model.arrays import Array
from .front_triangle import Triangle

_SHELL_HALF = 34.0  # mm
_SEAT_TUBE_BEYOND = 30.0  # mm


@dataclass(frozen=True)
class FrontTriangle:
    """Geometry of a front triangle and its tubes, outside diameter and wall, mm and degrees."""

    name: str
    stack: float
    reach: float
    head_angle: float
    seat_angle: float
    head_tube: float
    top_tube_below: float
    down_tube_above: float
    seat_tube: float
    tubes: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    def with_tube(self, tube: str, outside: float, wall: float) -> FrontTriangle:
        """The same with another tube; its name says which."""
        name = f"{self.name}, {tube} {outside:g} x {wall:g}"
        return replace(self, name=name, tubes={**self.tubes, tube: (outside, wall)})

    @property
    def triangle(self) -> Triangle:
        """Tubes and the ends of their axes."""
        # Down along the steering axis and up along the seat tube; both angles from the horizontal.
        down = np.array([cos(radians(self.head_angle)), -sin(radians(self.head_angle)), 0.0])
        up = np.array([-cos(radians(self.seat_angle)), sin(radians(self.seat_angle)), 0.0])
        top = np.array([self.reach, self.stack, 0.0])
        half_shell = np.array([0.0, 0.0, _SHELL_HALF])
        points: dict[str, Array] = {
            "top": top,
            "bot": top + self.head_tube * down,
            "tt": top + self.top_tube_below * down,
            "dt": top + (self.head_tube - self.down_tube_above) * down,
            "o": np.zeros(3),
            "stt": self.seat_tube * up,
            "sttop": (self.seat_tube + _SEAT_TUBE_BEYOND) * up,
            "bl": -half_shell,
            "br": half_shell,
        }
        return Triangle(self.tubes, points)

    @property
    def apart(self) -> float:
        """Between the feet of top and down tube on the head tube, over its diameter."""
        places = self.triangle.points
        near = {"TT": ("tt", "top", "stt"), "DT": ("dt", "bot", "o")}
        diameter = self.tubes["HT"][0]
        gap = self.head_tube
        for tube, (node, end, far) in near.items():
            along = places[end] - places[node]
            away = places[far] - places[node]
            to_end = float(np.linalg.norm(along))
            cosine = float(along @ away / to_end / np.linalg.norm(away))
            sine = sqrt(1.0 - cosine**2)
            gap -= to_end - diameter / 2.0 * cosine / sine + self.tubes[tube][0] / 2.0 / sine
        return gap / diameter

    @property
    def can_be_built(self) -> bool:
        """Whether every branch fits on its chord and both leave a stretch of head tube between them."""
        outside = {tube: size[0] for tube, size in self.tubes.items()}
        widest = _WIDEST * outside["HT"]
        room = self.head_tube - self.top_tube_below - self.down_tube_above
        feet = outside["TT"] / 2 + outside["DT"]
        return (
            max(outside["TT"], outside["DT"]) <= widest
            and outside["TT"] <= outside["ST"]
            and room > feet
        )


TrianglePair = tuple[FrontTriangle, FrontTriangle]
_SHELL = (40.0, 3.0)
_SMALL = FrontTriangle(
    "small",
    *(545.0, 365.0, 70.5, 74.0, 115.0, 31.0, 34.0, 450.0),
    {
        "BB": _SHELL,
        "HT": (36.0, 1.2),
        "ST": (28.6, 0.7),
        "DT": (28.6, 0.8),
        "TT": (25.4, 0.7),
    },
)
_LARGE = FrontTriangle(
    "large",
    *(640.0, 400.0, 73.0, 73.0, 205.0, 38.0, 40.0, 590.0),
    {
        "BB": _SHELL,
        "HT": (37.0, 1.0),
        "ST": (31.8, 0.8),
        "DT": (34.9, 0.8),
        "TT": (31.8, 0.7),
    },
)
_WIDE_HEAD = FrontTriangle(
    "wide head tube",
    *(600.0, 390.0, 71.0, 73.5, 150.0, 40.0, 42.0, 500.0),
    {
        "BB": _SHELL,
        "HT": (44.0, 1.3),
        "ST": (31.8, 0.9),
        "DT": (35.0, 0.9),
        "TT": (31.8, 0.9),
    },
)
# Top and down tube close to one another on a short head tube.
_CROWDED = FrontTriangle(
    "crowded",
    *(530.0, 365.0, 71.5, 73.5, 94.0, 29.0, 31.0, 455.0),
    {
        "BB": _SHELL,
        "HT": (36.0, 1.1),
        "ST": (28.6, 0.8),
        "DT": (31.8, 0.8),
        "TT": (28.6, 0.8),
    },
)
# Outside diameters and walls of the trade (common practice, no source) to draw from.
_SIZES = {
    "HT": ((34.0, 1.0), (36.0, 1.0), (36.0, 1.2), (38.0, 1.0), (41.0, 1.2), (44.0, 1.2)),
    "ST": ((28.6, 0.7), (28.6, 0.9), (31.8, 0.7), (31.8, 0.9), (34.9, 0.8)),
    "DT": ((28.6, 0.8), (31.8, 0.7), (31.8, 0.9), (34.9, 0.7), (34.9, 0.9), (38.0, 0.8)),
    "TT": ((25.4, 0.7), (28.6, 0.6), (28.6, 0.8), (31.8, 0.6), (31.8, 0.8)),
}
_WIDEST = 0.99  # branch over head tube
_DRAWN_PAIRS = 6
_SEED = 16


def drawn_pairs(count: int, seed: int) -> Iterator[TrianglePair]:
    """So many triangles drawn at random, each beside one change of a tube; whoever cannot be built is drawn again."""
    draw = np.random.default_rng(seed)
    found = 0
    while found < count:
        before = _drawn(draw, f"drawn {found + 1}")
        tube = str(draw.choice(list(_SIZES)))
        after = before.with_tube(tube, *_picked(draw, tube))
        if before.can_be_built and after.can_be_built and after.tubes != before.tubes:
            found += 1
            yield before, after


def _drawn(draw: np.random.Generator, name: str) -> FrontTriangle:
    sizes = draw.uniform(
        (520.0, 350.0, 70.0, 72.0, 110.0, 28.0, 30.0, 0.0),
        (660.0, 420.0, 74.0, 75.5, 220.0, 42.0, 46.0, 80.0),
    )
    stack, reach, head_angle, seat_angle, head_tube, below, above, slope = sizes.round(1).tolist()
    # The top tube comes to the seat tube lower than it leaves the head tube, by its slope.
    height = stack - below * sin(radians(head_angle)) - slope
    seat_tube = round(height / sin(radians(seat_angle)), 1)
    tubes = {tube: _picked(draw, tube) for tube in _SIZES}
    return FrontTriangle(
        name,
        *(stack, reach, head_angle, seat_angle, head_tube, below, above, seat_tube),
        {"BB": _SHELL, **tubes},
    )


def _picked(draw: np.random.Generator, tube: str) -> tuple[float, float]:
    sizes = _SIZES[tube]
    return sizes[int(draw.integers(len(sizes)))]


DRAWN = tuple(drawn_pairs(_DRAWN_PAIRS, _SEED))
# Each beside one change of a tube.
INVENTED = (
    (_SMALL, _SMALL.with_tube("TT", 28.6, 0.7)),
    (_SMALL, _SMALL.with_tube("ST", 31.8, 0.7)),
    (_LARGE, _LARGE.with_tube("HT", 37.0, 1.6)),
    (_LARGE, _LARGE.with_tube("DT", 31.8, 0.8)),
    (_WIDE_HEAD, _WIDE_HEAD.with_tube("ST", 34.9, 0.9)),
    (_CROWDED, _CROWDED.with_tube("HT", 36.0, 1.6)),
)


def each_once(pairs: Iterable[TrianglePair]) -> Iterator[FrontTriangle]:
    """Each triangle of the pairs once."""
    # Pairs share their first triangle; it is meshed once.
    seen = set()
    for pair in pairs:
        for one in pair:
            if one.name not in seen:
                seen.add(one.name)
                yield one
