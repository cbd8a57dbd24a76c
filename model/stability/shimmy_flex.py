"""What the frame gives at the head and the fork at its axle, condensed from the beam model for `shimmy`.

Static condensation to two motions: sideways, and a turn about the axis square to the steering axis in the
frame's plane (forward and up). A moment about the steering axis itself cannot pass the head bearings, so none
is applied. Mass of the frame between rear axle and head is left with the rear body.
"""

from collections.abc import Mapping, Sequence
from math import radians

import numpy as np

from ..arrays import Array
from ..cases.library import steering_lock
from ..cases.tools import CLAMPED
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import mesh
from ..mechanics.frame_model import FrameModel, LoadCase
from ..mechanics.result import Result
from ..mechanics.solve import solve
from .shimmy import Flex
from .shimmy_setup import road_axes

Weights = dict[str, tuple[float, ...]]


def head_flex(
    bicycle: Bicycle, model: FrameModel | None = None, damping_ratio: float = 0.01
) -> Flex:
    """Flexibility of the head tube's middle against the rear axle, which is clamped (wheel kept upright).

    The rear body of the shimmy model is thereby the rear wheel with the rider on it; what the frame gives
    between saddle and rear axle counts into the head.
    """
    layout = lay_out(bicycle)
    top = layout.node("head_tube_top")
    bottom = layout.node("head_tube_bottom")
    length = bicycle.dimensions.head_tube
    push: Weights = {top: _sideways(0.5), bottom: _sideways(0.5)}
    turn: Weights = {top: _sideways(1 / length), bottom: _sideways(-1 / length)}
    middle = np.mean([layout.joints["head_tube_top"], layout.joints["head_tube_bottom"]], axis=0)
    return _condense(
        bicycle, layout, model, {"rear_axle": CLAMPED}, push, turn, middle, damping_ratio
    )


def fork_flex(
    bicycle: Bicycle, model: FrameModel | None = None, damping_ratio: float = 0.01
) -> Flex:
    """Flexibility of the front axle against the head tube, which is clamped at both ends, steering locked.

    The fork's own twist about the steering axis is not in it; it adds to the steering angle of the wheel.
    """
    layout = lay_out(bicycle)
    tilt = np.pi / 2 - radians(bicycle.dimensions.head_angle)
    push: Weights = {"front_axle": _sideways(1.0)}
    turn: Weights = {"front_axle": (0.0, 0.0, 0.0, float(np.cos(tilt)), float(np.sin(tilt)), 0.0)}
    held = {layout.node(f"head_tube_{end}"): CLAMPED for end in ("top", "bottom")}
    at = np.array(layout.joints["front_axle"])
    return _condense(bicycle, layout, model, held, push, turn, at, damping_ratio)


def _sideways(value: float) -> tuple[float, ...]:
    return (0.0, 0.0, value, 0.0, 0.0, 0.0)


def _condense(
    bicycle: Bicycle,
    layout: FrameLayout,
    model: FrameModel | None,
    held: Mapping[str, tuple[int, ...]],
    push: Weights,
    turn: Weights,
    point: Array,
    damping_ratio: float,
) -> Flex:
    """Unit push (N) and unit turn (N*mm); the motions are weighted like the loads, so the matrix is symmetric."""
    lock = (steering_lock(bicycle, layout),)
    cases = [
        LoadCase(name, nodal=load, supports=held, springs=lock)
        for name, load in (("push", push), ("turn", turn))
    ]
    if model is None:
        whole = mesh(bicycle, layout=layout)
    else:
        whole = model
    missing = [node for node in (*held, *push) if node not in whole.node_index]
    if missing:
        raise ModelError(f"the model has no node {missing[0]}; give the mesh of this bicycle")
    results = solve(whole, cases)
    # Flexibility, row: what is loaded, column: what moves; Maxwell makes it symmetric.
    c = np.zeros((2, 2))
    for row, case in enumerate(("push", "turn")):
        for column, motion in enumerate((push, turn)):
            c[row, column] = _moved(results[case], motion)
    at = road_axes(bicycle.dimensions, float(point[0]), float(point[1]))
    return Flex(at, float(c[1, 1]) * 1000, float(c[0, 0]) / 1000, float(c[0, 1]), damping_ratio)


def _moved(result: Result, motion: Mapping[str, Sequence[float]]) -> float:
    """How far the nodes of a motion go along it."""
    return sum(float(np.dot(way, result.displacement(node))) for node, way in motion.items())
