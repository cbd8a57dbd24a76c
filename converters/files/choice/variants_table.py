"""Variants from a file: a CSV or XLSX table with a row per exchanged tube, or TOML.

Table: header ``variant, tube, outside diameter, wall, butts, taper, oval width, material``; an empty cell keeps
what the present tube has, an empty variant cell continues the variant above. TOML: one table per variant, with
one text per tube, written as on the command line (see `option_text`)::

    ["wide top tube"]
    top_tube = "31.8x0.8/0.5/0.8"
"""

import re
from collections.abc import Sequence
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
HEADER = "variant, tube, outside diameter, wall, butts, taper, oval width, material"


def read_variants(
    path: str | Path, bicycle: Bicycle, findings: list[Finding] | None = None
) -> list[Variant]:
    """The variants of a file, each tube as a change of the bicycle's present one.

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
        variants = _from_toml(path, bicycle)
    else:
        variants = _from_rows(_rows(path, noticed), bicycle)
    if not variants:
        raise InputError(f"{path.name}: it holds no variant; the header is: {HEADER}")
    return variants


# --- TOML -----------------------------------------------------------------------------------------------------
def _from_toml(path: Path, bicycle: Bicycle) -> list[Variant]:
    return [
        _toml_variant(name, table, path.name, bicycle) for name, table in read_toml(path).items()
    ]


def _toml_variant(name: str, table: object, source: str, bicycle: Bicycle) -> Variant:
    if not isinstance(table, dict) or not all(isinstance(text, str) for text in table.values()):
        raise InputError(
            f'{source}, {name}: each variant is a table of lines such as top_tube = "31.8x0.8/0.5/0.8"'
        )
    tubes = {}
    for key, text in table.items():
        try:
            member = tube_name(key)
            tubes[member] = tube_change(text, bicycle).of(present_tube(bicycle, member))
        except FrameError as error:
            raise InputError(f"{source}, {name}, {key}: {error}") from error
    return Variant(name, tubes)


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
        cells = [cell.strip()[:MAX_CELL] for cell in raw]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if header is None:
            header = _header(cells, f"{path.name}, row {number}", findings)
        else:
            rows.append(row_below(header, number, cells, path.name))
    return rows


def _header(cells: Sequence[str], where: str, findings: list[Finding]) -> Header:
    if not {"variant", "tube"} <= set(known_columns(_WORDS, cells).values()):
        raise InputError(f"{where}: the header was not recognised; it is: {HEADER}")
    return header_of(cells, _WORDS, where, findings, unread="warning")


def _from_rows(rows: Sequence[SheetRow], bicycle: Bicycle) -> list[Variant]:
    tubes: dict[str, dict[str, Tube]] = {}
    name = ""
    for row in rows:
        name = row["variant"] or name
        if not name:
            raise row.refusal("the first row needs a name", "variant")
        with row.at("tube"):
            member = tube_name(row["tube"])
            present = present_tube(bicycle, member)
        if member in tubes.setdefault(name, {}):
            raise row.refusal(f"variant '{name}' changes the {spoken(member)} twice")
        try:
            tubes[name][member] = _change(row, bicycle).of(present)
        except InputError:
            raise
        except FrameError as error:
            raise row.refusal(f"{error}{unread_columns(row)}") from error
    return [Variant(name, changed) for name, changed in tubes.items()]


def _change(row: SheetRow, bicycle: Bicycle) -> TubeChange:
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
        out[member] = tuple(dict.fromkeys((*out.get(member, ()), *tubes)))
    return out


def _stock(path: Path | None, findings: list[Finding] | None) -> Stock:
    """Looks option texts up in a catalogue; the generic one without a path. It is read once, when first needed."""
    from .catalogue import load_catalogue

    @cache
    def held() -> Catalogue:
        catalogue = load_catalogue(path)
        if findings is not None:
            findings.extend(catalogue.findings)
        return catalogue

    def tubes(text: str, member: str, present: Tube) -> list[Tube]:
        match = _STOCK.fullmatch(text.strip().lower())
        if match is None:
            return [
                one.tube for one in held().tubes if one.name.casefold() == text.strip().casefold()
            ]
        low = float(match["low"] or 0.0)
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
        out += read_variants(path, bicycle, findings)
    of_items = [text for text in texts if is_item_option(text)]
    of_tubes = [text for text in texts if text not in of_items]
    tubes: list[Variant] = []
    if of_tubes:
        tubes = grid(bicycle, choices(of_tubes, bicycle, catalogue, findings))
    out += tubes
    if of_items:
        out += item_variants(bicycle, item_options(of_items), tubes, stays)
    return out + [sought(bicycle, goal, stays) for goal in goals]
