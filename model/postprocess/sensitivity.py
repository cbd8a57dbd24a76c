"""Which tube to change: exact derivatives of every measured figure and of the mass, ranked by effect per weight.

A measure is v = w . u with K u = f. One more solve with the right-hand side w gives the adjoint state, and

    dv/dp = -sum over sections of (mutual work of both states) x d ln(stiffness)/dp

where mutual work and stiffness are those of axial force, shear, torsion and bending apart (adjoint method; Haftka
& Guerdal, Elements of Structural Optimization, 1992, ch. 7, from memory). No tube is solved twice; section
stiffnesses are differentiated by a complex step, which is exact to rounding (Squire & Trapp 1998). A joint that gives
adds (force of one state) . dC/dp . (force of the other), its compliance C differentiated by central differences,
together with what the branch loses of its length where the chord's wall moves outwards.

A PARAMETER is the outside diameter of a tube (both ends, an oval's width too) or its wall (all walls), in mm;
left and right tubes of a pair change together. Butts keep their lengths and joints stay where they are.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

import numpy as np

from ..arrays import Array
from ..cases.library import load_cases
from ..decide import settled
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.joint_places import tube_joints
from ..frame.layout import FrameLayout, Member, lay_out
from ..frame.mesh import MeshOptions, mesh
from ..mechanics.assembly import spring_matrix
from ..mechanics.beam import Beams, stretch_flexibility
from ..mechanics.energy import mutual_work
from ..mechanics.frame_model import FrameModel, LoadCase
from ..mechanics.result import Result
from ..mechanics.solve import Restrained, measure_weights, same_restraints
from ..tubes.sections import section_values
from ..tubes.tube import Tube, sizes_at

PARAMETERS = ("diameter", "wall")
_JOINT_STEP = 1e-4  # mm: a smooth law's third derivative is lost in it, and rounding too
_STEP = 1e-30  # complex step: no subtraction, so it may be as small as one likes


@dataclass(frozen=True)
class Sensitivity:
    """What one millimetre more on one tube does to one measured figure.

    value : the figure now, mm or degrees; per_mm : its change per mm. stiffness_percent_per_mm : change of the
    stiffness, the inverse of the value, in percent per mm. mass_per_mm : kg per mm. percent_per_10g : percent
    of stiffness for 10 g more of this tube, positive when a heavier tube is stiffer.
    """

    case: str
    measure: str
    title: str
    unit: str
    tube: str
    parameter: str
    value: float
    per_mm: float
    mass_per_mm: float

    @property
    def stiffness_percent_per_mm(self) -> float:
        if self.value:
            return -100 * self.per_mm / self.value
        return 0.0

    @property
    def percent_per_10g(self) -> float:
        return self.stiffness_percent_per_mm * 0.01 / self.mass_per_mm


@dataclass(frozen=True, eq=False)
class Gradients:
    """A meshed and solved frame with its derivatives. mass : (tube, parameter) -> kg per mm, left and right of a pair
    together. results : case name -> the checked solution."""

    model: FrameModel
    rows: tuple[Sensitivity, ...]
    mass: Mapping[tuple[str, str], float]
    results: Mapping[str, Result]


def sensitivities(
    bicycle: Bicycle,
    cases: Sequence[LoadCase] | Sequence[str] = (),
    options: MeshOptions | None = None,
) -> tuple[Sensitivity, ...]:
    """Every measure of the cases (names, or cases of one's own; default: the main three) against every tube.

    Raises
    ------
    ModelError
        With rigid zones, whose lengths change with the diameters.
    """
    return gradients(bicycle, cases, options).rows


def gradients(
    bicycle: Bicycle,
    cases: Sequence[LoadCase] | Sequence[str] = (),
    options: MeshOptions | None = None,
) -> Gradients:
    """The rows of `sensitivities` with what they rest on. Raises as that does."""
    options = options or MeshOptions()
    if options.rigid_zones:
        raise ModelError(
            "rigid zones change with the diameters, which these derivatives leave out; take sensitivities "
            "without rigid zones"
        )
    layout = lay_out(bicycle)
    names = tuple(c for c in cases if isinstance(c, str))
    own = tuple(c for c in cases if isinstance(c, LoadCase))
    library: tuple[LoadCase, ...]
    if own and not names:
        library = ()
    else:
        library = load_cases(bicycle, layout, names)
    model = mesh(bicycle, options, layout)
    growth = _Growth.of(bicycle, layout, model, options.shear)
    beams = Beams.of(model)
    joints = _JointGrowth.of(bicycle, layout, growth.keys, beams)
    rows: list[Sensitivity] = []
    results: dict[str, Result] = {}
    # One factorisation serves all right-hand sides of these supports: loads and adjoints.
    for group in same_restraints((*library, *own)):
        system = Restrained(beams, group[0])
        for case in group:
            results[case.name] = result = system.result(case)
            rows += _rows(system, result, growth, joints)
    mass = {key: 1000 * float(mass) for key, mass in zip(growth.keys, growth.mass, strict=True)}
    return Gradients(model, tuple(rows), mass, results)


def ranking(rows: Sequence[Sensitivity], case: str, measure: str) -> list[Sensitivity]:
    """The rows of one measure, the best use of weight first."""
    return sorted(
        (r for r in rows if (r.case, r.measure) == (case, measure)),
        key=lambda r: -settled(r.percent_per_10g),
    )


@dataclass(frozen=True, eq=False)
class _Growth:
    """How the sections grow: keys (p,) of (tube, parameter); rates (p, m, 6) d ln EA, GAsy, GAsz, GJ, EIy, EIz per
    mm for every element; mass (p,) tonne per mm."""

    keys: tuple[tuple[str, str], ...]
    rates: Array
    mass: Array

    @classmethod
    def of(cls, bicycle: Bicycle, layout: FrameLayout, model: FrameModel, shear: bool) -> "_Growth":
        tubes = list(dict.fromkeys(member.tube for member in layout.members))
        keys = tuple((tube, parameter) for tube in tubes for parameter in PARAMETERS)
        rates = np.zeros((len(keys), len(model.elements), 6))
        mass = np.zeros(len(keys))
        members = {member.name: member for member in layout.members}
        for name, numbers in _by_member(model):
            # Parts (axles, post, stem) have no size of the table to vary.
            if name not in members:
                continue
            relative, per_mm = _member_growth(bicycle, members[name], model, numbers)
            for k, parameter in enumerate(PARAMETERS):
                row = keys.index((members[name].tube, parameter))
                rates[row, numbers] = relative[k]
                mass[row] += per_mm[k]
        # Without shear flexibility a larger shear area changes nothing.
        if not shear:
            rates[:, :, 1:3] = 0.0
        return cls(keys, rates, mass)


@dataclass(frozen=True, eq=False)
class _JointGrowth:
    """How the joints' compliances grow: names (j,) of their springs; rates (p, j, 6, 6) per mm, global axes."""

    names: tuple[str, ...]
    rates: Array

    @classmethod
    def of(
        cls,
        bicycle: Bicycle,
        layout: FrameLayout,
        keys: Sequence[tuple[str, str]],
        beams: Beams,
    ) -> "_JointGrowth":
        joints = tube_joints(bicycle, layout)
        elements = dict(_by_member(beams.model))
        rates = np.zeros((len(keys), len(joints), 6, 6))
        for p, (tube, parameter) in enumerate(keys):
            more, less = (
                replace(bicycle, tubes={**bicycle.tubes, tube: _grown(bicycle, tube, parameter, h)})
                for h in (_JOINT_STEP, -_JOINT_STEP)
            )
            for k, joint in enumerate(joints):
                # a joint depends on the two tubes that meet in it, and on no other
                if tube in (joint.tube, joint.changes_with):
                    pair = [joint.resized(one, layout) for one in (less, more)]
                    # inside the chord the branch is rigid: what a wider chord covers of it gives no more
                    inside = np.array([one.shape.inside for one in pair])
                    covered = stretch_flexibility(beams, elements[joint.member], joint.end, inside)
                    given = np.array([one.spring_in_space() for one in pair]) - covered
                    rates[p, k] = (given[1] - given[0]) / (2 * _JOINT_STEP)
        return cls(tuple(joint.name for joint in joints), rates)

    def forces(self, model: FrameModel, u: Array) -> Array:
        """(j, 6) what each joint carries in a state (6n,), global axes."""
        springs = {spring.id: spring for spring in model.springs}
        nodes = u.reshape(-1, 6)
        carried = np.zeros((len(self.names), 6))
        for k, name in enumerate(self.names):
            spring = springs[name]
            far = model.node_index[spring.j or spring.i]
            opened = nodes[far] - nodes[model.node_index[spring.i]]
            carried[k] = spring_matrix(spring) @ opened
        return carried

    def slopes(self, one: Array, other: Array) -> Array:
        """(p,) change of a measure per mm, from what the joints carry in both states."""
        return np.asarray(np.einsum("ja,pjab,jb->p", one, self.rates, other))


def _grown(bicycle: Bicycle, tube: str, parameter: str, step: float) -> Tube:
    """The tube with its diameter (both ends, an oval's width too) or its wall larger by a step, mm."""
    t = bicycle.tubes[tube]
    if parameter == "wall":
        return replace(t, walls=tuple(wall + step for wall in t.walls))
    width = None if t.oval_width is None else t.oval_width + step
    return replace(t, od_start=t.od_start + step, od_end=t.od_end + step, oval_width=width)


def _by_member(model: FrameModel) -> Iterator[tuple[str, list[int]]]:
    """Member -> its element numbers, in the order of the mesh, which runs from a tube's start to its end."""
    for name, group in groupby(range(len(model.elements)), key=lambda k: model.elements[k].member):
        yield name, list(group)


def _member_growth(
    bicycle: Bicycle, member: Member, model: FrameModel, numbers: list[int]
) -> tuple[Array, list[float]]:
    """(2, k, 6) relative growth of the section stiffnesses per mm of diameter and wall, and tonne per mm of both."""
    tube = bicycle.tubes[member.tube]
    ends = model.ends[numbers]
    length = np.linalg.norm(model.xyz[ends[:, 1]] - model.xyz[ends[:, 0]], axis=1)
    # Elements have the size at their middle: the derivative must be of the meshed tube.
    middle = np.cumsum(length) - length / 2
    od, wall, width = np.array(sizes_at(tube, member.length, middle)).T
    relative = []
    per_mm = []
    for grow_od, grow_wall in ((1j * _STEP, 0), (0, 1j * _STEP)):
        values = np.array(
            section_values(
                width + grow_od,
                od + grow_od,
                wall + grow_wall,
                tube.material.nu,
                tube.oval_width is not None,
                tube.corner,
            )
        )
        # f(x + ih) = f(x) + ih f'(x): the imaginary part is the derivative, no digits lost.
        rates = values.imag / _STEP
        # section_values gives A Iy Iz J Asy Asz; energies come in the order EA GAsy GAsz GJ EIy
        # EIz.
        relative.append((rates / values.real)[[0, 4, 5, 3, 1, 2]].T)
        per_mm.append(float(tube.material.rho * (rates[0] * length).sum()))
    return np.array(relative), per_mm


def _rows(
    system: Restrained, result: Result, growth: _Growth, joints: _JointGrowth
) -> Iterator[Sensitivity]:
    """All measures of a solved case."""
    beams = system.beams
    case = result.case
    # Mutual work of the two states, element by element: no second solve per tube.
    here = _element_forces(beams, result.u.ravel())
    carried = joints.forces(beams.model, result.u.ravel())
    for measure, state in zip(case.measures, _adjoint_states(system, case), strict=True):
        adjoint = _element_forces(beams, state)
        slopes = -np.einsum("pmk,mk->p", growth.rates, mutual_work(beams, adjoint, here))
        slopes = slopes + joints.slopes(joints.forces(beams.model, state), carried)
        if measure.unit == "deg":
            scale = float(np.degrees(1.0))
        else:
            scale = 1.0
        for (tube, parameter), slope, mass in zip(growth.keys, slopes, growth.mass, strict=True):
            yield Sensitivity(
                case.name,
                measure.name,
                measure.title or measure.name,
                measure.unit,
                tube,
                parameter,
                result.measured[measure.name],
                scale * float(slope),
                1000 * float(mass),
            )


def _adjoint_states(system: Restrained, case: LoadCase) -> list[Array]:
    """(6n,) displacements of the state whose loads are the weights of each measure."""
    if not case.measures:
        return []
    states = system.displacements(
        np.column_stack([measure_weights(system.model, m) for m in case.measures])
    )
    return list(states.T)


def _element_forces(beams: Beams, u: Array) -> Array:
    """(m, 12) end forces from the end displacements alone: a uniform load's own part does not depend on the tube."""
    local = beams.turn(u[beams.dofs], to_local=True)
    return np.asarray(np.einsum("mij,mj->mi", beams.k_local, local))
