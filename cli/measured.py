"""`droptrail measured`: readings of a workshop beside what was worked out, and what would explain the difference."""

from math import isfinite
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from ..model.words import spoken
from . import show
from .options import force_option, json_option, own_cases_option, read, reading_options

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..converters.inputs import Reading
    from ..model.findings import Finding
    from ..model.measured.explain import AllCompared, Compared
    from ..model.measured.workshop import Correction

SHOWN = 3  # explanations in words, best first; --json holds them all
NOT_FITTED = (
    "Nothing was fitted: the prediction stands as the sheet has it. What explains a difference is a guess by "
    "arithmetic; check it on the frame before believing it."
)


@click.command("measured")
@click.argument(
    "sources",
    metavar="SHEET READINGS...",
    nargs=-1,
    required=True,
    type=click.Path(path_type=Path),
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    metavar="FILE.csv",
    help="Keep this workshop's own correction: measured over predicted of each rig, over all frames given.",
)
@click.option(
    "--workshop",
    type=click.Path(path_type=Path),
    metavar="FILE.csv",
    help="Show a correction that was kept beside every prediction.",
)
@force_option
@own_cases_option(
    "Rigs of your own, described as load cases (METHODS.md, section 10); readings name them."
)
@reading_options
@json_option
def command(
    sources: tuple[Path, ...],
    output: Path | None,
    workshop: Path | None,
    force: bool,
    as_json: bool,
    **how: Any,
) -> int:
    """Hold READINGS (CSV or XLSX: rig, where, load, reading, doubt) against the bicycle of SHEET. Several pairs of
    SHEET and READINGS are several frames."""
    from ..converters.files.readings import read_corrections, write_corrections
    from ..model.measured.workshop import by_key, corrections

    # pairs are told apart by their place only
    if len(sources) % 2:
        raise click.UsageError(
            f"{len(sources)} files: give a sheet and its readings, or several such pairs"
        )
    known = {}
    # read before the solving: a broken file is refused at once
    if workshop is not None:
        known = dict(by_key(read_corrections(workshop)))
    pairs = [
        _compared(sheet, readings, how)
        for sheet, readings in zip(sources[::2], sources[1::2], strict=True)
    ]
    kept = corrections([beside.rows for _, beside, _ in pairs])
    # written although readings disagree: the correction is made from just those differences
    if output is not None:
        write_corrections(kept, output, force)
    if as_json:
        show.print_json(_json(pairs, known, kept))
    else:
        for reading, beside, found in pairs:
            _print(reading, beside, known)
            show.findings(found)
            show.assumed(reading.assumed)
        _print_kept(kept, output, len(pairs))
        show.caution()
    # a difference is a finding, as in `check`: exit code 1
    differ = any(not row.agrees for _, beside, _ in pairs for row in beside.rows)
    return int(differ or any(show.serious(found) for _, _, found in pairs))


def _compared(
    sheet: Path, readings: Path, how: dict[str, Any]
) -> "tuple[Reading, AllCompared, tuple[Finding, ...]]":
    from ..converters.analysis import case_maker
    from ..converters.files.readings import read_readings
    from ..model.measured.explain import compared
    from ..model.measured.predict import World

    reading = read(sheet, **how)
    bicycle = reading.need_bicycle()
    measured, found = read_readings(readings)
    # a case is set up only when a reading names it
    world = World(bicycle, lambda name: case_maker(reading, (name,)), {})
    return reading, compared(world, measured), (*reading.findings, *found)


def _print(reading: "Reading", beside: "AllCompared", known: "Mapping[str, Correction]") -> None:
    # the column appears only where a kept correction fits one of the rows
    corrected = any(row.reading.key in known for row in beside.rows)
    heads = [
        "rig",
        "where",
        "measured",
        "±",
        "predicted",
        "±",
        "unit",
        "ratio",
        "doubts apart",
    ]
    if corrected:
        heads.append("predicted x workshop's own")
    show.table(
        f"{reading.source}: measured against predicted",
        heads,
        [_row(row, known, corrected) for row in beside.rows],
    )
    apart = [row for row in beside.rows if not row.agrees]
    if apart:
        said = f"{len(apart)} of {len(beside.rows)} readings are more than twice both doubts from their prediction."
    else:
        said = "Every reading agrees with its prediction within twice both doubts together."
    if beside.differs:
        said += (
            " Beyond the readings' own doubts something differs; "
            "one assumption at a time, what would explain it best:"
        )
    show.paragraph(said)
    if beside.differs:
        # an assumption that explains nothing is left out, however it ranks
        for one in beside.explanations[:SHOWN]:
            if one.share > 0:
                show.paragraph(f"- {one.words}.")
        # saying so matters as much as naming one: two causes at once are common
        if beside.best is None:
            show.paragraph(
                "No single assumption explains it; look at the readings one by one, and for two causes at once."
            )
    for row in beside.rows:
        if row.reading.key in known:
            own = known[row.reading.key]
            show.paragraph(f"Workshop's own, {own.key}: {own.words}.")
    show.paragraph(NOT_FITTED)


def _doubt(value: float) -> str:
    """Two digits, never with a power of ten."""
    return f"{float(f'{value:.2g}'):g}"


def _row(row: "Compared", known: "Mapping[str, Correction]", corrected: bool) -> tuple[object, ...]:
    one = row.reading
    cells = [
        spoken(one.rig) or "weight",
        spoken(one.place),
        f"{one.value:.4g}",
        _doubt(one.doubt),
        f"{row.predicted:.4g}",
        _doubt(row.doubt),
        row.unit,
        f"{row.ratio:.3f}",
        f"{row.apart:.1f}" + ("" if row.agrees else " !"),
    ]
    if corrected:
        own = known.get(one.key)
        # a rig without a correction of its own shows a dash, not a factor of one
        cells.append("-" if own is None else f"{own.ratio * row.predicted:.4g}")
    return tuple(cells)


def _print_kept(kept: "tuple[Correction, ...]", output: Path | None, frames: int) -> None:
    if output is not None:
        print(f"{output} written.")
    # a correction from one frame is only that frame's ratio, which stands in the table already
    if frames > 1:
        for one in kept:
            show.paragraph(f"{one.key}: {one.words}.")


def _json(
    pairs: "list[tuple[Reading, AllCompared, tuple[Finding, ...]]]",
    known: "Mapping[str, Correction]",
    kept: "tuple[Correction, ...]",
) -> dict[str, Any]:
    frames = [_frame_json(reading, beside, found, known) for reading, beside, found in pairs]
    corrections = [_correction_json(one) for one in kept]
    return {"frames": frames, "corrections": corrections, "note": NOT_FITTED}


def _frame_json(
    reading: "Reading",
    beside: "AllCompared",
    found: "tuple[Finding, ...]",
    known: "Mapping[str, Correction]",
) -> dict[str, Any]:
    from ..converters.showing.result_json import assumed_json

    readings = [_row_json(row, known) for row in beside.rows]
    explanations = [
        {
            "assumption": one.lever.key,
            "value": one.value,
            "share": one.share,
            "usual": one.is_usual,
            "words": one.words,
        }
        for one in beside.explanations
    ]
    findings = [finding.as_dict() for finding in found]
    return {
        "source": reading.source,
        "input_sha256": reading.sha256,
        "readings": readings,
        "chi2": beside.chi2,
        "explanations": explanations,
        "findings": findings,
        **assumed_json(reading.assumed),
    }


def _row_json(row: "Compared", known: "Mapping[str, Correction]") -> dict[str, Any]:
    one = row.reading
    # null where the workshop has no correction of that rig
    own = known.get(one.key)
    return {
        "key": one.key,
        "kind": one.kind,
        "unit": row.unit,
        "measured": one.value,
        "measured_doubt": one.doubt,
        "predicted": row.predicted,
        "predicted_doubt": row.doubt,
        "apart": row.apart,
        "agrees": row.agrees,
        "workshop": None if own is None else _correction_json(own),
    }


def _correction_json(one: "Correction") -> dict[str, Any]:
    return {
        "key": one.key,
        "frames": one.frames,
        "ratio": one.ratio,
        # nan of a single frame is no JSON
        "spread": one.spread if isfinite(one.spread) else None,
    }
