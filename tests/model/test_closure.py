"""Closure: any sufficient set of statements gives the one frame, and every contradiction is found."""

from dataclasses import replace
from math import cos, pi, radians, sin

import pytest
from droptrail.model.errors import ModelError
from droptrail.model.geometry.closure import solve_dimensions
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.statements import CORE, FIELDS, PREFERENCE, label, quantities
from helpers_side_view import TRUTH, frames, truth_dimensions, truth_statements
from hypothesis import given, settings
from hypothesis import strategies as st

# Item left out -> item that stands in for it, as a fit sheet would state it.
SWAPS = (
    {"lower_stack": "stack"},
    {"bb_drop": "bb_height", "fork_offset": "trail"},
    {
        "lower_stack": "stack",
        "fork_length": "axle_to_crown_straight",
        "seat_angle": "effective_top_tube",
    },
    {"chainstay": "wheelbase", "fork_offset": "mechanical_trail"},
    {"chainstay": "chainstay_horizontal", "head_tube": "stack", "seat_tube": "seat_tube_extension"},
    {"reach": "front_center", "head_angle": "trail", "lower_stack": "stack"},
    {
        "fork_length": "stack",
        "wheel_radius_rear": "bb_height",
        "wheel_radius_front": "mechanical_trail",
    },
    {"top_tube_on_seat_tube": "top_tube_slope_deg", "down_tube_above_head_bottom": "down_tube_cc"},
    {"top_tube_on_seat_tube": "standover", "reach": "front_center_horizontal"},
    {"seat_tube": "seat_tube_extension", "top_tube_below_head_top": "top_tube_slope_deg"},
)
# A seatstay of one length meets the seat tube at two places, so this one may be refused on some frames.
SEATSTAY = {"seatstay_below_top_tube": "seatstay_cc"}
REDUNDANT = tuple(name for name in PREFERENCE if name not in FIELDS)


def swapped(statements: dict[str, float], swap: dict[str, str]) -> dict[str, float]:
    names = (*(n for n in FIELDS if n not in swap), *swap.values())
    return {name: statements[name] for name in names}


def assert_same_frame(found: FrameDimensions, wanted: FrameDimensions, tolerance: float) -> None:
    for name in FIELDS:
        assert getattr(found, name) == pytest.approx(getattr(wanted, name), abs=tolerance, rel=0), (
            name
        )


# --- truth from outside -------------------------------------------------------------------------------------
def test_there_are_eleven_truth_sets() -> None:
    assert len(TRUTH) == 11


@pytest.mark.parametrize("key", TRUTH)
@pytest.mark.parametrize(
    "swap", [{}, SEATSTAY, *SWAPS], ids=lambda swap: "+".join(swap.values()) or "fields"
)
def test_truth_sets_from_different_subsets(key: str, swap: dict[str, str]) -> None:
    truth = truth_statements(key) | quantities(truth_dimensions(key)) | truth_statements(key)
    found = solve_dimensions(swapped(truth, swap)).dimensions
    derived = found.derived()
    # The truth is printed to six decimals; a subset may carry that rounding on with some gain.
    for name, value in TRUTH[key]["derived"].items():
        actual = found.reach if name == "reach" else derived[name]
        assert actual == pytest.approx(value, abs=1e-5, rel=0), name


def test_benchmark_bicycle_identities() -> None:
    """Meijaard, Papadopoulos, Ruina, Schwab 2007 (Proc. R. Soc. A 463), Table 1; formulas for offset, d1, d2
    and wheelbase from J. K. Moore, PhD dissertation 2012, eq. Trail and table of intermediate variables."""
    tilt, w, c, r_rear, r_front = pi / 10, 1020.0, 80.0, 300.0, 350.0
    statements = {
        "head_angle": 72.0,
        "wheelbase": w,
        "trail": c,
        "wheel_radius_rear": r_rear,
        "wheel_radius_front": r_front,
        "bb_drop": 30.0,
        "chainstay": 430.0,
        "seat_angle": 73.0,
        "head_tube": 120.0,
        "lower_stack": 10.0,
        "fork_length": 400.0,
    }
    found = solve_dimensions(statements).dimensions
    offset = r_front * sin(tilt) - c * cos(tilt)
    assert found.fork_offset == pytest.approx(offset, rel=1e-12)
    assert found.fork_offset == pytest.approx(32.071427, abs=5e-7)
    assert found.derived()["mechanical_trail"] == pytest.approx(76.084521, abs=5e-7)
    assert found.trail == pytest.approx(c, rel=1e-12)
    # d1: rear axle to the steering axis; d2: along the axis between the feet of both axles.
    (ax, ay), (nx, ny) = found.axis_up, found.axis_forward
    rear, foot = found.rear_axle, found.fork_offset_foot
    d1 = (foot.x - rear.x) * nx + (foot.y - rear.y) * ny
    d2 = -((foot.x - rear.x) * ax + (foot.y - rear.y) * ay)
    assert d1 == pytest.approx(cos(tilt) * (c + w - r_rear * sin(tilt) / cos(tilt)), rel=1e-9)
    assert d1 == pytest.approx(953.457070, abs=5e-7)
    assert d2 == pytest.approx(267.644508, abs=5e-7)
    assert (d1 + offset) * cos(tilt) + d2 * sin(tilt) == pytest.approx(w, rel=1e-9)
    assert (r_front - r_rear + d2 * cos(tilt)) / (d1 + offset) == pytest.approx(sin(tilt), rel=1e-9)


@settings(deadline=None, max_examples=50)
@given(offset=st.floats(-20, 90), head=st.floats(60, 78), radius=st.floats(250, 400))
def test_offset_and_trail_are_each_others_inverse(
    offset: float, head: float, radius: float
) -> None:
    """Moore 2012, eq. Trail, both ways round."""
    base = {
        "reach": 380.0,
        "seat_angle": 73.0,
        "bb_drop": 60.0,
        "chainstay": 440.0,
        "head_tube": 140.0,
        "lower_stack": 10.0,
        "fork_length": 390.0,
        "wheel_radius_rear": 340.0,
    }
    trail = (radius * cos(radians(head)) - offset) / sin(radians(head))
    stated = base | {"head_angle": head, "wheel_radius_front": radius, "trail": trail}
    found = solve_dimensions(stated).dimensions
    assert found.fork_offset == pytest.approx(offset, abs=1e-9, rel=0)
    assert found.trail == pytest.approx(trail, abs=1e-9, rel=0)


# --- random frames, random statements -----------------------------------------------------------------------
@settings(deadline=None, max_examples=60)
@given(frame=frames, swap=st.sampled_from(SWAPS))
def test_usual_subsets_give_the_same_frame(frame: FrameDimensions, swap: dict[str, str]) -> None:
    closure = solve_dimensions(swapped(quantities(frame), swap))
    assert_same_frame(closure.dimensions, frame, 1e-9)
    assert closure.rows == ()


@settings(deadline=None, max_examples=60)
@given(frame=frames, order=st.permutations(PREFERENCE), keep=st.integers(16, len(PREFERENCE)))
def test_random_subsets_give_the_same_frame_or_a_reason(
    frame: FrameDimensions, order: list[str], keep: int
) -> None:
    """A set that does not suffice is refused; one that does gives this frame and closes."""
    values = quantities(frame)
    statements = {name: values[name] for name in order[:keep]}
    try:
        closure = solve_dimensions(statements)
    except ModelError as refusal:
        if "not fixed yet" in str(refusal) or "two different frames" in str(refusal):
            return
        raise
    assert closure.ok
    assert len(closure.rows) + len(closure.defining) + len(closure.unused) >= len(statements)
    gain = max((g for _, g in closure.weak), default=1.0)
    for name in FIELDS:
        actual = getattr(closure.dimensions, name)
        assert actual is None or actual == pytest.approx(
            getattr(frame, name), abs=1e-9 * max(gain, 1.0), rel=0
        )


# --- contradictions -----------------------------------------------------------------------------------------
def test_everything_stated_closes() -> None:
    closure = solve_dimensions(quantities(truth_dimensions("01")))
    assert closure.ok
    assert closure.findings == ()
    assert {row.item for row in closure.rows} == set(REDUNDANT)
    assert closure.defining == FIELDS


@pytest.mark.parametrize("item", REDUNDANT)
def test_five_millimetres_in_each_redundant_item(item: str) -> None:
    stated = quantities(truth_dimensions("02"))
    stated[item] += 5
    closure = solve_dimensions(stated)
    (row,) = [row for row in closure.rows if not row.ok]
    assert row.item == item
    assert row.difference == pytest.approx(5, abs=1e-9)
    assert item in [s.item for s in closure.suspects]
    assert f"closure-{item.replace('_', '-')}" in [f.code for f in closure.findings]


@pytest.mark.parametrize("item", [n for n in CORE if n not in ("head_angle", "seat_angle")])
def test_five_millimetres_in_each_field_points_at_it(item: str) -> None:
    """With enough redundancy the one wrong field is the only one whose change closes everything."""
    right = quantities(truth_dimensions("01"))
    closure = solve_dimensions(right | {item: right[item] + 5})
    assert not closure.ok
    assert [s.item for s in closure.suspects] == [item]
    assert closure.suspects[0].would_be == pytest.approx(right[item], abs=1.0)


def test_stack_against_its_group_cannot_say_which() -> None:
    right = quantities(truth_dimensions("01"))
    stated = {name: right[name] for name in CORE} | {"stack": right["stack"] - 5}
    closure = solve_dimensions(stated)
    (row,) = closure.rows
    assert str(row) == "stack: stated 579.8, the rest implies 584.8, difference -5.0 mm"
    assert {s.item for s in closure.suspects} >= {
        "stack",
        "head_tube",
        "lower_stack",
        "fork_length",
        "bb_drop",
    }
    assert "reach" not in row.against
    text = " ".join(f.message for f in closure.findings)
    assert "cannot be known" in text
    assert "head tube length 146.7 mm instead of 152.0" in text  # 152 - 5 / sin 71.5 = 146.7


@pytest.mark.parametrize(("tolerance", "ok"), [(4.9, False), (5.1, True)])
def test_tolerance_decides(tolerance: float, ok: bool) -> None:
    right = quantities(truth_dimensions("01"))
    closure = solve_dimensions(
        {n: right[n] for n in CORE} | {"stack": right["stack"] + 5}, tolerance_mm=tolerance
    )
    assert closure.ok is ok


def test_angle_tolerance() -> None:
    stated = quantities(truth_dimensions("01"))
    stated["top_tube_slope_deg"] += 0.15
    assert not solve_dimensions(stated).ok
    assert solve_dimensions(stated, tolerance_deg=0.2).ok


def test_stack_that_has_to_define_is_not_reported() -> None:
    right = quantities(truth_dimensions("01"))
    closure = solve_dimensions(
        {n: right[n] for n in CORE if n != "lower_stack"} | {"stack": right["stack"]}
    )
    assert closure.rows == ()
    assert closure.dimensions.lower_stack == pytest.approx(12, abs=1e-9)


# --- refusals -----------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("missing", "names"),
    [
        ("lower_stack", ["lower headset stack", "stack", "wheelbase"]),
        ("bb_drop", ["bottom bracket drop", "bottom bracket height"]),
        ("fork_offset", ["fork offset", "trail"]),
        ("seat_angle", ["seat angle", "effective top tube"]),
    ],
)
def test_says_what_would_complete_the_set(missing: str, names: list[str]) -> None:
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in CORE if n != missing}
    if missing == "seat_angle":
        statements["stack"] = right["stack"]
    with pytest.raises(ModelError, match="not fixed yet") as refusal:
        solve_dimensions(statements)
    for name in names:
        assert name in str(refusal.value)


@pytest.mark.parametrize("missing", CORE)
def test_every_suggestion_does_complete_the_set(missing: str) -> None:
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in CORE if n != missing}
    with pytest.raises(ModelError, match="not fixed yet") as refusal:
        solve_dimensions(statements)
    words = (
        str(refusal.value)
        .split("one of: ")[-1]
        .removeprefix("the frame is not fixed yet: state ")
        .split(", ")
    )
    offered = [name for name in PREFERENCE if label(name) in words]
    assert len(offered) == len(words)
    for name in offered:
        assert_same_core(solve_dimensions(statements | {name: right[name]}).dimensions, right)


def assert_same_core(found: FrameDimensions, right: dict[str, float]) -> None:
    for name in CORE:
        assert getattr(found, name) == pytest.approx(right[name], abs=1e-9, rel=0), name


def test_sign_of_the_drop_is_not_guessed() -> None:
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in CORE if n != "bb_drop"}
    with pytest.raises(
        ModelError, match=r"two different frames.*drop (74.0 or -74.0|-74.0 or 74.0)"
    ):
        solve_dimensions(statements | {"chainstay_horizontal": right["chainstay_horizontal"]})


def test_both_places_of_a_seatstay_are_named() -> None:
    right = quantities(truth_dimensions("01"))
    short = {n: right[n] for n in FIELDS if n != "seatstay_below_top_tube"} | {"seatstay_cc": 415.0}
    with pytest.raises(
        ModelError, match=r"two different frames have these values: seatstay below top tube"
    ) as refusal:
        solve_dimensions(short)
    places = [
        float(word) for word in str(refusal.value).split("tube ")[1].split(" mm")[0].split(" or ")
    ]
    for place in places:
        frame = replace(truth_dimensions("01"), seatstay_below_top_tube=place)
        assert quantities(frame)["seatstay_cc"] == pytest.approx(415.0, abs=0.1)


def test_impossible_value_worked_out_is_refused_with_its_origin() -> None:
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in CORE if n != "lower_stack"} | {"stack": right["stack"] - 15}
    with pytest.raises(
        ModelError, match=r"lower headset stack would have to be -3.8 mm.*follows from.*stack"
    ):
        solve_dimensions(statements)


def test_no_frame_fits() -> None:
    """A fork cannot be shorter straight than along its axis."""
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in CORE if n != "fork_offset"} | {
        "axle_to_crown_straight": 380.0
    }
    with pytest.raises(ModelError, match="no frame has all the stated values: axle to crown"):
        solve_dimensions(statements)


@pytest.mark.parametrize(
    ("item", "value", "text"),
    [
        ("head_angle", 715.0, "head angle is 715 degrees, expected 50 to 85 degrees"),
        ("stack", 58.0, "stack is 58 mm, expected 250 to 900 mm"),
        ("reach", float("nan"), "reach is nan"),
        ("handlebar", 1.0, "'handlebar' is not a dimension"),
    ],
)
def test_bad_statement_is_refused_by_name(item: str, value: float, text: str) -> None:
    with pytest.raises(ModelError, match=text):
        solve_dimensions(quantities(truth_dimensions("01")) | {item: value})


# --- defaults, weak and unused statements -------------------------------------------------------------------
DEFAULTS = {"top_tube_below_head_top": 35.0, "seat_tube_extension": 30.0, "top_tube_slope_deg": 0.0}


def test_defaults_only_fill_what_is_open() -> None:
    right = quantities(truth_dimensions("01"))
    core = {n: right[n] for n in CORE}
    closure = solve_dimensions(core | {"seat_tube": 545.0}, defaults=DEFAULTS)
    assert closure.defaults == ("top_tube_below_head_top", "seat_tube_extension")
    assert closure.dimensions.top_tube_on_seat_tube == pytest.approx(515, abs=1e-9)
    level = solve_dimensions(core, defaults=DEFAULTS)
    assert level.defaults == tuple(DEFAULTS)
    assert level.dimensions.derived()["top_tube_slope_deg"] == pytest.approx(0, abs=1e-9)


def test_without_defaults_the_open_fields_stay_open() -> None:
    right = quantities(truth_dimensions("01"))
    closure = solve_dimensions({n: right[n] for n in CORE} | {"standover": right["standover"]})
    assert closure.dimensions.top_tube_on_seat_tube is None
    assert closure.unused == ("standover",)
    assert [f.code for f in closure.findings] == ["closure-unused"]


def test_weakly_fixed_field_is_reported() -> None:
    """Offset from both fork lengths: d offset / d straight = straight / offset = 395.4 / 52 = 7.6."""
    right = quantities(truth_dimensions("01"))
    names = [n for n in CORE if n != "fork_offset"] + ["axle_to_crown_straight"]
    closure = solve_dimensions({n: right[n] for n in names})
    assert closure.dimensions.fork_offset == pytest.approx(52, abs=1e-9)
    assert closure.weak == (("fork_offset", pytest.approx(395.433939 / 52, rel=1e-4)),)
    assert "state fork offset itself" in closure.findings[0].message


def test_a_default_never_stands_in_for_the_frame_itself() -> None:
    """A level top tube between stated joints would give the stack; a default must not decide that."""
    right = quantities(truth_dimensions("01"))
    statements = {n: right[n] for n in FIELDS if n != "lower_stack"}
    with pytest.raises(ModelError, match="not fixed yet: state one of: lower headset stack, stack"):
        solve_dimensions(statements, defaults=DEFAULTS)
    stated = solve_dimensions(statements | {"top_tube_slope_deg": right["top_tube_slope_deg"]})
    assert stated.dimensions.lower_stack == pytest.approx(12, abs=1e-9)


def test_two_wrong_items_have_no_single_suspect() -> None:
    right = quantities(truth_dimensions("01"))
    closure = solve_dimensions(
        right
        | {
            "chainstay": right["chainstay"] + 8,
            "head_tube": right["head_tube"] + 8,
            "fork_offset": right["fork_offset"] - 8,
        }
    )
    assert closure.suspects == ()
    assert any("no single item explains the contradictions" in f.message for f in closure.findings)


def test_a_sheet_with_hardly_anything_on_it_is_told_the_whole_list() -> None:
    with pytest.raises(
        ModelError, match=r"still needed are .*\(others such as stack, trail, wheelbase"
    ):
        solve_dimensions({"head_angle": 72.0, "seat_angle": 73.0})
