"""What load cases are made of: forces carried to nodes, the locked steering, measures, the usual supports.

Loads that act away from the frame (a pedal, a hand, the chain) are carried to the nearest node as the
statically equal force and moment. Steering is a free hinge in the model; each case says whether the
rider's hands lock it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Xyz
from ..columns import cos, dist, number, radians, sin
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase, Measure, Spring

STEERING_LOCK = (
    1e9  # N*mm/rad: firm hands; stiff against any frame, soft enough not to spoil the numbers
)
# A road holds the rear wheel in place and the rider keeps it from leaning; neither keeps it from swivelling.
REAR_STANDS = (1, 1, 1, 1, 0, 0)
# the front wheel carries up-and-down and sideways, rolls fore and aft: with the above six in all, so that
# reactions follow from equilibrium, whatever the tubes
FRONT_ROLLS = (0, 1, 1, 0, 0, 0)
AXLE_GRIPPED = (
    1,
    1,
    1,
    1,
    1,
    0,
)  # what only a rig can do: nothing is free but turning about the axle
CLAMPED = (1, 1, 1, 1, 1, 1)
ON_GROUND = "on the ground"  # in `touching`: carries push, not pull
TOUCHING: Mapping[str, str] = {
    "rear_axle": f"rear wheel {ON_GROUND}, kept from leaning by the rider",
    "front_axle": f"front wheel {ON_GROUND}",
}
HELD = (
    "rear axle held in place and kept from leaning by the rider's balance, free to swivel and to turn about "
    "itself; front axle held up-and-down and sideways, free to roll, lean and swivel; steering locked by the "
    "hands; nothing held at the saddle; reactions follow from equilibrium alone"
)
SAME = 1e-9  # of the largest load: closer loads are one
N_MM = 1000.0  # N*mm of a joule
PRACTICE = "common practice, no source"

_NOTHING = (0.0,) * 6

NodalLoad = tuple[str, tuple[float, ...]]
Vector = Array | tuple[float, ...]


def moved(
    force: Vector, at: Vector, to: Vector, moment: Vector = (0.0, 0.0, 0.0)
) -> tuple[float, ...]:
    """Force (3,) and moment at point `at` as the equal six components at point `to`."""
    # A force moved keeps its moment about every point: the arm adds what is missing. In plain numbers: numpy takes
    # longer to begin than three products take.
    x, y, z = (number(a) - number(b) for a, b in zip(at, to, strict=True))
    fx, fy, fz = map(number, force)
    mx, my, mz = map(number, moment)
    return (fx, fy, fz, y * fz - z * fy + mx, z * fx - x * fz + my, x * fy - y * fx + mz)


def force(node: str, x: float = 0.0, y: float = 0.0, z: float = 0.0) -> NodalLoad:
    """A plain force at a node."""
    return node, (x, y, z, 0.0, 0.0, 0.0)


def added(loads: list[NodalLoad]) -> dict[str, tuple[float, ...]]:
    """Nodal loads, several on one node added up."""
    total: dict[str, tuple[float, ...]] = {}
    for node, load in loads:
        before = total.get(node, _NOTHING)
        total[node] = tuple([a + number(b) for a, b in zip(before, load, strict=True)])
    return total


def over(
    loads: Mapping[str, tuple[float, ...]], size: float
) -> tuple[tuple[str, tuple[float, ...]], ...]:
    """Weights of a measure: nodal loads divided by a size, N, N*mm or whatever the measure is counted in."""
    weights = []
    for node, load in loads.items():
        shares = tuple(v / size for v in load)
        weights.append((node, shares))
    return tuple(weights)


def steering_lock(bicycle: Bicycle, layout: FrameLayout) -> Spring:
    """Hands firmly on the bars: a stiff spring about the steering axis between steerer and head tube."""
    # About the steering axis alone: the lock's first axis is the one it turns about.
    x, y = bicycle.dimensions.axis_up
    return Spring(
        "steering_lock",
        "steerer_upper",
        layout.node("head_tube_top"),
        (0.0, 0.0, 0.0, STEERING_LOCK, 0.0, 0.0),
        (x, y, 0.0),
        (0.0, 0.0, 1.0),
    )


def along(
    node: str, dof: int, name: str, reference: float | None, title: str = "", unit: str = "mm"
) -> Measure:
    """The displacement of one node in one dof, counted positive along the reference load (none: no stiffness)."""
    # Counted along the load, so that a movement the load's way is positive.
    if reference is not None and reference < 0:
        sign = -1.0
    else:
        sign = 1.0
    weight = tuple(sign if k == dof else 0.0 for k in range(6))
    return Measure(name, ((node, weight),), unit, abs(reference) if reference else None, title)


def twist(node: str, base: str, dof: int, name: str, torque: float, title: str = "") -> Measure:
    """Rotation of `node` against `base` about one global axis, degrees, counted positive along `torque`.

    A movement and no stiffness: other loads of the case turn these places too.
    """
    if torque < 0:
        sign = -1.0
    else:
        sign = 1.0
    # The same sign on both places, taken off at the base: a turn of the whole counts nought.
    pick = [sign if k == dof else 0.0 for k in range(6)]
    weights = ((node, tuple(pick)), (base, tuple(-v for v in pick)))
    return Measure(name, weights, "deg", None, title)


def swallowed(nodal: Mapping[str, tuple[float, ...]], title: str) -> Measure:
    """Half the work of all loads, J: the energy that frame, fork and parts hold when the loads stand in full."""
    # Half the work, as the loads grow from nought with the movement.
    return Measure("energy_swallowed", over(nodal, 2 * N_MM), "J", None, title)


def own_load(case: LoadCase, measure: Measure) -> float | None:
    """The one load of a case whose own movement the measure is, N or N*mm; None where there is no such load.

    With loads = F times the weights, the measure is the way that F goes: load over it is a stiffness that no
    stronger tube can lower (Rayleigh). What stands on held directions neither moves nor works.
    """
    weights = _free(added(list(measure.weights)), case.supports)
    loads = _free(case.nodal, case.supports)
    size = sum(float(w @ w) for w in weights.values())
    # Work in J is not the way of one load; loads along a tube act everywhere.
    if case.member_loads or measure.unit == "J" or not size:
        return None
    nothing = np.zeros(6)
    work = sum(float(w @ loads.get(node, nothing)) for node, w in weights.items())
    # Least squares: the factor that makes the weights as like the loads as they can be.
    force = work / size
    left = {node: load - force * weights.get(node, nothing) for node, load in loads.items()}
    rest = max((float(np.abs(v).max()) for v in left.values()), default=0.0)
    # A place that is measured but not loaded is moved by loads elsewhere.
    missing = [node for node, w in weights.items() if node not in loads and np.any(w)]
    most = max((float(np.abs(v).max()) for v in loads.values()), default=0.0)
    if missing or not force or rest > SAME * most:
        return None
    return force


def _free(
    loads: Mapping[str, tuple[float, ...]], supports: Mapping[str, tuple[int, ...]]
) -> dict[str, Array]:
    """Node -> six components, nought where the node is held."""
    return {
        node: np.where(np.array(supports.get(node, (0,) * 6), dtype=bool), 0.0, np.array(load))
        for node, load in loads.items()
    }


def at_the_load(
    nodal: Mapping[str, tuple[float, ...]], reference: float, name: str, title: str
) -> Measure:
    """The displacement of the point where `reference` acts, in its direction, found from the work of the loads.

    With all nodal loads proportional to one force F (chain pull included), sum(load . u) / F is the way that F
    moves: virtual work. Cranks, chain and extensions count as rigid.
    """
    # Weights are the loads over the force: by virtual work that is the way it goes.
    return Measure(name, over(nodal, reference), "mm", abs(reference), title)


def driven(
    pedal: Xyz, push: Xyz, ring: Xyz, sprocket: Xyz, axle: Xyz
) -> tuple[list[NodalLoad], float]:
    """Loads of a push on a pedal with the chain pull that balances it, and the chain tension, N.

    pedal, ring, sprocket, axle : points (3,), the bottom bracket at the origin; the chain runs from `sprocket` to
    `ring`. The spindle passes no torque about its own axis to the shell: the upper chain run takes it and
    pulls the rear hub forward by as much. The hub turns freely: the chain's torque about the axle goes
    through the wheel to the ground, not into the frame.
    """
    line = _direction(ring, sprocket)
    # The tension that leaves no torque about the spindle.
    tension = -_about_z(pedal, push) / _about_z(ring, line)
    pushed = moved(push, pedal, (0, 0, 0))
    pulled = moved(_times(tension, line), ring, (0, 0, 0))
    spindle = tuple([a + b for a, b in zip(pushed, pulled, strict=True)])
    hub = moved(_times(-tension, line), sprocket, axle)
    # The chain's torque goes through the wheel to the ground.
    return [("bottom_bracket", spindle), ("rear_axle", (*hub[:5], 0.0))], tension


def _direction(start: Xyz, end: Xyz) -> Xyz:
    """Unit vector from start to end."""
    length = dist(start, end)
    return (
        (end[0] - start[0]) / length,
        (end[1] - start[1]) / length,
        (end[2] - start[2]) / length,
    )


def _times(size: float, vector: Xyz) -> Xyz:
    return (size * vector[0], size * vector[1], size * vector[2])


def _about_z(arm: Xyz, force: Xyz) -> float:
    return arm[0] * force[1] - arm[1] * force[0]


@dataclass(frozen=True)
class Foot:
    """A push straight down on a pedal. angle : of the loaded crank, degrees from level forward, positive downwards;
    side : 1 right, -1 left pedal."""

    angle: float = 0.0
    side: float = 1.0


def pedal_stroke(
    bicycle: Bicycle, layout: FrameLayout, force: float, angle: float, side: float = 1.0
) -> list[NodalLoad]:
    """Loads of a downward pedal force with the chain pull that balances the crank torque; several riders push in step,
    each with this force. `angle` and `side` as of a `Foot`."""
    return strokes(bicycle, layout, force, [Foot(angle, side)] * len(bicycle.plan.riders))


def strokes(
    bicycle: Bicycle, layout: FrameLayout, force: float, feet: Sequence[Foot | None]
) -> list[NodalLoad]:
    """Loads of one foot of each rider, from front to rear, or of none of his, each with this force.

    The driving chain is on the right whatever foot pushes. A timing chain on the left passes what the riders in front
    push on to the next spindle, and the last one's chain takes it all to the hub.
    """
    fit = bicycle.fittings
    axle = layout.joints["rear_axle"]
    ring = (0.0, fit.chainring_radius, fit.chainline)
    sprocket = (axle[0], axle[1] + fit.sprocket_radius, axle[2] + fit.chainline)
    push = (0.0, -force, 0.0)
    pedals = [None if foot is None else _pedal(bicycle, foot) for foot in feet]
    if not bicycle.plan.followers and pedals[0] is not None:
        return driven(pedals[0], push, ring, sprocket, axle)[0]
    return _together(bicycle, layout, pedals, push, (ring, sprocket))


def _pedal(bicycle: Bicycle, foot: Foot) -> Xyz:
    """The loaded pedal, mm from its spindle's middle."""
    fit = bicycle.fittings
    crank = radians(foot.angle)
    return (
        fit.crank_length * cos(crank),
        -fit.crank_length * sin(crank),
        foot.side * fit.pedal_offset,
    )


def _together(
    bicycle: Bicycle,
    layout: FrameLayout,
    pedals: Sequence[Xyz | None],
    push: Xyz,
    chain: tuple[Xyz, Xyz],
) -> list[NodalLoad]:
    """The strokes of several riders. pedals : the loaded pedal of each; chain : the driving chain on its ring, from the
    spindle, and on the hub."""
    riders = bicycle.plan.riders
    brackets = [rider.bracket for rider in riders]
    nodal: list[NodalLoad] = []
    torques = []
    for bracket, pedal in zip(brackets, pedals, strict=True):
        torques.append(0.0 if pedal is None else _about_z(pedal, push))
        if pedal is not None:
            nodal.append((bracket, moved(push, pedal, (0, 0, 0))))
    turning = 0.0
    for k, rider in enumerate(riders[1:]):
        radius, beside = (bicycle.placed[item] for item in rider.timing)
        turning += torques[k]
        front = brackets[k]
        # Rings of one size: the upper run lies along the line from spindle to spindle.
        line = _direction(layout.joints[front], layout.joints[rider.bracket])
        on_ring = (radius * line[1], -radius * line[0], -beside)
        pull = -turning / _about_z(on_ring, line)
        nodal += [
            (front, moved(_times(pull, line), on_ring, (0, 0, 0))),
            (rider.bracket, moved(_times(-pull, line), on_ring, (0, 0, 0))),
        ]
    turning += torques[-1]
    ring, sprocket = chain
    x, y, z = layout.joints[brackets[-1]]
    line = _direction((x + ring[0], y + ring[1], z + ring[2]), sprocket)
    pull = -turning / _about_z(ring, line)
    driving = moved(_times(pull, line), ring, (0, 0, 0))
    hub = moved(_times(-pull, line), sprocket, layout.joints["rear_axle"])
    # As for one rider: the chain's torque goes through the wheel to the ground.
    return [*nodal, (brackets[-1], driving), ("rear_axle", (*hub[:5], 0.0))]
