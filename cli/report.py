"""`droptrail report`: one self-contained page to look at, turn, print and send."""

from dataclasses import replace
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

# show is not imported: the page holds findings and assumptions, the terminal one line
from .check import verdict_words
from .options import case_options, force_option, input_argument, read, reading_options

if TYPE_CHECKING:
    from ..validation.check import Check
    from ..validation.report.facts import Beside


def _makes_room(command: Any) -> Any:
    """An earlier report of the very input is replaced without being asked; every other file as `force_option` says."""

    @wraps(command)
    def replacing(**given: Any) -> Any:
        from ..converters.showing.report.page import is_report_of

        names = [given[name].name for name in ("source", "sheet") if given[name] is not None]
        own = is_report_of(given["output"], " + ".join(names))
        return command(**(given | {"force": given["force"] or own}))

    return replacing


@click.command("report")
@input_argument
@click.option(
    "-o", "--output", required=True, type=click.Path(path_type=Path), help="HTML file to write."
)
@click.option(
    "--variants",
    type=click.Path(path_type=Path),
    help="Tube choices to compare, as CSV, XLSX or TOML.",
)
@click.option(
    "--option",
    "options",
    multiple=True,
    metavar="TUBE=SIZE,SIZE",
    help="Options of one tube to compare, such as top_tube=25.4,28.6; several make all combinations.",
)
@click.option(
    "--modes",
    "count",
    default=10,
    show_default=True,
    type=click.IntRange(0, 40),
    metavar="N",
    help="Number of vibration modes; 0 leaves them out.",
)
@click.option(
    "--no-audit", is_flag=True, help="Leave out the accuracy audit, which takes the longest."
)
@_makes_room
@force_option
@reading_options
@case_options
def command(
    source: Path,
    output: Path,
    variants: Path | None,
    options: tuple[str, ...],
    count: int,
    no_audit: bool,
    force: bool,
    names: tuple[str, ...],
    **how: Any,
) -> int:
    """Write a page with verdict, drawing, the frame in space, stiffness and where it gives."""
    from ..converters.showing.report.page import write_report
    from ..validation.answer_block import tight_words
    from ..validation.check import check
    from ..validation.report.facts import report_facts

    # the whole check and not only a solve: the page opens with the verdict
    if output.suffix.lower() not in (".html", ".htm"):
        raise click.UsageError(
            f"-o {output.name}: the report is a page; give a name that ends in .html"
        )
    done = check(read(source, **how), names, how["tolerance_mm"], how["tolerance_deg"])
    beside = _beside(done, names, variants, options, count)
    # the slow part comes last and may be left out, the page is whole without it
    if not no_audit:
        from ..validation.report.audit import audit_blocks

        beside = replace(beside, audit=audit_blocks(done))
    write_report(report_facts(done, beside), output, force)
    # in the words of the check: a tyre without its room is no clean pass here either
    verdict = verdict_words(done)
    print(f"{output} written. Verdict: {verdict}{tight_words(done, verdict == 'PASS')}")
    # warnings stand on the page; only a failed check fails the command
    return int(done.verdict == "fail")


def _beside(
    done: "Check",
    names: tuple[str, ...],
    variants: Path | None,
    options: tuple[str, ...],
    count: int,
) -> "Beside":
    """Vibration where there is a bicycle, and the comparison where variants are given."""
    from ..validation.report.beside import compared, vibrating, wobbling
    from ..validation.report.facts import Beside

    vibration, mode_plot = vibrating(done, count)
    comparison, plot = compared(done, names, variants, options)
    # who leaves out the modes wants nothing that swings
    return Beside(vibration, mode_plot, comparison, plot, wobble=wobbling(done, count > 0))
