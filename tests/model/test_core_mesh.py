"""Layout and mesh: where the joints are, how curved parts run, that nodes, walls and sections are where they should be.

Outside facts: vector geometry, and the shape of the tube table itself.
"""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.centre_lines import CURVE_PIECES
from droptrail.model.frame.layout import Member, joints_in_space, lay_out
from droptrail.model.frame.mesh import MeshOptions, in_plane_normal, mesh
from droptrail.model.frame.parts import BRIDGE_CLEARANCE, PARTS
from droptrail.model.frame.rigid_zones import rigid_zone_lengths
from droptrail.model.mechanics.frame_model import (
    Element,
    EqualDofs,
    FrameModel,
    LoadCase,
    Measure,
    NodeMass,
    RigidLink,
    Spring,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.sections import round_tube
from droptrail.model.tubes.tube import Tube, size_at
from helpers_bicycle import STEEL, tourer
from hypothesis import given, settings
from hypothesis import strategies as st

BIKE = tourer()
LAYOUT = lay_out(BIKE)
MESH = mesh(BIKE, layout=LAYOUT)
MEMBERS = {m.name: m for m in LAYOUT.members}


def elements_of(model: FrameModel, member: str) -> list[Element]:
    return [e for e in model.elements if e.member == member]


def stations(model: FrameModel, member: str, start=None) -> np.ndarray:
    """Distance of each node of a member from its first."""
    chain = elements_of(model, member)
    points = np.array([model.nodes[chain[0].i], *(model.nodes[e.j] for e in chain)])
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(points, axis=0), axis=1))])


# --- layout -------------------------------------------------------------------------------------------------------
def test_the_joints_in_the_frames_plane_are_those_of_the_side_view():
    for name, point in BIKE.dimensions.points().items():
        assert LAYOUT.joints[name] == (point.x, point.y, 0.0), name


@pytest.mark.parametrize(
    ("joint", "base", "across"),
    [
        ("shell", (0.0, 0.0), 68.0),
        ("chainstay_shell", (0.0, 0.0), 44.0),
        ("rear_dropout", BIKE.dimensions.rear_axle, 135.0),
        ("front_dropout", BIKE.dimensions.front_axle, 100.0),
        ("seatstay_top", BIKE.dimensions.seat_tube_seatstay_node, 30.0),
        ("crown", BIKE.dimensions.fork_crown, 62.0),
    ],
)
def test_stays_and_blades_splay_by_half_the_spacing_to_each_side(joint, base, across):
    assert LAYOUT.joints[f"{joint}_right"] == (
        base[0],
        base[1],
        across / 2,
    )  # +z is the rider's right
    assert LAYOUT.joints[f"{joint}_left"] == (base[0], base[1], -across / 2)


def test_saddle_stem_and_bar():
    d, f, joints = BIKE.dimensions, BIKE.fittings, LAYOUT.joints
    assert np.hypot(*joints["saddle"][:2]) == pytest.approx(f.saddle_height)
    aside = np.cross(joints["saddle"], joints["seat_tube_top"])[2]
    assert aside == pytest.approx(0, abs=1e-9)  # on the seat tube's axis
    up = np.subtract(joints["stem_clamp"], joints["head_tube_top"])
    assert np.linalg.norm(up) == pytest.approx(f.upper_stack)
    assert up[:2] / f.upper_stack == pytest.approx(d.axis_up)
    assert np.subtract(joints["bar_centre"], joints["stem_clamp"]) == pytest.approx(
        (f.stem_length, 0, 0)
    )
    assert np.subtract(joints["bar_right"], joints["bar_left"]) == pytest.approx(
        (0, 0, f.bar_width)
    )
    assert joints["rear_contact"] == (d.rear_axle.x, d.ground_y, 0.0)


def test_members_run_from_start_to_end_in_the_tube_tables_order():
    """Butts are listed from the start: seat and down tube from the bottom bracket, top tube from the seat tube ..."""
    ends = {name: (m.start, m.end) for name, m in MEMBERS.items()}
    assert ends == {
        "head_tube": ("head_tube_top", "head_tube_bottom"),
        "top_tube": ("seat_tube_top_tube_node", "top_tube_head_node"),
        "down_tube": ("bottom_bracket", "down_tube_head_node"),
        "seat_tube": ("bottom_bracket", "seat_tube_top"),
        "steerer": ("stem_clamp", "fork_crown"),
        "chainstay_right": ("chainstay_shell_right", "rear_dropout_right"),
        "chainstay_left": ("chainstay_shell_left", "rear_dropout_left"),
        "seatstay_right": ("seatstay_top_right", "rear_dropout_right"),
        "seatstay_left": ("seatstay_top_left", "rear_dropout_left"),
        "fork_blade_right": ("crown_right", "front_dropout_right"),
        "fork_blade_left": ("crown_left", "front_dropout_left"),
    }
    for name, member in MEMBERS.items():
        assert member.tube == name.removesuffix("_right").removesuffix("_left")
        assert member.path[0] == LAYOUT.joints[member.start]
        assert member.path[-1] == LAYOUT.joints[member.end]


def test_joints_on_a_tube_are_met_in_order():
    assert MEMBERS["seat_tube"].joints == ("seat_tube_seatstay_node", "seat_tube_top_tube_node")
    above = replace(BIKE, dimensions=replace(BIKE.dimensions, seatstay_below_top_tube=-10.0))
    seat = next(m for m in lay_out(above).members if m.name == "seat_tube")
    assert seat.joints == ("seat_tube_top_tube_node", "seat_tube_seatstay_node")
    assert MEMBERS["steerer"].joints == ("steerer_upper", "steerer_lower")


def test_joints_on_one_point_share_a_node():
    assert LAYOUT.same_as == {}
    assert (
        lay_out(
            replace(BIKE, dimensions=replace(BIKE.dimensions, seatstay_below_top_tube=0.5))
        ).same_as
        == {}
    )
    joined = lay_out(
        replace(
            BIKE,
            dimensions=replace(
                BIKE.dimensions, seatstay_below_top_tube=0.0, top_tube_below_head_top=0.0
            ),
        )
    )
    assert joined.same_as == {
        "seat_tube_top_tube_node": "seat_tube_seatstay_node",
        "top_tube_head_node": "head_tube_top",
    }
    assert joined.node("seat_tube_top_tube_node") == "seat_tube_seatstay_node"
    assert joined.node("rear_axle") == "rear_axle"
    three = lay_out(
        replace(
            BIKE, dimensions=replace(BIKE.dimensions, seat_tube=522.0, seatstay_below_top_tube=0.0)
        )
    )
    assert set(three.same_as.values()) == {"seat_tube_seatstay_node"}
    assert set(three.same_as) == {"seat_tube_top_tube_node", "seat_tube_top"}


@pytest.mark.parametrize("straight", [1.0, 150.0, 300.0])
def test_a_raked_blade_starts_along_the_axis_and_ends_at_the_axle(straight):
    """Parallel to the steering axis, then an arc tangent to it: equal turns, equal pieces, no kink at the start."""
    bicycle = replace(BIKE, fittings=replace(BIKE.fittings, blade_straight=straight))
    layout = lay_out(bicycle)
    for side, sign in (("right", 1.0), ("left", -1.0)):
        path = np.array(next(m for m in layout.members if m.name == f"fork_blade_{side}").path)
        assert len(path) == CURVE_PIECES + 2
        ends = [layout.joints[f"crown_{side}"], layout.joints[f"front_dropout_{side}"]]
        np.testing.assert_allclose(path[[0, -1]], ends, atol=1e-9)
        flat = path[:, :2]
        first = flat[1] - flat[0]
        assert np.linalg.norm(first) == pytest.approx(straight)
        np.testing.assert_allclose(
            first / straight, np.negative(bicycle.dimensions.axis_up), atol=1e-12
        )
        pieces = np.diff(flat, axis=0)[1:]
        sizes = np.linalg.norm(pieces, axis=1)
        np.testing.assert_allclose(sizes, sizes[0], rtol=1e-9)
        units = np.vstack([first / straight, pieces / sizes[:, None]])
        turns = units[:-1, 0] * units[1:, 1] - units[:-1, 1] * units[1:, 0]
        np.testing.assert_allclose(turns[1:], turns[1], rtol=1e-6)
        assert turns[0] == pytest.approx(
            turns[1] / 2, rel=0.01
        )  # half a turn between tangent and first chord
        assert turns[1] > 0  # towards the front
        run = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(flat, axis=0), axis=1))])
        np.testing.assert_allclose(
            path[:, 2], sign * (31.0 + 19.0 * run / run[-1]), atol=1e-9
        )  # even splay, 62 to 100


def test_a_raked_blade_ends_at_the_axle_whatever_the_rake_turns_to():
    backwards = replace(
        BIKE,
        dimensions=replace(BIKE.dimensions, fork_offset=-20.0),
        fittings=replace(BIKE.fittings, blade_straight=200.0),
    )
    layout = lay_out(backwards)
    path = np.array(next(m for m in layout.members if m.name == "fork_blade_right").path)
    np.testing.assert_allclose(path[-1], layout.joints["front_dropout_right"], atol=1e-9)
    assert np.cross(path[1] - path[0], path[2] - path[1])[2] < 0


@pytest.mark.parametrize(
    ("straight", "offset"), [(339.1, 50.0), (389.0, 50.0), (420.0, 50.0), (200.0, 0.0)]
)
def test_a_straight_part_without_room_for_the_curve_is_refused(straight, offset):
    bicycle = replace(
        BIKE,
        dimensions=replace(BIKE.dimensions, fork_offset=offset),
        fittings=replace(BIKE.fittings, blade_straight=straight),
    )
    with pytest.raises(
        ModelError,
        match=f"straight part of the fork blade, {straight:g} mm, leaves no room for the "
        "curve; shorten it",
    ):
        lay_out(bicycle)


def test_curved_seatstays_bow_outwards_by_the_stated_rise():
    layout = lay_out(replace(BIKE, fittings=replace(BIKE.fittings, stay_curve=12.0)))
    for side, sign in (("right", 1.0), ("left", -1.0)):
        path = np.array(next(m for m in layout.members if m.name == f"seatstay_{side}").path)
        assert len(path) == CURVE_PIECES + 1
        ends = path[[0, -1]]
        np.testing.assert_allclose(
            ends, [layout.joints[f"seatstay_top_{side}"], layout.joints[f"rear_dropout_{side}"]]
        )
        bow = path - np.linspace(*ends, len(path))
        np.testing.assert_allclose(bow[:, :2], 0, atol=1e-9)
        assert sign * bow[CURVE_PIECES // 2, 2] == pytest.approx(12.0)
        assert (sign * bow[1:-1, 2] > 0).all()


def test_a_slight_curve_is_a_curve_and_none_is_straight():
    stays = [
        len(
            next(
                m
                for m in lay_out(
                    replace(BIKE, fittings=replace(BIKE.fittings, stay_curve=bow))
                ).members
                if m.name == "seatstay_right"
            ).path
        )
        for bow in (0.0, 0.5)
    ]
    assert stays == [2, CURVE_PIECES + 1]
    raked = replace(
        BIKE,
        dimensions=replace(BIKE.dimensions, fork_offset=0.5),
        fittings=replace(BIKE.fittings, blade_straight=200.0),
    )
    assert (
        len(next(m for m in lay_out(raked).members if m.name == "fork_blade_left").path)
        == CURVE_PIECES + 2
    )


def test_a_member_is_as_long_as_its_centre_line():
    assert Member("m", "m", "a", "b", ((0, 0, 0), (3, 4, 0), (3, 4, 12))).length == pytest.approx(
        17.0
    )
    assert MEMBERS["chainstay_right"].length == pytest.approx(np.hypot(452.0, 135 / 2 - 22))


def test_points_that_are_not_placed_are_named_and_what_to_state():
    bare = replace(
        BIKE, dimensions=replace(BIKE.dimensions, seat_tube=None, down_tube_above_head_bottom=None)
    )
    with pytest.raises(
        ModelError, match="by the input: seat tube top, joint of down and head tube; state the"
    ):
        lay_out(bare)
    assert joints_in_space(bare)["seat_tube_top"] is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (
            {"top_tube_on_seat_tube": 560.0},
            r"the top tube joins the seat tube 10 mm above its top end; check seat tube "
            r"length and top tube on seat tube$",
        ),
        (
            {"top_tube_below_head_top": 160.0},
            r"the top tube joins the head tube 2\.0 mm below its lower end",
        ),
        (
            {"top_tube_on_seat_tube": 550.5},
            r"the top tube joins the seat tube 0\.5 mm above its top end",
        ),
        (
            {"seatstay_below_top_tube": -40.0},
            r"the seatstays join the seat tube 12 mm above its top end",
        ),
    ],
)
def test_a_joint_beyond_its_tube_is_refused(change, words):
    with pytest.raises(ModelError, match=words):
        lay_out(replace(BIKE, dimensions=replace(BIKE.dimensions, **change)))


# --- mesh: nodes --------------------------------------------------------------------------------------------------
@settings(deadline=None, max_examples=12)
@given(length=st.floats(15.0, 200.0), taper=st.integers(1, 6), cone=st.integers(1, 15))
def test_every_tube_is_one_chain_of_short_enough_pieces_on_its_centre_line(length, taper, cone):
    model = mesh(BIKE, MeshOptions(length, taper, cone), LAYOUT)
    for name, member in MEMBERS.items():
        chain = elements_of(model, name)
        assert [a.j for a in chain[:-1]] == [b.i for b in chain[1:]]
        assert (chain[0].i, chain[-1].j) == (LAYOUT.node(member.start), LAYOUT.node(member.end))
        at = stations(model, name)
        assert np.diff(at).max() <= length * (1 + 1e-9)
        assert at[-1] == pytest.approx(member.length)
        start, end = np.array(member.path[0]), np.array(member.path[-1])
        points = np.array([model.nodes[chain[0].i], *(model.nodes[e.j] for e in chain)])
        np.testing.assert_allclose(points, start + np.outer(at / at[-1], end - start), atol=1e-6)
        tube = BIKE.tubes[member.tube]
        if tube.od_start != tube.od_end:
            assert len(chain) >= cone


def test_joints_are_nodes_of_their_tubes_and_keep_their_names():
    for member in LAYOUT.members:
        chain = elements_of(MESH, member.name)
        nodes = {chain[0].i, *(e.j for e in chain)}
        assert {LAYOUT.node(j) for j in (member.start, member.end, *member.joints)} <= nodes
    for joint in ("saddle", "bar_left", "rear_contact", "steerer_upper", "stem_clamp"):
        assert MESH.nodes[joint] == LAYOUT.joints[joint]


def test_nodes_stand_where_the_wall_begins_to_change():
    at = stations(MESH, "down_tube")
    end = MEMBERS["down_tube"].length
    for stop in (100.0, 130.0, end - 105.0, end - 75.0):
        assert np.abs(at - stop).min() < 1e-9
    inside = (at > 100.0 + 1e-9) & (at < 130.0 - 1e-9)
    assert inside.sum() == MeshOptions().taper_pieces - 1


def test_a_butt_end_next_to_a_joint_gives_no_sliver():
    """A stop within a tenth of a millimetre of a joint is left out; one further off is kept."""
    joint = 506.0  # seat_tube_seatstay_node on the seat tube
    for butt, expected in ((joint - 0.05, False), (joint - 0.2, True)):
        tubes = {**BIKE.tubes, "seat_tube": Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (butt,))}
        at = stations(mesh(replace(BIKE, tubes=tubes)), "seat_tube")
        assert bool(np.abs(at - butt).min() < 1e-9) is expected
        assert np.abs(at - joint).min() < 1e-9


def test_curved_parts_are_meshed_along_the_curve():
    curved = replace(BIKE, fittings=replace(BIKE.fittings, blade_straight=200.0, stay_curve=10.0))
    layout = lay_out(curved)
    model = mesh(curved, layout=layout)
    for name in ("fork_blade_right", "seatstay_left"):
        member = next(m for m in layout.members if m.name == name)
        nodes = {
            tuple(np.round(model.nodes[n], 6)) for e in elements_of(model, name) for n in (e.i, e.j)
        }
        assert {tuple(np.round(p, 6)) for p in member.path} <= nodes
        assert stations(model, name)[-1] == pytest.approx(member.length)


def test_refined_options_halve_every_element():
    fine = mesh(BIKE, MeshOptions().refined(2), LAYOUT)
    options = MeshOptions().refined(2)
    assert (options.element_length, options.taper_pieces, options.cone_pieces) == (30.0, 8, 24)
    for name in MEMBERS:
        assert len(elements_of(fine, name)) >= 1.6 * len(elements_of(MESH, name))


# --- mesh: sections -----------------------------------------------------------------------------------------------
def test_size_along_a_butted_cone():
    tube = Tube(STEEL, 30.0, 20.0, (1.0, 0.6, 0.8), (100.0, 50.0), (40.0, 0.0))
    assert size_at(tube, 500.0, 0.0) == (30.0, 1.0, 30.0)
    assert size_at(tube, 500.0, 120.0) == (
        pytest.approx(27.6),
        pytest.approx(0.8),
        pytest.approx(27.6),
    )  # half way down the taper
    assert size_at(tube, 500.0, 300.0) == (pytest.approx(24.0), 0.6, pytest.approx(24.0))
    assert size_at(tube, 500.0, 500.0) == (20.0, 0.8, 20.0)


def test_size_along_an_oval_that_ends_round_and_is_cylindrical_at_both_ends():
    tube = Tube(STEEL, 30.0, 14.0, (0.8,), oval_width=18.0, oval_end=14.0, straight=(100.0, 50.0))
    along = np.array([0.0, 100.0, 225.0, 350.0, 400.0])
    assert tube.heights(400.0, along) == pytest.approx([30.0, 30.0, 22.0, 14.0, 14.0])
    assert tube.widths(400.0, along) == pytest.approx([18.0, 18.0, 16.0, 14.0, 14.0])
    assert size_at(tube, 400.0, 225.0) == (pytest.approx(22.0), 0.8, pytest.approx(16.0))


def test_every_element_has_the_section_of_its_middle():
    for name in ("top_tube", "chainstay_left", "fork_blade_right"):
        member = MEMBERS[name]
        tube, at = BIKE.tubes[member.tube], stations(MESH, name)
        for element, a, b in zip(elements_of(MESH, name), at[:-1], at[1:], strict=True):
            od, wall, _ = size_at(tube, member.length, (a + b) / 2)
            expected = round_tube(od, wall, STEEL.nu)
            assert pytest.approx(expected.A) == element.section.A
            assert element.section.Iz == pytest.approx(expected.Iz)
            assert element.section.cy == pytest.approx(od / 2)
            assert element.material is STEEL


def test_walls_of_plain_stretches_are_exact():
    walls = {round(e.section.A, 9) for e in elements_of(MESH, "top_tube")}
    for wall in (0.8, 0.5):
        assert round(round_tube(28.6, wall, STEEL.nu).A, 9) in walls
    assert len(walls) == 2 + MeshOptions().taper_pieces  # two tapers of the same four sections


def test_an_oval_tubes_height_lies_in_the_frames_plane():
    oval = tourer(down_tube=Tube(STEEL, 44.0, 44.0, (0.9,), oval_width=30.0))
    for element in elements_of(mesh(oval), "down_tube"):
        assert element.section.Iz > element.section.Iy  # stiff against bending in the plane
        assert element.vxy[2] == 0.0


@pytest.mark.parametrize(
    ("axis", "normal"),
    [
        ((3.0, 4.0, 5.0), (-0.8, 0.6, 0.0)),
        ((0.0, 0.0, 7.0), (0.0, 1.0, 0.0)),
        ((1e-8, 0.0, -7.0), (0.0, 1.0, 0.0)),
        ((-2.0, 0.0, 0.0), (0.0, -1.0, 0.0)),
    ],
)
def test_orientation_lies_in_the_frames_plane_across_the_member(axis, normal):
    assert in_plane_normal(np.array(axis)) == pytest.approx(normal)


def test_without_shear_every_shear_area_is_infinite_and_nothing_else_changes():
    euler = mesh(BIKE, MeshOptions(shear=False), LAYOUT)
    for e, s in zip(euler.elements, MESH.elements, strict=True):
        assert (e.section.Asy, e.section.Asz) == (inf, inf)
        assert replace(e.section, Asy=s.section.Asy, Asz=s.section.Asz) == s.section


# --- mesh: what joins the tubes -----------------------------------------------------------------------------------
def test_the_steerer_turns_in_two_bearings_and_the_stays_hang_on_the_seat_tube():
    assert set(MESH.equal_dofs) == {
        EqualDofs("head_tube_top", "steerer_upper", (0, 1, 2)),
        EqualDofs("head_tube_bottom", "steerer_lower", (0, 1, 2)),
    }
    assert set(MESH.rigid_links) == {
        RigidLink("rear_axle", "rear_contact"),
        RigidLink("front_axle", "front_contact"),
        RigidLink("seat_tube_seatstay_node", "seatstay_top_right"),
        RigidLink("seat_tube_seatstay_node", "seatstay_top_left"),
    }


@pytest.mark.parametrize(
    ("part", "nodes"),
    [
        (
            "bb_shell",
            [
                "shell_left",
                "chainstay_shell_left",
                "bottom_bracket",
                "chainstay_shell_right",
                "shell_right",
            ],
        ),
        ("rear_hub", ["rear_dropout_left", "rear_axle", "rear_dropout_right"]),
        ("front_hub", ["front_dropout_left", "front_axle", "front_dropout_right"]),
        ("fork_crown_piece", ["crown_left", "fork_crown", "crown_right"]),
        ("seat_post", ["seat_tube_top", "saddle"]),
        ("stem", ["stem_clamp", "bar_centre"]),
        ("bar", ["bar_left", "bar_centre", "bar_right"]),
        ("chainstay_bridge", ["chainstay_bridge_left", "chainstay_bridge_right"]),
    ],
)
def test_parts_join_what_they_should(part, nodes):
    chain = elements_of(MESH, part)
    assert [chain[0].i, *(e.j for e in chain)] == nodes
    size = PARTS.get(part, PARTS["bridge"])
    assert all(e.section == size.section and e.material == size.stuff for e in chain)


def test_bridges_clear_the_tyre_and_can_be_left_out():
    rear, radius = np.array(LAYOUT.joints["rear_dropout_right"]), BIKE.dimensions.wheel_radius_rear
    for stay in ("chainstay", "seatstay"):
        at = np.array(MESH.nodes[f"{stay}_bridge_right"])
        assert np.linalg.norm(at - rear) == pytest.approx(radius + BRIDGE_CLEARANCE)
    bare = mesh(BIKE, MeshOptions(bridges=False), LAYOUT)
    assert not [n for n in bare.nodes if "bridge" in n]
    assert not [e for e in bare.elements if "bridge" in e.member]


def test_a_stay_too_short_for_its_bridge_has_none():
    """Chainstay 452.3 mm in space, wheel 348 + 12: 92 mm are left. With 400 mm stays 40 mm are, with 385 mm 25."""
    for stay, expected in ((400.0, True), (385.0, False)):
        model = mesh(replace(BIKE, dimensions=replace(BIKE.dimensions, chainstay=stay)))
        assert ("chainstay_bridge_right" in model.nodes) is expected


def test_shared_nodes_of_a_shell_without_width_are_no_elements():
    """Parts of no length are skipped, such as a bottom bracket shell no wider than the stays."""
    narrow = replace(BIKE, fittings=replace(BIKE.fittings, bb_shell_width=44.0))
    shell = elements_of(mesh(narrow), "bb_shell")
    assert [(e.i, e.j) for e in shell] == [
        ("chainstay_shell_left", "bottom_bracket"),
        ("bottom_bracket", "chainstay_shell_right"),
    ]


def test_a_missing_tube_is_named():
    bare = Bicycle(BIKE.dimensions, {k: v for k, v in BIKE.tubes.items() if k != "fork_blade"})
    with pytest.raises(ModelError, match="the tube table has no fork blade; add a row for it"):
        mesh(bare)


def test_butts_that_do_not_fit_the_head_tube_are_refused():
    with pytest.raises(
        ModelError, match=r"butts and tapers take 200.0 mm, the tube is 158.0 mm long"
    ):
        mesh(tourer(head_tube=Tube(STEEL, 36.0, 36.0, (1.4, 1.1, 1.4), (100.0, 100.0))))


# --- rigid zones --------------------------------------------------------------------------------------------------
def test_rigid_zones_reach_to_the_neighbours_surface():
    """r / sin(angle) along the tube; the shell's radius at the bottom bracket."""
    top = MEMBERS["top_tube"]
    axis = np.subtract(top.path[1], top.path[0]) / top.length
    for end, neighbour in enumerate(("seat_tube", "head_tube")):
        line = (
            np.subtract(MEMBERS[neighbour].path[-1], MEMBERS[neighbour].path[0])
            / MEMBERS[neighbour].length
        )
        zone = rigid_zone_lengths(LAYOUT, BIKE, top)[end]
        point = zone * axis
        assert np.linalg.norm(point - (point @ line) * line) == pytest.approx(
            BIKE.tubes[neighbour].od_start / 2
        )
    assert rigid_zone_lengths(LAYOUT, BIKE, MEMBERS["chainstay_right"]) == (20.0, 0.0)
    assert rigid_zone_lengths(LAYOUT, BIKE, MEMBERS["down_tube"])[0] == 20.0
    assert rigid_zone_lengths(LAYOUT, BIKE, MEMBERS["seatstay_right"]) == (0.0, 0.0)


def test_rigid_zones_shorten_the_tube_and_tie_it_to_the_joint():
    model = mesh(BIKE, MeshOptions(rigid_zones=True), LAYOUT)
    chain = elements_of(model, "top_tube")
    zones = rigid_zone_lengths(LAYOUT, BIKE, MEMBERS["top_tube"])
    assert (chain[0].i, chain[-1].j) == ("top_tube:start", "top_tube:end")
    tied = {
        RigidLink("seat_tube_top_tube_node", "top_tube:start"),
        RigidLink("top_tube_head_node", "top_tube:end"),
    }
    assert tied <= set(model.rigid_links)
    assert stations(model, "top_tube")[-1] == pytest.approx(MEMBERS["top_tube"].length - sum(zones))
    for node, joint, zone in (
        ("top_tube:start", "seat_tube_top_tube_node", zones[0]),
        ("top_tube:end", "top_tube_head_node", zones[1]),
    ):
        assert np.linalg.norm(np.subtract(model.nodes[node], model.nodes[joint])) == pytest.approx(
            zone
        )


def test_zones_stay_the_same_on_any_mesh():
    """Also where elements are shorter than the zone; so the figures converge, with order two, to the zoned frame's."""
    case = load_cases(BIKE, LAYOUT, ("side_push",))
    links, found = [], []
    for refine in (1, 2, 4):
        model = mesh(BIKE, MeshOptions(rigid_zones=True).refined(refine), LAYOUT)
        links.append(
            {
                (link.master, link.slave): tuple(model.nodes[link.slave])
                for link in model.rigid_links
            }
        )
        found.append(solve(model, case)["side_push"].stiffness["head_sideways"])
    assert links[0] == links[1] == links[2]
    assert np.log2((found[0] - found[1]) / (found[1] - found[2])) == pytest.approx(2.0, abs=0.1)


def test_a_zone_takes_the_neighbours_diameter_at_the_joint():
    bike = tourer(head_tube=Tube(STEEL, 36.0, 46.0, (1.4,)))
    top, down = (
        rigid_zone_lengths(LAYOUT, bike, MEMBERS[name])[1] for name in ("top_tube", "down_tube")
    )
    plain_top, plain_down = (
        rigid_zone_lengths(LAYOUT, BIKE, MEMBERS[name])[1] for name in ("top_tube", "down_tube")
    )
    assert top / plain_top == pytest.approx((36.0 + 10.0 * 34 / 158) / 36.0)
    assert down / plain_down == pytest.approx((46.0 - 10.0 * 36 / 158) / 36.0)


def test_zones_that_take_in_a_joint_or_the_whole_tube_are_refused():
    d = replace(BIKE.dimensions, top_tube_on_seat_tube=140.0, seatstay_below_top_tube=125.0)
    with pytest.raises(
        ModelError,
        match="seat tube: rigid zones of 20 and 0 mm at its ends take in the joint seat t",
    ):
        mesh(replace(BIKE, dimensions=d), MeshOptions(rigid_zones=True))
    wide = tourer(seat_tube=Tube(STEEL, 1200.0, 1200.0, (0.9,)))
    with pytest.raises(
        ModelError,
        match=r"top tube: rigid zones of \d+ and 18 mm at its ends take in the whole tube",
    ):
        mesh(wide, MeshOptions(rigid_zones=True))


def test_rigid_zones_make_the_frame_stiffer_by_a_little():
    case = load_cases(BIKE, LAYOUT, ("side_push",))
    plain, zoned = (
        solve(mesh(BIKE, MeshOptions(rigid_zones=z), LAYOUT), case)["side_push"].stiffness[
            "head_sideways"
        ]
        for z in (False, True)
    )
    assert 1.0 < zoned / plain < 1.15


# --- the model's own checks ---------------------------------------------------------------------------------------
TUBE = round_tube(28.6, 0.9, 0.29)
BAR = Element("e", "a", "b", TUBE, STEEL, (0.0, 1.0, 0.0))
NODES = {"a": (0.0, 0.0, 0.0), "b": (100.0, 0.0, 0.0), "c": (0.0, 0.0, 0.0)}


@pytest.mark.parametrize(
    ("parts", "words"),
    [
        (
            {"nodes": {**NODES, "b": (0.0, float("nan"), 0.0)}},
            r"node b: coordinates \(0\.0, nan, 0\.0\) are not finite",
        ),
        (
            {"elements": (replace(BAR, j="x"),)},
            "element e names node 'x', which the model does not have",
        ),
        ({"elements": (replace(BAR, j="a"),)}, "element e joins node 'a' to itself"),
        ({"elements": (replace(BAR, j="c"),)}, "element e: its ends a and c lie on one point"),
        ({"elements": (BAR, replace(BAR, i="b", j="c"))}, r"1 element id\(s\) are used twice"),
        ({"springs": (Spring("s", "x", None, (1.0,) * 6),)}, "spring s names node 'x'"),
        ({"springs": (Spring("s", "a", "x", (1.0,) * 6),)}, "spring s names node 'x'"),
        ({"springs": (Spring("s", "a", "a", (1.0,) * 6),)}, "spring s joins node 'a' to itself"),
        (
            {"springs": (Spring("s", "a", None, (1.0,) * 5),)},
            "spring s: six stiffnesses of zero or more are needed, got",
        ),
        (
            {"springs": (Spring("s", "a", None, (1.0,) * 5 + (-1.0,)),)},
            "spring s: six stiffnesses of zero or more",
        ),
        (
            {"springs": (Spring("s", "a", None, (1.0,) * 5 + (inf,)),)},
            "spring s: six stiffnesses of zero or more",
        ),
        ({"rigid_links": (RigidLink("a", "x"),)}, "rigid link names node 'x'"),
        ({"rigid_links": (RigidLink("a", "a"),)}, "rigid link joins node 'a' to itself"),
        ({"equal_dofs": (EqualDofs("x", "a", (0,)),)}, "equal dofs names node 'x'"),
        ({"masses": (NodeMass("x", 1.0),)}, "mass names node 'x'"),
    ],
)
def test_a_model_that_contradicts_itself_is_refused(parts, words):
    with pytest.raises(ModelError, match=words):
        FrameModel(**{"nodes": NODES, "elements": (BAR,), **parts})


def test_array_views_follow_the_order_of_nodes_and_elements():
    model = FrameModel(
        NODES, (BAR, replace(BAR, id="f", i="b", j="c", section=replace(TUBE, Asy=inf)))
    )
    assert model.node_index == {"a": 0, "b": 1, "c": 2}
    assert model.element_index == {"e": 0, "f": 1}
    assert model.xyz.tolist() == [list(v) for v in NODES.values()]
    assert model.ends.tolist() == [[0, 1], [1, 2]]
    assert model.dofs == 18
    p = model.properties
    assert (p["A"][0], p["Iy"][0], p["Iz"][0], p["J"][0], p["Asz"][1], p["Ip"][0]) == (
        TUBE.A,
        TUBE.Iy,
        TUBE.Iz,
        TUBE.J,
        TUBE.Asz,
        TUBE.polar,
    )
    assert p["Asy"].tolist() == [TUBE.Asy, inf]
    assert (p["E"][0], p["G"][0], p["rho"][0]) == (STEEL.E, STEEL.G, STEEL.rho)


def test_an_empty_model_and_case_are_values_too():
    empty = FrameModel({}, ())
    assert empty.xyz.shape == (0, 3)
    assert empty.ends.shape == (0, 2)
    assert (empty.properties["A"].shape, empty.dofs) == ((0,), 0)
    assert LoadCase("c").supports == {}
    assert Measure("m", ()).reference is None
