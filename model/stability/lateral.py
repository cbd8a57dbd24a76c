"""Small sideways motions of jointed rigid bodies on two rolling wheels, about straight running at speed v.

The general form behind `shimmy`: any number of bodies, each carried by a chain of joints that lie in the
plane of symmetry. Linear equations of motion from the Lagrangian to second order, derived here (no source):

    M du/dt + v (G + M P) u + C u + K q = forces at the tyres

q are the joint coordinates, u their rates, where the first is the sideways velocity in the bicycle's own
heading (P = e_y e_yaw^T is what turning the heading adds to its rate). The pieces:

* a small turn q_j about an axis a_j through p_j moves a point x sideways by s_j q_j, s_j = (a_j x (x - p_j))_y,
  and down by q_i q_j a_ix s_j for every pair of joints i before j, half of that for i = j. Slides: s_j = 1.
* gravity and the wheel loads act through these second-order heights only; pitch and heave drop out, because
  they meet a balance of forces. A wheel's lowest point rises by r lean^2 / 2 against its centre.
* a wheel's spin Iyy v / r gives the gyroscopic terms. No drive, drag or braking: nothing acts along x.

Units SI; axes as in `whipple`: x forward, y right, z down, origin at the rear contact.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from .whipple import RigidBody, Wheel

LOSS_HZ = 7.0  # frequency at which `Tyre.loss_factor` is meant, in the middle of the wobble band


@dataclass(frozen=True)
class Joint:
    """A turn about `axis` (x, z) through `point` (x, z), or a sideways slide when axis is None."""

    name: str
    axis: tuple[float, float] | None
    point: tuple[float, float] = (0.0, 0.0)


GROUND = (Joint("sideways", None), Joint("yaw", (0.0, 1.0)), Joint("lean", (1.0, 0.0)))
"""What every body can do: slide sideways, turn about the upright at the rear contact, lean about the ground line."""


@dataclass(frozen=True)
class Carried:
    """A rigid body or a wheel (axle at height radius over x) and the names of the joints it rides on, after GROUND."""

    body: RigidBody | Wheel
    joints: tuple[str, ...] = ()
    x: float = 0.0

    @cached_property
    def mass(self) -> float:
        return self.body.mass

    @property
    def centre(self) -> tuple[float, float]:
        if isinstance(self.body, Wheel):
            return (self.x, -self.body.radius)
        return (self.body.x, self.body.z)

    @property
    def inertia(self) -> tuple[float, float, float]:
        """Ixx, Ixz, Izz about the centre of mass."""
        b = self.body
        if isinstance(b, Wheel):
            # A wheel is alike about every diameter.
            return (b.Ixx, 0.0, b.Ixx)
        return (b.Ixx, b.Ixz, b.Izz)


@dataclass(frozen=True)
class Tyre:
    """A linear tyre; every coefficient is per newton of wheel load.

    cornering : side force per radian of side slip. camber : side force per radian of lean, taken as acting
    at once. relaxation : rolling distance, m, over which the slip force builds up, sigma dF/dt + v F = v F_steady
    (Pacejka 2006, Tyre and Vehicle Dynamics, ch. 5 and 7; from memory). pneumatic_trail : lever m of the slip
    force behind the contact. loss_factor : of the carcass sideways near `LOSS_HZ`: the carcass is a spring
    cornering x load / relaxation with a damper beside it, so a tyre at low speed swallows work instead of giving
    all of it back.

    Defaults: cornering 0.2 and camber 0.01 per degree, relaxation 0.1 m, chosen between published measurements
    on bicycle tyres: a Swedish road institute's report (trid.trb.org/View/1573760) gives 0.3 and 0.01 per degree
    and 0.2-0.3 m, and says that earlier work had two thirds of the first and 0.1 m for the last. The pneumatic
    trail is from memory.
    """

    cornering: float = np.degrees(0.2)
    camber: float = np.degrees(0.01)
    relaxation: float = 0.10
    pneumatic_trail: float = 0.01
    loss_factor: float = 0.10

    @property
    def loss_time(self) -> float:
        """Damper over spring of the carcass, s."""
        return self.loss_factor / (2 * np.pi * LOSS_HZ)

    def __post_init__(self) -> None:
        if not (0 < self.cornering < np.inf and 0 < self.relaxation < np.inf):
            raise ModelError(
                f"tyre: cornering {self.cornering} and relaxation {self.relaxation} m must be positive "
                "numbers; for wheels that cannot slip leave the tyre out"
            )
        if not (np.isfinite(self.camber) and np.isfinite(self.pneumatic_trail)):
            raise ModelError("tyre: camber coefficient and pneumatic trail must be numbers")
        if not 0 <= self.loss_factor < 1:
            raise ModelError(
                f"tyre: loss factor {self.loss_factor} is not between 0 and 1; rubber has 0.03 to 0.2"
            )


@dataclass(frozen=True)
class Rows:
    """What each coordinate does at one point: sideways `s`, turns `tx`, `tz` of the body, down second derivative."""

    s: Array
    tx: Array
    tz: Array
    down: Array


@dataclass(frozen=True)
class LateralModel:
    """Joints in order (GROUND first, a parent before its children), bodies, springs and dampers on the joints.

    stiffness, damping : joint name pairs -> value (N*m/rad, N/m; and times s). gravity N/kg.
    The wheels, in order rear, front, are the `bodies` entries that hold a `Wheel`.
    """

    joints: tuple[Joint, ...]
    bodies: tuple[Carried, ...]
    stiffness: Mapping[tuple[str, str], float] = field(default_factory=dict)
    damping: Mapping[tuple[str, str], float] = field(default_factory=dict)
    gravity: float = 9.81

    def __post_init__(self) -> None:
        if self.joints[:3] != GROUND or len(self.wheels) != 2:
            raise ModelError(
                "a sideways model needs the three ground joints first and exactly two wheels"
            )

    @cached_property
    def wheels(self) -> tuple[Carried, ...]:
        return tuple(b for b in self.bodies if isinstance(b.body, Wheel))

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(joint.name for joint in self.joints)

    @property
    def wheelbase(self) -> float:
        rear, front = self.wheels
        return front.x - rear.x

    @cached_property
    def wheel_loads(self) -> tuple[float, float]:
        """Vertical loads rear, front, N."""
        # Moments about the rear contact.
        weight = sum(b.mass for b in self.bodies) * self.gravity
        front = sum(b.mass * b.centre[0] for b in self.bodies) * self.gravity / self.wheelbase
        return weight - front, front

    def rows(self, body: Carried) -> Rows:
        """Kinematics of the body's centre of mass, (n,) rows and the (n, n) second derivative of its drop."""
        on = {*(j.name for j in GROUND), *body.joints}
        s, tx, tz = (np.zeros(len(self.joints)) for _ in range(3))
        for k, joint in enumerate(self.joints):
            # A body moves with the joints between it and the ground, and with no other.
            if joint.name not in on:
                continue
            if joint.axis is None:
                s[k] = 1.0
                continue
            tx[k], tz[k] = joint.axis
            s[k] = tz[k] * (body.centre[0] - joint.point[0]) - tx[k] * (
                body.centre[1] - joint.point[1]
            )
        # Order matters: an earlier joint tilts the axis of a later one, not the other way round.
        upper = np.triu(np.outer(tx, s), 1)
        return Rows(s, tx, tz, upper + upper.T + np.diag(tx * s))

    def contact_rows(self, wheel: Carried) -> Rows:
        """The same at the wheel's lowest point."""
        assert isinstance(wheel.body, Wheel)
        # The lowest point lies a radius below the axle and turns with the wheel's lean.
        r = wheel.body.radius
        at = self.rows(wheel)
        return Rows(at.s - r * at.tx, at.tx, at.tz, at.down - r * np.outer(at.tx, at.tx))

    @cached_property
    def _rows(self) -> tuple[Rows, ...]:
        return tuple(self.rows(body) for body in self.bodies)

    # --- matrices, all (n, n) -----------------------------------------------------------------------------
    @cached_property
    def mass(self) -> Array:
        total = np.zeros((len(self.joints),) * 2)
        for body, at in zip(self.bodies, self._rows, strict=True):
            xx, xz, zz = body.inertia
            total += (
                body.mass * np.outer(at.s, at.s)
                + xx * np.outer(at.tx, at.tx)
                + zz * np.outer(at.tz, at.tz)
            )
            total += xz * (np.outer(at.tx, at.tz) + np.outer(at.tz, at.tx))
        return total

    @cached_property
    def gyroscopic(self) -> Array:
        """G, skew-symmetric, per unit of speed: a forward wheel spins about -y, its spin vector turns with it."""
        total = np.zeros((len(self.joints),) * 2)
        for wheel in self.wheels:
            assert isinstance(wheel.body, Wheel)
            at = self.rows(wheel)
            # A leaning wheel that yaws feels the moment of its own spin, and the other way round.
            total += wheel.body.spin * (np.outer(at.tx, at.tz) - np.outer(at.tz, at.tx))
        return total

    @cached_property
    def potential(self) -> Array:
        """K: weight, wheel loads and springs."""
        total = self._joint_matrix(self.stiffness)
        for body, at in zip(self.bodies, self._rows, strict=True):
            total -= body.mass * self.gravity * at.down
        # The road pushes up at a point that rises as the wheel leans over.
        for wheel, load in zip(self.wheels, self.wheel_loads, strict=True):
            total += load * self.contact_rows(wheel).down
        return total

    @cached_property
    def dampers(self) -> Array:
        return self._joint_matrix(self.damping)

    @cached_property
    def heading(self) -> Array:
        """P: yaw rate turns the axis along which the sideways velocity is counted."""
        total = np.zeros((len(self.joints),) * 2)
        # Sideways velocity is counted along the bicycle's own axis, which yaws.
        total[0, 1] = 1.0
        return total

    def _joint_matrix(self, entries: Mapping[tuple[str, str], float]) -> Array:
        total = np.zeros((len(self.joints),) * 2)
        at = {name: k for k, name in enumerate(self.names)}
        for (first, second), value in entries.items():
            # What acts between two joints acts on both alike, so the matrix is symmetric.
            total[at[first], at[second]] = total[at[second], at[first]] = value
        return total

    # --- equations of motion ------------------------------------------------------------------------------
    @cached_property
    def slip_rows(self) -> tuple[Array, Array]:
        """J, T (2, n): slip velocity at the contacts = J u - v T q; T leaves the common yaw angle out."""
        rows = [self.contact_rows(wheel) for wheel in self.wheels]
        steer = np.array([at.tz for at in rows])
        # The road has no marked direction: a common yaw angle slips nothing.
        steer[:, 1] = 0.0
        return np.array([at.s for at in rows]), steer

    def rolling(self, v: float) -> tuple[Array, Array, Array]:
        """Mass, damping and stiffness (n-2, n-2) over the joints after yaw when neither wheel can slip.

        The two conditions J u = v T q give sideways and yaw rate from the rest: u = S w + v Z q.
        """
        slip, turn = self.slip_rows
        free = len(self.joints) - 2
        # Sideways and yaw rate follow from the rest where no wheel slips.
        s = np.vstack([-np.linalg.solve(slip[:, :2], slip[:, 2:]), np.eye(free)])
        z = np.vstack([np.linalg.solve(slip[:, :2], turn[:, 2:]), np.zeros((free, free))])
        mass = self.mass
        damp = self.dampers + v * (self.gyroscopic + self.mass @ self.heading)
        return (
            s.T @ mass @ s,
            s.T @ (v * mass @ z + damp @ s),
            s.T @ (v * damp @ z) + self.potential[2:, 2:],
        )

    def rolling_state(self, v: float) -> Array:
        """State matrix over (joints after yaw, their rates) for wheels that cannot slip."""
        mass, damp, stiff = self.rolling(v)
        n = len(mass)
        return np.vstack(
            [
                np.hstack([np.zeros((n, n)), np.eye(n)]),
                np.linalg.solve(mass, np.hstack([-stiff, -damp])),
            ]
        )

    def tyre_state(self, v: float, tyres: Sequence[Tyre]) -> Array:
        """State matrix over (joints after yaw, all rates, carcass spring forces); tyres and forces rear, front."""
        return np.asarray(self.tyre_states((v,), tyres)[0])

    def tyre_states(self, speeds: Sequence[float] | Array, tyres: Sequence[Tyre]) -> Array:
        """(k, m, m) `tyre_state` at each speed.

        The carcass spring's force f obeys sigma df/dt + v f = -C (slip velocity); the tyre's side force is
        f + tau df/dt with tau the damper over the spring.
        """
        v = np.asarray(speeds, dtype=float)[:, None, None]
        slip, turn = self.slip_rows
        n = len(self.joints)
        q = len(self.joints) - 2
        loads = np.array(self.wheel_loads)
        cornering = np.array([tyre.cornering for tyre in tyres])
        camber = np.array([tyre.camber for tyre in tyres])
        sigma = np.array([tyre.relaxation for tyre in tyres])
        lever = np.array([tyre.pneumatic_trail for tyre in tyres])
        tau = np.array([tyre.loss_time for tyre in tyres])
        contacts = [self.contact_rows(w) for w in self.wheels]
        lean = np.array([at.tx for at in contacts])
        yaw = np.array([at.tz for at in contacts])
        # sigma df/dt + v f = v f_steady; with f_steady = -C (slip angle), v cancels in the slip term.
        spring = (cornering * loads / sigma)[:, None]
        by_position = v * turn[:, 2:] * spring
        by_rate = np.broadcast_to(-slip * spring, (len(v), 2, n))
        by_force = -v * np.diag(1 / sigma)
        # The slip force acts behind the contact by the pneumatic trail and so turns the wheel back.
        push = slip.T - yaw.T * lever
        damper = push * tau
        # A leaning tyre pushes sideways at once; slip force builds up over the relaxation length.
        camber_force = slip.T @ ((camber * loads)[:, None] * lean)
        damp = self.dampers + v * (self.gyroscopic + self.mass @ self.heading)
        right = np.concatenate(
            [
                (camber_force - self.potential)[:, 2:] + damper @ by_position,
                -damp + damper @ by_rate,
                push + damper @ by_force,
            ],
            axis=2,
        )
        rates = np.linalg.solve(self.mass, right)
        moving = np.hstack([np.zeros((q, q + 2)), np.eye(q), np.zeros((q, 2))])
        return np.concatenate(
            [
                np.broadcast_to(moving, (len(v), *moving.shape)),
                rates,
                np.concatenate([by_position, by_rate, by_force], axis=2),
            ],
            axis=1,
        )
