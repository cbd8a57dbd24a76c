"""The rig of a load case as a picture, from the side and from above: what is held, where it is pushed and measured.

Held places carry numbers, measured ones letters; the words below say what each is.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from string import ascii_uppercase
from typing import Any

import numpy as np

from ....model.arrays import Array
from ....model.cases.tools import ON_GROUND
from ....model.cases.view import (
    Arrow,
    CasePicture,
    Gauge,
    SupportMark,
    case_picture,
    gauges,
    large,
    left_out_words,
    pushed_words,
    sum_words,
    together,
)
from ....model.mechanics.frame_model import FrameModel, LoadCase
from ....model.mechanics.inertia import REFERENCE
from ....model.words import spoken
from ...files.drafting.paper import Flat
from ...files.drafting.projection import FROM_ABOVE, FROM_SIDE, Camera, wheel_ring
from .labels import PageWords
from .page import PageFigure
from .stills import BuiltFrame
from .svg import arrow, circle, group, path, picture

_REACH = 1 / 6  # of the frame's size: the longest arrow
_END_ON = 0.3  # of its length: an arrow seen shorter is drawn as a dot
_GAP = 1 / 14  # of the frame's size between the two views
_CLEARLY = 1.001  # from above only what is seen longer there
_VIEWS = (FROM_SIDE, FROM_ABOVE)


def rig(
    model: FrameModel,
    case: LoadCase,
    scene: Mapping[str, Any],
    built_frame: BuiltFrame | None = None,
    units: bool = True,
) -> PageFigure:
    """Both views of a case below one another, with the words for every number and letter.

    scene : of the same model, as `scene_json` gives it. built_frame : of that scene, where several pictures show it.
    units : False for a file in any consistent set.
    """
    frame = built_frame or BuiltFrame(scene)
    shown = case_picture(model, case)
    # numbered once, so that a number means the same in both views
    held = _by_node(shown)
    read = gauges(model, case)
    # small loads would only crowd the picture; that they are left out is said below
    pushes = large(shown.arrows, model.span)
    # drawn once to learn how large each view is, then again in its place
    side = _View(frame, FROM_SIDE, np.zeros(2), units)
    side.draw(case, held, pushes, read)
    above = _View(frame, FROM_ABOVE, np.zeros(2), units)
    above.draw(case, held, pushes, read)
    drop = float(side.low[1] - above.high[1] - _GAP * float(scene["span"]))
    above = _View(frame, FROM_ABOVE, np.array([0.0, drop]), units)
    above.draw(case, held, pushes, read)
    low = np.minimum(side.low, above.low)
    high = np.maximum(side.high, above.high)
    words = _words(held, read, pushed_words(pushes, units), len(shown.arrows) - len(pushes))
    # words last, so that no tube is drawn over them
    shapes = [*side.shapes, *above.shapes, *side.labels.shapes, *above.labels.shapes]
    title = f"{case.title or case.name}, from the side and from above"
    svg = picture(shapes, (low[0], low[1]), (high[0], high[1]), f"{title}. {words}")
    return PageFigure(svg, f"The rig from the side and from above. {words}")


@dataclass(frozen=True)
class _Hold:
    """What holds a place. A spring acts along axes of its own, so it is called by its name and not by directions."""

    mark: SupportMark
    sprung: bool

    @property
    def words(self) -> str:
        if self.sprung:
            return f"{self.mark.touching}, a spring"
        if self.mark.touching:
            return f"{self.mark.ways} ({self.mark.touching})"
        return self.mark.ways


def _by_node(shown: CasePicture) -> dict[str, list[_Hold]]:
    """Node -> all that holds it, in the order in which they are numbered."""
    # a place that two things hold gets one number, or the numbers would lie on one another
    found: dict[str, list[_Hold]] = {}
    for marks, sprung in ((shown.supports, False), (shown.springs, True)):
        for mark in marks:
            if mark.held:
                found.setdefault(mark.node, []).append(_Hold(mark, sprung))
    return found


_KINDS = ("force", "moment")


def _words(
    held: Mapping[str, Sequence[_Hold]], read: Sequence[Gauge], pushes: str, left: int
) -> str:
    """What the numbers, letters and arrows stand for."""
    said = [f"{number} {_held_words(marks)}" for number, marks in enumerate(held.values(), 1)]
    told = f"Green, held: {'; '.join(said)}. Red: forces; violet: moments about that line, right-hand rule."
    if read:
        measured = (
            f"{letter} {gauge.words}" for letter, gauge in zip(ascii_uppercase, read, strict=False)
        )
        told += f" Blue, measured: {'; '.join(measured)}."
    if pushes:
        told += f" Pushed, each load where the frame takes it: {pushes}."
    if left:
        told += f" {left_out_words(left)}."
    return told


def _held_words(held: Sequence[_Hold]) -> str:
    return f"{spoken(held[0].mark.node)}, {'; '.join(one.words for one in held)}"


class _View:
    """One view under way: shapes, and how far they reach. shift : of the whole view on the page."""

    def __init__(self, frame: BuiltFrame, camera: Camera, shift: Array, units: bool) -> None:
        self.units = units
        self.frame = frame
        self.scene = scene = frame.scene
        self.camera = camera
        self.shift = shift
        self.span = float(scene["span"])
        self.shapes: list[str] = []
        self.labels = PageWords()
        self.low = np.full(2, np.inf)
        self.high = np.full(2, -np.inf)

    def draw(
        self,
        case: LoadCase,
        held: Mapping[str, Sequence[_Hold]],
        pushes: Sequence[Arrow],
        read: Sequence[Gauge],
    ) -> None:
        """Frame, wheels where they stand on the ground, supports, loads, gauges."""
        # wheels only where they stand: a frame on a rig has none
        if any(ON_GROUND in what for what in case.touching.values()):
            self._wheels()
        self.shapes.append(group(self.frame.tubes(self.camera), self.shift.tolist()))
        self._reach(self.flat(self.frame.xyz))
        # the first mark of a node stands for all of them: they share the place
        for number, marks in enumerate(held.values(), 1):
            self._support(marks[0].mark, str(number))
        # forces and moments have no common scale, so each kind has its own longest arrow
        longest = {}
        for kind in _KINDS:
            sizes = [push.size for push in pushes if push.kind == kind]
            longest[kind] = max(sizes, default=1.0)
        for words, push in _labelled(pushes, self.camera, self.units):
            self._push(push, words, push.size / longest[push.kind])
        for letter, gauge in zip(ascii_uppercase, read, strict=False):
            for place in gauge.places:
                self._gauge(np.array(place), letter)

    def flat(self, points: Array) -> Array:
        """Places on the page, shifted with the view."""
        return self.camera.flat(points) + self.shift

    def _point(self, xyz: Array) -> Flat:
        x, y = self.flat(xyz)
        return float(x), float(y)

    def _reach(self, points: Array) -> None:
        around = np.reshape(points, (-1, 2))
        margin = self.span / 40
        self.low = np.minimum(self.low, around.min(axis=0) - margin)
        self.high = np.maximum(self.high, around.max(axis=0) + margin)

    def _wheels(self) -> None:
        for wheel in self.scene["wheels"]:
            ring = self.flat(wheel_ring(*wheel, sides=48))
            self.shapes.append(path([(float(x), float(y)) for x, y in ring], "wheel"))
            self._reach(ring)

    def _support(self, mark: SupportMark, number: str) -> None:
        x, y = self._point(np.array(mark.at))
        kind = "support"
        # a place that only stops the free frame from drifting is not held by anything
        if mark.touching == REFERENCE:
            kind = "reference"
        below = self.span / 40
        corners = [(x, y), (x - below, y - 1.6 * below), (x + below, y - 1.6 * below), (x, y)]
        self.shapes.append(path(corners, kind))
        words = (x + 1.4 * below, y - 1.6 * below)
        self._say(words, number, "held-words", "start")

    def _push(self, push: Arrow, words: str, share: float) -> None:
        """An arrow that ends at its node; a dot where it is seen end on. Words stand at its free end."""
        way = np.array(push.vector) / push.size
        seen = self.camera.flat(way)
        # from 45 % of the longest: a small load must still be seen as an arrow
        length = self.span * _REACH * (0.45 + 0.55 * share)
        tip = self._point(np.array(push.at))
        # seen end on an arrow is a point, and says nothing of its length
        if float(np.linalg.norm(seen)) < _END_ON:
            self.shapes.append(circle(tip, self.span / 50, f"{push.kind} head"))
            return
        tail = self._point(np.array(push.at) - length * way)
        self.shapes.append(arrow(tail, tip, push.kind, self.span / 40))
        self._reach(np.array([tail, tip]))
        if words:
            # at the free end, where no tube lies
            beyond = np.array(tail) - self.span / 30 * seen / np.linalg.norm(seen)
            anchor = "middle"
            if abs(seen[0]) > 0.5:
                anchor = "end" if seen[0] > 0 else "start"
            self._say(
                (float(beyond[0]), float(beyond[1]) - self.span / 90), words, "load-words", anchor
            )

    def _gauge(self, at: Array, letter: str) -> None:
        x, y = self._point(at)
        radius = self.span / 90
        self.shapes.append(circle((x, y), radius, "gauge"))
        self._say((x - 1.6 * radius, y + radius), letter, "gauge-words", "end")

    def _say(self, at: Flat, words: str, kind: str, anchor: str) -> None:
        self.labels.put(at, words, kind, anchor)
        left, low, right, high = self.labels.boxes[-1]
        self._reach(np.array([(left, low), (right, high)]))


def _labelled(pushes: Sequence[Arrow], camera: Camera, units: bool) -> Iterator[tuple[str, Arrow]]:
    """Each load with its words: said in the view that shows the arrow longest, those told together once."""
    for alike in together(pushes):
        seen = [float(np.linalg.norm(view.flat(np.array(alike[0].vector)))) for view in _VIEWS]
        # only where it is clearly longer: else both views would say it
        best = _VIEWS[int(seen[1] > seen[0] * _CLEARLY)]
        words = sum_words(alike, units) if camera is best else ""
        for push in alike:
            yield words, push
            words = ""
