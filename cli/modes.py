"""`droptrail modes`: natural frequencies, what moves in each, and cadence against them."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
from click.core import ParameterSource

from ..converters.showing.result_json import stamped
from ..model.decide import settled
from ..model.words import spoken
from . import show
from .options import (
    force_option,
    input_argument,
    json_option,
    read,
    reading_options,
    supports_option,
)

if TYPE_CHECKING:
    from ..model.vibration.transmissibility import Transmissibility
    from ..validation.vibration import Tapped, Vibration

FASTEST = 400.0  # rpm, far above the cadence of a sprint


@click.command("modes")
@input_argument
@supports_option
@click.option(
    "--count", default=12, show_default=True, type=click.IntRange(1, 200), help="Number of modes."
)
@click.option(
    "--cadence", default="60-110", show_default=True, metavar="RPM-RPM", help="Cadence range, rpm."
)
@click.option("--case", "case", metavar="NAME", help="For a model file: whose supports to use.")
@click.option(
    "--bare",
    metavar="PIECES",
    help="Hang the bare frame, fork or frame+fork on strings and tap it; bolted-on parts are named as well: "
    "frame+fork+seat_post.",
)
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Draw the Campbell diagram (pushes of pedalling against modes) as .png, .svg or .pdf.",
)
@force_option
@reading_options
@json_option
def command(
    source: Path,
    supports: Any,
    count: int,
    cadence: str,
    case: str | None,
    bare: str | None,
    output: Path | None,
    force: bool,
    as_json: bool,
    **how: Any,
) -> int:
    """Natural modes of INPUT, each in words, set against cadence; cross-checked with OpenSees."""
    if bare is not None:
        return _tap(source, bare, count, as_json, how)
    from ..validation.vibration import vibrate

    # the default counts as not given, so only what was typed is refused
    given = click.get_current_context().get_parameter_source("supports")
    # a model file brings its supports; the option would do nothing and be believed
    if source.suffix.lower() == ".json" and given is ParameterSource.COMMANDLINE:
        raise click.UsageError(
            f"--supports {supports} does nothing with {source.name}: a model file holds its own supports; "
            "choose one of its load cases with --case"
        )
    done = vibrate(read(source, **how), supports, count, cadence_range(cadence), case)
    # drawn before printing, so that a file that cannot be written is told first
    if output is not None:
        from ..converters.showing.picture.campbell import draw_campbell

        draw_campbell(done.words, cadence_range(cadence), output, force)
    if as_json:
        show.print_json(modes_json(done))
    else:
        _print(done)
    return show.exit_code(done.findings, False, done.not_crossed is None)


def _tap(source: Path, bare: str, count: int, as_json: bool, how: dict[str, Any]) -> int:
    """Modes of the pieces alone; nothing holds them, nobody pedals."""
    from ..model.errors import ModelError
    from ..model.vibration.bare import pieces_of
    from ..validation.vibration import tap

    context = click.get_current_context()
    # only what was typed is refused: every option has a default
    for option in ("supports", "cadence", "case", "output"):
        if context.get_parameter_source(option) is ParameterSource.COMMANDLINE:
            raise click.UsageError(
                f"--{option} has no meaning with --bare: what hangs on strings is held by nothing and not pedalled; "
                "leave one of the two out"
            )
    try:
        pieces = pieces_of(bare)
    # wrong words on the command line are wrong usage, not a bad file
    except ModelError as error:
        raise click.UsageError(f"--bare: {error}") from error
    done = tap(read(source, **how), pieces, count)
    if as_json:
        show.print_json(tap_json(done))
    else:
        _print_tap(done)
    return show.exit_code(done.findings, False, done.not_crossed is None)


def cadence_range(text: str) -> tuple[float, float]:
    """`60-110` as two numbers; a single number stands for itself twice."""
    low, _, high = text.partition("-")
    wanted = f"--cadence {text}: give two numbers in rpm, such as 60-110"
    try:
        # a single number makes a range of one cadence
        numbers = (float(low), float(high or low))
    except ValueError as error:
        raise click.UsageError(wanted) from error
    # nobody pedals outside: above all no number, and endless ones
    if not all(0 < number <= FASTEST for number in numbers):
        raise click.UsageError(f"{wanted}, above 0 and up to {FASTEST:g}")
    return numbers


def modes_json(done: "Vibration") -> dict[str, Any]:
    """The modes as one object with stable keys."""
    shapes = done.modes.shapes
    modes = [
        {
            "number": w.number,
            "hz": w.hz,
            "title": w.title,
            "plane": w.plane,
            "members": w.members,
            "kinds": w.kinds,
            "moving": w.moving,
            "effective_mass": done.modes.effective_mass[k],
            "residual": done.modes.residuals[k],
            # per node the six components, in the model's own order of nodes
            "shape": dict(zip(done.model.nodes, shapes[k].tolist(), strict=True)),
        }
        for k, w in enumerate(done.words)
    ]
    body = {
        "frequencies_hz": done.modes.frequencies_hz,
        "rigid": done.modes.rigid,
        "modes": modes,
        "supports": done.case.title or done.case.name,
        "notes": done.case.notes,
        "cadence": [vars(gap) for gap in done.gaps],
        "forced_response": _response_json(done),
        "transmissibility": _shaken_json(done),
        "cross_check": done.difference,
        "not_crossed": done.not_crossed,
    }
    return stamped(done.reading, body, done.findings, done.reading.assumed, done.model)


def tap_json(done: "Tapped") -> dict[str, Any]:
    """The tap test as one object with stable keys."""
    heard: dict[int, dict[str, Any]] = {}
    for ring in done.rings:
        at = {"share": ring.share, "direction": ring.direction, "words": ring.words}
        # grouped by mode: whoever taps looks up one tone and wants all places
        heard.setdefault(ring.mode, {})[ring.place] = at
    modes = [
        {"number": k, "hz": word.hz, "title": word.title, "heard": heard.get(word.number, {})}
        for k, word in enumerate(done.words, 1)
    ]
    body = {
        "pieces": list(done.pieces),
        "mass_kg": done.mass,
        "frequencies_hz": [word.hz for word in done.words],
        "modes": modes,
        "cross_check": done.difference,
        "not_crossed": done.not_crossed,
    }
    return stamped(done.reading, body, done.findings, done.reading.assumed, done.model)


def _print_tap(done: "Tapped") -> None:
    from ..converters.showing.table import HZ_DIGITS, Column, Kind, Row, Table

    # dict.fromkeys keeps the places in the order in which they were worked out
    places = list(dict.fromkeys(ring.place for ring in done.rings))
    heard = {(ring.mode, ring.place): ring for ring in done.rings}
    rows: list[Row] = []
    for number, word in enumerate(done.words, 1):
        sounds = [heard[word.number, place].words for place in places]
        rows.append((number, word.hz, word.title, *sounds))
    columns = (
        Column("mode", "mode", Kind.NUMBER, digits=0),
        Column("frequency", "frequency", Kind.NUMBER, "Hz", HZ_DIGITS),
        Column("does", "what it does"),
        *(Column(place, place) for place in places),
    )
    pieces = " + ".join(spoken(piece) for piece in done.pieces)
    title = f"Bare {pieces} of {done.reading.source}, hung on strings and tapped"
    show.shown(Table("tap test", title, columns, rows))
    for place in places:
        best = max(
            # settled: rounded, so that two equal modes are not decided by the last digit
            (heard[w.number, place] for w in done.words),
            key=lambda ring: settled(ring.share),
        )
        # modes of the hanging piece as a whole come first and make no sound
        rank = best.mode - done.modes.rigid
        show.paragraph(
            f"Phone and tap at the {place}: mode {rank} rings loudest, tapped {best.direction}."
        )
    show.paragraph(
        f"Mass of what hangs: {done.mass:.3f} kg of tubes, centre to centre as meshed; lugs, filler, dropouts, "
        "braze-ons and paint are not in it, and each gram of them lowers a frequency a little. Joints are taken as "
        "rigid, which raises them. Loudness is beside the loudest mode at the same place; how long a mode rings is "
        "damping, which is not worked out."
    )
    _print_cross_check(done.difference, done.not_crossed)
    show.findings(done.findings)
    show.assumed(done.reading.assumed)
    show.caution()


def _print_cross_check(difference: float | None, reason: str | None) -> None:
    # without a difference the reason stands in its place
    words = str(reason)
    if difference is not None:
        words = f"largest relative difference {difference:.0e}"
    show.paragraph(f"Cross-check of the frequencies with OpenSees: {words}.")


def _response_json(done: "Vibration") -> dict[str, Any] | None:
    moved = done.response
    # a model file has nobody who pedals, and a frame that floats cannot be pedalled
    if moved is None:
        return None
    return {
        "cadences_rpm": moved.cadences,
        "amplitude_mm": moved.amplitude,
        "static_mm": moved.static,
        "amplification": moved.amplification,
        "damping_ratio": moved.damping_ratio,
        "peak_pedal_force": moved.peak_force,
    }


def _shaken_json(done: "Vibration") -> dict[str, Any] | None:
    if not done.shaken:
        return None
    first, *others = done.shaken.items()
    told = _one_shaken(first[1])
    # a key of its own: what was printed of one rider stays where it is
    if others:
        told["behind"] = {name: _one_shaken(shaken) for name, shaken in others}
    return told


def _one_shaken(shaken: "Transmissibility") -> dict[str, Any]:
    peaks = {"saddle": shaken.saddle_peak, "bars": shaken.bars_peak}
    return {
        "hz": shaken.hz,
        "saddle_over_axle": shaken.saddle_axle,
        "bars_over_axle": shaken.bars_axle,
        "saddle_over_road": shaken.saddle_road,
        "bars_over_road": shaken.bars_road,
        "peaks": {name: {"hz": hz, "ratio": ratio} for name, (hz, ratio) in peaks.items()},
    }


def _print(done: "Vibration") -> None:
    from ..converters.showing.table import HZ_DIGITS, Column, Kind, Row, Table
    from ..validation.tables import gap_words, nearest_pushes, shaken_tables

    nearest = nearest_pushes(done.gaps)
    columns = (
        Column("mode", "mode", Kind.NUMBER, digits=0),
        Column("frequency", "frequency", Kind.NUMBER, "Hz", HZ_DIGITS),
        Column("does", "what it does"),
        Column("push", "nearest push of pedalling"),
        Column("gap", "gap"),
    )
    rows: list[Row] = [
        (w.number, w.hz, w.sentence, *gap_words(nearest.get(w.number))) for w in done.words
    ]
    title = f"Natural modes of {done.reading.source}, {done.case.title or done.case.name}"
    show.shown(Table("modes", title, columns, rows))
    for table in shaken_tables(done.shaken):
        show.shown(table)
        show.paragraph(table.notes)
    if done.case.notes:
        show.paragraph(f"Held and laden: {done.case.notes}.")
    _print_cross_check(done.difference, done.not_crossed)
    show.findings(done.findings)
    show.assumed(done.reading.assumed)
    show.caution()
