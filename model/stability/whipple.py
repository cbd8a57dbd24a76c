"""The linearised bicycle: two wheels, rear body with rider, front assembly, rolling without side slip.

Meijaard, Papadopoulos, Ruina & Schwab 2007, "Linearized dynamics equations for the balance and steer of a
bicycle: a benchmark and review", Proc. R. Soc. A 463, 1955-1982, appendix A. Formulas written from memory
of that appendix and held against its published numbers in the tests.

Units here are SI (m, kg, s, rad), not the frame solver's mm and tonne. Axes are the paper's: origin at the
rear contact, x forward, y to the rider's right, z DOWN (a mass above the road has negative z). Lean phi is
positive to the right, steer delta positive to the right.
"""

from dataclasses import dataclass
from math import cos, isfinite, pi, sin, sqrt

import numpy as np

from ..arrays import Array
from ..errors import ModelError


@dataclass(frozen=True)
class RigidBody:
    """A body symmetric about the frame's plane: mass kg, centre of mass (x, z) m, inertia about it kg m^2.

    Ixz has the paper's sign: the off-diagonal ENTRY of the inertia matrix, -integral of x z dm.
    """

    mass: float
    x: float
    z: float
    Ixx: float
    Izz: float
    Ixz: float = 0.0

    def __post_init__(self) -> None:
        values = (self.mass, self.x, self.z, self.Ixx, self.Izz, self.Ixz)
        if not all(isfinite(v) for v in values) or min(self.mass, self.Ixx, self.Izz) < 0:
            raise ModelError(f"body {values}: mass and inertia must be numbers of zero or more")
        if self.Ixz**2 > self.Ixx * self.Izz * (1 + 1e-9):
            raise ModelError(
                f"body: Ixz {self.Ixz:g} is larger than Ixx {self.Ixx:g} and Izz {self.Izz:g} allow"
            )


@dataclass(frozen=True)
class Wheel:
    """A wheel: loaded radius m, mass kg, inertia about a diameter `Ixx` and about the axle `Iyy`, kg m^2."""

    radius: float
    mass: float
    Ixx: float
    Iyy: float

    def __post_init__(self) -> None:
        if not (isfinite(self.radius) and self.radius > 0):
            raise ModelError(f"wheel radius is {self.radius} m, it must be a positive number")
        if not all(isfinite(v) and v >= 0 for v in (self.mass, self.Ixx, self.Iyy)):
            raise ModelError("wheel mass and inertia must be numbers of zero or more")

    @property
    def spin(self) -> float:
        """Angular momentum per unit of forward speed, Iyy / radius, kg m."""
        return self.Iyy / self.radius


@dataclass(frozen=True)
class WhippleMatrices:
    """M q" + v C1 q' + (g K0 + v^2 K2) q = 0 for q = (lean, steer); each (2, 2)."""

    M: Array
    C1: Array
    K0: Array
    K2: Array
    g: float

    def state_matrix(self, v: float) -> Array:
        """(4, 4) of d/dt (lean, steer, lean rate, steer rate) at forward speed v, m/s."""
        stiffness = self.g * self.K0 + v**2 * self.K2
        lower = np.linalg.solve(self.M, np.hstack([-stiffness, -v * self.C1]))
        return np.vstack([np.hstack([np.zeros((2, 2)), np.eye(2)]), lower])


@dataclass(frozen=True)
class WhippleBicycle:
    """The 25 numbers of the model. wheelbase, trail m; tilt rad (90 degrees less the head angle); g N/kg."""

    wheelbase: float
    trail: float
    tilt: float
    rear_wheel: Wheel
    rear_body: RigidBody
    front_assembly: RigidBody
    front_wheel: Wheel
    g: float = 9.81

    def __post_init__(self) -> None:
        if not (isfinite(self.wheelbase) and self.wheelbase > 0):
            raise ModelError(f"wheelbase is {self.wheelbase} m, it must be a positive number")
        if not (isfinite(self.trail) and isfinite(self.tilt) and abs(self.tilt) < pi / 2):
            raise ModelError(
                f"trail {self.trail} m, tilt {self.tilt} rad: numbers with a tilt below 90 degrees"
            )

    @property
    def matrices(self) -> WhippleMatrices:
        """Appendix A of the paper, equation by equation; A is the front assembly with its wheel, T the total."""
        w = self.wheelbase
        c = self.trail
        lam = self.tilt
        # T is everything together, about the rear contact.
        m_t, x_t, z_t, t_xx, t_xz, t_zz = _together(
            self.rear_body,
            self.front_assembly,
            _as_body(self.rear_wheel, 0.0),
            _as_body(self.front_wheel, w),
        )
        # A is what turns with the bars, about its own centre of mass.
        m_a, x_a, z_a, a_xx, a_xz, a_zz = _together(
            self.front_assembly, _as_body(self.front_wheel, w), about_centre=True
        )
        # Distance of that centre ahead of the steering axis.
        u = (x_a - w - c) * cos(lam) - z_a * sin(lam)
        a_ll = (
            m_a * u**2
            + a_xx * sin(lam) ** 2
            + 2 * a_xz * sin(lam) * cos(lam)
            + a_zz * cos(lam) ** 2
        )
        a_lx = -m_a * u * z_a + a_xx * sin(lam) + a_xz * cos(lam)
        a_lz = m_a * u * x_a + a_xz * sin(lam) + a_zz * cos(lam)
        # How far the rear frame yaws per unit of steer at standstill.
        mu = c / w * cos(lam)
        turn = cos(lam) / w
        # Spins per unit of speed: the gyroscopic part of both wheels.
        s_f = self.front_wheel.spin
        s_t = self.rear_wheel.spin + s_f
        s_a = m_a * u + mu * m_t * x_t
        coupled = a_lx + mu * t_xz
        mass = [[t_xx, coupled], [coupled, a_ll + 2 * mu * a_lz + mu**2 * t_zz]]
        damp = [
            [0.0, mu * s_t + s_f * cos(lam) + t_xz * turn - mu * m_t * z_t],
            [-(mu * s_t + s_f * cos(lam)), a_lz * turn + mu * (s_a + t_zz * turn)],
        ]
        gravity = [[m_t * z_t, -s_a], [-s_a, -s_a * sin(lam)]]
        speed = [[0.0, (s_t - m_t * z_t) * turn], [0.0, (s_a + s_f * sin(lam)) * turn]]
        return WhippleMatrices(
            np.array(mass), np.array(damp), np.array(gravity), np.array(speed), self.g
        )

    def eigenvalues(self, v: float) -> Array:
        """(4,) complex eigenvalues at forward speed v m/s, 1/s, by rising real part."""
        values = np.linalg.eigvals(self.matrices.state_matrix(v))
        return np.asarray(values[np.lexsort((values.imag, values.real))])

    @property
    def capsize_speed(self) -> float | None:
        """Speed where det(g K0 + v^2 K2) = 0 (one eigenvalue passes zero), m/s; None where there is none."""
        m = self.matrices
        # det(g K0 + v² K2) is linear in v²: K2 has an empty first column.
        constant, linear = _determinant_line(m.g * m.K0, m.K2)
        if linear and -constant / linear > 0:
            return sqrt(-constant / linear)
        return None

    @property
    def weave_speed(self) -> float | None:
        """Highest speed with an undamped oscillation (Hurwitz determinant zero), m/s; None where there is none."""
        m = self.matrices
        b, c, d, e = _characteristic(m)
        # The last but one Hurwitz determinant vanishes where a pair of roots crosses the axis.
        hurwitz = (
            b * np.polymul(c, d) - np.linalg.det(m.M) * np.polymul(d, d) - np.pad(b**2 * e, (1, 0))
        )
        # A real pair of opposite roots makes it vanish too; only d/b > 0 is an oscillation.
        squares = [
            x.real
            for x in np.roots(hurwitz)
            if abs(x.imag) < 1e-9 * abs(x) and x.real > 0 and np.polyval(d, x.real) / b > 0
        ]
        if squares:
            return sqrt(max(squares))
        return None


def lump(*bodies: RigidBody) -> RigidBody:
    """Bodies fixed to each other as one."""
    # About its own centre, which is how a body states its inertia.
    mass, x, z, xx, xz, zz = _together(*bodies, about_centre=True)
    return RigidBody(mass, x, z, xx, zz, xz)


def _as_body(wheel: Wheel, x: float) -> RigidBody:
    return RigidBody(wheel.mass, x, -wheel.radius, wheel.Ixx, wheel.Ixx)


def _together(
    *bodies: RigidBody, about_centre: bool = False
) -> tuple[float, float, float, float, float, float]:
    """Mass, centre and inertia (xx, xz, zz) of bodies together, about their centre or about the origin."""
    mass = sum(b.mass for b in bodies)
    x = sum(b.mass * b.x for b in bodies) / mass
    z = sum(b.mass * b.z for b in bodies) / mass
    if about_centre:
        x0 = x
        z0 = z
    else:
        x0 = 0.0
        z0 = 0.0
    xx = sum(b.Ixx + b.mass * (b.z - z0) ** 2 for b in bodies)
    # The paper's sign: the entry of the matrix, so minus the product.
    xz = sum(b.Ixz - b.mass * (b.x - x0) * (b.z - z0) for b in bodies)
    zz = sum(b.Izz + b.mass * (b.x - x0) ** 2 for b in bodies)
    return mass, x, z, xx, xz, zz


def _mixed(a: Array, b: Array) -> float:
    """The part of det(a + b) that is linear in each (2, 2) matrix."""
    return float(a[0, 0] * b[1, 1] + b[0, 0] * a[1, 1] - a[0, 1] * b[1, 0] - b[0, 1] * a[1, 0])


def _determinant_line(constant: Array, slope: Array) -> tuple[float, float]:
    """det(constant + x slope) = first + x second, for a slope with an empty first column."""
    return float(np.linalg.det(constant)), _mixed(constant, slope)


def _characteristic(m: WhippleMatrices) -> tuple[float, Array, Array, Array]:
    """det(M s^2 + v C1 s + K) = det M s^4 + v b s^3 + c s^2 + v d s + e; c, d, e as polynomials in v^2."""
    k0 = m.g * m.K0
    c = np.array([np.linalg.det(m.C1) + _mixed(m.M, m.K2), _mixed(m.M, k0)])
    d = np.array([_mixed(m.C1, m.K2), _mixed(m.C1, k0)])
    return _mixed(m.M, m.C1), c, d, np.array(_determinant_line(k0, m.K2)[::-1])


BENCHMARK = WhippleBicycle(
    wheelbase=1.02,
    trail=0.08,
    tilt=pi / 10,
    rear_wheel=Wheel(0.3, 2.0, 0.0603, 0.12),
    rear_body=RigidBody(85.0, 0.3, -0.9, 9.2, 2.8, 2.4),
    front_assembly=RigidBody(4.0, 0.9, -0.7, 0.05892, 0.00708, -0.00756),
    front_wheel=Wheel(0.35, 3.0, 0.1405, 0.28),
)
"""The benchmark bicycle of the paper's table 1."""
