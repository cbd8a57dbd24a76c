"""`droptrail read`: how every line of a drawing was taken, and how precise the result is.

Where a drawing is refused its lines are listed all the same, and drawn, so that one of them can be named.
"""

from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click
import numpy as np

from ..model.errors import InputError
from . import show
from .options import force_option, input_argument, json_option, read, reading_options

if TYPE_CHECKING:
    from ..converters.drawings.drawing import Curve
    from ..converters.drawings.sideview.side_view import SideView
    from ..model.findings import Finding

MANY = 60  # a longer list of left-out lines is summed up by reason


@click.command("read")
@input_argument
@click.option(
    "-o",
    "--output",
    type=click.Path(path_type=Path),
    help="Write a picture of the drawing with the recognised members, .png, .svg or .pdf.",
)
@force_option
@reading_options
@json_option
def command(source: Path, output: Path | None, force: bool, as_json: bool, **how: Any) -> int:
    """Say how every line of DRAWING was taken, what was ignored and why, what was snapped, how precise it is."""
    try:
        reading = read(source, **how)
    except InputError as error:
        # beside --json stdout may hold nothing but the object, so only the refusal is told
        if not as_json:
            _refused(source, error.lines, output, force)
        # raised again: the list is a help, the refusal decides the exit code
        raise
    # with a sheet or a model nothing is taken one way or another: there are no lines
    if reading.view is None:
        raise InputError(
            f"{source.name} is not a drawing; for sheets and models use: droptrail geometry {source}"
        )
    # findings of the picture are not those of the reading, which --json holds already
    drawn: tuple[Finding, ...]
    if output is None:
        drawn = ()
    else:
        drawn = _overlay(reading.view, output, force)
    if as_json:
        show.print_json(_json(reading.source, reading.view))
    else:
        _print(reading.source, reading.view)
        if output is not None:
            print(f"{output} written.")
        show.findings(drawn)
    return int(show.serious(reading.view.findings))


def _refused(source: Path, lines: frozenset[str], output: Path | None, force: bool) -> None:
    """What the drawing holds, those lines first that the refusal names; and the picture of it."""
    from ..converters.drawings.dxf.read_dxf import read_dxf

    # a sheet or a model file that was refused has no lines to list
    if source.suffix.lower() != ".dxf":
        return
    try:
        drawing = read_dxf(source)
    except InputError:
        return  # the refusal has said so
    # curves without a handle cannot be named
    named = lines & {c.handle for c in drawing.curves if c.handle}
    # what the refusal names comes first, then the large lines, which are likely members
    order = sorted(drawing.curves, key=lambda c: (c.handle not in named, -_extent(c)))
    shown = order[:MANY]
    show.table(
        f"Lines of {source.name}" + (f", {len(shown)} of {len(order)}" if order[MANY:] else ""),
        ("handle", "layer", "drawn as", "size", "from", "to", "in doubt"),
        [
            (
                c.handle or "-",
                c.layer,
                c.kind,
                _size(c),
                _place(c.points[0]),
                _place(c.points[-1]),
                # the same table without this column would leave the builder to compare handles
                "yes" if c.handle in named else "",
            )
            for c in shown
        ],
    )
    show.paragraph(
        "Sizes and places in drawing units. A line is named by --pick MEMBER=HANDLE, a tube in outline by "
        "--pick MEMBER=HANDLE,HANDLE with both edges; --pick ignore=HANDLE leaves one out. "
        "A length that no line shows is stated, as --pick lower_stack=12mm."
    )
    if output is not None:
        from ..converters.showing.picture.overlay import write_doubt

        show.findings(write_doubt(drawing, named, output, force))
        print(f"{output} written.")


def _extent(curve: "Curve") -> float:
    return float(np.ptp(curve.points, axis=0).max(initial=0.0))


def _size(curve: "Curve") -> str:
    if curve.radius:
        return f"radius {curve.radius:.5g}"
    return f"{np.hypot(*np.diff(curve.points, axis=0).T).sum():.5g}"


def _place(point: Any) -> str:
    return f"{point[0]:.5g}, {point[1]:.5g}"


def _overlay(view: "SideView", output: Path, force: bool) -> "tuple[Finding, ...]":
    from ..converters.showing.picture.overlay import write_overlay

    return write_overlay(view, output, force)


def _json(source: str, view: "SideView") -> dict[str, Any]:
    from ..converters.drawings.sideview.explain import explain
    from ..converters.showing.result_json import as_dicts

    return {
        "source": source,
        "lines": as_dicts(explain(view)),
        "transform": asdict(view.transform),
        "unit": view.unit,
        "score": view.score,
        "runner_up": view.runner_up,
        "precision": asdict(view.precision),
        "trail": view.dimensions.trail,
        "bb_drop": view.dimensions.bb_drop,
        "outside_diameters": dict(view.diameters),
        "rim_radii": dict(view.rim_radii),
        "findings": [finding.as_dict() for finding in view.findings],
    }


def _print(source: str, view: "SideView") -> None:
    from ..converters.drawings.sideview.explain import explain, left_out_summary

    rows = explain(view)
    taken = [row for row in rows if row.taken_as != "left out"]
    left = [row for row in rows if row.taken_as == "left out"]
    columns = ("handle", "layer", "drawn as", "taken as", "how")
    show.table(
        f"How {source} was read",
        columns,
        # a long list of stray lines would bury the members; it is then summed up by reason
        [_cells(row) for row in (taken if len(left) > MANY else rows)],
    )
    if len(left) > MANY:
        show.table(f"Left out: {len(left)} lines", ("why", "lines"), left_out_summary(view))
    t = view.transform
    p = view.precision
    # + 0.0 turns -0.0 into 0.0, which would read like a hidden rotation
    turned = round(t.rotation_deg, 2) + 0.0
    if t.mirrored:
        facing = "facing left"
    else:
        facing = "facing right"
    show.paragraph(
        f"Placed: {facing}{', upside down' if t.flipped else ''}, turned by {turned:.2f} degrees; "
        f"bottom bracket at ({_placed(t.offset[0])}, {_placed(t.offset[1])}); one drawing unit taken as {view.unit}."
    )
    # no rival is the best case, and is not a rival with 0 %
    if view.runner_up is None:
        rival = ""
    else:
        rival = f"; the next best reading has {100 * view.runner_up:.0f} %"
    show.paragraph(
        f"Certainty: {100 * view.score:.0f} % of what a complete clean drawing earns{rival}."
    )
    show.paragraph(f"{p.says(view.dimensions)}; longest gap or overrun closed {p.snapped:.1f} mm.")
    show.findings(view.findings)


def _placed(value: float) -> str:
    """A place on the sheet in its own unit, to six digits; a rounding beside nought is nought."""
    return f"{round(value, 6) + 0.0:.6g}"


def _cells(row: Any) -> tuple[str, str, str, str, str]:
    return row.handle or "-", row.layer, row.kind, row.taken_as, row.how
