"""Front triangles of invented sizes, in shells and as beams: the law tried away from its reference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from math import cos, radians, sin

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
# Each beside one change of a tube.
PAIRS = (
    (_SMALL, _SMALL.with_tube("TT", 28.6, 0.7)),
    (_SMALL, _SMALL.with_tube("ST", 31.8, 0.7)),
    (_LARGE, _LARGE.with_tube("HT", 37.0, 1.6)),
    (_LARGE, _LARGE.with_tube("DT", 31.8, 0.8)),
    (_WIDE_HEAD, _WIDE_HEAD.with_tube("ST", 34.9, 0.9)),
)


def invented() -> Iterator[FrontTriangle]:
    """Each triangle of the pairs once."""
    # Pairs share their first triangle; it is meshed once.
    seen = set()
    for pair in PAIRS:
        for one in pair:
            if one.name not in seen:
                seen.add(one.name)
                yield one
