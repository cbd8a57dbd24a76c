"""Every table of a solved frame as one XLSX workbook, or one of them as CSV.

Numbers stay numbers, units are in the heads.
"""

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from model.errors import InputError
from model.frame_model import DOFS
from model.layout import lay_out
from model.stress import stress_table
from model.tube_mass import mass_table

from .analysis import Analysis
from .files import save_workbook, write_text
from .fitsheet_table import guard
from .inputs import Reading
from .result_json import provenance

Cell = str | float | int | None
_ENDS = ("N", "Vy", "Vz", "T", "My", "Mz")


@dataclass(frozen=True)
class Table:
    """One table: a name short enough for a worksheet, heads with units, rows."""

    name: str
    heads: Sequence[str]
    rows: Sequence[Sequence[Cell]]


def tables_of(reading: Reading, analysis: Analysis) -> tuple[Table, ...]:
    """All tables of a reading and its solved load cases."""
    found = [_stiffness(analysis), _loads(analysis), _displacements(analysis), _reactions(analysis),
             _end_forces(analysis), _stress(analysis), _masses(reading, analysis)]
    if reading.model is None:
        found = [_geometry(reading), *found]
    if reading.sheet is not None and reading.sheet.closure:
        found.append(Table("closure", ("item", "stated", "implied", "difference", "unit", "within"),
                           [(r.item, r.stated, r.implied, r.difference, r.unit, "yes" if r.ok else "no")
                            for r in reading.sheet.closure]))
    found.append(Table("assumed", ("assumed because the input does not say",), [(s,) for s in analysis.assumed]))
    found.append(_provenance(reading, analysis))
    return tuple(found)


def write_tables(tables: Sequence[Table], path: str | Path, name: str | None = None, force: bool = False) -> None:
    """Write all tables to .xlsx, or the one called `name` to .csv.

    Raises InputError for another ending, an unknown name (listing the known ones) or an existing file.
    """
    path = Path(path)
    if path.suffix.lower() == ".xlsx":
        _write_xlsx(tables, path, force)
        return
    known = {table.name: table for table in tables}
    if name not in known:
        raise InputError(f"{path.name}: a CSV file holds one table; choose it with --table: {', '.join(known)}")
    write_text(path, _csv(known[name]), force)


def _write_xlsx(tables: Sequence[Table], path: Path, force: bool) -> None:
    from openpyxl import Workbook
    from openpyxl.styles import Font

    book = Workbook()
    book.remove(book.active)
    for table in tables:
        sheet = book.create_sheet(table.name[:31])
        for row in (table.heads, *table.rows):
            sheet.append([guard(cell) if isinstance(cell, str) else cell for cell in row])
        for cell in sheet[1]:
            cell.font = Font(bold=True)
        sheet.freeze_panes = "A2"
    save_workbook(book, path, force)


def _csv(table: Table) -> str:
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    for row in (table.heads, *table.rows):
        writer.writerow([guard(c) if isinstance(c, str) else "" if c is None else repr(c) for c in row])
    return text.getvalue()


def _geometry(reading: Reading) -> Table:
    d = reading.dimensions
    values: Mapping[str, float | None] = {**vars(d), **d.derived()}
    return Table("geometry", ("item", "value", "unit"),
                 [(name, value, "deg" if "angle" in name or "deg" in name else "mm") for name, value in values.items()])


def _stiffness(analysis: Analysis) -> Table:
    rows = [(name, m.title or m.name, result.measured[m.name], m.unit, m.reference,
             "N" if m.unit == "mm" else "N·mm", result.stiffness[m.name], m.stiffness_unit, result.case.notes)
            for name, result in analysis.results.items() for m in result.case.measures]
    return Table("stiffness", ("load case", "measured", "moves", "unit", "reference load", "load unit", "stiffness",
                               "stiffness unit", "loads and supports"), rows)


def _loads(analysis: Analysis) -> Table:
    rows: list[Sequence[Cell]] = []
    for name, result in analysis.results.items():
        rows += [(name, "load", node, *map(float, load)) for node, load in result.case.nodal.items()]
        rows += [(name, "held (1)", node, *flags) for node, flags in result.case.supports.items()]
    return Table("loads and supports", ("load case", "what", "node", "Fx N or ux", "Fy N or uy", "Fz N or uz",
                                        "Mx N·mm or rx", "My N·mm or ry", "Mz N·mm or rz"), rows)


def _displacements(analysis: Analysis) -> Table:
    rows: list[Sequence[Cell]] = [(name, node, *map(float, u)) for name, r in analysis.results.items()
                                  for node, u in zip(r.model.nodes, r.u, strict=True)]
    return Table("displacements", ("load case", "node", *(f"{d} {'mm' if d[0] == 'u' else 'rad'}" for d in DOFS)), rows)


def _reactions(analysis: Analysis) -> Table:
    rows: list[Sequence[Cell]] = [(name, node, *map(float, force)) for name, r in analysis.results.items()
                                  for node, force in r.reactions.items()]
    return Table("reactions", ("load case", "node", "Fx N", "Fy N", "Fz N", "Mx N·mm", "My N·mm", "Mz N·mm"), rows)


def _end_forces(analysis: Analysis) -> Table:
    rows: list[Sequence[Cell]] = [
        (name, e.id, e.member, end, *map(float, f[k:k + 6])) for name, r in analysis.results.items()
        for e, f in zip(r.model.elements, r.end_forces, strict=True) for end, k in (("i", 0), ("j", 6))]
    heads = (f"{c} {'N' if k < 3 else 'N·mm'}" for k, c in enumerate(_ENDS))
    return Table("end forces", ("load case", "element", "member", "end", *heads), rows)


def _stress(analysis: Analysis) -> Table:
    rows: list[Sequence[Cell]] = []
    for name, result in analysis.results.items():
        table = stress_table(result)
        rows += [(name, row.place.member, row.von_mises, row.normal, row.shear, row.place.words, row.yield_strength,
                  row.utilisation, table.caution) for row in table.rows]
    return Table("nominal stress", ("load case", "tube", "von Mises MPa", "normal MPa", "shear MPa", "where",
                                    "yield MPa", "of yield", "caution"), rows)


def _masses(reading: Reading, analysis: Analysis) -> Table:
    layout = None if reading.bicycle is None else lay_out(reading.bicycle)
    found = mass_table(analysis.model, layout)
    return Table("masses", ("member", "mass kg", "centre x mm", "centre y mm", "centre z mm"),
                 [(member, mass.kg, *mass.centre) for member, mass in found.members.items()])


def _provenance(reading: Reading, analysis: Analysis) -> Table:
    facts = provenance(reading, analysis.model)
    facts["units"] = ", ".join(f"{what} {unit}" for what, unit in facts["units"].items())
    evidence = [(f"{name}: {what}", float(getattr(result, what))) for name, result in analysis.results.items()
                for what in ("residual", "force_balance", "moment_balance", "condition")]
    return Table("provenance", ("what", "value"), [*facts.items(), *evidence])
