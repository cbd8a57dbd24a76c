"""Racks as tubes: weighed and carried by hand, both solvers, bolts that turn, the limit of a rack that cannot give."""

from dataclasses import replace
from itertools import pairwise
from math import pi
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import read_input
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import InputError, ModelError
from droptrail.model.frame.bicycle import G_ACCEL, Bicycle, Loads, hangs_of, luggage_lumps
from droptrail.model.frame.frame_mitres import cut_lengths, frame_mitres
from droptrail.model.frame.joint_places import tube_joints
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.frame.riding import settled_riding
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.frame_model import FrameModel, RigidLink
from droptrail.model.mechanics.solve import solve
from droptrail.model.stability.hands import SetUp
from droptrail.model.stability.rack_give import rack_give, rack_gives
from droptrail.model.tubes.known_plans import DIAMOND, PLANS
from droptrail.model.tubes.racks import RACKS, with_rack
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import vibration_model
from droptrail.validation.opensees import available, cross_check
from droptrail.validation.opensees.modes import modes_opensees

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = SAMPLES / "laden_700c.csv"
CROSSED = pytest.mark.skipif(bool(available()), reason="needs OpenSees")


@pytest.fixture(scope="module")
def laden() -> Bicycle:
    return read_input(SHEET).bicycle


def case_of(bicycle: Bicycle, name: str):
    layout = lay_out(bicycle)
    (case,) = load_cases(bicycle, layout, (name,))
    return solve(mesh(bicycle, layout=layout), [case])[name]


def stiffer(bicycle: Bicycle, times: float) -> Bicycle:
    """The racks' tubes of a stuff that many times as stiff and without weight."""
    tubes = dict(bicycle.tubes)
    for role in bicycle.roles:
        if role.region == "rack":
            stuff = tubes[role.name].material
            stiff = replace(stuff, name="stiff", E=times * stuff.E, G=times * stuff.G, rho=1e-15)
            tubes[role.name] = replace(tubes[role.name], material=stiff)
    return replace(bicycle, tubes=tubes)


# --- weight -----------------------------------------------------------------------------------------------------------
def test_mass_and_centre_by_hand(laden):
    """Every tube of the racks as a straight rod of pi (d - t) t rho between the points the sheet's numbers place."""
    d = laden.dimensions
    rear, front = d.rear_axle, d.front_axle
    at = {
        "deck": [np.array([rear.x + x, rear.y + 385.0, 0.0]) for x in (105.0, -150.0)],
        "rail": [np.array([front.x + x, front.y + 150.0, 0.0]) for x in (130.0, -90.0)],
        "hoop": np.array([front.x + 110.0, front.y + 385.0, 0.0]),
    }
    out = np.array([0.0, 0.0, 1.0])
    joints = lay_out(laden).joints
    rods = []
    for z in (1.0, -1.0):
        drop = np.array([*rear, 0.0]) + z * 67.5 * out
        tip = np.array([*front, 0.0]) + z * 50.0 * out
        deck = [p + z * 55.0 * out for p in at["deck"]]
        rail = [p + z * 95.0 * out for p in at["rail"]]
        side = "right" if z > 0 else "left"
        stay = np.array(joints[f"rear_rack_strut_on_seatstay_{side}"])
        blade = np.array(joints[f"lowrider_strut_on_fork_blade_{side}"])
        rods += [
            (deck[0], deck[1], 10.0),
            (drop, deck[0], 10.0),
            (drop, deck[1], 10.0),
            (stay, deck[0], 8.0),
            (rail[0], rail[1], 10.0),
            (tip, rail[0], 10.0),
            (blade, rail[1], 10.0),
            (rail[0], at["hoop"] + z * 45.0 * out, 10.0),
        ]
    for points, half in ((at["deck"], 55.0),):
        rods += [(p + half * out, p - half * out, 10.0) for p in points]
    rods.append((at["hoop"] + 45.0 * out, at["hoop"] - 45.0 * out, 10.0))
    rho = laden.tubes["rear_rack_rail"].material.rho
    weights = [rho * pi * (od - 1.0) * 1.0 * np.linalg.norm(b - a) for a, b, od in rods]
    centre = sum(w * (a + b) / 2 for w, (a, b, _) in zip(weights, rods, strict=True)) / sum(weights)
    model = mesh(laden)
    table = mass_table(model, lay_out(laden))
    assert table.racks.kg == pytest.approx(1000 * sum(weights), rel=1e-9)
    assert table.racks.centre == pytest.approx(centre, abs=1e-6)
    # neither the frame nor the fork weighs it
    plain = replace(
        laden, plan=DIAMOND, placing={}, tubes={n: laden.tubes[n] for n in DIAMOND.names}
    )
    bare = mass_table(mesh(plain), lay_out(plain))
    assert (table.frame.kg, table.fork.kg) == pytest.approx((bare.frame.kg, bare.fork.kg), rel=1e-9)


def test_the_luggage_hangs_on_the_rack(laden):
    lumps = dict(luggage_lumps(laden.loads, laden.plan))
    assert lumps == pytest.approx(
        {
            **{f"lowrider_front_{s}": 0.8 for s in ("left", "right")},
            **{f"front_bag_{e}_{s}": 1.6 for e in ("front", "back") for s in ("left", "right")},
            **{f"rear_rack_{e}_{s}": 1.6 for e in ("front", "back") for s in ("left", "right")},
            **{f"rear_bag_{e}_{s}": 2.4 for e in ("front", "back") for s in ("left", "right")},
        }
    )
    for rack in RACKS.values():
        assert sum(share for _, share in rack.racks[0].hangs) == pytest.approx(1)
    assert hangs_of(DIAMOND, "front")["fork_crown"] == 0.5


def rear_alone(bicycle: Bicycle) -> Bicycle:
    """Without the lowrider, which braces the blades it is bolted to."""
    plan = with_rack(DIAMOND, "rear_rack")
    tubes = {name: bicycle.tubes[name] for name in plan.names}
    return replace(bicycle, plan=plan, tubes=tubes, placing={})


# --- statics ----------------------------------------------------------------------------------------------------------
def load_on_the_rack(bicycle: Bicycle, newton: float):
    """A weight shared over the rear rack's four corners, the wheels held."""
    layout = lay_out(bicycle)
    corners = [f"rear_rack_{end}_{side}" for end in ("front", "back") for side in ("left", "right")]
    load = dict.fromkeys(corners, (0.0, -newton / 4, 0.0, 0.0, 0.0, 0.0))
    (held,) = load_cases(bicycle, layout, ("seated",))
    case = replace(held, name="bags", nodal=load, measures=())
    return solve(mesh(bicycle, layout=layout), [case])["bags"]


def test_the_bolts_carry_what_statics_by_hand_says(laden):
    """Moments about the line through both dropout bolts, which all their forces cross: struts x arm = weight x lever.

    The strut turns freely at both ends, so in the side view it pulls along its own line; the dropouts carry the rest.
    """
    newton = 160.0
    result = load_on_the_rack(laden, newton)
    joints = lay_out(laden).joints
    axle = np.array(joints["rear_dropout_right"])[:2]
    deck = np.array(joints["rear_rack_front_right"])[:2]
    stay = np.array(joints["rear_rack_strut_on_seatstay_right"])[:2]
    line = (deck - stay) / np.linalg.norm(deck - stay)
    arm = line[0] * (deck - axle)[1] - line[1] * (deck - axle)[0]
    lever = (
        np.mean([joints["rear_rack_front_right"][0], joints["rear_rack_back_right"][0]]) - axle[0]
    )
    by_hand = newton * lever / arm / 2  # each strut; along deck - stay
    for side in ("right", "left"):
        k = result.model.element_index[f"rear_rack_strut_{side}.1"]
        element = result.model.elements[k]
        x = np.subtract(result.model.nodes[element.j], result.model.nodes[element.i])
        length = np.linalg.norm(x)
        y = np.array(element.vxy)
        z = np.cross(x / length, y)
        force = result.end_forces[k, 6:9] @ np.array([x / length, y, z])
        # on the rack's end, seen from the side: along the strut's line and as large as by hand
        assert np.cross(np.append(line, 0), [*force[:2], 0])[2] == pytest.approx(
            0, abs=1e-6 * newton
        )
        assert float(force[:2] @ line) == pytest.approx(by_hand, rel=1e-6)


def test_a_bolt_turns_and_a_built_in_end_does_not(laden):
    free = load_on_the_rack(laden, 160.0)
    plan = with_rack(with_rack(PLANS["diamond"], "rear_rack", False), "front_rack", False)
    fixed = load_on_the_rack(replace(laden, plan=plan), 160.0)

    def moment(result) -> float:
        """About the bolt of the strut on the seatstay, N mm."""
        k = result.model.element_index["rear_rack_strut_right.1"]
        element = result.model.elements[k]
        x = np.subtract(result.model.nodes[element.j], result.model.nodes[element.i])
        x = x / np.linalg.norm(x)
        y = np.array(element.vxy)
        return float(abs(result.end_forces[k, 3:6] @ np.array([x, y, np.cross(x, y)])[:, 2]))

    assert moment(free) < 1e-6
    assert moment(fixed) > 1.0
    assert not fixed.model.equal_dofs[2:]
    # what holds more gives less (Rayleigh)
    assert external_work(fixed) < external_work(free)


def external_work(result) -> float:
    return sum(float(np.dot(p, result.displacement(n))) for n, p in result.case.nodal.items())


def with_rigid_rack(model: FrameModel) -> FrameModel:
    """The rear rack's tubes taken out, what they joined tied as rigid bodies: the rack, and each strut."""
    frame = [e for e in model.elements if not e.member.startswith("rear_rack")]
    strut = {
        side: [f"rear_rack_strut_{side}:{end}_on_bolt" for end in ("start", "end")]
        for side in ("right", "left")
    }
    body = [f"rear_rack_{end}_{side}" for end in ("front", "back") for side in ("right", "left")]
    body += [f"rear_bag_{end}_{side}" for end in ("front", "back") for side in ("right", "left")]
    body += [
        f"rear_rack_{leg}_{side}:start_on_bolt"
        for leg in ("leg", "back_leg")
        for side in ("right", "left")
    ]
    links = [RigidLink(body[0], node) for node in body[1:]]
    links += [RigidLink(*ends) for ends in strut.values()]
    kept = {node for e in frame for node in (e.i, e.j)} | {*body, *strut["right"], *strut["left"]}
    kept |= {node for link in model.rigid_links for node in (link.master, link.slave)}
    kept |= {node for tie in model.equal_dofs for node in (tie.master, tie.slave)}
    nodes = {node: xyz for node, xyz in model.nodes.items() if node in kept}
    return replace(
        model, nodes=nodes, elements=tuple(frame), rigid_links=(*model.rigid_links, *links)
    )


def test_a_very_stiff_rack_is_a_rigid_one(laden):
    """Statics and frequencies near those of the same bodies tied rigidly, without any tube of a rack."""
    laden = rear_alone(laden)
    stiff = stiffer(laden, 1e4)
    layout = lay_out(stiff)
    (case,) = load_cases(stiff, layout, ("seated_luggage",))
    model = mesh(stiff, layout=layout)
    tubes = solve(model, [case])["seated_luggage"]
    bodies = solve(with_rigid_rack(model), [case])["seated_luggage"]
    for node in ("saddle", "bottom_bracket", "head_tube_top", "rear_rack_back_right"):
        assert tubes.displacement(node) == pytest.approx(
            bodies.displacement(node), rel=1e-2, abs=1e-4
        )
    model, held = vibration_model(stiff, "tyres")
    near = modes(model, held.supports, held.springs, 6).frequencies_hz
    limit = modes(with_rigid_rack(model), held.supports, held.springs, 6).frequencies_hz
    assert np.allclose(near, limit, rtol=1e-2)
    assert not np.allclose(frequencies(laden), limit, rtol=3e-2)


@CROSSED
@pytest.mark.parametrize("bolted", [True, False])
def test_both_solvers(laden, bolted):
    plan = with_rack(with_rack(DIAMOND, "rear_rack", bolted), "front_rack", bolted)
    bicycle = replace(laden, plan=plan)
    layout = lay_out(bicycle)
    cases = load_cases(bicycle, layout, ("seated_luggage", "climb", "side_push"))
    checks = cross_check(solve(mesh(bicycle, layout=layout), cases))
    assert max(check.largest for check in checks.values()) < 1e-8


# --- vibration --------------------------------------------------------------------------------------------------------
def frequencies(bicycle: Bicycle, count: int = 6):
    model, case = vibration_model(bicycle, "tyres")
    return modes(model, case.supports, case.springs, count).frequencies_hz


def test_the_stiffer_the_rack_the_higher_every_mode(laden):
    """Rayleigh: with the same mass no frequency falls when something is stiffened."""
    runs = [frequencies(stiffer(laden, times)) for times in (1, 3, 30, 1e3)]
    for softer, harder in pairwise(runs):
        assert np.all(harder >= softer * (1 - 1e-6))
    assert np.max(runs[-1] / runs[0]) > 1.05


def test_wheels_and_bags_alone_move_where_the_rack_is(laden):
    model, _ = vibration_model(laden, "tyres")
    hung = {
        m.node
        for m in model.masses
        if m.node.startswith(("rear_rack", "lowrider", "rear_bag", "front_bag"))
    }
    assert len(hung) == 14
    assert sum(m.m for m in model.masses if m.node in hung) == pytest.approx(0.024)


# --- sheet, words, commands -------------------------------------------------------------------------------------------
def test_a_sheet_written_reads_back(tmp_path, laden):
    write_fit_sheet(laden, tmp_path / "back.csv")
    back = read_input(tmp_path / "back.csv").bicycle
    assert back.plan == laden.plan
    assert back.tubes == laden.tubes
    plan = with_rack(DIAMOND, "rear_rack", False)
    built_in = replace(laden, plan=plan, assumed=(), placing={})
    built_in = replace(built_in, tubes={n: laden.tubes[n] for n in built_in.plan.names})
    write_fit_sheet(built_in, tmp_path / "in.csv")
    assert read_input(tmp_path / "in.csv").bicycle.plan.racks[0].bolted is False


def changed(tmp_path: Path, old: str, new: str) -> Path:
    text = SHEET.read_text(encoding="utf-8")
    assert text.count(old) == 1
    path = tmp_path / "own.csv"
    path.write_text(text.replace(old, new), encoding="utf-8")
    return path


def test_refused_in_words(tmp_path):
    with pytest.raises(InputError, match="expected 'bolted', 'built in' or 'none'"):
        read_input(changed(tmp_path, "rear rack,bolted", "rear rack,perhaps"))
    with pytest.raises(InputError, match="lowrider struts meets a fork blade"):
        read_input(
            changed(tmp_path, "rider mass,82,kg,", "rider mass,82,kg,\nfork type,suspension,,")
        )
    with pytest.raises(ModelError, match="rack 'side_car' is not known"):
        with_rack(DIAMOND, "side_car")
    told = read_input(changed(tmp_path, "rear rack,bolted", "rear rack,none")).findings
    assert {"sheet-tube-not-in-plan", "sheet-item-not-in-plan"} & {f.code for f in told}


@pytest.mark.parametrize("plan", sorted(PLANS))
def test_racks_stand_on_every_plan(plan):
    """A plan whose rack has nothing to stand on must say so, and today none is without stays and blades."""
    for name in RACKS:
        made = with_rack(PLANS[plan], name)
        assert made.rack(RACKS[name].racks[0].end).name == name
    bare = replace(DIAMOND, roles=tuple(r for r in DIAMOND.roles if r.name != "seatstay"))
    with pytest.raises(ModelError, match=r"rear rack: .* seatstay, which the plan does not have"):
        with_rack(bare, "rear_rack")


@CROSSED
def test_modes_by_both_solvers(laden):
    model, case = vibration_model(laden, "tyres")
    own = modes(model, case.supports, case.springs, 6).frequencies_hz
    theirs = modes_opensees(model, case.supports, 6, case.springs)
    assert np.abs(own / theirs - 1).max() < 1e-8


@pytest.mark.parametrize(
    "words",
    [
        ["geometry"],
        ["modes"],
        ["modes", "--bare", "frame+fork+front_rack+rear_rack"],
        ["draw", "-o", "d.dxf"],
        ["picture", "-o", "s.svg", "--view", "side"],
        ["tubes"],
        ["shimmy", "--draws", "3"],
        ["search", "--option", "rear_rack_leg=10x1,12x1"],
        ["export", "-o", "m.vtu"],
        ["mitre", "-o", "mitres"],
    ],
)
def test_commands(tmp_path, monkeypatch, capsys, words):
    monkeypatch.chdir(tmp_path)
    assert main([words[0], str(SHEET), *words[1:]]) in (0, 4)
    assert capsys.readouterr().err == ""


def test_luggage_of_loads_alone_is_as_before():
    lumps = dict(luggage_lumps(Loads(front_luggage=8, rear_luggage=16), DIAMOND))
    assert sum(lumps.values()) * G_ACCEL == pytest.approx(24 * G_ACCEL)
    assert lumps["fork_crown"] == 4


def test_the_wobble_weighs_the_bags_where_the_rack_holds_them(laden):
    """Mass, height and place of all luggage of the shimmy model, by hand from the shares and the joints."""
    with_bags = SetUp.of(laden).model(settled_riding({}))
    empty = SetUp.of(replace(laden, loads=replace(laden.loads, front_luggage=0, rear_luggage=0)))
    without = empty.model(settled_riding({}))
    joints = lay_out(laden).joints
    lumps = luggage_lumps(laden.loads, laden.plan)
    ground = laden.dimensions.ground_y

    def moments(model) -> np.ndarray:
        bodies = [model.rigid.rear_body, model.rigid.front_assembly]
        bodies += [body for _, body in model.pieces]
        bodies += [body for rack in model.racks for _, body in rack.bodies]
        return np.array([sum(b.mass for b in bodies), sum(b.mass * b.z for b in bodies)])

    gained = moments(with_bags) - moments(without)
    mass = sum(kg for _, kg in lumps)
    # z is counted downwards from the road, m
    height = sum(kg * (joints[n][1] - ground) / 1000 for n, kg in lumps)
    assert gained == pytest.approx([mass, -height], rel=1e-9)


def test_the_give_of_a_rack_is_a_portals_where_it_is_one(laden):
    """Sideways stiffness of a rack falls with its tubes' second moment, and bags of twice the weight give twice."""
    give = rack_give(laden, "rear")
    assert 0.5 < give < 25
    # Clapeyron: the bags' own weight over the mean way it goes is the work of the loads
    layout = lay_out(laden)
    held = {"rear_dropout_right", "rear_dropout_left"}
    held |= {f"rear_rack_strut_on_seatstay_{side}" for side in ("right", "left")}
    (seated,) = load_cases(laden, layout, ("seated",))
    bags = {n: kg for n, kg in luggage_lumps(laden.loads, laden.plan) if n.startswith("rear")}
    nodal = {n: (0.0, 0.0, kg * G_ACCEL, 0.0, 0.0, 0.0) for n, kg in bags.items()}
    case = replace(seated, nodal=nodal, supports=dict.fromkeys(held, (1,) * 6), measures=())
    work = external_work(solve(mesh(laden, layout=layout), [case])["seated"])
    assert give == pytest.approx(work / (16 * G_ACCEL), rel=1e-9)
    heavier = replace(laden, loads=replace(laden.loads, rear_luggage=32))
    assert rack_give(heavier, "rear") == pytest.approx(2 * give, rel=1e-9)
    assert rack_give(stiffer(laden, 10), "rear") == pytest.approx(give / 10, rel=1e-6)
    assert rack_gives(laden) == {
        "front_rack_give": rack_give(laden, "front"),
        "rear_rack_give": give,
    }
    stated = replace(laden, riding={"rear_rack_give": 3.0})
    assert set(rack_gives(stated)) == {"front_rack_give"}
    setup = SetUp.of(laden).model(settled_riding({}))
    assert {round(1000 * rack.give, 6) for rack in setup.racks} == {
        round(rack_give(laden, end), 6) for end in ("front", "rear")
    }


# --- cut to length ----------------------------------------------------------------------------------------------------
def test_rods_of_a_rack_have_templates(laden):
    """Square to a rail of its own diameter a rod is cut to sqrt(R^2 - y^2): from 0 to R = 5 mm at either end."""
    cuts = {length.member: length for length in cut_lengths(frame_mitres(laden))}
    for rod in ("rear_rack_cross_front", "rear_rack_cross_back"):
        assert cuts[rod].longest == pytest.approx(110.0, abs=1e-6)
        assert cuts[rod].shortest == pytest.approx(100.0, abs=1e-6)
    assert {"rear_rack_leg_left", "lowrider_strut_right", "lowrider_hoop_left"} <= {*cuts}
    told = {
        f.where: f.message
        for f in mitre_findings(laden, frame_mitres(laden))
        if f.code == "mitre-rack"
    }
    assert "(rear rack legs, rear rack back legs, rear rack struts)" in told["rear_rack"]
    assert "flattened or tipped for their bolts" in told["front_rack"]


def test_a_rack_s_rods_meet_rigidly_however_the_frame_is_joined(laden):
    """The law of thin-walled joints is of a frame's tubes; a rod of 10 x 1 mm lies outside it."""
    bare = laden.joined("bare")
    joints = tube_joints(bare, lay_out(bare))
    assert joints
    assert not {joint.member for joint in joints} & {
        member for role in bare.roles if role.region == "rack" for member in role.members
    }
