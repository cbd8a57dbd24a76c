"""What of the road's shaking reaches each rider's saddle and bars, with riders who answer as measured people do.

Both wheels stand on a shaker that moves up and down alike. A rider is no lump: at each place he touches he pushes back
with his APPARENT MASS M(w) = force / acceleration,

    M(w) = m (s0 + (1 - s0) (1 + 2 i z r) / (1 - r² + 2 i z r)),   r = w / w0,

one spring-borne mass and a share s0 that moves with the seat (Fairley & Griffin 1989: w0 = 31.4 rad/s, z = 0.475, on 60
seated people; read in Biomedical Engineering and Design Handbook vol. 1, p. 272; s0 = 6 of 51.6 kg from memory). Its
peak, near one and a half times the mass at 4 to 5 Hz, is that of ISO 5982's idealised values (from memory). Bars and
pedals take the same curve with their share of his weight, for want of one of their own.

The bicycle without riders gives the receptance H at the places they touch; with f = w² M u of the rider upon it,
u = (I - H w² M)^-1 h (receptance coupling; Ewins, Modal Testing, 2nd ed. 2000, from memory).
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import pi

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.mesh import MeshOptions
from ..mechanics.frame_model import LoadCase
from ..tubes.places import SIDES
from ..tubes.plan import Rider
from .harmonic import Complex, modal_response
from .modes import Dynamics
from .setup import VibrationParts, vibration_model

RIDER_OMEGA = 31.4  # rad/s, of the body on the seat
RIDER_DAMPING = 0.475
RIDER_FIXED = 6 / 51.6  # share that moves with the seat
STRUCTURE_DAMPING = 0.02  # of frame and tyres; usual frames 0.005 to 0.05 (from memory)
MODES = 40  # of the bicycle without rider; what is above answers as if it stood still
# third octaves, Hz (ISO 266)
THIRDS = (2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5, 16.0, 20.0, 25.0, 31.5, 40.0, 50.0)
UP = 1  # degree of freedom: up and down


@dataclass(frozen=True)
class Transmissibility:
    """Motion of saddle and bars over that of the axle below, and over the road's.

    hz, and per axle or road (f,). An axle that happens to stand still makes the first ratio large, so the peaks, sought
    between the third octaves as well, are those over the road: (Hz, ratio).
    """

    hz: Array
    saddle_axle: Array
    bars_axle: Array
    saddle_road: Array
    bars_road: Array
    saddle_peak: tuple[float, float]
    bars_peak: tuple[float, float]


def apparent_mass(mass: float, hz: Sequence[float] | Array) -> Complex:
    """(f,) force over acceleration of a body of `mass`, in its unit, that sits on what shakes."""
    r = 2 * pi * np.asarray(hz, dtype=float) / RIDER_OMEGA
    damper = 2j * RIDER_DAMPING * r
    return np.asarray(mass * (RIDER_FIXED + (1 - RIDER_FIXED) * (1 + damper) / (1 - r**2 + damper)))


def transmissibility(
    bicycle: Bicycle,
    hz: Sequence[float] | Array = THIRDS,
    options: MeshOptions | None = None,
    parts: VibrationParts | None = None,
    damping_ratio: float = STRUCTURE_DAMPING,
) -> Mapping[str, Transmissibility]:
    """Rider's name -> his saddle over rear axle, his bars over front axle, both over the road, which moves alike under
    both wheels, with everybody aboard.

    Raises
    ------
    ModelError
        For a bicycle without a rider, and as `vibration_model` does.
    """
    if not bicycle.loads.rider_mass:
        raise ModelError(
            "nobody rides this bicycle: state the rider's mass, then what shakes him can be worked out"
        )
    empty = replace(parts or VibrationParts(), rider=0.0)
    model, case = vibration_model(bicycle, "tyres", empty, options)
    dynamics = Dynamics.of(model, case.supports, case.springs)
    fine = np.geomspace(THIRDS[0], THIRDS[-1], 200)
    asked = np.asarray(hz, dtype=float)
    every = np.concatenate([asked, fine])
    upon = _upon(bicycle)
    moved = _shaken(dynamics, case, list(upon), list(upon.values()), every, damping_ratio)
    return {
        rider.name: _at_rider(moved, rider, asked, fine) for rider, mass in bicycle.aboard if mass
    }


def _upon(bicycle: Bicycle) -> dict[str, float]:
    """Place -> tonne of the riders who rest on it."""
    loads = bicycle.loads
    upon: dict[str, float] = defaultdict(float)
    for rider, mass in bicycle.aboard:
        upon[rider.saddle] += 0.001 * mass * loads.saddle_share
        for side in SIDES:
            upon[f"{rider.bars}_{side}"] += 0.001 * mass * loads.bar_share / 2
        upon[rider.bracket] += 0.001 * mass * loads.pedal_share
    return upon


def _at_rider(
    moved: Mapping[str, Complex], rider: Rider, asked: Array, fine: Array
) -> Transmissibility:
    saddle = np.abs(moved[rider.saddle])
    bars = np.abs(sum(moved[f"{rider.bars}_{side}"] for side in SIDES)) / 2
    count = len(asked)
    return Transmissibility(
        asked,
        (saddle / np.abs(moved["rear_axle"]))[:count],
        (bars / np.abs(moved["front_axle"]))[:count],
        saddle[:count],
        bars[:count],
        _peak(fine, saddle[count:]),
        _peak(fine, bars[count:]),
    )


def _shaken(
    dynamics: Dynamics,
    case: LoadCase,
    touched: Sequence[str],
    tonnes: Sequence[float],
    hz: Array,
    damping_ratio: float,
) -> dict[str, Complex]:
    """(f,) up-and-down motion of touched places and axles for a unit motion of the road, rider aboard."""
    index = dynamics.model.node_index
    places = [*touched, "rear_axle", "front_axle"]
    rows = [6 * index[node] + UP for node in places]
    modes = dynamics.modes(MODES)

    def moved(load: Array | Complex) -> Complex:
        response = modal_response(dynamics, modes, load, hz, damping_ratio)
        return np.asarray(response.u.reshape(len(hz), -1)[:, rows])

    # A moving road pulls on each tyre's spring, with the tyre's own loss.
    road = np.zeros(dynamics.model.dofs, dtype=complex)
    for spring in case.springs:
        if spring.id.endswith("_tyre"):
            road[6 * index[spring.i] + UP] = spring.k[UP] * (1 + 2j * damping_ratio)
    free = moved(road)
    units = []
    for node in touched:
        unit = np.zeros(dynamics.model.dofs)
        unit[6 * index[node] + UP] = 1.0
        units.append(moved(unit))
    # (f, places, touched): motion of every place per force at a touched one
    receptance = np.stack(units, axis=2)
    push = (2 * pi * hz[:, None]) ** 2 * np.stack([apparent_mass(m, hz) for m in tonnes], axis=1)
    count = len(touched)
    coupled = np.eye(count) - receptance[:, :count] * push[:, None, :]
    at_rider = np.linalg.solve(coupled, free[:, :count, None])
    whole = free + (receptance @ (push[:, :, None] * at_rider))[..., 0]
    return {node: whole[:, k] for k, node in enumerate(places)}


def _peak(hz: Array, ratio: Array) -> tuple[float, float]:
    k = int(np.argmax(ratio))
    return float(hz[k]), float(ratio[k])
