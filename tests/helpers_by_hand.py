"""Frames set up by hand in PyNite, a general frame library, and held against ours: coordinates by trigonometry from the
numbers of the starter sheets, tubes as their own cylinders, none of it through layout or mesh."""

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import cos, hypot, pi, radians, sin, sqrt

import numpy as np
import pytest
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase
from droptrail.model.mechanics.result import Result
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import find_material
from Pynite import FEModel3D

STEEL = find_material("4130")
PUSH = {"FY": -300.0, "FZ": 200.0, "MX": 40_000.0}  # at the head tube's top
SIDEWAYS = np.array([0.0, 0.0, 1.0])
SIDES = (("R", 1.0), ("L", -1.0))


@dataclass(frozen=True, eq=False)
class Starter:
    """What the starters' sheets have in common, typed from them: directions up the head and the seat tube, and the head
    tube's top."""

    up: np.ndarray
    seat_up: np.ndarray
    top: np.ndarray

    @classmethod
    def typed(cls) -> "Starter":
        head, seat = radians(71.5), radians(72.5)
        # wheels of one size: axles in one height, so the head tube's top stands above by fork and offset
        stack = 75.0 - 52.0 * cos(head) + (394.0 + 12.0 + 160.0) * sin(head)
        return cls(
            np.array([-cos(head), sin(head), 0.0]),
            np.array([-cos(seat), sin(seat), 0.0]),
            np.array([384.0, stack, 0.0]),
        )

    def axle(self, bracket: float = 0.0) -> np.ndarray:
        """The rear axle of a chainstay of 450 mm from a bracket that far in front of the captain's, drop 75 mm."""
        return np.array([bracket - sqrt(450.0**2 - 75.0**2), 75.0, 0.0])


def ring(od: float, wall: float) -> tuple[float, float, float, float]:
    """A, I, I, J of a tube."""
    inside = od - 2 * wall
    inertia = pi * (od**4 - inside**4) / 64
    return pi * (od**2 - inside**2) / 4, inertia, inertia, 2 * inertia


class HandFrame:
    """A frame of bars between named places, held at the dropouts, pushed at the head tube's top."""

    def __init__(
        self, places: Mapping[str, np.ndarray], tubes: Mapping[str, tuple[float, float]]
    ) -> None:
        self.frame = FEModel3D()
        for name, xyz in places.items():
            self.frame.add_node(name, *map(float, xyz))
        self.frame.add_material("steel", STEEL.E, STEEL.G, 0.29, 7.85e-9)
        # a rigid arm is a very stiff bar
        self.frame.add_material("rigid", 1e3 * STEEL.E, 1e3 * STEEL.G, 0.29, 0.0)
        for name, size in {**tubes, "arm": (60.0, 10.0), "shell": (40.0, 3.0)}.items():
            self.frame.add_section(name, *ring(*size))

    def bar(self, section: str, *nodes: str) -> None:
        material = "rigid" if section == "arm" else "steel"
        for k, (i, j) in enumerate(pairwise(nodes)):
            self.frame.add_member(f"{section} {i} {j} {k}", i, j, material, section)

    def pushed(self, *others: tuple[str, str, float]) -> FEModel3D:
        """Solved under PUSH and other loads: (place, direction, size)."""
        for side, _ in SIDES:
            self.frame.def_support(f"drop{side}", *(True,) * 6)
        for place, direction, size in (*(("top", *one) for one in PUSH.items()), *others):
            self.frame.add_node_load(place, direction, size)
        self.frame.analyze_linear(check_stability=False)
        return self.frame


def our_push(model: FrameModel, others: Mapping[str, tuple[float, ...]] | None = None) -> Result:
    """Our frame held and pushed alike."""
    push = tuple(PUSH.get(name, 0.0) for name in ("FX", "FY", "FZ", "MX", "MY", "MZ"))
    held = {f"rear_dropout_{side}": (1,) * 6 for side in ("right", "left")}
    loads = {"head_tube_top": push, **(others or {})}
    return solve(model, [LoadCase("push", loads, supports=held)])["push"]


def assert_moves_as(
    result: Result, frame: FEModel3D, names: Mapping[str, str], share: float
) -> None:
    """Places of the frame made by hand move and turn as ours. share : of the push's own movement."""
    size = hypot(*result.displacement("head_tube_top")[:3])
    for theirs, own in names.items():
        node = frame.nodes[theirs]
        moved = [getattr(node, f"D{axis}")["Combo 1"] for axis in "XYZ"]
        turned = [getattr(node, f"R{axis}")["Combo 1"] for axis in "XYZ"]
        found = result.displacement(own)
        assert found[:3] == pytest.approx(moved, abs=share * size), own
        assert found[3:] == pytest.approx(turned, abs=share * size / 100), own
