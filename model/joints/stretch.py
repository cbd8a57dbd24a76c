"""Stretches of tube as beams: what a branch gives inside its chord, and by how much less both give under a sleeve."""

from collections.abc import Sequence

import numpy as np

from ..arrays import Array
from ..tubes.sections import round_tube

RELIEVED = ("lug", "inserted")  # families whose sleeve stiffens the tubes under it as beams
POISSON = 0.3  # of the study


def beam_inside(wide: float, over_wall: float, wall_ratio: float, angle_deg: float) -> Array:
    """(6, 6) what the branch's beam gives between the chord's axis and its wall, dimensionless, at the axes' meeting.

    wide : branch over chord diameter. over_wall, wall_ratio : chord's diameter and branch's wall over the chord's wall.
    """
    angle = np.radians(angle_deg)
    branch = np.array([np.cos(angle), np.sin(angle), 0.0])
    return _stretch(wide, wall_ratio / over_wall, branch, 0.5 / np.sin(angle))


def _stretch(diameter: float, wall: float, along: Array, length: float) -> Array:
    """(6, 6) what a stretch of tube gives at its beginning, its end held.

    The integral of the work of both forces along the stretch; section as round tube, shear after Cowper 1966.
    """
    section = round_tube(diameter + wall, wall, POISSON)
    shear_modulus = 0.5 / (1 + POISSON)
    lengthwise = np.outer(along, along)
    square = np.eye(3) - lengthwise
    force = lengthwise / section.A + square / (shear_modulus * section.Asy)
    moment = lengthwise / (shear_modulus * section.J) + square / section.Iy
    # the moment of a force at the beginning, per length along the stretch: force x along
    arm = np.cross(np.eye(3), along).T
    given = np.zeros((6, 6))
    given[:3, :3] = length * force + length**3 / 3 * arm.T @ moment @ arm
    given[3:, :3] = length**2 / 2 * moment @ arm
    given[:3, 3:] = given[3:, :3].T
    given[3:, 3:] = length * moment
    return given


def relief_of(ratios: Array, family: str) -> Array:
    """(6, 6) by how much less both tubes give as beams for the sleeve on them, dimensionless, at the axes' meeting.

    A lug reaches its length beyond the weld on the chord's both sides and up the branch; an insert, as thick as the
    chord's wall, from the near end to one diameter past the weld.
    """
    if family not in RELIEVED:
        return np.zeros((6, 6))
    wide, over_wall, tau, angle_deg, distance, far_distance, ring, _, length, sleeve = ratios
    wall = 1 / over_wall
    near, far = foot(wide, angle_deg)
    ends = (near + distance, far + far_distance)
    covered = (near + length, far + length)
    if family == "inserted":
        sleeve = 1.0
        covered = (ends[0], far + 1.0)
    axis = np.array([1.0, 0.0, 0.0])
    plain = []
    sleeved = []
    for way, end, reach in zip((axis, -axis), ends, covered, strict=True):
        plain.append(_stretch(1.0, wall, way, end))
        saved = _saved(sleeve) * _stretch(1.0, wall, way, min(reach, end))
        sleeved.append(plain[-1] - saved)
    if ring:
        # Both sides carry: their stiffnesses add.
        relief = _side_by_side(plain) - _side_by_side(sleeved)
    else:
        relief = plain[1] - sleeved[1]
    if family == "lug":
        angle = np.radians(angle_deg)
        branch = np.array([np.cos(angle), np.sin(angle), 0.0])
        inside = 0.5 / np.sin(angle)
        own = tau * wall
        longer = _stretch(wide, own, branch, inside + length)
        relief += _saved(sleeve / tau) * (longer - _stretch(wide, own, branch, inside))
    return np.asarray(relief)


def _saved(thicker: float) -> float:
    """Of what a tube gives, when its wall is so many times itself thicker about the same middle."""
    return thicker / (1 + thicker)


def _side_by_side(pair: Sequence[Array]) -> Array:
    return np.asarray(np.linalg.inv(np.linalg.inv(pair[0]) + np.linalg.inv(pair[1])))


def foot(wide: float, angle_deg: float) -> tuple[float, float]:
    """How far the branch's edges lie towards the near and the far end from where the axes meet, over the chord's
    diameter."""
    angle = np.radians(angle_deg)
    lean = 0.5 / np.tan(angle)
    half = 0.5 * wide / np.sin(angle)
    return float(half + lean), float(half - lean)
