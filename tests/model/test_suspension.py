"""Suspension forks: the beam gives what was stated, the bicycle sinks as geometry says, nothing asks for blades."""

from dataclasses import replace
from math import atan2, degrees, hypot, radians
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.cases.tools import CLAMPED
from droptrail.model.errors import InputError, ModelError
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.suspension import FOOT, MEMBER, SuspensionFork, fork_beam
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.geometry.sag import sunk
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase, RigidLink
from droptrail.model.mechanics.solve import solve
from droptrail.model.stability.hands import SetUp
from droptrail.model.tubes.racks import rack_tubes, with_rack
from droptrail.model.tubes.tube import Tube
from droptrail.model.vibration.setup import vibration_model
from droptrail.validation.opensees import available, cross_check
from helpers_bicycle import STEEL

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = SAMPLES / "trail_27.csv"
DRAWING = SAMPLES / "trail_27.dxf"


@pytest.fixture(scope="module")
def trail() -> Bicycle:
    return read_input(SHEET).bicycle


# --- stiffness ------------------------------------------------------------------------------------------------------
def test_the_beam_gives_what_was_stated(trail):
    """Held at the crown, pushed at the axle: exactly the stated stiffnesses, which are what a test bench reads."""
    fork = SuspensionFork(fore_aft=85.0, sideways=48.0, twist=19.0)
    d = trail.dimensions
    crown, foot, axle = d.fork_crown, d.fork_offset_foot, d.front_axle
    nodes = {
        "fork_crown": (crown.x, crown.y, 0.0),
        FOOT: (foot.x, foot.y, 0.0),
        "axle": (axle.x, axle.y, 0.0),
    }
    beam = fork_beam(fork, d, (*d.axis_forward, 0.0))
    model = FrameModel(nodes, (beam,), rigid_links=(RigidLink(FOOT, "axle"),))
    held = {"fork_crown": CLAMPED}
    forward, up = np.array([*d.axis_forward, 0.0]), np.array([*d.axis_up, 0.0])
    loads = {
        "forward": (*(200 * forward), 0, 0, 0),
        "sideways": (0, 0, 200, 0, 0, 0),
        "twist": (0, 0, 0, *(20e3 * up)),
    }
    results = solve(model, [LoadCase(n, {"axle": w}, supports=held) for n, w in loads.items()])
    moved = {name: result.displacement("axle") for name, result in results.items()}
    assert moved["forward"][:3] @ forward == pytest.approx(200 / 85.0, rel=1e-9)
    assert moved["sideways"][2] == pytest.approx(200 / 48.0, rel=1e-9)
    assert degrees(moved["twist"][3:] @ up) == pytest.approx(20 / 19.0, rel=1e-9)


def test_stiffnesses_that_contradict_are_refused(trail):
    with pytest.raises(ModelError, match="twist alone leaves less than"):
        fork_beam(SuspensionFork(sideways=900.0, twist=2.0), trail.dimensions, (0, 1, 0))
    with pytest.raises(ModelError, match="fore-aft is -3"):
        SuspensionFork(fore_aft=-3.0)


def test_its_mass_is_weighed_as_a_part(trail):
    model = mesh(trail)
    table = mass_table(model, lay_out(trail))
    assert table.parts[MEMBER].kg == pytest.approx(trail.suspension.mass, rel=1e-12)
    foot = trail.dimensions.fork_offset_foot
    crown = trail.dimensions.fork_crown
    middle = [(foot.x + crown.x) / 2, (foot.y + crown.y) / 2, 0.0]
    assert table.parts[MEMBER].centre == pytest.approx(middle)
    assert set(table.by_tube) == set(trail.tubes)
    assert "fork_blade" not in table.by_tube


def test_a_very_stiff_fork_nears_the_rigid_limit(trail):
    """As the stated stiffness grows the push at the head nears that of a fork that cannot give, from below."""
    seen = []
    for times in (1, 10, 1e3, 1e5):
        fork = replace(
            trail.suspension, fore_aft=times * 100, sideways=times * 60, twist=times * 25
        )
        bicycle = replace(trail, suspension=fork)
        layout = lay_out(bicycle)
        from droptrail.model.cases.library import load_cases

        (case,) = load_cases(bicycle, layout, ("side_push",))
        result = solve(mesh(bicycle, layout=layout), [case])["side_push"]
        seen.append(result.stiffness["head_sideways"])
    assert seen == sorted(seen)
    assert seen[3] / seen[2] - 1 < 1e-3 < seen[1] / seen[0] - 1


# --- sag --------------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("sag", [5.0, 24.0, 60.0, -15.0])
def test_the_whole_bicycle_turns_about_the_rear_axle(trail, sag):
    """Every distance inside the frame stays; both wheels stand on the ground; the fork is shorter by the sag."""
    before = trail.dimensions
    after = sunk(before, sag)
    names = ("bottom_bracket", "rear_axle", "head_tube_top", "seat_tube_top", "down_tube_head_node")
    for a in names:
        for b in names:
            was = getattr(before, a).distance(getattr(before, b))
            assert getattr(after, a).distance(getattr(after, b)) == pytest.approx(was, abs=1e-9)
    assert after.fork_length == pytest.approx(before.fork_length - sag)
    ground = after.front_axle.y - after.wheel_radius_front
    assert ground == pytest.approx(after.ground_y, abs=1e-9)

    # rear axle, head tube top: turned by the same angle as the head angle
    def lean(d):
        top, axle = d.head_tube_top, d.rear_axle
        return degrees(atan2(top.y - axle.y, top.x - axle.x))

    assert lean(before) - lean(after) == pytest.approx(after.head_angle - before.head_angle)
    assert sunk(after, -sag).trail == pytest.approx(before.trail, abs=1e-9)


@pytest.mark.parametrize("built_in", [True, False])
def test_a_rack_and_its_bags_turn_with_the_frame_that_carries_them(trail, built_in):
    """One rigid body: every distance from a point of rack or bags to the rear axle and to the seat tube's top stays,
    and so does the side that it lies on. Placed level from the axle as before, the rail would lie 7 mm elsewhere."""
    plan = with_rack(trail.plan, "rear_rack", bolted=not built_in)
    tubes = {name: Tube(STEEL, 10.0, 10.0, (1.0,)) for name in rack_tubes() if plan.get(name)}
    carrying = replace(
        trail,
        plan=plan,
        tubes={**trail.tubes, **tubes},
        suspension=replace(trail.suspension, at_sag=False, sag=30.0),
    )
    ridden = carrying.as_ridden
    assert ridden.dimensions.seat_angle - carrying.dimensions.seat_angle > 1.0
    before, after = lay_out(carrying).joints, lay_out(ridden).joints
    names = [name for name in before if name.startswith(("rear_rack", "rear_bag"))]
    assert len(names) > 8

    def held(joints, name):
        here, axle, top = (np.array(joints[n]) for n in (name, "rear_axle", "seat_tube_top"))
        side = np.cross(top - axle, here - axle)[2]
        return (*np.linalg.norm([here - axle, here - top], axis=1), side, here[2])

    for name in names:
        assert held(after, name) == pytest.approx(held(before, name), abs=1e-6), name
    # and it really went down with the nose
    rise = [
        joints["rear_rack_front_right"][1] - joints["rear_axle"][1] for joints in (before, after)
    ]
    assert rise[1] < rise[0] - 1.0


def test_small_sag_turns_by_what_a_sketch_says(trail):
    """To first order the axle rises by sag sin H under the head, so the bicycle turns by that over the wheelbase."""
    d = trail.dimensions
    wheelbase = d.derived()["wheelbase"]
    turned = sunk(d, 0.1).head_angle - d.head_angle
    rise = 0.1 * np.sin(radians(d.head_angle))
    assert radians(turned) == pytest.approx(rise / wheelbase, rel=2e-3)


def test_too_much_sag_is_refused(trail):
    with pytest.raises(ModelError, match="at most 393 mm"):
        sunk(trail.dimensions, 400.0)


def test_what_rides_is_sunk_and_what_stands_on_the_bench_is_not(trail):
    laden = sunk(trail.dimensions, 24.0)
    assert trail.as_ridden.dimensions == laden
    assert (
        trail.as_ridden.as_ridden is trail.as_ridden or trail.as_ridden.as_ridden == trail.as_ridden
    )
    model, _ = vibration_model(trail)
    assert model.nodes["front_axle"][:2] == pytest.approx(laden.front_axle)
    assert SetUp.of(trail).bicycle.dimensions == laden
    assert lay_out(trail).joints["front_axle"][:2] == trail.dimensions.front_axle
    drawn_laden = replace(trail, suspension=replace(trail.suspension, at_sag=True))
    assert drawn_laden.as_ridden is drawn_laden


# --- sheet and drawing ------------------------------------------------------------------------------------------------
def changed(tmp_path: Path, *lines: tuple[str, str]) -> Path:
    text = SHEET.read_text(encoding="utf-8")
    for old, new in lines:
        assert text.count(old) == 1
        text = text.replace(old, new)
    path = tmp_path / "own.csv"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_sheet_says_what_it_took_as_typical():
    reading = read_input(SHEET)
    fork = reading.bicycle.suspension
    assert fork.stated == {"sag", "sideways"}
    assumed = {one.key: one.value for one in reading.assumed if one.key.startswith("suspension")}
    assert assumed == {"suspension_fore_aft": 100, "suspension_twist": 25, "suspension_mass": 1.9}
    (told,) = [f for f in reading.findings if f.code == "suspension-fork"]
    for words in ("495.0 mm from axle to crown", "88.8 mm extended and 81.3 mm at 24 mm sag"):
        assert words in told.message
    assert told.severity == "info"


def test_a_sheet_written_reads_back(tmp_path, trail):
    write_fit_sheet(trail, tmp_path / "back.csv")
    back = read_input(tmp_path / "back.csv").bicycle
    assert back.suspension == trail.suspension
    assert back.plan == trail.plan
    at_sag = replace(trail, suspension=replace(trail.suspension, at_sag=True), assumed=())
    write_fit_sheet(at_sag, tmp_path / "sag.csv")
    assert read_input(tmp_path / "sag.csv").bicycle.suspension.at_sag


def test_settings_of_the_fork(trail):
    made = read_input(SHEET, options=ReadOptions(settings=("suspension_mass=2100 g", "sag=30")))
    assert made.bicycle.suspension.mass == pytest.approx(2.1)
    assert made.bicycle.suspension.sag == 30
    with pytest.raises(InputError, match="has no suspension fork"):
        read_input(SAMPLES / "tourer_700c.csv", options=ReadOptions(settings=("sag=30",)))


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("fork type,suspension", "fork type,rigid", "other rows state a suspension fork"),
        ("fork type,suspension", "fork type,springy", "expected rigid or suspension"),
        ("dimensions hold,fork extended", "dimensions hold,often", "expected 'at sag'"),
        ("sag,24,mm", "sag,240,mm", "expected 0 to 120 mm"),
    ],
)
def test_refused_in_words(tmp_path, old, new, said):
    with pytest.raises(InputError, match=said):
        read_input(changed(tmp_path, (old, new)))


def test_blades_beside_a_suspension_fork_are_told(tmp_path):
    path = changed(tmp_path, ("steerer,28.6", "fork blade,24-13,1.0,,4130,\nsteerer,28.6"))
    reading = read_input(path)
    (told,) = [f for f in reading.findings if f.code == "sheet-unknown-tube"]
    assert "fork blade was not used" in told.message
    assert "fork_blade" not in reading.bicycle.tubes


def test_a_drawing_of_one_is_read_and_a_sheet_that_is_silent_is_asked(tmp_path):
    reading = read_input(DRAWING, SHEET)
    codes = {f.code for f in reading.findings}
    assert "side-fork-sprung" in codes
    assert "suspension-fork-not-stated" not in codes
    d = reading.view.dimensions
    assert hypot(d.fork_length, d.fork_offset) == pytest.approx(495, abs=0.05)
    assert d.fork_offset == pytest.approx(46, abs=0.05)
    silent = changed(
        tmp_path,
        ("fork type,suspension,,a given part: 120 mm of travel\n", ""),
        ("dimensions hold,fork extended,,\n", ""),
        ("sag,24,mm,a fifth of the travel\n", ""),
        ("suspension fork stiffness sideways,70,N/mm,\n", ""),
    )
    asked = read_input(DRAWING, silent)
    assert "suspension-fork-not-stated" in {f.code for f in asked.findings}
    assert asked.bicycle.suspension is None
    # a drawing of blades asks nothing
    tourer = read_input(SAMPLES / "tourer_700c.dxf", SAMPLES / "tourer_700c.csv")
    assert "suspension-fork-not-stated" not in {f.code for f in tourer.findings}


def test_no_mitre_is_cut_on_it(trail):
    assert not any("fork" in mitre.member for mitre in frame_mitres(trail))
    sheet = bicycle_from_sheet(read_fit_sheet(SHEET)).bicycle
    assert [role.name for role in sheet.roles if role.region == "fork"] == []


@pytest.mark.skipif(bool(available()), reason="needs OpenSees")
def test_both_solvers(trail):
    from droptrail.model.cases.library import load_cases

    layout = lay_out(trail)
    checks = cross_check(solve(mesh(trail, layout=layout), load_cases(trail, layout)))
    assert max(check.largest for check in checks.values()) < 1e-8


@pytest.mark.parametrize(
    "words",
    [
        ["solve", "--json"],
        ["modes"],
        ["draw", "-o", "d.dxf"],
        ["mitre", "-o", "mitres"],
        ["picture", "-o", "iso.svg", "--view", "iso"],
        ["tubes"],
        ["jig"],
        ["shimmy", "--draws", "3"],
        ["search", "--option", "down_tube=31.8x0.8,34.9x0.8"],
        ["compare", "--option", "down_tube=31.8x0.8"],
        ["export", "-o", "m.vtu"],
        ["model", "-o", "m.json"],
    ],
)
def test_commands(tmp_path, monkeypatch, capsys, words):
    monkeypatch.chdir(tmp_path)
    code = main([words[0], str(SHEET), *words[1:]])
    said = capsys.readouterr()
    assert code in (0, 1, 4), said.err
    assert said.err == ""


def test_geometry_tells_both_states(capsys):
    import json

    assert main(["geometry", str(SHEET), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["extended"]["trail"] == pytest.approx(88.85, abs=0.01)
    assert told["rider_aboard"]["trail"] == pytest.approx(81.28, abs=0.01)
