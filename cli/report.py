"""`droptrail report`: one self-contained page to look at, turn, print and send."""

from pathlib import Path
from typing import Any

import click

from .options import force_option, input_argument, read, reading_options


@click.command("report")
@input_argument
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help="HTML file to write.")
@force_option
@reading_options
@click.option("--case", "names", multiple=True, metavar="NAME", help="Load case; may be given several times.")
def command(source: Path, output: Path, force: bool, names: tuple[str, ...], **how: Any) -> int:
    """Write a page with verdict, drawing, the frame in space, stiffness and where it gives."""
    from converters.report import write_report
    from validation.check import check
    from validation.report_facts import report_facts

    done = check(read(source, **how), names, how["tolerance_mm"], how["tolerance_deg"])
    write_report(report_facts(done), output, force)
    print(f"{output} written. Verdict: {done.verdict.upper()}")
    return int(done.verdict == "fail")
