"""A bicycle as droptrail knows it: side-view dimensions, tubes, the sizes across, and who rides it with what load.

Everything here is a frozen value. Defaults are workshop practice without a source, each listed under
`assumed` by whoever fills it in, never silently.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from math import isfinite
from types import MappingProxyType

from ..assumption import Assumed
from ..errors import ModelError
from ..geometry.dimensions import FrameDimensions, Given, Point
from ..joints.shape import KINDS, JointKind
from ..tubes.known_plans import DIAMOND
from ..tubes.places import sized
from ..tubes.plan import Carrier, FramePlan, Rider, TubeRole, Wheel
from ..tubes.tube import Tube
from .dropouts import Dropout
from .hubs import Hub, HubName
from .parts import PARTS, Part
from .riding import checked
from .suspension import SuspensionFork, extended_and_sunk

G_ACCEL = 9.81  # N/kg
STEERER = 0.1  # kg, of a suspension fork's light steerer, which it is not weighed with (common practice, no source)
BICYCLE_TYPES = ("city", "young adult", "mountain", "racing")  # as ISO 4210 tells them apart


class Positive:
    """Shared check: every number finite and not negative; the message names the field."""

    def __post_init__(self) -> None:
        for f in fields(self):  # type: ignore[arg-type]
            value = getattr(self, f.name)
            if isinstance(value, float | int) and not (isfinite(value) and value >= 0):
                raise ModelError(
                    f"{f.name.replace('_', ' ')} is {value}, it must be a number of zero or more"
                )


@dataclass(frozen=True)
class Fittings(Positive):
    """Sizes across the frame and the simple parts bolted to it, mm (and degrees for none).

    hub spacings are over locknuts; chainstay_spacing is between the stays' centre-lines at the shell;
    seatstay_spacing the same at the seat tube, blade_spacing at the crown. saddle_height is bottom
    bracket to saddle clamp along the seat tube axis; seat_post_insertion is how deep the post sits in the seat tube,
    where both bend together (0: the post begins at its top); upper_stack is head tube top to the stem's centre.
    blade_straight / stay_curve describe curved parts: the blade runs that far parallel to the steering
    axis before it curves to the axle (0: straight blade from crown to axle); stay_curve is the seatstays'
    sagitta outwards (0: straight).
    """

    rear_hub_spacing: float = 135.0
    front_hub_spacing: float = 100.0
    bb_shell_width: float = 68.0
    chainstay_spacing: float = 44.0
    seatstay_spacing: float = 30.0
    blade_spacing: float = 62.0
    blade_straight: float = 0.0
    stay_curve: float = 0.0
    saddle_height: float = 720.0
    seat_post_insertion: float = 0.0
    upper_stack: float = 35.0
    stem_length: float = 90.0
    bar_width: float = 440.0
    crank_length: float = 170.0
    pedal_offset: float = 150.0
    chainline: float = 45.0
    chainring_radius: float = 92.0
    sprocket_radius: float = 40.0


DEFAULT_SOURCES = {
    "tyre_stiffness": "from memory, 100 to 200 for a road tyre at 6 to 8 bar",
    "tyre_side_stiffness": "follows from the usual side force per slip and relaxation length at 520 N of wheel load",
    "wheel_side_stiffness": "measured wheels have 76 to 97, M. Ford's thesis, from memory",
}  # of defaults that are more than a custom


@dataclass(frozen=True)
class Loads(Positive):
    """Magnitudes the load cases use: rider mass kg, shares of it, forces N, luggage kg, wheels as springs N/mm.

    tyre_stiffness : one tyre up-and-down; from memory 100-200 for a road tyre at 6-8 bar. tyre_side_stiffness : one
    tyre sideways, the usual cornering stiffness over the usual relaxation length (`frame.tyres`) at 520 N of wheel
    load. wheel_side_stiffness : rim against hub, measured wheels have 76-97 N/mm (M. Ford, doctoral thesis; from
    memory).
    """

    rider_mass: float = 80.0
    saddle_share: float = 0.55
    bar_share: float = 0.20
    pedal_share: float = 0.25
    side_push: float = 200.0
    pedal_force: float = 1000.0
    bar_pull: float = 350.0
    crank_angle: float = 0.0
    front_luggage: float = 0.0
    rear_luggage: float = 0.0
    wheel_mass_front: float = 1.6
    wheel_mass_rear: float = 2.0
    tyre_stiffness: float = 150.0
    tyre_side_stiffness: float = 60.0
    wheel_side_stiffness: float = 85.0

    def __post_init__(self) -> None:
        super().__post_init__()
        total = self.saddle_share + self.bar_share + self.pedal_share
        if abs(total - 1) > 1e-6:
            raise ModelError(
                f"saddle, bar and pedal shares add up to {total:g}; they must add up to 1"
            )
        for name in ("tyre_stiffness", "tyre_side_stiffness", "wheel_side_stiffness"):
            if not getattr(self, name) > 0:
                raise ModelError(
                    f"{name.replace('_', ' ')} is {getattr(self, name):g} N/mm: a spring of nothing holds nothing; "
                    "give its stiffness"
                )


# Where luggage hangs, once for statics, modes and shimmy: share of the front or rear luggage at each joint. The rack's
# struts hang at the seatstays' top, or where the plan says.
FRONT_HANGS = {"fork_crown": 1 / 2, "front_dropout_left": 1 / 4, "front_dropout_right": 1 / 4}
STRUT_SHARE = 1 / 8
DROPOUT_SHARE = 3 / 8
FRONT_WORDS = "front half at the crown and half at the dropouts"
REAR_WORDS = "rear a quarter at the seatstays' top and the rest at the dropouts"
LUGGAGE_WORDS = f"{FRONT_WORDS}, {REAR_WORDS}"


def rear_hangs(plan: FramePlan) -> dict[str, float]:
    """Joint -> share of the rear luggage that hangs there."""
    struts = plan.role(plan.struts)
    sides = ("left", "right")
    hangs: dict[str, float] = {}
    for side in sides:
        joint = struts.joint(0, side)
        hangs[joint] = hangs.get(joint, 0.0) + STRUT_SHARE
    return hangs | {f"rear_dropout_{side}": DROPOUT_SHARE for side in sides}


def _on_rack(rack: Carrier) -> dict[str, float]:
    """Joint -> share of the luggage that a rack of tubes carries, right and left alike."""
    return {
        f"{joint}_{side}": share / 2 for joint, share in rack.hangs for side in ("left", "right")
    }


def hangs_of(plan: FramePlan, end: Wheel) -> dict[str, float]:
    """Joint -> share of the luggage at the front or rear: on the rack, where the plan has one, else on the frame."""
    rack = plan.rack(end)
    if rack is not None:
        return _on_rack(rack)
    if end == "front":
        return FRONT_HANGS
    return rear_hangs(plan)


def luggage_words(plan: FramePlan) -> str:
    """Where the luggage hangs."""
    said = []
    usual: dict[Wheel, str] = {"front": FRONT_WORDS, "rear": REAR_WORDS}
    for end, words in usual.items():
        rack = plan.rack(end)
        if rack is not None:
            held = "bolted on" if rack.bolted else "built in"
            words = f"{end} on the {rack.label}, {held}"
        said.append(words)
    return ", ".join(said)


def luggage_lumps(loads: Loads, plan: FramePlan) -> tuple[tuple[str, float], ...]:
    """(joint, kg) of every place where luggage hangs, front ones first, also where it weighs nothing."""
    hangs = (
        (loads.front_luggage, hangs_of(plan, "front")),
        (loads.rear_luggage, hangs_of(plan, "rear")),
    )
    return tuple((node, share * total) for total, shares in hangs for node, share in shares.items())


@dataclass(frozen=True)
class PartMasses(Positive):
    """What hangs on the tubes and no sheet weighs, kg; workshop practice without a source.

    A beam mesh already weighs frame, fork, seat post, bar and stem: on it go only drivetrain, saddle and levers. A
    rigid bicycle has no mesh and takes them all. drivetrain : cranks, pedals, chain, gears, as one lump at the bottom
    bracket. saddle : without its post. ring_share : wheel inertia about the axle over mass x radius^2; the wheels of
    the benchmark bicycle of Meijaard et al. 2007 have 0.67 and 0.76. bag_gyration : radius of gyration of a bag's
    piece about where it hangs, mm.
    """

    frame: float = 2.2
    fork: float = 0.8
    drivetrain: float = 2.4
    saddle: float = 0.35
    seat_post: float = 0.35
    levers: float = 0.5
    bar_and_stem: float = 0.7
    ring_share: float = 0.75
    bag_gyration: float = 120.0

    @property
    def saddle_with_post(self) -> float:
        return self.saddle + self.seat_post

    @property
    def bars_complete(self) -> float:
        """Bar and stem with the levers on them."""
        return self.bar_and_stem + self.levers


def top_tube_half(tubes: Mapping[str, Tube]) -> float:
    """Half the top tube's height at its middle, mm: midway between its ends where it tapers, of an oval the height;
    0 without a top tube."""
    tube = tubes.get("top_tube")
    if tube is None:
        return 0.0
    return (tube.od_start + tube.od_end) / 4


def given_by(plan: FramePlan, tubes: Mapping[str, Tube], placed: Mapping[str, float]) -> Given:
    """What a side view rests on besides its dimensions, by plan, tubes and `Bicycle.placed`."""
    half = top_tube_half(tubes)
    return Given(half, Point(*plan.rear_bracket(placed)), _top_tube_arc(plan, placed))


def _top_tube_arc(plan: FramePlan, placed: Mapping[str, float]) -> tuple[float, float]:
    """Sagitta and radius that the top tube is bent to in the frame's plane; noughts where it is not."""
    role = plan.get("top_tube")
    if role is None or role.bend is None or role.bend.outwards:
        return (0.0, 0.0)
    return (sized(role.bend.sagitta, placed), sized(role.bend.radius, placed))


def placed_by(
    plan: FramePlan, fittings: Fittings, placing: Mapping[str, float]
) -> Mapping[str, float]:
    """Every size that places of the plan may name, mm: the fittings and the plan's items, stated or usual."""
    usual = {item.key: item.usual for item in plan.items}
    return {**vars(fittings), **usual, **placing}


@dataclass(frozen=True)
class Bicycle:
    """Everything needed to lay out, mesh and load one frame.

    plan : which tubes there are and where they meet. tubes : name in the plan -> Tube. placing : the stated ones of
    the plan's items, mm; see `placed`. joints : tube -> how its ends are joined to the tubes
    they are mitred to; rigid where it is silent. assumed : every default used.
    bicycle_type : one of BICYCLE_TYPES; sets the peak loads of the ISO 4210 cases. tyre_widths : front and rear, mm,
    None where not known. riding : the stated ones of `riding.RIDING`; what is not stated is taken as usual. parts :
    name in `parts.PARTS` or `dropouts.DROPOUTS` -> part, only those stated; see `part`. suspension : the suspension
    fork, where it has one; its plan then has no tubes of a fork.
    """

    dimensions: FrameDimensions
    tubes: Mapping[str, Tube]
    fittings: Fittings = field(default_factory=Fittings)
    loads: Loads = field(default_factory=Loads)
    name: str = ""
    assumed: tuple[Assumed, ...] = ()
    bicycle_type: str = "city"
    tyre_widths: tuple[float | None, float | None] = (None, None)
    riding: Mapping[str, float] = field(default_factory=dict)
    joints: Mapping[str, JointKind] = field(default_factory=dict)
    parts: Mapping[str, Part | Hub | Dropout] = field(default_factory=dict)
    plan: FramePlan = DIAMOND
    placing: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def roles(self) -> tuple[TubeRole, ...]:
        """The plan's tubes that this frame has, in the plan's order."""
        return self.plan.present(self.tubes)

    @cached_property
    def placed(self) -> Mapping[str, float]:
        """See `placed_by`."""
        return placed_by(self.plan, self.fittings, self.placing)

    suspension: SuspensionFork | None = None

    @property
    def ridden(self) -> bool:
        """Whether anybody is aboard."""
        return bool(self.loads.rider_mass)

    @property
    def aboard(self) -> tuple[tuple[Rider, float], ...]:
        """Everybody aboard with his mass, kg, from front to rear."""
        placed = {"": self.loads.rider_mass, **self.placed}
        return tuple((rider, placed[rider.mass]) for rider in self.plan.riders)

    @property
    def part_masses(self) -> PartMasses:
        """The usual lumps; a suspension fork weighs what it weighs, with a steerer."""
        if self.suspension is None:
            return PartMasses()
        return PartMasses(fork=self.suspension.mass + STEERER)

    @property
    def as_ridden(self) -> "Bicycle":
        """With the rider aboard: sunk into its suspension fork, where it has one and the dimensions are without sag."""
        if self.suspension is None or self.suspension.at_sag:
            return self
        sunk = extended_and_sunk(self.suspension, self.dimensions)[1]
        down = sunk.seat_angle - self.dimensions.seat_angle
        return replace(
            self,
            dimensions=sunk,
            suspension=replace(self.suspension, at_sag=True),
            placing={**self.placing, **self.plan.turned(self.placed, down)},
            plan=self.plan.with_joints_turned(self.placed, down),
        )

    def joined(self, kind: JointKind) -> "Bicycle":
        """The same bicycle with every tube joined in one way."""
        return replace(self, joints=dict.fromkeys(self.tubes, kind))

    def __post_init__(self) -> None:
        # Frozen in depth: a plain dictionary in a frozen value could still be changed.
        object.__setattr__(self, "riding", checked(self.riding))
        object.__setattr__(self, "tubes", MappingProxyType(dict(self.tubes)))
        object.__setattr__(self, "joints", MappingProxyType(dict(self.joints)))
        object.__setattr__(self, "parts", MappingProxyType(dict(self.parts)))
        object.__setattr__(self, "placing", MappingProxyType(dict(self.placing)))
        for key in self.placing:
            if key not in self.plan.item_keys:
                known = ", ".join(self.plan.item_keys) or "none"
                raise ModelError(
                    f"{key.replace('_', ' ')} says nothing on a {self.plan.label} frame; items of its own: {known}"
                )
        # Whoever asks the side view for the standover asks for the tube's upper side.
        given = given_by(self.plan, self.tubes, self.placed)
        if self.dimensions.given != given:
            object.__setattr__(self, "dimensions", replace(self.dimensions, given=given))
        if self.bicycle_type not in BICYCLE_TYPES:
            raise ModelError(
                f"bicycle type '{self.bicycle_type}' is not known; known: {', '.join(BICYCLE_TYPES)}"
            )
        for tube, kind in self.joints.items():
            if kind not in KINDS:
                raise ModelError(
                    f"{tube.replace('_', ' ')}: joint '{kind}' is not known; known: {', '.join(KINDS)}"
                )

    def part(self, name: str) -> Part:
        """A part of one piece: as stated, else the usual one."""
        stated = self.parts.get(name)
        if isinstance(stated, Part):
            return stated
        return PARTS[name]

    def hub(self, name: HubName) -> Part | Hub:
        """A hub: by the standard of its axle, or as a plain bar."""
        stated = self.parts.get(name)
        if isinstance(stated, Hub):
            return stated
        return self.part(name)
