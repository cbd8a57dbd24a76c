"""Tubes cylindrical at first and then tapered, ovals that end round: flexibility, mesh, mass, mitres, gaps."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.choice.search import set_up
from droptrail.model.choice.variants import TubeChange, described
from droptrail.model.errors import ModelError
from droptrail.model.frame.clearance import clearances
from droptrail.model.frame.frame_mitres import frame_mitres
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.slips import bicycle_slips
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.solve import solve
from droptrail.model.postprocess.sensitivity import sensitivities
from droptrail.model.postprocess.stress import stress_table
from droptrail.model.reanalysis.tube_flexibility import tube_flexibilities
from droptrail.model.tubes.sections import round_tube
from droptrail.model.tubes.tube import Tube, size_at
from droptrail.validation.opensees import available, cross_check
from helpers_bicycle import STEEL, grown, tourer
from helpers_frames import chain, tip_load, tube_material
from helpers_search import THREE, brute_force

PLAIN = Tube(STEEL, 24.0, 13.0, (1.0,))
BLADE = replace(PLAIN, straight=(180.0, 0.0))
WAISTED = Tube(STEEL, 28.6, 38.1, (1.6, 1.2), (60.0,), (40.0,), straight=(120.0, 40.0))
OVAL_TO_ROUND = Tube(
    STEEL, 30.0, 14.0, (0.8,), oval_width=17.0, oval_end=14.0, straight=(80.0, 0.0)
)
ROUND_TO_OVAL = Tube(
    STEEL, 22.0, 30.0, (0.9,), oval_width=22.0, oval_end=16.0, straight=(40.0, 60.0)
)
SHAPES = {"blade": BLADE, "waisted": WAISTED, "oval": OVAL_TO_ROUND, "squeezed": ROUND_TO_OVAL}


class SolidBar(Tube):
    """No tube of the trade: its bar-thick wall is refused for the thin end, where it is thinner too."""

    def __post_init__(self):
        pass


def flexibility(tube, length, shear=True):
    return tube_flexibilities([tube], length, shear)[0]


def stepped(tube, length, pieces):
    """(6, 6) tip flexibility of a chain of prismatic elements with middle sizes, from the solver."""
    at = np.linspace(0, length, pieces + 1)
    points = [(float(s), 0.0, 0.0) for s in at]
    model = chain(points, round_tube(20.0, 1.0, 0.3), tube.material)
    elements = [
        replace(e, section=tube.section(*size_at(tube, length, float(s))))
        for e, s in zip(model.elements, (at[1:] + at[:-1]) / 2, strict=True)
    ]
    model = replace(model, elements=tuple(elements))
    cases = [replace(tip_load(model, *load), name=str(k)) for k, load in enumerate(np.eye(6))]
    return np.array([r.displacement(str(pieces)) for r in solve(model, cases).values()]).T


# --- flexibility ----------------------------------------------------------------------------------------------------
def test_a_bar_that_is_straight_and_then_a_cone_is_the_closed_form():
    """Solid bar of 40 mm over 500 mm, then a cone to 20 mm over 1000 mm. The cone moves by P L^3 / (24 E I_tip) and
    4 P L / (pi E dA dB) (Gere & Timoshenko 1997, Mechanics of Materials, formulas from memory); the bar's end moves and
    turns as a cantilever under P and P L, and carries the cone with it."""
    E, bar, cone = 210e3, 500.0, 1000.0
    steel = replace(tube_material(E, 0.3), G=81e3)
    tube = SolidBar(steel, 40.0, 20.0, (20.0, 10.0), (bar,), (cone,), straight=(bar, 0.0))
    f = flexibility(tube, bar + cone, shear=False)
    thick, tip = pi / 64 * 40.0**4, pi / 64 * 20.0**4
    moved = bar**3 / (3 * E * thick) + cone * bar**2 / (2 * E * thick)
    turned = bar**2 / (2 * E * thick) + cone * bar / (E * thick)
    bending = moved + turned * cone + cone**3 / (24 * E * tip)
    assert f[1, 1] == pytest.approx(bending, rel=1e-12)
    assert f[2, 2] == pytest.approx(bending, rel=1e-12)
    stretched = bar / (E * pi / 4 * 40.0**2) + 4 * cone / (pi * E * 20 * 40)
    assert f[0, 0] == pytest.approx(stretched, rel=1e-12)


@pytest.mark.parametrize("tube", SHAPES.values(), ids=SHAPES)
def test_fine_subdivision_comes_to_the_integral_with_order_two(tube):
    exact = flexibility(tube, 400.0)
    error = [abs(stepped(tube, 400.0, n) - exact).max() / abs(exact).max() for n in (20, 40, 80)]
    orders = np.log2(np.divide(error[:-1], error[1:]))
    assert orders == pytest.approx([2.0, 2.0], abs=0.05)
    assert error[-1] < 2e-4


def test_a_straight_part_lies_between_the_cone_and_the_cylinder():
    cylinder = Tube(STEEL, 24.0, 24.0, (1.0,))
    soft, middle, stiff = (flexibility(t, 390.0)[1, 1] for t in (PLAIN, BLADE, cylinder))
    assert stiff < middle < soft
    assert flexibility(replace(PLAIN, straight=(1e-9, 0.0)), 390.0)[1, 1] == pytest.approx(soft)


def test_turned_round_it_is_as_stiff():
    """Maxwell-Betti: a tip load's work does not ask which end is called the start; stretch and twist do not either."""
    back = replace(BLADE, od_start=13.0, od_end=24.0, straight=(0.0, 180.0))
    f, b = flexibility(BLADE, 390.0), flexibility(back, 390.0)
    assert np.diag(b)[[0, 3, 4, 5]] == pytest.approx(np.diag(f)[[0, 3, 4, 5]], rel=1e-12)
    assert b[1, 1] > 1.5 * f[1, 1]  # clamped at the thin end it gives more


# --- mesh, mass -----------------------------------------------------------------------------------------------------
def elements_of(bicycle, member):
    return [e for e in mesh(bicycle).elements if e.member == member]


def test_the_mesh_is_even_over_the_straight_part_and_begins_to_taper_where_it_ends():
    bicycle = tourer(fork_blade=BLADE)
    model = mesh(bicycle)
    crown = np.array(lay_out(bicycle).joints["crown_right"])
    near, sizes = [], []
    for element in (e for e in model.elements if e.member == "fork_blade_right"):
        near.append(np.linalg.norm(np.array(model.nodes[element.i]) - crown))
        sizes.append(2 * element.section.cy)
    even = np.array(near) < 180.0 - 1e-6
    assert np.array(sizes)[even] == pytest.approx(24.0)
    assert (np.array(sizes)[~even] < 24.0 - 1e-3).all()
    assert min(abs(np.array(near) - 180.0)) < 1e-6
    assert (~even).sum() >= 12


def test_mass_is_the_integral():
    """Area of a round tube is pi t (d - t), even in d, so a cone weighs as its mean diameter."""
    bicycle = tourer(fork_blade=BLADE)
    member = next(m for m in lay_out(bicycle).members if m.name == "fork_blade_right")
    taper = member.length - 180.0
    volume = pi * 1.0 * ((24.0 - 1.0) * 180.0 + ((24.0 + 13.0) / 2 - 1.0) * taper)
    weighed = mass_table(mesh(bicycle), lay_out(bicycle)).members["fork_blade_right"].kg
    assert weighed == pytest.approx(1000 * STEEL.rho * volume, rel=1e-12)


def test_real_blades_stiffen_the_bars_and_no_bracket_torsion():
    """Common practice, no source, coarse band: blades that are cylindrical for 180 mm hold the bars about a fifth
    stiffer under the rider than the plain taper of the same ends."""
    figures = []
    for tube in (PLAIN, BLADE):
        bicycle = tourer(fork_blade=tube)
        layout = lay_out(bicycle)
        cases = load_cases(bicycle, layout, ("seated", "frame_torsion"))
        results = solve(mesh(bicycle, layout=layout), cases)
        bars = results["seated"].measured["bar_vertical"]
        figures.append((bars, results["frame_torsion"].measured["frame_twist"]))
    assert 1.15 < figures[0][0] / figures[1][0] < 1.27
    assert figures[1][1] == pytest.approx(figures[0][1], rel=1e-9)


# --- everything that follows from a tube ----------------------------------------------------------------------------
REAL = {
    "fork_blade": BLADE,
    "chainstay": OVAL_TO_ROUND,
    "head_tube": replace(WAISTED, straight=(60.0, 30.0)),
}


@pytest.mark.skipif(available() is not None, reason=str(available()))
def test_opensees_solves_the_same_mesh_to_the_same_figures():
    bicycle = tourer(**REAL)
    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout))
    checks = cross_check(results)
    assert len(checks) == 5
    assert all(check.ok for check in checks.values())
    assert max(max(check.differences.values()) for check in checks.values()) < 1e-8


def test_the_search_has_the_full_solvers_figures():
    choices = {
        "fork_blade": [PLAIN, BLADE, OVAL_TO_ROUND],
        "chainstay": [OVAL_TO_ROUND, ROUND_TO_OVAL, tourer().tubes["chainstay"]],
    }
    search = set_up(tourer(fork_blade=BLADE), choices, THREE)
    quick = search.kernel.figures_of(0, search.size).T
    assert np.abs(quick / brute_force(search) - 1).max() < 1e-9
    assert np.ptp(quick, axis=0).max() > 0.1


@pytest.mark.parametrize("tube", ["fork_blade", "chainstay"])
def test_slopes_are_those_of_finite_differences(tube):
    bicycle = tourer(**REAL)
    layout = lay_out(bicycle)
    cases = load_cases(bicycle, layout, ("iso_fork_bending", "saddle_push"))
    rows = [r for r in sensitivities(bicycle, cases) if (r.tube, r.parameter) == (tube, "diameter")]
    step = 1e-4
    there, here = (
        solve(mesh(grown(bicycle, tube, diameter=d), layout=layout), cases) for d in (step, -step)
    )
    for row in rows:
        up, down = (r[row.case].stiffness[row.measure] for r in (there, here))
        mean = (up + down) / 2
        assert row.stiffness_percent_per_mm == pytest.approx(
            100 * (up - down) / (2 * step) / mean, rel=1e-4, abs=1e-5
        )


def test_stress_is_taken_from_the_size_at_its_place():
    bicycle = tourer(fork_blade=BLADE)
    layout = lay_out(bicycle)
    case = load_cases(bicycle, layout, ("iso_fork_bending",))
    result = solve(mesh(bicycle, layout=layout), case)["iso_fork_bending"]
    peaks = {row.place.member: row for row in stress_table(result, bicycle, layout).rows}
    section = round_tube(24.0, 1.0, STEEL.nu)
    lever = bicycle.dimensions.fork_length
    # each blade takes half of the moment at the crown; the rest of the stress is the blade's own small axial force
    assert peaks["fork_blade_right"].von_mises == pytest.approx(
        500.0 * lever / section.Iz * 12.0, rel=0.03
    )


def test_a_mitre_is_cut_on_the_straight_end():
    layout_free = tourer(top_tube=replace(PLAIN, od_start=28.6, od_end=25.4, straight=(50.0, 0.0)))
    cone = tourer(top_tube=replace(PLAIN, od_start=28.6, od_end=25.4))
    for bicycle, growing in ((layout_free, False), (cone, True)):
        ends = {m.at_end: m for m in frame_mitres(bicycle) if m.member == "top_tube"}
        assert (abs(ends["start"].taper) > 1e-9) is growing
        assert ends["end"].taper > 1e-9


def test_the_tyre_passes_beside_the_width_of_an_oval_and_not_its_height():
    def gap(tube):
        bicycle = replace(tourer(chainstay=tube), tyre_widths=(37.0, 37.0))
        return next(c.gap for c in clearances(bicycle) if c.name == "rear tyre to chainstays")

    round_one = Tube(STEEL, 17.0, 17.0, (0.8,))
    upright = Tube(STEEL, 30.0, 30.0, (0.8,), oval_width=17.0)
    assert gap(upright) == pytest.approx(gap(round_one), abs=1e-9)
    assert gap(Tube(STEEL, 17.0, 17.0, (0.8,), oval_width=30.0)) < gap(upright) - 5


# --- refusals and words ---------------------------------------------------------------------------------------------
def test_a_straight_part_as_long_as_the_tube_is_refused_in_words():
    tube = replace(BLADE, straight=(300.0, 100.0))
    with pytest.raises(
        ModelError,
        match=r"24-13 after 300/100 x 1: it keeps its size over 400.0 mm, the tube is 39",
    ):
        mesh(tourer(fork_blade=tube))


@pytest.mark.parametrize("lengths", [(-1.0, 0.0), (0.0, float("nan"))])
def test_an_impossible_straight_part_is_refused(lengths):
    with pytest.raises(ModelError, match="straight lengths"):
        replace(PLAIN, straight=lengths)


def test_a_width_at_the_end_of_a_round_tube_is_refused():
    with pytest.raises(ModelError, match="state the width at both ends"):
        replace(PLAIN, oval_end=16.0)
    with pytest.raises(ModelError, match="must lie above 0 and not exceed half"):
        replace(OVAL_TO_ROUND, oval_end=1.0)


def test_labels_tell_the_shapes_apart():
    assert BLADE.label == "24-13 after 180 x 1"
    assert WAISTED.label == "28.6-38.1 after 120/40 x 1.6/1.2"
    assert described(OVAL_TO_ROUND) == "30-14 after 80 x 0.8 oval 17-14 wide 4130"


def test_a_stated_diameter_states_the_whole_outside():
    assert TubeChange(diameters=(24.0, 13.0)).of(BLADE) == PLAIN
    assert TubeChange(walls=(0.9,)).of(BLADE) == replace(BLADE, walls=(0.9,))
    change = TubeChange(diameters=(24.0, 13.0), straight=(180.0, 0.0))
    assert change.of(OVAL_TO_ROUND) == replace(BLADE, walls=(0.8,))


@pytest.mark.parametrize(
    ("length", "guess"), [(18.0, None), (7.0, "70 mm, cm?"), (1800.0, "180 mm, a slipped point?")]
)
def test_a_straight_length_in_the_wrong_unit_is_asked(length, guess):
    found = [
        f.message
        for f in bicycle_slips(tourer(fork_blade=replace(PLAIN, straight=(length, 0.0))))
        if f.code == "tube-butt-length-unusual"
    ]
    assert bool(found) is bool(guess)
    assert all(guess in message and "straight part" in message for message in found)
