"""What the served page works on: uploaded files read once, tubes corrected as often as one likes.

Nothing here knows of HTTP. Uploads are written into a folder that is gone after reading, under their names stripped of
everything that could mean more to a file system than a name. A BENCH is never changed: corrected tubes make another
one.
"""

from base64 import b64decode
from binascii import Error as BadBase64
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from pathlib import Path
from threading import Lock
from typing import Any

from ..converters.analysis import analyse
from ..converters.files.fitsheet.amend import Edits, amended, place_of
from ..converters.files.fitsheet.bicycle import bicycle_from_sheet
from ..converters.files.fitsheet.endings import OTHER_PROGRAMS, TEXT_ENDINGS
from ..converters.files.fitsheet.statements import FitSheet, first_of, fit_sheet
from ..converters.files.fitsheet.table import SheetRow, bare, clean, tables_of
from ..converters.files.fitsheet.tubes import read_tubes
from ..converters.files.fitsheet.write_sheet import sheet_rows, write_fit_sheet
from ..converters.files.writing import working_folder
from ..converters.inputs import Reading, ReadOptions, read_input
from ..model.assumption import still_assumed
from ..model.choice.workshop_rules import Rules, new_faults
from ..model.decide import within
from ..model.errors import FrameError, InputError
from ..model.frame.bicycle import Bicycle
from ..model.frame.clearance import clearances
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.statements import FIELDS as FRAME_FIELDS
from ..model.geometry.statements import by_unit, label, quantities, unit
from ..model.tubes.materials import MATERIALS
from ..model.tubes.tube import Tube
from ..model.words import spoken
from .check import Check, check, workshop_findings
from .workbench_knobs import NO_KNOBS, Knobs, TurnedKnobs, turn

# bytes
MAX_DRAWING = 24_000_000
MAX_SHEET = 4_000_000
FIELDS = ("outside_diameter", "wall", "butts", "material")
# what a drawing and its sheet may differ by, mm and degrees, as everywhere
MM = 1.0
DEG = 0.1
_CHANGED = "the tubes were just changed; it follows"
# A full check takes all of a core for seconds: one after the other, the page of each stays quick.
_one_at_a_time = Lock()


class TubeError(InputError):
    """A corrected tube that cannot be; `member` and `field` say which cell to mark ('' : the whole row)."""

    def __init__(self, member: str, error: FrameError) -> None:
        # Only an InputError knows its cell; the others have words alone.
        if isinstance(error, InputError):
            super().__init__(
                error.reason, source=spoken(member), column=error.column, value=error.value
            )
        else:
            super().__init__(str(error), source=spoken(member))
        self.member = member
        if self.column in FIELDS:
            self.field = self.column
        else:
            self.field = ""


@dataclass(frozen=True)
class Upload:
    """A file as it came: the name to show, its bytes."""

    name: str
    data: bytes

    @classmethod
    def of(cls, sent: Mapping[str, Any], limit: int) -> "Upload":
        """From ``{"name": ..., "data": base64}``. Raises InputError when it is not that or too large."""
        name = sent.get("name")
        text = sent.get("data")
        if not isinstance(name, str) or not isinstance(text, str):
            raise InputError("the page sent a file without name or content; load the page again")
        # Some senders give a whole path: only its last part is shown.
        shown = clean(name.replace("\\", "/").rpartition("/")[2])[:80] or "file"
        # Base64 makes four characters of three bytes, and pads the last ones.
        if len(text) > 4 * limit // 3 + 4:
            raise InputError(
                f"{shown}: larger than the {limit / 1e6:.0f} MB this page takes; use droptrail check on "
                "the command line"
            )
        try:
            return cls(shown, b64decode(text, validate=True))
        except (BadBase64, ValueError) as error:
            raise InputError(f"{shown}: arrived damaged; drop it again") from error


@dataclass(frozen=True)
class Bench:
    """A reading, what was changed since, and the check of it; `check` is None while the tubes are not known.

    sheet : the fit sheet as it came. edits : member -> field -> text, only cells that differ from what was read.
    knobs : other items that were turned, and what that moved.
    """

    reading: Reading
    check: Check | None = None
    changed: tuple[str, ...] = ()
    sheet: Upload | None = None
    edits: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    knobs: Knobs = NO_KNOBS
    turned: TurnedKnobs | None = None


# --- reading ----------------------------------------------------------------------------------------------------
def open_files(
    drawing: Upload | None,
    sheet: Upload | None,
    options: ReadOptions | None = None,
    plain: bool = False,
) -> Bench:
    """Read a drawing, a sheet, or both, and check them in full.

    plain : a drawing without a sheet gets plain steel tubes, all of them listed as assumed.

    Raises InputError, one line with the next step; other FrameErrors as check does.
    """
    if drawing is None and sheet is None:
        raise InputError("drop a drawing (.dxf) or a fit sheet (.csv, .xlsx)")
    # Readers work on files; the folder is gone with the block.
    with working_folder() as folder:
        reading = _read(folder, drawing, sheet, options)
    came = [upload.name for upload in (drawing, sheet) if upload is not None]
    # The names the files came with, not those in the folder.
    reading = replace(reading, source=" + ".join(came))
    if reading.bicycle is None and plain:
        reading = _with_plain_tubes(reading)
    done = None
    if reading.bicycle is not None:
        done = full_check(reading)
    return Bench(reading, done, sheet=sheet)


def _read(
    folder: Path, drawing: Upload | None, sheet: Upload | None, options: ReadOptions | None
) -> Reading:
    paths = []
    for upload, endings in ((drawing, (".dxf",)), (sheet, _sheet_endings(sheet))):
        if upload is not None:
            path = folder / _file_name(upload.name, endings)
            path.write_bytes(upload.data)
            paths.append(path)
    return read_input(paths[0], paths[1] if len(paths) == 2 else None, options)


def _file_name(shown: str, endings: Sequence[str]) -> str:
    """The name a file came with as every file system takes it, so that refusals name the builder's own file."""
    # a slash, a colon or a null byte means something to a file system
    kept = "".join(c if c.isalnum() or c in " ._-()+" else "_" for c in shown)
    # file systems count bytes, and 255 is the usual most
    name = kept.encode(errors="ignore")[:160].decode(errors="ignore").strip(" .")
    if not name or Path(name).suffix.lower() not in endings:
        return f"{name or 'file'}{endings[0]}"
    return name


def _sheet_endings(sheet: Upload | None) -> Sequence[str]:
    """By what the file is, not by its name; other spreadsheets keep theirs and are refused with what to save as."""
    # The first bytes of a zip archive, which every .xlsx is.
    if sheet is not None and sheet.data.startswith(b"PK\x03\x04"):
        return (".xlsx", *OTHER_PROGRAMS)
    return (*TEXT_ENDINGS, *OTHER_PROGRAMS)


def _with_plain_tubes(reading: Reading) -> Reading:
    # A sheet that states nothing: every tube is filled in, and listed as assumed.
    empty = FitSheet(reading.source, reading.sha256, "", (), {}, {}, {})
    filled = bicycle_from_sheet(empty, dimensions=reading.dimensions)
    return replace(
        reading,
        bicycle=filled.bicycle,
        findings=(*reading.findings, *filled.findings),
        assumed=filled.assumed,
    )


def full_check(reading: Reading) -> Check:
    """The check with everything, cross-check included."""
    with _one_at_a_time:
        return check(reading)


# --- tubes ------------------------------------------------------------------------------------------------------
def tube_texts(bicycle: Bicycle) -> dict[str, dict[str, str]]:
    """Member -> the cells of its row in a fit sheet, as text."""
    # rows of the tube table are the long ones, and stand before the materials; joints and corners add columns
    rows: dict[str, Sequence[object]] = {}
    for row in sheet_rows(replace(bicycle, assumed=())):
        if len(row) >= 6:
            rows.setdefault(str(row[0]), row)
    texts = {}
    for member in bicycle.tubes:
        cells = map(str, rows[spoken(member)][1:5])
        texts[member] = dict(zip(FIELDS, cells, strict=True))
    return texts


def material_names(bicycle: Bicycle) -> list[str]:
    """Built-in materials, then the sheet's own."""
    own = [tube.material.name for tube in bicycle.tubes.values()]
    # A dictionary drops names that come twice and keeps the order.
    return list(dict.fromkeys([*(material.name for material in MATERIALS.values()), *own]))


def with_changes(
    bench: Bench,
    texts: Mapping[str, Mapping[str, str]],
    knobs: Knobs = NO_KNOBS,
    quick: bool = True,
) -> Bench:
    """The bench with corrected tubes and turned knobs: meshed and solved anew; without `quick` cross-checked too.

    texts : member -> cells as in `tube_texts`; rows left as they were keep their tube exactly.

    Raises
    ------
    TubeError, KnobError
        For a cell that cannot be understood; the message names column, value and what is expected.
    """
    bicycle = bench.reading.need_bicycle()
    turned = turn(bicycle, knobs)
    tubes = dict(bicycle.tubes)
    present = tube_texts(bicycle)
    edits: dict[str, dict[str, str]] = {}
    for number, member in enumerate(present, start=1):
        wanted = {
            field: str(texts.get(member, {}).get(field, present[member][field])) for field in FIELDS
        }
        if wanted != present[member]:
            tubes[member] = _tube(number, member, wanted, bicycle)
            edits[member] = {f: text for f, text in wanted.items() if text != present[member][f]}
    changed = tuple(member for member in tubes if tubes[member] != bicycle.tubes[member])
    # Nothing differs from what was read: the check at hand stands.
    if not (changed or knobs.items) or bench.check is None:
        return bench
    made = replace(turned.bicycle, tubes=tubes)
    reading = _changed_reading(bench.reading, made, changed, turned)
    broken = tuple(new_faults(Rules(), bicycle, reading.need_bicycle(), "the tubes as changed"))
    reading = replace(reading, findings=(*reading.findings, *broken))
    if quick:
        done = _quick_check(bench.check, reading)
    else:
        done = full_check(reading)
    return Bench(reading, done, changed, bench.sheet, edits, knobs, turned)


def _tube(number: int, member: str, cells: Mapping[str, str], bicycle: Bicycle) -> Tube:
    row = SheetRow(
        "tubes",
        number,
        # Text from a browser: cut before it can fill a message.
        {"tube": member, **{k: clean(v)[:200] for k, v in cells.items()}},
        dict.fromkeys(FIELDS, ""),
    )
    own = {bare(tube.material.name): tube.material for tube in bicycle.tubes.values()}
    try:
        return read_tubes([row], bicycle.plan, own, [], [])[member]
    except FrameError as error:
        raise TubeError(member, error) from error


def _changed_reading(
    reading: Reading, bicycle: Bicycle, changed: tuple[str, ...], turned: TurnedKnobs
) -> Reading:
    """What had been assumed for a tube that is now stated is no longer assumed; the source says what changed."""
    words = (*(spoken(member) for member in changed), *turned.words)
    assumed = still_assumed(bicycle.assumed, changed)
    return replace(
        reading,
        bicycle=replace(bicycle, assumed=assumed),
        assumed=assumed,
        findings=(*reading.findings, *turned.findings),
        source=f"{reading.source}, changed on the page: {', '.join(words)}",
    )


def _quick_check(before: Check, reading: Reading) -> Check:
    """Meshed and solved, not cross-checked: what a correction shows at once. Drawing against sheet and closure stay."""
    analysis = analyse(reading)
    room = clearances(reading.need_bicycle())
    return replace(
        before,
        reading=reading,
        analysis=analysis,
        # The comparison at hand is of other tubes and would vouch for figures it never saw.
        cross={},
        not_crossed=_CHANGED,
        findings=(*analysis.findings, *workshop_findings(reading, room)),
        clearances=room,
    )


# --- files to keep ----------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class Difference:
    """Something the drawing says otherwise than the sheet. `held` is the sheet's own text, `drawn` the drawing's number
    in `unit`; not `writable` where no cell of the sheet says it by itself."""

    item: str
    label: str
    held: str
    drawn: float
    unit: str
    writable: bool


def differences(bench: Bench) -> tuple[Difference, ...]:
    """Where the drawing and the sheet differ, so that it can be asked which of the two is to be written."""
    reading = bench.reading
    if bench.sheet is None or reading.view is None or bench.check is None:
        return ()
    tables = tables_of(bench.sheet.data, bench.sheet.name)
    drawn = quantities(reading.dimensions)
    found = []
    for item, statement in first_of(_sheet_of(bench.sheet).statements).items():
        value = drawn[item]
        tolerance = by_unit(item, MM, DEG)
        if value is None or within(value - statement.value, tolerance, abs(value)):
            continue
        writable = place_of(tables, statement) is not None
        found.append(Difference(item, label(item), statement.text, value, unit(item), writable))
    for row in bench.check.dimensions:
        if row.item.endswith("_diameter") and row.ok is False and row.drawing is not None:
            held = f"{row.sheet:g}"
            found.append(Difference(row.item, label(row.item), held, row.drawing, "mm", True))
    return tuple(found)


# Every turn of a knob asks for the same few sheets again.
@lru_cache(maxsize=8)
def _sheet_of(sheet: Upload) -> FitSheet:
    return fit_sheet(tables_of(sheet.data, sheet.name))


def sheet_file(bench: Bench, ending: str = ".csv", from_drawing: Collection[str] = ()) -> bytes:
    """The fit sheet to keep.

    A sheet that was read comes back as it came, with nothing changed but the cells that were edited and, of the items
    of `differences`, those to be taken `from_drawing`. Without one a new sheet is written, as `ending` says; what had
    been assumed stands in it as comments only.
    """
    # A builder's own sheet is amended and not written anew: his notes and columns stay.
    if bench.sheet is not None:
        return amended(bench.sheet.data, bench.sheet.name, _edits(bench, from_drawing))
    if ending not in (".csv", ".xlsx"):
        raise InputError(f"a fit sheet is saved as .csv or .xlsx, not as '{clean(ending)[:20]}'")
    bicycle = bench.reading.need_bicycle()
    with working_folder() as folder:
        path = folder / f"sheet{ending}"
        write_fit_sheet(replace(bicycle, dimensions=_rounded(bicycle.dimensions)), path)
        # Read while the folder is there.
        return path.read_bytes()


def _edits(bench: Bench, from_drawing: Collection[str]) -> Edits:
    """The edited tubes, and what is taken from the drawing."""
    assert bench.check is not None
    made = {member: bench.reading.need_bicycle().tubes[member] for member in bench.edits}
    texts = {member: dict(cells) for member, cells in bench.edits.items()}
    stated: Collection[str] = ()
    if bench.reading.sheet is not None:
        stated = bench.reading.sheet.tubes_stated
    for member in texts:
        if member not in stated:  # the whole row is new to the sheet
            texts[member] = tube_texts(bench.reading.need_bicycle())[member]
    items = {}
    for found in differences(bench):
        if found.item not in from_drawing or not found.writable:
            continue
        # An item without that ending is a dimension and no tube.
        member = found.item.removesuffix("_diameter")
        if member == found.item:
            items[found.item] = found.drawn
        # A diameter typed on the page goes before the drawing's.
        elif "outside_diameter" not in texts.get(member, {}):
            od = round(found.drawn, 1)
            texts.setdefault(member, {})["outside_diameter"] = f"{od:g}"
            tube = made.get(member) or bench.reading.need_bicycle().tubes[member]
            made[member] = replace(tube, od_start=od, od_end=od)
    if bench.turned is None:
        return Edits(texts, made, items)
    if bench.turned.tyres:
        raise InputError(
            "tyres were changed, and the sheet says them by their names; write the tyre into the sheet by hand, then "
            "drop the sheet again"
        )
    assert bench.sheet is not None
    stated_items = first_of(_sheet_of(bench.sheet).statements)
    for item, value in bench.turned.side_view.items():
        # what the sheet says twice must not contradict the change afterwards
        if item in stated_items or item in FRAME_FIELDS:
            items[item] = value
    return Edits(texts, made, items, bench.turned.parts)


def _rounded(dimensions: FrameDimensions) -> FrameDimensions:
    """A drawing holds no more than a hundredth of a micron: 75.99999999999999 is 76."""
    held = {name: getattr(dimensions, name) for name in FRAME_FIELDS}
    return replace(
        dimensions,
        **{name: round(value, 5) for name, value in held.items() if value is not None},
    )


def sheet_name(bench: Bench, ending: str) -> str:
    """The name the sheet came with, else one of the bicycle's name; harmless in any header."""
    if bench.sheet is None:
        return f"{file_stem(bench)}{ending}"
    name = "".join(
        c if c.isascii() and (c.isalnum() or c in "._-") else "-" for c in bench.sheet.name
    )
    return name.strip(".-") or f"sheet{_sheet_endings(bench.sheet)[0]}"


def file_stem(bench: Bench) -> str:
    """A harmless file name from the bicycle's: letters, digits and hyphens."""
    if bench.reading.bicycle is not None:
        name = bench.reading.bicycle.name
    else:
        name = ""
    plain = (
        "".join(c if c.isascii() and c.isalnum() else "-" for c in name or "frame")
        .strip("-")
        .lower()
    )
    return "-".join(part for part in plain.split("-") if part)[:60] or "frame"
