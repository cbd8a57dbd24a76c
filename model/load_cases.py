"""The load cases of a ride: each one frozen value with loads AND supports AND what is measured.

Loads that act away from the frame (a pedal, a hand, the chain) are carried to the nearest node as the
statically equal force and moment. Steering is a free hinge in the model; each case says whether the
rider's hands lock it.
"""

from collections.abc import Callable, Mapping

import numpy as np

from .bicycle import G_ACCEL, Bicycle
from .errors import ModelError
from .frame_model import Array, LoadCase, Measure, Spring
from .layout import FrameLayout

STEERING_LOCK = 1e9  # N*mm/rad: firm hands; stiff against any frame, soft enough not to spoil the numbers
REAR_HELD = (1, 1, 1, 1, 1, 0)  # the rear wheel stands upright and rolls on: only turning about its axle is free
FRONT_ROLLS = (0, 1, 1, 0, 0, 0)  # the front wheel carries up-and-down and sideways, rolls fore and aft
_TOUCHING = {"rear_axle": "rear wheel on the ground, kept upright", "front_axle": "front wheel on the ground"}
_HELD = ("rear axle held, free to turn about itself and kept upright by the wheel; front axle held up-and-down and "
         "sideways, free to roll; steering locked by the hands; nothing held at the saddle")


def moved(force: Array | tuple[float, ...], at: Array | tuple[float, ...], to: Array | tuple[float, ...],
          moment: Array | tuple[float, ...] = (0.0, 0.0, 0.0)) -> tuple[float, ...]:
    """Force (3,) and moment at point `at` as the equal six components at point `to`."""
    turned = np.cross(np.subtract(at, to), force) + moment
    return tuple(float(v) for v in (*force, *turned))


def added(loads: "list[NodalLoad]") -> dict[str, tuple[float, ...]]:
    """Nodal loads, several on one node added up."""
    total: dict[str, Array] = {}
    for node, load in loads:
        total[node] = total.get(node, np.zeros(6)) + np.array(load)
    return {node: tuple(float(v) for v in load) for node, load in total.items()}


def steering_lock(bicycle: Bicycle, layout: FrameLayout) -> Spring:
    """Hands firmly on the bars: a stiff spring about the steering axis between steerer and head tube."""
    x, y = bicycle.dimensions.axis_up
    return Spring("steering_lock", "steerer_upper", layout.node("head_tube_top"),
                  (0.0, 0.0, 0.0, STEERING_LOCK, 0.0, 0.0), (x, y, 0.0), (0.0, 0.0, 1.0))


def along(node: str, dof: int, name: str, reference: float | None, title: str = "", unit: str = "mm") -> Measure:
    """The displacement of one node in one dof, counted positive along the reference load (none: no stiffness)."""
    sign = -1.0 if reference is not None and reference < 0 else 1.0
    weight = tuple(sign if k == dof else 0.0 for k in range(6))
    return Measure(name, ((node, weight),), unit, abs(reference) if reference else None, title)


def twist(node: str, base: str, dof: int, name: str, torque: float, title: str = "") -> Measure:
    """Rotation of `node` against `base` about one global axis, degrees, and the torsional stiffness it means."""
    sign = -1.0 if torque < 0 else 1.0
    pick = [sign if k == dof else 0.0 for k in range(6)]
    return Measure(name, ((node, tuple(pick)), (base, tuple(-v for v in pick))), "deg", abs(torque) or None, title)


def seated(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Rider seated, weight shared over saddle, bars and pedals."""
    loads = bicycle.loads
    weight = loads.rider_mass * G_ACCEL
    saddle, bars, pedals = (weight * s for s in (loads.saddle_share, loads.bar_share, loads.pedal_share))
    shares = (("saddle", saddle), ("bottom_bracket", pedals), ("bar_right", bars / 2), ("bar_left", bars / 2))
    nodal = {node: (0.0, -force, 0.0, 0.0, 0.0, 0.0) for node, force in shares}
    return LoadCase(
        "seated", nodal, supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            along("saddle", 1, "saddle_vertical", -saddle, "saddle, downwards"),
            along("bar_centre", 1, "bar_vertical", -bars, "bars, downwards"),
            along(layout.node("head_tube_top"), 1, "head_vertical", -weight, "head tube top, downwards, total weight"),
            along("bottom_bracket", 1, "bb_vertical", -weight, "bottom bracket, downwards, total weight"),
        ),
        title="Seated rider", touching=_TOUCHING, source="common practice, no source",
        notes=f"{weight:.0f} N rider: saddle {saddle:.0f} N, bars {bars:.0f} N, pedals {pedals:.0f} N; {_HELD}",
    )


NodalLoad = tuple[str, tuple[float, ...]]


def pedal_stroke(bicycle: Bicycle, layout: FrameLayout, force: float, angle: float) -> list[NodalLoad]:
    """Loads of a downward pedal force on the right crank, with the chain pull that balances the crank torque.

    `angle` of the crank in degrees from level forward, positive downwards. The spindle passes no torque
    about its own axis to the shell: the upper chain run takes it, at the chainline, and pulls the rear hub
    forward by as much.
    """
    fit, axle = bicycle.fittings, np.array(layout.joints["rear_axle"])
    crank = np.radians(angle)
    pedal = np.array([fit.crank_length * np.cos(crank), -fit.crank_length * np.sin(crank), fit.pedal_offset])
    push = np.array([0.0, -force, 0.0])
    ring = np.array([0.0, fit.chainring_radius, fit.chainline])
    sprocket = axle + np.array([0.0, fit.sprocket_radius, fit.chainline])
    pull_line = (sprocket - ring) / np.linalg.norm(sprocket - ring)
    lever = float(np.cross(ring, pull_line)[2])
    tension = -float(np.cross(pedal, push)[2]) / lever
    spindle = np.array(moved(push, pedal, (0, 0, 0))) + moved(tension * pull_line, ring, (0, 0, 0))
    hub = np.array(moved(-tension * pull_line, sprocket, axle))
    hub[5] = 0.0  # the hub turns freely: this torque goes through the wheel to the ground, not into the frame
    return [("bottom_bracket", tuple(spindle)), ("rear_axle", tuple(hub))]


def climb(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """Out of the saddle: weight on the right pedal, the bars pulled up on that side and pushed on the other."""
    loads, fit = bicycle.loads, bicycle.fittings
    nodal = pedal_stroke(bicycle, layout, loads.pedal_force, loads.crank_angle)
    nodal += [("bar_right", (0.0, loads.bar_pull, 0.0, 0.0, 0.0, 0.0)),
              ("bar_left", (0.0, -loads.bar_pull, 0.0, 0.0, 0.0, 0.0))]
    roll = loads.pedal_force * fit.pedal_offset
    return LoadCase(
        "climb", added(nodal), supports={"rear_axle": REAR_HELD, "front_axle": FRONT_ROLLS},
        springs=(steering_lock(bicycle, layout),),
        measures=(
            twist("bottom_bracket", "rear_axle", 3, "bb_twist", roll,
                  "bottom bracket against rear axle, lean, pedal torque"),
            twist("bottom_bracket", layout.node("head_tube_bottom"), 3, "bb_against_head", roll,
                  "bottom bracket against head tube, lean, pedal torque"),
            along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways"),
        ),
        title="Out of the saddle, climbing", touching=_TOUCHING, source="common practice, no source",
        notes=f"{loads.pedal_force:.0f} N down on the right pedal, {fit.pedal_offset:g} mm out, crank "
              f"{loads.crank_angle:g} degrees below level forward, chain pull to match; {loads.bar_pull:.0f} N up on "
              f"the right and down on the left end of the bar; {_HELD}",
    )


def side_push(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """A sideways push at the top of the head tube, the stiffness tied to shimmy."""
    push, top = bicycle.loads.side_push, layout.node("head_tube_top")
    return LoadCase(
        "side_push", {top: (0.0, 0.0, push, 0.0, 0.0, 0.0)},
        supports={"rear_axle": REAR_HELD, "front_axle": (0, 1, 1, 1, 0, 0)}, springs=(steering_lock(bicycle, layout),),
        measures=(along(top, 2, "head_sideways", push, "head tube top, sideways"),
                  along("bottom_bracket", 2, "bb_sideways", None, "bottom bracket, sideways")),
        title="Sideways push at the head tube", touching=_TOUCHING, source="common practice, no source",
        notes=f"{push:.0f} N to the right at the top of the head tube; both wheels kept upright, front axle held "
              "up-and-down and sideways, free to roll; steering locked by the hands; nothing held at the saddle",
    )


CASES: Mapping[str, Callable[[Bicycle, FrameLayout], LoadCase]] = {
    "seated": seated, "climb": climb, "side_push": side_push,
}


def load_cases(bicycle: Bicycle, layout: FrameLayout,
               names: tuple[str, ...] = ("seated", "climb", "side_push")) -> tuple[LoadCase, ...]:
    """The named load cases of a bicycle. Raises ModelError for an unknown name, listing the known ones."""
    unknown = [name for name in names if name not in CASES]
    if unknown:
        raise ModelError(f"load case '{unknown[0]}' is not known; known: {', '.join(CASES)}")
    return tuple(CASES[name](bicycle, layout) for name in names)
