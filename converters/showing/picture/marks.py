"""Words and marks on a picture: arrows for loads and reactions, numbers where something holds, labels kept apart."""

import itertools
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ....model.arrays import Array
from ....model.cases.view import Arrow, CasePicture, SupportMark, sum_words, together
from ....model.words import spoken
from ...files.drafting.projection import Camera
from .style import BEHIND, BLUE, GREY, INK, PAPER, SMALL, VERMILION

if TYPE_CHECKING:
    from matplotlib.axes import Axes

LONGEST = 0.15  # of the model's size: the arrow of the largest force or moment
SHORTEST = 0.4  # of the longest: small loads must still be seen
LEADER = 22.0  # points; words farther from their point than this get a line to it
# points
_SPOTS = [
    # ever wider rings; on each the sides first
    r * np.array([np.cos(a), np.sin(a)])
    for r in (8, 14, 22, 32, 44, 60, 80)
    for a in np.radians((0, 180, 90, 270, 45, 135, 225, 315))
]


class Labels:
    """Words set beside points of a drawing so that none covers another, nor what is to be kept clear."""

    def __init__(self, axes: "Axes", keep_clear: Iterable[Array] = (), radius: float = 8.0) -> None:
        """keep_clear : points of the page (data units); radius : pixels round each that stay free."""
        self.axes = axes
        axes.margins(0.07)  # room for words at the edge
        axes.autoscale_view()
        axes.autoscale(False)
        axes.figure.canvas.draw()  # fixes the scales that the places depend on
        pixels = axes.transData.transform(np.array(list(keep_clear)).reshape(-1, 2))
        self.taken = np.hstack([pixels - radius, pixels + radius])  # left, bottom, right, top

    def put(self, words: str, at: Array, colour: str = INK, size: float = SMALL) -> None:
        """Beside `at` - a point, or several (k, 2) of which any will do - on the nearest spot that is free.

        Words far from their point get a thin line to it.
        """
        # several points of one tube will do, so that a name finds room somewhere along it
        points = self.axes.transData.transform(np.reshape(at, (-1, 2)))
        dot = self.axes.figure.dpi / 72  # pixels to a point of the type
        text = self.axes.text(
            0,
            0,
            words,
            fontsize=size,
            color=colour,
            ha="center",
            va="center",
            zorder=9,
            bbox=BEHIND,
        )
        # sizes in pixels: only there do words of any length compare
        half = np.array([text.get_window_extent().width, text.get_window_extent().height]) / 2
        # half the words' own size is added: their edge keeps the distance, not their middle
        for spot, point in itertools.product(_SPOTS, points):
            centre = point + spot * dot + half * np.round(spot / np.hypot(*spot))
            if self._free(box := np.hstack([centre - half, centre + half])):
                break
        # the last spot is taken if none is free: words on words are better than none
        x, y = self.axes.transData.inverted().transform(centre)
        text.set_position((float(x), float(y)))
        # words set earlier keep later ones away
        self.taken = np.vstack([self.taken, box])
        # far words get a line, or nobody knows what they belong to
        if np.hypot(*spot) > LEADER:
            ends = np.array([point, point + spot * dot])
            self.axes.plot(
                *self.axes.transData.inverted().transform(ends).T,
                color=GREY,
                linewidth=0.6,
                zorder=8,
            )
            # the line too keeps later words away
            line = along(ends[None], 8.0)
            self.taken = np.vstack([self.taken, np.hstack([line - 3.0, line + 3.0])])

    def _free(self, box: Array) -> bool:
        t = self.taken
        return not np.any(
            (t[:, 0] < box[2]) & (t[:, 2] > box[0]) & (t[:, 1] < box[3]) & (t[:, 3] > box[1])
        )


def along(ends: Array, step: float) -> Array:
    """Points along lines on the page, at most `step` apart: ends (m, 2, 2) -> (k, 2)."""
    lengths = np.linalg.norm(ends[:, 1] - ends[:, 0], axis=1)
    lines = [
        np.linspace(a, b, 2 + int(length / step))
        for (a, b), length in zip(ends, lengths, strict=True)
    ]
    return np.vstack([np.empty((0, 2)), *lines])


def draw_marks(
    axes: "Axes",
    camera: Camera,
    picture: CasePicture,
    places: Mapping[str, Array],
    size: float,
    units: bool,
    clear: Sequence[Array] | Array,
) -> tuple[list[str], Labels]:
    """Arrows and support marks of a case; the numbered sentences that explain the marks, and the labels for more words.

    places : node -> (3,) where it is drawn. size : of the model, mm. units : whether it is in N and mm.
    clear : (k, 2) points of the page that words keep away from.
    """
    # a number at each node that is held, explained in words beside the picture
    held = _gathered((*picture.supports, *picture.springs))
    largest = {}
    for kind in ("force", "moment"):
        # forces and moments have no common scale, so each kind has its own longest arrow
        lengths = [_length(arrow) for arrow in picture.arrows if arrow.kind == kind]
        largest[kind] = max(lengths, default=1.0)
    # arrows first, as words must keep clear of them
    shafts = np.array(
        [
            _arrow(axes, camera, arrow, places, LONGEST * size, largest[arrow.kind])
            for arrow in picture.arrows
        ]
    ).reshape(-1, 2, 2)
    spots = [camera.flat(places[node]) for node in held]
    for at in spots:
        axes.plot(*at, marker="^", markersize=8, color=PAPER, markeredgecolor=INK, zorder=7)
    labels = Labels(axes, [*clear, *spots, *along(shafts, 15.0)])
    for k, at in enumerate(spots, 1):
        labels.put(str(k), at, INK, SMALL + 1)
    tails = dict(zip(picture.arrows, shafts[:, 0], strict=True))
    for group in together(picture.arrows):
        # beside any of them: they are told together
        free_ends = np.array([tails[arrow] for arrow in group])
        labels.put(sum_words(group, units), free_ends, _colour(group[0]))
    return [f"{k}  {words}" for k, words in enumerate(held.values(), 1)], labels


def _arrow(
    axes: "Axes",
    camera: Camera,
    arrow: Arrow,
    places: Mapping[str, Array],
    longest: float,
    largest: float,
) -> Array:
    """Draw an arrow that ends at its node, a moment with two heads along its axis; (2, 2) tail and tip."""
    # a small load must still be seen as an arrow, and the largest not leave the page
    share = SHORTEST + (1 - SHORTEST) * _length(arrow) / largest
    at = places.get(arrow.node, np.array(arrow.at))
    tail = camera.flat(at - share * longest * np.array(arrow.vector) / _length(arrow))
    tip = camera.flat(at)
    # a moment has two heads along its axis, by the right-hand rule
    for reach in (1.0,) if arrow.kind == "force" else (1.0, 0.8):
        x1, y1 = tail + reach * (tip - tail)
        x0, y0 = tail
        axes.annotate(
            "",
            (x1, y1),
            (x0, y0),
            annotation_clip=False,
            zorder=8,
            arrowprops={
                "arrowstyle": "-|>,head_length=0.6,head_width=0.22",
                "color": _colour(arrow),
                "shrinkA": 0,
                "shrinkB": 0,
                # what the builder put on is drawn thicker than what the supports give back
                "linewidth": 1.8 if arrow.what == "load" else 1.0,
                "mutation_scale": 12,
            },
        )
    axes.plot(*np.array([tail, tip]).T, alpha=0.0)  # takes part in the limits of the picture
    return np.array([tail, tip])


def _length(arrow: Arrow) -> float:
    return float(np.linalg.norm(arrow.vector))


def _colour(arrow: Arrow) -> str:
    if arrow.what == "load":
        return VERMILION
    return BLUE


def _gathered(marks: Sequence[SupportMark]) -> dict[str, str]:
    """Node -> everything that holds it, in words."""
    out: dict[str, list[str]] = {}
    for mark in (m for m in marks if m.held):
        out.setdefault(mark.node, []).append(
            f"{mark.ways}{f' ({mark.touching})' if mark.touching else ''}"
        )
    return {node: f"{spoken(node)}: {'; '.join(words)}" for node, words in out.items()}
