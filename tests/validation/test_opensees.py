"""The cross-check with OpenSees: it agrees where it should, and it notices when it should not."""

import os
import subprocess
import sys
from dataclasses import replace
from math import inf
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.analysis import analyse
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import CASES, cases_of, load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.frame_model import (
    Element,
    EqualDofs,
    FrameModel,
    LoadCase,
    MemberLoad,
    NodeMass,
    RigidLink,
    Spring,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import Section, round_tube
from droptrail.validation.opensees import (
    TOLERANCE,
    OpenSeesError,
    agreement,
    available,
    compare,
    cross_check,
    modes_opensees,
    solve_opensees,
    solve_opensees_cases,
)
from droptrail.validation.opensees.child import in_child
from helpers_bicycle import tourer
from helpers_frames import ALL_SIX, cantilever, random_frame, tip_load, tube_material

ROOT = Path(__file__).parents[2]
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))
pytestmark = needs_opensees
STEEL = tube_material(205e3, 0.29, 7.85e-9)
TUBE = round_tube(28.6, 0.9, 0.29)


def check_of(model, case):
    return cross_check(solve(model, [case]))[case.name]


# --- agreement --------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("block", range(10))
def test_two_hundred_random_frames_agree(block):
    """Skew springs, shear and no shear, unequal Iy and Iz, rigid link, hinge, member loads in both frames."""
    for seed in range(20 * block, 20 * block + 20):
        model, case = random_frame(seed, links=seed % 3 > 0)
        if seed % 2:
            model = replace(
                model,
                elements=tuple(
                    replace(e, section=replace(e.section, Asy=inf, Asz=inf)) for e in model.elements
                ),
            )
        case = replace(
            case,
            member_loads=(
                MemberLoad("e1", (0.3, -0.5, 0.2)),
                MemberLoad("e2", (-0.1, 0.4, 0.7), "local"),
            ),
        )
        check = check_of(model, case)
        assert check.ok, (seed, check.summary, check.differences)


@pytest.mark.parametrize(
    "options",
    [
        MeshOptions(),
        MeshOptions(shear=False),
        MeshOptions(rigid_zones=True),
        MeshOptions(element_length=15.0),
    ],
    ids=["shear", "euler", "rigid-zones", "fine"],
)
def test_the_tourer_agrees_under_every_load_case(options):
    bicycle = tourer()
    results = solve(mesh(bicycle, options), load_cases(bicycle, lay_out(bicycle)))
    checks = cross_check(results)
    assert list(checks) == list(results)
    for name, check in checks.items():
        assert check.ok, (name, check.summary)
        assert check.verdict == "pass"


RELEASES = {
    "one bending end": (5,),
    "both bending planes at j": (10, 11),
    "both ends about y": (4, 10),
    "ball joint": (3, 4, 5),
    "all of bending and torsion at j": (9, 10, 11),
    "axial": (6,),
    "shear slide": (1,),
    "torsion": (3,),
}


@pytest.mark.parametrize("shear", [False, True])
@pytest.mark.parametrize("released", RELEASES.values(), ids=RELEASES.keys())
def test_end_releases_agree_on_a_portal(released, shear):
    section = TUBE if shear else replace(TUBE, Asy=inf, Asz=inf)
    nodes = {
        "a": (0.0, 0.0, 0.0),
        "b": (0.0, 300.0, 0.0),
        "c": (400.0, 300.0, 0.0),
        "d": (400.0, 0.0, 0.0),
    }
    elements = tuple(
        Element(i + j, i, j, section, STEEL, (1.0, 1.0, 0.0), releases=released if i == "b" else ())
        for i, j in ("ab", "bc", "cd")
    )
    case = LoadCase(
        "push",
        {"b": (100.0, -50.0, 30.0, 2e3, 1e3, 4e3)},
        (MemberLoad("bc", (0.1, -0.5, 0.2)),),
        {"a": ALL_SIX, "d": ALL_SIX},
    )
    check = check_of(FrameModel(nodes, elements), case)
    assert check.ok, check.summary


def linked_cantilever(*equal: EqualDofs) -> FrameModel:
    """A clamped tube 0-1, an arm rigidly on its end, and a second tube from the arm's end to `far`."""
    nodes = {
        "0": (0.0, 0.0, 0.0),
        "1": (300.0, 0.0, 0.0),
        "arm": (340.0, 30.0, 10.0),
        "tip": (340.0, 30.0, 10.0),
        "far": (340.0, 400.0, 0.0),
    }
    elements = (
        Element("e", "0", "1", TUBE, STEEL, (0.0, 1.0, 0.0)),
        Element("f", "tip", "far", TUBE, STEEL, (1.0, 0.0, 0.0)),
    )
    return FrameModel(nodes, elements, rigid_links=(RigidLink("1", "arm"),), equal_dofs=equal)


PIN = EqualDofs("arm", "tip", (0, 1, 2))
LINKED = {  # links, supports beside the clamped nodes 0 and far
    "pin on the slave of a rigid link": ((PIN,), {}),
    "pin given the other way round": ((EqualDofs("tip", "arm", (0, 1, 2)),), {}),
    "support on the slave, no shared dofs": (
        (EqualDofs("arm", "tip", tuple(range(6))),),
        {"1": (0, 0, 1, 0, 0, 0)},
    ),
    "support on the arm and a pin there": ((PIN,), {"arm": (0, 1, 0, 0, 0, 0)}),
    "supports on both nodes of the rigid arm": (
        (EqualDofs("arm", "tip", tuple(range(6))),),
        {"1": (0, 0, 1, 0, 0, 0), "arm": (0, 1, 0, 0, 0, 0)},
    ),
}


@pytest.mark.parametrize(("equal", "supports"), LINKED.values(), ids=LINKED.keys())
def test_links_and_supports_in_each_others_way_agree(equal, supports):
    """Each of these gives a wrong answer, or the end of the process, when it is handed over as it stands."""
    case = LoadCase(
        "c",
        {"1": (50.0, 100.0, -20.0, 900.0, 0.0, 0.0)},
        supports={"0": ALL_SIX, "far": ALL_SIX, **supports},
    )
    check = check_of(linked_cantilever(*equal), case)
    assert check.ok, check.summary


@pytest.mark.parametrize("node", ["1", "tip"])
def test_what_cannot_be_arranged_is_refused_before_opensees_ends_the_process(node):
    case = LoadCase(
        "c",
        {"1": (0.0, 100.0, 0.0, 0.0, 0.0, 0.0)},
        supports={"0": ALL_SIX, "far": ALL_SIX, node: (0, 1, 0, 0, 0, 0)},
    )
    assert "share only some dofs" in check_of(linked_cantilever(PIN), case).summary


def test_springs_of_a_load_case_agree():
    model = linked_cantilever()
    lock = Spring(
        "lock", "tip", "arm", (1e5, 1e5, 1e5, 1e6, 2e6, 3e6), (1.0, 0.3, 0.2), (0.0, 1.0, 0.1)
    )
    case = LoadCase(
        "c",
        {"tip": (10.0, 20.0, -30.0, 100.0, 0.0, 50.0)},
        supports={"0": ALL_SIX, "arm": (0, 1, 0, 0, 0, 0)},
        springs=(lock,),
    )
    ours = solve(model, [case])["c"]
    check = cross_check({"c": ours})["c"]
    assert check.ok, check.summary
    assert abs(ours.reactions["arm"][1]) > 1


def test_a_process_of_its_own_gives_the_same_figures():
    model, case = random_frame(3)
    here, there = (
        solve_opensees_cases(model, [case], isolated)[case.name] for isolated in (False, True)
    )
    assert np.array_equal(here.u, there.u)
    assert np.array_equal(here.end_forces, there.end_forces)
    assert here.reactions.keys() == there.reactions.keys()


def test_load_cases_do_not_leak_into_each_other():
    model, case = random_frame(5)
    heavy = replace(
        case, name="heavy", nodal={n: tuple(1e6 * v for v in f) for n, f in case.nodal.items()}
    )
    together = solve_opensees_cases(model, [heavy, case])
    assert np.array_equal(together[case.name].u, solve_opensees(model, case).u)


def test_a_node_linked_to_a_supported_one_keeps_its_displacement():
    """Seen in OpenSees 3.7: in a second load step such a node loses what it moved in the first."""
    model = cantilever(TUBE, STEEL, 300.0, 2)
    model = replace(
        model,
        nodes={**model.nodes, "contact": (0.0, -50.0, 0.0)},
        rigid_links=(RigidLink("0", "contact"),),
    )
    case = LoadCase(
        "turned",
        {"2": (0, 0, 0, 0, 0, 1000.0)},
        supports={"0": (1, 1, 1, 1, 1, 0), "2": (0, 1, 1, 0, 0, 0)},
    )
    results = solve(
        model, [case, replace(case, name="again", nodal={"2": (0, 0, 0, 0, 0, -3000.0)})]
    )
    assert abs(results["turned"].displacement("contact")[0]) > 1e-3
    assert all(check.ok for check in cross_check(results).values())


# --- it can fail --------------------------------------------------------------------------------------------------
def ours_and_theirs():
    model, case = random_frame(11)
    return solve(model, [case])[case.name], solve_opensees(model, case)


@pytest.mark.parametrize(("factor", "ok"), [(0.5, True), (2.0, False), (1e8, False)])
@pytest.mark.parametrize(
    ("kind", "column"), [("u", 1), ("u", 4), ("end_forces", 2), ("end_forces", 5)]
)
def test_a_difference_beyond_the_tolerance_fails(kind, column, factor, ok):
    ours, theirs = ours_and_theirs()
    table = next(
        t
        for t in compare(ours, theirs).tables
        if t.kind == ("displacement" if kind == "u" else "end force")
    )
    moved = getattr(ours, kind).copy()
    moved[2, column] += factor * TOLERANCE * table.scale[column]
    assert compare(replace(ours, **{kind: moved}), theirs).ok is ok


def test_a_reaction_beyond_the_tolerance_or_missing_fails():
    ours, theirs = ours_and_theirs()
    node = next(iter(ours.reactions))
    moved = {**ours.reactions, node: ours.reactions[node] * (1 + 1e-6)}
    assert not compare(replace(ours, reactions=moved), theirs).ok
    assert not compare(replace(ours, reactions={}), theirs).ok


def test_nan_fails():
    ours, theirs = ours_and_theirs()
    u = ours.u.copy()
    u[0, 0] = np.nan
    assert not compare(replace(ours, u=u), theirs).ok


CORRUPTIONS = {
    "one tube's wall": lambda m: replace(
        m, elements=(replace(m.elements[0], section=TUBE), *m.elements[1:])
    ),
    "one roll angle": lambda m: replace(
        m, elements=(replace(m.elements[0], vxy=(1.0, -0.3, 0.8)), *m.elements[1:])
    ),
    "a spring": lambda m: replace(m, springs=m.springs[:1]),
    "the hinge fixed": lambda m: replace(
        m, equal_dofs=(EqualDofs(m.equal_dofs[0].master, "pin", tuple(range(6))),)
    ),
    "the arm's length": lambda m: replace(
        m, nodes={**m.nodes, "arm": tuple(2 * v for v in m.nodes["arm"])}
    ),
    "shear left out": lambda m: replace(
        m,
        elements=tuple(
            replace(e, section=replace(e.section, Asy=inf, Asz=inf)) for e in m.elements
        ),
    ),
}


@pytest.mark.parametrize("corrupt", CORRUPTIONS.values(), ids=CORRUPTIONS.keys())
def test_a_model_that_differs_is_noticed(corrupt):
    model, case = random_frame(12)
    theirs = solve_opensees(corrupt(model), case)
    check = compare(solve(model, [case])[case.name], theirs)
    assert not check.ok
    assert check.verdict == "fail"
    assert "differ by" in check.summary
    assert check.worst(3)[0].difference == check.largest
    assert check.worst(3)[0].difference >= check.worst(3)[2].difference


@pytest.mark.parametrize(
    "change",
    [{"supports": {"0": ALL_SIX, "2": (1, 1, 0, 0, 0, 0)}}, {"nodal": {}}, {"member_loads": ()}],
)
def test_a_load_case_that_differs_is_noticed(change):
    model, case = random_frame(13)
    case = replace(case, member_loads=(MemberLoad("e1", (0.3, -0.5, 0.2)),))
    theirs = solve_opensees(model, replace(case, **change))
    assert not compare(solve(model, [case])[case.name], theirs).ok


# --- what it says when it cannot ------------------------------------------------------------------------------------
def test_what_opensees_cannot_represent_is_said_and_is_not_ok():
    model, case = random_frame(7, links=False)
    released = replace(model.elements[-1], releases=(3,))
    check = check_of(replace(model, elements=(*model.elements[:-1], released)), case)
    assert not check.ok
    assert check.verdict == "not compared"
    assert "cannot represent this end release" in check.summary
    assert check.largest is None
    assert check.rows() == []


def test_one_case_that_cannot_be_compared_does_not_take_the_others_along():
    nodes = {"0": (0.0, 0.0, 0.0), "1": (300.0, 0.0, 0.0), "arm": (340.0, 30.0, 10.0)}
    model = FrameModel(
        nodes,
        (Element("e", "0", "1", TUBE, STEEL, (0.0, 1.0, 0.0)),),
        rigid_links=(RigidLink("1", "arm"),),
    )
    good = LoadCase("good", {"arm": (0.0, 100.0, 0.0, 0.0, 0.0, 0.0)}, supports={"0": ALL_SIX})
    doubled = replace(good, name="doubled", supports={"0": ALL_SIX, "1": ALL_SIX, "arm": ALL_SIX})
    checks = cross_check(solve(model, [good, doubled]))
    assert checks["good"].ok
    assert checks["doubled"].verdict == "not compared"


def test_a_platform_without_opensees_says_so(monkeypatch):
    model, case = random_frame(1)
    monkeypatch.setattr(agreement, "available", lambda: "OpenSees cannot be used with this Python")
    check = check_of(model, case)
    assert check.summary == "not compared with OpenSees: OpenSees cannot be used with this Python"
    assert not check.ok


def test_a_mechanism_is_refused():
    model = cantilever(TUBE, STEEL, 500.0, 4)
    case = replace(tip_load(model, 0, 100.0, 0, 0, 0, 0), supports={"0": (1, 1, 1, 1, 1, 0)})
    with pytest.raises(OpenSeesError, match=r"mechanism|balance"):
        solve_opensees(model, case)


class EndsTheProcess:
    """Unpickled in the child, it does what OpenSees does where it meets something it did not expect."""

    def __reduce__(self):
        return os._exit, (255,)


def test_a_child_that_dies_is_reported_and_the_caller_lives():
    with pytest.raises(OpenSeesError, match="exit code 255"):
        in_child(EndsTheProcess(), [])


def run_python(code: str) -> subprocess.CompletedProcess:
    return subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )


def test_opensees_says_no_farewell():
    run = run_python(
        "from droptrail.validation.opensees import available; print('ours', available())"
    )
    assert (run.stdout, run.stderr) == ("ours None\n", "")


def test_importing_the_cross_check_does_not_load_opensees():
    run = run_python(
        "import droptrail.validation.opensees, sys; print('openseespy' in sys.modules)"
    )
    assert run.stdout == "False\n"


# --- natural frequencies --------------------------------------------------------------------------------------------
def test_free_beam_has_six_rigid_modes_and_the_closed_form_first_bending():
    """Free-free beam, beta L = 4.730041 (Blevins 1979, Table 8-1): f1 of the tube 28.6 x 0.9, L 550, is 589.43 Hz in
    Euler theory without rotary inertia."""
    section = replace(TUBE, Asy=inf, Asz=inf)
    model = cantilever(section, Material("steel", 205e3, 80e3, 7.85e-9), 550.0, 16)
    frequencies = modes_opensees(model, {}, 8)
    assert np.all(frequencies[:6] < 1e-3 * frequencies[6])
    assert frequencies[6:] == pytest.approx([589.43, 589.43], rel=2e-5)


def test_torsional_mass_is_the_polar_moment_not_the_torsion_constant():
    """Clamped-free shaft, f = (1/4L) sqrt(GJ / rho Ip) (Blevins 1979, Table 8-19); J is a third of Ip here."""
    section = Section(100.0, 4e3, 4e3, 8e3 / 3)
    model = cantilever(section, STEEL, 300.0, 32)
    only_twist = dict.fromkeys(model.nodes, (1, 1, 1, 0, 1, 1)) | {"0": ALL_SIX}
    expected = (STEEL.G * section.J / (STEEL.rho * 8e3)) ** 0.5 / (4 * 300.0)
    assert modes_opensees(model, only_twist, 1)[0] == pytest.approx(expected, rel=2e-4)


def test_mass_on_a_cantilever_of_no_mass():
    """f = sqrt(3 EI / m L^3) / 2 pi, the textbook formula (Blevins 1979, Table 8-8)."""
    section = Section(100.0, 4e3, 6e3, 8e3)
    light = tube_material(205e3, 0.29, 0.0)
    model = replace(
        cantilever(section, light, 400.0), masses=(NodeMass("1", 0.002, (1e-6, 1e-6, 1e-6)),)
    )
    expected = [(3 * light.E * i / (0.002 * 400.0**3)) ** 0.5 / (2 * np.pi) for i in (4e3, 6e3)]
    assert modes_opensees(model, {"0": ALL_SIX}, 2) == pytest.approx(expected, rel=1e-4)


def test_springs_of_the_case_count_in_the_modes():
    model = cantilever(TUBE, STEEL, 500.0, 8)
    stiff = replace(model, rotary=True)
    prop = Spring("prop", "8", None, (0.0, 1e6, 0.0, 0.0, 0.0, 0.0))
    alone, propped = (
        modes_opensees(stiff, {"0": ALL_SIX}, 2, springs) for springs in ((), (prop,))
    )
    assert propped[1] > 1.5 * alone[1]


def test_modes_that_opensees_cannot_give_are_refused():
    model = cantilever(TUBE, STEEL, 500.0, 8)
    with pytest.raises(OpenSeesError, match="rotary"):
        modes_opensees(model, {"0": ALL_SIX}, 2)
    with pytest.raises(OpenSeesError, match="no mass"):
        modes_opensees(cantilever(TUBE, tube_material(205e3, 0.29), 500.0, 8), {"0": ALL_SIX}, 2)


def test_eigenvalues_that_make_no_sense_are_not_passed_on(monkeypatch):
    from droptrail.validation.opensees import modes as opensees_modes

    monkeypatch.setattr(opensees_modes, "_squares", lambda *_: np.array([-5e14, -4e14, *[1e3] * 6]))
    with pytest.raises(OpenSeesError, match="no credible"):
        modes_opensees(replace(cantilever(TUBE, STEEL, 500.0, 8), rotary=True), {}, 8)


# --- the samples, last because they need the whole way from the file -----------------------------------------------
SAMPLES = [
    drawing.with_suffix(".csv") for drawing in sorted((ROOT / "sample_drawings").glob("*.dxf"))
]


@pytest.mark.parametrize("sheet", SAMPLES, ids=lambda path: path.stem)
@pytest.mark.parametrize("rigid_zones", [False, True], ids=["joints", "rigid-zones"])
def test_every_sample_agrees_under_every_load_case(sheet, rigid_zones):
    reading = read_input(sheet)
    names = cases_of(reading.bicycle)
    checks = cross_check(analyse(reading, names, MeshOptions(rigid_zones=rigid_zones)).results)
    assert tuple(checks) == names
    assert {name: check.summary for name, check in checks.items() if not check.ok} == {}


def test_the_samples_are_there():
    assert len(SAMPLES) >= 4
    assert len(CASES) >= 3
