"""The load-case library: statics by hand, supports that carry, set-ups and values of the standard, refusals."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.cases.library import CASES, FATIGUE_PAIRS, MAIN_CASES, cases_of, load_cases
from droptrail.model.cases.tools import moved
from droptrail.model.cases.view import case_picture, idle_supports
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import G_ACCEL, Loads
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.mechanics.solve import solve
from helpers_bicycle import tourer

BIKE = tourer()
LAYOUT = lay_out(BIKE)
MODEL = mesh(BIKE, layout=LAYOUT)
RESULTS = solve(MODEL, load_cases(BIKE, LAYOUT, cases_of(BIKE)))


def total(loads, at=(0.0, 0.0, 0.0)):
    """(6,) resultant of node -> load about a point."""
    return np.sum(
        [moved(load[:3], MODEL.nodes[node], at, load[3:]) for node, load in loads.items()], axis=0
    )


def reactions(case, *nodes):
    return [RESULTS[case].reactions[node] for node in nodes]


# --- the library -------------------------------------------------------------------------------------------------
def test_every_case_has_what_a_reader_needs():
    for name, result in RESULTS.items():
        case = result.case
        assert case.name == name
        assert case.title
        assert case.notes
        assert case.source
        assert case.measures
        assert set(case.touching) == set(case.supports), name


def test_no_support_of_the_library_carries_where_nothing_touches_and_no_wheel_lifts():
    for result in RESULTS.values():
        assert idle_supports(result) == ()


def test_main_cases_stay_the_default():
    assert (
        tuple(c.name for c in load_cases(BIKE, LAYOUT))
        == MAIN_CASES
        == ("seated", "climb", "side_push", "frame_torsion", "saddle_push")
    )


def test_an_unknown_case_is_refused_with_the_known_ones():
    with pytest.raises(ModelError, match=r"'sprint' is not known; known: seated, climb"):
        load_cases(BIKE, LAYOUT, ("sprint",))


def test_displacement_at_the_load_is_the_work_of_the_loads():
    """For a single force F the measured way is 2 U / F, whatever is rigid between the force and the frame."""
    measures = {
        "iso_pedalling_right": "pedal",
        "iso_vertical": "extension",
        "bench_head": "weight_sinks",
    }
    for name, measure in measures.items():
        result = RESULTS[name]
        work = sum(
            float(np.dot(load, result.displacement(node)))
            for node, load in result.case.nodal.items()
        )
        reference = next(m.reference for m in result.case.measures if m.name == measure)
        assert result.measured[measure] == pytest.approx(work / reference, rel=1e-12)
        assert result.measured[measure] > 0


# --- seated, luggage -----------------------------------------------------------------------------------------------
def test_seated_axle_loads_follow_from_moments():
    weight = 80 * G_ACCEL
    xs = {"saddle": 0.55, "bottom_bracket": 0.25, "bar_right": 0.10, "bar_left": 0.10}
    rear_x, front_x = (LAYOUT.joints[axle][0] for axle in ("rear_axle", "front_axle"))
    front = sum(
        weight * share * (LAYOUT.joints[node][0] - rear_x) for node, share in xs.items()
    ) / (front_x - rear_x)
    rear, ahead = reactions("seated", "rear_axle", "front_axle")
    assert ahead[1] == pytest.approx(front, rel=1e-9)
    assert rear[1] == pytest.approx(weight - front, rel=1e-9)


def test_luggage_adds_its_weight_and_says_what_was_taken():
    extra = RESULTS["seated_luggage"], RESULTS["seated"]
    added = total(extra[0].case.nodal)[1] - total(extra[1].case.nodal)[1]
    assert added == pytest.approx(-20 * G_ACCEL)
    assert "none is stated" in extra[0].case.notes
    stated = load_cases(replace(BIKE, loads=Loads(rear_luggage=25)), LAYOUT, ("seated_luggage",))[0]
    assert "luggage 0 kg front, 25 kg rear:" in stated.notes
    assert total(stated.nodal)[1] - total(extra[1].case.nodal)[1] == pytest.approx(-25 * G_ACCEL)


# --- pedalling -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["climb", "climb_left"])
@pytest.mark.parametrize("angle", [300.0, 0.0, 25.0, 80.0])
def test_climb_puts_the_foot_force_on_the_frame_and_the_chain_is_internal(name, angle):
    bike = replace(BIKE, loads=Loads(crank_angle=angle))
    case = load_cases(bike, LAYOUT, (name,))[0]
    side = 1.0 if name == "climb" else -1.0
    loads = total(case.nodal)
    assert loads[:3] == pytest.approx([0, -1000, 0], abs=1e-9)
    # lean: the foot 150 mm out against the hands, 350 N up and down over a bar of 440 mm; chain pull adds none
    # but where it crosses: it pulls the spindle back and the hub forward along one line
    assert loads[3] == pytest.approx(side * (1000 * 150 - 350 * 440), rel=1e-9)
    # turning about the spindle is balanced there: nothing but the chain holds the crank
    assert case.nodal["bottom_bracket"][5] == pytest.approx(0, abs=1e-6)


def test_chain_tension_follows_from_the_crank_torque():
    hub = RESULTS["climb"].case.nodal["rear_axle"]
    fit, axle = BIKE.fittings, LAYOUT.joints["rear_axle"]
    run = np.array([axle[0], axle[1] + fit.sprocket_radius - fit.chainring_radius])
    lever = abs(-fit.chainring_radius * run[0]) / np.linalg.norm(run)
    assert np.hypot(hub[0], hub[1]) == pytest.approx(1000 * 170 / lever, rel=1e-9)
    assert hub[0] > 0  # the chain pulls the hub forward
    assert hub[4] == pytest.approx(
        hub[0] * fit.chainline, rel=1e-9
    )  # and, being on the right, turns it


@pytest.mark.parametrize("angle", [120.0, 180.0, 250.0])
def test_a_crank_angle_that_would_slacken_the_chain_is_refused(angle):
    with pytest.raises(ModelError, match="chain would be slack"):
        load_cases(replace(BIKE, loads=Loads(crank_angle=angle)), LAYOUT, ("climb",))


def test_angles_of_a_full_turn_mean_the_same_as_negative_ones():
    at = [
        load_cases(replace(BIKE, loads=Loads(crank_angle=a)), LAYOUT, ("climb",))[0].nodal
        for a in (330.0, 0.0)
    ]
    assert at[0] != at[1]
    assert at[0]["bottom_bracket"][5] == pytest.approx(0, abs=1e-6)


def test_left_and_right_pedal_without_chain_are_mirror_images():
    """At the bottom of the stroke the chain is slack, so left and right must be exact mirror images."""
    bike = replace(BIKE, loads=Loads(crank_angle=90.0))
    right, left = solve(MODEL, load_cases(bike, LAYOUT, ("climb", "climb_left"))).values()
    for name in right.measured:
        sign = -1 if name == "bb_sideways" else 1
        assert left.measured[name] == pytest.approx(sign * right.measured[name], rel=1e-8)


# --- sideways and torsion ------------------------------------------------------------------------------------------
def test_bench_cases_are_held_at_one_place_only():
    assert total(RESULTS["bench_head"].case.nodal)[2] == pytest.approx(21.6 * G_ACCEL)
    assert set(RESULTS["rear_sideways"].reactions) == {"bottom_bracket"}
    assert set(RESULTS["frame_torsion"].reactions) == {"rear_axle"}
    assert reactions("frame_torsion", "rear_axle")[0] == pytest.approx([0] * 6, abs=1e-3)
    assert reactions("head_torsion", "rear_axle")[0] == pytest.approx(
        [0, 0, 0, -1e5, 0, 0], abs=1e-3
    )


def test_the_same_push_gives_the_same_way_at_either_end():
    """Maxwell-Betti: head moves under the bottom bracket push as the bottom bracket under the head push."""
    head = MODEL.node_index["head_tube_top"]
    across = RESULTS["bb_push"].u[head, 2]
    assert across == pytest.approx(RESULTS["side_push"].measured["bb_sideways"], rel=1e-9)


# --- braking -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["brake_front_rim", "brake_front_disc"])
def test_braking_is_in_balance_and_loads_the_front_wheel(name):
    loads = total(RESULTS[name].case.nodal)
    assert loads[0] == pytest.approx(
        0, abs=1e-9
    )  # the road's push back is the rider's push forward
    rear, front = reactions(name, "rear_axle", "front_axle")
    assert rear[0] == pytest.approx(0, abs=1e-6)
    force, mass_height = (
        0.5 * 80 * G_ACCEL,
        LAYOUT.joints["saddle"][1] + 150 - BIKE.dimensions.ground_y,
    )
    wheelbase = LAYOUT.joints["front_axle"][0] - LAYOUT.joints["rear_axle"][0]
    shift = front[1] - reactions("seated", "front_axle")[0][1]
    assert shift == pytest.approx(
        force * mass_height / wheelbase, rel=1e-9
    )  # textbook weight transfer, F h / L
    assert rear[1] > 0


def test_the_disc_brake_loads_its_own_side_more():
    """The caliper's torque enters at the left dropout; the axle, clamped in both, hands part of it to the right."""
    result = RESULTS["brake_front_disc"]
    at_dropout = {
        e.member: float(np.linalg.norm(f[[10, 11]]))
        for e, f in zip(MODEL.elements, result.end_forces, strict=True)
        if e.member.startswith("fork_blade")
    }
    torque = 0.5 * 80 * G_ACCEL * BIKE.dimensions.wheel_radius_front
    assert at_dropout["fork_blade_left"] > 1.3 * at_dropout["fork_blade_right"]
    assert sum(at_dropout.values()) == pytest.approx(torque, rel=0.01)


# --- ISO 4210 -------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("kind", "forces"),
    [
        ("city", (1000, 450, 450, 1000)),
        ("young adult", (1000, 450, 450, 500)),
        ("mountain", (1200, 1200, 600, 1200)),
        ("racing", (1100, 600, 600, 1200)),
    ],
)
def test_peak_loads_by_type_of_bicycle(kind, forces):
    """ISO 4210-6; most of them from memory, and marked so."""
    names = (
        "iso_pedalling_right",
        "iso_horizontal_forward",
        "iso_horizontal_rearward",
        "iso_vertical",
    )
    cases = load_cases(replace(BIKE, bicycle_type=kind), LAYOUT, names)
    applied = [np.linalg.norm(total(case.nodal)[:3]) for case in cases]
    assert applied == pytest.approx(forces)
    assert all("FROM MEMORY" in case.source for case in cases)
    assert all(kind in case.notes for case in cases)


def test_an_unknown_type_is_refused():
    with pytest.raises(
        ModelError, match="'tandem' is not known; known: city, young adult, mountain, racing"
    ):
        load_cases(replace(BIKE, bicycle_type="tandem"), LAYOUT, ("iso_vertical",))


def test_pedalling_force_is_tilted_and_rests_on_link_and_mount():
    result = RESULTS["iso_pedalling_right"]
    resultant = total(result.case.nodal)
    assert np.degrees(np.arctan2(resultant[2], resultant[1] * -1)) == pytest.approx(-7.5)
    link = result.reactions["rear_contact"]
    assert link[[0, 3, 4, 5]] == pytest.approx([0, 0, 0, 0])
    # the link's foot does not move up or sideways, the axle leans about it
    u, foot = result.displacement("rear_axle"), result.displacement("rear_contact")
    radius = BIKE.dimensions.wheel_radius_rear
    assert foot[1:3] == pytest.approx([0, 0], abs=1e-9)
    assert u[2] == pytest.approx(radius * u[3], rel=1e-9)
    assert abs(u[3]) > 1e-4


def test_left_and_right_of_the_standard_differ_by_the_tie_rod_only():
    right, left = (RESULTS[f"iso_pedalling_{side}"].measured["pedal"] for side in ("right", "left"))
    assert 0.7 < left / right < 1.0  # the rod on the right opposes the left pedal's twist


def test_horizontal_forces_are_equal_and_opposite_for_a_city_bicycle():
    a, b = (RESULTS[f"iso_horizontal_{way}"] for way in ("forward", "rearward"))
    assert a.u == pytest.approx(-b.u, abs=1e-12)
    assert reactions("iso_horizontal_forward", "rear_axle")[0] == pytest.approx(
        [-450, 0, 0, 0, 0, 0], abs=1e-4
    )


def test_vertical_force_acts_behind_the_seat_tube():
    rear, front = reactions("iso_vertical", "rear_axle", "front_axle")
    x = LAYOUT.joints["saddle"][0] - 70
    rear_x, front_x = (LAYOUT.joints[axle][0] for axle in ("rear_axle", "front_axle"))
    assert front[1] == pytest.approx(1000 * (x - rear_x) / (front_x - rear_x), rel=1e-9)
    assert rear[1] + front[1] == pytest.approx(1000)


def test_stiffness_tests_use_the_annex_loads():
    """TBIS 4210-6:2019 annex E: 800 N on the pedal, 300 N along the front axle."""
    assert np.linalg.norm(total(RESULTS["stiffness_pedal_left"].case.nodal)[:3]) == pytest.approx(
        800
    )
    lateral = RESULTS["stiffness_lateral"]
    assert total(lateral.case.nodal)[2] == 300
    reach = LAYOUT.joints["front_axle"][0] - LAYOUT.joints["rear_axle"][0]
    angle = np.degrees(lateral.measured["front_sideways"] / reach)
    assert lateral.stiffness["front_turn"] == pytest.approx(300 * reach / 1000 / angle, rel=1e-9)


def test_fatigue_pairs_are_cases_of_the_library():
    assert all(name in CASES for pair in FATIGUE_PAIRS for name in pair)


# --- findings and pictures -------------------------------------------------------------------------------------------
def test_a_support_left_on_at_the_saddle_is_flagged():
    case = RESULTS["seated"].case
    forgotten = replace(case, supports={**case.supports, "saddle": (0, 1, 0, 0, 0, 0)})
    found = {f.code: f for f in idle_supports(solve(MODEL, [forgotten])["seated"])}
    assert found["support-untouched"].where == "saddle"
    assert "saddle carries" in found["support-untouched"].message
    assert (
        found["wheel-lifts"].where == "rear_axle"
    )  # the prop at the saddle takes the rear wheel's load and more


def test_a_support_that_carries_nothing_is_not_flagged():
    case = RESULTS["seated"].case
    harmless = replace(case, supports={**case.supports, "saddle": (0, 0, 1, 0, 0, 0)})
    assert idle_supports(solve(MODEL, [harmless])["seated"]) == ()


def test_a_lifting_wheel_is_flagged():
    case = RESULTS["seated"].case
    behind = replace(
        case, nodal={"saddle": moved((0, -700, 0), (-900, 0, 0), LAYOUT.joints["saddle"])}
    )
    (finding,) = idle_supports(solve(MODEL, [behind])["seated"])
    assert (finding.code, finding.where) == ("wheel-lifts", "front_axle")


def test_the_picture_holds_every_load_and_support_in_place():
    for name, result in RESULTS.items():
        picture = case_picture(MODEL, result.case, result)
        arrows = {what: np.zeros(6) for what in ("load", "reaction")}
        for a in picture.arrows:
            arrows[a.what] += (
                moved(a.vector, a.at, (0, 0, 0)) if a.kind == "force" else (0, 0, 0, *a.vector)
            )
        assert arrows["load"] == pytest.approx(total(result.case.nodal), abs=1e-6)
        assert arrows["reaction"] == pytest.approx(
            -arrows["load"], abs=1e-3 * max(abs(arrows["load"])) + 1e-3
        ), name
        assert {m.node for m in picture.supports} == set(result.case.supports)
        assert all(m.touching for m in picture.supports)


def test_the_picture_shows_uniform_loads_in_global_axes():
    element = next(e for e in MODEL.elements if e.member == "seat_tube")
    length = np.linalg.norm(np.subtract(MODEL.nodes[element.j], MODEL.nodes[element.i]))
    case = replace(
        RESULTS["seated"].case,
        nodal={},
        member_loads=(MemberLoad(element.id, (0.5, 0, 0), "local"),),
    )
    (arrow,) = case_picture(MODEL, case).arrows
    along = np.subtract(MODEL.nodes[element.j], MODEL.nodes[element.i]) / length
    assert arrow.vector == pytest.approx(tuple(0.5 * length * along))
