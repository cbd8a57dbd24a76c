"""What one joint gives beyond its beams: the 6 x 6 compliance at the chord's axis, from shells.

The chord lies along x with both ends held (or one end free), the branch leaves its axis in the plane x-y. Shells give
the movement of the branch's far end under unit loads there; Timoshenko beams rigid where their centre-lines meet give
the same for the joint without shells. The difference, carried from the branch's end to where the axes meet, is what
the joint adds; below 0 where a real joint is stiffer than lines meeting, as a branch begins at the wall, not the axis.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, pi, radians, sin, tan

import numpy as np

from ...model.arrays import Array
from .meshing import Pipe, TubeMesh, mesh_pipes
from .shell import ShellMesh, ShellSolver, TubeRing, rigid_motion

POISSON = 0.3


@dataclass(frozen=True)
class SingleJoint:
    """One branch on one chord, by mid-surfaces; any unit of length, E = 1.

    Attributes
    ----------
    branch_diameter, branch_wall, chord_diameter, chord_wall : float
        Diameters of the mid-surfaces (outside less one wall).
    angle : float, degrees
        Between the branch, outwards, and the chord towards its near end (40 to 140).
    to_end, to_far_end : float
        From where the axes meet to the chord's ends.
    branch_length : float
        From where the axes meet to the branch's loaded end.
    ring : bool
        The near end is held, and held round; otherwise it is free.
    round_branch_end : bool
        The branch's loaded end is kept round too; otherwise loads are spread over it.
    hole : bool
        The chord's wall is open under the branch.
    inserted : bool
        A sleeve as thick as the chord's wall, as one with it, from the near end to one diameter past the foot.
    fillet_radius : float
        Radius of a filler fillet all round the weld line; 0 for none.
    sleeve_length, sleeve_wall : float
        A lug: so far from the weld line along both tubes, and so thick; 0 for none.
    """

    branch_diameter: float
    branch_wall: float
    chord_diameter: float
    chord_wall: float
    angle: float
    to_end: float
    to_far_end: float
    branch_length: float
    ring: bool = True
    round_branch_end: bool = False
    hole: bool = False
    inserted: bool = False
    fillet_radius: float = 0.0
    sleeve_length: float = 0.0
    sleeve_wall: float = 0.0

    @property
    def foot(self) -> tuple[float, float]:
        """Where the weld line begins and ends along the chord in the plane of both, from where the axes meet."""
        lean = self.chord_diameter / 2.0 / tan(radians(self.angle))
        half = self.branch_diameter / 2.0 / sin(radians(self.angle))
        return lean - half, lean + half

    @property
    def branch_axis(self) -> Array:
        return np.array([cos(radians(self.angle)), sin(radians(self.angle)), 0.0])

    @property
    def plain(self) -> SingleJoint:
        """The same tubes with nothing added and both ends held: joints of one mesh are alike in this."""
        return replace(
            self,
            ring=True,
            inserted=False,
            fillet_radius=0.0,
            sleeve_length=0.0,
            sleeve_wall=0.0,
        )

    def pipes(self) -> tuple[Pipe, Pipe]:
        """Chord and branch; the near end lies at positive x, the joint at the origin."""
        chord = Pipe(
            np.array([-self.to_far_end, 0.0, 0.0]),
            np.array([self.to_end, 0.0, 0.0]),
            self.chord_diameter,
            self.chord_wall,
        )
        open_to = (0,) if self.hole else ()
        branch = Pipe(
            np.zeros(3),
            self.branch_length * self.branch_axis,
            self.branch_diameter,
            self.branch_wall,
            chords=(0,),
            open_to=open_to,
        )
        return chord, branch


def joint_compliance(joint: SingleJoint, near: float, far: float) -> Array:
    """(6, 6) compliance at the axes' meeting for E = 1, in (u, r) along chord, square to it in plane, across."""
    tubes = mesh_pipes(joint.pipes(), near, far)
    return compliance_on(joint, tubes)


def compliance_on(joint: SingleJoint, tubes: TubeMesh) -> Array:
    """As `joint_compliance` on a mesh at hand."""
    chord, branch = joint.pipes()
    points = tubes.mesh.points
    # The chord's far end is always held, its near end only with a ring.
    ends = [chord.ring_at(points, chord.start)]
    if joint.ring:
        ends.append(chord.ring_at(points, chord.end))
    tip = TubeRing(branch.ring_at(points, branch.end), branch.end, rigid=joint.round_branch_end)
    mesh = ShellMesh(points, tubes.mesh.triangles, walls_of(joint, tubes))
    solver = ShellSolver(mesh, ends, [tip])
    sections = (faceted_section(chord, tubes, 0), faceted_section(branch, tubes, 1))
    beyond = solver.ring_flexibility() - beam_flexibility(joint, sections)
    carried = np.linalg.inv(rigid_motion(branch.end[None]))
    # The tip moves by R times the joint's movement, loads go back by R': hence R^-1 F R^-T.
    return carried @ beyond @ carried.T


def walls_of(joint: SingleJoint, tubes: TubeMesh) -> Array:
    """Wall of each triangle with fillet, lug and insert; all thicken the wall about its own mid-surface."""
    walls = tubes.mesh.wall.copy()
    middles = tubes.mesh.points[tubes.mesh.triangles].mean(axis=1)
    on_chord = tubes.pipe_of == 0
    if joint.inserted:
        # The far side of the foot has the smaller x, the near end the larger.
        past_foot = joint.foot[0] - joint.chord_diameter
        walls[on_chord & (middles[:, 0] > past_foot)] += joint.chord_wall
    if joint.fillet_radius or joint.sleeve_length:
        from scipy.spatial import cKDTree

        weld = cKDTree(tubes.mesh.points[tubes.weld_points])
        distance, _ = weld.query(middles)
        walls += fillet_thickness(distance, joint.fillet_radius)
        low, high = joint.foot
        along = middles[:, 0]
        reach = joint.sleeve_length
        # A lug goes right round the chord: by the place along it, not by distance from the weld.
        around = on_chord & (along > low - reach) & (along < high + reach)
        covered = around | (~on_chord & (distance < reach))
        walls[covered] += joint.sleeve_wall
    return walls


def fillet_thickness(distance: Array, radius: float) -> Array:
    """Height of a quarter-round fillet over the wall at a distance from the weld line; walls square to one another.

    At the weld line half the radius at most: there both walls share the filler.
    """
    inside = np.clip(radius - distance, 0.0, None)
    return np.minimum(radius - np.sqrt(radius**2 - inside**2), radius / 2.0)


@dataclass(frozen=True)
class TubeSection:
    """What a tube's beam is made of: area and second moment, mm2 and mm4, and its hollow for the shear factor."""

    area: float
    second: float
    hollow: float

    @classmethod
    def of(cls, pipe: Pipe) -> TubeSection:
        """The round tube itself."""
        inner = pipe.diameter - pipe.wall
        outer = pipe.diameter + pipe.wall
        area = pi / 4.0 * (outer**2 - inner**2)
        return cls(area, pi / 64.0 * (outer**4 - inner**4), inner / outer)


def faceted_section(pipe: Pipe, tubes: TubeMesh, number: int) -> TubeSection:
    """The tube as its flat triangles make it: a little less area and second moment than the round one.

    The beams to be taken off are those of the tube that was meshed; otherwise its facets would count as the joint's.
    Measured where the tube is whole, and given to the round tube as a ratio.
    """
    mesh = tubes.mesh
    corners = mesh.points[mesh.triangles[tubes.pipe_of == number]]
    along = (corners - pipe.start) @ pipe.axis
    weld = (mesh.points[tubes.weld_points] - pipe.start) @ pipe.axis
    low, high = _whole_stretch(pipe, weld)
    share = _share_between(along, low, high)
    first = corners[:, 1] - corners[:, 0]
    area = 0.5 * np.linalg.norm(np.cross(first, corners[:, 2] - corners[:, 0]), axis=1) * share
    # Squared distance from the axis, integrated over a flat triangle: the rule of its sides' middles is exact.
    middles = 0.5 * (corners + np.roll(corners, -1, axis=1))
    arms = middles - pipe.start
    squared = (arms**2).sum(axis=2) - (arms @ pipe.axis) ** 2
    length = high - low
    radius = pipe.diameter / 2.0
    # Over those of the thin ring, so that the wall cancels.
    area_ratio = area.sum() / length / (2.0 * pi * radius)
    second_ratio = (area * squared.mean(axis=1)).sum() / length / (2.0 * pi * radius**3)
    whole = TubeSection.of(pipe)
    return TubeSection(whole.area * area_ratio, whole.second * second_ratio, whole.hollow)


def _whole_stretch(pipe: Pipe, weld: Array) -> tuple[float, float]:
    """The longer stretch of a tube's axis that no weld line touches."""
    length = float(np.linalg.norm(pipe.end - pipe.start))
    before = (0.0, float(weld.min()))
    after = (float(weld.max()), length)
    return max(before, after, key=lambda stretch: stretch[1] - stretch[0])


def _share_between(along: Array, low: float, high: float) -> Array:
    """Share of each triangle's area between two places on the axis, (n,), from its corners' places (n, 3)."""
    return _share_below(along, high) - _share_below(along, low)


def _share_below(along: Array, place: float) -> Array:
    a, b, c = np.sort(along, axis=1).T
    # Two corners on one level would divide by zero; the other formula serves there.
    tiny = 1e-12
    first = (place - a) ** 2 / np.maximum((b - a) * (c - a), tiny)
    last = 1.0 - (c - place) ** 2 / np.maximum((c - b) * (c - a), tiny)
    share = np.where(place <= b, first, last)
    return np.asarray(np.where(place <= a, 0.0, np.where(place >= c, 1.0, share)))


def beam_flexibility(joint: SingleJoint, sections: tuple[TubeSection, TubeSection]) -> Array:
    """(6, 6) movement of the branch's end under unit loads there: beams rigid at their centre-lines, E = 1.

    sections : of chord and branch.
    """
    chord, branch = joint.pipes()
    of_chord, of_branch = sections
    # Both halves of the chord start at the joint: their stiffnesses add.
    stiffness = np.linalg.inv(_cantilever(-chord.axis, joint.to_far_end, of_chord))
    if joint.ring:
        stiffness = stiffness + np.linalg.inv(_cantilever(chord.axis, joint.to_end, of_chord))
    at_joint = np.linalg.inv(stiffness)
    carry = rigid_motion(branch.end[None])
    own = tip_flexibility(branch, joint.branch_length, of_branch)
    return np.asarray(carry @ at_joint @ carry.T + own)


def inside_flexibility(joint: SingleJoint) -> Array:
    """(6, 6) at the axes' meeting: what the centre-line beam of the branch gives between the chord's axis and wall.

    The real branch has no such stretch. Added to a joint's compliance it leaves what the walls themselves give.
    """
    _, branch = joint.pipes()
    length = joint.chord_diameter / 2.0 / sin(radians(joint.angle))
    carried = np.linalg.inv(rigid_motion(length * branch.axis[None]))
    own = tip_flexibility(branch, length, TubeSection.of(branch))
    return np.asarray(carried @ own @ carried.T)


def _cantilever(towards: Array, length: float, section: TubeSection) -> Array:
    """Flexibility at the origin of a beam whose other end, `towards` it, is held."""
    # A cantilever's x runs from its held end to its free end, so away from `towards`.
    axes = _axes(-towards)
    return np.asarray(axes.T @ _beam_end(length, section) @ axes)


def tip_flexibility(branch: Pipe, length: float, section: TubeSection) -> Array:
    axes = _axes(branch.axis)
    return np.asarray(axes.T @ _beam_end(length, section) @ axes)


def _axes(along: Array) -> Array:
    """(6, 6) rotation into axes along the beam, square to it in plane, across."""
    across = np.array([0.0, 0.0, 1.0])
    turn = np.array([along, np.cross(across, along), across])
    both = np.zeros((6, 6))
    both[:3, :3] = turn
    both[3:, 3:] = turn
    return both


def _beam_end(length: float, section: TubeSection) -> Array:
    """(6, 6) flexibility of a cantilever's free end, x along it from the held end; Timoshenko, round tube."""
    area = section.area
    second = section.second
    shear_modulus = 1.0 / (2.0 * (1.0 + POISSON))
    shear = _shear_factor(section.hollow) * shear_modulus * area
    flexibility = np.zeros((6, 6))
    flexibility[0, 0] = length / area
    # A round tube's polar moment is twice its second moment of area.
    flexibility[3, 3] = length / (shear_modulus * 2.0 * second)
    # Right-handed axes: a force along z turns the end by a negative angle about y.
    for sideways, turning, sign in ((1, 5, 1.0), (2, 4, -1.0)):
        flexibility[sideways, sideways] = length**3 / (3.0 * second) + length / shear
        flexibility[turning, turning] = length / second
        flexibility[sideways, turning] = sign * length**2 / (2.0 * second)
        flexibility[turning, sideways] = flexibility[sideways, turning]
    return flexibility


def _shear_factor(hollow: float) -> float:
    """Cowper's factor of a hollow circle (J. Appl. Mech. 33 (1966) 335-340)."""
    m = hollow
    squared = (1.0 + m**2) ** 2
    return (
        6.0
        * (1.0 + POISSON)
        * squared
        / ((7.0 + 6.0 * POISSON) * squared + (20.0 + 12.0 * POISSON) * m**2)
    )


def rotation_about(compliance: Array, axis: Array) -> float:
    """Turn about an axis under a unit moment about it."""
    return float(axis @ compliance[3:, 3:] @ axis)
