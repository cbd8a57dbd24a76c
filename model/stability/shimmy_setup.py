"""From a bicycle as the builder knows it to the numbers of the shimmy model; every assumption is listed.

The one place where the frame's mm turn into the m and kg of `whipple` and `shimmy`. Masses the fit sheet does
not hold are `PartMasses`; tyres, wheels, the rider's body and his arms are `frame.riding.RIDING`. The rider is three
pieces: what leans at the hip, what sits on the saddle, and the feet on the pedals; his hands swing with the bar.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import degrees, hypot, pi, radians
from typing import Literal

from ..assumption import Assumed
from ..errors import ModelError
from ..frame.bicycle import (
    G_ACCEL,
    LUGGAGE_WORDS,
    Bicycle,
    PartMasses,
    luggage_lumps,
)
from ..frame.layout import lay_out
from ..frame.riding import RIDING, settled_riding, unstated
from ..frame.tyres import relaxation, side_stiffness_stated
from ..geometry.dimensions import Point
from ..tubes.plan import Rider, without_side
from .axes import road_axes
from .flexibility import Flex, Flexibility
from .lateral import Tyre
from .rider import LeaningRider, RiderBehind, Twist
from .shared_mass import Pieces
from .shimmy import Place, Rack, ShimmyBicycle
from .whipple import RigidBody, Wheel, WhippleBicycle, lump

End = Literal["front", "rear"]
FORK_PLACES: tuple[Place, ...] = ("steer", "fork")
# Radii of gyration of the rider's pieces about fore-aft and upright axes, m (body segments, from memory).
UPPER_GYRATION = (0.25, 0.17)
SEAT_GYRATION = (0.15, 0.15)
FEET_GYRATION = (0.20, 0.18)
USUAL_LOAD = (
    520.0  # N on a wheel, at which the usual side stiffness and relaxation length are one tyre
)
FEET_ABOVE_PEDALS = (
    100.0  # mm, centre of shanks and feet above the bottom bracket, mean of both legs
)


def assumptions(masses: PartMasses, pieces: Pieces, rough: bool) -> tuple[Assumed, ...]:
    """Every assumption of the rigid bicycle's masses. pieces : of frame and fork; rough : before there are tubes."""
    fork = sum(body.mass for place, body in pieces if place in FORK_PLACES)
    frame = sum(body.mass for place, body in pieces) - fork
    weighed = (
        ("frame", "frame", round(frame, 2)),
        ("fork", "fork", round(fork, 2)),
        ("bars", "bars with stem and levers", masses.bars_complete),
        ("drivetrain", "drivetrain", masses.drivetrain),
        ("saddle", "saddle with post", masses.saddle_with_post),
    )
    inertia = f"{masses.ring_share:g} x mass x radius² about the axle, half of that across"
    bags = (
        f"half on each side of the wheel; radius of gyration of a half {masses.bag_gyration:g} mm"
    )
    shared = "tubes as rods of one weight per length, each half with the joint it ends at"
    if not rough:
        shared = (
            "tubes as they lie and weigh, without lugs, dropouts and paint, each piece with the nearest of saddle, "
            "bottom bracket, rear axle and head along the tubes, of steerer and front axle in the fork"
        )
    seated = "over the mean of saddle, bars and pedals by their load shares"
    return (
        *(Assumed("masses", key, f"mass of the {name}", kg, "kg") for key, name, kg in weighed),
        Assumed("masses", "frame_shared", "frame's mass shared out", shared),
        Assumed("masses", "wheel_inertia", "wheel inertia", inertia, source="thin ring"),
        Assumed("masses", "bags", "bags", bags, source=LUGGAGE_WORDS),
        Assumed("rider", "rider", "rider", seated),
        Assumed("rider", "wind", "wind, drag, drive and brake force", "none", source=""),
        Assumed(
            "rider", "road", "road and tyres", "flat and level road, tyres thin across", source=""
        ),
    )


@dataclass(frozen=True)
class Hold:
    """How the rider holds on. hips : his upper body leans on its hip. arms : his hands are on the bar, with their
    mass and stiffness. damping : they damp as well."""

    hips: bool = True
    arms: bool = True
    damping: bool = True


RELAXED = Hold()
HANDS_OFF = Hold(arms=False, damping=False)
RIGID_RIDER = Hold(hips=False, arms=False, damping=False)


def bicycle_parameters(
    bicycle: Bicycle,
    masses: PartMasses | None = None,
    head: Flex | Flexibility | None = None,
    fork: Flex | Flexibility | None = None,
    hold: Hold = RELAXED,
    riding: Mapping[str, float] | None = None,
    tubes: Pieces | None = None,
) -> ShimmyBicycle:
    """The shimmy model of a bicycle with its rider and luggage.

    head, fork : what the frame and the fork give (None: rigid), see `shimmy_flex`. riding : values to take instead of
    the bicycle's own (default) of `RIDING`; each stiffness and damping of tyres, wheels and rider comes from there.
    tubes : frame and fork as they weigh and lie (`shared_mass`); without them as `masses` says, roughly a diamond.

    """
    given = masses or bicycle.part_masses
    values = settled_riding(bicycle.riding if riding is None else riding)
    place = _Placed(bicycle, values)
    loads = bicycle.loads
    d = bicycle.dimensions
    first, *others = place.seats
    rider = place.rider(first)
    if tubes is None:
        weighed = _rough_pieces(place, given)
    else:
        weighed = _with_suspension(place, tubes, given)
    base = [place.mass(given.saddle_with_post, place.saddle, 80.0), rider.seat]
    turning = [place.handlebar(given)]
    pieces: list[tuple[Place, RigidBody]] = [
        ("pedals", place.mass(given.drivetrain, d.bottom_bracket, 100.0)),
        ("pedals", rider.feet),
        *weighed,
    ]
    seated = None
    upper = rider.upper
    stiffness = 0.0
    damping = 0.0
    if hold.arms and loads.rider_mass:
        pieces.append(("steer", rider.hands))
        stiffness = values["arms_stiffness"]
    else:
        # Off the bar the hands are part of what leans.
        upper = lump(upper, rider.hands) if loads.rider_mass else upper
    if hold.damping:
        damping = values["arms_damping"]
    if hold.hips and loads.rider_mass:
        x, z = place.at(place.saddle)
        twist = Twist(x, values["twist_stiffness"], values["twist_damping"])
        # z points down: a height is minus z.
        seated = LeaningRider(
            upper, -z, values["hip_stiffness"], values["hip_damping"], twist, first.rider.name
        )
    else:
        base.append(upper)
    behind = []
    for seat in others:
        own, held = _behind(place, seat, given, hold)
        pieces += own
        behind += held
    radii = (d.wheel_radius_rear / 1000, d.wheel_radius_front / 1000)
    # N/mm at the rim to N*m/rad at the hub
    tilt = [1000 * loads.wheel_side_stiffness * radius**2 for radius in radii]
    # a lump of no mass would add a place and no weight
    rear = [part for part in base if part.mass]
    front = [part for part in turning if part.mass]
    rigid = WhippleBicycle(
        wheelbase=(d.front_axle.x - d.rear_axle.x) / 1000,
        trail=d.trail / 1000,
        tilt=pi / 2 - radians(d.head_angle),
        rear_wheel=_wheel(d.wheel_radius_rear, loads.wheel_mass_rear, given),
        rear_body=lump(*rear),
        front_assembly=lump(*front),
        front_wheel=_wheel(d.wheel_radius_front, loads.wheel_mass_front, given),
        g=G_ACCEL,
    )
    made = ShimmyBicycle(
        rigid,
        _as_built(head, values),
        _as_built(fork, values),
        tuple(piece for piece in pieces if piece[1].mass),
        (tilt[0], tilt[1]),
        (_tyre(bicycle, values), _tyre(bicycle, values)),
        seated,
        damping,
        stiffness,
        _racks(place, given),
        (
            *bicycle.assumed,
            *assumptions(given, weighed, tubes is None),
            *_behind_assumed(others),
            *_riding_unstated(bicycle),
        ),
        tuple(behind),
    )
    if not side_stiffness_stated(bicycle):
        return made
    # A stated side stiffness makes the relaxation length depend on what the wheel carries.
    tyres = [_tyre(bicycle, values, load) for load in made.model.wheel_loads]
    return replace(made, tyres=(tyres[0], tyres[1]))


def _behind(
    place: "_Placed", seat: "_Seat", masses: PartMasses, hold: Hold
) -> tuple[list[tuple[Place, RigidBody]], list[RiderBehind]]:
    """A rider behind the first: what hangs on his saddle, bracket and bars, and his upper body where it leans."""
    rider = seat.rider
    values = place.values
    body = place.rider(seat)
    wide = place.bicycle.fittings.bar_width / 12**0.5
    pieces: list[tuple[Place, RigidBody]] = [
        (rider.saddle, place.mass(masses.saddle_with_post, seat.saddle, 80.0)),
        (rider.bracket, place.mass(masses.drivetrain, seat.bracket, 100.0)),
        (rider.bars, place.mass(masses.bar_and_stem, seat.bar, wide)),
        (rider.saddle, body.seat),
        (rider.bracket, body.feet),
    ]
    if not seat.mass:
        return pieces, []
    if not hold.hips:
        return [*pieces, (rider.saddle, lump(body.upper, body.hands))], []
    x, z = place.at(seat.saddle)
    twist = Twist(x, values["twist_stiffness"], values["twist_damping"])
    leaning = LeaningRider(
        body.upper, -z, values["hip_stiffness"], values["hip_damping"], twist, rider.name
    )
    # He holds on whatever the first rider's hands do: his bar does not steer.
    arms = (values["arms_stiffness"], values["arms_damping"])
    held = RiderBehind(leaning, rider.saddle, rider.bars, *arms)
    return [*pieces, (rider.bars, body.hands)], [held]


def _behind_assumed(others: Sequence["_Seat"]) -> Iterator[Assumed]:
    """What is taken of those who ride behind the first."""
    for seat in others:
        name = seat.rider.name
        yield Assumed(
            "rider",
            f"{name}_body",
            f"{name}'s body",
            "as the first rider's: shares, heights, hip, spine and arms alike, whatever the mass",
        )
        yield Assumed(
            "rider",
            f"{name}_hands",
            f"{name}'s hands",
            "always on the bar, also where the first rider lets go; the arms act about a line as slanted as the "
            "steering axis; saddle, post, cranks, bar and stem weigh what the first rider's do, without levers",
        )


def _tyre(bicycle: Bicycle, values: Mapping[str, float], load: float = USUAL_LOAD) -> Tyre:
    return Tyre(
        # Stated per degree, needed per radian.
        cornering=degrees(values["tyre_cornering"]),
        camber=degrees(values["tyre_camber"]),
        relaxation=relaxation(bicycle, values, load) / 1000,
        pneumatic_trail=values["tyre_pneumatic_trail"] / 1000,
        loss_factor=values["tyre_loss"],
    )


def _as_built(
    part: Flex | Flexibility | None, values: Mapping[str, float]
) -> Flex | Flexibility | None:
    """The part with the stiffness and damping that riding values give it."""
    if part is None:
        return None
    return replace(part.scaled(values["frame_as_built"]), damping_ratio=values["frame_damping"])


@dataclass(frozen=True)
class _Seat:
    """Where somebody rests, and his mass, kg."""

    rider: Rider
    mass: float
    saddle: Point
    bar: Point
    bracket: Point


@dataclass(frozen=True)
class _Placed:
    """Points of the side view in the axes of `whipple`, m."""

    bicycle: Bicycle
    values: Mapping[str, float]

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

    @property
    def seats(self) -> tuple[_Seat, ...]:
        """Everybody aboard, from front to rear."""
        (first, mass), *others = self.bicycle.aboard
        seats = [_Seat(first, mass, self.saddle, self.bar, self.bicycle.dimensions.bottom_bracket)]
        if not others:
            return tuple(seats)
        joints = lay_out(self.bicycle).joints
        for rider, mass in others:
            # the ends of a bar stand level with its middle
            names = (rider.saddle, f"{rider.bars}_right", rider.bracket)
            at = [Point(*joints[name][:2]) for name in names]
            seats.append(_Seat(rider, mass, *at))
        return tuple(seats)

    def mass(self, mass: float, point: Point, gyration: float = 0.0) -> RigidBody:
        """A lump, kg, at a point with a radius of gyration, mm."""
        # mm to m at this edge; everything below is SI.
        inertia = mass * (gyration / 1000) ** 2
        return RigidBody(mass, *self.at(point), inertia, inertia)

    def halves(
        self, mass: float, one: tuple[Place, Point], other: tuple[Place, Point]
    ) -> list[tuple[Place, RigidBody]]:
        """A rod from place to place, each half with its own."""
        middle = Point((one[1].x + other[1].x) / 2, (one[1].y + other[1].y) / 2)
        return [
            (one[0], self.rod(mass / 2, one[1], middle)),
            (other[0], self.rod(mass / 2, middle, other[1])),
        ]

    def handlebar(self, masses: PartMasses) -> RigidBody:
        """Bar, stem and levers; a rod about its middle turns at its length over the root of twelve."""
        return self.mass(masses.bars_complete, self.bar, self.bicycle.fittings.bar_width / 12**0.5)

    def rod(self, mass: float, top: Point, bottom: Point) -> RigidBody:
        """A slender rod between two points of the side view."""
        x1, z1 = self.at(top)
        x2, z2 = self.at(bottom)
        dx = x2 - x1
        dz = z2 - z1
        return RigidBody(
            # A slender rod, mass x length² / 12, in the plane of the frame.
            mass,
            (x1 + x2) / 2,
            (z1 + z2) / 2,
            mass * dz**2 / 12,
            mass * dx**2 / 12,
            # The entry of the inertia matrix, as everywhere here: minus the product of inertia.
            -mass * dx * dz / 12,
        )

    def rider(self, seat: _Seat) -> "_Rider":
        """A rider in pieces: together his mass, over the mean of his contact points by their load shares.

        Raises
        ------
        ModelError
            When the shares of feet, leaning body and hands leave nothing for the saddle.
        """
        loads = self.bicycle.loads
        values = self.values
        shares = {
            "feet": values["feet_share"],
            "hands": values["hands_share"],
            # the arms are part of what leans, until they swing with the bar
            "upper": values["leaning_share"] - values["hands_share"],
        }
        shares["seat"] = 1 - sum(shares.values())
        if min(shares.values()) < 0 or not shares["upper"] * shares["seat"]:
            named = [RIDING[key].words for key in ("feet_share", "leaning_share", "hands_share")]
            raise ModelError(
                f"{', '.join(named)}: {values['feet_share']:g}, {values['leaning_share']:g} and "
                f"{values['hands_share']:g} leave no rider for the saddle; hands are part of what leans, feet and "
                "leaning body must stay below 1 together"
            )
        x = (
            loads.saddle_share * seat.saddle.x
            + loads.bar_share * seat.bar.x
            + loads.pedal_share * seat.bracket.x
        )
        whole = Point(x, seat.saddle.y + values["rider_above_saddle"])
        feet = Point(seat.bracket.x, seat.bracket.y + FEET_ABOVE_PEDALS)
        high = seat.saddle.y + values["leaning_above_saddle"]
        # What is left of the centre of mass, after feet and hands, is shared by trunk and seat.
        trunk = shares["upper"] + shares["seat"]
        left = whole.x - shares["feet"] * feet.x - shares["hands"] * seat.bar.x
        risen = whole.y - shares["feet"] * feet.y - shares["hands"] * seat.bar.y
        upper = Point(left / trunk, high)
        sitting = Point(left / trunk, (risen - shares["upper"] * high) / shares["seat"])
        mass = {name: share * seat.mass for name, share in shares.items()}
        # Hands sit at the bar's ends, so half its width is their radius of gyration.
        across = self.bicycle.fittings.bar_width / 2
        return _Rider(
            _segment(self.at(upper), mass["upper"], UPPER_GYRATION),
            _segment(self.at(sitting), mass["seat"], SEAT_GYRATION),
            _segment(self.at(feet), mass["feet"], FEET_GYRATION),
            self.mass(mass["hands"], seat.bar, across),
        )

    def bags(
        self, masses: PartMasses, points: Mapping[str, tuple[Place, Point]]
    ) -> tuple[tuple[Place, RigidBody], ...]:
        """The luggage that hangs at the joints (without their side) in `points`, left and right together."""
        kg: dict[str, float] = defaultdict(float)
        for node, mass in luggage_lumps(self.bicycle.loads, self.bicycle.plan):
            kg[without_side(node)] += mass
        # Two halves beside the wheel swing about it at their distance, besides turning about themselves.
        gyration = hypot(masses.bag_gyration, self.values["bags_aside"])
        return tuple(
            (place, self.mass(kg[joint], point, gyration))
            for joint, (place, point) in points.items()
            if kg[joint]
        )

    def on_racks(self, end: End) -> dict[str, tuple[Place, Point]]:
        """Where the bags of one end hang on a rack of tubes: joint without its side -> place; none without a rack.

        A rack stands on the dropouts first of all.
        """
        rack = self.bicycle.plan.rack(end)
        if rack is None:
            return {}
        joints = lay_out(self.bicycle).joints
        moves: Place = "fork" if end == "front" else "rear"
        return {joint: (moves, Point(*joints[f"{joint}_right"][:2])) for joint, _ in rack.hangs}


@dataclass(frozen=True)
class _Rider:
    upper: RigidBody
    seat: RigidBody
    feet: RigidBody
    hands: RigidBody


def _segment(at: tuple[float, float], mass: float, gyration: tuple[float, float]) -> RigidBody:
    """A piece of the rider, with its radii of gyration about fore-aft and upright axes, m."""
    return RigidBody(mass, *at, mass * gyration[0] ** 2, mass * gyration[1] ** 2)


def _wheel(radius: float, mass: float, masses: PartMasses) -> Wheel:
    # A thin ring has half of its inertia about the axle across it.
    spin = masses.ring_share * mass * (radius / 1000) ** 2
    return Wheel(radius / 1000, mass, spin / 2, spin)


def _racks(place: _Placed, masses: PartMasses) -> tuple[Rack, ...]:
    """The bags in front and behind, each pair on a rack that gives."""
    d = place.bicycle.dimensions
    seat = d.seat_tube_top or place.saddle
    stays = d.seat_tube_seatstay_node or seat
    if place.bicycle.plan.followers:
        stays = Point(*lay_out(place.bicycle).joints["seat_tube_seatstay_node"][:2])
    hung: dict[End, dict[str, tuple[Place, Point]]] = {
        "front": {
            "fork_crown": ("steer", d.fork_crown),
            "front_dropout": ("fork", d.front_axle),
        },
        "rear": {
            # the stays' top moves with the saddle above it
            "seatstay_top": (place.bicycle.plan.riders[-1].saddle, stays),
            "rear_dropout": ("rear", d.rear_axle),
        },
    }
    racks = []
    for end, points in hung.items():
        points = place.on_racks(end) or points
        bodies = place.bags(masses, points)
        if bodies:
            give = place.values[f"{end}_rack_give"] / 1000
            racks.append(Rack(f"{end} bags", bodies, give, place.values["rack_damping"]))
    return tuple(racks)


def _riding_unstated(bicycle: Bicycle) -> tuple[Assumed, ...]:
    loads = bicycle.loads
    # What a rack of tubes gives is worked out.
    known = {f"{rack.end}_rack_give" for rack in bicycle.plan.racks}
    every = unstated(bicycle.riding, (loads.front_luggage, loads.rear_luggage))
    return tuple(one for one in every if one.key not in known)


def _rough_pieces(place: _Placed, masses: PartMasses) -> Pieces:
    """Frame and fork before there are tubes: rods of one weight per length from joint to joint, cut in the middle."""
    d = place.bicycle.dimensions
    seat = d.seat_tube_top or place.saddle
    stays = d.seat_tube_seatstay_node or seat
    shell = d.bottom_bracket
    top = d.head_tube_top
    rods: tuple[tuple[Place, Point, Place, Point], ...] = (
        ("head", top, "saddle", seat),
        ("head", d.head_tube_bottom, "pedals", shell),
        ("head", top, "head", d.head_tube_bottom),
        ("saddle", seat, "pedals", shell),
        ("pedals", shell, "rear", d.rear_axle),
        ("saddle", stays, "rear", d.rear_axle),
    )
    length = sum(one.distance(other) for _, one, _, other in rods)
    pieces: list[tuple[Place, RigidBody]] = []
    for here, one, there, other in rods:
        mass = masses.frame * one.distance(other) / length
        pieces += place.halves(mass, (here, one), (there, other))
    pieces += place.halves(masses.fork, ("steer", top), ("fork", d.front_axle))
    return tuple(pieces)


def _with_suspension(place: _Placed, tubes: Pieces, masses: PartMasses) -> Pieces:
    """The tubes' pieces, and a suspension fork as a rod."""
    d = place.bicycle.dimensions
    if place.bicycle.suspension is None:
        return tubes
    ends: tuple[tuple[Place, Point], tuple[Place, Point]] = (
        ("steer", d.head_tube_top),
        ("fork", d.front_axle),
    )
    return (*tubes, *place.halves(masses.fork, *ends))
