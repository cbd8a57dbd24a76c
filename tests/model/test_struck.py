"""Tubes that run into one another, and templates cut to what a tube strikes: closed forms, and a march in space.

Two cylinders whose axes lie h apart, at any angle but nought, lie within each other by r1 + r2 - h, as long as h is
more than either radius (elementary geometry). A template is held against the tube's own surface: from outside in, step
by step along each generator, to the first point within a neighbour's solid.
"""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.layout import Member, lay_out
from droptrail.model.frame.mitre import Mitre
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.frame.slips import bicycle_slips
from droptrail.model.frame.struck import struck
from droptrail.model.tubes.bends import Bend
from droptrail.model.tubes.places import Along, read_place
from droptrail.model.tubes.plan import TubeRole
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_drawn import wrapped_back
from helpers_plans import BICYCLES, samples_and_plans

pytestmark = pytest.mark.slow

PHI = np.linspace(0, 2 * np.pi, 24, endpoint=False)
FARTHEST = 260.0  # mm from a joint at which the march begins
STEP = 0.25  # mm of it


def with_tubes(*rows: tuple[str, str, str, float]) -> Bicycle:
    """The tourer with tubes of its builder: (name, from, to, diameter)."""
    bicycle = tourer()
    plan = bicycle.plan
    tubes = dict(bicycle.tubes)
    for name, start, end, od in rows:
        ends = (read_place(start, plan.names), read_place(end, plan.names))
        cut = tuple((place.tube,) if isinstance(place, Along) else () for place in ends)
        pair = any(place.pair for place in ends)
        role = TubeRole(name, ends, paired=pair, mitred_start=cut[0], mitred_end=cut[1])
        plan = plan.with_roles(role)
        tubes[name] = Tube(STEEL, od, od, (0.8,))
    return replace(bicycle, plan=plan, tubes=tubes)


def told(bicycle: Bicycle) -> list[str]:
    return [f"{f.where} {f.severity}" for f in bicycle_slips(bicycle) if f.code == "tubes-overlap"]


@pytest.mark.parametrize("apart", [22.0, 27.0, 31.0, 33.0])
def test_crossing_tubes_lie_within_each_other_by_their_radii_less_the_gap(apart: float) -> None:
    bicycle = with_tubes(
        ("brace", "seat_tube 0.3", "down_tube 0.7", 19.0),
        ("strut", f"seat_tube 0.7 apart {apart}", f"down_tube 0.3 apart {apart}", 12.7),
    )
    found = [one for one in struck(bicycle) if one.other == "brace"]
    deep = 19.0 / 2 + 12.7 / 2 - apart / 2
    if deep < 0.5:
        assert found == []
        assert told(bicycle) == []
        return
    assert {one.member for one in found} == {"strut_right", "strut_left"}
    for one in found:
        # rings of points 4 mm apart miss the deepest place by a little
        assert one.depth == pytest.approx(deep, abs=0.35)
    assert told(bicycle) == ["strut_right warning"]


def test_a_pair_from_one_place_is_told_as_a_pair() -> None:
    bicycle = with_tubes(("strut", "down_tube 0.5 apart 4", "rear_axle apart 120", 12.7))
    assert told(bicycle) == ["strut warning"]
    wide = with_tubes(("strut", "down_tube 0.5 apart 30", "rear_axle apart 120", 12.7))
    assert told(wide) == []


def test_two_that_run_to_one_dropout_beside_one_another_are_told_as_a_word() -> None:
    assert told(BICYCLES["split_seatstays"]) == ["upper_stay_right info"]


@pytest.mark.parametrize("name", samples_and_plans())
def test_no_bicycle_of_ours_has_tubes_that_run_through_one_another(name: str) -> None:
    # the helper's strut has a brace's end at the bracket and no template there
    if name != "own":
        assert not any("warning" in one for one in told(samples_and_plans()[name]))


@pytest.mark.parametrize(("below", "touches"), [(92.0, True), (75.0, False)])
def test_a_neighbour_alongside_is_told_only_where_the_two_touch(
    below: float, touches: bool
) -> None:
    """A low top tube that comes to the head tube in the direction of the down tube, just above it or well above it: by
    hand, the down tube's axis at the head tube's surface lies within both radii of the top tube's, or does not."""
    low = BICYCLES["step_through"]
    bicycle = replace(
        low,
        placing={**low.placing, "top_tube_sagitta": -60.0},
        dimensions=replace(low.dimensions, top_tube_below_head_top=below),
    )
    members = {m.name: m for m in lay_out(bicycle).members}
    down = members["down_tube"]
    # a point of the down tube just outside the head tube, across it 18 mm from its axis
    away = down.tangent(-1)
    steep = np.linalg.norm(np.cross(away, members["head_tube"].tangent(0)))
    outside = np.array(down.path[-1]) + away * 20.0 / steep
    apart = members["top_tube"].distance_from(outside)
    radii = (bicycle.tubes["top_tube"].od_start + bicycle.tubes["down_tube"].od_start) / 2
    assert (apart < radii) == touches
    found = mitre_findings(bicycle, frame_mitres(bicycle))
    told_of = [f.where for f in found if f.code == "mitre-alongside"]
    assert ("down_tube" in told_of) == touches


# --- templates ------------------------------------------------------------------------------------------------
def solid_depth(bicycle: Bicycle, member: Member, points: np.ndarray) -> np.ndarray:
    """How deep points lie within a tube, mm: piece by piece, its ends cut square."""
    path = np.array(member.path)
    tube = bicycle.tubes[member.tube]
    deepest = np.full(points.shape[:-1], -np.inf)
    run = 0.0
    for start, end in pairwise(path):
        length = np.linalg.norm(end - start)
        along = (points - start) @ (end - start) / length
        off = np.linalg.norm(np.cross(points - start, (end - start) / length), axis=-1)
        share = np.clip((run + along) / member.length, 0, 1)
        radius = (tube.od_start + (tube.od_end - tube.od_start) * share) / 2
        deep = np.where((along > -1e-9) & (along < length + 1e-9), radius - off, -np.inf)
        deepest = np.maximum(deepest, deep)
        run += length
    return deepest


def neighbour(bicycle: Bicycle, mitre: Mitre, name: str) -> Member:
    """The member of that name, or of a pair the one that the end stands on."""
    members = lay_out(bicycle).members
    own = next(m for m in members if m.name == mitre.member)
    joint = np.array(own.path[0 if mitre.at_end == "start" else -1])
    side = mitre.member.rpartition("_")[2]
    those = [m for m in members if m.tube == name]
    return min(those, key=lambda m: (round(m.distance_from(joint), 6), not m.name.endswith(side)))


def marched(bicycle: Bicycle, mitre: Mitre, names: list[str]) -> np.ndarray:
    """Distance from the joint at which each generator first enters a neighbour's solid; NaN where it passes by."""
    own = next(m for m in lay_out(bicycle).members if m.name == mitre.member)
    joint = np.array(own.path[0 if mitre.at_end == "start" else -1])
    others = [neighbour(bicycle, mitre, name) for name in names if name != "bb_shell"]

    def deep(phi: np.ndarray, s: np.ndarray) -> np.ndarray:
        points = wrapped_back(bicycle, mitre, phi, s)
        found = [solid_depth(bicycle, member, points) for member in others]
        if "bb_shell" in names:
            found.append(20.0 - np.hypot(*(points - joint)[:, :2].T))
        return np.max(found, axis=0)

    steps = np.arange(FARTHEST, -45, -STEP)
    rows = deep(np.repeat(PHI, len(steps)), np.tile(steps, len(PHI))).reshape(len(PHI), len(steps))
    # Through its side, and not through the square end of a solid, where the depth jumps.
    enters = (rows[:, 1:] >= 0) & (rows[:, :-1] < 0) & np.isfinite(rows[:, :-1])
    high = steps[enters.argmax(axis=1)]
    low = high - STEP
    for _ in range(12):
        middle = (low + high) / 2
        inside = deep(PHI, middle) >= 0
        low = np.where(inside, middle, low)
        high = np.where(inside, high, middle)
    return np.where(enters.any(axis=1), low, np.nan)


def straight_mitres(bicycle: Bicycle) -> list[Mitre]:
    """Those of straight tubes on straight ones; a rack's rods end at the very end of a rail, where half is told."""
    rods = bicycle.plan.in_region("rack")
    left_out = {m.tube for m in lay_out(bicycle).members if m.bent or m.tube in rods}
    chosen = []
    for mitre in frame_mitres(bicycle):
        tubes = {cut.neighbour for cut in mitre.cuts}
        tubes |= {m.tube for m in lay_out(bicycle).members if m.name == mitre.member}
        if not tubes & left_out:
            chosen.append(mitre)
    return chosen


def off_by(bicycle: Bicycle, mitre: Mitre) -> tuple[float, int]:
    """(most that the template differs from the march, mm; generators on which only one of the two meets anything)."""
    line = mitre.outer(PHI)
    met = marched(bicycle, mitre, [cut.neighbour for cut in mitre.cuts])
    both = np.isfinite(line) & np.isfinite(met)
    # stays may stand so wide that they do not touch, which is told
    return float(np.abs(line - met)[both].max(initial=0.0)), int(
        (np.isfinite(line) != np.isfinite(met)).sum()
    )


@pytest.mark.parametrize("name", samples_and_plans())
def test_every_template_of_every_plan_is_where_a_march_along_the_tube_strikes(name: str) -> None:
    bicycle = samples_and_plans()[name]
    seen = straight_mitres(bicycle)
    assert len(seen) >= 3
    for mitre in seen:
        off, alone = off_by(bicycle, mitre)
        assert off < 0.02, mitre.title
        # a generator that only grazes
        assert alone <= 2, mitre.title


BRACES = {
    "beside the top tube": ("brace", "seat_tube 515 mm", "down_tube 0.5", 19.0, {"seat_tube", "top_tube"}),
    "to the shell": ("brace", "top_tube 0.5", "bottom_bracket", 19.0, {"bb_shell", "down_tube", "seat_tube"}),
}  # fmt: skip


@pytest.mark.parametrize("case", BRACES)
def test_a_tube_of_the_builders_own_is_cut_to_whatever_it_strikes(case: str) -> None:
    """Three and four tubes at one node: what the plan holds already is fitted first."""
    name, start, end, od, tubes = BRACES[case]
    bicycle = with_tubes((name, start, end, od))
    if end == "bottom_bracket":
        role = replace(bicycle.plan.role(name), mitred_end=("bb_shell",))
        bicycle = replace(bicycle, plan=bicycle.plan.with_roles(role))
    mitres = [m for m in frame_mitres(bicycle) if m.member == name]
    mitre = next(m for m in mitres if len(m.cuts) > 1)
    assert {cut.neighbour for cut in mitre.cuts} == tubes
    off, alone = off_by(bicycle, mitre)
    assert off < 0.02
    assert alone == 0
    # cut to the first alone it would run into the others
    first = replace(mitre, cuts=mitre.cuts[:1])
    both = marched(bicycle, mitre, [cut.neighbour for cut in mitre.cuts])
    assert np.nanmax(both - first.outer(PHI)) > 1.0
    words = [
        f.message for f in mitre_findings(bicycle, (mitre,)) if f.code == "mitre-two-neighbours"
    ]
    assert len(words) == 1
    assert "fit the " in words[0]


@pytest.mark.parametrize(("top", "bottom"), [(44.0, 56.0), (56.0, 44.0)])
@pytest.mark.parametrize("plan", ["diamond", "mixte", "twin_top_tubes", "mixte_single"])
def test_templates_at_a_tapered_head_tube_lie_on_its_cone(
    plan: str, top: float, bottom: float
) -> None:
    """A point of the cone lies as far from the axis as the radius that runs evenly from top to bottom says."""
    bicycle = BICYCLES[plan]
    head = replace(bicycle.tubes["head_tube"], od_start=top, od_end=bottom)
    bicycle = replace(bicycle, tubes={**bicycle.tubes, "head_tube": head})
    seen = [m for m in frame_mitres(bicycle) if m.cuts[0].neighbour == "head_tube"]
    assert len(seen) >= 2
    d = bicycle.dimensions
    down = np.array([*d.head_tube_bottom, 0.0]) - np.array([*d.head_tube_top, 0.0])
    length = np.linalg.norm(down)
    for mitre in seen:
        line = mitre.outer(PHI)
        points = wrapped_back(bicycle, mitre, PHI, line) - np.array([*d.head_tube_top, 0.0])
        along = points @ down / length
        off = np.linalg.norm(points - along[:, None] * down / length, axis=1)
        radius = (top + (bottom - top) * along / length) / 2
        met = np.isfinite(line)
        if len(mitre.cuts) == 1:
            assert met.mean() > 0.3
            assert off[met] == pytest.approx(radius[met], abs=1e-9)
        else:
            assert np.nanmin(np.abs(off - radius)) < 1e-9
    codes = {f.code for f in mitre_findings(bicycle, frame_mitres(bicycle))}
    assert "mitre-tapered-neighbour" not in codes


def test_a_head_tube_whose_taper_begins_at_the_joint_is_told() -> None:
    bicycle = BICYCLES["diamond"]
    d = bicycle.dimensions
    head = replace(
        bicycle.tubes["head_tube"], od_start=44.0, od_end=56.0, straight=(d.head_tube - 45, 0.0)
    )
    near = replace(bicycle, tubes={**bicycle.tubes, "head_tube": head})
    found = mitre_findings(near, frame_mitres(near))
    told_of = [f.where for f in found if f.code == "mitre-tapered-neighbour"]
    assert told_of == ["down_tube"]


# --- bent tubes -----------------------------------------------------------------------------------------------
def bent_top_tube(sagitta: float) -> Bicycle:
    bicycle = tourer()
    role = replace(bicycle.plan.role("top_tube"), bend=Bend(sagitta=sagitta))
    return replace(bicycle, plan=bicycle.plan.with_roles(role))


def on_the_arc(
    start: np.ndarray, end: np.ndarray, sagitta: float, s: np.ndarray, radius: float
) -> np.ndarray:
    """(s, PHI, 3) points on a tube bent to an arc, s mm of arc from its start, in closed form."""
    chord = np.linalg.norm(end - start)
    along = (end - start) / chord
    up = np.sign(sagitta) * np.array([-along[1], along[0], 0.0])
    big = (chord**2 + 4 * sagitta**2) / (8 * abs(sagitta))
    half = np.arcsin(chord / 2 / big)
    centre = (start + end) / 2 - big * np.cos(half) * up
    turn = (s / big - half)[:, None]
    out = np.sin(turn) * along + np.cos(turn) * up
    round_ = np.cos(PHI)[:, None] * out[:, None] + np.sin(PHI)[:, None] * np.array([0, 0, 1.0])
    return centre + big * out[:, None] + radius * round_


@pytest.mark.parametrize("sagitta", [25.0, -60.0, 120.0])
def test_a_bent_tubes_template_is_off_by_no_more_than_is_told(sagitta: float) -> None:
    """The arc in closed form, marched into the seat tube: where it strikes, the template says within what is told."""
    bicycle = bent_top_tube(sagitta)
    joints = lay_out(bicycle).joints
    start, end = (np.array(joints[j]) for j in ("seat_tube_top_tube_node", "top_tube_head_node"))
    mitre = next(m for m in frame_mitres(bicycle) if (m.member, m.at_end) == ("top_tube", "start"))
    steps = np.arange(60.0, -20.0, -0.05)
    points = on_the_arc(start, end, sagitta, steps, 14.3)
    seat = start / np.linalg.norm(start)
    off = np.linalg.norm(np.cross(points - start, seat), axis=-1) - 28.6 / 2
    met = steps[(off <= 0).argmax(axis=0)]
    # The same generators: the template's angles count from the top, to the left or the right.
    line = np.sort(mitre.outer(PHI))
    true_off = float(np.abs(np.sort(met) - line).max())
    words = [f.message for f in mitre_findings(bicycle, (mitre,)) if f.code == "mitre-bent"]
    said = float(words[0].split("off by up to ")[1].split(" mm")[0])
    assert true_off <= said + 0.15
    assert said <= 3 * true_off + 0.15


def test_what_stands_on_a_bent_tube_is_told_how_far_its_template_is_off() -> None:
    """From the arc to its tangent, half a joint's length away: l² / 2 r, any handbook of geometry."""
    bicycle = bent_top_tube(90.0)
    role = TubeRole(
        "brace",
        tuple(read_place(p, bicycle.plan.names) for p in ("top_tube 0.5", "down_tube 0.5")),
        mitred_start=("top_tube",),
        mitred_end=("down_tube",),
    )
    bicycle = replace(
        bicycle,
        plan=bicycle.plan.with_roles(role),
        tubes={**bicycle.tubes, "brace": Tube(STEEL, 19.0, 19.0, (0.8,))},
    )
    found = mitre_findings(bicycle, frame_mitres(bicycle))
    words = [f.message for f in found if f.code == "mitre-bent" and f.where == "brace"]
    assert len(words) == 1
    said = float(words[0].split("off by up to ")[1].split(" mm")[0])
    joints = lay_out(bicycle).joints
    ends = [np.array(joints[j]) for j in ("seat_tube_top_tube_node", "top_tube_head_node")]
    chord = np.linalg.norm(ends[1] - ends[0])
    radius = (chord**2 + 4 * 90.0**2) / (8 * 90.0)
    # brace 19 and top tube 28.6 mm, nearly square to one another
    reach = 19.0 / 2 + 28.6 / 2
    assert said == pytest.approx(reach**2 / 2 / radius, abs=0.06)
