"""Pedalling against the modes: cadence and its harmonics, the gap to each mode, and the forced response.

Each foot pushes down as a half sine of the crank angle, the legs half a turn apart (common practice, no source).
The two legs together push twice per turn; their difference, which leans the frame from side to side, swings
once per turn. A half sine split into harmonics holds exactly these: order 1 sideways, even orders up-and-down.
The chain runs beside the frame's plane, so its pull adds a small yawing part at the even orders.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array
from ..cases.library import pedal_stroke
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import FrameModel
from .harmonic import Complex, direct_response, modal_response, static_response
from .mode_words import ModeWords
from .modes import Dynamics, Modes

ORDERS = {1: "sideways", 2: "up and down", 4: "up and down"}
WATCHED = {"bars": "bar_centre", "saddle": "saddle", "bottom bracket": "bottom_bracket"}
DAMPING_RATIO = 0.02  # assumed for frame, tyres and rider together where none is stated
ANGLES = 128  # crank angles per turn: harmonics up to 63 are separated
HIGHEST = 12  # last harmonic of the pedal force that is kept


@dataclass(frozen=True)
class FrequencyGap:
    """How far the pushes of a cadence range stay from one mode. percent: the nearest push against the mode,
    negative below it; 0 when the range passes through it, at `meets_rpm`."""

    mode: int
    hz: float
    order: int
    push: str
    percent: float
    meets_rpm: float


def gaps(
    words: Sequence[ModeWords], cadence: tuple[float, float], orders: Sequence[int] = tuple(ORDERS)
) -> tuple[FrequencyGap, ...]:
    """For each mode that the push can move, the gap to each order over a cadence range (rpm, rpm).

    Sideways pushes (odd orders) are set against sideways modes, up-and-down ones against modes in the frame's
    plane; a mixed mode meets both. Rigid motions are left out.
    """
    low, high = _checked(cadence)
    out = []
    for word in words:
        for order in orders:
            if order % 2:
                push = "sideways"
            else:
                push = "up and down"
            # A push cannot move a mode of the other kind: the frame is its own mirror image.
            unmoved = "in plane" if push == "sideways" else "sideways"
            if word.hz == 0 or word.plane == unmoved:
                continue
            slow = order * low / 60
            fast = order * high / 60
            if word.hz < slow:
                nearest = slow
            elif word.hz > fast:
                nearest = fast
            else:
                nearest = word.hz
            percent = 100 * (nearest - word.hz) / word.hz
            out.append(
                FrequencyGap(word.number, word.hz, order, push, percent, 60 * word.hz / order)
            )
    return tuple(out)


@dataclass(frozen=True, eq=False)
class Campbell:
    """Campbell diagram: lines of the pedalling orders over cadence, levels of the modes.

    cadences (c,) rpm; lines: order -> (c,) Hz; levels: the modes that bend something, with words; crossings: the
    gaps that are zero, each an order that meets a mode it can move at `meets_rpm`.
    """

    cadences: Array
    lines: dict[int, Array]
    levels: tuple[ModeWords, ...]
    crossings: tuple[FrequencyGap, ...]


def campbell(
    words: Sequence[ModeWords],
    cadence: tuple[float, float],
    orders: Sequence[int] = tuple(ORDERS),
    points: int = 61,
) -> Campbell:
    """The lines and levels to draw, over a cadence range (rpm, rpm)."""
    low, high = _checked(cadence)
    # Lines are straight; the points are there for whoever plots them on another axis.
    at = np.linspace(low, high, points)
    crossings = tuple(gap for gap in gaps(words, cadence, orders) if gap.percent == 0)
    lines = {order: order * at / 60 for order in orders}
    # A rigid motion has no level to draw.
    levels = tuple(word for word in words if word.hz > 0)
    return Campbell(at, lines, levels, crossings)


def _checked(cadence: tuple[float, float]) -> tuple[float, float]:
    low, high = cadence
    if not 0 < low <= high < 1000:
        raise ModelError(
            f"cadence {low:g} to {high:g} rpm: two rising numbers above zero are needed, such as "
            "60 to 110"
        )
    return low, high


# --- the pedalling load ---------------------------------------------------------------------------------------
def pedalling_loads(
    bicycle: Bicycle, layout: FrameLayout, model: FrameModel, force: float | None = None
) -> dict[int, Complex]:
    """Harmonic order -> complex nodal loads (6n,) of steady pedalling with peak force N per foot, chain pull included.

    Angle 0: right crank level forward. Loads are Re(f exp(i order angle)); order 0, the mean, is left out.
    """
    if force is None:
        peak = bicycle.loads.pedal_force
    else:
        peak = force
    # A whole turn in equal steps: the transform of it is exact for the harmonics kept.
    angles = 2 * np.pi * np.arange(ANGLES) / ANGLES
    history = np.array([_feet(bicycle, layout, model, peak, a) for a in angles])
    spectrum = 2 * np.fft.rfft(history, axis=0) / ANGLES
    # Orders that the half sine does not hold come out as rounding; they are dropped.
    size = np.abs(spectrum[1 : HIGHEST + 1]).max(axis=1)
    return {k: spectrum[k] for k in range(1, HIGHEST + 1) if size[k - 1] > 1e-9 * size.max()}


def _feet(
    bicycle: Bicycle, layout: FrameLayout, model: FrameModel, peak: float, angle: float
) -> Array:
    """(6n,) loads with the right crank at an angle (rad) below level forward: the foot that goes down pushes."""
    out = np.zeros((len(model.nodes), 6))
    # Positive while the right foot goes down; the left one pushes in the other half.
    push = peak * np.cos(angle)
    right = push > 0
    crank = np.degrees(angle) + (0 if right else 180)
    for node, load in pedal_stroke(bicycle, layout, abs(push), float(crank)):
        out[model.node_index[node]] += load
    if not right:  # the same push on the other side: it leans the frame the other way
        across = -2 * bicycle.fittings.pedal_offset
        out[model.node_index["bottom_bracket"], 3] += across * abs(push)
    return out.ravel()


# --- forced response --------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class Pedalled:
    """Forced response over cadences (c,) rpm at the watched places, mean left out.

    amplitude: place -> (c, 3) half of the peak-to-peak motion in a turn along x, y, z, mm. static: place -> (3,)
    the same when the pedals are loaded infinitely slowly. amplification: place -> (c, 3), their ratio (NaN where
    the static motion vanishes).
    """

    cadences: Array
    amplitude: dict[str, Array]
    static: dict[str, Array]
    damping_ratio: float
    peak_force: float

    @property
    def amplification(self) -> dict[str, Array]:
        out = {}
        for place, moved in self.amplitude.items():
            still = self.static[place]
            # A ratio to no motion at all has no meaning and must not show as a number.
            nothing = still <= 1e-9 * max(float(s.max()) for s in self.static.values())
            out[place] = np.where(nothing, np.nan, moved / np.where(nothing, 1.0, still))
        return out


def pedalled(
    bicycle: Bicycle,
    layout: FrameLayout,
    dynamics: Dynamics,
    cadences: Sequence[float] | Array,
    modes: Modes | None = None,
    damping_ratio: float = DAMPING_RATIO,
    force: float | None = None,
) -> Pedalled:
    """Response to steady pedalling at each cadence, from modes when given (fast), else solved directly.

    Raises
    ------
    MechanismError
        For a free bicycle, which has no static deflection to compare with.
    ModelError
        For impossible cadences or a resonance without damping.
    """
    at = np.asarray(cadences, dtype=float)
    if at.ndim != 1 or not at.size or not np.all(np.isfinite(at) & (at > 0)):
        raise ModelError(f"cadences {cadences}: one or more positive numbers in rpm are needed")
    loads = pedalling_loads(bicycle, layout, dynamics.model, force)
    orders = list(loads)
    forces = np.array(list(loads.values()))
    places = {name: dynamics.model.node_index[node] for name, node in WATCHED.items()}
    still = static_response(dynamics, forces).reshape(len(orders), -1, 6)
    # Every cadence with every order in one call: the modes are worked out once.
    hz = np.outer(at, orders).ravel() / 60
    repeated = np.tile(forces, (len(at), 1))
    if modes is None:
        response = direct_response(dynamics, repeated, hz, damping_ratio)
    else:
        response = modal_response(dynamics, modes, repeated, hz, damping_ratio)
    moved = response.u.reshape(len(at), len(orders), -1, 6)
    amplitude = {name: _half_range(orders, moved[:, :, k, :3]) for name, k in places.items()}
    static = {name: _half_range(orders, still[None, :, k, :3])[0] for name, k in places.items()}
    peak = bicycle.loads.pedal_force if force is None else force
    return Pedalled(at, amplitude, static, damping_ratio, peak)


def _half_range(orders: list[int], amplitudes: Complex) -> Array:
    """(c, 3) half the peak-to-peak of harmonics (c, orders, 3) added up over a turn."""
    # The orders beat against each other, so the range is taken from the motion in time.
    turn = np.exp(1j * np.outer(2 * np.pi * np.arange(ANGLES) / ANGLES, orders))
    history = np.einsum("ao,coi->cai", turn, amplitudes).real
    return np.asarray((history.max(axis=1) - history.min(axis=1)) / 2)
