"""The rig of a load case on a sheet: from the side and from above what is held, pushed and measured."""

from dataclasses import replace
from string import ascii_uppercase
from typing import TYPE_CHECKING

import numpy as np

from ....model.cases.view import case_picture, gauges, large, left_out_words, pushed_words
from ....model.mechanics.frame_model import FrameModel, LoadCase
from ...files.drafting.projection import FROM_ABOVE, FROM_SIDE
from .marks import along, draw_marks
from .scene import bare, draw_tubes
from .style import BLUE, GREY, INK, PAPER, SMALL, VERMILION, new_figure
from .views import WordColumn

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from ...files.drafting.projection import Camera

LEGEND = (
    "Above: from the drive side. Below: from above, the front to the right, the rider's right towards the reader. "
    "Numbers: held. Letters: measured. Red: loads; two heads: a moment about that line, right-hand rule."
)


def rig_picture(model: FrameModel, case: LoadCase, title: str, units: bool = True) -> "Figure":
    """A load case as it is set up, nothing moved. units : the model is in N and mm."""
    figure = new_figure(title, f"{case.title or case.name}: the rig", LEGEND)
    side = bare(figure.add_axes((0.02, 0.4, 0.63, 0.5)))
    held = _view(side, FROM_SIDE, model, case, units)
    above = bare(figure.add_axes((0.02, 0.07, 0.63, 0.31)))
    _view(above, FROM_ABOVE, model, case, units)
    column = WordColumn(figure)
    for line in held:
        column.add(line, INK)
    column.space()
    for letter, gauge in zip(ascii_uppercase, gauges(model, case), strict=False):
        column.add(f"{letter}  {gauge.words}", BLUE)
    arrows = case_picture(model, case).arrows
    drawn = large(arrows, model.span)
    if drawn:
        # a push on a pedal comes to the frame at the bracket, with what the chain pulls
        column.add(f"Loads, where the frame takes them: {pushed_words(drawn, units)}", VERMILION)
    # small arrows are not drawn, but that they are left out is said
    left = len(arrows) - len(drawn)
    column.add(left_out_words(left) if left else "", GREY)
    column.space()
    column.add(case.notes, GREY)
    column.add(f"Source: {case.source}" if case.source else "", GREY)
    return figure


def _view(
    axes: "Axes", camera: "Camera", model: FrameModel, case: LoadCase, units: bool
) -> list[str]:
    """One view; returns the numbered sentences on what holds."""
    draw_tubes(axes, camera, model)
    # points along every tube, so that words keep clear of the whole of it
    clear = along(camera.flat(model.xyz)[model.ends], 15.0)
    places = dict(zip(model.nodes, model.xyz, strict=True))
    shown = case_picture(model, case)
    shown = replace(shown, arrows=large(shown.arrows, model.span))
    spots = [
        (letter, camera.flat(np.array(place)))
        # letters run through both views alike, so that they mean the same in both
        for letter, gauge in zip(ascii_uppercase, gauges(model, case), strict=False)
        for place in gauge.places
    ]
    for _, spot in spots:
        axes.plot(*spot, marker="o", markersize=6, color=PAPER, markeredgecolor=BLUE, zorder=8)
    keep = [*clear, *(spot for _, spot in spots)]
    held, labels = draw_marks(axes, camera, shown, places, model.span, units, keep)
    # the letters know where the numbers and loads stand
    for letter, spot in spots:
        labels.put(letter, spot, BLUE, SMALL + 1)
    return held
