"""From a bicycle as the builder knows it to the numbers of the shimmy model; every assumption is listed.

The one place where the frame's mm turn into the m and kg of `whipple` and `shimmy`. Masses the fit sheet does
not hold are `PartMasses`; the rider (`RiderBody`) is one lump over the points he rests on.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from math import pi, radians

from ..assumption import COMMON_PRACTICE, Assumed
from ..frame.bicycle import G_ACCEL, LUGGAGE_WORDS, Bicycle, PartMasses, Positive, luggage_lumps
from ..geometry.dimensions import FrameDimensions, Point
from ..tubes.plan import without_side
from .lateral import Tyre
from .shimmy import Flex, LeaningRider, ShimmyBicycle
from .whipple import BENCHMARK, RigidBody, Wheel, WhippleBicycle, lump

RIDER_INERTIA = "inertia of the 2007 benchmark's rear body, scaled by mass"
DEFAULT_TYRES = (Tyre(), Tyre())


@dataclass(frozen=True)
class RiderBody(Positive):
    """Where the rider's mass is, mm, and how he leans. Workshop practice, no source.

    above_saddle : his centre of mass over the saddle clamp. Lean of the upper body: natural frequency and damping
    ratio on the saddle, the share of his mass that leans and the height of its centre over the saddle.
    """

    above_saddle: float = 100.0
    lean_hz: float = 1.5
    lean_damping: float = 0.3
    leaning_share: float = 0.6
    leaning_above_saddle: float = 300.0


def assumptions(masses: PartMasses, body: RiderBody) -> tuple[Assumed, ...]:
    """Every assumption of the rigid bicycle's masses."""
    weighed = (
        ("frame", "frame", masses.frame),
        ("fork", "fork", masses.fork),
        ("bars", "bars with stem and levers", masses.bars_complete),
        ("drivetrain", "drivetrain", masses.drivetrain),
        ("saddle", "saddle with post", masses.saddle_with_post),
    )
    inertia = f"{masses.ring_share:g} x mass x radius² about the axle, half of that across"
    seated = (
        f"one lump {body.above_saddle:g} mm above the saddle clamp, over the mean of saddle, bars and pedals by "
        "their load shares"
    )
    bags = (
        f"on the axles, as the side view shows them; radius of gyration {masses.bag_gyration:g} mm"
    )
    return (
        *(Assumed("masses", key, f"mass of the {name}", kg, "kg") for key, name, kg in weighed),
        Assumed("masses", "wheel_inertia", "wheel inertia", inertia, source="thin ring"),
        Assumed("masses", "bags", "bags", bags, source=LUGGAGE_WORDS),
        Assumed("rider", "rider", "rider", seated, source=f"{COMMON_PRACTICE}; {RIDER_INERTIA}"),
        Assumed("rider", "wind", "wind, drag, drive and brake force", "none", source=""),
        Assumed(
            "rider", "road", "road and tyres", "flat and level road, tyres thin across", source=""
        ),
    )


def bicycle_parameters(
    bicycle: Bicycle,
    masses: PartMasses | None = None,
    head: Flex | None = None,
    fork: Flex | None = None,
    tyres: tuple[Tyre, Tyre] | None = DEFAULT_TYRES,
    leaning: bool = False,
    body: RiderBody | None = None,
) -> ShimmyBicycle:
    """The shimmy model of a bicycle with its rider and luggage, hands off the bar.

    head, fork : what the frame and the fork give (None: rigid), see `shimmy_flex`.
    leaning : the rider's upper body leans on a spring and damper instead of being fixed to the frame.

    Raises
    ------
    ModelError
        When the rider's inertia is too small to be split into an upper body that high and the rest.
    """
    given = masses or PartMasses()
    body = body or RiderBody()
    place = _Placed(bicycle)
    loads = bicycle.loads
    d = bicycle.dimensions
    rider = place.rider(body)
    parts = _frame_parts(place, given)
    seated = None
    assumed = [*assumptions(given, body)]
    if leaning and loads.rider_mass:
        upper, legs = _split_rider(place, rider, body)
        seated = _lean(place, upper, body)
        parts = [*parts, legs]
        leans = f"leans on the saddle at {body.lean_hz:g} Hz with {body.lean_damping:.0%} of critical damping"
        upper_body = f"rider's upper body ({body.leaning_share:.0%} of him)"
        assumed.append(Assumed("rider", "leaning", upper_body, leans))
    else:
        parts.append(rider)
        fixed = "fixed to the frame, hands off the bar"
        assumed.append(Assumed("rider", "leaning", "rider's upper body", fixed, source=""))
    rigid = WhippleBicycle(
        wheelbase=(d.front_axle.x - d.rear_axle.x) / 1000,
        trail=d.trail / 1000,
        tilt=pi / 2 - radians(d.head_angle),
        rear_wheel=_wheel(d.wheel_radius_rear, loads.wheel_mass_rear, given),
        rear_body=lump(*(p for p in parts if p.mass)),
        front_assembly=lump(*(p for p in _front_parts(place, given) if p.mass)),
        front_wheel=_wheel(d.wheel_radius_front, loads.wheel_mass_front, given),
        g=G_ACCEL,
    )
    return ShimmyBicycle(
        rigid, head, fork, tyres=tyres, rider=seated, assumed=(*bicycle.assumed, *assumed)
    )


def road_axes(dimensions: FrameDimensions, x: float, y: float) -> tuple[float, float]:
    """A point of the side view, mm, in the axes of `whipple`: m from the rear contact, forward and down."""
    return (x - dimensions.rear_axle.x) / 1000, (dimensions.ground_y - y) / 1000


@dataclass(frozen=True)
class _Placed:
    """Points of the side view in the axes of `whipple`, m."""

    bicycle: Bicycle

    def at(self, point: Point) -> tuple[float, float]:
        return road_axes(self.bicycle.dimensions, point.x, point.y)

    @property
    def saddle(self) -> Point:
        d = self.bicycle.dimensions
        return d.bottom_bracket.along(d.seat_up, self.bicycle.fittings.saddle_height)

    @property
    def bar(self) -> Point:
        d = self.bicycle.dimensions
        f = self.bicycle.fittings
        return d.head_tube_top.along(d.axis_up, f.upper_stack).along((1.0, 0.0), f.stem_length)

    def mass(self, mass: float, point: Point, gyration: float = 0.0) -> RigidBody:
        """A lump, kg, at a point with a radius of gyration, mm."""
        # mm to m at this edge; everything below is SI.
        inertia = mass * (gyration / 1000) ** 2
        return RigidBody(mass, *self.at(point), inertia, inertia)

    def rod(self, mass: float, top: Point, bottom: Point) -> RigidBody:
        """A slender rod between two points of the side view."""
        (x1, z1), (x2, z2) = self.at(top), self.at(bottom)
        dx = x2 - x1
        dz = z2 - z1
        return RigidBody(
            mass,
            (x1 + x2) / 2,
            (z1 + z2) / 2,
            mass * dz**2 / 12,
            mass * dx**2 / 12,
            -mass * dx * dz / 12,
        )

    def rider(self, body: RiderBody) -> RigidBody:
        """The rider over the mean of his contact points, inertia scaled from the benchmark's rear body."""
        loads = self.bicycle.loads
        d = self.bicycle.dimensions
        saddle = self.saddle
        x = (
            loads.saddle_share * saddle.x
            + loads.bar_share * self.bar.x
            + loads.pedal_share * d.bottom_bracket.x
        )
        # The benchmark's rear body is mostly a rider; scaled by mass for want of a measured one.
        like = BENCHMARK.rear_body
        scale = loads.rider_mass / BENCHMARK.rear_body.mass
        at = self.at(Point(x, saddle.y + body.above_saddle))
        return RigidBody(
            loads.rider_mass, *at, scale * like.Ixx, scale * like.Izz, scale * like.Ixz
        )

    def bags(self, masses: PartMasses, points: Mapping[str, Point]) -> list[RigidBody]:
        """The luggage that hangs at the joints (without their side) in `points`; left and right as one."""
        kg: dict[str, float] = defaultdict(float)
        for node, mass in luggage_lumps(self.bicycle.loads):
            kg[without_side(node)] += mass
        return [self.mass(kg[joint], point, masses.bag_gyration) for joint, point in points.items()]


def _wheel(radius: float, mass: float, masses: PartMasses) -> Wheel:
    spin = masses.ring_share * mass * (radius / 1000) ** 2
    return Wheel(radius / 1000, mass, spin / 2, spin)


def _frame_parts(place: _Placed, masses: PartMasses) -> list[RigidBody]:
    """Frame, drivetrain, saddle and rear bag."""
    d = place.bicycle.dimensions
    seat = d.seat_tube_top or place.saddle
    # main triangle as three rods; the rear end is counted into the seat tube's
    third = masses.frame / 3
    stays = d.seat_tube_seatstay_node or seat
    return [
        place.rod(third, d.head_tube_bottom, d.bottom_bracket),
        place.rod(third, seat, d.bottom_bracket),
        place.rod(third, d.head_tube_top, seat),
        place.mass(masses.drivetrain, d.bottom_bracket, 100.0),
        place.mass(masses.saddle_with_post, place.saddle, 80.0),
        *place.bags(masses, {"seatstay_top": stays, "rear_dropout": d.rear_axle}),
    ]


def _front_parts(place: _Placed, masses: PartMasses) -> list[RigidBody]:
    """Fork with steerer as a rod, bars as a rod across, front bag."""
    b = place.bicycle
    bar = place.bar
    d = place.bicycle.dimensions
    across = b.fittings.bar_width / 12**0.5
    return [
        place.rod(masses.fork, d.head_tube_top, d.front_axle),
        place.mass(masses.bars_complete, bar, across),
        *place.bags(masses, {"fork_crown": d.fork_crown, "front_dropout": d.front_axle}),
    ]


def _split_rider(place: _Placed, rider: RigidBody, body: RiderBody) -> tuple[RigidBody, RigidBody]:
    """Upper body and the rest; together they keep the rider's mass, centre of mass and inertia (parallel axes)."""
    # Parallel axes: what is split must add up to the rider it came from.
    share = body.leaning_share
    high = place.at(place.saddle)[1] - body.leaning_above_saddle / 1000
    low = (rider.z - share * high) / (1 - share)
    spread = rider.mass * (share * (high - rider.z) ** 2 + (1 - share) * (low - rider.z) ** 2)
    upper, rest = (
        RigidBody(
            s * rider.mass, rider.x, z, s * (rider.Ixx - spread), s * rider.Izz, s * rider.Ixz
        )
        for s, z in ((share, high), (1 - share, low))
    )
    return upper, rest


def _lean(place: _Placed, upper: RigidBody, body: RiderBody) -> LeaningRider:
    """Spring and damper that give the stated frequency and damping about the saddle, weight included."""
    height = -place.at(place.saddle)[1]
    # Gravity topples the upper body, so the spring must carry that too.
    arm = -upper.z - height
    inertia = upper.Ixx + upper.mass * arm**2
    omega = 2 * pi * body.lean_hz
    return LeaningRider(
        upper,
        height,
        inertia * omega**2 + upper.mass * G_ACCEL * arm,
        2 * body.lean_damping * inertia * omega,
    )
