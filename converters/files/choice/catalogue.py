"""Tube catalogues: CSV or XLSX, a row per tube; the generic one that comes along, or the builder's own in its place.

Header ``name, outside diameter, wall, butts, taper, oval width, material, use, note``, sizes written as in a fit
sheet (``22.2-14``, ``0.8/0.5/0.8``, ``100+30/60+30``); `use` lists members separated by ``/``. A column ``outside
diameter end`` may state the thin end apart. Own materials stand in a second table, as in a fit sheet.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ....model.errors import InputError
from ....model.findings import Finding
from ....model.tubes.catalogue import Catalogue, StockTube
from ....model.tubes.materials import Material, find_material
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
from ..fitsheet.tubes import read_materials, tube_of
from ..fitsheet.xlsx import MAX_ROWS
from .option_text import tube_name

# ships with the package, so that a first search needs no file of the builder's own
GENERIC = Path(__file__).parents[1] / "data" / "tubes.csv"
HEADER = "name, outside diameter, wall, butts, taper, oval width, material, use, note"
# here a tube is called by its trade name, so the fit sheet's column of members is left out
_TUBES = {
    word: column for column, group in COLUMNS["tubes"].items() if column != "tube" for word in group
}
_TUBES |= {
    "name": "name",
    "tube": "name",
    "use": "use",
    "odend": "end",
    "outsidediameterend": "end",
    "diameterend": "end",
}
# the same words as in a fit sheet: one list to learn and to keep
_MATERIALS = {word: column for column, group in COLUMNS["materials"].items() for word in group}
_WORDS: Mapping[str, Mapping[str, str]] = {"tubes": _TUBES, "materials": _MATERIALS}
_NEEDED = {
    "tubes": {"name", "outside_diameter", "wall", "use"},
    "materials": {"material", "E", "density"},
}


def load_catalogue(path: str | Path | None = None) -> Catalogue:
    """The tubes of a catalogue file; without one the generic tubes in trade sizes.

    Elastic constants that disagree and columns that are not known become findings.

    Raises
    ------
    InputError
        Naming file, row and column, the value found and what is expected.
    """
    if path is None:
        path = GENERIC
    else:
        path = Path(path)
    # collected and not raised: a catalogue with an odd column is still of use
    findings: list[Finding] = []
    tables = _tables(path, findings)
    # materials first: rows of tubes refer to them, wherever their table stands in the file
    materials = read_materials(tables["materials"], findings)
    tubes = tuple(_stock(row, materials) for row in tables["tubes"])
    _check_names(tubes, tables["tubes"])
    if not tubes:
        raise InputError(f"{path.name}: it holds no tube; the header is: {HEADER}")
    return Catalogue(tubes, path.name, tuple(findings))


def _tables(path: Path, findings: list[Finding]) -> dict[str, list[SheetRow]]:
    tables: dict[str, list[SheetRow]] = {"tubes": [], "materials": []}
    kind = ""
    header = Header((), {}, {})
    for number, raw in enumerate(text_grid(file_bytes(path), path.name, findings), start=1):
        # cut to the longest cell that is read, so that no message becomes a page
        cells = [cell.strip()[:MAX_CELL] for cell in raw]
        if number > MAX_ROWS:
            raise InputError(f"{path.name}: more than {MAX_ROWS} rows; a catalogue has fewer")
        if not any(cells) or cells[0].startswith("#"):
            continue
        # a header may come at any row: it ends the table above it
        if new := _header_kind(cells):
            kind = new
            header = header_of(cells, _WORDS[new], f"{path.name}, row {number}", findings)
        elif kind:
            tables[kind].append(row_below(header, number, cells, path.name))
        else:
            raise InputError(
                f"{path.name}, row {number}: the header was not recognised; it is: {HEADER}"
            )
    return tables


def _header_kind(cells: Sequence[str]) -> str:
    """Which table this row is the header of; '' when it is none."""
    return next(
        (
            # a header is known by the columns it needs, in whatever order and among others
            kind
            for kind, words in _WORDS.items()
            if _NEEDED[kind] <= set(known_columns(words, cells).values())
        ),
        "",
    )


def _stock(row: SheetRow, materials: Mapping[str, Material]) -> StockTube:
    if not row["name"]:
        raise row.refusal("a tube without a name; give it one", "name")
    sizes = row
    # a list may state the thin end in a column of its own; inside it is one text
    if row["end"]:
        both = {**row.cells, "outside_diameter": f"{row['outside_diameter']}-{row['end']}"}
        sizes = replace(row, cells=both)
    with row.at("use"):
        use = tuple(
            # a member named twice would double the tube among the options
            dict.fromkeys(
                tube_name(word) for word in row["use"].replace(";", "/").split("/") if word.strip()
            )
        )
    if not use:
        # without members the tube would be an option for none, in silence
        raise row.refusal("name the members the tube is for, such as top tube/down tube", "use")
    return StockTube(
        row["name"], tube_of(sizes, row["name"], _material(row, materials)), use, row["note"]
    )


def _material(row: SheetRow, materials: Mapping[str, Material]) -> Material:
    # the builder's own material wins over a built-in one of the same name
    if bare(row["material"]) in materials:
        return materials[bare(row["material"])]
    with row.at("material"):
        if not row["material"]:
            # a default would put steel into somebody's list of aluminium tubes
            raise InputError("no material is named; a catalogue needs one for every tube")
        return find_material(row["material"])


def _check_names(tubes: Sequence[StockTube], rows: Sequence[SheetRow]) -> None:
    seen: dict[str, str] = {}
    for stock, row in zip(tubes, rows, strict=True):
        first = seen.setdefault(stock.name.casefold(), row.where)
        if first != row.where:
            raise row.refusal(f"a tube named '{stock.name}' stands at {first} already; rename one")
