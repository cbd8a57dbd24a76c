"""The scene drawn flat, as SVG: for paper, for browsers without 3-D, and as the small picture beside a load case."""

from collections.abc import Callable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import numpy as np

from ....model.arrays import Array
from ...files.drafting.paper import Flat
from ...files.drafting.projection import Camera, wheel_ring
from .labels import PageWords
from .scene import CORNER, SCALE
from .svg import arrow, circle, path, picture

Look = tuple[float, str]  # width and colour of a stroke
SIDE = (0.0, 0.0, 1.0)
_BEYOND = 45.0  # mm from an arrow's free end to its words


class BuiltFrame:
    """The frame as built, drawn once for every view of it, however many load cases show it."""

    def __init__(self, scene: Mapping[str, Any]) -> None:
        self.scene = scene
        self.xyz = np.array(scene["nodes"])
        self._tubes: dict[Camera, str] = {}
        self._lines: dict[Camera, str] = {}

    def tubes(self, camera: Camera) -> str:
        """Every tube as wide as it is."""
        if camera not in self._tubes:
            depth = self.xyz @ camera.out
            drawn = tubes(self.scene, camera.flat(self.xyz), depth, None)
            self._tubes[camera] = "".join(drawn)
        return self._tubes[camera]

    def lines(self, camera: Camera) -> str:
        """The whole frame as one thin drawing, to stand behind a moved one."""
        if camera not in self._lines:
            depth = self.xyz @ camera.out
            flat = camera.flat(self.xyz)
            # one look for all
            runs = _runs(self.scene["elements"], depth, lambda _: (0.0, ""))
            self._lines[camera] = "".join(_stroke(flat, nodes, "rest") for _, nodes in runs)
        return self._lines[camera]


@lru_cache(maxsize=8)
def _camera(eye: Sequence[float]) -> Camera:
    return Camera.at(*eye)


def still(
    scene: Mapping[str, Any],
    case: Mapping[str, Any] | None = None,
    eye: Sequence[float] = CORNER,
    built_frame: BuiltFrame | None = None,
) -> str:
    """The frame seen from `eye`; with a case also moved, coloured by movement, with loads and supports.

    built_frame : of the same scene, where several pictures show it.
    """
    camera = _camera(tuple(eye))
    as_built = built_frame or BuiltFrame(scene)
    xyz = np.array(scene["nodes"])
    shapes = _wheels(scene, camera)
    # how far towards the eye each node lies, for the order of painting
    depth = xyz @ camera.out
    built = camera.flat(xyz)
    if case is None:
        shown = built
        shapes.append(as_built.tubes(camera))
    else:
        # the moved frame over the one as built, as in the 3-D view
        u = np.array(case["u"])
        shown = camera.flat(xyz + case["times"] * u)
        shapes.append(as_built.lines(camera))
        shapes += tubes(scene, shown, depth, np.linalg.norm(u, axis=1))
        shapes += _loads(scene, case, camera)
    low, high = _box(scene, case, np.vstack([built, shown]), camera)
    return picture(shapes, low, high, "The frame as built" if case is None else still_words(case))


def still_words(case: Mapping[str, Any]) -> str:
    """Caption of a still with a case."""
    return f"{case['title']}. Grey: as built. Coloured: under load, movement drawn {case['times']:,.6g} times larger."


# --- shapes ---------------------------------------------------------------------------------------------------
def tubes(scene: Mapping[str, Any], flat: Array, depth: Array, movement: Array | None) -> list[str]:
    """Every tube as strokes as wide as it is, the far tubes first; all outlines below all fills."""
    edge = float(scene["span"]) / 300
    if movement is None:
        kind = "tube"
    else:
        kind = "lit"
    if movement is None:
        largest = 1.0
    else:
        largest = float(movement.max()) or 1.0

    def look(e: Sequence[float]) -> Look:
        if movement is None:
            share = 0.0
        else:
            # the mean of both ends: a stroke has one colour
            share = float(movement[int(e[0])] + movement[int(e[1])]) / (2 * largest)
        # half the height is kept, a stroke is as wide as the whole
        return 2 * e[2], "" if movement is None else _colour(share)

    runs = _runs(scene["elements"], depth, look)
    # all dark edges first: no tube's edge then lies over another tube
    edges = [_stroke(flat, nodes, "edge", wide + edge) for (wide, _), nodes in runs]
    tubes = [_stroke(flat, nodes, kind, wide, colour) for (wide, colour), nodes in runs]
    return [*edges, *tubes]


def _runs(
    elements: Sequence[Sequence[float]], depth: Array, look: Callable[[Sequence[float]], Look]
) -> list[tuple[Look, list[int]]]:
    """Chains of nodes along elements that look alike, tube by tube from far to near."""
    # by tube and not by element, so that no tube is woven into another
    far: dict[float, list[float]] = {}
    for e in elements:
        far.setdefault(e[7], []).append(float(depth[int(e[0])] + depth[int(e[1])]))
    middle = {tube: float(np.mean(depths)) for tube, depths in far.items()}
    runs: list[tuple[Look, list[int]]] = []
    for e in sorted(elements, key=lambda e: middle[e[7]]):
        i = int(e[0])
        j = int(e[1])
        here = look(e)
        # one path for each run keeps the page small, and no seams show
        if runs and runs[-1][0] == here and runs[-1][1][-1] == i:
            runs[-1][1].append(j)
        else:
            runs.append((here, [i, j]))
    return runs


def _stroke(
    flat: Array, nodes: Sequence[int], kind: str, width: float | None = None, colour: str = ""
) -> str:
    return path([(float(flat[k, 0]), float(flat[k, 1])) for k in nodes], kind, width, colour)


def _colour(share: float) -> str:
    """The colour of a share of the largest movement, as the 3-D view has it."""
    return SCALE[min(int(share * len(SCALE)), len(SCALE) - 1)]


def _wheels(scene: Mapping[str, Any], camera: Camera) -> list[str]:
    return [
        # 48 sides: a wheel shows no corners at this size, and the page stays small
        path(_points(camera, wheel_ring(*wheel, sides=48)), "wheel")
        for wheel in scene["wheels"]
    ]


def _points(camera: Camera, xyz: Array) -> list[Flat]:
    return [(float(x), float(y)) for x, y in camera.flat(xyz)]


def _point(camera: Camera, xyz: Sequence[float] | Array) -> Flat:
    return _points(camera, np.array([xyz]))[0]


def _loads(scene: Mapping[str, Any], case: Mapping[str, Any], camera: Camera) -> list[str]:
    """Supports where they are, arrows and their words on the moved frame."""
    span = float(scene["span"])
    # arrows ride on the moved frame, supports stay where they hold
    shift = _shifts(case)
    shapes = [
        circle(_point(camera, mark["at"]), span / 110, "support") for mark in case["supports"]
    ]
    for a in case["arrows"]:
        tail, tip = (_point(camera, np.add(a[end], shift(a["node"]))) for end in ("tail", "tip"))
        shapes.append(arrow(tail, tip, a["kind"], span / 40))
    return [*shapes, *_labels(scene, case, camera).shapes]


def _labels(scene: Mapping[str, Any], case: Mapping[str, Any], camera: Camera) -> PageWords:
    """The words of every load beyond the free end of its arrow."""
    shift = _shifts(case)
    labels = PageWords()
    for words in case["labels"]:
        x, y = _point(camera, _place(words, shift))
        at = (x, y - float(scene["span"]) / 100)
        labels.put(at, words["words"], "load-words", _anchor(words, camera))
    return labels


def _anchor(words: Mapping[str, Any], camera: Camera) -> str:
    """Words stand beyond the arrow: to its right they begin, to its left they end."""
    aside = float(np.dot(words["way"], camera.right))
    if abs(aside) < 0.3:
        return "middle"
    if aside > 0:
        return "start"
    return "end"


def _shifts(case: Mapping[str, Any]) -> Callable[[int], Array]:
    """How far a node moves on the picture; nothing for -1."""
    moved = case["times"] * np.array(case["u"])
    return lambda node: moved[node] if node >= 0 else np.zeros(3)


def _place(words: Mapping[str, Any], shift: Callable[[int], Array]) -> Array:
    """A little beyond the free end of the arrow."""
    return np.asarray(np.add(words["at"], shift(words["node"])) + _BEYOND * np.array(words["way"]))


def _box(
    scene: Mapping[str, Any], case: Mapping[str, Any] | None, flat: Array, camera: Camera
) -> tuple[Flat, Flat]:
    """Lower left and upper right corner of all that is drawn, with a margin for the words."""
    points = [flat, *(camera.flat(wheel_ring(*wheel, sides=48)) for wheel in scene["wheels"])]
    if case is not None and case["labels"]:
        boxes = _labels(scene, case, camera).boxes
        points.append(np.reshape(boxes, (-1, 2)))
    all_of_them = np.vstack(points)
    margin = float(scene["span"]) / 22
    # a label at the edge must not be cut off
    x0, y0 = all_of_them.min(axis=0) - margin
    x1, y1 = all_of_them.max(axis=0) + margin
    return (float(x0), float(y0)), (float(x1), float(y1))
