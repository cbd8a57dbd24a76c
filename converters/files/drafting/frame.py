"""Draws a bicycle as DXF: side view at 1:1 as a builder dimensions it, fork from the front, stays from above.

Origin at the bottom bracket, front to the right (seen from the drive side), mm. Centre-lines lie on layers of the
trade's names with full double precision, outlines on NAME_OUTLINE; the other views stand well apart on layers
of their own.
"""

from collections.abc import Mapping, Sequence
from math import atan2, degrees, hypot
from pathlib import Path
from typing import Literal

import numpy as np

from ....model.arrays import Array
from ....model.errors import ModelError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.layout import side_paths
from ....model.geometry.dimensions import FrameDimensions, Point
from ....model.tubes.known_plans import further_ones
from ....model.tubes.plan import TubeRole, not_handled
from .dimensions import dimension_side_view, title_block
from .dxf_paper import DxfPaper
from .frame_outlines import (
    DrawnTube,
    as_point,
    draw_mitre_curves,
    draw_outlines,
    draw_strokes,
    further_shells,
)
from .outline import shell_radius
from .paper import Paper, layer_of
from .plot import lay_out_plot
from .views import front_view, in_front_view, in_stays_view, stays_view

View = Literal["side", "front", "top"]
AXLE_RADIUS = 5.0  # mark of an axle
CENTRE_MARK = 3.0  # half the length of its strokes


def draw_frame(
    bicycle: Bicycle,
    path: str | Path,
    views: Sequence[View] = ("side", "front", "top"),
    *,
    version: str = "R2010",
    bead_seats: tuple[float | None, float | None] = (None, None),
    plot: str | None = None,
    force: bool = False,
) -> tuple[Finding, ...]:
    """Write the drawing of a bicycle.

    Parameters
    ----------
    views : any of side, front (fork square to the steering axis) and top (stays in their own planes).
    version : R12, R2000, R2004, R2007, R2010, R2013 or R2018.
    bead_seats : bead seat diameters front and rear, mm; the rim is drawn where it is known.
    plot : size of sheet, one of `plot.SHEETS`, to lay the views out on in the paper space; None for the model alone.
    force : replace an existing file.

    Returns
    -------
    What the drawing leaves out or takes for granted.

    Raises
    ------
    InputError
        When the file cannot be written or the version is unknown. An existing file stays whole.
    """
    # the version is refused here, before anything is worked out
    paper = DxfPaper(version)
    findings: list[Finding] = []
    if "side" in views:
        findings += side_view(paper, bicycle, bead_seats)
        dimension_side_view(paper, bicycle.dimensions, bicycle)
        if plot is None:
            title_block(paper, bicycle)
        else:
            title_block(paper, bicycle, "scale at the foot of the sheet")
    # the side view alone needs only the dimensions, so the others may fail by themselves
    for view, draw in (("front", front_view), ("top", stays_view)):
        if view in views:
            try:
                draw(paper, bicycle)
            # a drawing without one view is better than none; the finding says what is missing
            except ModelError as error:
                findings.append(
                    Finding(
                        "draw-view-left-out",
                        "warning",
                        f"the {view} view is left out: {error}",
                        view,
                    )
                )
    if {"front", "top"} & set(views):
        what = "the front and top views do not show"
        shown = {role.name for role in (*in_front_view(bicycle), *in_stays_view(bicycle))}
        # Of a tube in the middle plane the side view tells all.
        beyond = [role for role in further_ones(bicycle.roles) if role.paired]
        end_on = {tube.role.name for tube in _drawn_tubes(bicycle).values() if tube.end_on}
        for role in beyond:
            if role.name in end_on:
                findings.append(_seen_from_the_end(role))
            elif role.name not in shown:
                findings.append(not_handled(role, what))
    # last: the sheets are laid out round what has been drawn
    if plot is not None:
        findings += lay_out_plot(paper, plot, bicycle.name or "frame")
    paper.save(path, force)
    return tuple(findings)


def _seen_from_the_end(role: TubeRole) -> Finding:
    return Finding(
        "tube-not-handled",
        "info",
        f"the side view shows the {role.label} from the end, and no other view does; their lengths and cuts stand with "
        "jig and mitre",
        role.name,
    )


def side_view(
    paper: Paper, bicycle: Bicycle, bead_seats: tuple[float | None, float | None]
) -> list[Finding]:
    """Centre-lines, outlines, wheels and ground."""
    d = bicycle.dimensions
    placed = _drawn_tubes(bicycle)
    tubes = {layer: tube for layer, tube in placed.items() if not tube.end_on}
    for layer, tube in placed.items():
        if tube.end_on:
            _end_on(paper, layer, tube)
    for layer, tube in tubes.items():
        # the fork's centre-line may be bent and is drawn by itself
        if layer != "FORK" or tube.role.bend is not None:
            draw_strokes(paper, layer, tube.path)
    top = as_point(tubes["FORK"].path[0]) if "FORK" in tubes else d.fork_crown
    blade = _blade(d, top, bicycle.fittings.blade_straight)
    if "FORK" in tubes and tubes["FORK"].role.bend is not None:
        blade = tubes["FORK"].path
    elif bicycle.suspension is not None:
        # a given part: its axis and its offset are all that is known of it
        paper.line("FORK", d.fork_crown, d.fork_offset_foot)
        paper.line("FORK", d.fork_offset_foot, d.front_axle)
    else:
        # the same test as for the outline: where no arc fits, both are straight
        straight = bicycle.fittings.blade_straight if len(blade) > 2 else 0.0
        _blade_centre_line(paper, d, top, straight)
    _wheels(paper, d, bead_seats)
    for middle in (d.bottom_bracket, *further_shells(bicycle)):
        paper.circle("BB_SHELL", middle, shell_radius(bicycle))
    draw_outlines(paper, bicycle, tubes, blade)
    draw_mitre_curves(paper, bicycle)
    return _what_is_missing(bicycle, placed)


def _end_on(paper: Paper, layer: str, tube: "DrawnTube") -> None:
    """What runs straight across: a centre mark and the circle of its outline."""
    x, y = as_point(tube.path[0])
    paper.line(layer, (x - CENTRE_MARK, y), (x + CENTRE_MARK, y))
    paper.line(layer, (x, y - CENTRE_MARK), (x, y + CENTRE_MARK))
    if tube.tube is not None:
        paper.circle(f"{layer}_OUTLINE", Point(x, y), tube.tube.od_start / 2)


def _drawn_tubes(bicycle: Bicycle) -> dict[str, DrawnTube]:
    """Layer -> tube, of those that the dimensions place and that show from the side. The fork runs from crown race to
    axle, as a straight blade, unless its plan bends it."""
    found = {}
    for name, path in side_paths(bicycle).items():
        role = bicycle.plan.role(name)
        # the right one of a pair stands for both, as it is seen from the drive side
        if path is not None and not role.inside:
            line = np.array(path)[:, :2]
            found[layer_of(role)] = DrawnTube(role, line, bicycle.tubes.get(name))
    return found


def _what_is_missing(bicycle: Bicycle, tubes: Mapping[str, DrawnTube]) -> list[Finding]:
    found = []
    # a stated shell is drawn as it is; the workshop's is told
    if "bb_shell" not in bicycle.parts:
        found.append(
            Finding(
                "draw-shell-assumed",
                "info",
                f"the bottom bracket shell is drawn {2 * shell_radius(bicycle):g} mm across "
                "(workshop value); mitre to the shell you have",
                "BB_SHELL",
            )
        )
    for layer in (layer_of(role) for role in bicycle.roles if not role.inside):
        if layer in tubes:
            continue
        found.append(
            Finding(
                "draw-tube-not-placed",
                "warning",
                f"the {_words(layer)} is not drawn: the input does not "
                "say where it meets its neighbours",
                layer,
            )
        )
    for layer, tube in tubes.items():
        if tube.tube is None:
            found.append(
                Finding(
                    "draw-no-diameter",
                    "warning",
                    f"the {_words(layer)} is drawn as a centre-line only: "
                    "the tube table has no outside diameter for it",
                    layer,
                )
            )
    return found


def _words(layer: str) -> str:
    return layer.lower().replace("_", " ")


# --- wheels and fork ----------------------------------------------------------------------------------------


def _wheels(
    paper: Paper, d: FrameDimensions, bead_seats: tuple[float | None, float | None]
) -> None:
    wheels = (
        ("WHEEL_FRONT", d.front_axle, d.wheel_radius_front, bead_seats[0]),
        ("WHEEL_REAR", d.rear_axle, d.wheel_radius_rear, bead_seats[1]),
    )
    for layer, axle, radius, bead in wheels:
        paper.circle(layer, axle, radius)
        paper.circle("AXLE", axle, AXLE_RADIUS)
        # only a fit sheet knows the rim; a drawing has the tyre
        if bead is not None:
            paper.circle("RIM", axle, bead / 2)
    paper.line(
        "GROUND",
        (d.rear_axle.x - d.wheel_radius_rear, d.ground_y),
        (d.front_axle.x + d.wheel_radius_front, d.ground_y),
    )


def _blade_centre_line(paper: Paper, d: FrameDimensions, top: Point, straight: float) -> None:
    if not straight:
        # a straight blade, or one whose rake begins at its upper end
        paper.line("FORK", top, d.front_axle)
        return
    # the arc begins tangent to the steering axis, where the straight part ends
    bend = top.along(d.axis_up, -straight)
    paper.line("FORK", top, bend)
    along = _below(d, top) - straight
    rise = d.fork_offset
    # circle through both ends and tangent at the first: r = (l² + h²) / 2h
    radius = (along**2 + rise**2) / (2 * abs(rise))
    centre = bend.along(d.axis_forward, radius if rise > 0 else -radius)
    angles = [degrees(atan2(p.y - centre.y, p.x - centre.x)) for p in (bend, d.front_axle)]
    # DXF arcs run anticlockwise, so a rake to the rear swaps the ends
    paper.arc("FORK", centre, radius, *(angles if rise > 0 else reversed(angles)))


def _below(d: FrameDimensions, top: Point) -> float:
    """How far down the steering axis the foot of the offset lies from a place on it, mm."""
    foot = d.fork_offset_foot
    return hypot(top.x - foot.x, top.y - foot.y)


def _blade(d: FrameDimensions, top: Point, straight: float) -> Array:
    """(k, 2) centre-line of the blade from `top` on the steering axis: two points, or straight down the axis and round
    an arc to the axle."""
    along = _below(d, top) - straight
    rise = d.fork_offset
    if not straight or along <= 0 or abs(rise) < 1e-9:
        # no room for an arc, or nothing to bend
        return np.array([top, d.front_axle])
    bend = np.array(top.along(d.axis_up, -straight))
    # 33 points: chords within a few hundredths of a millimetre of the arc
    turn = np.linspace(0, 2 * atan2(abs(rise), along), 33)[:, None]
    radius = (along**2 + rise**2) / (2 * abs(rise))
    down = -np.array(d.axis_up)
    across = np.sign(rise) * np.array(d.axis_forward)
    return np.vstack([top, bend + radius * (np.sin(turn) * down + (1 - np.cos(turn)) * across)])
