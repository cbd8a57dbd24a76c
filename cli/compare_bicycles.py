"""`droptrail compare A B C`: bicycles side by side, the last against the first in percent."""

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..converters.files.fitsheet.endings import SHEET_ENDINGS
from ..converters.files.writing import refuse_existing
from ..converters.inputs import Reading
from ..model.findings import Finding
from . import show
from .options import read

if TYPE_CHECKING:
    from ..model.frame.mesh import MeshOptions

MOST = 6  # side by side; more no table holds


def compare_bicycles(
    sources: tuple[Path, ...],
    as_json: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    outputs: tuple[Path, ...],
    count: int,
    on: str,
    force: bool,
    **how: Any,
) -> int:
    """Read every input, show the lines, write tables and overlay."""
    from ..converters.analysis import case_maker
    from ..converters.showing.choice.side_table import side_json, side_tables
    from ..converters.showing.choice.wobble_table import band_table, bands_json
    from ..converters.showing.picture.beside import write_beside
    from ..converters.showing.picture.style import ENDINGS
    from ..converters.showing.spreadsheet import write_tables
    from ..model.choice.side_by_side import SideBicycle, side_by_side
    from ..model.choice.wobble import hands_bands

    if len(sources) > MOST:
        raise click.UsageError(f"{len(sources)} inputs: at most {MOST} are put side by side")
    # one sheet for several drawings would give all of them the same tubes
    if how["sheet"] is not None:
        raise click.UsageError(
            "--sheet belongs to one drawing; beside others a drawing goes with the sheet of its own name"
        )
    # the sheets beside the drawings are inputs too, though nobody named them
    beside_them = [sheet for source in sources if (sheet := _sheet_beside(source)) is not None]
    # before any reading: no output may overwrite a sheet that is about to be read
    refuse_existing(outputs, force, beside_them)
    read_ones = [_read(source, how) for source in sources]
    # names of columns, told apart before anything refers to them
    labels = _labels(sources)
    beside = [
        SideBicycle(name, one.dimensions, one.bicycle, case_maker(one, names, mesh))
        for name, one in zip(labels, read_ones, strict=True)
    ]
    lines = side_by_side(beside, mesh, count)
    tables = side_tables(labels, lines)
    ridden = [(one.name, one.bicycle) for one in beside if one.bicycle is not None]
    bands = hands_bands(ridden)
    # one bicycle alone is not less than another
    if len(bands) > 1:
        tables.append(band_table(bands))
    findings = [
        # a finding that names no place would not say which of the bicycles it is about
        replace(found, where=found.where or one.source)
        for one in read_ones
        for found in one.findings
    ]
    for path in outputs:
        if path.suffix.lower() in ENDINGS:
            findings += write_beside(
                [(b.name, b.dimensions, b.bicycle) for b in beside], on, path, force
            )
        else:
            write_tables(tables, path, force=force, inputs=(*sources, *beside_them))
    if as_json:
        inputs = [{"source": r.source, "input_sha256": r.sha256} for r in read_ones]
        found = [finding.as_dict() for finding in findings]
        fields = {"inputs": inputs, "lines": side_json(lines), "hands_bands": bands_json(bands)}
        show.print_json({**fields, "findings": found})
        return int(show.serious(findings))
    for table in tables:
        show.shown(table)
        if table.notes:
            show.paragraph(table.notes)
            print()
    print("".join(f"{path} written.\n" for path in outputs), end="")
    show.findings(findings)
    for one in read_ones:
        print(f"{one.source}:")
        show.assumed(one.assumed)
    show.caution()
    return int(show.serious(findings))


def _sheet_beside(source: Path) -> Path | None:
    """The fit sheet of a drawing's name beside it, where there is one."""
    # a table is its own sheet, and a model file has none
    if source.suffix.lower() in (*SHEET_ENDINGS, ".json"):
        return None
    # the first ending wins where a sheet lies there in several formats
    return next((s for s in map(source.with_suffix, SHEET_ENDINGS) if s.is_file()), None)


def _read(source: Path, how: dict[str, Any]) -> Reading:
    """An input; a drawing with the fit sheet beside it, and that is said."""
    if source.suffix.lower() in (*SHEET_ENDINGS, ".json"):
        # those options speak of drawings; a sheet among the inputs would refuse them as idle
        own = dict.fromkeys(("units", "scale", "layers")) | {"pick": ()}
        return read(source, **(how | own))
    sheet = _sheet_beside(source)
    reading = read(source, **(how | {"sheet": sheet}))
    if sheet is None:
        message = (
            "has no fit sheet of its name beside it: its geometry only, no tubes, no stiffness"
        )
    else:
        message = f"was read with the fit sheet beside it, {sheet.name}"
    # nobody named that sheet, so it is said which one was taken, or that none was found
    told = Finding("compare-sheet-beside", "info", f"{source.name} {message}", source.name)
    return replace(reading, findings=(*reading.findings, told))


def _labels(sources: tuple[Path, ...]) -> list[str]:
    """The files' names, with the folder where two are alike."""
    names = [source.name for source in sources]
    return [str(source) if names.count(source.name) > 1 else source.name for source in sources]
