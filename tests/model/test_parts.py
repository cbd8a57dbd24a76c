"""Stated parts: hubs by axle standard, the post inside the seat tube, what is still assumed; closed forms, OpenSees."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from droptrail.converters.analysis import assumptions
from droptrail.converters.inputs import Reading
from droptrail.model.cases.library import MAIN_CASES, cases_of, load_cases
from droptrail.model.choice.search import set_up
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.dropouts import DROPOUTS, Dropout
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.hubs import HUBS, Hub, find_hub, is_standard
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.frame.parts import PARTS, Part, assumed_parts
from droptrail.model.frame.slips import bicycle_slips
from droptrail.model.mechanics.frame_model import LoadCase
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.assumed import assumed_share
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.sections import flat_bar
from droptrail.model.tubes.tube import Tube
from droptrail.validation.opensees import available, cross_check
from helpers_bicycle import STEEL, tourer
from helpers_search import THREE, brute_force, options

ALU = find_material("6061-T6")
POST = Part("seat_post", Tube(ALU, 27.2, 27.2, (2.0,)))
QUICK = {"front_hub": find_hub("front_hub", "QR 100"), "rear_hub": find_hub("rear_hub", "QR 135")}
ALL = {
    name: Part(name, replace(part.tube, walls=(part.wall * 0.9,))) for name, part in PARTS.items()
}
EULER = MeshOptions(shear=False)


def with_parts(bicycle=None, **parts):
    bicycle = bicycle or tourer()
    return replace(bicycle, parts={**bicycle.parts, **parts})


def inserted(depth, **tubes):
    return tourer(fittings=Fittings(seat_post_insertion=depth), **tubes)


def second_moment(od, bore):
    return pi / 64 * (od**4 - bore**4)


def alone(model, *members):
    """The elements of these members, and the ties between them."""
    elements = tuple(e for e in model.elements if e.member in members)
    nodes = {n for e in elements for n in (e.i, e.j)}
    ties = tuple(t for t in model.equal_dofs if {t.master, t.slave} <= nodes)
    held = {name: xyz for name, xyz in model.nodes.items() if name in nodes}
    return replace(model, nodes=held, elements=elements, equal_dofs=ties, rigid_links=(), masses=())


def moved(model, node, load, **supports):
    case = LoadCase("hand", {node: load}, supports=supports)
    return solve(model, [case])["hand"].displacement(node)


# --- hubs -----------------------------------------------------------------------------------------------------------
def test_an_axle_between_dropouts_is_bare_where_no_wheel_loads_it():
    """A shell on two bearings that tilt freely is loaded by nothing, so it carries nothing: the axle is a cantilever,
    P L^3 / 3 EI (Gere & Timoshenko, from memory)."""
    hub = alone(mesh(with_parts(**QUICK), EULER), "rear_hub")
    way = moved(hub, "rear_dropout_right", (0, 7.0, 0, 0, 0, 0), rear_dropout_left=(1,) * 6)[1]
    assert way == pytest.approx(7.0 * 135.0**3 / (3 * STEEL.E * second_moment(10.0, 5.0)), rel=1e-9)


def test_the_wheel_stands_on_the_axle_in_two_bearings():
    """Simply supported, two loads W / 2 at a from the ends: each sinks by W a^2 (3 L - 4 a) / 12 EI (Roark, from
    memory); the shell's middle sinks by W s^3 / 48 EI more, s between the bearings."""
    model = mesh(with_parts(**QUICK), EULER)
    hub = alone(model, "front_hub")
    pinned = {"front_dropout_left": (1, 1, 1, 0, 0, 1), "front_dropout_right": (1, 1, 0, 0, 0, 0)}
    way = -moved(hub, "front_axle", (0, -100.0, 0, 0, 0, 0), **pinned)[1]
    length, a = 100.0, QUICK["front_hub"].inset
    axle = STEEL.E * second_moment(9.0, 5.0)
    shell = ALU.E * second_moment(30.0, 24.0)
    at_bearings = 100.0 * a**2 * (3 * length - 4 * a) / (12 * axle)
    assert way == pytest.approx(
        at_bearings + 100.0 * (length - 2 * a) ** 3 / (48 * shell), rel=1e-9
    )


def test_a_hub_of_a_standard_is_no_solid_bar_of_17_mm():
    """A quick-release axle of 10 mm lets the dropouts swivel further than the stand-in, a thru axle less so."""
    figures = {}
    for name, parts in (("bar", {}), ("quick", QUICK)):
        bicycle = with_parts(**parts)
        layout = lay_out(bicycle)
        case = load_cases(bicycle, layout, ("crank_axle_pull",))
        figures[name] = solve(mesh(bicycle, layout=layout), case)["crank_axle_pull"].measured
    assert figures["quick"]["axle_sideways"] > 1.1 * figures["bar"]["axle_sideways"]


@pytest.mark.parametrize(
    ("end", "text", "name"),
    [
        ("front_hub", "QR 100", "QR 100"),
        ("front_hub", "quick release 100 mm", "QR 100"),
        ("front_hub", "9x100", "QR 100"),
        ("front_hub", "15 x 110 boost", "15x110"),
        ("front_hub", "thru axle 12x100", "12x100"),
        ("rear_hub", "10x135", "QR 135"),
        ("rear_hub", "QR130", "QR 130"),
        ("rear_hub", "12x148 boost", "12x148"),
        ("rear_hub", "nutted 120", "nutted 120"),
    ],
)
def test_axle_standards_as_people_write_them(end, text, name):
    assert is_standard(text)
    assert find_hub(end, text).name == name


@pytest.mark.parametrize("text", ["17", "100", "135 mm", "17x8.5", "27.2x2.2", "solid", ""])
def test_sizes_of_a_bar_are_no_standard(text):
    assert not is_standard(text)


def test_an_unknown_standard_is_refused_with_those_known():
    with pytest.raises(
        ModelError, match="front hub 'QR 135': known axle standards are QR 100, nutted 100, 12x100"
    ):
        find_hub("front_hub", "QR 135")


def test_every_standard_makes_a_frame_that_solves():
    for end, hubs in HUBS.items():
        for hub in hubs.values():
            fittings = Fittings(**{f"{end}_spacing": hub.spacing})
            bicycle = with_parts(tourer(fittings=fittings), **{end: hub})
            layout = lay_out(bicycle)
            results = solve(
                mesh(bicycle, layout=layout), load_cases(bicycle, layout, cases_of(bicycle))
            )
            assert all(np.isfinite(v) for r in results.values() for v in r.measured.values())


# --- seat post ------------------------------------------------------------------------------------------------------
def test_post_and_seat_tube_bend_together_over_the_insertion():
    """Two beams side by side that must bend alike: their EI add. A cantilever of EI_both over the insertion a, then of
    the post over b, by the theorems of moment and area (Timoshenko, from memory)."""
    depth, force = 110.0, 50.0
    plain = Tube(STEEL, 28.6, 28.6, (0.7,))
    bicycle = with_parts(inserted(depth, seat_tube=plain), seat_post=POST)
    model = alone(mesh(bicycle, EULER), "seat_tube", "seat_post")
    up = np.array([*bicycle.dimensions.seat_up, 0.0])
    side = (0, 0, force, 0, 0, 0)
    way = moved(model, "saddle", side, seat_post_end=(1,) * 6, bottom_bracket=(1,) * 6)[2]
    post = ALU.E * second_moment(27.2, 23.2)
    both = post + STEEL.E * second_moment(28.6, 27.2)
    top = np.array(model.nodes["seat_tube_top"])
    free = float((np.array(model.nodes["saddle"]) - top) @ up)
    bent = depth**3 / 3 + free * depth**2 / 2 + free * (depth**2 / 2 + free * depth)
    assert way == pytest.approx(force * (free**3 / (3 * post) + bent / both), rel=1e-9)


@pytest.mark.parametrize("depth", [20.0, 28.0, 60.0, 150.0, 300.0])
def test_the_deeper_the_post_the_stiffer_the_saddle(depth):
    """Joints of top tube and stays lie within the deep ones. Rayleigh: what is added cannot lower a stiffness."""
    ways = []
    for inside in (0.0, depth / 2, depth):
        bicycle = inserted(inside)
        layout = lay_out(bicycle)
        case = load_cases(bicycle, layout, ("saddle_push",))
        ways.append(
            solve(mesh(bicycle, layout=layout), case)["saddle_push"].measured["saddle_vertical"]
        )
    assert ways[0] > ways[1] > ways[2]


def test_a_deep_post_is_held_by_the_tube_at_every_joint_it_passes():
    """Top tube 28 mm and seatstays 44 mm below the seat tube's top."""
    for depth, passed in ((20.0, 0), (35.0, 1), (90.0, 2)):
        chain = [e for e in mesh(inserted(depth)).elements if e.member == "seat_post"]
        assert len(chain) == 2 + passed
        assert chain[0].i == "seat_post_end"
        joints = {e.i for e in chain} & {"seat_tube_top_tube_node", "seat_tube_seatstay_node"}
        assert len(joints) == passed


def test_an_inserted_post_makes_the_saddle_some_percent_stiffer():
    """Common practice, no source, coarse band: about a twentieth; as one piece, the upper end, a tenth."""
    ways = []
    for inside in (0.0, 80.0):
        bicycle = inserted(inside)
        layout = lay_out(bicycle)
        case = load_cases(bicycle, layout, ("saddle_push",))
        ways.append(
            solve(mesh(bicycle, layout=layout), case)["saddle_push"].measured["saddle_vertical"]
        )
    assert 1.03 < ways[0] / ways[1] < 1.12


def test_a_post_deeper_than_the_seat_tube_is_refused_in_words():
    with pytest.raises(
        ModelError,
        match=r"seat post insertion 540 mm: the seat tube is 550.0 mm long, so at most 530",
    ):
        mesh(inserted(540.0))


# --- dropouts -------------------------------------------------------------------------------------------------------
PLATES = {name: Dropout(name, 30.0, 6.0, 26.0, STEEL) for name in DROPOUTS}


def test_a_flat_bar_has_the_textbooks_values():
    """b h^3 / 12; torsion of a square 0.1406 a^4, of 2 : 1 0.229 b t^3, of 10 : 1 0.312 b t^3 (Timoshenko & Goodier,
    Theory of Elasticity, table of rectangular bars, from memory)."""
    bar = flat_bar(30.0, 6.0)
    assert pytest.approx(180.0) == bar.A
    assert pytest.approx(6.0 * 30.0**3 / 12) == bar.Iz
    assert pytest.approx(30.0 * 6.0**3 / 12) == bar.Iy
    for ratio, factor in ((1.0, 0.1406), (2.0, 0.229), (5.0, 0.291), (10.0, 0.312)):
        assert pytest.approx(factor * ratio * 4.0**4, rel=6e-3) == flat_bar(ratio * 4.0, 4.0).J


def test_the_last_stretch_of_stays_and_blades_is_the_plate():
    model = mesh(with_parts(**PLATES))
    for name, stays in (("rear_dropout", 4), ("front_dropout", 2)):
        plates = [e for e in model.elements if e.member == name]
        assert len(plates) == stays
        assert {e.section for e in plates} == {PLATES[name].section}
        for element in plates:
            ends = np.subtract(model.nodes[element.i], model.nodes[element.j])
            assert np.linalg.norm(ends) == pytest.approx(26.0)
            assert element.j.startswith(name)


def test_a_tube_of_the_plates_section_makes_no_difference():
    """A cantilever of two stretches by hand: with plate and tube alike in every value the frame is the plain one."""
    plain = tourer(fork_blade=Tube(STEEL, 24.0, 24.0, (1.0,)))
    layout = lay_out(plain)
    cases = load_cases(plain, layout, ("iso_fork_bending", "stiffness_lateral"))
    before = solve(mesh(plain, layout=layout), cases)
    model = mesh(with_parts(plain, front_dropout=PLATES["front_dropout"]), layout=layout)
    same = tuple(
        replace(e, section=plain.tubes["fork_blade"].section(24.0, 1.0))
        if e.member == "front_dropout"
        else e
        for e in model.elements
    )
    after = solve(replace(model, elements=same), cases)
    for name, result in before.items():
        assert after[name].measured == pytest.approx(result.measured, rel=1e-9)
    plate = solve(model, cases)["stiffness_lateral"].measured["front_sideways"]
    assert plate > before["stiffness_lateral"].measured["front_sideways"] * (1 + 1e-4)


@pytest.mark.parametrize("size", [{"height": 3.0}, {"thickness": 60.0}, {"length": 300.0}])
def test_a_dropout_that_cannot_be_is_refused_in_words(size):
    with pytest.raises(
        ModelError, match=r"expected .* mm; write height x thickness x length from the axle"
    ):
        replace(PLATES["rear_dropout"], **size)


@pytest.mark.parametrize(
    ("size", "said"),
    [({}, False), ({"height": 8.0}, True), ({"thickness": 2.0}, True), ({"length": 100.0}, True)],
)
def test_a_dropout_of_an_odd_size_is_asked(size, said):
    found = bicycle_slips(with_parts(rear_dropout=replace(PLATES["rear_dropout"], **size)))
    assert bool([f for f in found if f.where == "rear_dropout"]) is said


# --- everything that follows ----------------------------------------------------------------------------------------
def stated_all():
    return with_parts(inserted(90.0), **{**ALL, **QUICK, **PLATES})


@pytest.mark.skipif(available() is not None, reason=str(available()))
def test_opensees_solves_the_same_parts_to_the_same_figures():
    bicycle = stated_all()
    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, cases_of(bicycle)))
    checks = cross_check(results)
    assert len(checks) == len(cases_of(bicycle))
    assert max(max(check.differences.values()) for check in checks.values()) < 1e-8


def test_the_search_has_the_full_solvers_figures():
    bicycle = stated_all()
    choices = options(("seat_tube", "chainstay"), diameters=(0.0, 2.0), bicycle=bicycle)
    search = set_up(bicycle, choices, THREE)
    quick = search.kernel.figures_of(0, search.size).T
    assert np.abs(quick / brute_force(search) - 1).max() < 1e-9


@pytest.mark.parametrize("name", PARTS)
def test_every_part_is_meshed_as_stated_and_no_longer_assumed(name):
    bicycle = with_parts(**{name: ALL[name]})
    sections = {e.section for e in mesh(bicycle).elements if e.member.endswith(name)}
    assert sections == {ALL[name].section}
    reading = Reading("x", "csv", "", bicycle=bicycle)
    assert name not in {one.key for one in assumptions(reading)}
    assert {one.key for one in assumed_parts(())} == set(PARTS)


def test_the_share_in_assumed_parts_falls_as_parts_are_stated():
    shares = []
    for bicycle in (tourer(), with_parts(seat_post=PARTS["seat_post"]), stated_all()):
        layout = lay_out(bicycle)
        case = load_cases(bicycle, layout, ("saddle_push",))
        shares.append(assumed_share(solve(mesh(bicycle, layout=layout), case)["saddle_push"]))
    assert shares[0] > shares[1] + 0.1 > 0.1
    assert shares[2] == 0.0


def test_a_part_stated_as_the_usual_one_changes_no_figure():
    bicycle = tourer()
    layout = lay_out(bicycle)
    cases = load_cases(bicycle, layout, MAIN_CASES)
    usual = solve(mesh(bicycle, layout=layout), cases)
    stated = solve(mesh(with_parts(**PARTS), layout=layout), cases)
    for name, result in usual.items():
        assert stated[name].measured == result.measured


def test_the_mitre_goes_to_the_stated_shell():
    radius = {
        cut.neighbour_radius
        for mitre in frame_mitres(
            with_parts(bb_shell=Part("bb_shell", Tube(STEEL, 46.0, 46.0, (2.0,))))
        )
        for cut in mitre.cuts
        if cut.neighbour == "bb_shell"
    }
    assert radius == {23.0}


# --- words ----------------------------------------------------------------------------------------------------------
def test_parts_say_what_they_are():
    assert PARTS["bar"].words == "31.8 x 2.2 mm, 6061-T6"
    assert PARTS["rear_hub"].words == "solid 17 mm, 4130"
    oval = Part("fork_crown_piece", Tube(STEEL, 30.0, 30.0, (3.0,), oval_width=22.0))
    assert oval.words == "30x22 x 3 mm, 4130"
    assert QUICK["front_hub"].words == "QR 100: axle 9 x 2 mm, 4130; shell 30 x 3 mm, 6061-T6"


@pytest.mark.parametrize(
    "tube", [Tube(STEEL, 30.0, 25.0, (2.0,)), Tube(STEEL, 27.2, 27.2, (2.0, 1.5), (80.0,))]
)
def test_a_part_of_several_sizes_is_refused(tube):
    with pytest.raises(
        ModelError, match="taken as the same from end to end; state one diameter and one wall"
    ):
        Part("seat_post", tube)


@pytest.mark.parametrize(("od", "said"), [(27.2, False), (27.6, False), (26.2, True), (31.6, True)])
def test_a_post_that_the_seat_tube_does_not_take_is_said(od, said):
    """The tourer's seat tube, 28.6 x 0.6 at the top, has a bore of 27.4 mm."""
    post = Part("seat_post", Tube(ALU, od, od, (2.0,)))
    found = [f for f in bicycle_slips(with_parts(seat_post=post)) if f.code == "seat-post-fit"]
    assert bool(found) is said


def test_hubs_are_hubs_and_parts_are_parts():
    bicycle = with_parts(**QUICK)
    assert isinstance(bicycle.hub("rear_hub"), Hub)
    assert bicycle.hub("front_hub") == QUICK["front_hub"]
    assert tourer().hub("front_hub") == PARTS["front_hub"]
