"""How every place of frame, fork, wheels and rider moves in a wobble, for pictures: the lateral model unfolded.

A shimmy model knows joints; a picture wants places. The frame and the fork bend as the beams do where the kept motions
have given sizes (static condensation read backwards); wheels, bar and rider turn as bodies. Layout axes and mm outside,
the axes of `whipple` and m inside.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from ..arrays import Array
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..geometry.dimensions import FrameDimensions
from ..mechanics.frame_model import FrameModel
from .lateral import GROUND, Joint
from .rider import LeaningRider
from .shimmy import ShimmyBicycle
from .shimmy_flex import fork_fields, frame_fields
from .speed_map import SpeedMap

_RIM_POINTS = 37  # of a wheel's circle, first and last alike
_SHOULDERS = 380.0  # mm across (common practice, no source; for the picture alone)
_NECK = 160.0  # mm from shoulders to the middle of the head
_HEAD = 110.0  # mm, its radius
_TRUNK = 2.0  # height of the shoulders above the saddle over that of the leaning body's centre


Complex = NDArray[np.complex128]
Flags = NDArray[np.bool_]


@dataclass(frozen=True)
class Moving:
    """Places (p, 3) mm of the layout, and how each moves per m or rad of every joint: (joints, p, 3) mm."""

    places: Array
    by: Array


def moving_frame(bicycle: Bicycle, model: FrameModel, made: ShimmyBicycle) -> Moving:
    """The nodes of a mesh of the bicycle."""
    places = np.asarray(model.xyz)
    joints = made.model.joints
    front = _front_nodes(model)
    names = [joint.name for joint in joints]
    by = _rigid(bicycle.dimensions, places, joints, [joint.name for joint in GROUND])
    carried = [name for name in names if name.split()[0] in ("head", "steer")]
    by[:, front] += _rigid(bicycle.dimensions, places[front], joints, carried)
    for fields, part, where in (
        (frame_fields(bicycle, model), made.head, ~front),
        (fork_fields(bicycle, model), made.fork, front),
    ):
        own = getattr(part, "joints", ())
        # A rigid part, or a plain hinge, has no shape of its own.
        for joint, field in zip(own, fields, strict=False):
            by[names.index(joint.name)][where] += field[where]
    return Moving(places, by)


def moving_wheels(bicycle: Bicycle, made: ShimmyBicycle) -> tuple[Moving, Moving]:
    """The circles of rear and front wheel."""
    d = bicycle.dimensions
    turn = np.linspace(0, 2 * pi, _RIM_POINTS)
    chains = {"rear": ("rear",), "front": ("head", "steer", "fork", "front")}
    axles = {
        "rear": (d.rear_axle, d.wheel_radius_rear),
        "front": (d.front_axle, d.wheel_radius_front),
    }
    found = []
    for end, words in chains.items():
        axle, radius = axles[end]
        places = np.column_stack(
            [axle.x + radius * np.cos(turn), axle.y + radius * np.sin(turn), np.zeros_like(turn)]
        )
        found.append(Moving(places, _riding(d, places, made, words)))
    return found[0], found[1]


@dataclass(frozen=True)
class MovingRider:
    """A rider in strokes: trunk with shoulders and head, and each arm from shoulder to the bar's end."""

    trunk: Moving
    shoulders: Moving
    head: Moving
    arms: tuple[Moving, Moving]


def moving_riders(bicycle: Bicycle, made: ShimmyBicycle) -> Iterator[MovingRider]:
    """The upper bodies of the riders who lean by themselves. Proportions are for the picture alone."""
    if made.rider is not None:
        yield _moving_rider(bicycle, made, made.rider, ((), ("head", "steer")))
    for one in made.behind:
        yield _moving_rider(bicycle, made, one.rider, ((one.saddle,), (one.bar,)))


def _moving_rider(
    bicycle: Bicycle,
    made: ShimmyBicycle,
    rider: LeaningRider,
    places: tuple[Sequence[str], Sequence[str]],
) -> MovingRider:
    """One of them. places : of the joints that his saddle and his bar ride on."""
    d = bicycle.dimensions
    layout = lay_out(bicycle)
    sits = next(one for one in bicycle.plan.riders if one.name == rider.name)
    on_saddle, on_bar = places
    saddle = np.array(layout.joints[sits.saddle])
    # The leaning body's centre of mass lies between saddle and shoulders.
    centre = _back(d, rider.body.x, rider.body.z)
    shoulders = saddle + _TRUNK * (centre - saddle)
    neck = (shoulders - saddle) / np.linalg.norm(shoulders - saddle)
    turn = np.linspace(0, 2 * pi, 13)
    face = shoulders + _NECK * neck
    circle = face + _HEAD * np.column_stack([np.cos(turn), np.sin(turn), np.zeros_like(turn)])
    ends = shoulders + np.outer((-_SHOULDERS / 2, _SHOULDERS / 2), (0.0, 0.0, 1.0))

    def leaning(spots: Array) -> Moving:
        return Moving(spots, _riding(d, spots, made, (*on_saddle, rider.name)))

    arms = []
    for end, node in zip(ends, (f"{sits.bars}_left", f"{sits.bars}_right"), strict=True):
        hand = np.array([layout.joints[node]])
        bar = _riding(d, hand, made, on_bar)
        shoulder = leaning(end[None, :])
        by = np.concatenate([shoulder.by, bar], axis=1)
        arms.append(Moving(np.vstack([end, hand[0]]), by))
    return MovingRider(
        leaning(np.vstack([saddle, shoulders])), leaning(ends), leaning(circle), (arms[0], arms[1])
    )


def amplitudes(made: ShimmyBicycle, v: float, root: complex) -> Complex:
    """(joints,) of the mode at a root, sideways and yaw in space included; steering is 1."""
    values, shapes = np.linalg.eig(made.state_matrix(v))
    k = int(np.argmin(np.abs(values - root)))
    names = made.model.names
    count = len(names)
    free = shapes[: count - 2, k]
    sideways_rate, yaw_rate = shapes[count - 2 : count, k]
    yaw = yaw_rate / values[k]
    # Sideways speed is counted along the bicycle's own axis; in space its heading carries it along.
    sideways = (sideways_rate + v * yaw) / values[k]
    whole = np.concatenate([[sideways, yaw], free])
    return np.asarray(whole / whole[names.index("steer")])


def followed(seen: SpeedMap) -> list[Complex | None]:
    """`amplitudes` of the wobble at every speed of a map; None where there is no such oscillation."""
    shapes: list[Complex | None] = []
    for v, root in zip(seen.speeds, seen.wobble, strict=True):
        if np.isnan(root):
            shapes.append(None)
        else:
            shapes.append(amplitudes(seen.bicycle, float(v), complex(root)))
    return shapes


def _front_nodes(model: FrameModel) -> Flags:
    """(nodes,) whether a node turns with the bar: what hangs together with the stem, bearings left out."""
    pairs = [(e.i, e.j) for e in model.elements]
    pairs += [(link.master, link.slave) for link in model.rigid_links]
    index = model.node_index
    at = np.array([[index[one], index[other]] for one, other in pairs])
    size = len(model.nodes)
    joined = coo_matrix((np.ones(len(at)), (at[:, 0], at[:, 1])), shape=(size, size))
    _, piece = connected_components(joined, directed=False)
    return np.asarray(piece == piece[index["stem_clamp"]])


def _riding(d: FrameDimensions, places: Array, made: ShimmyBicycle, words: Sequence[str]) -> Array:
    """Places that ride as one body on the ground's joints and on those whose name begins with one of `words`."""
    joints = made.model.joints
    ground = [joint.name for joint in GROUND]
    # "rear bags" ride on the rear axle; the wheel does not ride on them
    bags = [rack.name for rack in made.racks]
    own = [joint.name for joint in joints if joint.name not in bags]
    carried = [name for name in own if name.split()[0] in words]
    return _rigid(d, places, joints, [*ground, *carried])


def _rigid(d: FrameDimensions, places: Array, joints: Sequence[Joint], on: Sequence[str]) -> Array:
    """(joints, p, 3) mm per m or rad: places of one body that rides on the named joints."""
    x = (places[:, 0] - d.rear_axle.x) / 1000
    y = places[:, 2] / 1000
    z = (d.ground_y - places[:, 1]) / 1000
    by = np.zeros((len(joints), len(places), 3))
    for k, joint in enumerate(joints):
        if joint.name not in on:
            continue
        if joint.axis is None:
            by[k, :, 2] = 1000.0
            continue
        along, down = joint.axis
        px, pz = joint.point
        # axis x (place - point); then forward, up, right in mm
        by[k, :, 0] = -1000 * down * y
        by[k, :, 1] = -1000 * along * y
        by[k, :, 2] = 1000 * (down * (x - px) - along * (z - pz))
    return by


def _back(d: FrameDimensions, x: float, z: float) -> Array:
    """A point of the middle plane in the layout, mm, from the axes of `whipple`."""
    return np.array([1000 * x + d.rear_axle.x, d.ground_y - 1000 * z, 0.0])
