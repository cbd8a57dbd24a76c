"""What a part of the bicycle gives: one point with a turn and a slide, or any joints with their flexibility matrix."""

from dataclasses import dataclass, replace
from functools import cached_property
from math import isfinite

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from .lateral import Joint

FLEX_DAMPING_HZ = 7.0  # frequency at which `Flex.damping_ratio` is meant


@dataclass(frozen=True)
class Flex:
    """What a part gives at a point (x, z) m of the frame's plane when the rest is held.

    turn : rad per N*m, about the axis square to the steering axis. sideways : m per N. coupling : rad per N
    (= m per N*m), positive when a push to the right turns it as a moment about the forward-up axis does.
    Sideways 0 is a plain hinge. damping_ratio : of the part's own material and joints, assumed, near 7 Hz.
    """

    point: tuple[float, float]
    turn: float
    sideways: float = 0.0
    coupling: float = 0.0
    damping_ratio: float = 0.01

    def __post_init__(self) -> None:
        numbers = (*self.point, self.turn, self.sideways, self.coupling, self.damping_ratio)
        if (
            not all(isfinite(n) for n in numbers)
            or self.turn <= 0
            or self.sideways < 0
            or self.damping_ratio < 0
        ):
            raise ModelError(
                f"flexibility turn {self.turn} rad/Nm, sideways {self.sideways} m/N: a positive turn "
                "and no negative numbers are needed; for a rigid part leave it out"
            )
        if self.coupling**2 > self.turn * self.sideways:
            raise ModelError(
                f"flexibility: coupling {self.coupling:g} is larger than turn and sideways allow"
            )

    @property
    def turn_stiffness(self) -> float:
        """N*m/rad with the slide free."""
        return 1 / self.turn

    def give(self, name: str, across: tuple[float, float]) -> "Flexibility":
        """As joints called ``head slide``, ``head turn``; `across` is the axis square to the steering axis."""
        turn = Joint(f"{name} turn", across, self.point)
        if not self.sideways:
            return Flexibility((turn,), np.array([[self.turn]]), self.damping_ratio)
        flexibility = np.array([[self.sideways, self.coupling], [self.coupling, self.turn]])
        return Flexibility((Joint(f"{name} slide", None), turn), flexibility, self.damping_ratio)

    def scaled(self, factor: float) -> "Flex":
        """The same part with every stiffness `factor` times as large."""
        return replace(
            self,
            turn=self.turn / factor,
            sideways=self.sideways / factor,
            coupling=self.coupling / factor,
        )


@dataclass(frozen=True, eq=False)
class Flexibility:
    """What a part gives: its joints, and how each moves under a unit load at each.

    joints : n of them; the word before the blank of a joint's name is the place whose pieces ride on it: "rear",
    "pedals", "head", "fork", or of a rider behind the first the joint of his saddle, bracket or bars.
    flexibility : (n, n), symmetric positive definite; m/N, rad/(N*m) and 1/N between the two.
    damping_ratio : of the part's own material and joints, near 7 Hz.
    """

    joints: tuple[Joint, ...]
    flexibility: Array
    damping_ratio: float = 0.01

    def __post_init__(self) -> None:
        size = (len(self.joints),) * 2
        if self.flexibility.shape != size or not np.all(np.isfinite(self.flexibility)):
            raise ModelError(f"flexibility: {size} finite numbers are needed")
        if not (isfinite(self.damping_ratio) and self.damping_ratio >= 0):
            raise ModelError(
                f"damping ratio {self.damping_ratio}: a number of zero or more is needed"
            )

    @cached_property
    def stiffness(self) -> Array:
        """(n, n), the inverse, with lengths and angles brought to one size first."""
        scale = 1 / np.sqrt(np.diag(self.flexibility))
        outer = np.outer(scale, scale)
        inverse = np.linalg.inv(self.flexibility * outer) * outer
        # Symmetric again: the inverse is so but for rounding.
        return np.asarray((inverse + inverse.T) / 2)

    def scaled(self, factor: float) -> "Flexibility":
        """The same part with every stiffness `factor` times as large."""
        return replace(self, flexibility=self.flexibility / factor)
