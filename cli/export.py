"""`droptrail export`: model and results in open formats that other programs open."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..model.errors import InputError
from . import show
from .options import (
    case_options,
    force_option,
    input_argument,
    mesh_options,
    paths_in,
    read,
    reading_options,
    supports_option,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..converters.analysis import Analysis
    from ..converters.files.vtu import Contents
    from ..converters.inputs import Reading
    from ..converters.showing.table import Table
    from ..model.findings import Finding
    from ..model.frame.mesh import MeshOptions

# which option goes with which ending is decided by these three groups
SHAPES = (".vtu", ".stl", ".ply")
TABLES = (".xlsx", ".csv", ".md")
MODEL = (".json",)


@click.command("export")
@input_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help=".vtu (3-D viewers), .xlsx, .csv, .md (tables), .json (analysis model), .stl, .ply (tubes as shapes).",
)
@click.option(
    "--table",
    metavar="NAME",
    help="XLSX, CSV, MD: only this table. CSV without it: a file for every table.",
)
@click.option("--surface", is_flag=True, help="VTU: tubes as surfaces instead of centre-lines.")
@click.option(
    "--deflected",
    type=click.FloatRange(1e-6, 1e9),
    metavar="TIMES",
    help="Surfaces: drawn moved so many times as far as one --case moves them.",
)
@click.option(
    "--modes",
    "count",
    default=0,
    metavar="N",
    type=click.IntRange(0, 60),
    help="Also the N lowest natural modes (VTU: in place of the load cases, they have a model of their own).",
)
@supports_option
@force_option
@reading_options
@case_options
@mesh_options
def command(
    source: Path,
    output: Path,
    table: str | None,
    surface: bool,
    deflected: float | None,
    count: int,
    supports: Any,
    force: bool,
    names: tuple[str, ...],
    mesh: "MeshOptions",
    **how: Any,
) -> int:
    """Write the model of INPUT with its results in an open format."""
    # the ending is the format: a separate option could only contradict it
    ending = output.suffix.lower()
    # before the input is read, so that a wrong name does not cost a solve
    _check(output, ending, table, surface, deflected, count)
    reading = read(source, **how)
    export = _Export(reading, names, mesh, count, supports)
    if ending in SHAPES:
        # STL and PLY know nothing but surfaces
        found = export.shapes(output, surface or ending != ".vtu", deflected, force)
        files: tuple[Path, ...] = (output,)
    elif ending in MODEL:
        files = (output,)
        found = export.model(output, force)
    else:
        files, found = export.tables(
            output, table, how["tolerance_mm"], how["tolerance_deg"], force, paths_in(source, how)
        )
    print("".join(f"{path} written.\n" for path in files), end="")
    # findings of the reading come first, as they do in every command
    every = (*reading.findings, *found)
    show.findings(every)
    return int(show.serious(every))


def _check(
    output: Path, ending: str, table: str | None, surface: bool, deflected: float | None, count: int
) -> None:
    """Refuse a name no format belongs to, and options that the format would leave unused."""
    # tested here and not by the writer: the message should list all endings at once
    if ending not in (*SHAPES, *TABLES, *MODEL):
        raise InputError(
            f"{output.name}: give a name that ends in {', '.join((*SHAPES, *TABLES, *MODEL))}"
        )
    for option, given, endings in (
        ("--table", table is not None, TABLES),
        ("--surface", surface, (".vtu",)),
        ("--deflected", deflected is not None, SHAPES),
        ("--modes", count > 0, (".vtu", *TABLES)),
    ):
        if given and ending not in endings:
            raise click.UsageError(f"{option} goes with {', '.join(endings)}, not with {ending}")
    # a viewer warps centre-lines by the displacement array; solid shapes it cannot
    if deflected is not None and ending == ".vtu" and not surface:
        raise click.UsageError(
            "--deflected moves surfaces; add --surface (a viewer can move centre-lines itself)"
        )
    # the modes stand on a model of their own, with masses and tyres, and have no load case
    if deflected is not None and count:
        raise click.UsageError("--deflected shows a load case; it does not go with --modes")


class _Export:
    """One reading and how it is meshed; each method writes one kind of file and returns what was lost."""

    def __init__(
        self,
        reading: "Reading",
        names: tuple[str, ...],
        mesh: "MeshOptions",
        count: int,
        supports: Any,
    ) -> None:
        self.reading = reading
        self.names = names
        self.mesh = mesh
        self.count = count
        self.supports = supports

    def model(self, output: Path, force: bool) -> "tuple[Finding, ...]":
        from ..converters.analysis import model_and_cases
        from ..converters.files.model_file.write_model import save_model

        save_model(output, *model_and_cases(self.reading, self.names, self.mesh), force)
        # the format holds the whole model, so nothing is lost
        return ()

    def tables(
        self,
        output: Path,
        name: str | None,
        mm: float,
        deg: float,
        force: bool,
        inputs: "Sequence[Path]",
    ) -> "tuple[tuple[Path, ...], tuple[Finding, ...]]":
        from ..converters.showing.frame_tables import frame_tables, mode_tables
        from ..converters.showing.spreadsheet import write_tables

        analysis = self._solved()
        tables = [*_compared(self.reading, mm, deg), *frame_tables(self.reading, analysis)]
        if self.count:
            modes, notes = self._modes()
            # before the last table, which tells how everything was worked out
            tables[-1:-1] = mode_tables(modes, notes, not self.reading.own_units)
        return write_tables(tables, output, name, force, inputs), analysis.case_findings

    def shapes(
        self, output: Path, surface: bool, deflected: float | None, force: bool
    ) -> "tuple[Finding, ...]":
        from ..converters.files.surfaces import write_surfaces
        from ..converters.files.vtu import write_vtu

        contents, found = self._contents()
        if not surface:
            return (*found, *write_vtu(contents, output, force=force))
        if deflected is None:
            drawn = None
        else:
            drawn = (self._one_case(contents), deflected)
        return (*found, *write_surfaces(contents, output, deflected=drawn, force=force))

    def _contents(self) -> "tuple[Contents, tuple[Finding, ...]]":
        from ..converters.files.vtu import Contents
        from ..converters.showing.result_json import assumed_json, provenance

        # a model file may be in any consistent units, so array names then carry none
        units = not self.reading.own_units
        # modes take the place of load cases: their model has other nodes and supports
        if self.count:
            modes, notes = self._modes()
            about = {"provenance": provenance(self.reading, modes.model), "held and laden": notes}
            return Contents(
                modes.model, modes=modes, walls=self._walls(modes.model), about=about, units=units
            ), ()
        solved = self._solved()
        about = {
            "provenance": provenance(self.reading, solved.model),
            **assumed_json(solved.assumed),
        }
        stresses = solved.stresses()
        contents = Contents(
            solved.model,
            solved.results,
            stresses,
            walls=self._walls(solved.model),
            about=about,
            units=units,
        )
        return contents, solved.case_findings

    def _walls(self, model: Any) -> Any:
        from ..model.frame.layout import lay_out
        from ..model.postprocess.walls import Walls

        bicycle = self.reading.bicycle
        if bicycle is None:
            # a model file's outlines are whatever its sections tell
            return Walls.of(model)
        return Walls.of(model, bicycle, lay_out(bicycle))

    def _solved(self) -> "Analysis":
        from ..converters.analysis import analyse

        return analyse(self.reading, self.names, self.mesh)

    def _modes(self) -> Any:
        from ..converters.analysis import vibrating
        from ..model.vibration.modes import modes

        # a bicycle ignores the name; a model file takes its supports from that case
        model, case = vibrating(self.reading, self.supports, self.names[:1], self.mesh)
        return modes(model, case.supports, case.springs, self.count), case.notes

    def _one_case(self, contents: "Contents") -> str:
        # several cases would each move the tubes elsewhere
        if len(contents.results) != 1:
            known = ", ".join(contents.results)
            raise click.UsageError(f"--deflected shows one load case; name it with --case: {known}")
        return next(iter(contents.results))


def _compared(reading: "Reading", mm: float, deg: float) -> "list[Table]":
    """The drawing against its sheet, where both are there."""
    from ..validation.drawing_check import against_sheet
    from ..validation.tables import dimension_table

    # empty unless drawing and sheet were both read
    rows = against_sheet(reading, mm, deg)
    if rows:
        return [dimension_table(rows)]
    return []
