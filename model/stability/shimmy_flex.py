"""What the frame gives between saddles, pedals, bars, rear axle and head, and the fork at its axle, for `shimmy`.

Static condensation of the beam model: a unit load for every motion that is kept, and what each does to all of them.
The frame's own mass is shared out to the places it is condensed to (`shimmy_setup`).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from math import radians

import numpy as np

from ..arrays import Array, Xyz
from ..cases.library import steering_lock
from ..cases.tools import CLAMPED
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import mesh
from ..mechanics.frame_model import FrameModel, LoadCase
from ..mechanics.result import Result
from ..mechanics.solve import solve
from .axes import road_axes
from .flexibility import Flex, Flexibility
from .lateral import Joint

Weights = dict[str, tuple[float, ...]]


def head_flex(
    bicycle: Bicycle, model: FrameModel | None = None, damping_ratio: float = 0.01
) -> Flex:
    """Flexibility of the head tube's middle against the rear axle, which is clamped (wheel kept upright).

    One number to speak of, as the trade does; the shimmy model itself takes `frame_give`.
    """
    layout = lay_out(bicycle)
    held = {"rear_axle": CLAMPED}
    flexibility = _flexibility(bicycle, layout, model, held, _head_motions(bicycle, layout))
    middle = _middle_of_head(layout)
    at = road_axes(bicycle.dimensions, float(middle[0]), float(middle[1]))
    # mm/N to m/N and rad/(N*mm) to rad/(N*m); the coupling, 1/N, is the same in both.
    slide = float(flexibility[0, 0]) / 1000
    turn = float(flexibility[1, 1]) * 1000
    return Flex(at, turn, slide, float(flexibility[0, 1]), damping_ratio)


def frame_give(
    bicycle: Bicycle, model: FrameModel | None = None, damping_ratio: float = 0.01
) -> Flexibility:
    """What the frame gives between the saddle, on which the rider sits, and rear axle, pedals and head.

    The saddle is the reference: everything moves against it. Rear axle and bottom bracket slide, yaw and lean, and so
    do saddle, bracket and bars of those who ride behind; the head slides and turns about the axis square to the
    steering axis, because a moment about the steering axis cannot pass the head bearings. Seat post and hub axle are in
    it.
    """
    kept = _frame_kept(bicycle, lay_out(bicycle))
    return _given(bicycle, model, kept, damping_ratio)


def fork_give(
    bicycle: Bicycle, model: FrameModel | None = None, damping_ratio: float = 0.01
) -> Flexibility:
    """What the fork gives at the front axle, the head tube clamped at both ends and the steering locked.

    Three motions, coupled as the beams couple them: a sideways slide and a turn about the axis square to the
    steering axis (bending), and a turn about the steering axis itself (twist of blades, crown and steerer).
    """
    kept = _fork_kept(bicycle, lay_out(bicycle))
    return _given(bicycle, model, kept, damping_ratio)


@dataclass(frozen=True)
class _Kept:
    """The motions that a condensation keeps, the joint that each becomes, and what is held."""

    held: Mapping[str, tuple[int, ...]]
    motions: Sequence[Weights]
    joints: Sequence[Joint]

    @property
    def sizes(self) -> Array:
        """(n,) for m and rad: a slide's size is mm, a turn's is rad per N*mm."""
        return np.array(
            [1000.0**-0.5 if joint.axis is None else 1000.0**0.5 for joint in self.joints]
        )


def frame_fields(bicycle: Bicycle, model: FrameModel) -> Array:
    """(motions, nodes, 3) mm: how every node of the mesh moves against the saddle per m or rad of each frame joint."""
    return _fields(bicycle, model, _frame_kept(bicycle, lay_out(bicycle)))


def fork_fields(bicycle: Bicycle, model: FrameModel) -> Array:
    """(motions, nodes, 3) mm: how every node moves against a clamped head tube per m or rad of each fork joint."""
    return _fields(bicycle, model, _fork_kept(bicycle, lay_out(bicycle)))


def _fields(bicycle: Bicycle, model: FrameModel, kept: _Kept) -> Array:
    """The shape that the beams take where the kept motions have given sizes and nothing else is loaded."""
    results = _unit_loads(bicycle, lay_out(bicycle), model, kept.held, kept.motions)
    under_loads = np.array([result.u[:, :3] for result in results])
    moves = []
    for result in results:
        moves.append([_moved(result, motion) for motion in kept.motions])
    flexibility = np.array(moves)
    # Loads that make one kept motion of size 1 and none of the others, mm or rad.
    fields = np.tensordot(np.linalg.inv(flexibility), under_loads, axes=1)
    per_metre = np.array([1000.0 if joint.axis is None else 1.0 for joint in kept.joints])
    return np.asarray(fields * per_metre[:, None, None])


def _frame_kept(bicycle: Bicycle, layout: FrameLayout) -> _Kept:
    d = bicycle.dimensions
    across = _across(bicycle)
    head = _head_motions(bicycle, layout)
    middle = _middle_of_head(layout)
    motions: list[Weights] = []
    joints: list[Joint] = []
    places = [("rear", "rear_axle"), ("pedals", "bottom_bracket")]
    for rider in bicycle.plan.followers:
        places += [(rider.saddle, rider.saddle), (rider.bracket, rider.bracket)]
    for place, node in places:
        # Yaw is about the axis down; in the layout y is up.
        motions += [{node: _sideways(1.0)}, {node: _turn(0.0, -1.0)}, {node: _turn(1.0, 0.0)}]
        joints += _slide_yaw_lean(bicycle, place, layout.joints[node])
    for rider in bicycle.plan.followers:
        motions += _bar_motions(layout, rider.bars)
        joints += _slide_yaw_lean(bicycle, rider.bars, layout.joints[f"{rider.bars}_right"])
    head_at = road_axes(d, float(middle[0]), float(middle[1]))
    joints += [Joint("head slide", None), Joint("head turn", across, head_at)]
    motions += head
    return _Kept({"saddle": CLAMPED}, motions, joints)


def _slide_yaw_lean(bicycle: Bicycle, place: str, at: Xyz) -> Iterator[Joint]:
    point = road_axes(bicycle.dimensions, at[0], at[1])
    yield Joint(f"{place} slide", None)
    yield Joint(f"{place} yaw", (0.0, 1.0), point)
    yield Joint(f"{place} lean", (1.0, 0.0), point)


def _bar_motions(layout: FrameLayout, bars: str) -> list[Weights]:
    """Slide, yaw and lean of a bar, from its two ends."""
    right = f"{bars}_right"
    left = f"{bars}_left"
    wide = layout.joints[right][2] - layout.joints[left][2]
    # A yaw about the axis down moves the right end back, a lean moves it down.
    return [
        {right: _sideways(0.5), left: _sideways(0.5)},
        {right: _along(-1 / wide, 0.0), left: _along(1 / wide, 0.0)},
        {right: _along(0.0, -1 / wide), left: _along(0.0, 1 / wide)},
    ]


def _along(forward: float, up: float) -> tuple[float, ...]:
    return (forward, up, 0.0, 0.0, 0.0, 0.0)


def _fork_kept(bicycle: Bicycle, layout: FrameLayout) -> _Kept:
    d = bicycle.dimensions
    forward, down = _across(bicycle)
    x, y, _ = layout.joints["front_axle"]
    at = road_axes(d, x, y)
    node = "front_axle"
    motions: list[Weights] = [
        {node: _sideways(1.0)},
        # The layout's y is up, the shimmy model's z down: the second component changes sign.
        {node: _turn(forward, -down)},
        {node: _turn(-down, -forward)},
    ]
    joints = [
        Joint("fork slide", None),
        Joint("fork turn", (forward, down), at),
        Joint("fork twist", (-down, forward), at),
    ]
    held = {layout.node(f"head_tube_{end}"): CLAMPED for end in ("top", "bottom")}
    return _Kept(held, motions, joints)


def _across(bicycle: Bicycle) -> tuple[float, float]:
    """The axis square to the steering axis, forward and up, in the (forward, down) axes of `whipple`."""
    tilt = np.pi / 2 - radians(bicycle.dimensions.head_angle)
    return float(np.cos(tilt)), -float(np.sin(tilt))


def _turn(forward: float, up: float) -> tuple[float, ...]:
    """A unit turn about an axis of the side view."""
    return (0.0, 0.0, 0.0, forward, up, 0.0)


def _head_motions(bicycle: Bicycle, layout: FrameLayout) -> list[Weights]:
    """Sideways at the middle of the head tube, and its turn square to the steering axis, from its two ends."""
    top = layout.node("head_tube_top")
    bottom = layout.node("head_tube_bottom")
    length = bicycle.dimensions.head_tube
    return [
        {top: _sideways(0.5), bottom: _sideways(0.5)},
        {top: _sideways(1 / length), bottom: _sideways(-1 / length)},
    ]


def _middle_of_head(layout: FrameLayout) -> Array:
    ends = [layout.joints["head_tube_top"], layout.joints["head_tube_bottom"]]
    return np.asarray(np.mean(ends, axis=0))


def _sideways(value: float) -> tuple[float, ...]:
    return (0.0, 0.0, value, 0.0, 0.0, 0.0)


def _given(
    bicycle: Bicycle, model: FrameModel | None, kept: _Kept, damping_ratio: float
) -> Flexibility:
    """The flexibility in m and rad."""
    layout = lay_out(bicycle)
    flexibility = _flexibility(bicycle, layout, model, kept.held, kept.motions)
    scaled = flexibility * np.outer(kept.sizes, kept.sizes)
    return Flexibility(tuple(kept.joints), scaled, damping_ratio)


def _flexibility(
    bicycle: Bicycle,
    layout: FrameLayout,
    model: FrameModel | None,
    held: Mapping[str, tuple[int, ...]],
    motions: Sequence[Weights],
) -> Array:
    """(n, n) in mm, rad, N, N*mm; each motion is weighted like its unit load, so the matrix is symmetric."""
    results = _unit_loads(bicycle, layout, model, held, motions)
    # Flexibility, row: what is loaded, column: what moves; Maxwell makes it symmetric.
    rows = []
    for result in results:
        rows.append([_moved(result, motion) for motion in motions])
    found = np.array(rows)
    return np.asarray((found + found.T) / 2)


def _unit_loads(
    bicycle: Bicycle,
    layout: FrameLayout,
    model: FrameModel | None,
    held: Mapping[str, tuple[int, ...]],
    motions: Sequence[Weights],
) -> list[Result]:
    """What a unit load for each motion does, in their order."""
    # Unlocked, the steering would be a mechanism without stiffness.
    lock = (steering_lock(bicycle, layout),)
    cases = [
        LoadCase(str(number), nodal=load, supports=held, springs=lock)
        for number, load in enumerate(motions)
    ]
    if model is None:
        whole = mesh(bicycle, layout=layout)
    else:
        whole = model
    nodes = [node for load in motions for node in load]
    missing = [node for node in (*held, *nodes) if node not in whole.node_index]
    if missing:
        raise ModelError(f"the model has no node {missing[0]}; give the mesh of this bicycle")
    return list(solve(whole, cases).values())


def _moved(result: Result, motion: Mapping[str, Sequence[float]]) -> float:
    """How far the nodes of a motion go along it."""
    return sum(float(np.dot(way, result.displacement(node))) for node, way in motion.items())
