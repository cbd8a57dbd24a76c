"""The outline of every tube wall in a model, and where on its tube each place lies.

OUTLINE: an ellipse with semi-axes a (along local y) and b (along z) for round and oval tubes, or a rectangle of
half sides a and b with a corner radius. The inside is the same shape smaller by the wall.
"""

from dataclasses import dataclass
from functools import cached_property
from math import pi

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, Member
from ..mechanics.frame_model import FrameModel
from ..tubes.sections import filled_area, filled_second
from ..tubes.tube import sizes_at
from ..words import spoken

_SAME = 1e-3  # relative: a section whose second moments differ more from its outline's has another shape
_Sizes = tuple[Array, Array, Array, Array]


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
        joint = spoken(self.joint)
        if self.from_joint < 0.5:
            return f"at {joint}"
        return f"{self.from_joint:.0f} mm from {joint}"


@dataclass(frozen=True, eq=False)
class Walls:
    """Outline of the section at both ends of every element, and where that is on its tube.

    a, b, t : (m, 2) half the height (along y), half the width (along z), wall, mm; NaN where not known. corner :
    (m, 2) outside corner radius of a rectangular tube, NaN for round and oval ones. distance : (m, 2) from the
    tube's start along its centre-line, mm. members : those to be listed.
    """

    model: FrameModel
    a: Array
    b: Array
    t: Array
    corner: Array
    distance: Array
    members: tuple[str, ...]

    @classmethod
    def of(
        cls, model: FrameModel, bicycle: Bicycle | None = None, layout: FrameLayout | None = None
    ) -> "Walls":
        """From the tubes of a bicycle, exact at the ends of cones and tapers; else from the elements' own sections."""
        sizes = _from_sections(model)
        length = np.linalg.norm(model.xyz[model.ends[:, 1]] - model.xyz[model.ends[:, 0]], axis=1)
        distance = np.zeros((len(length), 2))
        if layout is not None:
            members = {m.name: m for m in layout.members}
        else:
            members = {}
        for name, numbers in member_elements(model).items():
            # Elements run from a tube's start to its end, so lengths add up to the place.
            start = _offset(model, members.get(name), numbers[0])
            distance[numbers, 1] = start + np.cumsum(length[numbers])
            distance[numbers, 0] = distance[numbers, 1] - length[numbers]
            if bicycle is not None and name in members:
                for whole, part in zip(
                    sizes, _from_tube(bicycle, members[name], distance[numbers]), strict=True
                ):
                    whole[numbers] = part
        shown = tuple(name for name in member_elements(model) if not members or name in members)
        return cls(model, *sizes, distance, shown)

    @cached_property
    def box(self) -> np.ndarray:
        """(m, 2) whether the outline is a rectangle."""
        return ~np.isnan(self.corner)

    @cached_property
    def area(self) -> Array:
        """(m, 2) mm^2."""
        # Outside less inside; the inside is the same shape, smaller by the wall.
        ellipse = pi * (self.a * self.b - (self.a - self.t) * (self.b - self.t))
        box = filled_area(2 * self.b, 2 * self.a, self.corner) - filled_area(
            2 * (self.b - self.t), 2 * (self.a - self.t), self.corner - self.t
        )
        return np.where(self.box, box, ellipse)

    @cached_property
    def iz(self) -> Array:
        """(m, 2) second moment for bending in the local x-y plane, mm^4."""
        return self._second(self.a, self.b)

    @cached_property
    def iy(self) -> Array:
        """(m, 2) second moment for bending in the local x-z plane, mm^4."""
        return self._second(self.b, self.a)

    def _second(self, along: Array, across: Array) -> Array:
        t = self.t
        r = self.corner
        ellipse = pi / 4 * (along**3 * across - (along - t) ** 3 * (across - t))
        box = filled_second(2 * across, 2 * along, r) - filled_second(
            2 * (across - t), 2 * (along - t), r - t
        )
        return np.where(self.box, box, ellipse)

    @cached_property
    def torsion_stress(self) -> Array:
        """(m, 2) largest shear stress per torque, 1/mm^3: r/J in round tubes, Bredt's 1/(2 Am t) in the others."""
        t = self.t
        oval = pi * (self.a - t / 2) * (self.b - t / 2)
        # Bredt: torsion stress follows from the area within the middle of the wall.
        enclosed = np.where(
            self.box, filled_area(2 * self.b - t, 2 * self.a - t, self.corner - t / 2), oval
        )
        return np.where(
            (self.a == self.b) & ~self.box, self.a / (2 * self.iz), 1 / (2 * enclosed * t)
        )

    def points(self, angle: Array) -> tuple[Array, Array]:
        """y and z (m, 2, k) of the outside: the ellipse's parameter angle, or the angle of the rectangle's normal."""
        c = np.cos(angle)
        s = np.sin(angle)
        a = self.a[:, :, None]
        b = self.b[:, :, None]
        r = self.corner[:, :, None]
        # a face's normal means its middle
        flat_y, flat_z = (np.sign(np.round(v, 12)) for v in (c, s))
        box = self.box[:, :, None]
        return np.where(box, (a - r) * flat_y + r * c, a * c), np.where(
            box, (b - r) * flat_z + r * s, b * s
        )

    def steepest(self, my: Array, mz: Array) -> Array:
        """(m, 2) angle of the largest bending stress under moments (m, 2)."""
        y = np.where(self.box, 1.0, self.a)
        z = np.where(self.box, 1.0, self.b)
        return np.asarray(np.arctan2(my * z / self.iy, -mz * y / self.iz))

    def place(self, number: int, end: int) -> Place:
        element = self.model.elements[number]
        # Named nodes are the joints a builder knows; those with a colon are the mesh's own.
        near = {
            node: at
            for k in member_elements(self.model)[element.member]
            for node, at in zip(
                (self.model.elements[k].i, self.model.elements[k].j), self.distance[k], strict=True
            )
            if ":" not in node
        }
        here = float(self.distance[number, end])
        node = (element.i, element.j)[end]
        joint = min(near, key=lambda n: abs(near[n] - here), default=node)
        return Place(
            element.member, element.id, node, here, joint, abs(near.get(joint, here) - here)
        )


def member_elements(model: FrameModel) -> dict[str, list[int]]:
    """Member -> its element numbers in order."""
    out: dict[str, list[int]] = {}
    for k, element in enumerate(model.elements):
        out.setdefault(element.member, []).append(k)
    return out


def _from_sections(model: FrameModel) -> _Sizes:
    """Outline from the sections: the wall follows from area and outside, A = pi (t (a + b) - t²).

    A section whose second moments then come out differently is neither round nor oval: its outline is not known.
    """
    given = [
        (e.section.cy, e.section.cz, e.section.A, e.section.Iy, e.section.Iz)
        for e in model.elements
    ]
    a, b, area, iy, iz = np.array(given, dtype=float).reshape(-1, 5).T
    t = (a + b - np.sqrt(np.maximum((a + b) ** 2 - 4 * area / pi, 0))) / 2
    known = (a > 0) & (b > 0) & _fits(a, b, t, iz) & _fits(b, a, t, iy)
    # Not known is NaN, never zero: a stress worked out from it shows as missing.
    outline = np.where(known, (a, b, t), np.nan)
    both_ends = np.repeat(outline[:, :, None], 2, axis=2)
    corner = np.full_like(both_ends[0], np.nan)
    return both_ends[0], both_ends[1], both_ends[2], corner


def _fits(u: Array, v: Array, t: Array, second: Array) -> NDArray[np.bool_]:
    """Whether the hollow ellipse u x v with wall t has this second moment, u being the half axis that bends."""
    implied = pi / 4 * (u**3 * v - (u - t) ** 3 * (v - t))
    return np.asarray(np.abs(implied - second) <= _SAME * second)


def _from_tube(bicycle: Bicycle, member: Member, distance: Array) -> _Sizes:
    tube = bicycle.tubes[member.tube]
    length = member.length
    # a step belongs to the side the element is on
    inside = 1e-6 * (distance[:, 1] - distance[:, 0])
    at = np.column_stack([distance[:, 0] + inside, distance[:, 1] - inside]).clip(0.0, length)
    sizes = np.array(sizes_at(tube, length, at.ravel())).reshape(*at.shape, -1)
    corner = np.full_like(at, np.nan if tube.corner is None else tube.corner)
    return sizes[:, :, 0] / 2, sizes[:, :, 2] / 2, sizes[:, :, 1], corner


def _offset(model: FrameModel, member: Member | None, first: int) -> float:
    """Distance of a member's first node from the tube's start: not zero where a rigid zone replaces the end."""
    if member is None:
        return 0.0
    return float(np.linalg.norm(np.subtract(model.nodes[model.elements[first].i], member.path[0])))
