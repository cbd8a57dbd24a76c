"""Parts in a sheet: rows of the tube table, axle standards, --set and --option, write and read, slips, refusals."""

from dataclasses import replace

import pytest
from droptrail.converters.files.choice.item_options import (
    Stays,
    is_item_option,
    item_options,
    item_variants,
)
from droptrail.converters.files.fitsheet.find_item import find_item
from droptrail.converters.files.fitsheet.knobs import setting, turned
from droptrail.converters.files.fitsheet.parts import part_named
from droptrail.converters.files.fitsheet.tubes import member_named
from droptrail.converters.files.fitsheet.write_sheet import write_fit_sheet
from droptrail.converters.inputs import ReadOptions, read_input
from droptrail.model.errors import FrameError, InputError
from droptrail.model.frame.dropouts import Dropout
from droptrail.model.frame.hubs import find_hub
from droptrail.model.frame.parts import PARTS, Part
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_slips import Sheet, said, sample, tube_slips

ALU = find_material("6061-T6")
POST = Part("seat_post", Tube(ALU, 27.2, 27.2, (2.0,)))
ROWS = {
    "seat post": ["27.2", "2.2", "", "6061-T6", ""],
    "stem": ["31.8", "2.8", "", "6061-T6", ""],
    "handlebar": ["31.8", "2.2", "", "6061-T6", ""],
    "fork crown": ["28", "3", "", "4130", ""],
    "bottom bracket shell": ["40", "3", "", "4130", ""],
    "bridge": ["16", "1", "", "4130", ""],
}
# A post, bar, stem, crown or bridge of that size exists too, and nothing else says which was meant.
BELIEVABLE_ALL_THE_SAME = {
    f"{part}: inside diameter" for part in ("stem", "handlebar", "fork crown", "bridge")
}


def parts_only() -> Sheet:
    return Sheet(sample().items, ROWS)


def with_rows(rows=(), items=()) -> Sheet:
    held = {name: [value, "", ""] for name, value in items}
    plain = sample()
    return Sheet({**plain.items, **held}, {**plain.tubes, **dict(rows)})


def read(tmp_path, sheet, *settings):
    path = tmp_path / "sheet.csv"
    path.write_text(sheet.text(), encoding="utf-8")
    return read_input(path, options=ReadOptions(settings=settings))


def codes(reading):
    return {finding.code for finding in reading.findings}


# --- rows -----------------------------------------------------------------------------------------------------------
def test_rows_of_the_tube_table_state_the_parts(tmp_path):
    reading = read(tmp_path, with_rows(ROWS.items()))
    parts = reading.need_bicycle().parts
    assert set(parts) == set(PARTS) - {"rear_hub", "front_hub"}
    assert parts["stem"] == Part("stem", Tube(ALU, 31.8, 31.8, (2.8,)))
    assert "sheet-unknown-tube" not in codes(reading)


def test_a_solid_part_and_one_without_material(tmp_path):
    rows = {"fork crown": ["30", "solid", "", "", ""]}
    reading = read(tmp_path, with_rows(rows.items()))
    part = reading.need_bicycle().part("fork_crown_piece")
    assert part == Part("fork_crown_piece", Tube(STEEL, 30.0, 30.0, (15.0,)))
    assert [one.short for one in reading.assumed if one.key == "fork_crown_piece"] == [
        "fork crown piece: material 4130"
    ]


@pytest.mark.parametrize(
    ("rows", "items"),
    [
        ({"front hub": ["QR 100", "", "", "", ""]}, ()),
        ({}, (("front hub", "QR 100"),)),
        ({}, (("front axle standard", "9x100"),)),
        ({}, (("Achsstandard vorn", "QR100"),)),
    ],
)
def test_a_hub_by_its_axle_standard(tmp_path, rows, items):
    bicycle = read(tmp_path, with_rows(rows.items(), items)).need_bicycle()
    assert bicycle.parts == {"front_hub": find_hub("front_hub", "QR 100")}


def test_the_standard_brings_its_spacing_where_none_is_stated(tmp_path):
    plain = with_rows(items=(("rear axle standard", "12x148"),))
    items = {n: v for n, v in plain.items.items() if not _is(n, "rear_hub_spacing")}
    assert len(items) < len(plain.items)
    reading = read(tmp_path, replace(plain, items=items))
    assert reading.need_bicycle().fittings.rear_hub_spacing == 148.0
    assert "rear_hub_spacing" not in {one.key for one in reading.assumed}
    assert "hub-spacing-disagrees" not in codes(reading)


def _is(name, key):
    found = find_item(name)
    return found is not None and found.item.key == key


def test_a_spacing_that_differs_is_said_and_used(tmp_path):
    reading = read(tmp_path, with_rows(items=(("rear axle standard", "12x148"),)))
    assert "hub-spacing-disagrees" in codes(reading)
    assert reading.need_bicycle().fittings.rear_hub_spacing == 135.0


@pytest.mark.parametrize("ending", [".csv", ".xlsx"])
def test_they_survive_writing_and_reading(tmp_path, ending):
    bicycle = replace(
        tourer(),
        parts={
            "seat_post": POST,
            "rear_hub": find_hub("rear_hub", "QR 135"),
            "fork_crown_piece": PARTS["fork_crown_piece"],
            "front_hub": PARTS["front_hub"],
            "rear_dropout": Dropout("rear_dropout", 30.0, 6.35, 26.5, STEEL),
            "stem": Part(
                "stem", Tube(replace(ALU, name="own alloy", E=71e3, G=27e3), 30.0, 30.0, (2.0,))
            ),
        },
    )
    path = tmp_path / f"sheet{ending}"
    write_fit_sheet(bicycle, path)
    again = read_input(path).need_bicycle()
    assert again.parts == bicycle.parts
    assert again.tubes == bicycle.tubes


# --- --set and --option ---------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "part"),
    [
        ("seat_post=27.2x2.0:6061-T6", POST),
        ("seatpost=27.2x2.0", POST),
        ("Sattelstütze=27,2x2", POST),
        ("stem=30x3:4130", Part("stem", Tube(STEEL, 30.0, 30.0, (3.0,)))),
        ("bar=25.4x1.5:4130", Part("bar", Tube(STEEL, 25.4, 25.4, (1.5,)))),
        ("fork_crown_piece=30 solid", Part("fork_crown_piece", Tube(STEEL, 30.0, 30.0, (15.0,)))),
        ("rear_dropout=30x6x26", Dropout("rear_dropout", 30.0, 6.0, 26.0, STEEL)),
        ("fork tips=25x5x20:6061-T6", Dropout("front_dropout", 25.0, 5.0, 20.0, ALU)),
        ("front_hub=15x110", find_hub("front_hub", "15x110")),
        ("rear_hub_spacing=12x142", find_hub("rear_hub", "12x142")),
        ("rear_axle_standard=QR 130", find_hub("rear_hub", "QR 130")),
    ],
)
def test_set_states_a_part(text, part):
    one = setting(text)
    made = turned(tourer(), [one]).bicycle
    assert made.parts == {one.item.key: part}


def test_set_of_a_standard_moves_the_dropouts_apart():
    made = turned(tourer(), [setting("rear_hub=12x148")]).bicycle
    assert made.fittings.rear_hub_spacing == 148.0
    both = turned(tourer(), [setting("rear_hub=12x148"), setting("rear_hub_spacing=150")]).bicycle
    assert both.fittings.rear_hub_spacing == 150.0


@pytest.mark.parametrize(
    ("text", "field", "value"),
    [
        ("stem=100", "stem_length", 100.0),
        ("bar=44 cm", "bar_width", 440.0),
        ("rear hub=142", "rear_hub_spacing", 142.0),
    ],
)
def test_a_plain_number_is_still_the_length_of_that_name(text, field, value):
    made = turned(tourer(), [setting(text)]).bicycle
    assert not made.parts
    assert getattr(made.fittings, field) == value


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("seat_post=27.2", "seat post|seat_post"),
        ("seat_post=27.2x40", "wall must lie above 0|wall 40 mm"),
        ("seat_post=272x2", "outside diameter 272 mm, expected 5 to 120 mm"),
        ("front_hub=12x142", "front hub '12x142': known axle standards are QR 100"),
        ("seat_post=27.2x2:cheese", "material 'cheese' is not known"),
        ("rear_dropout=30x6", "a dropout is written height x thickness x length from the axle"),
        ("rear_dropout=30x60x26", "thickness 60 mm, expected 2 to 25 mm"),
        ("stem=30-25x2", "taken as the same from end to end"),
    ],
)
def test_what_no_part_can_be_is_refused_in_words(text, words):
    with pytest.raises(FrameError, match=words):
        turned(tourer(), [setting(text)])


def test_compare_tries_parts_beside_items():
    texts = ("seat_post=27.2x1.6,27.2x2.4", "fork_offset=45")
    assert all(map(is_item_option, texts))
    variants = item_variants(tourer(), item_options(texts), (), Stays())
    walls = [v.of(tourer()).part("seat_post").wall for v in variants]
    assert walls == [1.6, 2.4]


def test_set_reaches_the_sheet_reading(tmp_path):
    reading = read(tmp_path, sample(), "seat_post=27.2x2.0", "seat_post_insertion=90")
    bicycle = reading.need_bicycle()
    assert bicycle.parts == {"seat_post": POST}
    assert bicycle.fittings.seat_post_insertion == 90.0
    assert "seat_post_insertion" not in {one.key for one in reading.assumed}


# --- slips and refusals ---------------------------------------------------------------------------------------------
SLIPS = dict(tube_slips(parts_only()))


def test_the_parts_as_they_are_ask_nothing(tmp_path):
    assert said(with_rows(ROWS.items()), tmp_path) == []


@pytest.mark.parametrize("slip", sorted(set(SLIPS) - BELIEVABLE_ALL_THE_SAME))
def test_no_slip_without_a_word(slip, tmp_path):
    wrong = SLIPS[slip].tubes
    assert said(with_rows(wrong.items()), tmp_path) != []


def test_what_cannot_be_known_is_the_only_silence(tmp_path):
    silent = {
        s
        for s in BELIEVABLE_ALL_THE_SAME
        if said(with_rows(SLIPS[s].tubes.items()), tmp_path) == []
    }
    assert silent == BELIEVABLE_ALL_THE_SAME


@pytest.mark.parametrize("value", ["9", "900"])
def test_an_insertion_in_another_unit_is_asked(tmp_path, value):
    assert said(with_rows(items=(("seat post insertion", value),)), tmp_path) != []


@pytest.mark.parametrize(
    ("rows", "items", "words"),
    [
        (
            {"seat post": ["27.2", "", "", "", ""]},
            (),
            r"row \d+, column wall: .*give the wall in mm, or 'solid'",
        ),
        (
            {"seat post": ["27.2-25", "2", "", "", ""]},
            (),
            r"row \d+.*taken as the same from end to end",
        ),
        (
            {"fork crown": ["30x20", "solid", "", "", ""]},
            (),
            r"only a round bar of one diameter can be solid",
        ),
        (
            {"front hub": ["QR 135", "", "", "", ""]},
            (),
            r"row \d+, column outside diameter: .*QR 100",
        ),
        (
            {},
            (("rear axle standard", "triple"),),
            r"row \d+, column value: .*known axle standards are QR 135",
        ),
        (
            {"stem": ["30", "2", "", "", ""], "Vorbau": ["31.8", "2", "", "", ""]},
            (),
            "stands twice with different",
        ),
        (
            {"rear hub": ["QR 135", "", "", "", ""]},
            (("rear axle standard", "QR 130"),),
            "rear hub stands in the tube table too, with other values",
        ),
    ],
)
def test_rows_that_cannot_be_are_refused_with_their_place(tmp_path, rows, items, words):
    with pytest.raises(InputError, match=words):
        read(tmp_path, with_rows(rows.items(), items))


def test_no_name_means_a_tube_and_a_part():
    from droptrail.converters.files.fitsheet.names import PART_NAMES, TUBE_NAMES, split_names

    both = [n for names in PART_NAMES.values() for n in split_names(names) if member_named(n)]
    both += [n for names in TUBE_NAMES.values() for n in split_names(names) if part_named(n)]
    assert both == []
