"""`droptrail mitre`: wrap-around cutting templates at 1:1 for every mitred tube end."""

from pathlib import Path
from typing import Any

import click

from ..model.words import spoken
from . import show
from .options import (
    force_option,
    input_argument,
    json_option,
    paper_option,
    read,
    reading_options,
    shell_option,
)


@click.command("mitre")
@input_argument
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(path_type=Path),
    help="Folder for the templates.",
)
@click.option(
    "--format",
    "formats",
    multiple=True,
    type=click.Choice(["svg", "dxf", "pdf"]),
    help="Only this format; pdf holds all templates.",
)
@paper_option
@shell_option
@force_option
@reading_options
@json_option
def command(
    source: Path,
    output: Path,
    formats: tuple[Any, ...],
    paper: str,
    shell: float | None,
    force: bool,
    as_json: bool,
    **how: Any,
) -> int:
    """Write the mitre templates of INPUT and list the cut lengths."""

    from ..converters.files.drafting.mitre import write_mitres
    from ..converters.showing.result_json import as_dicts, stamped
    from ..model.frame.frame_mitres import cut_lengths, frame_mitres, square_lengths

    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    # the files really written: an end without a template has a finding instead
    files, found = write_mitres(
        bicycle,
        output,
        formats or ("svg", "dxf", "pdf"),
        shell_diameter=shell,
        paper=paper,
        force=force,
    )
    # the same shell as on the templates, else list and paper would differ
    lengths = cut_lengths(frame_mitres(bicycle, shell))
    every = (*reading.findings, *found)
    if as_json:
        body = {
            "source": reading.source,
            "files": [str(path) for path in files],
            "cut_lengths": as_dicts(lengths),
            # the tubes that are not mitred, such as head tube and steerer
            "square_lengths": square_lengths(bicycle),
        }
        show.print_json(stamped(reading, body, every, reading.assumed))
        return int(show.serious(every))
    show.table(
        "Cut lengths, mm",
        ("tube", "centre to centre", "longest point to point", "shortest"),
        [
            (spoken(length.member), length.centre_to_centre, length.longest, length.shortest)
            for length in lengths
        ],
    )
    show.table(
        "Sawn square, mm",
        ("tube", "length"),
        [(spoken(name), f"{length:.1f}") for name, length in square_lengths(bicycle).items()],
    )
    show.paragraph(
        "Stays and blades run to the axles' centres: take off what the dropouts replace."
    )
    print()
    # printers shrink to the margins unless told not to; the ruler is what shows it
    print(f"{len(files)} files in {output}. Print at 100 %, check the 100 mm ruler before you cut.")
    show.findings(every)
    return int(show.serious(every))
