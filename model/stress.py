"""Nominal stress in the tube walls: over the length of every tube, round its circumference, against yield.

Beam theory at the outside of the wall: sigma = N/A - Mz y/Iz + My z/Iy; shear from torsion (T r/J in round tubes,
Bredt's T/(2 Am t) in ovals) and from the transverse forces as in a thin ring, twice the mean at the neutral axis;
von Mises = sqrt(sigma² + 3 tau²). Joints are points where centre-lines meet, so every figure is nominal: see
JOINT_CAUTION, which belongs beside it.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from math import pi

import numpy as np

from .beam import Beams
from .bicycle import Bicycle
from .energy import section_forces, uniform_loads
from .errors import ModelError
from .frame_model import Array, FrameModel
from .layout import FrameLayout, Member
from .mesh import size_at
from .result import Result

JOINT_CAUTION = (
    "Nominal stress of tubes meeting at their centre-lines: local stress at lugs, fillets, heat-affected zones and "
    "braze-ons is NOT in it, and is often the higher one. Not a strength certificate: test physically to ISO 4210 and "
    "leave approval to qualified people.")
_ANGLES = np.linspace(0.0, 2 * pi, 72, endpoint=False)


@dataclass(frozen=True)
class Place:
    """Where on a tube: element and node, mm from the tube's start, and the nearest joint with its distance."""

    member: str
    element: str
    node: str
    distance: float
    joint: str
    from_joint: float

    @property
    def words(self) -> str:
        """Such as ``at head tube bottom`` or ``75 mm from bottom bracket``."""
        joint = self.joint.replace("_", " ")
        return f"at {joint}" if self.from_joint < 0.5 else f"{self.from_joint:.0f} mm from {joint}"


@dataclass(frozen=True)
class TubeStress:
    """Peak of one tube in one case, MPa. normal and shear are those at the peak; `yield_strength` None: not in hand."""

    place: Place
    von_mises: float
    normal: float
    shear: float
    yield_strength: float | None

    @property
    def utilisation(self) -> float | None:
        """Share of the yield strength, 1: yields."""
        return None if self.yield_strength is None else self.von_mises / self.yield_strength


@dataclass(frozen=True, eq=False)
class StressTable:
    """Stress of one solved case. von_mises : (m, 2) largest round the wall at both ends of each element, MPa, NaN
    where the section's outline is not known. rows : the peak of every tube, the highest utilisation first."""

    case: str
    walls: "Walls"
    von_mises: Array
    rows: tuple[TubeStress, ...]
    caution: str = JOINT_CAUTION


@dataclass(frozen=True, eq=False)
class Walls:
    """Outline of the section at both ends of every element, and where that is on its tube.

    a, b, t : (m, 2) half the height (along y), half the width (along z), wall, mm; NaN where not known.
    distance : (m, 2) from the tube's start along its centre-line, mm.
    """

    model: FrameModel
    a: Array
    b: Array
    t: Array
    distance: Array
    members: tuple[str, ...]

    @classmethod
    def of(cls, model: FrameModel, bicycle: Bicycle | None = None, layout: FrameLayout | None = None) -> "Walls":
        """From the tubes of a bicycle, exact at the ends of cones and tapers; else from the elements' own sections."""
        a, b, t = _from_sections(model)
        length = np.linalg.norm(model.xyz[model.ends[:, 1]] - model.xyz[model.ends[:, 0]], axis=1)
        distance = np.zeros_like(a)
        members = {m.name: m for m in layout.members} if layout is not None else {}
        for name, numbers in member_elements(model).items():
            start = _offset(model, members.get(name), numbers[0])
            distance[numbers, 1] = start + np.cumsum(length[numbers])
            distance[numbers, 0] = distance[numbers, 1] - length[numbers]
            if bicycle is not None and name in members:
                a[numbers], b[numbers], t[numbers] = _from_tube(bicycle, members[name], distance[numbers])
        shown = tuple(name for name in member_elements(model) if not members or name in members)
        return cls(model, a, b, t, distance, shown)

    @cached_property
    def area(self) -> Array:
        return np.asarray(pi * (self.a * self.b - (self.a - self.t) * (self.b - self.t)))

    def second(self, along: Array, across: Array) -> Array:
        """Second moment for bending that stretches the wall `along` from the middle."""
        return np.asarray(pi / 4 * (along**3 * across - (along - self.t) ** 3 * (across - self.t)))

    def place(self, number: int, end: int) -> Place:
        element = self.model.elements[number]
        near = {node: at for k in member_elements(self.model)[element.member]
                for node, at in zip((self.model.elements[k].i, self.model.elements[k].j), self.distance[k], strict=True)
                if ":" not in node}
        here = float(self.distance[number, end])
        node = (element.i, element.j)[end]
        joint = min(near, key=lambda n: abs(near[n] - here), default=node)
        return Place(element.member, element.id, node, here, joint, abs(near.get(joint, here) - here))


def stress_table(result: Result, bicycle: Bicycle | None = None, layout: FrameLayout | None = None) -> StressTable:
    """Stress of a solved case at both ends of every element, and the peak of every tube.

    With the bicycle and its layout the wall is exact at the ends of cones and tapers and only frame tubes are
    listed; without, every member whose section tells its outline (Section.cy, cz).
    """
    walls = Walls.of(result.model, bicycle, layout)
    forces = end_section_forces(result)
    normal, shear = wall_stress(walls, forces, angles(walls, forces))
    size = np.sqrt(normal**2 + 3 * shear**2)
    worst = size.argmax(axis=2)
    pick = np.take_along_axis
    peak, peak_normal, peak_shear = (pick(v, worst[:, :, None], axis=2)[:, :, 0] for v in (size, normal, shear))
    rows = []
    for numbers in (member_elements(result.model)[name] for name in walls.members):
        if np.isnan(peak[numbers]).any():
            continue
        k, end = highest(peak, numbers)
        strength = result.model.elements[k].material.yield_strength
        rows.append(TubeStress(walls.place(k, end), float(peak[k, end]), float(peak_normal[k, end]),
                               float(peak_shear[k, end]), strength))
    rows.sort(key=lambda row: (-(row.utilisation or 0.0), -row.von_mises))
    return StressTable(result.case.name, walls, peak, tuple(rows))


def highest(values: Array, numbers: list[int]) -> tuple[int, int]:
    """Element and end of the largest of (m, 2) values among some elements."""
    k, end = np.unravel_index(int(values[numbers].argmax()), (len(numbers), 2))
    return numbers[int(k)], int(end)


def end_section_forces(result: Result) -> Array:
    """(m, 2, 6) section forces N Vy Vz T My Mz at both ends, tension positive."""
    beams = Beams.of(result.model)
    w = uniform_loads(beams, result.case)
    return np.stack([section_forces(result.end_forces, np.zeros(len(w)), w),
                     section_forces(result.end_forces, beams.length, w)], axis=1)


def angles(walls: Walls, *states: Array) -> Array:
    """(m, 2, k) angles round the wall to look at: every 5 degrees, and exactly where each state bends most."""
    grid = np.broadcast_to(_ANGLES, (*walls.a.shape, len(_ANGLES)))
    return np.concatenate([grid + _steepest(walls, states[0])[:, :, None],
                           *(_steepest(walls, state)[:, :, None] for state in states[1:])], axis=2)


def _steepest(walls: Walls, forces: Array) -> Array:
    """Angle of the largest bending stress; the grid starts there, so the opposite side is on it as well."""
    my, mz = forces[:, :, 4], forces[:, :, 5]
    return np.asarray(np.arctan2(my * walls.b / walls.second(walls.b, walls.a),
                                 -mz * walls.a / walls.second(walls.a, walls.b)))


def wall_stress(walls: Walls, forces: Array, angle: Array) -> tuple[Array, Array]:
    """Normal and shear stress (m, 2, k), MPa, at the given angles; y = a cos, z = b sin at the outside."""
    c, s = np.cos(angle), np.sin(angle)
    n, vy, vz, t, my, mz = (forces[:, :, k, None] for k in range(6))
    a, b, area = walls.a[:, :, None], walls.b[:, :, None], walls.area[:, :, None]
    iz, iy = walls.second(walls.a, walls.b)[:, :, None], walls.second(walls.b, walls.a)[:, :, None]
    normal = n / area - mz * a * c / iz + my * b * s / iy
    enclosed = pi * (walls.a - walls.t / 2) * (walls.b - walls.t / 2)
    twisted = np.where(walls.a == walls.b, walls.a / (2 * walls.second(walls.a, walls.b)), 1 / (2 * enclosed * walls.t))
    shear = t * twisted[:, :, None] + 2 / area * (vz * c - vy * s)
    return np.asarray(normal), np.asarray(shear)


def member_elements(model: FrameModel) -> dict[str, list[int]]:
    """Member -> its element numbers in order."""
    out: dict[str, list[int]] = {}
    for k, element in enumerate(model.elements):
        out.setdefault(element.member, []).append(k)
    return out


def _from_sections(model: FrameModel) -> tuple[Array, Array, Array]:
    """Outline from the sections: the wall follows from area and outside, A = pi (t (a + b) - t²)."""
    sections = [e.section for e in model.elements]
    a, b, area = (np.array([getattr(s, f) for s in sections], dtype=float) for f in ("cy", "cz", "A"))
    root = (a + b) ** 2 - 4 * area / pi
    t = np.where((a > 0) & (b > 0), (a + b - np.sqrt(np.maximum(root, 0))) / 2, np.nan)
    a, b = np.where(np.isnan(t), np.nan, a), np.where(np.isnan(t), np.nan, b)
    both = (np.repeat(v[:, None], 2, axis=1) for v in (a, b, t))
    return tuple(both)  # type: ignore[return-value]


def _from_tube(bicycle: Bicycle, member: Member, distance: Array) -> tuple[Array, Array, Array]:
    tube, length = bicycle.tubes[member.tube], member.length
    inside = 1e-6 * (distance[:, 1] - distance[:, 0])  # a step belongs to the side the element is on
    at = np.column_stack([distance[:, 0] + inside, distance[:, 1] - inside]).clip(0.0, length)
    sizes = np.array([[size_at(tube, length, float(s)) for s in row] for row in at])
    width = sizes[:, :, 0] if tube.oval_width is None else np.full_like(at, tube.oval_width)
    return sizes[:, :, 0] / 2, width / 2, sizes[:, :, 1]


def _offset(model: FrameModel, member: Member | None, first: int) -> float:
    """Distance of a member's first node from the tube's start: not zero where a rigid zone replaces the end."""
    if member is None:
        return 0.0
    return float(np.linalg.norm(np.subtract(model.nodes[model.elements[first].i], member.path[0])))


def worst_of(tables: Mapping[str, StressTable]) -> dict[str, tuple[str, TubeStress]]:
    """Member -> the case that stresses it most, with its peak. Raises ModelError without any table."""
    if not tables:
        raise ModelError("no load case was solved, so there is no stress to compare")
    worst: dict[str, tuple[str, TubeStress]] = {}
    for case, table in tables.items():
        for row in table.rows:
            name = row.place.member
            if name not in worst or row.von_mises > worst[name][1].von_mises:
                worst[name] = case, row
    return worst
