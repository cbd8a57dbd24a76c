"""The mechanics of plans: bent tubes against closed forms, added tubes against Rayleigh, plans against mirrors."""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.bicycle import Bicycle, Loads, luggage_lumps, rear_hangs
from droptrail.model.frame.clearance import clearances
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase
from droptrail.model.mechanics.result import Result
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.bends import Bend, bent_path, read_bend
from droptrail.model.tubes.known_plans import DIAMOND, PLANS
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.places import Along
from droptrail.model.tubes.plan import TubeRole
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import tourer
from scipy.integrate import quad

STEEL = find_material("4130")
TUBE = Tube(STEEL, 28.6, 28.6, (0.8,))
# Every tube plain: an element is then exact wherever it is cut, and only what is asked for differs.
PLAIN = replace(
    tourer(),
    tubes={role.name: Tube(STEEL, *role.plain[:2], role.plain[2:]) for role in DIAMOND.roles},
)
THIN = MeshOptions(shear=False)


def bent(bicycle: Bicycle, tube: str, bend: Bend | None) -> Bicycle:
    return replace(
        bicycle, plan=bicycle.plan.with_roles(replace(bicycle.plan.role(tube), bend=bend))
    )


def solved(bicycle: Bicycle, *names: str) -> dict[str, Result]:
    layout = lay_out(bicycle)
    return solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, names))


# --- arcs -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("sagitta", [40.0, -120.0, 1e-3])
def test_an_arc_lies_on_its_circle(sagitta: float) -> None:
    start, end = np.array([10.0, 20.0, 5.0]), np.array([500.0, 90.0, 5.0])
    path = np.array(bent_path(Bend(sagitta=sagitta), start, end, 1.0, float))
    chord = np.linalg.norm(end - start)
    # r = (c² + 4 s²) / 8 s, any handbook of geometry
    radius = (chord**2 + 4 * sagitta**2) / (8 * abs(sagitta))
    upwards = np.array([-(end - start)[1], (end - start)[0], 0.0]) / chord
    centre = (start + end) / 2 + (sagitta - np.sign(sagitta) * radius) * upwards
    assert np.linalg.norm(path - centre, axis=1) == pytest.approx(radius, rel=1e-9)
    assert (path[0] == start).all()
    assert (path[-1] == end).all()
    by_radius = bent_path(Bend(radius=np.sign(sagitta) * radius), start, end, 1.0, float)
    assert np.array(by_radius) == pytest.approx(path, abs=1e-5)


def test_up_is_up_forward_and_outwards() -> None:
    def middle(end: tuple[float, float, float], text: str, sign: float = 1.0) -> np.ndarray:
        path = bent_path(read_bend(text), (0.0, 0.0, 0.0), end, sign, float)
        return np.array(path[len(path) // 2])

    assert middle((500.0, 100.0, 0.0), "sagitta 30")[1] > 50
    assert middle((-500.0, 100.0, 0.0), "sagitta 30")[1] > 50
    assert middle((-150.0, 500.0, 0.0), "sagitta 30")[0] > -75
    assert middle((-400.0, 0.0, 0.0), "sagitta 8 out", -1.0)[2] == pytest.approx(-8.0)
    assert middle((-400.0, 0.0, 0.0), "via 0.5 up -20 out 6", -1.0)[1:] == pytest.approx((-20, -6))


@pytest.mark.parametrize("bend", [Bend(sagitta=60.0), read_bend("via 0.3 up -25, 0.75 up 10")])
def test_a_bent_tube_weighs_what_an_integral_along_it_gives(bend: Bend) -> None:
    bicycle = bent(PLAIN, "top_tube", bend)
    layout = lay_out(bicycle)
    found = mass_table(mesh(bicycle, layout=layout), layout).by_tube["top_tube"].kg
    joints = layout.joints
    start, end = (np.array(joints[j]) for j in ("seat_tube_top_tube_node", "top_tube_head_node"))
    chord = float(np.linalg.norm(end - start))
    if bend.via:
        # Monotone cubics (Fritsch and Carlson): the slope at the ends is theirs, so integrate the curve itself.
        from scipy.interpolate import PchipInterpolator

        rise = PchipInterpolator([0, 0.3, 0.75, 1], [0, -25, 10, 0])
        slope = rise.derivative()
        length = quad(lambda t: np.hypot(chord, slope(t)), 0, 1, limit=200)[0]
    else:
        radius = (chord**2 + 4 * 60**2) / (8 * 60)
        length = 2 * radius * np.arcsin(chord / 2 / radius)
    area = np.pi * (28.6**2 - 27.0**2) / 4
    # chords of 2.5 degrees: short by 8e-5 of the length at most
    assert found == pytest.approx(1000 * STEEL.rho * area * length, rel=2e-4)
    assert found < 1000 * STEEL.rho * area * length


def cantilever(bicycle: Bicycle) -> FrameModel:
    """The top tube of the mesh alone, with its seat tube end to be held."""
    whole = mesh(bicycle, THIN)
    elements = tuple(e for e in whole.elements if e.member == "top_tube")
    nodes = {node: whole.nodes[node] for e in elements for node in (e.i, e.j)}
    return FrameModel(nodes, elements)


@pytest.mark.parametrize("sagitta", [30.0, 110.0, -200.0])
@pytest.mark.parametrize("direction", [0, 1, 2])
def test_a_bent_tube_bends_as_a_segment_of_a_ring(sagitta: float, direction: int) -> None:
    """A bar along a circular arc, held at one end, by Castigliano's theorem: the strain energy of the closed forms of
    thrust, moment and torque along the arc (Timoshenko, Strength of Materials I, curved bars; from memory). For a
    quarter of a ring they give the handbook's pi P R^3 / 4 E I, which is asked for below."""
    bicycle = bent(PLAIN, "top_tube", Bend(sagitta=sagitta))
    model = cantilever(bicycle)
    joints = lay_out(bicycle).joints
    start, end = (np.array(joints[j]) for j in ("seat_tube_top_tube_node", "top_tube_head_node"))
    force = np.zeros(6)
    force[direction] = 100.0
    case = LoadCase(
        "end",
        {"top_tube_head_node": tuple(force)},
        supports={"seat_tube_top_tube_node": (True,) * 6},
    )
    result = solve(model, [case])["end"]
    moved = result.displacement("top_tube_head_node")[direction]
    assert moved == pytest.approx(ring_deflection(start, end, sagitta, force[:3]), rel=1.5e-3)


def ring_deflection(start: np.ndarray, end: np.ndarray, sagitta: float, force: np.ndarray) -> float:
    """Along the force, mm, by integration over the true arc."""
    chord = float(np.linalg.norm(end - start))
    radius = (chord**2 + 4 * sagitta**2) / (8 * abs(sagitta))
    half = np.arcsin(chord / 2 / radius)
    along = (end - start) / chord
    up = np.sign(sagitta) * np.array([-along[1], along[0], 0.0])
    centre = (start + end) / 2 - radius * np.cos(half) * up
    d, t = 28.6, 0.8
    area = np.pi * (d**2 - (d - 2 * t) ** 2) / 4
    inertia = np.pi * (d**4 - (d - 2 * t) ** 4) / 64

    def energy(turn: float) -> float:
        """Of one mm of tube, per force squared and halved: N²/EA + M²/EI + T²/GJ."""
        place = centre + radius * (np.sin(turn) * along + np.cos(turn) * up)
        tangent = np.cos(turn) * along - np.sin(turn) * up
        moment = np.cross(end - place, force)
        torque = moment @ tangent
        bending = moment @ moment - torque**2
        thrust = (force @ tangent) ** 2 / (STEEL.E * area)
        return thrust + bending / (STEEL.E * inertia) + torque**2 / (STEEL.G * 2 * inertia)

    work = radius * quad(energy, -half, half)[0]
    return work / float(np.linalg.norm(force))


def test_the_reference_itself_is_the_handbook_quarter_ring() -> None:
    """Quarter ring held at one end, load at the other square to its end: pi P R^3 / 4 E I, plus pi P R / 4 E A of
    thrust; out of its plane P R^3 (pi / 4 E I + (3 pi / 4 - 2) / G J) (Timoshenko; Roark's Formulas; from memory)."""
    r = 300.0
    start, end = np.array([0.0, 0.0, 0.0]), np.array([r, r, 0.0])
    rise = r * (1 - np.cos(np.pi / 4))
    inertia = np.pi * (28.6**4 - 27.0**4) / 64
    area = np.pi * (28.6**2 - 27.0**2) / 4
    # Bowed up and back, so it begins upright and ends level: the load is across its end.
    found = ring_deflection(start, end, rise, np.array([0.0, 1.0, 0.0]))
    assert found == pytest.approx(
        np.pi * r**3 / (4 * STEEL.E * inertia) + np.pi * r / (4 * STEEL.E * area), rel=1e-9
    )
    across = ring_deflection(start, end, rise, np.array([0.0, 0.0, 1.0]))
    expected = np.pi / (4 * STEEL.E * inertia) + (3 * np.pi / 4 - 2) / (STEEL.G * 2 * inertia)
    assert across == pytest.approx(r**3 * expected, rel=1e-9)


def test_a_vanishing_sagitta_gives_the_straight_tube() -> None:
    straight = solved(PLAIN)
    nearly = solved(bent(PLAIN, "down_tube", Bend(sagitta=1e-6)))
    for name, case in straight.items():
        for measure, value in case.measured.items():
            assert nearly[name].measured[measure] == pytest.approx(value, rel=1e-7, abs=1e-12)
    # and a real one does not
    bowed = solved(bent(PLAIN, "down_tube", Bend(sagitta=30.0)))
    assert bowed["saddle_push"].measured != pytest.approx(
        straight["saddle_push"].measured, rel=1e-3
    )


def test_a_tube_on_a_bent_one_stands_where_its_arc_passes() -> None:
    """Were its node set by the straight distance, the mesh would run forth and back and be longer than the tube."""
    bicycle = bent(PLAIN, "top_tube", Bend(sagitta=200.0))
    role = TubeRole("brace", (Along("top_tube", 0.9), Along("down_tube", 0.5)), optional=True)
    bicycle = replace(
        bicycle, plan=bicycle.plan.with_roles(role), tubes={**bicycle.tubes, "brace": TUBE}
    )
    layout = lay_out(bicycle)
    model = mesh(bicycle, layout=layout)
    member = next(m for m in layout.members if m.name == "top_tube")
    ends = [(model.nodes[e.i], model.nodes[e.j]) for e in model.elements if e.member == "top_tube"]
    assert sum(np.linalg.norm(np.subtract(a, b)) for a, b in ends) == pytest.approx(member.length)
    used = {node for e in model.elements if e.member == "top_tube" for node in (e.i, e.j)}
    assert "brace_on_top_tube" in used


# --- added tubes ----------------------------------------------------------------------------------------------
def braced(bicycle: Bicycle, tube: Tube) -> Bicycle:
    role = TubeRole("brace", (Along("seat_tube", 0.45), Along("down_tube", 0.5)), optional=True)
    plan = bicycle.plan.with_roles(role)
    return replace(bicycle, plan=plan, tubes={**bicycle.tubes, "brace": tube})


def test_a_brace_of_vanishing_stiffness_changes_nothing() -> None:
    limp = replace(STEEL, E=STEEL.E * 1e-9, G=STEEL.G * 1e-9)
    before = solved(PLAIN)
    after = solved(braced(PLAIN, replace(TUBE, material=limp)))
    stiff = solved(braced(PLAIN, TUBE))
    for name, case in before.items():
        for measure, value in case.measured.items():
            assert after[name].measured[measure] == pytest.approx(value, rel=1e-6, abs=1e-12)
    assert stiff["side_push"].measured != pytest.approx(before["side_push"].measured, rel=1e-3)


@cache
def starter(name: str) -> Bicycle:
    bicycle = plan_starter(PLANS[name])
    tubes = {role.name: Tube(STEEL, *role.plain[:2], role.plain[2:]) for role in bicycle.roles}
    return replace(bicycle, tubes=tubes)


@pytest.mark.parametrize("name", ["second_top_tube", "split_seatstays", "truss_fork"])
def test_a_plan_that_adds_a_tube_never_softens(name: str) -> None:
    """Rayleigh: with the same loads and supports their work falls when anything is added."""
    fewer = solved(starter("diamond"))
    stiffer = 0
    for case, result in solved(starter(name)).items():
        was = work(fewer[case])
        assert result.case.nodal == fewer[case].case.nodal
        assert work(result) <= was * (1 + 1e-9)
        stiffer += work(result) < 0.99 * was
    assert stiffer


def work(result: Result) -> float:
    return sum(
        float(np.dot(load, result.displacement(node))) for node, load in result.case.nodal.items()
    )


@pytest.mark.parametrize("name", PLANS)
def test_a_frame_that_is_its_mirror_image_moves_as_one(name: str) -> None:
    result = solved(starter(name), "seated")["seated"]
    size = float(np.abs(result.u[:, :3]).max())
    for node in result.model.nodes:
        move = np.array(result.displacement(node))
        if "right" in node:
            other = np.array(result.displacement(node.replace("right", "left")))
            assert other == pytest.approx(move * [1, 1, -1, -1, -1, 1], abs=1e-8 * size)
        elif "left" not in node:
            assert move[2] == pytest.approx(0.0, abs=1e-8 * size), node


# --- what goes with the tubes ---------------------------------------------------------------------------------
def test_room_beside_a_bent_tube_is_counted_to_its_arc() -> None:
    """From the front axle to a circle: its centre's distance less its radius, in closed form."""
    low = plan_starter(PLANS["step_through"])
    bicycle = replace(low, placing={**low.placing, "top_tube_sagitta": -60.0})
    joints = lay_out(bicycle).joints
    start, end = (np.array(joints[j]) for j in ("seat_tube_top_tube_node", "top_tube_head_node"))
    chord = end - start
    length = float(np.linalg.norm(chord))
    radius = (length**2 + 4 * 60.0**2) / (8 * 60.0)
    down = np.array([chord[1], -chord[0], 0.0]) / length
    centre = (start + end) / 2 + down * (60.0 - radius)
    axle = np.array([*bicycle.dimensions.front_axle, 0.0])
    nearest = centre + radius * (axle - centre) / np.linalg.norm(axle - centre)
    # the nearest point of the circle lies on the tube
    assert 0 < (nearest - start) @ chord < length**2
    gap = np.linalg.norm(axle - centre) - radius - bicycle.dimensions.wheel_radius_front
    found = {one.name: one.gap for one in clearances(bicycle)}["front tyre to top tube"]
    assert found == pytest.approx(gap - 28.6 / 2, abs=0.05)


def test_luggage_hangs_where_the_stays_of_the_plan_begin() -> None:
    bicycle = plan_starter(PLANS["stays_on_top_tube"])
    lumps = dict(luggage_lumps(Loads(rear_luggage=16.0), bicycle.plan))
    assert lumps["seatstay_on_top_tube_right"] == lumps["seatstay_on_top_tube_left"] == 2.0
    assert sum(lumps.values()) == 16.0
    # one tube in the middle takes both struts
    single = replace(bicycle.plan, struts="down_tube")
    assert rear_hangs(single)["bottom_bracket"] == 0.25


def test_the_mesh_tells_the_words_of_modes_where_a_tube_of_its_own_belongs() -> None:
    model = mesh(braced(PLAIN, TUBE))
    assert model.regions["brace"] == "main triangle"
    assert model.regions["seatstay"] == "rear triangle"
