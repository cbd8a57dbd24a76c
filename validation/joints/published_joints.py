"""Single joints whose stiffness beyond their beams is published, and the offshore formula, beside shells."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import exp, pi, radians, sin, sqrt

import numpy as np

from ...model.arrays import Array
from ...model.joints.law import joint_compliance
from ...model.joints.shape import JointShape
from ...model.tubes.materials import Material
from .meshing import mesh_pipes
from .single import SingleJoint, compliance_on, inside_flexibility, rotation_about
from .study import extrapolated

STEEL = 205e3  # MPa
_STEEL = Material("steel", STEEL, STEEL / 2.6, 7.85e-9)
N_M_PER_DEGREE = 1e-3 * pi / 180.0  # over a compliance in rad per N mm
_BRANCH_LENGTH = 150.0
_HEAD_TUBE = 158.0
_TOP_TUBE_ANGLE = 78.28  # to the head tube, in the front triangle that the joints were taken from
_DOWN_TUBE_ANGLE = 59.40


@dataclass(frozen=True)
class PublishedJoint:
    """Outside diameters and walls, mm; stiffness about the axis across both tubes and square to the branch, N m/degree.

    None where the joint is stiffer than its beams.
    """

    branch: tuple[float, float]
    chord: tuple[float, float]
    place: str
    angle: float
    to_end: float
    to_far_end: float
    in_plane: float | None
    out_of_plane: float

    @property
    def joint(self) -> SingleJoint:
        branch_outside, branch_wall = self.branch
        chord_outside, chord_wall = self.chord
        # Published by outside diameters; the shells stand on mid-surfaces.
        return SingleJoint(
            branch_outside - branch_wall,
            branch_wall,
            chord_outside - chord_wall,
            chord_wall,
            self.angle,
            self.to_end,
            self.to_far_end,
            _BRANCH_LENGTH,
            round_branch_end=True,
        )


def _head_tube(
    branch: tuple[float, float],
    wall: float,
    below: bool,
    stiffness: tuple[float, float],
) -> PublishedJoint:
    angle = _DOWN_TUBE_ANGLE if below else _TOP_TUBE_ANGLE
    to_end = 36.0 if below else 34.0
    place = "36 mm above the end" if below else "34 mm below the end"
    return PublishedJoint(
        branch, (36.0, wall), place, angle, to_end, _HEAD_TUBE - to_end, *stiffness
    )


_MIDDLE = _HEAD_TUBE / 2.0
# Six-node shells by a general solver, published with the project; chord ends clamped, mesh change 1.8 %.
PUBLISHED = (
    PublishedJoint(
        (28.6, 0.8), (36.0, 1.1), "middle of 158", _TOP_TUBE_ANGLE, _MIDDLE, _MIDDLE, 493.0, 95.0
    ),
    _head_tube((28.6, 0.8), 1.1, False, (554.0, 164.0)),
    _head_tube((30.0, 0.8), 1.1, False, (653.0, 204.0)),
    _head_tube((28.6, 0.8), 1.6, False, (1314.0, 355.0)),
    _head_tube((31.8, 0.9), 1.1, True, (1190.0, 404.0)),
    _head_tube((34.9, 0.9), 1.1, True, (1829.0, 698.0)),
    _head_tube((31.8, 0.9), 1.6, True, (3591.0, 905.0)),
    PublishedJoint((31.8, 0.9), (40.0, 3.0), "middle of 68", 90.0, 34.0, 34.0, None, 3226.0),
    PublishedJoint(
        (28.6, 0.8), (31.8, 0.6), "middle of 158", _TOP_TUBE_ANGLE, _MIDDLE, _MIDDLE, 228.0, 40.0
    ),
)


@dataclass(frozen=True)
class AsSolid:
    """A published joint once more by a general solver, limits of two meshes, N m/degree in and out of plane.

    shells : its six-node shells, with shear across the wall, the branch up to the chord's mid-surface.
    solid : ten-node solids; the branch ends on the outside of the chord, both of one piece, no filler.
    """

    number: int
    shells: tuple[float | None, float]
    solid: tuple[float | None, float]


# CalculiX 2.20 on meshes of gmsh, 3 and 2 mm along the weld (shells), 1.7 and 1.3 (solids; of the thick shell 1.5 and
# 1.2), 1.6 to 2.2 times that elsewhere; under moments on a branch 90 mm long. Worked out once, apart from the study.
AS_SOLID = (
    AsSolid(3, (1289.0, 350.0), (1392.0, 359.0)),
    AsSolid(6, (3446.0, 887.0), (3980.0, 928.0)),
    AsSolid(7, (None, 3236.0), (None, 3660.0)),
)


def stiffness_of(compliance: Array, joint: SingleJoint) -> tuple[float, float]:
    """In plane and out of plane, N m/degree in steel, from a compliance for E = 1; below 0: stiffer than beams."""
    # Both tubes lie in x-y: z is the axis across both.
    across = np.array([0.0, 0.0, 1.0])
    square = np.cross(across, joint.branch_axis)
    in_plane = N_M_PER_DEGREE * STEEL / rotation_about(compliance, across)
    out_of_plane = N_M_PER_DEGREE * STEEL / rotation_about(compliance, square)
    return in_plane, out_of_plane


def stiffness_by_law(case: PublishedJoint) -> tuple[float, float]:
    """As `stiffness_of` what the product's law says of the joint."""
    shape = JointShape(
        *case.branch,
        *case.chord,
        case.angle,
        case.to_end,
        ring=True,
        to_far_end=case.to_far_end,
    )
    walls = STEEL * joint_compliance(shape, _STEEL).matrix
    # The law speaks of the walls; published is what stands beyond beams that meet at their axes.
    return stiffness_of(walls - inside_flexibility(case.joint), case.joint)


def walls_off(case: PublishedJoint) -> float:
    """By how much the law is off in what the walls give, relative; the worse of the directions published."""
    across = np.array([0.0, 0.0, 1.0])
    square = np.cross(across, case.joint.branch_axis)
    inside = inside_flexibility(case.joint)
    off = []
    published = (case.in_plane, case.out_of_plane)
    for axis, told, ours in zip((across, square), published, stiffness_by_law(case), strict=True):
        # "Stiffer than its beams" is no number.
        if told is None:
            continue
        beam = rotation_about(inside, axis)
        walls = [N_M_PER_DEGREE * STEEL / value + beam for value in (ours, told)]
        off.append(walls[0] / walls[1] - 1.0)
    return max(off, key=abs)


def extrapolated_compliance(joint: SingleJoint, sizes: tuple[float, float]) -> Array:
    """(6, 6) limit of two meshes, sizes along the weld in the joint's own unit of length; E = 1."""
    matrices = []
    points = []
    for size in sizes:
        tubes = mesh_pipes(joint.pipes(), size, 1.3 * size)
        matrices.append(compliance_on(joint, tubes))
        points.append(len(tubes.mesh.points))
    return extrapolated(matrices, points)


def fessler(joint: SingleJoint) -> tuple[float, float]:
    """Local flexibility of a tubular T or Y joint in plane and out of plane, rad per N mm for E = 1.

    H. Fessler, P. B. Mockford, J. J. Webster, "Parametric equations for the flexibility matrices of single brace
    tubular joints in offshore structures", Proc. Instn Civ. Engrs 81 (1986) 659-673. The in-plane formula was read in
    the source of OpenSees (its tubular joint element); the out-of-plane one is from memory.
    """
    # The formula counts outside diameters; a joint here is stated by mid-surfaces.
    outside = joint.chord_diameter + joint.chord_wall
    beta = (joint.branch_diameter + joint.branch_wall) / outside
    gamma = outside / (2.0 * joint.chord_wall)
    lean = sin(radians(joint.angle))
    in_plane = 134.0 * gamma**1.73 * exp(-4.52 * beta) * lean**1.22
    out_of_plane = 85.5 * gamma**2.20 * exp(-3.85 * beta) * lean**2.16
    return in_plane / outside**3, out_of_plane / outside**3


def wall_compliance(compliance: Array, joint: SingleJoint) -> tuple[float, float]:
    """What the formula speaks of: the turn of the branch's foot, so with the stretch inside the chord given back."""
    across = np.array([0.0, 0.0, 1.0])
    square = np.cross(across, joint.branch_axis)
    second = pi * (joint.branch_diameter / 2.0) ** 3 * joint.branch_wall
    # Turn under a unit moment of the branch's beam from the chord's axis to its wall, E = 1.
    stretch = joint.chord_diameter / 2.0 / sin(radians(joint.angle)) / second
    return (
        rotation_about(compliance, across) + stretch,
        rotation_about(compliance, square) + stretch,
    )


def offshore_joints() -> list[SingleJoint]:
    """T joints far from both ends, over the chord's diameter, in the range of the formula and of bicycle tubes."""
    joints = []
    for beta, over_wall in ((0.5, 20.0), (0.5, 40.0), (0.75, 20.0), (0.75, 40.0)):
        joints.append(
            SingleJoint(beta, beta / 30.0, 1.0, 1.0 / over_wall, 90.0, 4.0, 4.0, 4.0 * beta + 0.5)
        )
    return joints


def natural_sizes(joint: SingleJoint, shares: tuple[float, float]) -> tuple[float, float]:
    """Sizes of triangles as shares of the root of both diameters."""
    # Geometric mean: neither a small branch nor a small chord is left with a few triangles.
    scale = sqrt(joint.branch_diameter * joint.chord_diameter)
    return shares[0] * scale, shares[1] * scale


def farther(joint: SingleJoint, factor: float) -> SingleJoint:
    """The same joint with its chord's far end moved out."""
    return replace(joint, to_far_end=factor * joint.to_far_end)
