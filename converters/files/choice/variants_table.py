"""Variants from a file: a CSV or XLSX table with a row per exchanged tube, or TOML.

Table: header ``variant, tube, outside diameter, wall, butts, taper, oval width, material``; an empty cell keeps
what the present tube has, an empty variant cell continues the variant above. Any other item of the sheet is varied in
columns ``item, value``, in the same table or in one of its own. TOML: one table per variant, with one text per tube,
written as on the command line (see `option_text`), and a number or a text per item::

    ["wide top tube"]
    top_tube = "31.8x0.8/0.5/0.8"
    fork_offset = 55
"""

import re
from collections.abc import Mapping, Sequence
from functools import cache
from pathlib import Path

from ....model.choice.variants import Reshaped, TubeChange, Variant, grid
from ....model.errors import FrameError, InputError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.tubes.catalogue import Catalogue
from ....model.tubes.materials import metal
from ....model.tubes.tube import Tube
from ....model.words import spoken
from ..fitsheet.knobs import Setting, setting, turned
from ..fitsheet.table import (
    COLUMNS,
    MAX_CELL,
    Header,
    SheetRow,
    bare,
    file_bytes,
    header_of,
    known_columns,
    row_below,
    text_grid,
)
from ..fitsheet.tubes import outside_columns, unread_columns
from ..fitsheet.values import Outside, butts, outside, series
from ..fitsheet.xlsx import MAX_ROWS
from ..strict_toml import read_toml
from .item_options import Stays, is_item_option, item_options, item_variants, sought
from .option_text import Stock, material_named, present_tube, tube_change, tube_name, tube_options

_WORDS = {word: column for column, group in COLUMNS["tubes"].items() for word in group}
_WORDS |= dict.fromkeys(("variant", "variants", "name", "variante"), "variant")
for _column in ("item", "value"):
    _WORDS |= {word: _column for word in COLUMNS["items"][_column] if word not in _WORDS}
HEADER = "variant, tube, outside diameter, wall, butts, taper, oval width, material; or variant, item, value"
_NO_STAYS = Stays()


def read_variants(
    path: str | Path,
    bicycle: Bicycle,
    findings: list[Finding] | None = None,
    stays: Stays = _NO_STAYS,
) -> list[Variant | Reshaped]:
    """The variants of a file, each tube as a change of the bicycle's present one, each item as `--set` sets it.

    What the file leaves in doubt, such as a column that is not known, is added to `findings`.

    Raises
    ------
    InputError
        Naming file, row and column, and what is expected.
    """
    path = Path(path)
    if findings is None:
        noticed = []
    else:
        noticed = findings
    if path.suffix.lower() == ".toml":
        variants = _from_toml(path, bicycle, stays)
    else:
        variants = _from_rows(_rows(path, noticed), bicycle, stays)
    if not variants:
        raise InputError(f"{path.name}: it holds no variant; the header is: {HEADER}")
    return variants


# --- TOML -----------------------------------------------------------------------------------------------------
def _from_toml(path: Path, bicycle: Bicycle, stays: Stays) -> list[Variant | Reshaped]:
    return [
        _toml_variant(name, table, path.name, bicycle, stays)
        for name, table in read_toml(path).items()
    ]


def _toml_variant(
    name: str, table: object, source: str, bicycle: Bicycle, stays: Stays
) -> Variant | Reshaped:
    # a list or a table under a key would mean nothing here
    if not isinstance(table, dict) or not all(map(_is_text_or_number, table.values())):
        raise InputError(
            f'{source}, {name}: each variant is a table of lines such as top_tube = "31.8x0.8/0.5/0.8" or '
            "fork_offset = 55"
        )
    tubes = {}
    settings = []
    for key, value in table.items():
        try:
            # the same rule as on the command line, so that a name means the same in both
            if is_item_option(f"{key}={value}"):
                settings.append(setting(f"{key}={value}", ""))
            else:
                member = tube_name(key, bicycle.plan)
                tubes[member] = tube_change(str(value), bicycle).of(present_tube(bicycle, member))
        except FrameError as error:
            raise InputError(f"{source}, {name}, {key}: {error}") from error
    return _variant(name, tubes, settings, bicycle, stays, f"{source}, {name}")


def _is_text_or_number(value: object) -> bool:
    # in Python True is a number; in TOML it would be a slip
    return isinstance(value, str | int | float) and not isinstance(value, bool)


def _variant(
    name: str,
    tubes: Mapping[str, Tube],
    settings: Sequence[Setting],
    bicycle: Bicycle,
    stays: Stays,
    where: str,
) -> Variant | Reshaped:
    """A variant of tubes alone, or of other items too."""
    exchanged = Variant(name, tubes)
    # without items the geometry stays: a plain exchange of tubes
    if not settings:
        return exchanged
    try:
        result = turned(bicycle, settings, stays.keep, stays.follow)
    except FrameError as error:
        raise InputError(f"{where}: {error}") from error
    words = [one.words for one in settings] + [exchanged.changes, result.followed]
    # items first: the tubes go into the bicycle as it was reshaped
    return Reshaped(name, ", ".join(filter(None, words)), exchanged.of(result.bicycle))


# --- tables ---------------------------------------------------------------------------------------------------
def _rows(path: Path, findings: list[Finding]) -> list[SheetRow]:
    """Rows below the header. A column that is not known is a warning: what it says is missing in every variant."""
    rows: list[SheetRow] = []
    header: Header | None = None
    for number, raw in enumerate(text_grid(file_bytes(path), path.name, findings), start=1):
        if number > MAX_ROWS:
            raise InputError(
                f"{path.name}: more than {MAX_ROWS} rows; use droptrail search for large grids"
            )
        # cut to the longest cell that is read, so that no message becomes a page
        cells = [cell.strip()[:MAX_CELL] for cell in raw]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if header is None:
            header = _header(cells, f"{path.name}, row {number}", findings)
        else:
            rows.append(row_below(header, number, cells, path.name))
    return rows


def _header(cells: Sequence[str], where: str, findings: list[Finding]) -> Header:
    known = set(known_columns(_WORDS, cells).values())
    # without a name per variant rows cannot be put together
    if "variant" not in known or not ({"tube"} <= known or {"item", "value"} <= known):
        raise InputError(f"{where}: the header was not recognised; it is: {HEADER}")
    # a column not read is missing in every variant, so it is a warning here
    return header_of(cells, _WORDS, where, findings, unread="warning")


def _from_rows(
    rows: Sequence[SheetRow], bicycle: Bicycle, stays: Stays
) -> list[Variant | Reshaped]:
    tubes: dict[str, dict[str, Tube]] = {}
    settings: dict[str, list[Setting]] = {}
    name = ""
    for row in rows:
        # an empty cell continues the variant above, as people leave it empty
        name = row["variant"] or name
        if not name:
            raise row.refusal("the first row needs a name", "variant")
        changed = tubes.setdefault(name, {})
        turns = settings.setdefault(name, [])
        if row["item"]:
            with row.at("item"):
                turns.append(setting(f"{row['item']}={row['value']}", ""))
        # a row with neither is refused by the tube's own message
        if row["tube"] or not row["item"]:
            member, tube = _exchanged(row, bicycle)
            # two rows for one tube: the later would replace the earlier without a word
            if member in changed:
                raise row.refusal(f"variant '{name}' changes the {spoken(member)} twice")
            changed[member] = tube
    return [
        _variant(name, tubes[name], settings[name], bicycle, stays, f"variant {name}")
        for name in tubes
    ]


def _exchanged(row: SheetRow, bicycle: Bicycle) -> tuple[str, Tube]:
    """The tube a row exchanges, and what it puts there."""
    with row.at("tube"):
        member = tube_name(row["tube"], bicycle.plan)
        present = present_tube(bicycle, member)
    try:
        return member, _change(row, bicycle).of(present)
    # the cell is named already
    except InputError:
        raise
    except FrameError as error:
        raise row.refusal(f"{error}{unread_columns(row)}") from error


def _change(row: SheetRow, bicycle: Bicycle) -> TubeChange:
    # None and 0 mean: as the present tube has it
    ends: tuple[float, float] | None = None
    lengths = tapers = walls = material = None
    shape = Outside(0.0, 0.0)
    if row["outside_diameter"]:
        with row.at("outside_diameter"):
            shape = outside(row["outside_diameter"], row.units["outside_diameter"])
            ends = (shape.start, shape.end)
    shape = outside_columns(row, shape)
    if row["wall"]:
        with row.at("wall"):
            walls = series(row["wall"], row.units["wall"])
    if row["butts"]:
        with row.at("butts"):
            lengths, held = butts(row["butts"], row.units["butts"])
            # lengths without tapers leave the present tube's tapers
            tapers = held or None
    if row["taper"]:
        with row.at("taper"):
            tapers = series(row["taper"], row.units["taper"])
    if row["material"]:
        with row.at("material"):
            material = material_named(row["material"], bicycle)
    return TubeChange(
        ends, walls, lengths, tapers, shape.width, material, shape.width_end, shape.straight
    )


# --- from the command line --------------------------------------------------------------------------------------
_STOCK = re.compile(
    r"catalogue\b\s*(?P<low>[\d.]+)?(?:\s*-\s*(?P<high>[\d.]+))?\s*(?::\s*(?P<material>.+))?"
)


def choices(
    texts: Sequence[str],
    bicycle: Bicycle,
    catalogue: Path | None = None,
    findings: list[Finding] | None = None,
) -> dict[str, tuple[Tube, ...]]:
    """Tube -> options of texts such as ``top_tube=25.4,28.6``; several texts for one tube add up.

    ``catalogue`` stands for all of a catalogue's tubes for that member, of the present tube's metal unless a material
    or ``any`` follows a colon; ``catalogue 28.6-31.8`` for those diameters. A catalogue tube's name is understood too.
    What the builder's own catalogue leaves in doubt is added to `findings`.
    """
    out: dict[str, tuple[Tube, ...]] = {}
    stock = _stock(catalogue, findings)
    for text in texts:
        member, tubes = tube_options(text, bicycle, stock)
        # several texts for one tube add up; the same size in two of them counts once
        out[member] = tuple(dict.fromkeys((*out.get(member, ()), *tubes)))
    return out


def _stock(path: Path | None, findings: list[Finding] | None) -> Stock:
    """Looks option texts up in a catalogue; the generic one without a path. It is read once, when first needed."""
    from .catalogue import load_catalogue

    # read once, however many options there are, and not at all where none needs it
    @cache
    def held() -> Catalogue:
        catalogue = load_catalogue(path)
        # inside, since the findings are those of a file that was really read
        if findings is not None:
            findings.extend(catalogue.findings)
        return catalogue

    def tubes(text: str, member: str, present: Tube) -> list[Tube]:
        # a word first: a tube could be called "28.6" in somebody's list
        match = _STOCK.fullmatch(text.strip().lower())
        if match is None:
            return [
                one.tube for one in held().tubes if one.name.casefold() == text.strip().casefold()
            ]
        low = float(match["low"] or 0.0)
        # a single number is a range of that size alone
        high = float(match["high"] or match["low"] or 1e9)
        sized = [one.tube for one in held().for_member(member) if low <= one.tube.od_start <= high]
        found = [tube for tube in sized if _wanted(tube, present, match["material"])]
        if not found:
            raise InputError(
                f"{member.replace('_', ' ')} '{text}': the catalogue has no such tube; write another "
                "range of diameters or another material"
            )
        return found

    return tubes


def _wanted(tube: Tube, present: Tube, material: str | None) -> bool:
    # another metal is another frame: it must be asked for by name
    if material is None:
        return metal(tube.material) == metal(present.material)
    return bare(material) == "any" or bare(tube.material.name) == bare(
        material_named(material).name
    )


def wanted_variants(
    path: Path | None,
    texts: Sequence[str],
    bicycle: Bicycle,
    catalogue: Path | None = None,
    findings: list[Finding] | None = None,
    stays: Stays = Stays(),  # noqa: B008
    goals: Sequence[str] = (),
) -> list[Variant | Reshaped]:
    """The variants of a file, then the grid of the options, then what was sought; what they leave in doubt is added to
    `findings`.

    Raises InputError when none is given.
    """
    if path is None and not texts and not goals:
        raise InputError(
            "nothing to compare: give --variants FILE, --option such as top_tube=25.4,28.6 or fork_offset=45,50, or "
            "--seek such as fork_offset:trail=60"
        )
    out: list[Variant | Reshaped] = []
    if path is not None:
        out += read_variants(path, bicycle, findings, stays)
    of_items = [text for text in texts if is_item_option(text)]
    of_tubes = [text for text in texts if text not in of_items]
    tubes: list[Variant] = []
    if of_tubes:
        tubes = grid(bicycle, choices(of_tubes, bicycle, catalogue, findings))
    out += tubes
    if of_items:
        out += item_variants(bicycle, item_options(of_items), tubes, stays)
    return out + [sought(bicycle, goal, stays) for goal in goals]
