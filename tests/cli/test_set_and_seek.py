"""Any item as a knob on the command line: --set, --keep, --follow, compare --option and --seek."""

import json
from pathlib import Path

import pytest
from droptrail.cli.main import main
from droptrail.converters.files.choice.item_options import is_item_option
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet, read_fit_sheet
from droptrail.converters.inputs import ReadOptions, read_input, with_settings
from droptrail.model.errors import InputError

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEET = str(SAMPLES / "tourer_700c.csv")


def bicycle():
    return bicycle_from_sheet(read_fit_sheet(SHEET)).bicycle


def told(capsys, *words):
    code = main([str(w) for w in words])
    out = capsys.readouterr()
    return code, out.out, out.err


def as_json(capsys, *words):
    return json.loads(told(capsys, *words, "--json")[1])


@pytest.mark.parametrize(
    ("setting", "get", "value"),
    [
        ("fork_offset=55", lambda b: b.dimensions.fork_offset, 55),
        ("Gabelvorbiegung=5,5 cm", lambda b: b.dimensions.fork_offset, 55),
        ("head angle=72.5", lambda b: b.dimensions.head_angle, 72.5),
        ("chainstay=440", lambda b: b.dimensions.chainstay, 440),
        ("drop=70", lambda b: b.dimensions.bb_drop, 70),
        ("stack=600", lambda b: b.dimensions.stack, 600),
        ("reach=390", lambda b: b.dimensions.reach, 390),
        ("head tube=170", lambda b: b.dimensions.head_tube, 170),
        ("trail=60", lambda b: b.dimensions.trail, 60),
        ("tyre=42", lambda b: b.dimensions.wheel_radius_front, 622 / 2 + 42),
        ("rear tyre=42", lambda b: b.tyre_widths, (37, 42)),
        ("wheel=584", lambda b: b.dimensions.wheel_radius_rear, 584 / 2 + 37),
        ("rider weight=95", lambda b: b.loads.rider_mass, 95),
        ("rear_luggage=12", lambda b: b.loads.rear_luggage, 12),
        ("stem=110", lambda b: b.fittings.stem_length, 110),
        ("saddle height=740", lambda b: b.fittings.saddle_height, 740),
        ("pedal_force=1200", lambda b: b.loads.pedal_force, 1200),
        ("bicycle_type=racing", lambda b: b.bicycle_type, "racing"),
    ],
)
def test_any_item_of_the_sheet_is_set(setting, get, value):
    got = get(with_settings(bicycle(), (setting,)))
    assert got == (pytest.approx(value, abs=1e-9) if isinstance(value, int | float) else value)


def test_what_is_set_is_no_longer_assumed():
    assert any(one.key == "bar_width" for one in bicycle().assumed)
    now = with_settings(bicycle(), ("bar_width=460",))
    assert not any(one.key == "bar_width" for one in now.assumed)
    assert len(now.assumed) == len(bicycle().assumed) - 1


def test_a_change_of_geometry_is_told_with_what_follows(capsys):
    options = ReadOptions(settings=("tyre=42",), keep=("trail",), follow=("head angle",))
    reading = read_input(SHEET, None, options)
    found = [f.message for f in reading.findings if f.code == "item-set"]
    assert len(found) == 1
    assert "head angle follows: 71.80 ->" in found[0]
    assert reading.dimensions.trail == pytest.approx(61.78345, abs=1e-4)
    seen = as_json(capsys, "geometry", SHEET, "--set", "fork_offset=55")
    assert seen["dimensions"]["fork_offset"] == 55


def test_the_geometry_of_a_drawing_is_set_too(capsys):
    words = ("geometry", SAMPLES / "tourer_700c.dxf", "--sheet", SHEET, "--set", "fork_offset=55")
    assert as_json(capsys, *words)["dimensions"]["fork_offset"] == 55
    code, _, err = told(capsys, "geometry", SAMPLES / "tourer_700c.dxf", "--set", "fork_offset=55")
    assert code == 3
    assert "--sheet" in err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--set", "fork_ofset=55"), "known: rider_mass"),
        (("--set", "top_tube=28.6"), "effective top tube"),
        (("--set", "fork_offset=wide"), "not a number"),
        (("--set", "fork_offset=55 kg"), "unit 'kg'"),
        (("--set", "head_angle=73", "--keep", "colour"), "could stay or follow"),
        (("--set", "head_angle=73", "--keep", "trail", "--follow", "stack"), "worked out"),
    ],
)
def test_refusals_name_what_to_do(capsys, words, said):
    code, _, err = told(capsys, "geometry", SHEET, *words)
    assert code in (1, 3)
    assert said in err
    assert "Traceback" not in err


# --- compare ---------------------------------------------------------------------------------------------------------
def test_compare_tries_items_alone_and_with_tubes(capsys):
    held = as_json(
        capsys, "compare", SHEET, "--case", "side_push", "--option", "fork_offset=45,50,55",
        "--option", "chainstay=440,452", "--option", "top tube=31.8",
    )  # fmt: skip
    names = [row["name"] for row in held["variants"]]
    assert len(names) == 1 + 1 + 6 * 2 - 1  # the bicycle as it stands is the reference
    row = next(
        r for r in held["variants"] if r["name"] == "fork offset 45 mm, chainstay length 440 mm"
    )
    lone = as_json(
        capsys, "solve", SHEET, "--case", "side_push",
        "--set", "fork_offset=45", "--set", "chainstay=440",
    )  # fmt: skip
    stiffness = lone["load_cases"]["side_push"]["stiffness"]["head_sideways"]["value"]
    assert row["values"]["side_push.head_sideways"] == pytest.approx(stiffness, rel=1e-9)
    for key in ("trail", "wheel_flop", "wheelbase", "toe_gap", "front_weight", "front_share"):
        assert isinstance(row["values"][f"geometry.{key}"], float), key
    assert isinstance(row["values"]["geometry.rear_tyre_to_chainstays"], float)
    assert row["percent_per_10_g"]["geometry.trail"] is None


def test_compare_keeps_what_is_to_stay(capsys):
    options = ("--option", "head_angle=71,73", "--keep", "trail")
    held = as_json(capsys, "compare", SHEET, "--case", "side_push", *options)
    trails = [row["values"]["geometry.trail"] for row in held["variants"]]
    assert trails == pytest.approx([trails[0]] * 3, abs=1e-6)
    assert "fork offset follows" in held["variants"][1]["changes"]


def test_compare_seeks_a_value_for_a_goal(capsys):
    goals = ("--seek", "fork_offset:trail=60", "--seek", "chainstay:rear_tyre_to_seat_tube=12")
    held = as_json(capsys, "compare", SHEET, "--case", "side_push", *goals)
    first, second = (row["values"] for row in held["variants"][1:])
    assert first["geometry.trail"] == pytest.approx(60, abs=1e-6)
    assert second["geometry.rear_tyre_to_seat_tube"] == pytest.approx(12, abs=1e-6)
    assert held["variants"][1]["name"] == "fork offset 51.69 mm for trail 60 mm"


@pytest.mark.parametrize(
    ("seek", "said"),
    [
        ("fork_offset:trail=500", "it reaches"),
        ("fork_offset:tail=60", "known: trail"),
        ("fork_offset=60", "give it as ITEM:FIGURE=VALUE"),
        ("wheel:trail=60", "give it as ITEM:FIGURE=VALUE"),
    ],
)
def test_a_goal_that_cannot_be_reached_is_refused(capsys, seek, said):
    code, _, err = told(capsys, "compare", SHEET, "--seek", seek)
    assert code == 3
    assert said in err


def test_a_name_of_a_tube_and_of_a_dimension_is_told_by_its_values():
    assert is_item_option("chainstay=440,450")
    assert not is_item_option("chainstay=22.2-14x0.8,19")
    assert not is_item_option("head_tube=36,44")
    assert is_item_option("head tube=150, 160 mm")
    assert not is_item_option("down tube=31.8")
    with pytest.raises(InputError, match="give two options"):
        is_item_option("chainstay=440,22.2-14")


def test_a_riding_value_can_be_sought_like_any_other(capsys):
    """What it does not move cannot be reached by it, and that is said."""
    seek = ["compare", SHEET, "--case", "side_push", "--seek", "tyre_relaxation:trail=60"]
    assert main(seek) == 3
    assert "it reaches 61.8 to 61.8 mm" in capsys.readouterr().err
