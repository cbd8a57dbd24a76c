"""What a crown tube gives where two blades and the steerer meet it, from shells of the three tubes together.

The crown tube lies along x, its ends closed by lids; the steerer stands on it along y, goes through and is welded to
both walls; a blade hangs at each side. The steerer's upper end is held, the blades' ends are loaded, one by one.
Timoshenko beams rigid where their centre-lines meet are taken off, as in `single`. What one blade's load moves at the
OTHER blade can only come from where the steerer meets the crown: that is the steerer's joint, carried there. What is
left of a blade's own movement is the blade's joint.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import cos, radians, sin, sqrt, tan

import numpy as np

from ...model.arrays import Array
from .meshing import Pipe, TubeMesh, mesh_pipes
from .shell import ShellSolver, TubeRing, rigid_motion
from .single import TubeSection, faceted_section, tip_flexibility

BRANCH_LENGTH = 2.5  # over the branch's own diameter, blades and steerer
PAST_BLADE = 0.08  # of the crown's diameter: so far it reaches beyond the blade's weld line
_THROUGH = 0.12  # of the crown's diameter: so far the steerer sticks out below
_MIRROR = np.diag([-1.0, 1.0, 1.0, 1.0, -1.0, -1.0])  # x -> -x of movements and of turns


@dataclass(frozen=True)
class CrownJoint:
    """Mid-surface diameters and walls of crown tube, blades and steerer; any unit of length, E = 1.

    lean : degrees by which the blades leave square to the crown, outwards. half : from the steerer's axis to where a
    blade's axis meets the crown's.
    """

    crown_diameter: float
    crown_wall: float
    blade_diameter: float
    blade_wall: float
    steerer_diameter: float
    steerer_wall: float
    lean: float
    half: float

    @property
    def blade_axis(self) -> Array:
        """Of the blade at positive x, away from the crown."""
        return np.array([sin(radians(self.lean)), -cos(radians(self.lean)), 0.0])

    @property
    def crown_end(self) -> float:
        """From the steerer's axis to the crown's end."""
        lean = radians(self.lean)
        foot = self.crown_diameter / 2.0 * tan(lean) + self.blade_diameter / 2.0 / cos(lean)
        return self.half + foot + PAST_BLADE * self.crown_diameter

    def pipes(self) -> list[Pipe]:
        """Crown, steerer, the blade at positive x and its mirror image."""
        end = np.array([self.crown_end, 0.0, 0.0])
        upright = np.array([0.0, 1.0, 0.0])
        pipes = [
            Pipe(-end, end, self.crown_diameter, self.crown_wall),
            Pipe(
                -(0.5 + _THROUGH) * self.crown_diameter * upright,
                self.steerer_length * upright,
                self.steerer_diameter,
                self.steerer_wall,
                open_to=(0,),
            ),
        ]
        for side in (1.0, -1.0):
            start = np.array([side * self.half, 0.0, 0.0])
            tip = start + self.blade_length * self.blade_axis * [side, 1.0, 1.0]
            pipes.append(Pipe(start, tip, self.blade_diameter, self.blade_wall, chords=(0,)))
        return pipes

    @property
    def blade_length(self) -> float:
        return BRANCH_LENGTH * self.blade_diameter + 0.5 * self.crown_diameter

    @property
    def steerer_length(self) -> float:
        return BRANCH_LENGTH * self.steerer_diameter + 0.5 * self.crown_diameter


def crown_mesh(joint: CrownJoint, size: float) -> TubeMesh:
    """Triangles of one size, a share of the root of blade's and crown's diameter."""
    scale = sqrt(joint.blade_diameter * joint.crown_diameter)
    return mesh_pipes(joint.pipes(), size * scale, size * scale)


def crown_compliances(joint: CrownJoint, tubes: TubeMesh) -> tuple[Array, Array]:
    """(6, 6) each, beyond beams rigid at the centre-lines, E = 1: the blade's joint where its axis meets the crown's,
    the steerer's joint where its axis does; (u, r) along x, y, z."""
    pipes = joint.pipes()
    crown, steerer, *blades = pipes
    points = tubes.mesh.points
    held = [steerer.ring_at(points, steerer.end)]
    rings = [TubeRing(one.ring_at(points, one.end), one.end, rigid=False) for one in blades]
    # Lids keep the crown's ends flat and round, and carry no load.
    rings += [TubeRing(crown.ring_at(points, end), end) for end in (crown.start, crown.end)]
    moved = ShellSolver(tubes.mesh, held, rings).ring_flexibility()[:12, :12]
    beyond = moved - _beams(joint, tubes)
    to_tips = np.zeros((12, 12))
    for number, blade in enumerate(blades):
        block = slice(6 * number, 6 * number + 6)
        to_tips[block, block] = _carried(blade.end - blade.start)
    back = np.linalg.inv(to_tips)
    at_feet = back @ beyond @ back.T
    # Both images of the pair say the same but for their meshes.
    own = 0.5 * (at_feet[:6, :6] + _MIRROR @ at_feet[6:, 6:] @ _MIRROR)
    cross = 0.5 * (at_feet[:6, 6:] + _MIRROR @ at_feet[6:, :6] @ _MIRROR)
    right = _carried(blades[0].start)
    left = _carried(blades[1].start)
    of_steerer = np.linalg.inv(right) @ cross @ np.linalg.inv(left).T
    # Two planes of symmetry: what they forbid is left over by the mesh.
    of_steerer = 0.5 * (of_steerer + of_steerer.T)
    of_steerer = 0.5 * (of_steerer + _MIRROR @ of_steerer @ _MIRROR)
    return own - right @ of_steerer @ right.T, of_steerer


def _beams(joint: CrownJoint, tubes: TubeMesh) -> Array:
    """(12, 12) movements of the blades' ends by beams, the steerer's upper end held."""
    crown, steerer, *blades = joint.pipes()
    own_section = TubeSection.of(crown)
    stem = faceted_section(steerer, tubes, 1)
    # The steerer's beam runs from its held end down to the crown's axis.
    hanging = Pipe(steerer.end, np.zeros(3), steerer.diameter, steerer.wall)
    common = tip_flexibility(hanging, joint.steerer_length, stem)
    total = np.zeros((12, 12))
    for i, blade in enumerate(blades):
        arm = Pipe(np.zeros(3), blade.start, crown.diameter, crown.wall)
        carry = _carried(blade.end - blade.start)
        rows = slice(6 * i, 6 * i + 6)
        section = faceted_section(blade, tubes, 2 + i)
        total[rows, rows] += tip_flexibility(blade, joint.blade_length, section)
        total[rows, rows] += carry @ tip_flexibility(arm, joint.half, own_section) @ carry.T
        for k, other in enumerate(blades):
            columns = slice(6 * k, 6 * k + 6)
            total[rows, columns] += _carried(blade.end) @ common @ _carried(other.end).T
    return total


def _carried(arm: Array) -> Array:
    return rigid_motion(arm[None])
