"""Works out what a report shows beside the check: vibration and tube choices, each with its plot."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from ...converters.analysis import case_maker
from ...converters.files.choice.variants_table import wanted_variants
from ...converters.files.writing import working_folder
from ...converters.showing.picture.campbell import draw_campbell
from ...converters.showing.picture.compare import LATERAL, VERTICAL, comparison_plot, save_plot
from ...converters.showing.report.page import PagePlot
from ...model.choice.compare import Comparison, compare
from ...model.findings import Finding
from ..check import Check
from ..vibration import Vibration, vibrate
from .wobble import Wobble

CADENCE = (60.0, 110.0)  # rpm


def vibrating(done: Check, count: int) -> tuple[Vibration | None, PagePlot | None]:
    """The lowest modes on tyre springs with their Campbell diagram; nothing for a model file or a count of 0."""
    if done.reading.bicycle is None or count == 0:
        return None, None
    found = vibrate(done.reading, "tyres", count, CADENCE)
    words = f"Campbell diagram: pushes of pedalling at {CADENCE[0]:.0f} to {CADENCE[1]:.0f} rpm against the modes."
    return found, drawn_plot(
        lambda path: draw_campbell(found.words, CADENCE, path, force=True), words
    )


def wobbling(done: Check, wanted: bool) -> Wobble | None:
    """The wobble over speed; nothing for a model file, a bicycle of no rider, or where it is not wanted."""
    bicycle = done.reading.bicycle
    if not wanted or bicycle is None or not bicycle.ridden:
        return None
    return Wobble.of(bicycle)


def compared(
    done: Check, names: tuple[str, ...], table: Path | None, options: tuple[str, ...]
) -> tuple[Comparison | None, PagePlot | None]:
    """Variants beside the bicycle as it stands, with one stiffness plotted against another; nothing without variants.

    Raises InputError for a file that cannot be read, ModelError for a variant that cannot be.
    """
    if table is None and not options:
        return None, None
    bicycle = done.reading.need_bicycle()
    doubts: list[Finding] = []
    variants = wanted_variants(table, options, bicycle, findings=doubts)
    comparison = compare(bicycle, variants, case_maker(done.reading, names))
    comparison = replace(comparison, findings=(*doubts, *comparison.findings))
    keys = [figure.key for figure in comparison.figures if figure.reference is not None]
    # One stiffness alone has nothing to be drawn against.
    if len(keys) < 2:
        return comparison, None
    across, up = _axes(keys)
    plot = comparison_plot(comparison, across, up)
    words = f"{plot.y_title} against {plot.x_title}; colour: mass of the tubes."
    return comparison, drawn_plot(lambda path: save_plot(plot, path, force=True), words)


def _axes(keys: list[str]) -> tuple[str, str]:
    """Vertical stiffness across, sideways up where both are measured; else the first two figures."""
    wanted = (VERTICAL, LATERAL)
    # Load cases that were not asked for leave their figures out.
    if set(wanted) <= set(keys):
        return wanted
    return (keys[0], keys[1])


def drawn_plot(write: Callable[[Path], object], words: str) -> PagePlot:
    """A picture for a page from what writes it to a file."""
    with working_folder() as folder:
        path = folder / "plot.svg"
        # Plots are written to files; the page takes the text and the folder goes.
        write(path)
        return PagePlot(path.read_text(encoding="utf-8"), words)
