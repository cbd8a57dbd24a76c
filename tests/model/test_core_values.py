"""Materials, sections, tubes, parts and bicycles: what they derive, and every impossible value refused by name."""

import importlib
import pkgutil
from dataclasses import fields, is_dataclass, replace
from math import inf, isfinite, nan, pi

import numpy as np
import pytest
from droptrail import model
from droptrail.model.errors import LONGEST, FrameError, InputError, MechanismError, ModelError
from droptrail.model.findings import Finding
from droptrail.model.frame.bicycle import Fittings, Loads, PartMasses, luggage_lumps
from droptrail.model.frame.parts import Part
from droptrail.model.tubes.known_plans import DIAMOND
from droptrail.model.tubes.materials import MATERIALS, Material, elastic_disagreement, find_material
from droptrail.model.tubes.sections import Section, oval_tube, round_tube, section_values
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from hypothesis import given, settings
from hypothesis import strategies as st

BUTTED = Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.7), (75.0, 60.0), (30.0, 20.0))


# --- materials ----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"E": 0.0}, r"material 4130: E is 0\.0, it must be a positive number"),
        ({"E": inf}, "material 4130: E is inf"),
        ({"G": -1.0}, r"material 4130: G is -1\.0"),
        ({"G": nan}, "material 4130: G is nan"),
        ({"rho": -1e-9}, r"material 4130: rho is -1e-09, it must be zero \(massless\) or more"),
        ({"rho": nan}, "rho is nan"),
    ],
)
def test_impossible_materials_are_refused(change, words):
    with pytest.raises(ModelError, match=words):
        replace(STEEL, **change)


def test_a_massless_material_is_allowed_and_nu_follows_from_e_and_g():
    light = Material("m", 200e3, 80e3, 0.0)
    assert light.nu == pytest.approx(0.25)
    assert (light.yield_strength, light.ultimate, light.endurance) == (None, None, None)


def test_every_known_material_is_near_its_textbook_poissons_ratio_and_has_a_source():
    """Handbook ranges (from memory): steels 0.25-0.31, aluminium 0.32-0.34, titanium alloys 0.26-0.33."""
    ranges = {
        "4130": (0.25, 0.31),
        "steel": (0.25, 0.31),
        "stainless": (0.25, 0.31),
        "6061-t6": (0.32, 0.34),
        "6061-t6 as welded": (0.32, 0.34),
        "ti-3al-2.5v": (0.26, 0.33),
    }
    assert set(ranges) == set(MATERIALS)
    for name, (low, high) in ranges.items():
        assert low <= MATERIALS[name].nu <= high, name
        assert MATERIALS[name].source
        assert MATERIALS[name].yield_strength < MATERIALS[name].ultimate


@pytest.mark.parametrize(
    ("asked", "name"),
    [
        ("4130", "4130"),
        (" CrMo ", "4130"),
        ("ALU", "6061-T6"),
        ("Ti", "Ti-3Al-2.5V"),
        ("Stahl", "steel"),
        ("inox", "stainless"),
        ("6061-t6", "6061-T6"),
        ("welded aluminium", "6061-T6 as welded"),
    ],
)
def test_trade_names(asked, name):
    assert find_material(asked).name == name


def test_an_unknown_material_lists_the_known_ones():
    with pytest.raises(
        ModelError, match="material 'cheese' is not known; known: 4130, steel, stainless, 6061-T6"
    ):
        find_material("cheese")


def test_constants_that_contradict_each_other():
    """Data sheets of Ti-3Al-2.5V print G = 44 GPa, which E 100 and nu 0.30 contradict; 38.5 follows."""
    finding = elastic_disagreement("Ti", 100e3, 44e3, 0.30)
    assert (finding.code, finding.severity) == ("material-e-g-nu", "warning")
    assert (
        "G 44000 MPa does not follow from E 100000 MPa and nu 0.30, which give 38462 MPa"
        in finding.message
    )
    assert elastic_disagreement("Ti", 100e3, 39.2e3, 0.30) is None  # 1.9 %
    assert elastic_disagreement("Ti", 100e3, 39.3e3, 0.30) is not None  # 2.2 %
    assert elastic_disagreement("Ti", 100e3, 37.6e3, 0.30) is not None


# --- sections -----------------------------------------------------------------------------------------------------
@pytest.mark.parametrize("name", ["A", "Iy", "Iz", "J"])
@pytest.mark.parametrize("value", [0.0, -1.0, inf, nan])
def test_impossible_section_properties_are_refused(name, value):
    with pytest.raises(
        ModelError, match=rf"section: {name} is {value}, it must be a positive number"
    ):
        replace(Section(1.0, 2.0, 3.0, 4.0), **{name: value})


@pytest.mark.parametrize("name", ["Asy", "Asz"])
def test_shear_areas_may_be_infinite_but_not_zero(name):
    assert getattr(replace(Section(1.0, 2.0, 3.0, 4.0), **{name: inf}), name) == inf
    for value in (0.0, -2.0, nan):
        with pytest.raises(ModelError, match=f"section: {name} is {value}, it must be positive"):
            replace(Section(1.0, 2.0, 3.0, 4.0), **{name: value})


def test_polar_moment_is_the_sum_unless_stated():
    assert Section(1.0, 2.0, 3.0, 4.0).polar == 5.0
    assert Section(1.0, 2.0, 3.0, 4.0, Ip=4.5).polar == 4.5


@pytest.mark.parametrize(
    ("od", "wall", "words"),
    [
        (0.0, 1.0, "outside diameter 0.0 mm: an outside diameter must be positive"),
        (-5.0, 1.0, "outside diameter -5.0 mm"),
        (nan, 1.0, "outside diameter nan mm"),
        (
            20.0,
            0.0,
            "wall 0.0 mm on outside diameter 20.0 mm: it must lie above 0 and not exceed half the diameter",
        ),
        (20.0, 10.001, r"wall 10\.001 mm on outside diameter"),
        (20.0, nan, "wall nan mm"),
    ],
)
def test_impossible_tubes_are_refused(od, wall, words):
    with pytest.raises(ModelError, match=words):
        round_tube(od, wall, 0.3)
    with pytest.raises(
        ModelError,
        match="smaller outside diameter" if isfinite(od) else "must be a positive number",
    ):
        oval_tube(40.0, od, wall, 0.3)


def test_a_solid_bar_is_the_thickest_wall():
    """Handbook: A = pi d²/4, I = pi d⁴/64, J = 2 I, shear 6 (1 + nu) / (7 + 6 nu) of the area (Cowper 1966)."""
    s = round_tube(20.0, 10.0, 0.3)
    second = pi / 64 * 20**4
    assert (s.A, s.Iy, s.Iz, s.J) == tuple(
        pytest.approx(v) for v in (100 * pi, second, second, 2 * second)
    )
    assert s.Asy == s.Asz == pytest.approx(6 * 1.3 / 8.8 * 100 * pi)
    assert (s.cy, s.cz, s.polar) == (10.0, 10.0, pytest.approx(2 * second))


def test_an_oval_of_equal_sides_is_the_round_tube():
    assert oval_tube(28.6, 28.6, 0.9, 0.29) == round_tube(28.6, 0.9, 0.29)


@pytest.mark.parametrize("oval", [False, True])
def test_values_of_many_sections_at_once_and_by_a_complex_step(oval):
    height, wall = np.array([25.4, 28.6, 31.8]), np.array([0.5, 0.8, 0.9])
    width = height + 6 * oval
    together = section_values(width, height, wall, 0.29, oval)
    for k in range(3):
        one = oval_tube(width[k], height[k], wall[k], 0.29)
        expected = [one.A, one.Iy, one.Iz, one.J, one.Asy, one.Asz]
        np.testing.assert_allclose([v[k] for v in together], expected, rtol=1e-12)
    step = 1e-30
    by_step = np.array(section_values(width, height, wall + 1j * step, 0.29, oval)).imag / step
    h = 1e-5
    up, down = (np.array(section_values(width, height, wall + d, 0.29, oval)) for d in (h, -h))
    np.testing.assert_allclose(by_step, (up - down) / (2 * h), rtol=1e-7)


# --- tubes --------------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"od_start": 0.0}, "the wall must lie above 0 and not exceed half the outside diameter"),
        ({"od_end": -1.0}, r"tube -1\.0 x 0\.8 mm"),
        ({"od_end": nan}, "tube nan x"),
        ({"walls": (0.8, 0.0, 0.8)}, r"tube 28\.6 x 0\.0 mm"),
        ({"walls": (0.8, 15.0, 0.8)}, r"tube 28\.6 x 15\.0 mm"),
        ({"oval_width": 1.0}, r"tube 1\.0 x 0\.8 mm"),
        ({"oval_width": inf}, "tube inf x"),
        ({"walls": ()}, r"walls \(\): one, two or three wall thicknesses are understood"),
        ({"walls": (0.8,) * 4}, "one, two or three wall thicknesses"),
        ({"walls": (0.8, 0.5)}, r"2 walls need 1 butt lengths, got \(75\.0, 60\.0\)"),
        ({"butts": ()}, r"3 walls need 2 butt lengths, got \(\)"),
        ({"tapers": (30.0,)}, r"2 butts need as many taper lengths, got \(30\.0,\)"),
        ({"butts": (-1.0, 60.0)}, "lengths must not be negative"),
        ({"tapers": (30.0, nan)}, "must not be negative"),
        ({"butts": (inf, 60.0)}, "must not be negative"),
    ],
)
def test_impossible_tube_tables_are_refused(change, words):
    with pytest.raises(ModelError, match=words):
        replace(BUTTED, **change)


def test_a_solid_bar_a_wire_and_butts_of_no_length_are_tubes_too():
    assert Tube(STEEL, 20.0, 20.0, (10.0,)).walls == (10.0,)
    assert Tube(STEEL, 0.8, 0.8, (0.2,)).od_start == 0.8
    assert Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (0.0,), (0.5,)).wall_profile(100.0)[1:3] == (
        (0, 0.9),
        (0.5, 0.6),
    )


def test_a_label_as_the_workshop_writes_it():
    assert BUTTED.label == "28.6 x 0.8/0.5/0.7"
    assert Tube(STEEL, 24.0, 13.0, (1.0,)).label == "24-13 x 1"


def test_wall_profile():
    assert BUTTED.wall_profile(500.0) == (
        (0, 0.8),
        (75, 0.8),
        (105, 0.5),
        (420, 0.5),
        (440, 0.7),
        (500, 0.7),
    )
    assert Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (130.0,), (30.0,)).wall_profile(500.0) == (
        (0, 0.9),
        (130, 0.9),
        (160, 0.6),
        (500, 0.6),
    )
    assert Tube(STEEL, 28.6, 28.6, (0.9, 0.6), (130.0,)).wall_profile(500.0)[1:3] == (
        (130, 0.9),
        (130, 0.6),
    )
    assert Tube(STEEL, 28.6, 28.6, (0.9,)).wall_profile(500.0) == ((0, 0.9), (500, 0.9))


def test_butts_that_just_fit_and_butts_that_do_not():
    assert BUTTED.wall_profile(185.0)[2:4] == ((105, 0.5), (105, 0.5))
    with pytest.raises(
        ModelError,
        match=r"28.6 x 0.8/0.5/0.7: butts and tapers take 185.0 mm, the tube is 184.9 mm",
    ):
        BUTTED.wall_profile(184.9)


def test_a_scaled_tube_grows_everywhere():
    oval = replace(BUTTED, od_end=30.0, oval_width=36.0)
    grown = replace(oval, od_start=30.6, od_end=32.0, oval_width=38.0, walls=(0.9, 0.6, 0.7 + 0.1))
    assert oval.scaled(2.0, 0.1) == grown
    assert BUTTED.scaled(1.0).oval_width is None
    assert BUTTED.scaled() == BUTTED


def test_the_section_of_an_oval_keeps_its_width():
    oval = replace(BUTTED, oval_width=36.0)
    assert oval.section(30.0, 0.8) == oval_tube(36.0, 30.0, 0.8, STEEL.nu)
    assert BUTTED.section(30.0, 0.8) == round_tube(30.0, 0.8, STEEL.nu)


# --- parts and bicycles -------------------------------------------------------------------------------------------
def test_a_part_has_the_section_of_its_tube():
    alu = find_material("alu")
    part = Part("bar", Tube(alu, 20.0, 20.0, (2.0,)))
    assert part.section == round_tube(20.0, 2.0, alu.nu)
    assert (part.od, part.wall, part.stuff) == (20.0, 2.0, alu)


@pytest.mark.parametrize("kind", [Fittings, Loads])
def test_every_number_of_a_bicycle_is_zero_or_more(kind):
    for f in fields(kind):
        words = f.name.replace("_", " ")
        for value in (-1.0, nan, inf):
            with pytest.raises(
                ModelError, match=rf"^{words} is {value}, it must be a number of zero or more$"
            ):
                replace(kind(), **{f.name: value})


def test_shares_must_add_up():
    with pytest.raises(
        ModelError, match=r"saddle, bar and pedal shares add up to 1\.05; they must add up to 1"
    ):
        Loads(saddle_share=0.60)
    assert Loads(saddle_share=0.5, bar_share=0.3, pedal_share=0.2).bar_share == 0.3


def test_a_bicycles_tubes_cannot_be_changed_behind_its_back():
    table = dict(tourer().tubes)
    bicycle = replace(tourer(), tubes=table)
    table.clear()
    assert "top_tube" in bicycle.tubes
    with pytest.raises(TypeError):
        bicycle.tubes["top_tube"] = BUTTED


# --- errors and findings ------------------------------------------------------------------------------------------
def test_one_family_of_errors():
    for kind in (ModelError, MechanismError, InputError):
        assert issubclass(kind, FrameError)
        assert issubclass(kind, ValueError)
    assert issubclass(MechanismError, ModelError)


@settings(deadline=None, max_examples=50)
@given(st.text(max_size=3 * LONGEST))
def test_messages_are_one_printable_line(text):
    for shown in (
        str(ModelError(text)),
        Finding("c", "info", text).message,
        Finding("c", "info", "", text).where,
    ):
        assert shown.isprintable()
        assert len(shown) <= LONGEST + 5


def test_a_plain_message_stays_as_it_is_and_a_finding_as_dict():
    assert str(ModelError("wall 0 mm: too thin")) == "wall 0 mm: too thin"
    plain = Finding("a-b", "error", "m", "w").as_dict()
    assert plain == {"code": "a-b", "severity": "error", "message": "m", "where": "w"}


def test_every_value_of_the_model_is_frozen():
    """A value that could be changed behind a result's back would make its evidence worthless."""
    modules = [
        importlib.import_module(m.name)
        for m in pkgutil.walk_packages(model.__path__, "droptrail.model.")
    ]
    values = {
        c for m in modules for c in vars(m).values() if isinstance(c, type) and is_dataclass(c)
    }
    assert len(values) > 80
    assert [c.__name__ for c in values if not c.__dataclass_params__.frozen] == []


def test_luggage_hangs_once_and_on_both_sides_alike():
    """Every kilogram once, nothing to one side: whatever the load cases, modes and shimmy make of it."""
    lumps = dict(luggage_lumps(Loads(front_luggage=8.0, rear_luggage=12.0), DIAMOND))
    assert lumps == {
        "fork_crown": 4.0,
        "front_dropout_left": 2.0,
        "front_dropout_right": 2.0,
        "seatstay_top_left": 1.5,
        "seatstay_top_right": 1.5,
        "rear_dropout_left": 4.5,
        "rear_dropout_right": 4.5,
    }


def test_part_masses_refuse_what_is_no_mass():
    with pytest.raises(ModelError, match="seat post is nan, it must be a number of zero or more"):
        PartMasses(seat_post=float("nan"))
