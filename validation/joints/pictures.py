"""Pictures of the study's meshes for VALIDATION.md. ``python -m ...joints.pictures``"""

from __future__ import annotations

import json
from typing import Any

import numpy as np

from ...model.arrays import Array
from ...model.frame.layout import lay_out
from . import whole_frame
from .front_triangle import Triangle, triangle_mesh
from .meshing import TubeMesh, mesh_pipes
from .published_joints import PUBLISHED
from .results import REFERENCE, RESULTS
from .shell import ShellSolver, TubeRing

_COLOURS = (
    *("#8fa3ad", "#c9a66b", "#7fae8c", "#b98080", "#8d85b5"),
    *("#a8a37a", "#a8a37a", "#7aa0a8", "#7aa0a8"),
)
_LIGHT = np.array([-0.35, 0.3, 0.89])
_SHIFT = 0.12  # of the chord's diameter: the largest movement shown


def front_triangle_picture() -> None:
    """The base geometry on a mesh coarse enough to be seen."""
    from matplotlib.figure import Figure

    data = json.loads(REFERENCE.read_text(encoding="utf-8"))
    triangle = Triangle.from_data(data["geometries"]["base"])
    figure = Figure(figsize=(9.0, 7.5))
    axes = figure.add_subplot(projection="3d")
    tubes = triangle_mesh(triangle, 5.0, 8.0)
    _draw(axes, tubes, tubes.mesh.points, view=(68.0, -90.0))
    figure.savefig(RESULTS.with_name("front_triangle.png"), dpi=110, bbox_inches="tight")


def single_joint_picture() -> None:
    """A top tube on a head tube, and the same under a moment that bends it sideways, movements drawn large."""
    from matplotlib.figure import Figure

    joint = PUBLISHED[1].joint
    chord, branch = joint.pipes()
    tubes = mesh_pipes(joint.pipes(), 2.6, 4.0)
    points = tubes.mesh.points
    held = [chord.ring_at(points, chord.start), chord.ring_at(points, chord.end)]
    tip = TubeRing(branch.ring_at(points, branch.end), branch.end, rigid=False)
    solver = ShellSolver(tubes.mesh, held, [tip])
    # A moment about x, the chord's axis, bends the branch out of the plane of both.
    moved = solver.displacements(solver.ring_loads()[:, [3]]).reshape(-1, 6)[:, :3]
    # Scaled by what moves near the joint: the branch's tip moves most and would hide the dent.
    near = np.linalg.norm(points, axis=1) < 1.2 * joint.chord_diameter
    moved *= _SHIFT * joint.chord_diameter / np.linalg.norm(moved[near], axis=1).max()
    figure = Figure(figsize=(11.0, 5.0))
    for place, shown in enumerate((points, points + moved), start=1):
        axes = figure.add_subplot(1, 2, place, projection="3d")
        _draw(axes, tubes, shown, view=(38.0, 35.0))
    figure.savefig(RESULTS.with_name("single_joint.png"), dpi=110, bbox_inches="tight")


def whole_frame_picture() -> None:
    """The tourer's frame, main and rear triangle, on a mesh coarse enough to be seen."""
    from matplotlib.figure import Figure

    bicycle = whole_frame.frames()[whole_frame.TOURER]
    body = whole_frame.frame_body(bicycle, lay_out(bicycle))
    tubes = body.meshed(5.0, 9.0)
    figure = Figure(figsize=(11.0, 8.0))
    axes = figure.add_subplot(projection="3d")
    _draw(axes, tubes, tubes.mesh.points, view=(64.0, -94.0))
    figure.savefig(RESULTS.with_name("whole_frame.png"), dpi=110, bbox_inches="tight")


def _draw(axes: Any, tubes: TubeMesh, points: Array, view: tuple[float, float]) -> None:
    from matplotlib.colors import to_rgb
    from mpl_toolkits.mplot3d.art3d import Poly3DCollection

    corners = points[tubes.mesh.triangles]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    # Either side of a triangle may face the eye, so the normal's sign is left out.
    shade = 0.55 + 0.45 * np.abs(normal @ _LIGHT)
    colours = np.array([to_rgb(_COLOURS[pipe]) for pipe in tubes.pipe_of]) * shade[:, None]
    # Drawn with the axes' z sideways: matplotlib's own z points up the page.
    faces = Poly3DCollection(corners, facecolors=colours, edgecolors="#202428", linewidths=0.15)
    axes.add_collection3d(faces)
    low = points.min(axis=0)
    high = points.max(axis=0)
    axes.set(xlim=(low[0], high[0]), ylim=(low[1], high[1]), zlim=(low[2], high[2]))
    axes.set_box_aspect(high - low, zoom=1.0)
    axes.view_init(*view)
    axes.set_axis_off()


if __name__ == "__main__":
    front_triangle_picture()
    single_joint_picture()
    whole_frame_picture()
