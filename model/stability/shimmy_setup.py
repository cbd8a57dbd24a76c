"""From a bicycle as the builder knows it to the numbers of the shimmy model; every assumption is listed.

The one place where the frame's mm turn into the m and kg of `whipple` and `shimmy`. Masses the fit sheet does
not hold are `PartMasses`; the rider is one lump over the points he rests on.
"""

from dataclasses import dataclass
from math import pi, radians

from model.frame.bicycle import G_ACCEL, Bicycle
from model.geometry.dimensions import Point

from .lateral import Tyre
from .shimmy import Flex, LeaningRider, ShimmyBicycle, lump
from .whipple import BENCHMARK, RigidBody, Wheel, WhippleBicycle

DEFAULT_TYRES = (Tyre(), Tyre())


@dataclass(frozen=True)
class PartMasses:
    """Parts a fit sheet does not weigh, kg, and where the lumps sit, mm. Workshop customs, no source.

    ring_share : wheel inertia about the axle over mass x radius^2; the benchmark bicycle's wheels of
    Meijaard et al. 2007 have 0.67 and 0.76. rider_above_saddle : rider's centre of mass over the saddle clamp.
    luggage_gyration : radius of gyration of a bag. Lean of the rider's body: natural frequency and damping
    ratio on his saddle, the share of his mass that leans and the height of its centre over the saddle.
    """

    frame: float = 2.2
    fork: float = 0.8
    bars: float = 1.2
    drivetrain: float = 2.4
    saddle: float = 0.7
    ring_share: float = 0.75
    rider_above_saddle: float = 100.0
    luggage_gyration: float = 120.0
    lean_hz: float = 1.5
    lean_damping: float = 0.3
    leaning_share: float = 0.6
    leaning_above_saddle: float = 300.0

    def sentences(self) -> list[str]:
        return [
            f"masses: frame {self.frame:g}, fork {self.fork:g}, bars with stem and levers {self.bars:g}, drivetrain "
            f"{self.drivetrain:g}, saddle with post {self.saddle:g} kg (workshop customs, no source)",
            f"wheel inertia {self.ring_share:g} x mass x radius² about the axle, half of that across (thin ring)",
            f"rider: one lump {self.rider_above_saddle:g} mm above the saddle clamp, over the mean of saddle, bars "
            "and pedals by their load shares; inertia of the 2007 benchmark's rear body, scaled by mass",
            f"bags: radius of gyration {self.luggage_gyration:g} mm; front half at the crown and half at the axle, "
            "rear a quarter at the seatstays' top and the rest at the axle",
            "no wind, no drag, no drive or brake force; tyres thin across, road flat and level",
        ]


def bicycle_parameters(bicycle: Bicycle, masses: PartMasses | None = None, head: Flex | None = None,
                       fork: Flex | None = None, tyres: tuple[Tyre, Tyre] | None = DEFAULT_TYRES,
                       leaning: bool = False) -> ShimmyBicycle:
    """The shimmy model of a bicycle with its rider and luggage, hands off the bar.

    head, fork : what the frame and the fork give (None: rigid); `head_hinge` makes the plain one from a stiffness.
    leaning : the rider's upper body leans on a spring and damper instead of being fixed to the frame.
    """
    given = PartMasses() if masses is None else masses
    place, loads = _Placed(bicycle), bicycle.loads
    d = bicycle.dimensions
    rider = place.rider(given)
    parts = _frame_parts(place, given)
    seated, sentences = None, given.sentences()
    if leaning and loads.rider_mass:
        upper, legs = _split_rider(place, rider, given)
        seated, parts = _lean(place, upper, given), [*parts, legs]
        sentences.append(f"rider's upper body ({given.leaning_share:.0%} of him) leans on the saddle at "
                         f"{given.lean_hz:g} Hz with {given.lean_damping:.0%} of critical damping")
    else:
        parts.append(rider)
        sentences.append("rider fixed to the frame, hands off the bar")
    rigid = WhippleBicycle(
        wheelbase=(d.front_axle.x - d.rear_axle.x) / 1000, trail=d.trail / 1000, tilt=pi / 2 - radians(d.head_angle),
        rear_wheel=_wheel(d.wheel_radius_rear, loads.wheel_mass_rear, given),
        rear_body=lump(*(p for p in parts if p.mass)),
        front_assembly=lump(*(p for p in _front_parts(place, given) if p.mass)),
        front_wheel=_wheel(d.wheel_radius_front, loads.wheel_mass_front, given), g=G_ACCEL)
    return ShimmyBicycle(rigid, head, fork, tyres=tyres, rider=seated, assumed=(*bicycle.assumed, *sentences))


def head_hinge(bicycle: Bicycle, stiffness: float, damping_ratio: float = 0.01) -> Flex:
    """A plain hinge of `stiffness` N*m/rad at the middle of the head tube, square to the steering axis."""
    middle = bicycle.dimensions.head_tube_top.along(bicycle.dimensions.axis_up, -bicycle.dimensions.head_tube / 2)
    return Flex(_Placed(bicycle).at(middle), 1 / stiffness, damping_ratio=damping_ratio)


@dataclass(frozen=True)
class _Placed:
    """Points of the side view in the axes of `whipple`, m."""

    bicycle: Bicycle

    def at(self, point: Point) -> tuple[float, float]:
        d = self.bicycle.dimensions
        return (point.x - d.rear_axle.x) / 1000, (d.ground_y - point.y) / 1000

    @property
    def saddle(self) -> Point:
        d = self.bicycle.dimensions
        return d.bottom_bracket.along(d.seat_up, self.bicycle.fittings.saddle_height)

    @property
    def bar(self) -> Point:
        d, f = self.bicycle.dimensions, self.bicycle.fittings
        return d.head_tube_top.along(d.axis_up, f.upper_stack).along((1.0, 0.0), f.stem_length)

    def mass(self, mass: float, point: Point, gyration: float = 0.0) -> RigidBody:
        """A lump, kg, at a point with a radius of gyration, mm."""
        inertia = mass * (gyration / 1000) ** 2
        return RigidBody(mass, *self.at(point), inertia, inertia)

    def rod(self, mass: float, top: Point, bottom: Point) -> RigidBody:
        """A slender rod between two points of the side view."""
        (x1, z1), (x2, z2) = self.at(top), self.at(bottom)
        dx, dz = x2 - x1, z2 - z1
        return RigidBody(mass, (x1 + x2) / 2, (z1 + z2) / 2, mass * dz**2 / 12, mass * dx**2 / 12, -mass * dx * dz / 12)

    def rider(self, masses: PartMasses) -> RigidBody:
        """The rider over the mean of his contact points, inertia scaled from the benchmark's rear body."""
        loads, d = self.bicycle.loads, self.bicycle.dimensions
        saddle = self.saddle
        x = (loads.saddle_share * saddle.x + loads.bar_share * self.bar.x + loads.pedal_share * d.bottom_bracket.x)
        like, scale = BENCHMARK.rear_body, loads.rider_mass / BENCHMARK.rear_body.mass
        at = self.at(Point(x, saddle.y + masses.rider_above_saddle))
        return RigidBody(loads.rider_mass, *at, scale * like.Ixx, scale * like.Izz, scale * like.Ixz)


def _wheel(radius: float, mass: float, masses: PartMasses) -> Wheel:
    spin = masses.ring_share * mass * (radius / 1000) ** 2
    return Wheel(radius / 1000, mass, spin / 2, spin)


def _frame_parts(place: _Placed, masses: PartMasses) -> list[RigidBody]:
    """Frame, drivetrain, saddle and rear bag."""
    d = place.bicycle.dimensions
    seat = d.seat_tube_top or place.saddle
    third = masses.frame / 3  # main triangle as three rods; the rear end is counted into the seat tube's
    stays = d.seat_tube_seatstay_node or seat
    bag, gyration = place.bicycle.loads.rear_luggage, masses.luggage_gyration
    return [
        place.rod(third, d.head_tube_bottom, d.bottom_bracket), place.rod(third, seat, d.bottom_bracket),
        place.rod(third, d.head_tube_top, seat),
        place.mass(masses.drivetrain, d.bottom_bracket, 100.0), place.mass(masses.saddle, place.saddle, 80.0),
        place.mass(bag / 4, stays, gyration), place.mass(bag * 3 / 4, d.rear_axle, gyration),
    ]


def _front_parts(place: _Placed, masses: PartMasses) -> list[RigidBody]:
    """Fork with steerer as a rod, bars as a rod across, front bag."""
    b, bar, d = place.bicycle, place.bar, place.bicycle.dimensions
    across, bag = b.fittings.bar_width / 12**0.5, b.loads.front_luggage / 2
    return [
        place.rod(masses.fork, d.head_tube_top, d.front_axle), place.mass(masses.bars, bar, across),
        place.mass(bag, d.fork_crown, masses.luggage_gyration), place.mass(bag, d.front_axle, masses.luggage_gyration),
    ]


def _split_rider(place: _Placed, rider: RigidBody, masses: PartMasses) -> tuple[RigidBody, RigidBody]:
    """Upper body and the rest; together they keep the rider's mass, centre of mass and inertia (parallel axes)."""
    share = masses.leaning_share
    high = place.at(place.saddle)[1] - masses.leaning_above_saddle / 1000
    low = (rider.z - share * high) / (1 - share)
    spread = rider.mass * (share * (high - rider.z) ** 2 + (1 - share) * (low - rider.z) ** 2)
    upper, rest = (RigidBody(s * rider.mass, rider.x, z, s * (rider.Ixx - spread), s * rider.Izz, s * rider.Ixz)
                   for s, z in ((share, high), (1 - share, low)))
    return upper, rest


def _lean(place: _Placed, upper: RigidBody, masses: PartMasses) -> LeaningRider:
    """Spring and damper that give the stated frequency and damping about the saddle, weight included."""
    height = -place.at(place.saddle)[1]
    arm = -upper.z - height
    inertia, omega = upper.Ixx + upper.mass * arm**2, 2 * pi * masses.lean_hz
    return LeaningRider(upper, height, inertia * omega**2 + upper.mass * G_ACCEL * arm,
                        2 * masses.lean_damping * inertia * omega)

