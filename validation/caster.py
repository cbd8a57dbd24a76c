"""The caster of the textbook: a wheel that steers on a pivot which gives, where a wobble can be worked out by hand."""

from dataclasses import dataclass, replace
from math import pi, sqrt

import numpy as np

from ..model.arrays import Array
from ..model.stability.flexibility import Flexibility
from ..model.stability.lateral import Joint, Tyre
from ..model.stability.shimmy import ShimmyBicycle
from ..model.stability.whipple import RigidBody, Wheel, WhippleBicycle


@dataclass(frozen=True)
class Caster:
    """A rolling wheel that cannot slip, on an upright pivot that gives sideways: the textbook's shimmy.

    trail m, stiffness of the pivot N/m, mass kg of what steers, behind m: its centre of mass behind the pivot (ahead:
    below zero), gyration m about its centre of mass, pivot_mass kg that the pivot carries along.

    With y the pivot's sideways movement, t the wheel's angle and no slip, y' = a t' + v t; moments about the contact:

        (a M - m b) y" + (I - m a b) t" + c t' + k a y = 0,  M all mass that moves sideways, I about the pivot,

    a cubic in s, whose pair of roots turns steady (Routh) at c = v (I / a - m b), with omega^2 = k a^2 /
    (a^2 M - 2 a b m + I).
    Den Hartog, Mechanical Vibrations, 4th ed. 1956, has this caster (from memory); the algebra is done here.
    """

    trail: float = 0.06
    stiffness: float = 4.0e4
    mass: float = 6.0
    behind: float = 0.02
    gyration: float = 0.15
    pivot_mass: float = 8.0

    @property
    def inertia(self) -> float:
        """About the pivot, kg m^2."""
        return self.mass * (self.gyration**2 + self.behind**2)

    def damping(self, v: float) -> float:
        """What holds it steady, N*m*s/rad."""
        return v * (self.inertia / self.trail - self.mass * self.behind)

    @property
    def hz(self) -> float:
        """At the limit of steadiness."""
        a = self.trail
        moved = a**2 * (self.mass + self.pivot_mass)
        moved += self.inertia - 2 * a * self.behind * self.mass
        return float(sqrt(self.stiffness * a**2 / moved) / (2 * pi))

    @property
    def bicycle(self) -> ShimmyBicycle:
        """The same as a limit of the wobble model: a rear body that cannot move, a head that slides, hard tyres."""
        base = 1.0
        pivot = base + self.trail
        steering = RigidBody(
            self.mass, pivot - self.behind, -0.3, 1e-9, self.mass * self.gyration**2
        )
        heavy = RigidBody(1e7, 0.0, -0.8, 1e9, 1e9)
        carried = RigidBody(self.pivot_mass, pivot, -0.5, 0.0, 0.0)
        slide = Flexibility((Joint("head slide", None),), np.array([[1 / self.stiffness]]), 0.0)
        hard = Tyre(
            cornering=1e7, camber=0.0, relaxation=1e-3, pneumatic_trail=0.0, loss_factor=0.0
        )
        massless = Wheel(0.34, 1e-9, 1e-9, 1e-9)
        rigid = WhippleBicycle(base, self.trail, 0.0, massless, heavy, steering, massless)
        return ShimmyBicycle(rigid, slide, None, (("head", carried),), tyres=(hard, hard))

    def slipping(self, cornering: float, relaxation: float) -> ShimmyBicycle:
        """That limit with a front tyre that slips: side force N per radian, relaxation length m."""
        hard = self.bicycle
        load = hard.model.wheel_loads[1]
        soft = Tyre(cornering / load, 0.0, relaxation, 0.0, 0.0)
        assert hard.tyres is not None
        return replace(hard, tyres=(hard.tyres[0], soft))

    def roots(self, v: float, cornering: float, relaxation: float) -> Array:
        """Roots 1/s of the caster with such a tyre, from its own five equations.

        With the side force F at the contact, s the relaxation length and C the cornering stiffness:

            M y" - m b t" + k y = F,   I t" - m b y" = -a F,   s F' + v F = -C (y' - a t' - v t)
        """
        m = self.mass
        b = self.behind
        a = self.trail
        moved = np.array([[m + self.pivot_mass, -m * b], [-m * b, self.inertia]])
        # over y, t, y', t', F
        forces = np.array([[-self.stiffness, 0, 0, 0, 1.0], [0, 0, 0, 0, -a]])
        slip = np.array([0, -v, 1.0, -a, 0])
        tyre = -cornering * slip / relaxation
        tyre[4] -= v / relaxation
        rates = np.eye(5)[2:4]
        return np.linalg.eigvals(np.vstack([rates, np.linalg.solve(moved, forces), tyre]))
