"""`droptrail picture`: the frame as PNG, SVG or PDF for papers and mails."""

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from model.errors import InputError

from . import show
from .options import force_option, input_argument, read, reading_options
from .solve import mesh_options

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from converters.inputs import Reading

VIEWS = ("side", "iso", "deflected", "mode", "overlay")


@click.command("picture")
@input_argument
@click.option("-o", "--output", required=True, type=click.Path(path_type=Path), help=".png, .svg or .pdf to write.")
@click.option("--view", type=click.Choice(VIEWS), default="side", show_default=True,
              help="side: dimensioned; iso: tubes in space; deflected: under a --case; mode: a --mode; overlay: a "
                   "drawing as it was read.")
@click.option("--mode", "number", default=1, show_default=True, type=click.IntRange(1, 60), help="Which mode.")
@click.option("--supports", type=click.Choice(["rigid", "tyres", "free"]), default="tyres", show_default=True,
              help="What holds the bicycle when it vibrates.")
@click.option("--times", type=float, help="Magnification of the movement; by default a round one that shows it well.")
@force_option
@reading_options
@mesh_options
def command(source: Path, output: Path, view: str, number: int, supports: Any, times: float | None, force: bool,
            names: tuple[str, ...], euler: bool, element_length: float, rigid_zones: bool, **how: Any) -> int:
    """Draw INPUT as a picture."""
    from converters.picture import save_picture
    from converters.picture_style import check_ending

    check_ending(output)
    if times is not None and not 0 < times < 1e6:
        raise click.UsageError(f"--times {times:g}: give a magnification above nought")
    reading = read(source, **how)
    found = reading.findings
    if view == "overlay":
        _overlay(reading, output, force)
    else:
        mesh = {"shear": not euler, "element_length": element_length, "rigid_zones": rigid_zones}
        figure, more = _figure(reading, view, names, number, supports, times, mesh)
        save_picture(figure, output, force)
        found = (*found, *more)
    print(f"{output} written.")
    show.findings(found)
    return int(show.serious(found))


def _figure(reading: "Reading", view: str, names: tuple[str, ...], number: int, supports: Any, times: float | None,
            mesh: dict[str, Any]) -> "tuple[Figure, tuple[Any, ...]]":
    from converters.analysis import MAIN_CASES, analyse, model_and_cases
    from converters.outside import size_findings
    from converters.picture import side_picture
    from converters.picture_frame import deflected_picture, frame_picture, mode_picture

    title = (reading.bicycle.name if reading.bicycle is not None else "") or reading.source
    if view == "side":
        return side_picture(reading.need_bicycle(), title)
    if view == "iso":
        model, _ = model_and_cases(reading, names, **mesh)
        return frame_picture(model, title), size_findings(model)
    if view == "deflected":
        solved = analyse(reading, names or (MAIN_CASES[:1] if reading.model is None else ()), **mesh)
        result = next(iter(solved.results.values()))
        return deflected_picture(result, title, times=times), size_findings(result.model)
    from validation.vibration import vibrate

    done = vibrate(reading, supports, max(number, 6))
    word = done.words[number - 1]
    figure = mode_picture(done.model, done.modes.shapes[number - 1, :, :3], title,
                          f"mode {word.number}, {word.hz:.1f} Hz: {word.sentence}")
    return figure, size_findings(done.model)


def _overlay(reading: "Reading", output: Path, force: bool) -> None:
    from converters.files import new_file
    from converters.sideview_overlay import write_overlay

    if reading.view is None:
        raise InputError(f"{reading.source}: the overlay shows a drawing as it was read; give a DXF drawing")
    with new_file(output, force) as temporary:
        write_overlay(reading.view, temporary)
