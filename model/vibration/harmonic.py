"""Steady response to a load that swings as a sine: solved directly, or added up from modes.

Damping is a stated assumption, not a result: material (hysteretic) damping K (1 + 2 i zeta), which gives every
mode the damping ratio zeta at its resonance, at any frequency. Displacements are complex amplitudes: the motion
is Re(u exp(i w t)) for loads Re(f exp(i w t)).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import MechanismError, ModelError
from ..mechanics.assembly import Factor
from ..mechanics.frame_model import FrameModel
from .modes import Dynamics, Modes

Complex = NDArray[np.complex128]
RESIDUAL_LIMIT = 1e-8


@dataclass(frozen=True, eq=False)
class Response:
    """Complex displacement amplitudes (f, n, 6), mm and rad, at frequencies_hz (f,)."""

    model: FrameModel
    frequencies_hz: Array
    u: Complex
    damping_ratio: float

    def at(self, node: str) -> Complex:
        """(f, 6) amplitudes of a node."""
        return np.asarray(self.u[:, self.model.node_index[node]])


def direct_response(
    dynamics: Dynamics,
    loads: Array | Complex,
    frequencies_hz: Sequence[float] | Array,
    damping_ratio: float = 0.0,
) -> Response:
    """Solve (K (1 + 2 i zeta) - w^2 M) u = f at each frequency for loads (6n,) or (f, 6n).

    Raises
    ------
    ModelError
        At an undamped resonance, or when a solution misses its equation.
    """
    from scipy.sparse.linalg import splu

    hz, forces = _checked(dynamics, loads, frequencies_hz, damping_ratio)
    out = np.zeros(forces.shape, dtype=complex)
    for row, (f, force) in enumerate(zip(hz, forces @ dynamics.T, strict=True)):
        # Hysteretic damping: the same loss at every frequency.
        matrix = (dynamics.k * (1 + 2j * damping_ratio) - (2 * pi * f) ** 2 * dynamics.m).tocsc()
        try:
            solved = splu(matrix, permc_spec="MMD_AT_PLUS_A").solve(force)
        except RuntimeError as error:
            raise _resonance(f) from error
        # Near a resonance the solution is large, so its size counts too.
        left = np.linalg.norm(matrix @ solved - force)
        if not left <= RESIDUAL_LIMIT * (
            np.linalg.norm(force) + np.linalg.norm(abs(matrix) @ abs(solved)) * 1e-3
        ):
            raise _resonance(f)
        out[row] = dynamics.T @ solved
    return Response(dynamics.model, hz, out.reshape(len(hz), -1, 6), damping_ratio)


def modal_response(
    dynamics: Dynamics,
    modes: Modes,
    loads: Array | Complex,
    frequencies_hz: Sequence[float] | Array,
    damping_ratio: float = 0.0,
) -> Response:
    """The same from modes: each answers as an oscillator, what the left-out modes add is taken as static.

    A body with rigid motions has no static part: there take all modes that matter, up to well above the load.
    """
    hz, forces = _checked(dynamics, loads, frequencies_hz, damping_ratio)
    shapes = modes.shapes.reshape(len(modes), -1)
    drive = forces @ shapes.T
    squares = (2 * pi * modes.frequencies_hz) ** 2
    # Each mode is an oscillator of its own with the same damping.
    stiff = squares * (1 + 2j * damping_ratio)
    omega2 = (2 * pi * hz[:, None]) ** 2
    if np.any(stiff == omega2):
        raise _resonance(float(hz[np.argmax(np.any(stiff == omega2, axis=1))]))
    amplitude = drive / (stiff - omega2)
    out: Complex = np.zeros(forces.shape, dtype=complex)
    if not modes.rigid:
        # Modes above the last one answer as if the load stood still.
        out += static_response(dynamics, forces) / (1 + 2j * damping_ratio)
        amplitude -= drive / stiff
    out += amplitude @ shapes
    return Response(dynamics.model, hz, out.reshape(len(hz), -1, 6), damping_ratio)


def static_response(dynamics: Dynamics, forces: Array | Complex) -> Complex:
    """(f, 6n) displacements under loads (f, 6n) that do not swing. Raises MechanismError for a free body."""
    try:
        factor = Factor.of(dynamics.k)
    except MechanismError as error:
        raise MechanismError(
            "a bicycle that nothing holds has no static deflection; choose tyres or rigid supports"
        ) from error
    reduced = (forces @ dynamics.T).T
    return np.asarray(
        (dynamics.T @ (factor.solve(reduced.real) + 1j * factor.solve(reduced.imag))).T
    )


def _checked(
    dynamics: Dynamics,
    loads: Array | Complex,
    frequencies_hz: Sequence[float] | Array,
    damping_ratio: float,
) -> tuple[Array, Complex]:
    hz = np.asarray(frequencies_hz, dtype=float)
    if hz.ndim != 1 or not np.all(np.isfinite(hz) & (hz >= 0)):
        raise ModelError(f"frequencies {frequencies_hz}: numbers in Hz of zero or more are needed")
    if not 0 <= damping_ratio < 1:
        raise ModelError(
            f"damping ratio {damping_ratio}: it must lie between 0 and 1, usual frames 0.005 to 0.05"
        )
    forces = np.asarray(loads, dtype=complex)
    # One load for all frequencies.
    if forces.ndim == 1:
        forces = np.broadcast_to(forces, (len(hz), len(forces)))
    if forces.shape != (len(hz), dynamics.model.dofs) or not np.all(np.isfinite(forces)):
        raise ModelError(
            f"loads of shape {forces.shape}: ({len(hz)}, {dynamics.model.dofs}) finite numbers are needed"
        )
    return hz, forces


def _resonance(hz: float) -> ModelError:
    return ModelError(
        f"{hz:g} Hz is a natural frequency: without damping the response has no bound; state a damping "
        "ratio"
    )
