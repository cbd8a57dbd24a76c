"""The jig sheet on paper: the side view above, the tables below, as pages of one PDF."""

from collections.abc import Sequence
from pathlib import Path

from ....model.findings import Finding
from ...files.drafting.template import PAPERS
from ...inputs import Reading
from ..table import Table
from ..words import CAUTION
from .pages import Pages
from .style import house_style, save_pages


def write_jig_sheet(
    reading: Reading, tables: Sequence[Table], path: Path, paper: str = "A4", force: bool = False
) -> tuple[Finding, ...]:
    """Write the sheet as PDF; returns what the drawing leaves out. Raises InputError as `save_pages` does."""
    findings: list[Finding] = []
    bicycle = reading.need_bicycle()
    title = f"Jig sheet: {bicycle.name or reading.source}"
    small_print = f"{CAUTION} Print at any size: the numbers hold, not the drawing."
    with house_style(findings):
        pages = Pages(title, small_print, PAPERS[paper])
        findings += pages.first(bicycle)
        for table in tables:
            pages.put(table)
        save_pages(pages.figures(), path, force)
    return tuple(findings)
