"""A tandem as data of a plan: weights and chains by statics, refusals, both solvers, mass by integral."""

from dataclasses import replace
from functools import cache
from math import pi
from pathlib import Path

import ezdxf
import numpy as np
import pytest
from droptrail.converters.files.drafting.frame import draw_frame
from droptrail.converters.files.drafting.mitre import write_mitres
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet
from droptrail.converters.files.fitsheet.knobs import setting, turned
from droptrail.converters.files.fitsheet.starter import (
    plan_starter,
    with_extras,
    write_starter_sheet,
)
from droptrail.converters.files.fitsheet.statements import read_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.picture.side import side_picture
from droptrail.model.cases.library import ONE_RIDER, SEVERAL_RIDERS, cases_of, load_cases
from droptrail.model.cases.tools import pedal_stroke
from droptrail.model.errors import FrameError, ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.carried import carried_masses
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.known_plans import DIAMOND, PLANS, plans_from
from droptrail.model.tubes.places import Free, read_place
from droptrail.validation.opensees.agreement import cross_check

G = 9.81  # N/kg, as the library counts


@cache
def tandem() -> Bicycle:
    return plan_starter(PLANS["tandem"])


def test_both_riders_stand_on_the_wheels_as_the_lever_says() -> None:
    """82 and 70 kg, 55, 20 and 25 % on saddle, bars and pedals; places by trigonometry from the sheet's numbers."""
    bicycle = tandem()
    layout = lay_out(bicycle)
    result = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, ("seated",)))["seated"]
    seat = np.array([-np.cos(np.radians(72.5)), np.sin(np.radians(72.5))])
    bar = 384.0 - 35.0 * np.cos(np.radians(71.5)) + 90.0
    # forward of the captain's bracket: saddle, bars, pedals
    captain = (740.0 * seat[0], bar, 0.0)
    stoker_seat = np.array([-150.0, 477.0]) / np.hypot(150.0, 477.0)
    stoker = (-690.0 + 700.0 * stoker_seat[0], 560.0 * seat[0] - 60.0, -690.0)
    rear = -(690.0 + np.sqrt(450.0**2 - 75.0**2))
    front = bicycle.dimensions.front_axle.x
    shares = np.array([0.55, 0.20, 0.25])
    moment = G * (
        82.0 * shares @ np.subtract(captain, rear) + 70.0 * shares @ np.subtract(stoker, rear)
    )
    on_front = moment / (front - rear)
    assert result.reactions["front_axle"][1] == pytest.approx(on_front, rel=1e-9)
    assert result.reactions["rear_axle"][1] == pytest.approx(152.0 * G - on_front, rel=1e-9)
    down = {m.name: m for m in result.case.measures}["stoker_saddle_vertical"]
    sunk = sum(np.dot(way, result.displacement(node)) for node, way in down.weights)
    assert sunk == pytest.approx(-result.displacement("stoker_saddle")[1], rel=1e-12)
    assert sunk > 0.1


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("angle", [0.0, 40.0])
def test_no_spindle_of_two_takes_torque_about_itself(side: float, angle: float) -> None:
    """Timing chain: one man's crank torque over its radius; driving chain: both men's, 2 F l cos a."""
    bicycle = tandem()
    loads: dict[str, np.ndarray] = {}
    for node, load in pedal_stroke(bicycle, lay_out(bicycle), 800.0, angle, side):
        loads[node] = loads.get(node, np.zeros(6)) + load
    torque = 800.0 * 170.0 * np.cos(np.radians(angle))
    assert loads["bottom_bracket"][5] == pytest.approx(0.0, abs=1e-6)
    assert loads["stoker_bracket"][5] == pytest.approx(0.0, abs=1e-6)
    timing = torque / 70.0
    # level brackets: the timing chain draws the captain's straight back
    assert loads["bottom_bracket"][:3] == pytest.approx([-timing, -800.0, 0.0], abs=1e-6)
    # on the left, 60 mm out: to the left of the middle a pull back turns about the upright
    assert loads["bottom_bracket"][4] == pytest.approx(timing * 60.0, abs=1e-6)
    drive = np.hypot(*loads["rear_axle"][:2])
    bracket = np.array([-690.0, 0.0])
    axle = np.array([-(690.0 + np.sqrt(450.0**2 - 75.0**2)), 75.0])
    line = axle - bracket + np.array([0.0, 40.0 - 92.0])
    lever = 92.0 * abs(line[0]) / np.hypot(*line)
    assert drive == pytest.approx(2 * torque / lever, rel=1e-9)
    assert sum(loads.values())[:3] == pytest.approx([0.0, -1600.0, 0.0], abs=1e-6)


@pytest.mark.parametrize("name", ["brake_front_rim", "brake_front_disc"])
def test_braking_by_statics_with_both_riders(name: str) -> None:
    """0.5 g on 82 and 70 kg: the push at the tyre, each rider's at his own bars, moments about the rear contact; what
    each moves from saddle to bars holds his inertia 150 mm above the saddle."""
    bicycle = tandem()
    layout = lay_out(bicycle)
    (case,) = load_cases(bicycle, layout, (name,))
    loads = {node: np.array(load) for node, load in case.nodal.items()}
    push = {"": 0.5 * G * 82.0, "stoker_": 0.5 * G * 70.0}
    for who, own in push.items():
        bar = loads[f"{who}bar_right"] + loads[f"{who}bar_left"]
        assert bar[0] == pytest.approx(own, rel=1e-12)
        saddle = np.array(layout.joints[f"{who}saddle"])
        hands = np.array(layout.joints[f"{who}bar_right"])
        shift = own * (saddle[1] + 150.0 - hands[1]) / (hands[0] - saddle[0])
        shift = min(shift, 0.55 * 2 * own)
        assert -bar[1] == pytest.approx(0.2 * 2 * own + shift, rel=1e-12)
        assert -loads[f"{who}saddle"][1] == pytest.approx(0.55 * 2 * own - shift, rel=1e-12)
    result = solve(mesh(bicycle, layout=layout), [case])[name]
    rear = np.array(layout.joints["rear_axle"])
    front = np.array(layout.joints["front_axle"])
    moment = 0.0
    for node, load in loads.items():
        arm = np.array(layout.joints[node]) - rear
        moment += arm[0] * load[1] - arm[1] * load[0] + load[5]
    on_front = -moment / (front - rear)[0]
    assert result.reactions["front_axle"][1] == pytest.approx(on_front, rel=1e-9)
    assert result.reactions["rear_axle"][1] == pytest.approx(152.0 * G - on_front, rel=1e-9)
    assert result.reactions["rear_axle"][0] == pytest.approx(0.0, abs=1e-6)


def test_an_empty_seat_brakes_as_the_first_rider_alone() -> None:
    bicycle = tandem()
    empty = replace(bicycle, placing={**bicycle.placing, "stoker_mass": 0.0})
    (case,) = load_cases(empty, lay_out(empty), ("brake_front_disc",))
    assert not any(np.any(load) for node, load in case.nodal.items() if node.startswith("stoker"))
    assert case.nodal["front_axle"][0] == pytest.approx(-0.5 * G * 82.0)


def loads_of(name: str) -> dict[str, np.ndarray]:
    bicycle = tandem()
    (case,) = load_cases(bicycle, lay_out(bicycle), (name,))
    return {node: np.array(load) for node, load in case.nodal.items()}


def test_the_captains_stroke_alone_runs_through_both_chains() -> None:
    """1000 N at 170 mm: 170 N·m, over the timing ring's 70 mm 2429 N from bracket to bracket."""
    loads = loads_of("captain_stroke")
    timing = 1000.0 * 170.0 / 70.0
    assert loads["bottom_bracket"] == pytest.approx(
        [-timing, -1000.0, 0.0, -150.0 * -1000.0, timing * 60.0, 0.0], abs=1e-6
    )
    # the timing chain pulls the stoker's spindle forward, the driving chain on the right pulls it back
    bracket = np.array([-690.0, 0.0])
    axle = np.array([-(690.0 + np.sqrt(450.0**2 - 75.0**2)), 75.0])
    line = axle - bracket + np.array([0.0, 40.0 - 92.0])
    line /= np.hypot(*line)
    driving = 1000.0 * 170.0 / (92.0 * -line[0])
    assert loads["stoker_bracket"][:2] == pytest.approx(
        [timing + driving * line[0], driving * line[1]]
    )
    assert loads["stoker_bracket"][5] == pytest.approx(0.0, abs=1e-6)
    assert loads["bar_right"][1] == 350.0
    assert "stoker_bar_right" not in loads


def test_the_stokers_stroke_alone_leaves_captain_and_timing_chain_idle() -> None:
    loads = loads_of("stoker_stroke_left")
    assert not {"bottom_bracket", "bar_right", "bar_left"} & {
        n for n, load in loads.items() if load.any()
    }
    assert loads["stoker_bar_left"][1] == 350.0
    # 150 mm left of the middle; the chain 45 mm right of it has a rise too
    rise = loads["stoker_bracket"][1] + 1000.0
    assert loads["stoker_bracket"][3] == pytest.approx(-150.0 * 1000.0 - 45.0 * rise, rel=1e-9)


def test_strokes_add_up() -> None:
    """The model is linear: in step and half a turn apart are sums of single strokes."""
    bicycle = tandem()
    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, cases_of(bicycle)))
    moved = {name: result.u for name, result in results.items()}
    pairs = {
        "climb": ("captain_stroke", "stoker_stroke"),
        "climb_left": ("captain_stroke_left", "stoker_stroke_left"),
        "strokes_opposed": ("captain_stroke", "stoker_stroke_left"),
    }
    for whole, (one, other) in pairs.items():
        np.testing.assert_allclose(moved[whole], moved[one] + moved[other], atol=1e-9)
    assert (
        "1000 N down, 150 mm out, on the captain's right pedal"
        in results["captain_stroke"].case.notes
    )


def test_a_quarter_turn_apart_the_stoker_pushes_without_turning() -> None:
    """At the bottom his foot has no lever: the driving chain pulls as under the captain's stroke alone."""
    apart = loads_of("strokes_quarter_apart")
    alone = loads_of("captain_stroke")
    assert apart["rear_axle"] == pytest.approx(alone["rear_axle"], rel=1e-9)
    assert apart["stoker_bracket"][1] == pytest.approx(alone["stoker_bracket"][1] - 1000.0)
    bicycle = tandem()
    turned_on = replace(bicycle, loads=replace(bicycle.loads, crank_angle=20.0))
    with pytest.raises(ModelError, match="crank angle 110 degrees: a foot pushing down there"):
        load_cases(turned_on, lay_out(turned_on), ("strokes_quarter_apart",))


def test_strokes_of_one_rider_among_several_are_no_case_of_a_single_bicycle() -> None:
    single = plan_starter(DIAMOND)
    assert not SEVERAL_RIDERS & {*cases_of(single)}
    for name in (*SEVERAL_RIDERS, "stoker_stroke", "stoker_stroke_left"):
        with pytest.raises(ModelError, match=f"load case '{name}' is for several riders"):
            load_cases(single, lay_out(single), (name,))


def test_every_case_is_solved_alike_by_opensees() -> None:
    bicycle = tandem()
    layout = lay_out(bicycle)
    names = cases_of(bicycle)
    assert {*names} >= {*SEVERAL_RIDERS, "captain_stroke", "stoker_stroke_left"}
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, names))
    assert {"seated", "climb", "climb_left", "frame_torsion", "rear_sideways"} <= set(results)
    for check in cross_check(results).values():
        assert check.largest is not None, check.reason
        assert check.largest < 1e-8


def test_tubes_weigh_their_walls() -> None:
    """Plain tubes: pi (d - t) t times length times 7850 kg/m3, lengths by trigonometry."""
    bicycle = tandem()
    layout = lay_out(bicycle)
    found = mass_table(mesh(bicycle, layout=layout), layout).by_tube
    by_hand = {
        "boom_tube": pi * (38.1 - 1.2) * 1.2 * 690.0,
        "stoker_seat_tube": pi * (31.8 - 0.9) * 0.9 * np.hypot(150.0, 477.0),
    }
    for tube, volume in by_hand.items():
        assert found[tube].kg == pytest.approx(7850e-9 * volume, rel=1e-6)


def test_the_boom_is_cut_to_shell_and_seat_tube_at_either_end() -> None:
    """Below and beside: square to a shell of R = 20 mm, sqrt(R^2 - y^2) from its middle. Above it strikes the seat tube
    first, whose wall stands r / sin a from its axis, and the axis y / tan a behind the shell's middle."""
    boom = {one.at_end: one for one in frame_mitres(tandem()) if one.member == "boom_tube"}
    r = 38.1 / 2
    inside = np.sqrt(20.0**2 - r**2)
    captain = np.radians(72.5)
    stoker = np.arctan2(477.0, 150.0)
    above = {
        "start": 34.9 / 2 / np.sin(captain) + r / np.tan(captain),
        "end": 31.8 / 2 / np.sin(stoker) - r / np.tan(stoker),
    }
    for end, one in boom.items():
        line = one.outer(np.linspace(0, 2 * pi, 361))
        assert line.min() == pytest.approx(inside, abs=0.001)
        assert line.max() == pytest.approx(max(20.0, above[end]), abs=0.001)
        # a template begins at the top
        assert one.marks[0] == "top"
        assert line[0] == pytest.approx(above[end], abs=0.001)


def test_either_end_of_the_boom_has_a_template_of_its_own(tmp_path: Path) -> None:
    """Both ends meet a shell first: a file for each, and none that takes the other's place."""
    bicycle = tandem()
    files, _ = write_mitres(bicycle, tmp_path, ("svg",))
    names = [path.name for path in files]
    assert {"boom_tube_at_bb_shell_start.svg", "boom_tube_at_bb_shell_end.svg"} <= {*names}
    assert "top_tube_at_seat_tube.svg" in names
    assert len(names) == len([one for one in frame_mitres(bicycle) if one.coverage])


def test_a_tube_cut_to_several_ends_on_the_first_that_it_meets() -> None:
    """Point by point round the tube: its cut lies on one of the neighbours' walls, and within none of them."""
    bicycle = tandem()
    members = {member.name: member for member in lay_out(bicycle).members}
    several = [one for one in frame_mitres(bicycle) if len(one.cuts) > 1]
    assert {"boom_tube", "lateral", "down_tube"} <= {one.member for one in several}
    angles = np.linspace(0, 2 * pi, 72, endpoint=False)
    for one in several:
        path = np.array(members[one.member].path)
        if one.at_end == "end":
            path = path[::-1]
        along = (path[1] - path[0]) / np.linalg.norm(path[1] - path[0])
        zero = np.array([0.0, 1.0, 0.0]) - along[1] * along
        zero /= np.linalg.norm(zero)
        quarter = np.cross(-along, zero)
        radius = bicycle.tubes[one.member].od_start / 2
        ring = radius * (np.outer(np.cos(angles), zero) + np.outer(np.sin(angles), quarter))
        cut = path[0] + np.outer(one.outer(angles), along) + ring
        inside = np.full(len(angles), -np.inf)
        for other in one.cuts:
            line = np.array([[path[0][0], path[0][1], -500.0], [path[0][0], path[0][1], 500.0]])
            size = 20.0
            if other.neighbour != "bb_shell":
                line = np.array(members[other.neighbour].path)
                size = bicycle.tubes[other.neighbour].od_start / 2
            if np.linalg.norm(line[-1] - path[0]) < np.linalg.norm(line[0] - path[0]):
                line = line[::-1]
            way = (line[-1] - line[0]) / np.linalg.norm(line[-1] - line[0])
            rel = cut - line[0]
            depth = size - np.linalg.norm(np.cross(rel, way), axis=1)
            # before it begins there is nothing of it
            inside = np.maximum(inside, np.where(rel @ way >= -1e-9, depth, -np.inf))
        assert one.marks[0] == "top"
        assert np.abs(inside).max() < 1e-6, one.title


def test_what_is_known_for_one_rider_is_refused() -> None:
    bicycle = tandem()
    layout = lay_out(bicycle)
    for name in ONE_RIDER:
        with pytest.raises(
            ModelError, match=f"load case '{name}': ISO 4210 holds for bicycles with one rider"
        ):
            load_cases(bicycle, layout, (name,))


def test_both_riders_move_with_the_frame() -> None:
    bicycle = tandem()
    usual = carried_masses(bicycle, bicycle.part_masses, 1.0)
    lighter = replace(bicycle, placing={**bicycle.placing, "stoker_mass": 0.0})
    less = carried_masses(lighter, bicycle.part_masses, 1.0)
    gone = {a.node: 1000 * (a.m - b.m) for a, b in zip(usual, less, strict=True) if a.m != b.m}
    assert gone == pytest.approx(
        {
            "stoker_saddle": 0.55 * 70,
            "stoker_bar_left": 7.0,
            "stoker_bar_right": 7.0,
            "stoker_bracket": 0.25 * 70,
        }
    )


def test_the_chainstay_runs_from_the_stoker_s_bracket(tmp_path: Path) -> None:
    """By trigonometry from the sheet's numbers: boom 690 long and 20 up, chainstay 450, captain's bracket 75 below the
    rear axle, so the stoker's 55."""
    sheet = tmp_path / "t.csv"
    write_starter_sheet(sheet, plan=PLANS["tandem"])
    text = sheet.read_text(encoding="utf-8-sig")
    text = text.replace(
        "stoker bracket above captain bracket,0", "stoker bracket above captain bracket,20"
    )
    sheet.write_text(text.replace("wheelbase,", "horizontal chainstay,446.6,mm\n# wheelbase,"))
    reading = bicycle_from_sheet(read_fit_sheet(sheet))
    d = reading.bicycle.dimensions
    level = np.sqrt(450.0**2 - 55.0**2)
    assert d.rear_axle == pytest.approx((-690.0 - level, 75.0))
    assert d.rear_bracket == (-690.0, 20.0)
    derived = d.derived()
    assert derived["wheelbase"] == pytest.approx(d.front_axle.x + 690.0 + level)
    assert derived["chainstay_horizontal"] == pytest.approx(level)
    # from the captain's bracket: what lies in front of him, and the ground under him
    assert derived["front_center"] == pytest.approx(np.hypot(*d.front_axle))
    assert derived["bb_height"] == pytest.approx(346.0 - 75.0)
    rows = {row.item: row for row in reading.closure}
    assert rows["chainstay_horizontal"].implied == pytest.approx(level)


def test_a_chainstay_from_the_captain_s_bracket_is_refused_with_where_it_runs_from(
    tmp_path: Path,
) -> None:
    sheet = tmp_path / "t.csv"
    write_starter_sheet(sheet, plan=PLANS["tandem"])
    text = sheet.read_text(encoding="utf-8-sig")
    sheet.write_text(text.replace("chainstay,450", "chainstay,1132.5"))
    with pytest.raises(
        FrameError,
        match=r"1132.5 mm, expected 250 to 700 mm.*behind several riders from the rear bracket",
    ):
        bicycle_from_sheet(read_fit_sheet(sheet))


def test_a_longer_boom_moves_the_rear_wheel_and_nothing_in_front() -> None:
    longer = turned(tandem(), [setting("boom length=700")]).bicycle
    before = tandem().dimensions
    assert longer.dimensions.rear_axle.x == pytest.approx(before.rear_axle.x - 10.0)
    assert longer.dimensions.front_axle == before.front_axle
    assert longer.dimensions.chainstay == before.chainstay


def test_both_brackets_turn_as_one_when_the_fork_sinks() -> None:
    """The frame is stiff: on a fork shorter by its sag the distances between brackets, axle and seat tops stay."""
    extended = with_extras(tandem(), ["suspension_fork"])
    sunk = extended.as_ridden
    assert sunk.dimensions.head_angle > extended.dimensions.head_angle + 0.3
    names = ("bottom_bracket", "stoker_bracket", "rear_axle", "stoker_seat_top", "head_tube_top")
    before = lay_out(extended).joints
    after = lay_out(sunk).joints
    for one in names:
        for other in names:
            apart = np.linalg.norm(np.subtract(before[one], before[other]))
            assert np.linalg.norm(np.subtract(after[one], after[other])) == pytest.approx(
                apart, abs=1e-9
            )
    assert sunk.dimensions.chainstay == pytest.approx(450.0)


def test_the_stoker_s_mass_is_a_mass(tmp_path: Path) -> None:
    write_starter_sheet(tmp_path / "t.csv", plan=PLANS["tandem"])
    text = (tmp_path / "t.csv").read_text(encoding="utf-8-sig")
    (tmp_path / "lb.csv").write_text(text.replace("stoker mass,70,kg", "stoker mass,154,lb"))
    bicycle = bicycle_from_sheet(read_fit_sheet(tmp_path / "lb.csv")).bicycle
    # the pound of 1959: 0.45359237 kg
    assert bicycle.placing["stoker_mass"] == pytest.approx(154 * 0.45359237)
    assert {rider.name: mass for rider, mass in bicycle.aboard}["captain"] == 82.0


def test_a_number_of_a_place_may_count_backwards() -> None:
    place = read_place("bottom_bracket + -{boom_length} 5", ())
    assert place == Free("bottom_bracket", "-boom_length", 5.0)
    assert read_place(place.words, ()) == place
    longer = turned(tandem(), [setting("boom length=700")])
    assert lay_out(longer.bicycle).joints["stoker_bracket"] == (-700.0, 0.0, 0.0)


def test_a_plan_for_three_needs_no_further_code() -> None:
    """A third rider 600 mm behind: three crank torques arrive at the hub."""
    text = """
[triplet]
label = "triplet"
like = "tandem"
[triplet.joints]
third_bracket = "stoker_bracket + -600 0"
[triplet.riders.third]
saddle = "stoker_saddle"
bars = "stoker_bar"
bracket = "third_bracket"
mass = "stoker_mass"
timing = ["timing_ring_radius", "timing_chainline"]
"""
    plan = plans_from(text, PLANS)["triplet"]
    bicycle = replace(tandem(), plan=plan)
    loads = pedal_stroke(bicycle, lay_out(bicycle), 800.0, 0.0)
    turning: dict[str, float] = {}
    for node, load in loads:
        turning[node] = turning.get(node, 0.0) + load[5]
    assert [rider.name for rider in plan.riders] == ["captain", "stoker", "third"]
    for bracket in ("bottom_bracket", "stoker_bracket", "third_bracket"):
        assert turning[bracket] == pytest.approx(0.0, abs=1e-6)


def test_the_boom_is_drawn_from_shell_to_shell(tmp_path: Path) -> None:
    """Two circles 690 mm apart; the boom's lower edge, y = -19.05, ends where it meets them, the upper at the seat
    tubes: their walls stand r / sin a from axes that lie y / tan a behind."""
    draw_frame(tandem(), tmp_path / "t.dxf")
    drawn = ezdxf.readfile(tmp_path / "t.dxf").modelspace()
    middles = sorted(one.dxf.center.x for one in drawn.query('CIRCLE[layer=="BB_SHELL"]'))
    assert middles == pytest.approx([-690.0, 0.0])
    lines = drawn.query('LINE[layer=="BOOM_TUBE_OUTLINE"]')
    ends = sorted(point.x for one in lines for point in (one.dxf.start, one.dxf.end))
    inside = np.sqrt(20.0**2 - 19.05**2)
    captain = np.radians(72.5)
    stoker = np.arctan2(477.0, 150.0)
    front = 34.9 / 2 / np.sin(captain) + 19.05 / np.tan(captain)
    rear = 31.8 / 2 / np.sin(stoker) - 19.05 / np.tan(stoker)
    assert ends == pytest.approx([inside - 690.0, rear - 690.0, -front, -inside], abs=1e-3)


def test_no_words_of_its_side_view_leave_the_page(tmp_path: Path) -> None:
    sheet = tmp_path / "t.csv"
    write_starter_sheet(sheet, plan=PLANS["tandem"])
    figure, _ = side_picture(read_input(sheet), "Tandem")
    figure.canvas.draw()
    boxes = [text.get_window_extent() for text in figure.axes[0].texts if text.get_text()]
    assert len(boxes) > 10
    assert all(box.x0 >= 0 and box.x1 <= figure.bbox.x1 for box in boxes)
