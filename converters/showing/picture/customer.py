"""The customer's sheet: one page with the drawing, how one sits, sizes, weights, what was chosen and why."""

from collections.abc import Sequence
from pathlib import Path

from ....model.findings import Finding
from ...files.drafting.template import PAPERS
from ...inputs import Reading
from ..table import Table
from ..words import CAUTION
from .pages import Pages
from .style import house_style, save_pages


def write_customer_sheet(
    reading: Reading,
    tables: Sequence[Table],
    why: Sequence[str],
    path: Path,
    paper: str = "A4",
    force: bool = False,
) -> tuple[Finding, ...]:
    """Write the sheet as PDF; `why` is the builder's own text. Raises InputError as `save_pages` does."""
    findings: list[Finding] = []
    bicycle = reading.need_bicycle()
    with house_style(findings):
        pages = Pages(bicycle.name or reading.source, CAUTION, PAPERS[paper])
        findings += pages.first(bicycle)
        # the builder's own words before the numbers, as they say what these are for
        if why:
            pages.words("Chosen for you", why)
        # two by two, as they are short; what is left over takes the whole width
        for left, right in zip(tables[::2], tables[1::2], strict=False):
            pages.pair(left, right)
        for table in tables[2 * (len(tables) // 2) :]:
            pages.put(table)
        save_pages(pages.figures(), path, force)
    return tuple(findings)
