"""The frame in space on a flat page: parallel projection, tubes as shaded cylinders, nearer ones over farther ones."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ....model.arrays import Array
from ....model.geometry.dimensions import FrameDimensions
from ....model.mechanics.beam import Beams
from ....model.mechanics.frame_model import FrameModel
from ...files.drafting.projection import Camera, wheel_ring, wheels
from ...files.outside import half_sizes
from .style import FAINT, GREY, INK, STEEL

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Piece = tuple[Array, Any, Any]  # polygon (n, 2), colour of the face, colour of the edge
# where the lamp stands: above, a little to the front and to the right
_LIGHT = np.array([0.25, 0.85, 0.46])
# where the shade changes across a tube, -1 to 1
_STOPS = np.sin(np.linspace(-np.pi / 2, np.pi / 2, 7))
_ROUND = np.linspace(0, 2 * np.pi, 20, endpoint=False)


# from the front right and above; all three axes shortened alike
ISOMETRIC = Camera.at(1.0, 1.0, 1.0)
FLATTER = Camera.at(0.6, 0.45, 1.0)  # for shapes that move in and across the plane of the frame


def bare(axes: "Axes") -> "Axes":
    """Only the drawing: equal scales, no frame round it."""
    axes.set_aspect("equal")
    axes.axis("off")
    return axes


def draw_tubes(
    axes: "Axes",
    camera: Camera,
    model: FrameModel,
    xyz: Array | None = None,
    colours: Sequence[Any] | Array | None = None,
) -> None:
    """Every element as a cylinder of its outside diameter.

    xyz : (n, 3) places of the nodes, default those of the model. colours : one per element, default bare steel.
    """
    from matplotlib.collections import PolyCollection
    from matplotlib.colors import to_rgb

    if xyz is None:
        xyz = model.xyz
    else:
        xyz = xyz
    sizes = half_sizes(model)
    turns = Beams.of(model).rotation
    # an end that meets no other element: only there is a tube's bore to be seen
    free = np.bincount(model.ends.ravel(), minlength=len(xyz)) == 1
    # a steerer lies inside its head tube
    nearness = xyz[model.ends].mean(axis=1) @ camera.out + sizes.max(axis=1)
    pieces: list[Piece] = []
    # far to near, so that what is nearer is painted over; stable, so that no run differs
    for k in np.argsort(nearness, kind="stable"):
        ends = model.ends[k]
        colour = np.array(to_rgb(STEEL if colours is None else colours[k]))
        pieces += _Rod(camera, xyz[ends], turns[k], sizes[k], colour).pieces(free[ends])
    polygons, faces, edges = zip(*pieces, strict=True)
    axes.add_collection(
        PolyCollection(polygons, facecolors=faces, edgecolors=edges, linewidths=0.5, zorder=2)
    )
    axes.autoscale_view()


@dataclass(frozen=True, eq=False)
class _Rod:
    """An elliptical cylinder on the page. ends (2, 3), local (3, 3) axes, half (2,) half height and width."""

    camera: Camera
    ends: Array
    local: Array
    half: Array
    colour: Array

    def pieces(self, free: Array) -> list[Piece]:
        """What to paint, one over the other; an open end shows only where it faces the eye."""
        # which end faces the eye: the one that looks away is hidden by the tube itself
        away = float((self.ends[1] - self.ends[0]) @ self.camera.out)
        caps = [self._cap(k) for k in (0, 1) if free[k] and away * (1, -1)[k] < 0]
        return [*self._side(), *caps]

    def _cap(self, end: int) -> Piece:
        rim = (
            self.half[0] * np.cos(_ROUND)[:, None] * self.local[1]
            + self.half[1] * np.sin(_ROUND)[:, None] * self.local[2]
        )
        return self.camera.flat(self.ends[end] + rim), tuple(0.6 * self.colour), INK

    def _side(self) -> list[Piece]:
        """Shaded strips from one edge to the other, then both edges as lines."""
        a, b = self.ends
        length = np.linalg.norm(b - a)
        across = np.cross(self.camera.out, b - a)
        if np.linalg.norm(across) < 1e-3 * length:
            return [(self._cap(0)[0], tuple(self.colour), INK)]  # seen end on
        across /= np.linalg.norm(across)
        # the side towards the eye, square to the tube and to the page's across
        near = np.cross(b - a, across) / length
        # half width of an ellipse seen from here
        width = np.hypot(*(self.half * (self.local[1:] @ across)))
        flat_a, flat_b, wide = self.camera.flat(np.array([a, b, width * across]))
        out: list[Piece] = []
        # the shade hangs on where the strip faces, as on a cylinder
        for low, high in itertools.pairwise(_STOPS):
            normal = (low + high) / 2 * across + np.sqrt(1 - ((low + high) / 2) ** 2) * near
            quad = np.array(
                [
                    flat_a + low * wide,
                    flat_b + low * wide,
                    flat_b + high * wide,
                    flat_a + high * wide,
                ]
            )
            shade = tuple(
                np.minimum(self.colour * (0.62 + 0.5 * max(0.0, float(normal @ _LIGHT))), 1.0)
            )
            out.append((quad, shade, shade))
        return out + [
            (np.array([flat_a + s * wide, flat_b + s * wide]), "none", INK) for s in (-1, 1)
        ]


def draw_at_rest(axes: "Axes", camera: Camera, model: FrameModel) -> None:
    """Every element as a thin line: the unloaded shape behind a moved one."""
    from matplotlib.collections import LineCollection

    lines = [camera.flat(model.xyz[ends]) for ends in model.ends]
    axes.add_collection(LineCollection(lines, colors=GREY, linewidths=0.8, zorder=1))
    axes.autoscale_view()


def draw_wheels(axes: "Axes", camera: Camera, d: FrameDimensions) -> None:
    """Both tyres as circles in the frame's plane."""
    for wheel in wheels(d):
        axes.plot(*camera.flat(wheel_ring(*wheel)).T, color=FAINT, linewidth=1.0, zorder=0)
