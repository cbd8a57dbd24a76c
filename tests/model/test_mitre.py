"""Mitres against the implicit equation of the neighbour, known special cases and a ray marched in space.

Outside facts: a point lies on a cylinder when x^2 + y^2 = R^2 about its axis; two equal cylinders at a right
angle meet in plane ellipses and their common solid has the volume 16 R^3 / 3 (Archimedes, Method, prop. 15).
"""

from dataclasses import replace
from math import asin, pi, radians, sqrt

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.frame.frame_mitres import (
    Axis,
    cut_between,
    cut_lengths,
    frame_mitres,
)
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mitre import mitre_line
from droptrail.model.frame.mitre_findings import mitre_findings
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL
from helpers_drawn import BICYCLE, TUBES, neighbour_of, off_axis, random_bicycle, wrapped_back
from scipy.integrate import dblquad
from scipy.optimize import brentq

ROUND = np.linspace(0, 2 * pi, 73)


def spatial(radius, angle, phi, offset, taper, s):
    """Independent construction: the cut tube runs along +x, into the neighbour is -x, z = (-x) x y."""
    r = radius + taper * s
    point = np.stack([s, r * np.cos(phi), -r * np.sin(phi)], axis=-1)
    neighbour = np.array([np.cos(radians(angle)), np.sin(radians(angle)), 0.0])
    return point - np.array([0, 0, -offset]), neighbour


def random_cases(count):
    rng = np.random.default_rng(31)
    for _ in range(count):
        neighbour = rng.uniform(12, 25)
        radius = rng.uniform(5, 0.95 * neighbour)
        offset = rng.uniform(-1, 1) * (neighbour - radius) * 0.8
        yield radius, neighbour, rng.uniform(25, 155), offset, rng.uniform(-0.02, 0.02)


def test_points_of_the_line_lie_on_the_neighbour():
    for radius, neighbour, angle, offset, taper in random_cases(500):
        s = mitre_line(radius, neighbour, angle, ROUND, offset, taper)
        point, direction = spatial(radius, angle, ROUND, offset, taper, s)
        np.testing.assert_allclose(off_axis(point, direction), neighbour, rtol=0, atol=1e-9)


def test_implicit_equation_notices_a_wrong_line():
    s = mitre_line(14.3, 18.0, 73.0, ROUND, 1.0)
    point, direction = spatial(14.3, 73.0, ROUND, 1.0, 0.0, s + 0.001)
    assert abs(off_axis(point, direction) - 18.0).max() > 5e-4
    point, direction = spatial(14.3, 73.0, ROUND, -1.0, 0.0, s)  # offset to the wrong side
    assert abs(off_axis(point, direction) - 18.0).max() > 0.5


def test_line_is_where_a_ray_from_outside_first_strikes():
    """Marches each generator from far out towards the neighbour until its distance to the axis is R (brentq)."""
    for radius, neighbour, angle, offset, taper in random_cases(25):
        for phi in np.linspace(0, 2 * pi, 7):

            def gap(
                s,
                phi=phi,
                radius=radius,
                angle=angle,
                offset=offset,
                taper=taper,
                neighbour=neighbour,
            ):
                point, direction = spatial(radius, angle, phi, offset, taper, s)
                return off_axis(point, direction) - neighbour

            marks = np.arange(300.0, -100.0, -0.5)
            hit = marks[np.argmax(gap(marks) < 0)]
            expected = brentq(gap, hit, hit + 0.5, xtol=1e-12)
            found = mitre_line(radius, neighbour, angle, np.array([phi]), offset, taper)[0]
            assert found == pytest.approx(expected, abs=1e-8)


def test_equal_tubes_at_a_right_angle_are_cut_by_two_planes():
    s = mitre_line(15.0, 15.0, 90.0, ROUND)
    np.testing.assert_allclose(s, 15.0 * abs(np.cos(ROUND)), atol=1e-9)


def test_tangent_generators_of_equal_tubes_are_not_lost_to_rounding():
    quarters = np.array([pi / 2, 3 * pi / 2])
    for radius in (12.7, 14.3, 15.9, 17.45):
        same = np.nextafter(radius, 0)  # such as 1 1/8 inch worked out in two ways
        for angle in np.linspace(20, 160, 57):
            np.testing.assert_allclose(mitre_line(radius, same, angle, quarters), 0, atol=1e-5)


def test_equal_tubes_at_any_angle_are_cut_by_two_planes():
    for angle in (40.0, 60.0, 115.0):
        x, y = mitre_line(16.0, 16.0, angle, ROUND), 16.0 * np.cos(ROUND)
        for half in (y >= 1e-6, y <= -1e-6):
            fit = np.polyfit(y[half], x[half], 1)
            np.testing.assert_allclose(np.polyval(fit, y[half]), x[half], atol=1e-9)


def test_depth_at_a_right_angle():
    s = mitre_line(14.3, 18.0, 90.0, ROUND)
    assert s.max() - s.min() == pytest.approx(18.0 - sqrt(18.0**2 - 14.3**2), abs=1e-9)


def test_volume_to_the_axis_of_an_equal_tube_is_half_the_common_solid():
    """8 R^3 / 3: half of 16 R^3 / 3."""
    R = 3.0
    volume, _ = dblquad(
        lambda phi, r: r * float(mitre_line(r, R, 90.0, np.array(phi))),
        0,
        R,
        0,
        2 * pi,
        epsrel=1e-7,
    )
    assert volume == pytest.approx(8 * R**3 / 3, rel=1e-6)


def test_too_shallow_an_angle_is_refused():
    with pytest.raises(ModelError, match=r"meet at 4\.0 degrees"):
        mitre_line(10, 15, 4.0, ROUND)


# --- the ends of a frame --------------------------------------------------------------------------------------


def on_the_tube(bicycle, mitre, phi):
    return wrapped_back(bicycle, mitre, phi, mitre.outer(phi))


def distances(bicycle, mitre, phi):
    """(cuts, phi): distance of each point of the line from each neighbour's surface."""
    points = on_the_tube(bicycle, mitre, phi)
    rows = []
    for cut in mitre.cuts:
        at, direction, radius = neighbour_of(bicycle, cut.neighbour)
        rows.append(off_axis(points - at, direction) - radius)
    return np.array(rows)


def test_every_end_of_random_frames_fits_its_neighbour_in_space():
    rng = np.random.default_rng(8)
    seen = set()
    for _ in range(40):
        bicycle = random_bicycle(rng)
        for mitre in frame_mitres(bicycle):
            gaps = distances(bicycle, mitre, ROUND)
            touching = np.isfinite(gaps).all(axis=0)
            assert touching.mean() > 0.3, mitre.title
            nearest = abs(gaps[:, touching]).min(axis=0)
            np.testing.assert_allclose(nearest, 0, atol=1e-9, err_msg=mitre.title)
            seen.add((mitre.member, mitre.at_end))
    assert len(seen) == 9


def test_fit_in_space_notices_a_mirrored_template():
    """A left-hand template on the right stay must not fit."""
    mitres = {m.member: m for m in frame_mitres(BICYCLE)}
    wrong = replace(mitres["seatstay_right"], cuts=mitres["seatstay_left"].cuts)
    gaps = distances(BICYCLE, wrong, ROUND)
    assert np.nanmax(abs(gaps)) > 1.0


def test_left_stay_is_the_mirror_of_the_right():
    mitres = {m.member: m for m in frame_mitres(BICYCLE)}
    for stay in ("chainstay", "seatstay"):
        right, left = mitres[f"{stay}_right"], mitres[f"{stay}_left"]
        np.testing.assert_allclose(right.outer(ROUND), left.outer(-ROUND), atol=1e-9)
        assert (
            right.marks[1] == left.marks[1]
        )  # same sense of rotation; the side it names is the same


def test_marks_name_the_sides_in_the_order_they_are_met():
    ends = {(m.member, m.at_end): m.marks for m in frame_mitres(BICYCLE)}
    # Looking from the top tube into the head tube (forward), a right-hand turn from the top leads to the rider's right.
    assert ends["top_tube", "end"] == ("top", "drive side", "bottom", "left side")
    assert ends["top_tube", "start"] == ("top", "left side", "bottom", "drive side")
    assert ends["seat_tube", "start"][::2] == ("front", "back")


def test_down_tube_is_cut_to_shell_and_seat_tube():
    down = next(m for m in frame_mitres(BICYCLE) if (m.member, m.at_end) == ("down_tube", "start"))
    assert down.neighbours == "bottom bracket shell and seat tube"
    gaps = distances(BICYCLE, down, ROUND)
    assert (abs(gaps) < 1e-9).any(axis=1).all()  # each neighbour rules somewhere
    assert gaps[0].min() > -1e-9  # nowhere inside the shell
    codes = [f.code for f in mitre_findings(BICYCLE, (down,)) if f.where == "down_tube"]
    assert codes == ["mitre-two-neighbours"]


def test_down_tube_that_runs_into_the_top_tube_is_cut_to_it_too():
    """A short head tube: nowhere may the down tube's end lie inside the head tube or the top tube."""
    low = replace(
        BICYCLE,
        dimensions=replace(
            BICYCLE.dimensions,
            head_tube=70,
            top_tube_below_head_top=30,
            down_tube_above_head_bottom=26,
        ),
    )
    down = next(m for m in frame_mitres(low) if (m.member, m.at_end) == ("down_tube", "end"))
    assert down.neighbours == "head tube and top tube"
    gaps = distances(low, down, ROUND)
    assert (abs(gaps) < 1e-9).any(axis=1).all()
    assert gaps[0].min() > -1e-9
    assert gaps[1].min() > -1e-9
    assert (
        down.cuts[1].angle < 90
    )  # both tubes run back from the head tube, and neither is there ahead of it


def test_tapered_tube_fits_at_both_ends():
    for ends in ((28.6, 35.0), (35.0, 28.6)):
        tapered = replace(BICYCLE, tubes={**TUBES, "down_tube": Tube(STEEL, *ends, (0.9,))})
        for mitre in frame_mitres(tapered):
            if mitre.member == "down_tube":
                assert abs(distances(tapered, mitre, ROUND)).min(axis=0).max() < 1e-9
                tube = lay_out(tapered).members[2]
                at_other_end = mitre.radius + mitre.taper * tube.length
                assert sorted((mitre.od, 2 * at_other_end)) == pytest.approx([28.6, 35.0])


def test_equal_tubes_leave_no_part_uncovered():
    top = next(m for m in frame_mitres(BICYCLE) if (m.member, m.at_end) == ("top_tube", "start"))
    assert top.od == 2 * top.cuts[0].neighbour_radius
    assert top.coverage == 1.0


def test_bore_strikes_first_at_the_ears_of_a_square_cut():
    """At the long point of a right-angled joint the bore line lies sqrt(R^2 - ri^2) - sqrt(R^2 - ro^2) further back."""
    seat = next(m for m in frame_mitres(BICYCLE) if m.member == "seat_tube")
    ro, ri, R = 14.3, 14.3 - 0.9, 20.0
    expected = sqrt(R**2 - ri**2) - sqrt(R**2 - ro**2)
    assert seat.bevel == pytest.approx(expected, abs=1e-9)
    assert (seat.inner(ROUND) - seat.outer(ROUND)).max() == pytest.approx(expected, abs=1e-9)


def test_tube_larger_than_its_neighbour_is_named():
    fat = replace(BICYCLE, tubes={**TUBES, "top_tube": Tube(STEEL, 35.0, 35.0, (0.8,))})
    mitre = next(m for m in frame_mitres(fat) if (m.member, m.at_end) == ("top_tube", "start"))
    assert mitre.coverage == pytest.approx(2 / pi * asin(28.6 / 35.0), abs=2e-3)
    finding = mitre_findings(fat, (mitre,))[0]
    assert finding.code == "mitre-partial"
    assert "larger (35.0 mm) than its neighbour (28.6 mm)" in finding.message


def test_short_butt_is_named_and_a_long_one_is_not():
    def codes(butts):
        bicycle = replace(
            BICYCLE, tubes={**TUBES, "down_tube": Tube(STEEL, 31.8, 31.8, (0.9, 0.6, 0.9), butts)}
        )
        ends = tuple(m for m in frame_mitres(bicycle) if m.member == "down_tube")
        return [f.code for f in mitre_findings(bicycle, ends)]

    assert "mitre-butt-short" in codes((100, 15))  # the head tube end takes about 22 mm
    assert "mitre-butt-short" not in codes((100, 30))


def test_oval_tube_gets_a_finding_and_no_template():
    oval = replace(
        BICYCLE, tubes={**TUBES, "down_tube": replace(TUBES["down_tube"], oval_width=36.0)}
    )
    mitres = frame_mitres(oval)
    assert "down_tube" not in {m.member for m in mitres}
    assert "mitre-oval" in {f.code for f in mitre_findings(oval, mitres)}


def test_missing_tube_is_named():
    bare = replace(BICYCLE, tubes={k: v for k, v in TUBES.items() if k != "seatstay"})
    with pytest.raises(ModelError, match="no seatstay"):
        frame_mitres(bare)


def test_chainstays_wider_than_the_shell_are_named():
    def found(spacing):
        bicycle = replace(BICYCLE, fittings=replace(BICYCLE.fittings, chainstay_spacing=spacing))
        return [
            f.message
            for f in mitre_findings(bicycle, frame_mitres(bicycle))
            if f.code == "mitre-past-shell"
        ]

    assert found(45.8) == []  # 45.8 + 22.2 = 68, the shell
    assert found(46.8) == [
        "the chainstays (22.2 mm, 46.8 mm apart) reach 0.5 mm past the ends of the 68.0 mm shell, "
        "where they meet nothing; set them 45.8 mm apart or less, or squeeze their ends oval"
    ]


def test_capped_seatstay_is_for_the_record_and_one_that_misses_a_warning():
    def severity(spacing):
        bicycle = replace(BICYCLE, fittings=replace(BICYCLE.fittings, seatstay_spacing=spacing))
        return {
            f.severity
            for f in mitre_findings(bicycle, frame_mitres(bicycle))
            if f.where == "seatstay_right"
        }

    assert severity(30.0) == {"info"}
    assert severity(60.0) == {"warning"}
    wide = replace(BICYCLE, fittings=replace(BICYCLE.fittings, seatstay_spacing=60.0))
    mitres = frame_mitres(wide)
    mitre = next(m for m in mitres if m.member == "seatstay_right")
    short = abs(mitre.cuts[0].offset) - mitre.radius - TUBES["seat_tube"].od_start / 2
    assert short > 1
    said = [f.message for f in mitre_findings(wide, mitres) if f.where == "seatstay_right"]
    assert f"{short:.1f} mm too far; set the pair closer together" in said[0]


def test_shell_that_cannot_be_is_refused():
    for diameter in (0.0, -40.0, 1.5, 400.0, float("nan")):
        with pytest.raises(ModelError, match="expected 25 to 80"):
            frame_mitres(BICYCLE, diameter)


def test_cut_lengths_follow_from_the_points_in_space():
    lengths = {c.member: c for c in cut_lengths(frame_mitres(BICYCLE))}
    ends = {m.at_end: m for m in frame_mitres(BICYCLE) if m.member == "top_tube"}
    top = lengths["top_tube"]
    start, end = (
        on_the_tube(BICYCLE, ends[name], np.linspace(0, 2 * np.pi, 720, endpoint=False))
        for name in ("start", "end")
    )
    axis = end.mean(axis=0) - start.mean(axis=0)
    first, last = (points @ axis / np.linalg.norm(axis) for points in (start, end))
    assert top.longest == pytest.approx(last.max() - first.min(), abs=1e-3)
    assert top.shortest == pytest.approx(last.min() - first.max(), abs=1e-3)
    assert top.longest < top.centre_to_centre


def test_tapered_head_tube_is_taken_with_its_diameter_at_the_joint():
    tapered = replace(BICYCLE, tubes={**TUBES, "head_tube": Tube(STEEL, 44.0, 56.0, (1.2,))})
    down = next(m for m in frame_mitres(tapered) if (m.member, m.at_end) == ("down_tube", "end"))
    d = BICYCLE.dimensions
    share = 1 - d.down_tube_above_head_bottom / d.head_tube
    assert 2 * down.cuts[0].neighbour_radius == pytest.approx(44 + 12 * share)
    # towards the shell side it grows by 12 mm over the head tube
    assert abs(down.cuts[0].neighbour_taper) == pytest.approx(6 / d.head_tube)


def test_a_tube_along_its_neighbour_has_no_mitre():
    """From the joint straight back along the neighbour: nothing to cut. At 30 degrees there is, either way round."""
    along, up = np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0])
    neighbour = Axis(np.zeros(3), along, 14.3, ends=False)
    with pytest.raises(ModelError, match="within 10 degrees of the seat tube: no mitre can be cut"):
        cut_between(np.zeros(3), -along, up, "seat_tube", neighbour)
    for turn in (30.0, 150.0):
        into = -np.array([np.cos(np.radians(turn)), np.sin(np.radians(turn)), 0.0])
        cut = cut_between(np.zeros(3), into, np.array([0.0, 0.0, 1.0]), "seat_tube", neighbour)
        assert cut.acute == pytest.approx(30.0)
