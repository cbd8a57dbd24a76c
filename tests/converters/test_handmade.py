"""Frames given point by point: closed forms and statics by hand, both solvers, every command, every refusal."""

import json
from dataclasses import replace
from itertools import pairwise
from math import cos, inf, pi, radians, sin, sqrt
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.files.handmade import BY_NAMED_NODES
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import InputError, MechanismError
from droptrail.model.frame.layout import lay_out
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.mechanics.solve import solve
from droptrail.validation.audit_model import audit_model, divided, without_shear
from droptrail.validation.opensees import available, cross_check

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
RECUMBENT = SAMPLES / "recumbent_nodes.csv"
E_STEEL, G_STEEL, RHO = 205e3, 80e3, 7.85e-9  # what the sheets below state
STEEL = "material,E,G,density\nplain,205 GPa,80 GPa,7.85 g/cm3\n"
CANTILEVER = f"""item,value
name,cantilever

node,x,y,z
root,0,0,0
tip,600,0,0

member,from,to,outside diameter,wall,material
arm,root,tip,30,1.5,plain

support,held
root,all

load,load case,Fx,Fy,Fz,Mx
tip,down,0,-200,0,0
tip,twisted,0,0,0,40

{STEEL}"""


def sheet(folder: Path, text: str) -> Path:
    path = folder / "frame.csv"
    path.write_text(text, encoding="utf-8")
    return path


def reading(folder: Path, text: str):
    return read_input(sheet(folder, text))


def solved(folder: Path, text: str):
    read = reading(folder, text)
    return solve(read.model, read.cases)


def test_a_cantilever_is_the_textbooks(tmp_path):
    """F L³/3EI + F L/GAs and T L/GJ (any textbook of strength of materials; shear area of a thin ring: Cowper 1966)."""
    results = solved(tmp_path, CANTILEVER)
    inner = 30 - 2 * 1.5
    area, second = pi / 4 * (30**2 - inner**2), pi / 64 * (30**4 - inner**4)
    nu, m2 = E_STEEL / (2 * G_STEEL) - 1, (inner / 30) ** 2
    cowper = 6 * (1 + nu) * (1 + m2) ** 2 / ((7 + 6 * nu) * (1 + m2) ** 2 + (20 + 12 * nu) * m2)
    sag = 200 * 600**3 / (3 * E_STEEL * second) + 200 * 600 / (G_STEEL * cowper * area)
    assert results["down"].measured["tip_moves"] == pytest.approx(sag, rel=1e-9)
    assert results["down"].stiffness["tip_moves"] == pytest.approx(200 / sag, rel=1e-9)
    turn = 40e3 * 600 / (G_STEEL * 2 * second)
    assert results["twisted"].measured["tip_turns"] == pytest.approx(turn * 180 / pi, rel=1e-9)


def test_what_it_weighs_is_the_integral_of_its_tubes(tmp_path):
    """A cone's wall ring integrated along its length, exactly: the mesh's pieces are fine steps of it."""
    text = CANTILEVER.replace("30,1.5", "30-20,1.5").replace("tip,600,0,0", "tip,600,0,0,1.5 kg")
    read = reading(tmp_path, text.replace("node,x,y,z", "node,x,y,z,mass"))
    p = read.model.properties
    lengths = np.linalg.norm(np.diff(read.model.xyz[read.model.ends], axis=1)[:, 0], axis=1)
    weighed = float((p["rho"] * p["A"] * lengths).sum())
    # pi (d - t) t with d from 30 to 20
    assert weighed == pytest.approx(RHO * pi * (25 - 1.5) * 1.5 * 600, rel=1e-9)
    assert [(m.node, m.m) for m in read.model.masses] == [("tip", 1.5e-3)]


def bracket(joint: str) -> str:
    """A weight of 500 N on a level tie and a strut at 45 degrees, as the wall bracket of any statics course."""
    return f"""node,x,y,z
upper,0,400,0
lower,0,0,0
hook,400,400,0

member,from,to,outside diameter,wall,material,joint
tie,upper,hook,20,1,plain,{joint}
strut,lower,hook,20,1,plain,{joint}

support,held
upper,all
lower,all
hook,z

load,load case,Fx,Fy,Fz
hook,weight,0,-500,0

{STEEL}"""


def axial(result, member: str) -> set[float]:
    index = [k for k, e in enumerate(result.model.elements) if e.member == member]
    return {round(float(f), 6) for f in result.end_forces[index, 6]}


def test_pins_leave_what_statics_by_hand_says(tmp_path):
    """Method of joints: tie + W, strut - sqrt(2) W; a pinned bar bends nowhere."""
    result = solved(tmp_path, bracket("pin"))["weight"]
    assert axial(result, "tie") == {500.0}
    assert axial(result, "strut") == {round(-500 * sqrt(2), 6)}
    bending = np.abs(result.end_forces[:, [4, 5, 10, 11]]).max()
    assert bending < 1e-6
    upper, lower = (result.reactions[node] for node in ("upper", "lower"))
    assert upper[:3] == pytest.approx([-500, 0, 0], abs=1e-6)
    assert lower[:3] == pytest.approx([500, 500, 0], abs=1e-6)


def girder(bays: int = 4) -> tuple[str, dict[str, np.ndarray], list[tuple[str, str]]]:
    """A Warren girder of bars on bolts alone, held at its two ends and kept in its plane, pushed down in the middle."""
    nodes = {f"a{k}": np.array([200.0 * k, 0.0]) for k in range(bays + 1)}
    nodes |= {f"b{k}": np.array([200.0 * k + 100, 150.0]) for k in range(bays)}
    bars = [(f"a{k}", f"a{k + 1}") for k in range(bays)]
    bars += [(f"b{k}", f"b{k + 1}") for k in range(bays - 1)]
    for k in range(bays):
        bars += [(f"a{k}", f"b{k}"), (f"b{k}", f"a{k + 1}")]
    held = {"a0": "x y z", f"a{bays}": "y z"}
    rows = [f"{name},{x:g},{y:g},0" for name, (x, y) in nodes.items()]
    members = [f"{one}{other},{one},{other},20,1,plain,pin" for one, other in bars]
    supports = [f"{name},{held.get(name, 'z')}" for name in nodes]
    text = "node,x,y,z\n" + "\n".join(rows)
    text += "\n\nmember,from,to,outside diameter,wall,material,joint\n" + "\n".join(members)
    text += "\n\nsupport,held\n" + "\n".join(supports)
    text += f"\n\nload,load case,Fx,Fy,Fz\na{bays // 2},laden,0,-1000,0\n\n{STEEL}"
    return text, nodes, bars


def test_a_girder_of_bars_on_bolts_alone_is_the_unit_load_methods(tmp_path):
    """Forces by the method of joints, deflection by the unit load method, sum N n L / E A (any statics course).

    Bars on bolts alone leave the bolts free to turn, all as one about the girder's length: nothing resists, and
    nothing is meant by it."""
    text, nodes, bars = girder()
    result = solved(tmp_path, text)["laden"]
    names = list(nodes)
    balance = np.zeros((2 * len(names), len(bars) + 3))
    for k, (one, other) in enumerate(bars):
        along = (nodes[other] - nodes[one]) / np.linalg.norm(nodes[other] - nodes[one])
        for name, sign in ((one, 1), (other, -1)):
            row = 2 * names.index(name)
            balance[row : row + 2, k] = sign * along
    # reactions: a0 both ways, a4 up
    for k, (name, way) in enumerate((("a0", 0), ("a0", 1), ("a4", 1))):
        balance[2 * names.index(name) + way, len(bars) + k] = 1
    unit = np.zeros(2 * len(names))
    unit[2 * names.index("a2") + 1] = -1
    n = np.linalg.solve(balance, -unit)[: len(bars)]
    lengths = np.array([np.linalg.norm(nodes[b] - nodes[a]) for a, b in bars])
    area = pi / 4 * (20**2 - 18**2)
    sag = 1000 * float((n**2 * lengths).sum()) / (E_STEEL * area)
    assert -result.displacement("a2")[1] == pytest.approx(sag, rel=1e-6)
    for (one, other), force in zip(bars, 1000 * n, strict=True):
        assert list(axial(result, f"{one}{other}")) == pytest.approx([force], abs=1e-3)
    assert np.abs(result.end_forces[:, [3, 4, 5, 9, 10, 11]]).max() < 1e-3


def test_a_solid_rod_is_a_solid_rod(tmp_path):
    """F L^3 / 3 E I with I = pi d^4 / 64; shear gives the little that is left."""
    result = solved(tmp_path, CANTILEVER.replace("30,1.5", "12,solid"))["down"]
    sag = 200 * 600**3 / (3 * E_STEEL * pi / 64 * 12**4)
    assert result.measured["tip_moves"] == pytest.approx(sag, rel=1e-3)
    with pytest.raises(InputError, match="a solid rod is round and as thick all along"):
        reading(tmp_path, CANTILEVER.replace("30,1.5", "30-20,solid"))


CROSSED = """node,x,y,z
a,0,0,0
b,500,500,0
c,0,500,{apart}
d,500,0,{apart}

member,from,to,outside diameter,wall,material
one,a,b,30,1.5,plain
other,c,d,20,1.5,plain
side,a,c,20,1.5,plain

support,held
a,all

load,load case,Fx,Fy,Fz
b,down,0,-200,0

"""


@pytest.mark.parametrize(("apart", "told"), [(0, True), (24.9, True), (25.1, False), (-26, False)])
def test_members_that_run_into_one_another_unjoined_are_told(tmp_path, apart, told):
    """30 and 20 mm across: they touch at 25 mm between their axes. Those with a point in common are joined."""
    found = reading(tmp_path, CROSSED.format(apart=apart) + STEEL).findings
    crossing = [f for f in found if f.code == "members-cross"]
    assert [f.where for f in crossing] == (["other"] if told else [])


def test_without_pins_the_same_bars_bend(tmp_path):
    result = solved(tmp_path, bracket("rigid"))["weight"]
    assert np.abs(result.end_forces[:, [5, 11]]).max() > 100
    one = solved(tmp_path, bracket("rigid/pin"))["weight"]
    index = result.model.element_index["tie.1"]
    assert abs(one.end_forces[index, 5]) > 100  # clamped at the wall, on a bolt at the hook
    last = max(k for k, e in enumerate(one.model.elements) if e.member == "tie")
    assert abs(one.end_forces[last, 11]) < 1e-6


@pytest.mark.skipif(bool(available()), reason="needs OpenSees")
@pytest.mark.parametrize("joint", ["rigid", "pin", "pin/rigid"])
def test_both_solvers(tmp_path, joint):
    checks = cross_check(solved(tmp_path, bracket(joint)))
    assert checks["weight"].largest < 1e-8


@pytest.mark.skipif(bool(available()), reason="needs OpenSees")
def test_the_sample_by_both_solvers():
    read = read_input(RECUMBENT)
    checks = cross_check(solve(read.model, read.cases))
    assert set(checks) == {"rider", "stroke", "bb_push", "rear_sideways"}
    assert max(check.largest for check in checks.values()) < 1e-8
    assert read.findings == ()


def test_a_library_case_is_the_librarys(tmp_path):
    """On the tourer's own points: the same loads, supports and measures as the bicycle's case, but for the lock."""
    bicycle = read_input(SAMPLES / "tourer_700c.csv").bicycle
    layout = lay_out(bicycle)
    names = sorted({name for _, points in BY_NAMED_NODES.values() for name in points})
    rows = [",".join(map(str, (name, *layout.joints[layout.node(name)]))) for name in names]
    bars = [f"bar {k},{a},{b},20,1,plain" for k, (a, b) in enumerate(pairwise(names))]
    text = "\n".join(
        [
            "item,value,unit",
            f"load cases,{' '.join(BY_NAMED_NODES)},",
            "rider mass,82,kg",
            "side push,200,N",
            "",
            "node,x,y,z",
            *rows,
            "",
            "member,from,to,outside diameter,wall,material",
            *bars,
            "",
            STEEL,
        ]
    )
    own = {case.name: case for case in reading(tmp_path, text).cases}
    for case in load_cases(bicycle, layout, tuple(BY_NAMED_NODES)):
        assert own[case.name] == replace(case, springs=())


def test_commands_run_on_a_sheet_and_on_its_model_file(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["model", str(RECUMBENT), "-o", "m.json"]) == 0
    capsys.readouterr()
    figures = []
    for source in (str(RECUMBENT), "m.json"):
        stem = Path(source).stem
        for words in (
            ["modes", source],
            ["report", source, "-o", f"{stem}.html"],
            ["picture", source, "-o", f"{stem}.svg"],
            ["picture", source, "--view", "deflected", "--case", "stroke", "-o", f"{stem}2.svg"],
            ["export", source, "-o", f"{stem}.vtu"],
            ["export", source, "-o", f"{stem}.md"],
            ["check", source],
        ):
            assert main(words) in (0, 4), capsys.readouterr()
        assert "seat strut" in (tmp_path / f"{stem}.html").read_text(encoding="utf-8")
        for command in ("solve", "audit"):
            capsys.readouterr()
            assert main([command, source, "--json"]) in (0, 4)
            figures.append(json.loads(capsys.readouterr().out))
    sheet_solve, sheet_audit, model_solve, model_audit = figures
    for case, told in sheet_solve["load_cases"].items():
        moved = np.array(list(told["displacements"].values()))
        again = np.array(list(model_solve["load_cases"][case]["displacements"].values()))
        assert np.allclose(moved, again, rtol=1e-9, atol=1e-12)
    assert sheet_audit["verdict"] == model_audit["verdict"] == "pass"
    assert len(sheet_audit["figures"]) == len(model_audit["figures"]) == 10


# --- the audit of a model ---------------------------------------------------------------------------------------------
def test_divided_pieces_are_the_same_beam(tmp_path):
    """Beam elements are exact for loads at nodes; a uniform load is w L⁴/8EI at the tip however it is cut."""
    read = reading(tmp_path, CANTILEVER)
    model = without_shear(read.model)
    lying = [MemberLoad(e.id, (0.0, -0.5, 0.0)) for e in model.elements]
    case = replace(read.cases[0], nodal={}, member_loads=tuple(lying))
    finer, cases = divided(model, (case,), 4)
    assert len(finer.elements) == 4 * len(model.elements)
    sag = 0.5 * 600**4 / (8 * E_STEEL * pi / 64 * (30**4 - 27**4))
    tip = solve(finer, cases)["down"].displacement("tip")
    assert tip[1] == pytest.approx(-sag, rel=1e-9)


def test_end_releases_stay_at_the_ends(tmp_path):
    """Clamped at both ends with a hinge in the middle: two cantilevers, F L³/6EI, however finely they are cut."""
    read = reading(tmp_path, CANTILEVER)
    tube = read.model.elements[0]
    nodes = {"left": (0.0, 0.0, 0.0), "hinge": (500.0, 0.0, 0.0), "right": (1000.0, 0.0, 0.0)}
    first = replace(tube, id="a", i="left", j="hinge", releases=(11,))
    pieces = (first, replace(tube, id="b", i="hinge", j="right", releases=()))
    model = without_shear(replace(read.model, nodes=nodes, elements=pieces, masses=()))
    held = dict.fromkeys(("left", "right"), (1,) * 6)
    load = {"hinge": (0.0, -100.0, 0.0, 0.0, 0.0, 0.0)}
    case = replace(read.cases[0], nodal=load, supports=held, measures=())
    sag = 100 * 500**3 / (6 * E_STEEL * pi / 64 * (30**4 - 27**4))
    for cut in ((model, (case,)), divided(model, (case,), 4)):
        moved = solve(*cut)["down"].displacement("hinge")[1]
        assert moved == pytest.approx(-sag, rel=1e-9)


def test_the_audit_says_what_shear_does(tmp_path):
    read = reading(tmp_path, CANTILEVER)
    done = audit_model(read.model, read.cases)
    assert all(e.section.Asy == inf for e in without_shear(read.model).elements)
    row = next(f for f in done.figures if f.measure == "tip_moves")
    bending = 600**3 / (3 * E_STEEL * pi / 64 * (30**4 - 27**4))
    # without shear the tip is stiffer by what shear gave: k = 1 / bending
    assert row.without_shear == pytest.approx(100 * (1 / bending / row.value - 1), rel=1e-6)
    assert row.mesh_error < 1e-6
    assert done.ok
    assert not done.drawn


# --- refusals ---------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("arm,root,tip", "arm,root,tipp", ("no node 'tipp'", "did you mean 'tip'", "column to")),
        ("arm,root,tip", "arm,root,root", ("arm runs from root to itself",)),
        ("arm,root,tip", "arm,root,far", ("no node 'far'. The table of nodes has",)),
        ("tip,600,0,0\n", "tip,0,0,0\n", ("root and tip lie at one place", "no length")),
        ("tip,600,0,0\n", "tip,600,0,0\nhanger,600,50,0\n", ("no member", "at hanger")),
        ("tip,600,0,0\n", "tip,600,0,0\nTip,600,50,0\n", ("'Tip' stands in row 6 already",)),
        ("tip,600,0,0\n", "tip,600 kg,0,0\n", ("kg", "column x")),
        ("tip,600,0,0\n", "tip,60000,0,0\n", ("60000", "-5000 to 5000 mm")),
        ("arm,root,tip,30,1.5", "arm,root,tip,30,18", ("frame.csv, row 9",)),
        ("arm,root,tip,30,1.5", "arm,root,tip,,", ("arm", "outside diameter and wall", "Iy")),
        ("root,all", "root,sideways", ("'sideways'", "x y z rx")),
        ("root,all", "rot,all", ("no node 'rot'", "did you mean 'root'")),
        ("root,all\n", "", ("nothing holds load case down",)),
        ("tip,down,0,-200,0,0", "tip,down,0,0,0,0", ("nought",)),
        ("tip,down,0,-200,0,0", "tip,down,0,-2e9,0,0", ("-2e9", "100000 N")),
        ("material\narm", "colour\narm", ()),
        ("name,cantilever", "load cases,side_push", ("side_push", "no head tube top")),
        ("name,cantilever", "load cases,seated", ("'seated'", "bb_push")),
    ],
)
def test_refused_in_words(tmp_path, old, new, said):
    assert CANTILEVER.count(old) == 1
    text = CANTILEVER.replace(old, new)
    if not said:
        # a column that is not known leaves the material open: read, and said
        assert [a.value for a in reading(tmp_path, text).assumed] == ["steel"]
        return
    with pytest.raises(InputError) as refused:
        reading(tmp_path, text)
    for words in said:
        assert words in str(refused.value), str(refused.value)


def test_a_member_from_a_point_to_itself(tmp_path):
    text = CANTILEVER.replace("30,1.5,plain\n", "30,1.5,plain\nloop,tip,tip,20,1,plain\n")
    with pytest.raises(InputError, match="loop runs from tip to itself"):
        reading(tmp_path, text)


def test_a_mechanism_is_named(tmp_path):
    read = reading(tmp_path, bracket("pin").replace("lower,all", "lower,y z"))
    # hook and lower turn about upper as one: (0, 400 w) and (400 w, 0)
    with pytest.raises(
        MechanismError, match=r"the part with strut, tie is free to pitch .* at upper"
    ):
        solve(read.model, read.cases)


HINGED = f"""item,value
name,two bars and a post

node,x,y,z
a,0,0,0
b,500,0,0
c,1000,0,0
d,500,300,0

member,from,to,outside diameter,wall,joint,material
left,a,b,25,1,rigid,plain
right,b,c,25,1,{{joint}},plain
post,b,d,25,1,rigid,plain

support,held
a,{{held}}

load,load case,Fx,Fy,Fz
c,push,0,-100,0

{STEEL}"""


@pytest.mark.parametrize(
    ("joint", "held", "loose"),
    [("pin/rigid", "all", 2), ("rigid", "all", 0), ("pin/rigid", "y", 2)],
)
def test_modes_name_the_part_and_the_place_of_a_hinge(tmp_path, capsys, joint, held, loose):
    """A pin at b lets the right bar bend either way: two motions more than the supports leave, counted by hand."""
    path = sheet(tmp_path, HINGED.format(joint=joint, held=held))
    code = main(["modes", str(path), "--json"])
    out = json.loads(capsys.readouterr().out)
    free = {"all": 0, "y": 5}[held]
    assert out["rigid"] == free + loose
    found = [one for one in out["findings"] if one["code"] == "parts-loose"]
    assert len(found) == bool(loose)
    assert (code == 1) == bool(loose)
    if loose:
        (one,) = found
        assert one["severity"] == "warning"
        assert f"{loose} of the {free + loose} motions at 0 Hz" in one["message"]
        assert one["message"].count("the part with right is free to") == loose
        assert "at b" in one["message"]


def test_a_ball_between_two_bodies_is_three_motions(tmp_path):
    """Two bars of which nothing but a place is shared, hung free: six as one piece and three more."""
    from droptrail.model.mechanics.frame_model import EqualDofs, FrameModel
    from droptrail.model.vibration.loose import loose_parts
    from droptrail.model.vibration.modes import modes

    model = reading(tmp_path, HINGED.format(joint="rigid", held="all")).model
    assert isinstance(model, FrameModel)
    own = tuple(
        replace(e, i="b2") if e.i == "b" and e.member == "right" else e for e in model.elements
    )
    nodes = {**model.nodes, "b2": model.nodes["b"]}
    ball = replace(model, nodes=nodes, elements=own, equal_dofs=(EqualDofs("b", "b2", (0, 1, 2)),))
    found = modes(ball)
    assert found.rigid == 9
    said = loose_parts(found)
    assert len(said) == 3
    assert {words for words in said if "right" in words} == set(said)
    # the same, joined in every direction, is one piece
    whole = replace(ball, equal_dofs=(EqualDofs("b", "b2", (0, 1, 2, 3, 4, 5)),))
    assert modes(whole).rigid == 6
    assert loose_parts(modes(whole)) == ()


def test_pictures_of_a_frame_of_points_are_in_newtons(tmp_path):
    """One moment, one way to say it: still picture, rig, JSON and the model file's absence of units."""
    from droptrail.validation.check import check
    from droptrail.validation.report.facts import report_facts

    read = read_input(RECUMBENT)
    facts = report_facts(check(read))
    stroke = next(case for case in facts.cases if case["name"] == "stroke")
    words = {label["words"] for label in stroke["labels"]}
    assert {"45 N·m", "380 N", "340 N"} <= words
    assert not any(word.isdigit() for word in words)
    block = facts.case_tables[[case["name"] for case in facts.cases].index("stroke")]
    assert ">45 N·m<" in block.rig.svg
    path = tmp_path / "model.json"
    main(["model", str(RECUMBENT), "-o", str(path)])
    other = report_facts(check(read_input(path)))
    rigs = "".join(one.rig.svg for one in other.case_tables)
    assert ">45000<" in rigs
    assert "N·m" not in rigs


def test_a_moment_on_a_bolt_is_refused(tmp_path):
    text = bracket("pin").replace("Fx,Fy,Fz\n", "Fx,Fy,Fz,Mz\n").replace("-500,0", "-500,0,10")
    with pytest.raises(InputError, match="a bolt takes no moment"):
        reading(tmp_path, text)


def test_a_support_of_no_load_case_is_a_slip(tmp_path):
    text = CANTILEVER.replace("support,held\nroot,all", "support,held,load case\nroot,all,dwon")
    with pytest.raises(InputError, match="no load is of load case 'dwon'"):
        reading(tmp_path, text)


def test_settings_of_a_bicycle_are_refused(tmp_path):
    path = sheet(tmp_path, CANTILEVER)
    with pytest.raises(InputError, match="--set would do nothing"):
        read_input(path, options=ReadOptions(settings=("rider mass=80",)))
    with pytest.raises(InputError, match="model by itself and no fit sheet"):
        read_input(SAMPLES / "tourer_700c.dxf", path)


def test_a_point_on_a_member_that_is_not_joined_is_told(tmp_path):
    text = CANTILEVER.replace("tip,600,0,0\n", "tip,600,0,0\nmiddle,300,0.4,0\nside,300,200,0\n")
    text = text.replace("30,1.5,plain\n", "30,1.5,plain\nprop,middle,side,20,1,plain\n")
    (found,) = reading(tmp_path, text).findings
    assert found.code == "node-beside-member"
    assert "middle lies on arm (0.4 mm off" in found.message


def test_section_values_and_rotated_frame(tmp_path):
    """A bar of stated section, lying askew in space: A E / L pulls back along its axis (Hooke)."""
    lean, turn = radians(33), radians(21)
    u = np.array([cos(lean) * cos(turn), sin(lean), cos(lean) * sin(turn)])
    tip = ",".join(f"{v:.12f}" for v in 500 * u)
    pull = ",".join(f"{v:.12f}" for v in 1000 * u)
    text = f"""node,x,y,z
root,0,0,0
tip,{tip}

member,from,to,A,Iy,Iz,J,material
bar,root,tip,120,4000,5000,8000,plain

support,held
root,all

load,load case,Fx,Fy,Fz
tip,pull,{pull}

{STEEL}"""
    result = solved(tmp_path, text)["pull"]
    assert result.measured["tip_moves"] == pytest.approx(1000 * 500 / (E_STEEL * 120), rel=1e-9)


# --- a tandem ---------------------------------------------------------------------------------------------------------
TANDEM = SAMPLES / "tandem_nodes.csv"


def test_a_tandems_pedals_and_chains_balance():
    """Statics by hand: nothing but weight reaches the road, so the wheels' pushes carry each foot's 800 N and no more.

    The captain's stroke goes through a timing chain to the stoker's axle: the boom is pushed by that chain's pull.
    """
    read = read_input(TANDEM)
    results = solve(read.model, read.cases)
    for name in ("captain_pedals", "stoker_pedals"):
        reactions = results[name].reactions
        total = sum(r[:3] for r in reactions.values())
        assert total == pytest.approx([0.0, 800.0, 0.0], abs=1e-6)
    loads = results["captain_pedals"].case.nodal
    assert sum(load[0] for load in loads.values()) == pytest.approx(0.0, abs=1e-9)
    seated = sum(r[1] for r in results["both_seated"].reactions.values())
    assert seated == pytest.approx(440 + 160 + 200 + 375 + 135 + 170)

    def push_in_the_boom(name: str) -> float:
        k = results[name].model.element_index["boom.1"]
        return float(results[name].end_forces[k, 6])

    assert push_in_the_boom("captain_pedals") < push_in_the_boom("stoker_pedals") - 500


@pytest.mark.skipif(bool(available()), reason="needs OpenSees")
def test_a_tandem_by_both_solvers_and_its_weight():
    read = read_input(TANDEM)
    checks = cross_check(solve(read.model, read.cases))
    assert len(checks) == 6
    assert max(check.largest for check in checks.values()) < 1e-8
    # the boom by hand: an oval of 44.5 x 32 with inner semi-axes smaller by the wall
    boom = [e for e in read.model.elements if e.member == "boom"]
    p = read.model.properties
    index = [read.model.element_index[e.id] for e in boom]
    ends = read.model.xyz[read.model.ends[index]]
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    area = pi / 4 * (44.5 * 32 - 42.5 * 30)
    rho = boom[0].material.rho
    assert float((p["rho"][index] * p["A"][index] * lengths).sum()) == pytest.approx(
        rho * area * 690
    )
    assert read.findings == ()
