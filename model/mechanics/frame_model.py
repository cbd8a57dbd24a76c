"""The analysis model: nodes, beam elements, springs, links and masses as arrays - and the load case beside it.

Supports and loads are NOT part of the model. They belong to a load case, because a number without the
restraints that made it is worth nothing.

Local axes of an element: x from end i to end j; `vxy` is any vector in the local x-y half-plane that holds
+y: z = x cross vxy, y = z cross x. Degrees of freedom per node: ux uy uz rx ry rz (global axes). Units are
N, mm, MPa, s, tonne - or any consistent set.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from math import isfinite

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import ModelError
from ..tubes.materials import Material
from ..tubes.sections import Section

DOFS = ("ux", "uy", "uz", "rx", "ry", "rz")
# Of a joint's compliance at unit diagonal: beyond the first it is no rounding, below the second no stiffness follows.
_ASYMMETRY = 1e-9
_DEFINITE = 1e-10


@dataclass(frozen=True)
class Element:
    """A straight prismatic beam between nodes `i` and `j`. `member` names the tube or part it belongs to.

    `releases` lists the local end components (0-5 end i, 6-11 end j: ux uy uz rx ry rz) that carry nothing.
    """

    id: str
    i: str
    j: str
    section: Section
    material: Material
    vxy: tuple[float, float, float]
    member: str = ""
    releases: tuple[int, ...] = ()


@dataclass(frozen=True)
class Spring:
    """Six springs k (N/mm, N*mm/rad) between node `i` and node `j`, or from `i` to ground when j is None.

    The springs act along the local axes x, y, z given by `x_axis` and a vector `vxy` in the x-y half-plane.
    Two joined nodes must coincide (a spring across a gap would not balance moments).

    compliance : (6, 6) symmetric positive definite, mm/N, rad/N, rad/(N mm), in the same axes, where the six
    directions feel one another, as at a joint of thin tubes; `k` then holds the stiffness of each direction alone.
    See `soft_joint`.
    """

    id: str
    i: str
    j: str | None
    k: tuple[float, ...]
    x_axis: tuple[float, float, float] = (1.0, 0.0, 0.0)
    vxy: tuple[float, float, float] = (0.0, 1.0, 0.0)
    compliance: tuple[tuple[float, ...], ...] | None = None


def soft_joint(
    name: str,
    i: str,
    j: str,
    compliance: Array,
    x_axis: tuple[float, float, float] = (1.0, 0.0, 0.0),
    vxy: tuple[float, float, float] = (0.0, 1.0, 0.0),
) -> Spring:
    """A spring of full compliance (6, 6), mm/N, rad/N, rad/(N mm), between two nodes at one place.

    Raises
    ------
    ModelError
        For a matrix that is not finite, not symmetric or not positive definite: such a joint would give work away.
    """
    c = np.asarray(compliance, dtype=float)
    if c.shape != (6, 6) or not np.all(np.isfinite(c)):
        raise ModelError(f"joint {name}: a compliance of six by six finite numbers is needed")
    diagonal = c.diagonal()
    if not np.all(diagonal > 0):
        raise ModelError(
            f"joint {name}: every direction needs a compliance above zero, got {diagonal.tolist()}"
        )
    # mm and rad are mixed: only at unit diagonal do the entries compare
    scale = np.sqrt(np.outer(diagonal, diagonal))
    unit = c / scale
    if np.abs(unit - unit.T).max() > _ASYMMETRY:
        raise ModelError(f"joint {name}: the compliance is not symmetric; check its entries")
    if np.linalg.eigvalsh(unit).min() <= _DEFINITE:
        raise ModelError(
            f"joint {name}: the compliance is not positive definite, so the joint would push back "
            "harder than it is pushed; check its entries"
        )
    # exactly symmetric from here on, so that no solver sees the rounding
    rows = tuple(tuple(map(float, row)) for row in (c + c.T) / 2)
    alone = tuple(float(1 / value) for value in diagonal)
    return Spring(name, i, j, alone, x_axis, vxy, rows)


def softer(spring: Spring, share: float) -> Spring:
    """The spring with this share of its stiffness."""
    # stiffness and compliance say the same thing, so both have to follow
    k = tuple(share * value for value in spring.k)
    if spring.compliance is None:
        return replace(spring, k=k)
    rows = []
    for row in spring.compliance:
        rows.append(tuple(value / share for value in row))
    return replace(spring, k=k, compliance=tuple(rows))


@dataclass(frozen=True)
class RigidLink:
    """`slave` moves as part of a rigid body with `master`: u_s = u_m + theta_m x (x_s - x_m), theta_s = theta_m."""

    master: str
    slave: str


@dataclass(frozen=True)
class EqualDofs:
    """The listed dofs (0-5, global) of `slave` equal those of `master`."""

    master: str
    slave: str
    dofs: tuple[int, ...]


@dataclass(frozen=True)
class NodeMass:
    """A lumped mass m (tonne) with rotary inertia (Jx, Jy, Jz) about the global axes at a node."""

    node: str
    m: float
    J: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True)
class MemberLoad:
    """A uniform load w (N/mm of member length) on an element, in its local or the global frame."""

    element: str
    w: tuple[float, float, float]
    frame: str = "global"


@dataclass(frozen=True)
class Measure:
    """One figure measured in a load case: a weighted sum of displacements, and the stiffness that follows.

    value = sum(weight . u[node]); stiffness = reference / value. `unit` of the value is ``mm``, ``deg``
    (rotations are summed in rad and shown in degrees) or ``J`` (weights are half the loads); `reference` is the
    force (N) or torque (N*mm) that makes this movement: a stiffness is a load over its own movement. None where
    there is no such load, then the figure is a movement.
    """

    name: str
    weights: tuple[tuple[str, tuple[float, ...]], ...]
    unit: str = "mm"
    reference: float | None = None
    title: str = ""

    @property
    def stiffness_unit(self) -> str:
        return {"mm": "N/mm", "deg": "N·m/deg"}.get(self.unit, "")


@dataclass(frozen=True)
class LoadCase:
    """Loads AND supports AND what is measured, as one value.

    nodal : node -> (Fx, Fy, Fz, Mx, My, Mz), global. member_loads : uniform loads. supports : node -> six
    0/1 flags. springs : extra springs that exist in this case only (a locked steering, a tyre). measures :
    what to report. notes : in words, what acts, what is held and why; held : of these the part on what is held, which
    stays true under other loads; source : where set-up and values come from.
    touching : support node -> what touches the bicycle there (tyre, hub, hand); a support that carries load
    at a node not listed here is flagged.
    """

    name: str
    nodal: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    member_loads: tuple[MemberLoad, ...] = ()
    supports: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    springs: tuple[Spring, ...] = ()
    measures: tuple[Measure, ...] = ()
    title: str = ""
    notes: str = ""
    source: str = ""
    touching: Mapping[str, str] = field(default_factory=dict)
    held: str = ""


@dataclass(frozen=True)
class FrameModel:
    """Nodes, elements and what joins them; checked at construction.

    nodes : id -> (x, y, z). mass_model : ``consistent`` (Hermite shape functions) with `rotary` inertia of the
    section in bending when true; torsional mass rho*Ip always included. assumed_members : those whose sizes nobody
    stated; None where that is not known. regions : tube -> the part of the bicycle it belongs to, for words alone.
    """

    nodes: Mapping[str, tuple[float, float, float]]
    elements: tuple[Element, ...]
    springs: tuple[Spring, ...] = ()
    rigid_links: tuple[RigidLink, ...] = ()
    equal_dofs: tuple[EqualDofs, ...] = ()
    masses: tuple[NodeMass, ...] = ()
    rotary: bool = False
    name: str = ""
    assumed_members: frozenset[str] | None = None
    regions: Mapping[str, str] = field(default_factory=dict, compare=False)

    def __post_init__(self) -> None:
        for node, xyz in self.nodes.items():
            if not all(map(isfinite, xyz)):
                raise ModelError(f"node {node}: coordinates {tuple(xyz)} are not finite")
        place = self.nodes.get
        for element in self.elements:
            here = place(element.i)
            there = place(element.j)
            # without length an element has no direction, and its stiffness no bound
            if here is None or there is None or here == there:
                self._check_ends("element", element.id, element.i, element.j)
                raise ModelError(
                    f"element {element.id}: its ends {element.i} and {element.j} lie on one point"
                )
        for spring in self.springs:
            self._check_ends(
                "spring", spring.id, spring.i, *(() if spring.j is None else (spring.j,))
            )
            # a negative stiffness would give work away
            if len(spring.k) != 6 or any(not isfinite(k) or k < 0 for k in spring.k):
                raise ModelError(
                    f"spring {spring.id}: six stiffnesses of zero or more are needed, got {spring.k}"
                )
        for link in self.rigid_links:
            self._check_ends("rigid link", "", link.master, link.slave)
        for tie in self.equal_dofs:
            self._check_ends("equal dofs", "", tie.master, tie.slave)
        for mass in self.masses:
            self._check_ends("mass", "", mass.node)
        for kind, named in (("element", self.elements), ("spring", self.springs)):
            duplicates = len(named) - len({one.id for one in named})
            if duplicates:
                raise ModelError(f"{duplicates} {kind} id(s) are used twice")

    def _check_ends(self, kind: str, name: str, *nodes: str) -> None:
        for node in nodes:
            if node not in self.nodes:
                what = f"{kind} {name}".rstrip()
                raise ModelError(f"{what} names node '{node}', which the model does not have")
        if len(nodes) == 2 and nodes[0] == nodes[1]:
            what = f"{kind} {name}".rstrip()
            raise ModelError(f"{what} joins node '{nodes[0]}' to itself")

    # --- array view, built once --------------------------------------------------------------------------
    @cached_property
    def node_index(self) -> dict[str, int]:
        return {node: k for k, node in enumerate(self.nodes)}

    @cached_property
    def xyz(self) -> Array:
        """(n, 3) coordinates in the order of `nodes`."""
        return np.array(list(self.nodes.values()), dtype=float).reshape(-1, 3)

    @cached_property
    def span(self) -> float:
        """Size of the model: diagonal of the box round its nodes; 1 for a single point, so that it can divide."""
        return float(np.linalg.norm(np.ptp(self.xyz, axis=0))) or 1.0

    @cached_property
    def ends(self) -> NDArray[np.intp]:
        """(m, 2) node numbers of the elements."""
        index = self.node_index
        return np.array([(index[e.i], index[e.j]) for e in self.elements], dtype=np.intp).reshape(
            -1, 2
        )

    @cached_property
    def element_index(self) -> dict[str, int]:
        return {element.id: k for k, element in enumerate(self.elements)}

    @cached_property
    def properties(self) -> dict[str, Array]:
        """Element properties as (m,) arrays: A Iy Iz J Asy Asz Ip E G rho."""
        numbers = []
        for element in self.elements:
            s = element.section
            m = element.material
            numbers.append((s.A, s.Iy, s.Iz, s.J, s.Asy, s.Asz, s.polar, m.E, m.G, m.rho))
        rows = np.array(numbers, dtype=float).reshape(-1, 10)
        return dict(
            zip(("A", "Iy", "Iz", "J", "Asy", "Asz", "Ip", "E", "G", "rho"), rows.T, strict=True)
        )

    @property
    def dofs(self) -> int:
        return 6 * len(self.nodes)
