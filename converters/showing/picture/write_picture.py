"""Pictures for papers and mails: PNG, SVG or PDF by matplotlib, each view a sheet of A4 across.

files, findings = write_pictures(reading, "frame.pdf", ("side", "iso", "deflected"))
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Literal, get_args

from ....model.errors import InputError
from ....model.findings import Finding
from ....model.frame.mesh import MeshOptions
from ....model.vibration.setup import Supports
from ...analysis import USUAL_MESH, Analysis, analyse, model_and_cases, vibrating
from ...files.writing import refuse_existing
from ...inputs import Reading
from .style import check_ending, house_style, save_figure, save_pages

if TYPE_CHECKING:
    from matplotlib.figure import Figure

View = Literal["side", "iso", "rig", "deflected", "stress", "energy", "mode", "overlay"]
VIEWS: tuple[View, ...] = get_args(View)
SHOWN = 6  # modes on one sheet


@dataclass(frozen=True)
class PictureOptions:
    """cases : load cases for deflected, stress and energy, a sheet each; none: the first usual one.

    magnification : of the movement, None chooses a round one. mode : only this mode (from 1), None the lowest six.
    supports : what holds the bicycle when it vibrates. mesh : how finely, and with what, the frame is meshed.
    """

    cases: tuple[str, ...] = ()
    magnification: float | None = None
    mode: int | None = None
    supports: Supports = "tyres"
    mesh: MeshOptions = USUAL_MESH


@dataclass(frozen=True, eq=False)
class Sheet:
    """One drawn sheet; `name` goes into the file name where several are written."""

    name: str
    figure: "Figure"


def write_pictures(
    reading: Reading,
    path: str | Path,
    views: Sequence[View] = (),
    options: PictureOptions | None = None,
    force: bool = False,
) -> tuple[tuple[Path, ...], tuple[Finding, ...]]:
    """Draw the views of a reading; returns the files written and what there is to say about the pictures.

    Several sheets become the pages of a .pdf, or files ``name-VIEW.png`` beside one another. The default view is
    the side view, the isometric one for an analysis model.

    Raises
    ------
    InputError
        When the input does not hold what a view shows, for another ending, or an existing file without `force`.
    ModelError
        When the frame cannot be laid out or solved.
    """
    path = Path(path)
    check_ending(path)
    findings: list[Finding] = []
    with house_style(findings):
        drawer = _Drawer(reading, options or PictureOptions(), findings)
        sheets = [
            # a view asked for twice is drawn once
            sheet
            for view in dict.fromkeys(views or drawer.usual)
            for sheet in drawer.sheets(view)
        ]
        files = _save(sheets, path, force)
    return files, tuple(dict.fromkeys(findings))


@dataclass
class _Drawer:
    """Draws views, solving only once for all of them."""

    reading: Reading
    options: PictureOptions
    findings: list[Finding]

    @property
    def usual(self) -> tuple[View, ...]:
        if self.reading.model is None:
            return ("side",)
        return ("iso",)

    def sheets(self, view: View) -> Iterator[Sheet]:
        draw = {
            "side": self._side,
            "iso": self._iso,
            "rig": self._rig,
            "deflected": self._deflected,
            "stress": self._stress,
            "energy": self._energy,
            "mode": self._modes,
            "overlay": self._overlay,
        }
        # only the view asked for is drawn: each costs a solve or a library
        return draw[view]()

    @property
    def title(self) -> str:
        named = self.reading.bicycle or self.reading.model
        return (named.name if named is not None else "") or self.reading.source

    @property
    def units(self) -> bool:
        """Whether numbers are in mm and N; a model file may be in any consistent set."""
        return not self.reading.own_units

    @cached_property
    def analysis(self) -> Analysis:
        from ...files.outside import size_findings

        names = self.options.cases
        usual: tuple[str, ...]
        # the library's names mean nothing to a model file or to cases of the builder's own
        if self.reading.model is None and self.reading.own_cases is None:
            usual = ("seated",)
        else:
            usual = ()
        solved = analyse(self.reading, names or usual, self.options.mesh)
        self.findings += (*solved.case_findings, *size_findings(solved.model))
        if names:
            # names were asked for, so all of them are shown; else the first is enough
            return solved
        return replace(solved, results=dict(list(solved.results.items())[:1]))

    def _side(self) -> Iterator[Sheet]:
        from .side import side_picture

        figure, found = side_picture(self.reading, self.title)
        self.findings += found
        yield Sheet("side", figure)

    def _iso(self) -> Iterator[Sheet]:
        from ...files.outside import size_findings
        from .views import iso_picture

        model = self.reading.model or model_and_cases(self.reading, options=self.options.mesh)[0]
        self.findings += size_findings(model)
        yield Sheet("iso", iso_picture(model, self.reading.bicycle, self.title))

    def _rig(self) -> Iterator[Sheet]:
        from .rig import rig_picture

        for name, result in self.analysis.results.items():
            figure = rig_picture(result.model, result.case, self.title, self.units)
            yield Sheet(f"rig-{name}", figure)

    def _deflected(self) -> Iterator[Sheet]:
        from .views import deflected_picture

        for name, result in self.analysis.results.items():
            figure = deflected_picture(result, self.title, self.options.magnification, self.units)
            yield Sheet(f"deflected-{name}", figure)

    def _stress(self) -> Iterator[Sheet]:
        from .views import stress_picture

        for name, table in self.analysis.stresses().items():
            figure = stress_picture(self.analysis.results[name], table, self.title, self.units)
            yield Sheet(f"stress-{name}", figure)

    def _energy(self) -> Iterator[Sheet]:
        from .energy import energy_picture

        for name, result in self.analysis.results.items():
            yield Sheet(f"energy-{name}", energy_picture(result, self.title))

    def _modes(self) -> Iterator[Sheet]:
        from ....model.vibration.mode_words import describe
        from ....model.vibration.modes import modes
        from .views import modes_picture

        wanted = self.options.mode
        model, case = vibrating(
            self.reading, self.options.supports, self.options.cases[:1], self.options.mesh
        )
        # more than are shown, since rigid motions come first and are left out
        found = modes(model, case.supports, case.springs, max(wanted or 0, SHOWN + 6))
        words = describe(found)
        if wanted is not None and wanted > len(words):
            raise InputError(f"mode {wanted}: this model has {len(words)} modes")
        # rigid motions have no shape to look at
        if wanted is None:
            picked = words[found.rigid :][:SHOWN]
        else:
            picked = words[wanted - 1 : wanted]
        if not picked:
            raise InputError(
                f"{self.reading.source}: all modes are rigid motions; there is no shape to draw"
            )
        yield Sheet("mode", modes_picture(found, picked, self.title, case.notes))

    def _overlay(self) -> Iterator[Sheet]:
        from .overlay import overlay_figure

        if self.reading.view is None:
            raise InputError(
                f"{self.reading.source}: the overlay shows a drawing as it was read; give a DXF drawing"
            )
        yield Sheet("overlay", overlay_figure(self.reading.view))


def _save(sheets: Sequence[Sheet], path: Path, force: bool) -> tuple[Path, ...]:
    if path.suffix.lower() == ".pdf":
        # one file for all sheets: a .pdf has pages
        save_pages((sheet.figure for sheet in sheets), path, force)
        return (path,)
    files = tuple(
        path if len(sheets) == 1 else path.with_stem(f"{path.stem}-{sheet.name}")
        for sheet in sheets
    )
    # all names before the first is written: either all files or none
    refuse_existing(files, force)
    for file, sheet in zip(files, sheets, strict=True):
        save_figure(sheet.figure, file, force)
    return files
