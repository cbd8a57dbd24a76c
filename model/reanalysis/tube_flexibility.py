"""Exact stiffness of a straight tube with stepped walls, tapered walls and a conical outside.

With one end clamped, the section forces under end loads are known from statics alone; the end moves by the
integral of section flexibility times force (unit-load method; Przemieniecki 1968, ch. 7). The integrand is smooth
between the ends of butts and tapers, so Gauss points per piece give it to rounding. No mesh, no mesh error: the
reference for how fine a mesh must be.
"""

from collections.abc import Sequence

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..mechanics.beam import spd_inverse
from ..tubes.sections import section_values
from ..tubes.tube import Tube
from .condensed import skew

_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_PROFILE = 8  # most points a profile has: two butts, two tapers, two ends of the outside's taper


def tube_stiffnesses(
    tubes: Sequence[Tube],
    length: float,
    shear: bool = True,
    start: float = 0.0,
    end: float | None = None,
) -> Array:
    """(n, 12, 12) stiffness of many tubes over the same stretch, such as the variants of one member.

    The stretch runs from `start` to `end`, mm from the tube's start (default: all of it). Local axes and order of
    `model.mechanics.beam`: x along the tube, y in the plane of an oval's height; N, mm, rad.

    Raises
    ------
    ModelError
        When the stretch does not lie on the tube, or the butts do not fit the length.
    """
    if end is None:
        far = length
    else:
        far = end
    # Near end clamped gives six numbers; the other six follow from equilibrium.
    natural = spd_inverse(tube_flexibilities(tubes, length, shear, start, far))
    arm = skew(np.array([far - start, 0.0, 0.0]))
    deformation = np.block(
        [
            [-np.eye(3), arm, np.eye(3), np.zeros((3, 3))],
            [np.zeros((3, 3)), -np.eye(3), np.zeros((3, 3)), np.eye(3)],
        ]
    )
    return np.asarray(deformation.T @ natural @ deformation)


def tube_flexibilities(
    tubes: Sequence[Tube],
    length: float,
    shear: bool = True,
    start: float = 0.0,
    end: float | None = None,
) -> Array:
    """(n, 6, 6) flexibility of the far end, the near one clamped: forces N Vy Vz and moments T My Mz.

    Stretch and errors as in `tube_stiffnesses`.
    """
    if end is None:
        far = length
    else:
        far = end
    if not 0 <= start < far <= length + 1e-9:
        raise ModelError(
            f"a stretch from {start:g} to {far:g} mm does not lie on a tube of {length:g} mm"
        )
    s, weights, walls = _stations(tubes, length, start, far)
    compliance = _compliances(tubes, length, s, walls, shear) * weights
    return _integrated(compliance, far - s)


def _stations(
    tubes: Sequence[Tube], length: float, start: float, end: float
) -> tuple[Array, Array, Array]:
    """Gauss points along the stretch with their weights and walls, each (n, k)."""
    profiles = [_profile(tube, length) for tube in tubes]
    # All profiles of equal length: a step of no length adds nothing to the integral.
    padded = np.array([(*p, *((p[-1],) * (_PROFILE - len(p)))) for p in profiles])  # (n, 6, 2)
    at = padded[:, :, 0]
    wall = padded[:, :, 1]
    low = np.clip(at[:, :-1], start, end)
    high = np.clip(at[:, 1:], start, end)
    # Gauss points per piece, because the wall has kinks between pieces.
    half = (high - low) / 2
    s = (low + half)[:, :, None] + half[:, :, None] * _POINTS
    run = np.diff(at, axis=1)
    # A piece of no length would divide by zero; its weight is zero all the same.
    share = (s - at[:, :-1, None]) / np.where(run > 0, run, 1.0)[:, :, None]
    walls = wall[:, :-1, None] + share * np.diff(wall, axis=1)[:, :, None]
    n = len(tubes)
    return s.reshape(n, -1), (half[:, :, None] * _WEIGHTS).reshape(n, -1), walls.reshape(n, -1)


def _profile(tube: Tube, length: float) -> list[tuple[float, float]]:
    """Distance and wall of every point where wall or outside begin to change, in order."""
    points = list(tube.wall_profile(length))
    at = [s for s, _ in points]
    walls = [wall for _, wall in points]
    for s in tube.kinks(length):
        if s not in at:
            points.append((s, float(np.interp(s, at, walls))))
    # A step is two points at one distance: sorted by distance alone they keep their order.
    return sorted(points, key=lambda point: point[0])


def _compliances(
    tubes: Sequence[Tube], length: float, s: Array, walls: Array, shear: bool
) -> Array:
    """(6, n, k) section flexibilities 1/EA, 1/GAsy, 1/GAsz, 1/GJ, 1/EIy, 1/EIz."""
    out = np.empty((6, *s.shape))
    for k, tube in enumerate(tubes):
        od = tube.heights(length, s[k])
        width = tube.widths(length, s[k])
        values = section_values(
            width, od, walls[k], tube.material.nu, tube.oval_width is not None, tube.corner
        )
        out[:, k] = section_gives(values, tube.material.E, tube.material.G)
    # Infinite shear areas: the term is left out, not made large.
    if not shear:
        out[1:3] = 0.0
    return out


def _integrated(c: Array, lever: Array) -> Array:
    """Sum the flexibility of every station at the far end; `lever` is the station's distance from it."""
    f = np.zeros((c.shape[1], 6, 6))
    bend_y = c[4]
    bend_z = c[5]
    f[:, 0, 0] = c[0].sum(axis=1)
    f[:, 1, 1] = (c[1] + bend_z * lever**2).sum(axis=1)
    f[:, 2, 2] = (c[2] + bend_y * lever**2).sum(axis=1)
    f[:, 3, 3] = c[3].sum(axis=1)
    f[:, 4, 4] = bend_y.sum(axis=1)
    f[:, 5, 5] = bend_z.sum(axis=1)
    f[:, 1, 5] = f[:, 5, 1] = (bend_z * lever).sum(axis=1)
    f[:, 2, 4] = f[:, 4, 2] = -(bend_y * lever).sum(axis=1)
    return f


def section_gives(values: Array | Sequence[Array], E: float | Array, G: float | Array) -> Array:
    """(6, ...) flexibilities 1/EA, 1/GAsy, 1/GAsz, 1/GJ, 1/EIy, 1/EIz of `section_values`."""
    a, iy, iz, j, asy, asz = values
    return np.stack(
        [
            1 / (E * a),
            1 / (G * asy),
            1 / (G * asz),
            1 / (G * j),
            1 / (E * iy),
            1 / (E * iz),
        ]
    )
