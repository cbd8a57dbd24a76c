"""Static results by the general frame library PyNite as a second opinion, where its element allows.

PyNite's beam has no shear flexibility and the library has no rigid links and no equal dofs: the published models
with those are left out by name below, and the list is checked, so that nothing is left out by accident.
"""

from dataclasses import dataclass, replace
from functools import cache
from math import atan2, degrees, isinf

import numpy as np
import pytest
from droptrail.model.arrays import Array
from droptrail.model.mechanics.frame_model import Element, FrameModel, LoadCase
from droptrail.model.mechanics.solve import solve
from droptrail.validation.answers import our_answers
from droptrail.validation.opensees.agreement import compare
from droptrail.validation.reference_cases import Answers, CaseModel, evaluate
from helpers_frames import random_frame, space_frame_a
from Pynite import FEModel3D
from test_frame_cases import STATIC, assert_met, named

_FORCES = ("FX", "FY", "FZ", "MX", "MY", "MZ")
_DOFS = ("DX", "DY", "DZ", "RX", "RY", "RZ")
_END_DOFS = [f"{dof}{end}" for end in "ij" for dof in ("Dx", "Dy", "Dz", "Rx", "Ry", "Rz")]
_COMBINATION = "Combo 1"


@dataclass(frozen=True, eq=False)
class PyNiteSolution:
    """(n, 6) displacements, node -> (6,) reactions, (m, 12) end forces, as in `model.mechanics.result.Result`."""

    u: Array
    reactions: dict[str, Array]
    end_forces: Array


def solve_pynite(model: FrameModel, case: LoadCase) -> PyNiteSolution:
    frame = FEModel3D()
    for node, xyz in model.nodes.items():
        frame.add_node(node, *map(float, xyz))
    for e in model.elements:
        _add_member(frame, e)
    for node, flags in case.supports.items():
        frame.def_support(node, *(bool(f) for f in flags))
    for spring in (*model.springs, *case.springs):
        assert spring.j is None
        for dof, k in zip(_DOFS, spring.k, strict=True):
            if k:
                frame.def_support_spring(spring.i, dof, k)
    _add_loads(frame, model, case)
    frame.analyze_linear(check_stability=False)
    return _read(frame, model, case)


def _add_member(frame: FEModel3D, e: Element) -> None:
    m, s = e.material, e.section
    frame.add_material(e.id, m.E, m.G, m.nu, m.rho)
    frame.add_section(e.id, s.A, s.Iy, s.Iz, s.J)
    frame.add_member(e.id, e.i, e.j, e.id, e.id)
    member = frame.members[e.id]
    member.rotation = _roll(member.T()[:3, :3], e)
    if e.releases:
        frame.def_releases(e.id, **{_END_DOFS[r]: True for r in e.releases})


def _roll(own: Array, e: Element) -> float:
    """Degrees from PyNite's own axes (rows of `own`) to ours, turning about the member."""
    x, y, z = own
    ours_z = np.cross(x, e.vxy)
    ours_y = np.cross(ours_z, x)
    return degrees(atan2(float(ours_y @ z), float(ours_y @ y)))


def _add_loads(frame: FEModel3D, model: FrameModel, case: LoadCase) -> None:
    for node, load in case.nodal.items():
        for direction, value in zip(_FORCES, load, strict=True):
            frame.add_node_load(node, direction, float(value))
    for load in case.member_loads:
        axes = "xyz" if load.frame == "local" else "XYZ"
        for axis, w in zip(axes, load.w, strict=True):
            frame.add_member_dist_load(load.element, f"F{axis}", w, w)


def _read(frame: FEModel3D, model: FrameModel, case: LoadCase) -> PyNiteSolution:
    def of(node: str, names: tuple[str, ...]) -> list[float]:
        return [getattr(frame.nodes[node], name)[_COMBINATION] for name in names]

    ends = []
    for e in model.elements:
        (piece,) = frame.members[e.id].sub_members.values()
        ends.append(np.asarray(piece.f(_COMBINATION)).ravel())
    springs = _spring_forces(frame, model, case)
    reactions = {
        node: np.array(of(node, tuple(f"Rxn{f}" for f in _FORCES))) - springs.get(node, 0.0)
        for node, flags in case.supports.items()
        if any(flags)
    }
    return PyNiteSolution(
        np.array([of(node, _DOFS) for node in model.nodes]), reactions, np.array(ends)
    )


def _spring_forces(frame: FEModel3D, model: FrameModel, case: LoadCase) -> dict[str, Array]:
    """PyNite counts the force of a support spring as reaction; ours does not."""
    return {
        s.i: -np.array(s.k) * [getattr(frame.nodes[s.i], d)[_COMBINATION] for d in _DOFS]
        for s in (*model.springs, *case.springs)
    }


def representable(model: FrameModel) -> bool:
    euler = all(isinf(e.section.Asy) and isinf(e.section.Asz) for e in model.elements)
    return euler and not model.rigid_links and not model.equal_dofs


MODELS = list(dict.fromkeys(r.of for r in STATIC))
TAKEN = [of for of in MODELS if representable(of.file.model)]
REFERENCES = [r for r in STATIC if r.of in TAKEN]


@cache
def pynite_answers(of: CaseModel) -> Answers:
    file = of.file
    return Answers(solutions={case.name: solve_pynite(file.model, case) for case in file.cases})


def largest_difference(ours, theirs) -> float:
    """Relative, scaled as in the cross-check with OpenSees."""
    return compare(ours, theirs).largest


@pytest.mark.parametrize("reference", named(REFERENCES))
def test_static_reference(reference):
    assert_met(reference, evaluate(reference, pynite_answers(reference.of)))


@pytest.mark.parametrize("of", [pytest.param(of, id=f"{of.case}-{of.name}") for of in TAKEN])
def test_our_solver_agrees(of):
    for name, ours in our_answers(of).solutions.items():
        # 1e-8 at most, in the slender fine meshes (condition 2e9): PyNite solves without refinement.
        assert largest_difference(ours, pynite_answers(of).solutions[name]) < 5e-8


def test_what_is_left_out_is_known():
    left_out = {f"{of.case}-{of.name}" for of in MODELS if of not in TAKEN}
    assert left_out == {"S01-timoshenko", "S01-mh", "S09-ssll05", "S09-offset"}
    assert len(REFERENCES) == 204 - 13 - 3 - 17


@pytest.mark.parametrize("seed", range(10))
def test_random_frames_agree(seed):
    """Members at any roll angle, no springs between nodes."""
    model, case = random_frame(seed, links=False)
    model = replace(
        model,
        springs=(),
        elements=tuple(
            replace(e, section=replace(e.section, Asy=float("inf"), Asz=float("inf")))
            for e in model.elements
        ),
    )
    assert largest_difference(solve(model, [case])[case.name], solve_pynite(model, case)) < 1e-8


def test_a_wrong_roll_angle_is_noticed():
    model, case = random_frame(2, links=False)
    model = replace(
        model,
        springs=(),
        elements=tuple(
            replace(e, section=replace(e.section, Asy=float("inf"), Asz=float("inf")))
            for e in model.elements
        ),
    )
    turned = replace(
        model, elements=(replace(model.elements[0], vxy=(0.3, -1.0, 0.9)), *model.elements[1:])
    )
    assert largest_difference(solve(turned, [case])[case.name], solve_pynite(model, case)) > 1e-4


def test_bicycle_space_frame_a():
    """Space frame A (University of Alberta ANSYS tutorial, 2001): the input is published, its results are not readable.

    So this is no published figure but an agreement of independent programs: ours, PyNite, and the five figures
    that an older calculation with both an own beam code and PyNite gave (Euler-Bernoulli).
    """
    model, case = space_frame_a()
    ours, theirs = solve(model, [case])[case.name], solve_pynite(model, case)
    assert largest_difference(ours, theirs) < 1e-9
    for solution in (ours, theirs):
        u = dict(zip(model.nodes, solution.u, strict=True))
        assert [u["3"][1], u["4"][1], u["2"][0], u["3"][0], u["5"][0], u["6"][0]] == pytest.approx(
            [-0.18651, -0.18298, -0.18908, -0.20675, -0.08098, -0.08098], abs=6e-6
        )
        assert [solution.reactions[node][1] for node in "156"] == pytest.approx(
            [315.152, 242.424, 242.424], abs=6e-4
        )
        assert sum(solution.reactions[node][1] for node in "156") == pytest.approx(800.0, rel=1e-9)
        axial = [f[0] for f in solution.end_forces]  # on end i: compression is positive
        assert axial == pytest.approx(
            [40.2, 357.5, 89.1, -449.6, -192.9, -192.9, 304.3, 304.3], abs=0.06
        )
        assert np.hypot(*solution.end_forces.reshape(-1, 6).T[4:]).max() == pytest.approx(
            13773, abs=1
        )
        work = sum(np.dot(load, u[node]) for node, load in case.nodal.items()) / 2
        assert work == pytest.approx(74.2498, abs=6e-5)
