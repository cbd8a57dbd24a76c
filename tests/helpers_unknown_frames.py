"""Drawings of bicycles that no plan holds: what a stranger may give the reader although it knows none of them.

    drawn = unknown_frame("folding", k)      # .placed.dxf(), .lines

Numbers of the trade from memory, at random; nothing here is measured against.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, radians, sin

import numpy as np
from droptrail.converters.drawings.linework.plane import Vec
from helpers_habits import Placed, Sheet, _edges, _go, place

LINES = ("centre", "outline", "both")
AXLE = 5.0  # mm radius of its mark


class _Paper:
    """What a kind draws on."""

    def __init__(self, rng: np.random.Generator, lines: str) -> None:
        self.sheet = Sheet()
        self.rng = rng
        self.lines = lines

    def lot(self, low: float, high: float) -> float:
        return float(self.rng.uniform(low, high))

    def tube(self, p: Vec, q: Vec, diameter: float, part: str = "further") -> None:
        """A straight tube from end to end, closed at both where it is an outline."""
        if self.lines != "outline":
            self.sheet.line(p, q, part)
        if self.lines == "centre":
            return
        (a, b), (c, d) = _edges(p, q, diameter)
        sides = [(a, b), (c, d)]
        if self.lines == "outline":
            sides += [(a, c), (b, d)]
        for start, end in sides:
            self.sheet.line(start, end, part)

    def wheels(self, rear: Vec, front: Vec, radius: float, front_radius: float = 0.0) -> None:
        ahead = front_radius or radius
        for axle, size, part in ((rear, radius, "wheel_rear"), (front, ahead, "wheel_front")):
            self.sheet.circle(axle, size, part)
            self.sheet.circle(axle, AXLE, part)

    def steering(self, axle: Vec, angle: float, length: float, offset: float, head: float) -> Vec:
        """Fork and head tube over a front axle; the head tube's lower end. up : along the axis from there."""
        self.up = (-cos(radians(angle)), sin(radians(angle)))
        ahead = (self.up[1], -self.up[0])
        foot = _go(axle, ahead, -offset)
        crown = _go(foot, self.up, length)
        self.tube(crown, axle, 24.0, "fork")
        low = _go(crown, self.up, 10.0)
        self.tube(low, _go(low, self.up, head), 34.0, "head_tube")
        return low

    def shell(self, at: Vec = (0.0, 0.0)) -> None:
        self.sheet.circle(at, 20.0, "bb_shell")

    def seat(self, angle: float, length: float) -> tuple[Callable[[float], Vec], Vec]:
        """The seat tube from the bottom bracket: where so many mm up it are, and its top."""
        up = (-cos(radians(angle)), sin(radians(angle)))
        top = _go((0.0, 0.0), up, length)
        self.tube((0.0, 0.0), top, 32.0, "seat_tube")
        return lambda mm: _go((0.0, 0.0), up, mm), top


def _folding(on: _Paper) -> None:
    """Small wheels, one low beam with a hinge in its middle."""
    rear = (-on.lot(370.0, 420.0), on.lot(-40.0, 20.0))
    front = (on.lot(560.0, 640.0), rear[1])
    radius = on.lot(190.0, 255.0)
    on.wheels(rear, front, radius)
    on.shell()
    low = on.steering(front, on.lot(70.0, 74.0), radius + 55.0, 28.0, on.lot(100.0, 140.0))
    seat, _ = on.seat(on.lot(70.0, 73.0), on.lot(260.0, 340.0))
    foot = seat(on.lot(80.0, 160.0))
    end = _go(low, on.up, on.lot(30.0, 60.0))
    on.tube(foot, end, 55.0, "top_tube")
    hinge = ((foot[0] + end[0]) / 2, (foot[1] + end[1]) / 2)
    on.sheet.line(_go(hinge, (0.0, 1.0), -40.0), _go(hinge, (0.0, 1.0), 40.0), "hinge")
    on.sheet.circle(_go(hinge, (0.0, 1.0), -32.0), 8.0, "hinge")
    on.tube(rear, (0.0, 0.0), 19.0, "chainstay")
    on.tube(rear, foot, 16.0, "seatstay")


def _suspended(on: _Paper) -> None:
    """A rear suspension of four bars: swing arm, seatstay, rocker, shock."""
    rear = (-on.lot(420.0, 450.0), on.lot(15.0, 35.0))
    front = (on.lot(700.0, 790.0), rear[1])
    on.wheels(rear, front, on.lot(345.0, 370.0))
    on.shell()
    low = on.steering(front, on.lot(64.0, 68.0), on.lot(480.0, 560.0), 44.0, on.lot(95.0, 125.0))
    seat, _ = on.seat(on.lot(72.0, 76.0), on.lot(400.0, 470.0))
    on.tube(seat(on.lot(340.0, 390.0)), _go(low, on.up, 85.0), 38.0, "top_tube")
    on.tube((0.0, 0.0), _go(low, on.up, 25.0), 45.0, "down_tube")
    main = (on.lot(-20.0, 30.0), on.lot(30.0, 70.0))
    rocker = seat(on.lot(220.0, 270.0))
    link = (rocker[0] - on.lot(60.0, 90.0), rocker[1] + 20.0)
    for pivot, size in ((main, 9.0), (rocker, 9.0), (link, 7.0)):
        on.sheet.circle(pivot, size, "pivot")
    on.tube(rear, main, 28.0, "chainstay")
    on.tube(rear, link, 20.0, "seatstay")
    front_link = (rocker[0] + 60.0, rocker[1] + 10.0)
    on.tube(link, front_link, 25.0)
    on.tube(front_link, (rocker[0] + 200.0, rocker[1] - 60.0), 40.0)


def _cross(on: _Paper) -> None:
    """One beam from head tube to rear axle, the seat tube across it."""
    rear, front = _on_ground(on)
    low = on.steering(front, on.lot(68.0, 73.0), on.lot(380.0, 395.0), 50.0, on.lot(130.0, 180.0))
    on.seat(on.lot(70.0, 74.0), on.lot(480.0, 560.0))
    on.tube(_go(low, on.up, on.lot(50.0, 90.0)), rear, 38.0)
    if on.rng.random() < 0.5:
        on.tube((0.0, 0.0), rear, 10.0)


def _girder(on: _Paper) -> None:
    """Many thin tubes in triangles."""
    rear, front = _on_ground(on)
    low = on.steering(front, on.lot(68.0, 73.0), on.lot(380.0, 395.0), 50.0, on.lot(160.0, 200.0))
    shell = (0.0, 0.0)
    back = (-on.lot(140.0, 190.0), on.lot(420.0, 480.0))
    high = _go(low, on.up, 150.0)
    foot = _go(low, on.up, 20.0)
    upper = ((back[0] + high[0]) / 2, (back[1] + high[1]) / 2)
    middle = (foot[0] / 2, foot[1] / 2)
    bars = (
        (shell, foot), (shell, back), (back, high), (back, rear), (shell, rear), (back, foot),
        (shell, high), (upper, middle), (back, middle), (middle, high),
    )  # fmt: skip
    for p, q in bars:
        on.tube(p, q, 14.0)


def _on_ground(on: _Paper) -> tuple[Vec, Vec]:
    rear = (-on.lot(430.0, 460.0), on.lot(50.0, 75.0))
    front = (on.lot(600.0, 640.0), rear[1])
    on.wheels(rear, front, on.lot(335.0, 350.0))
    on.shell()
    return rear, front


def _long_front(on: _Paper) -> None:
    """A cargo bicycle with its load between head tube and front wheel."""
    rear = (-on.lot(440.0, 460.0), 60.0)
    front_radius = on.lot(245.0, 260.0)
    front = (on.lot(1350.0, 1600.0), 60.0 - 340.0 + front_radius)
    on.wheels(rear, front, 340.0, front_radius)
    on.shell()
    on.steering(front, 70.0, front_radius + 50.0, 40.0, 110.0)
    seat, _ = on.seat(71.0, 500.0)
    on.tube((400.0, 380.0), (360.0, 500.0), 36.0, "head_tube")
    on.tube(seat(440.0), (370.0, 470.0), 32.0, "top_tube")
    on.tube((0.0, 0.0), (395.0, 395.0), 35.0, "down_tube")
    on.tube((395.0, 395.0), (500.0, -60.0), 40.0)
    on.tube((500.0, -60.0), (front[0] - 150.0, -60.0), 45.0)
    on.tube(rear, (0.0, 0.0), 19.0, "chainstay")
    on.tube(rear, seat(430.0), 16.0, "seatstay")


def _two_heads(on: _Paper) -> None:
    """A second head tube behind the one that holds the fork."""
    rear = (-on.lot(430.0, 460.0), on.lot(50.0, 75.0))
    front = (on.lot(700.0, 780.0), rear[1])
    on.wheels(rear, front, on.lot(335.0, 350.0))
    on.shell()
    low = on.steering(front, on.lot(70.0, 73.0), on.lot(380.0, 395.0), 50.0, on.lot(130.0, 180.0))
    seat, _ = on.seat(on.lot(70.0, 74.0), on.lot(480.0, 560.0))
    second = (low[0] - on.lot(120.0, 200.0), low[1] + 10.0)
    on.tube(second, _go(second, on.up, 150.0), 34.0, "head_tube")
    on.tube(seat(450.0), _go(second, on.up, 110.0), 28.0, "top_tube")
    on.tube((0.0, 0.0), _go(second, on.up, 30.0), 32.0, "down_tube")
    for up in (110.0, 30.0):
        on.tube(_go(second, on.up, up), _go(low, on.up, up), 28.0)
    on.tube(rear, (0.0, 0.0), 19.0, "chainstay")
    on.tube(rear, seat(430.0), 16.0, "seatstay")


def _recumbent(on: _Paper) -> None:
    """Cranks before the front wheel, one beam to the rear."""
    rear = (-on.lot(900.0, 1050.0), 60.0)
    front_radius = on.lot(225.0, 260.0)
    front = (on.lot(-370.0, -200.0), 60.0 - 335.0 + front_radius)
    on.wheels(rear, front, 335.0, front_radius)
    cranks = (0.0, on.lot(150.0, 250.0))
    on.shell(cranks)
    if on.rng.random() < 0.7:
        on.sheet.circle(cranks, 90.0, "crank")
    low = on.steering(front, 72.0, front_radius + 60.0, 40.0, 110.0)
    knot = _go(low, on.up, 50.0)
    on.tube(cranks, knot, 50.0)
    on.tube(knot, (rear[0] + 250.0, 300.0), 50.0)
    on.tube((rear[0] + 250.0, 300.0), rear, 25.0)


def _scooter(on: _Paper) -> None:
    """No cranks at all: a board to stand on."""
    rear = (-on.lot(430.0, 460.0), 60.0)
    front = (on.lot(650.0, 780.0), 60.0)
    radius = on.lot(200.0, 345.0)
    on.wheels(rear, front, radius)
    low = on.steering(front, 72.0, radius + 60.0, 40.0, 160.0)
    on.tube((-300.0, -60.0), (300.0, -60.0), 40.0)
    on.tube((300.0, -60.0), _go(low, on.up, 40.0), 40.0)
    on.tube((-300.0, -60.0), rear, 25.0)


def _beam(on: _Paper) -> None:
    """A Y of a thick beam and a seat tube that begins at its middle, the rear end on a pivot."""
    rear = (-on.lot(420.0, 450.0), on.lot(15.0, 35.0))
    front = (on.lot(650.0, 720.0), rear[1])
    on.wheels(rear, front, on.lot(345.0, 370.0))
    on.shell()
    low = on.steering(front, on.lot(68.0, 71.0), on.lot(440.0, 480.0), 42.0, on.lot(95.0, 125.0))
    knot = (on.lot(20.0, 60.0), on.lot(200.0, 260.0))
    on.tube(_go(low, on.up, 60.0), knot, 55.0)
    on.tube(knot, (-on.lot(140.0, 180.0), on.lot(420.0, 480.0)), 40.0, "seat_tube")
    on.tube(rear, (0.0, 0.0), 28.0, "chainstay")
    on.tube((0.0, 0.0), (knot[0] - 10.0, knot[1] - 60.0), 40.0)
    on.tube(rear, (knot[0], knot[1] - 40.0), 25.0, "seatstay")
    on.sheet.circle((knot[0], knot[1] - 60.0), 10.0, "pivot")


UNKNOWN: dict[str, Callable[[_Paper], None]] = {
    "folding": _folding,
    "suspended": _suspended,
    "cross": _cross,
    "girder": _girder,
    "long_front": _long_front,
    "two_heads": _two_heads,
    "recumbent": _recumbent,
    "scooter": _scooter,
    "beam": _beam,
}


@dataclass(frozen=True)
class Unknown:
    kind: str
    lines: str
    placed: Placed


def unknown_frame(kind: str, k: int) -> Unknown:
    """Drawing number k of a kind: as centre-lines, outlines or both, on layers with names or on one."""
    rng = np.random.default_rng([k, sum(map(ord, kind))])
    on = _Paper(rng, LINES[k % len(LINES)])
    UNKNOWN[kind](on)
    layers = "en" if k % 2 else "zero"
    return Unknown(kind, on.lines, place(on.sheet, mirrored=k % 4 == 3, layers=layers))
