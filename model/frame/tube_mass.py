"""What the tubes weigh and where: mass and centre of mass of every tube, frame, fork and the simple parts.

Taken from the mesh's own elements, so that the mass that is shown is the mass that is solved with. Tubes run
centre to centre: the short ends inside a neighbour, which a mitre cuts away, are counted; lugs, braze-ons,
filler and paint are not. Divided walls are exact, tapered walls and cones as fine as the mesh.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..mechanics.frame_model import FrameModel
from .layout import FrameLayout

KG = 1000.0  # tonne to kg
MASS_WORDS = (
    "tubes centre to centre as meshed, mitred ends included; no lugs, dropouts, braze-ons, filler or paint; "
    "parts are the simple stand-ins of the model"
)


@dataclass(frozen=True)
class Mass:
    """Mass, kg, and centre of mass, mm."""

    kg: float
    centre: tuple[float, float, float]

    @classmethod
    def sum(cls, masses: "list[Mass]") -> "Mass":
        """Several as one; with no mass at all the centre is the origin."""
        total = sum(m.kg for m in masses)
        # Shaped so that no masses at all still add up to a point.
        moment = np.array([np.multiply(m.centre, m.kg) for m in masses]).reshape(-1, 3).sum(axis=0)
        x, y, z = (float(v) for v in (moment / total if total else moment))
        return cls(total, (x, y, z))


@dataclass(frozen=True)
class MassTable:
    """Mass of every member of a model. tubes : member -> tube of the table; members not in it are parts.
    fork_tubes, rack_tubes : those of them that count to the fork and to the racks, not to the frame."""

    members: Mapping[str, Mass]
    tubes: Mapping[str, str]
    fork_tubes: tuple[str, ...] = ()
    rack_tubes: tuple[str, ...] = ()

    @cached_property
    def by_tube(self) -> dict[str, Mass]:
        """Tube -> mass, left and right of a pair together, frame tubes and fork."""
        groups: dict[str, list[Mass]] = {}
        for member, tube in self.tubes.items():
            groups.setdefault(tube, []).append(self.members[member])
        return {tube: Mass.sum(masses) for tube, masses in groups.items()}

    @property
    def grams(self) -> dict[str, float]:
        """Tube -> mass in g, as `by_tube`."""
        return {tube: 1000 * mass.kg for tube, mass in self.by_tube.items()}

    @property
    def frame(self) -> Mass:
        """The frame's tubes without fork and racks."""
        return Mass.sum(
            [
                mass
                for tube, mass in self.by_tube.items()
                if tube not in (*self.fork_tubes, *self.rack_tubes)
            ]
        )

    @property
    def fork(self) -> Mass:
        return Mass.sum([mass for tube, mass in self.by_tube.items() if tube in self.fork_tubes])

    @property
    def racks(self) -> Mass:
        """The tubes of the racks."""
        return Mass.sum([mass for tube, mass in self.by_tube.items() if tube in self.rack_tubes])

    @property
    def parts(self) -> dict[str, Mass]:
        """Shell, hubs, bridges, seat post, stem, bar: not frame tubes."""
        return {member: mass for member, mass in self.members.items() if member not in self.tubes}

    @property
    def total(self) -> Mass:
        return Mass.sum(list(self.members.values()))


def mass_table(model: FrameModel, layout: FrameLayout | None = None) -> MassTable:
    """Mass of every member of a model; without a layout every member counts as a tube of its own."""
    weights, middles = element_masses(model)
    parts: dict[str, list[Mass]] = {}
    for element, tonne, (x, y, z) in zip(model.elements, weights, middles, strict=True):
        parts.setdefault(element.member, []).append(
            Mass(KG * float(tonne), (float(x), float(y), float(z)))
        )
    members = {member: Mass.sum(masses) for member, masses in parts.items()}
    if layout is None:
        return MassTable(members, {m: m for m in members})
    tubes = {m.name: m.tube for m in layout.members if m.name in members}
    plan = layout.plan
    return MassTable(members, tubes, plan.fork_tubes, plan.in_region("rack"))


def element_masses(model: FrameModel) -> tuple[Array, Array]:
    """Masses (m,), tonne, and middles (m, 3) of the elements."""
    i = model.xyz[model.ends[:, 0]]
    j = model.xyz[model.ends[:, 1]]
    p = model.properties
    # Pieces are prismatic, so area times length is exact for each.
    return p["rho"] * p["A"] * np.linalg.norm(j - i, axis=1), (i + j) / 2
