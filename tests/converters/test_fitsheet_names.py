"""Trade words in five languages, wheel and tyre sizes, near misses, and what is said of rows that are not understood.

The words are common practice, no source.
"""

from pathlib import Path

import pytest
from droptrail.converters.files.fitsheet.bicycle import bicycle_from_sheet
from droptrail.converters.files.fitsheet.find_item import AMBIGUOUS, all_names, find_item
from droptrail.converters.files.fitsheet.names import COLUMN_NAMES, TUBE_NAMES, split_names
from droptrail.converters.files.fitsheet.statements import read_fit_sheet
from droptrail.converters.files.fitsheet.table import bare, spellings
from droptrail.converters.files.fitsheet.wheels import tyre_label, wheel_label
from droptrail.model.errors import InputError


def sheet_of(text: str, tmp_path: Path) -> Path:
    path = tmp_path / "sheet.csv"
    path.write_text(text, encoding="utf-8")
    return path


# A small frame in plain words; rows are swapped in below.
ROWS = {
    "stack": "560",
    "reach": "380",
    "head angle": "72",
    "seat angle": "73",
    "bb drop": "70",
    "chainstay": "420",
    "head tube": "140",
    "fork length along axis": "375",
    "fork offset": "45",
    "wheel": "622",
    "tyre": "32",
    "seat tube": "520",
}


def rows(**changed: str) -> str:
    held = ROWS | {name.replace("_", " "): value for name, value in changed.items()}
    return "item,value\n" + "".join(f"{name},{value}\n" for name, value in held.items() if value)


@pytest.mark.parametrize(
    ("name", "item"),
    [
        ("HT length", "head_tube"),
        ("bike type", "bicycle_type"),
        ("Vorderrad", "bead_seat_front"),
        ("Hinterrad", "bead_seat_rear"),
        ("Tretlagergehäuse", "bb_shell_width"),
        ("Tretlagergehaeuse", "bb_shell_width"),
        ("Oberrohr am Sitzrohr", "top_tube_on_seat_tube"),
        ("Gabelvorlauf", "fork_offset"),
        ("Oberrohr unter Steuerrohr oben", "top_tube_below_head_top"),
        ("Unterrohr über Steuerrohr unten", "down_tube_above_head_bottom"),
        ("Ueberstandshoehe", "standover"),
        ("angle de direction", "head_angle"),
        ("Angle tube de selle", "seat_angle"),
        ("empattement", "wheelbase"),
        ("déport de fourche", "fork_offset"),
        ("chasse", "trail"),
        ("longueur des bases", "chainstay"),
        ("pneu avant", "tyre_width_front"),
        ("roue arrière", "bead_seat_rear"),
        ("hauteur de boîtier", "bb_height"),
        ("interasse", "wheelbase"),
        ("avancorsa", "trail"),
        ("foderi orizzontali", "chainstay"),
        ("piantone", "seat_tube"),
        ("angolo sterzo", "head_angle"),
        ("ruota anteriore", "bead_seat_front"),
        ("altezza sella", "saddle_height"),
        ("wielbasis", "wheelbase"),
        ("balhoofdhoek", "head_angle"),
        ("naloop", "trail"),
        ("voorwiel", "bead_seat_front"),
        ("achterband", "tyre_width_rear"),
        ("zitbuis", "seat_tube"),
        ("bracketverlaging", "bb_drop"),
    ],
)
def test_words_of_the_trade(name: str, item: str) -> None:
    match = find_item(name)
    assert match is not None
    assert match.item.key == item


@pytest.mark.parametrize(
    ("name", "note", "item"),
    [
        ("Gabellänge", "straight", "axle_to_crown_straight"),
        ("Gabellänge", "direkt", "axle_to_crown_straight"),
        ("Einbaulänge", "along axis", "fork_length"),
        ("Sitzrohr", "Mitte-Mitte", "top_tube_on_seat_tube"),
        ("Sitzrohr", "c-t", "seat_tube"),
        ("longueur de fourche", "straight", "axle_to_crown_straight"),
        ("Oberrohr", "effective", "effective_top_tube"),
        ("bovenbuis", "c-c", "top_tube_cc"),
    ],
)
def test_the_note_settles_the_convention_in_any_language(name: str, note: str, item: str) -> None:
    match = find_item(name, note)
    assert match is not None
    assert (match.item.key, match.assumption) == (item, "")


def test_no_name_stands_for_two_things() -> None:
    plain = {spelled for name, _ in all_names() for spelled in spellings(name)}
    assert plain & set(AMBIGUOUS) == set()
    for table in (TUBE_NAMES, *COLUMN_NAMES.values()):
        seen: dict[str, str] = {}
        for key, names in table.items():
            for name in split_names(names):
                assert seen.setdefault(bare(name), key) == key, name


# --- wheels -------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    ("text", "bead_seat", "width"),
    [
        ("700x38C", 622, 38.0),
        ("700 x 38 C", 622, 38.0),
        ("700C x 38", 622, 38.0),
        ("700Cx38mm", 622, 38.0),
        ("650x47B", 584, 47.0),
        ("650B x 47", 584, 47.0),
        ("26x2.1", 559, 53.34),
        ("26 x 2,1", 559, 53.34),
        ('27.5 x 2.4"', 584, 60.96),
        ("29x2.35", 622, 59.69),
        ("20x1.75", 406, 44.45),
        ("26 x 1 3/8", 590, 34.925),
        ("700×38C", 622, 38.0),
        ("37-622", 622, 37.0),
        ("622x37", 622, 37.0),
    ],
)
def test_tyre_sizes_give_rim_and_width(text: str, bead_seat: int, width: float) -> None:
    """Bead seats as in ISO 5775 (see converters/files/fitsheet/wheels.py); inch widths at 25.4 mm."""
    for read in (wheel_label, tyre_label):
        label = read(text, "")
        assert label.bead_seat == bead_seat
        assert label.width == pytest.approx(width)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("700 C", None),
        ("620", "did you mean 622?"),
        ("70C", "did you mean 700C?"),
        ("900x38C", "is not a known wheel"),
        ("huge", "is not a known wheel; expected"),
    ],
)
def test_unknown_wheels_are_refused_shortly(text: str, hint: str | None) -> None:
    if hint is None:
        assert wheel_label(text).bead_seat == 622
        return
    with pytest.raises(InputError) as refusal:
        wheel_label(text)
    assert hint in str(refusal.value)
    assert len(str(refusal.value)) < 180


def test_one_row_with_a_tyre_size_is_wheel_and_tyre(tmp_path: Path) -> None:
    for name in ("wheel", "tyre"):
        text = rows(**{"wheel": "", "tyre": "", name: "700x38C"})
        reading = bicycle_from_sheet(read_fit_sheet(sheet_of(text, tmp_path)))
        assert reading.bicycle.dimensions.wheel_radius_front == 622 / 2 + 38
        assert any("700x38C is bead seat 622 mm" in line for line in map(str, reading.assumed))


# --- what is not understood -----------------------------------------------------------------------------------
def test_a_refusal_names_the_rows_that_were_not_understood(tmp_path: Path) -> None:
    text = (
        rows(fork_offset="", wheel="")
        + "Gabelvorlaufmaß,45\nfrnt whl,622\ncolour of the bar tape,red\n"
    )
    with pytest.raises(InputError, match="the frame is not fixed yet") as refusal:
        bicycle_from_sheet(read_fit_sheet(sheet_of(text, tmp_path)))
    assert str(refusal.value).endswith(
        "; not understood in the sheet: 'Gabelvorlaufmaß' (row 12), 'frnt whl' (row "
        "13), 'colour of the bar tape' (row 14)"
    )


def test_no_such_words_where_all_was_understood(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="the frame is not fixed yet") as refusal:
        bicycle_from_sheet(read_fit_sheet(sheet_of(rows(fork_offset=""), tmp_path)))
    assert "not understood" not in str(refusal.value)


def test_long_lists_of_rows_are_cut(tmp_path: Path) -> None:
    text = rows(fork_offset="") + "".join(f"zzz{n}qqq,1\n" for n in range(20))
    with pytest.raises(InputError, match=r"and 14 more$"):
        bicycle_from_sheet(read_fit_sheet(sheet_of(text, tmp_path)))


TUBES = "\ntube,outside diameter,wall,{column},material\ntop tube,28.6,0.8/0.5/0.8,80/80,4130\n"


@pytest.mark.parametrize(
    "column", ["Konifizierung", "butting", "butt lengths [mm]", "Enden (mm)", "rinforzi"]
)
def test_the_column_of_butt_lengths_by_any_name(column: str, tmp_path: Path) -> None:
    sheet = read_fit_sheet(sheet_of(rows() + TUBES.format(column=column), tmp_path))
    assert sheet.tubes["top_tube"].butts == (80.0, 80.0)


def test_missing_butt_lengths_are_said_in_words_with_the_unknown_column(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refusal:
        read_fit_sheet(sheet_of(rows() + TUBES.format(column="thick bits"), tmp_path))
    assert str(refusal.value) == (
        "sheet.csv, row 16, top tube: the wall '0.8/0.5/0.8' has 3 thicknesses, so the length of the 2 ends is needed "
        "in the column 'butts', such as 100/60; none is given. Not understood and not read: column 'thick bits'"
    )


def test_butt_lengths_with_a_plain_wall(tmp_path: Path) -> None:
    text = rows() + TUBES.format(column="butts").replace("0.8/0.5/0.8", "0.8")
    with pytest.raises(
        InputError, match=r"the wall '0.8' is plain, but butt lengths '80/80' are given"
    ):
        read_fit_sheet(sheet_of(text, tmp_path))


@pytest.mark.parametrize(
    ("column", "severity", "hint"),
    [
        ("buts", "warning", "did you mean 'butts'?"),
        ("supplier", "info", "known: tube, outside diameter"),
    ],
)
def test_a_column_nearly_known_is_a_warning(
    column: str, severity: str, hint: str, tmp_path: Path
) -> None:
    text = rows() + TUBES.format(column=column).replace("0.8/0.5/0.8", "0.8")
    (finding,) = [
        f
        for f in read_fit_sheet(sheet_of(text, tmp_path)).findings
        if f.code == "sheet-unknown-column"
    ]
    assert finding.severity == severity
    assert hint in finding.message


# --- tandems ------------------------------------------------------------------------------------------------
@pytest.mark.parametrize(
    "text",
    [
        rows() + "stoker top tube,700\n",
        rows() + "bike type,tandem\n",
        rows() + "Captain seat tube,560\n",
        rows() + "\ntube,outside diameter,wall\nboom tube,34.9,1.0\n",
    ],
)
def test_a_tandem_is_refused_as_one(text: str, tmp_path: Path) -> None:
    said = r"this sheet describes a tandem \(row \d+ '.*'\) and has no row 'plan, tandem'; .*begin with"
    with pytest.raises(InputError, match=said):
        read_fit_sheet(sheet_of(text, tmp_path))


def test_a_single_bicycle_is_no_tandem(tmp_path: Path) -> None:
    assert read_fit_sheet(sheet_of(rows(name="Sky Captain"), tmp_path)).name == "Sky Captain"
