"""The wobble's physics once more, force by force: integrated in time, read off its decay, its energy counted."""

from collections.abc import Callable
from math import log, pi

import numpy as np
from scipy.integrate import solve_ivp, trapezoid

from ..model.arrays import Array
from ..model.stability.lateral import Tyre
from ..model.stability.shimmy import ShimmyBicycle


def equations(bicycle: ShimmyBicycle, v: float) -> Callable[[float, Array], Array]:
    """d/dt of (joints after yaw, rates, sideways deflections of the two carcasses), from forces and not from matrices.

    Unlike the state matrix this carries each tyre's deflection e, with de/dt = slip velocity - v e / sigma and the
    force k e + d de/dt, and puts every force in by itself. Tyres that slip are needed.
    """
    model = bicycle.model
    n = len(model.joints)
    contacts = [model.contact_rows(w) for w in model.wheels]
    tyres = bicycle.tyres or ()
    inverse = np.linalg.inv(model.mass)

    def rate(_: float, x: Array) -> Array:
        q = np.concatenate([[0.0, 0.0], x[: n - 2]])
        u = x[n - 2 : 2 * n - 2]
        e = x[2 * n - 2 :]
        force = -model.potential @ q - model.dampers @ u
        de = np.empty(2)
        for k, (at, tyre) in enumerate(zip(contacts, tyres, strict=True)):
            load = model.wheel_loads[k]
            # The wheel's own heading against the bicycle's; yaw of the whole slips nothing.
            heading = at.tz[2:] @ q[2:]
            slip = at.s @ u - v * heading
            de[k] = slip - v * e[k] / tyre.relaxation
            side = _side_force(tyre, load, e[k], de[k])
            force += at.s * (side + tyre.camber * load * (at.tx @ q)) - at.tz * (
                tyre.pneumatic_trail * side
            )
        # Gyroscopic moments, and the turning of the axes along which sideways is counted.
        force -= v * model.gyroscopic @ u + v * u[1] * model.mass[:, 0]
        return np.concatenate([u[2:], inverse @ force, de])

    return rate


def _side_force(tyre: Tyre, load: float, deflection: float, rate: float) -> float:
    stiffness = tyre.cornering * load / tyre.relaxation
    return -stiffness * (deflection + tyre.loss_time * rate)


def wobble_start(bicycle: ShimmyBicycle, v: float) -> tuple[complex, Array]:
    """The root in the wobble's band that grows most, and its shape as the state of `equations`."""
    values, shapes = np.linalg.eig(bicycle.state_matrix(v))
    hz = values.imag / (2 * pi)
    # slower ones weave, quicker ones are the frame alone
    k = max(np.flatnonzero((hz > 2.5) & (hz < 15)), key=lambda i: float(values[i].real))
    start = shapes[:, k].copy()
    # The state matrix carries the carcass spring's force, the equations its deflection.
    stiff = [
        tyre.cornering * load / tyre.relaxation
        for tyre, load in zip(bicycle.tyres or (), bicycle.model.wheel_loads, strict=True)
    ]
    start[-2:] /= -np.array(stiff)
    return complex(values[k]), start


def from_decay(bicycle: ShimmyBicycle, v: float, periods: int = 6) -> tuple[float, float]:
    """(growth 1/s, Hz) of the wobble read off a time integration, as one reads them off a record of a ride.

    The growth from the logarithm of successive peaks of the steering angle, the frequency from the times between them.
    """
    root, start = wobble_start(bicycle, v)
    period = 2 * pi / root.imag
    # fine enough for the parabola through the three points about a peak
    times = np.linspace(0, periods * period, 400 * periods + 1)
    solved = solve_ivp(
        equations(bicycle, v), (0, times[-1]), start.real, "Radau", times, rtol=1e-8, atol=1e-11
    )
    steer = solved.y[bicycle.model.names.index("steer") - 2]
    at, height = _peaks(times, np.abs(steer))
    # Two peaks a period: one to either side.
    growth = log(height[-1] / height[0]) / (at[-1] - at[0])
    hz = (len(at) - 1) / 2 / (at[-1] - at[0])
    return growth, hz


def _peaks(times: Array, values: Array) -> tuple[Array, Array]:
    """Times and heights of inner maxima, each from the parabola through three points."""
    k = np.flatnonzero((values[1:-1] > values[:-2]) & (values[1:-1] >= values[2:])) + 1
    below = values[k - 1]
    middle = values[k]
    above = values[k + 1]
    curve = below - 2 * middle + above
    shift = (below - above) / 2 / curve
    return times[k] + shift * (times[1] - times[0]), middle - curve * shift**2 / 2


def energy_over_a_period(bicycle: ShimmyBicycle, v: float) -> tuple[float, float]:
    """(work of tyres, dampers and axes that turn, gain of kinetic and elastic energy) over one period of the wobble.

    Started in the wobble's shape with its steering at 0.02 rad; joule. The gain is a difference of states, the work a
    quadrature of every power along the way.
    """
    model = bicycle.model
    n = len(model.joints)
    root, start = wobble_start(bicycle, v)
    steer = start[model.names.index("steer") - 2]
    # the size changes nothing in linear equations, but keeps the joules readable
    first = (0.02 * start / steer).real
    period = 2 * pi / root.imag
    times = np.linspace(0, period, 2001)
    rate = equations(bicycle, v)
    solved = solve_ivp(rate, (0, period), first, "Radau", times, rtol=1e-9, atol=1e-13)
    powers = [_power(bicycle, v, x, rate(0.0, x)) for x in solved.y.T]
    energy = []
    for x in (solved.y[:, 0], solved.y[:, -1]):
        # where it is on the road and where it heads store nothing
        q = np.concatenate([[0.0, 0.0], x[: n - 2]])
        u = x[n - 2 : 2 * n - 2]
        energy.append(float(u @ model.mass @ u / 2 + q @ model.potential @ q / 2))
    return float(trapezoid(powers, times)), energy[1] - energy[0]


def _power(bicycle: ShimmyBicycle, v: float, x: Array, rate: Array) -> float:
    model = bicycle.model
    n = len(model.joints)
    q = np.concatenate([[0.0, 0.0], x[: n - 2]])
    u = x[n - 2 : 2 * n - 2]
    # dampers take, whichever way they are moved
    done = -u @ model.dampers @ u
    for k, (wheel, tyre) in enumerate(zip(model.wheels, bicycle.tyres or (), strict=True)):
        at = model.contact_rows(wheel)
        load = model.wheel_loads[k]
        side = _side_force(tyre, load, x[2 * n - 2 + k], rate[2 * n - 2 + k])
        camber = tyre.camber * load * (at.tx @ q)
        done += (side + camber) * (at.s @ u) - tyre.pneumatic_trail * side * (at.tz @ u)
    # Sideways is counted along a turning axis: v times yaw rate is its change, and does work.
    return float(done - v * u[1] * (model.mass[0] @ u))
