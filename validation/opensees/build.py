"""The same mesh, supports, springs, links and masses as an OpenSees model.

What maps to what: a beam without shear flexibility to elasticBeamColumn, with shear to ElasticTimoshenkoBeam; local
axes to a linear transformation whose vecxz is our local z (checked: OpenSees then has our y and z); a spring to a
zeroLength element, a grounded one against a fixed twin node, one of full compliance (a joint) to a
linearElasticSpring; rigid links and equal dofs to rigidLink and equalDOF.
An end release becomes a twin node that shares the unreleased dofs, except bending releases of a beam without
shear, which OpenSees knows itself. What cannot be mapped raises OpenSeesError; nothing is left out silently.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count
from math import isinf
from typing import Any

import numpy as np

from ...model.arrays import Array
from ...model.errors import ModelError
from ...model.mechanics.frame_model import Element, FrameModel, Spring
from .engine import OpenSeesError
from .links import arrange

# A shear area this many times the area makes shear flexibility vanish (1e-12 of bending or less).
_RIGID_IN_SHEAR = 1e12
# released component -> OpenSees axis and code
_BENDING = {
    5: ("z", 1),
    11: ("z", 2),
    4: ("y", 1),
    10: ("y", 2),
}


@dataclass
class Build:
    """One model handed over to OpenSees.

    node tags are 1 + position in `model.nodes`, element tags 1 + position in `model.elements`; twins and springs
    are numbered behind them. `masses` adds the element and node masses. `chained` then tells that only Lagrange
    multipliers can take the links, see `links`.
    `twins` are (node tag, twin tag, shared dofs 1-6) of released element ends.
    """

    ops: Any
    model: FrameModel
    supports: Mapping[str, Iterable[int]]
    springs: Sequence[Spring] = ()
    masses: bool = False
    chained: bool = field(default=False, init=False)
    twins: list[tuple[int, int, tuple[int, ...]]] = field(default_factory=list, init=False)

    def __post_init__(self) -> None:
        # behind all nodes and elements, so that no tag is used twice
        self._tags = count(1 + max(len(self.model.nodes), len(self.model.elements)))
        self._transforms: dict[tuple[float, ...], int] = {}
        for tag, xyz in enumerate(self.model.xyz.tolist(), start=1):
            self.ops.node(tag, *xyz)
        for node, flags in self.supports.items():
            self.ops.fix(self.tag(node), *(int(f) for f in flags))
        self.axes = local_axes(self.model)
        for number, element in enumerate(self.model.elements):
            self._element(number, element)
        for spring in (*self.model.springs, *self.springs):
            self._spring(spring)
        self._add_links()
        if self.masses:
            self._add_masses()

    def tag(self, node: str) -> int:
        if node not in self.model.node_index:
            raise ModelError(f"the model has no node '{node}'")
        return 1 + self.model.node_index[node]

    # --- elements ---------------------------------------------------------------------------------------------
    def _element(self, number: int, e: Element) -> None:
        shear = self._needs_shear_element(e)
        if shear:
            native = []
        else:
            native = _native_releases(e)
        ends = [self.tag(e.i), self.tag(e.j)]
        # a release that OpenSees has no flag for becomes a second node at the same place
        if not native and e.releases:
            ends = [
                self._released_end(end, node, e, self.axes[number]) for end, node in enumerate(ends)
            ]
        transform = self._transform(self.axes[number])
        self.ops.element(
            *_beam_command(1 + number, ends, e, transform, shear, self.masses), *native
        )

    def _needs_shear_element(self, e: Element) -> bool:
        """Only the shear beam knows rotary inertia; made rigid in shear it is the Euler beam with it."""
        euler = isinf(e.section.Asy) and isinf(e.section.Asz)
        if self.masses and not euler and not self.model.rotary:
            raise OpenSeesError(
                "OpenSees cannot leave out the rotary inertia of a beam with shear flexibility; "
                "compare with the mass model 'rotary': true"
            )
        return not euler or (self.masses and self.model.rotary)

    def _transform(self, axes: Array) -> int:
        # elements of one tube share a transform: a model then has tens of them and not hundreds
        z = tuple(axes[2].tolist())
        if z not in self._transforms:
            self._transforms[z] = 1 + len(self._transforms)
            self.ops.geomTransf("Linear", self._transforms[z], *z)
        return self._transforms[z]

    def _released_end(self, end: int, node: int, e: Element, axes: Array) -> int:
        # Components 0 to 5 belong to end i, 6 to 11 to end j.
        released = [r - 6 * end for r in e.releases if 6 * end <= r < 6 * end + 6]
        if not released:
            return node
        twin = self._twin(node)
        kept = _kept_global(released, axes, e.id)
        self.twins.append((node, twin, kept))
        return twin

    def _twin(self, node: int) -> int:
        twin = next(self._tags)
        self.ops.node(twin, *self.ops.nodeCoord(node))
        return twin

    # --- springs ----------------------------------------------------------------------------------------------
    def _spring(self, s: Spring) -> None:
        active = [k for k, stiffness in enumerate(s.k) if stiffness > 0]
        # a spring of nought in all directions would be an element without materials, which it
        # refuses
        if not active:
            return
        i = self.tag(s.i)
        if s.j is None:
            j = self._twin(i)
            # the ground is a node of its own, held in everything
            self.ops.fix(j, *[1] * 6)
        else:
            j = self.tag(s.j)
        if s.compliance is not None:
            self._joint(s, i, j)
            return
        materials = [next(self._tags) for _ in active]
        for material, k in zip(materials, active, strict=True):
            self.ops.uniaxialMaterial("Elastic", material, float(s.k[k]))
        self.ops.element(
            "zeroLength",
            next(self._tags),
            i,
            j,
            "-mat",
            *materials,
            "-dir",
            *(k + 1 for k in active),
            "-orient",
            *map(float, s.x_axis),
            *map(float, s.vxy),
        )

    def _joint(self, s: Spring, i: int, j: int) -> None:
        """A spring whose directions feel one another: OpenSees takes the matrix of its stiffness as it is."""
        # a joint is known by its compliance; the element wants the inverse
        stiffness = np.linalg.inv(np.array(s.compliance))
        self.ops.element(
            "linearElasticSpring",
            next(self._tags),
            i,
            j,
            "-dir",
            *range(1, 7),
            "-stif",
            *stiffness.ravel().tolist(),
            "-orient",
            *map(float, s.x_axis),
            *map(float, s.vxy),
        )

    # --- links ------------------------------------------------------------------------------------------------
    def _add_links(self) -> None:
        links = arrange(self.model, self.supports, self.twins)
        self.chained = links.chained
        if links.chained and any(len(dofs) < 6 for _, _, dofs in links.equal):
            # Transformation would give a wrong answer and Lagrange would end the whole process (OpenSees 3.7).
            raise OpenSeesError(
                "OpenSees cannot take nodes that share only some dofs where such a node is also part "
                "of another link, or has a support on a shared dof; this model is not cross-checked"
            )
        for slave, master in links.rigid.items():
            self.ops.rigidLink("beam", master, slave)
        for master, slave, dofs in links.equal:
            self.ops.equalDOF(master, slave, *dofs)

    # --- masses -----------------------------------------------------------------------------------------------
    def _add_masses(self) -> None:
        total: dict[str, Array] = {}
        for mass in self.model.masses:
            row = np.array([mass.m] * 3 + list(mass.J), dtype=float)
            # a second mass on a node would replace the first instead of adding to it
            total[mass.node] = total.get(mass.node, np.zeros(6)) + row
        for node, row in total.items():
            self.ops.mass(self.tag(node), *row.tolist())


def local_axes(model: FrameModel) -> Array:
    """(m, 3, 3) rows x, y, z of every element, worked out here on their own so that the cross-check covers them."""
    along = model.xyz[model.ends[:, 1]] - model.xyz[model.ends[:, 0]]
    x = along / np.linalg.norm(along, axis=1, keepdims=True)
    z = np.cross(x, np.array([e.vxy for e in model.elements], dtype=float).reshape(-1, 3))
    z = z / np.linalg.norm(z, axis=1, keepdims=True)
    return np.stack([x, np.cross(z, x), z], axis=1)


def _native_releases(e: Element) -> list[Any]:
    """OpenSees' own release flags; empty without releases, or when one of them needs a twin node."""
    if any(r not in _BENDING for r in e.releases):
        return []
    codes = {"z": 0, "y": 0}
    for r in e.releases:
        axis, code = _BENDING[r]
        codes[axis] += code
    return [word for axis, code in codes.items() if code for word in (f"-release{axis}", code)]


def _kept_global(released: list[int], axes: Array, name: str) -> tuple[int, ...]:
    """Global dofs (1-6) that stay joined when local components are released.

    Exact when of the three translations (and of the three rotations) none or all are released, or when the local
    axes run along the global ones; anything else would need a skew constraint, which OpenSees does not have.
    """
    kept: list[int] = []
    along = np.abs(axes).argmax(axis=1)
    # only then is a local component one global one
    aligned = bool(np.all(np.abs(axes).max(axis=1) > 1 - 1e-14))
    for first in (0, 3):
        free = [r - first for r in released if first <= r < first + 3]
        if free and len(free) < 3 and not aligned:
            raise OpenSeesError(
                f"element {name}: OpenSees cannot represent this end release on a member that is not "
                "along a global axis; this model is not cross-checked"
            )
        kept += sorted(first + 1 + int(along[k]) for k in range(3) if k not in free)
    return tuple(kept)


def _beam_command(
    tag: int, ends: list[int], e: Element, transform: int, shear: bool, masses: bool
) -> list[Any]:
    """Arguments of ops.element for one beam.

    OpenSees takes rho J as torsional mass where the polar moment belongs. With J' = Ip and G' = G J / Ip the
    torsional stiffness stays and the mass becomes right; shear areas are scaled so that G' As' = G As. Only
    done for masses, so that a static check hands over the figures as they are.
    """
    s = e.section
    m = e.material
    # see above: for a static check nothing is rewritten, so that the cross-check sees the figures
    # themselves
    if masses:
        J = s.polar
    else:
        J = s.J
    G = m.G * s.J / J
    if masses:
        mass = ["-mass", m.rho * s.A, "-cMass"]
    else:
        mass = []
    if not shear:
        return ["elasticBeamColumn", tag, *ends, s.A, m.E, G, J, s.Iy, s.Iz, transform, *mass]
    areas = [(_RIGID_IN_SHEAR * s.A if isinf(area) else area) * m.G / G for area in (s.Asy, s.Asz)]
    return [
        "ElasticTimoshenkoBeam",
        tag,
        *ends,
        m.E,
        G,
        s.A,
        J,
        s.Iy,
        s.Iz,
        *areas,
        transform,
        *mass,
    ]
