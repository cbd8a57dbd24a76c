"""The plan of a frame: one row for each tube that it can have, read by everything that deals with tubes.

A plan is a value of the bicycle. Layout, mesh, mitres, drawing, clearances, workshop rules, sheet and words ask the
bicycle's plan and hold no list of their own; who cannot handle a tube says so with `not_handled`. The known plans are
data, see `known_plans`; a bicycle with tubes of its own has a plan of its own, made by `with_roles`. A tube marked
optional is in the frame when the tube table has a row for it, and otherwise leaves no trace.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal

from ..columns import cos, radians, sin
from ..errors import ModelError
from ..findings import Finding, Severity
from ..words import spoken
from .bends import Bend
from .places import EACH, PAIRS, SIDES, Along, Amount, AtJoint, Between, Free, Place, amounts, sized

End = Literal["start", "end"]
Wheel = Literal["rear", "front"]
SHELL = "bb_shell"  # stands among the neighbours of a mitre, but is a part and not a tube
REGIONS = ("main triangle", "rear triangle", "fork", "bars", "rack")


@dataclass(frozen=True)
class TubeRole:
    """One tube of the plan, or one pair: left and right share an entry of the tube table.

    ends : where it starts and ends; butts and tapers count from the start. via : joints on it in between.
    plain : (diameter at start, at end, wall), mm, of the steel tube taken when a sheet names none.
    paired : right and left, in the frame's plane or beside it. bend : how it is bent; None where it is straight or
    bent as the fittings say: shape ``bowed`` and ``raked``, see `layout`.
    mitred_start, mitred_end : what the end is cut to; those after the first may be struck on the way to the first.
    template_from : side of the tube at which its mitre template begins.
    narrower_than : tubes that it must not be wider than. lugs : diameters for which lugs are made, mm.
    region : what a mode shape calls the part of the bicycle it belongs to.
    tyres : wheels whose tyres could touch it. bridged : right and left are joined by a bridge behind the tyre.
    inside : the tube in which it turns, hidden from the side. pinned : ends that sit on a bolt across the
    frame and turn freely about it.
    """

    name: str
    ends: tuple[Place, Place]
    plain: tuple[float, float, float] = (19.0, 19.0, 0.8)
    via: tuple[str, ...] = ()
    paired: bool = False
    optional: bool = False
    shape: Literal["straight", "bowed", "raked"] = "straight"
    bend: Bend | None = None
    mitred_start: tuple[str, ...] = ()
    mitred_end: tuple[str, ...] = ()
    template_from: Literal["top", "front"] = "top"
    narrower_than: tuple[str, ...] = ()
    lugs: tuple[float, ...] = ()
    region: str = "main triangle"
    tyres: tuple[Wheel, ...] = ("rear", "front")
    bridged: bool = False
    inside: str = ""
    pinned: tuple[End, ...] = ()

    @property
    def label(self) -> str:
        """How the builder calls it; a pair in the plural."""
        return spoken(self.name) + ("s" if self.paired else "")

    @property
    def in_fork(self) -> bool:
        """Whether its mass counts to the fork."""
        # The steerer moves with the bars in a mode, and is weighed with the fork.
        return self.region in ("fork", "bars")

    @property
    def mitred(self) -> Mapping[End, tuple[str, ...]]:
        """Mitred end -> neighbours."""
        both: dict[End, tuple[str, ...]] = {"start": self.mitred_start, "end": self.mitred_end}
        return {end: neighbours for end, neighbours in both.items() if neighbours}

    @cached_property
    def members(self) -> tuple[str, ...]:
        """Its members: itself, or right and left."""
        if not self.paired:
            return (self.name,)
        return tuple(f"{self.name}_{side}" for side in SIDES)

    @property
    def amounts(self) -> Iterator[Amount]:
        """Every number that places and bends it."""
        for place in self.ends:
            yield from amounts(place)
        if self.bend is not None:
            yield from self.bend.amounts

    @property
    def named_joints(self) -> frozenset[str]:
        """The joints that its places name, of a pair right and left."""
        named = set(self.via)
        for place in self.ends:
            if isinstance(place, AtJoint):
                named |= {place.name.format(side=side) for side in SIDES}
                named.add(place.tied_to)
            elif isinstance(place, Free):
                named.add(place.joint)
            elif isinstance(place, Between):
                named |= {place.first, place.second}
        return frozenset(named - {""})

    def node_on(self, end: int) -> str:
        """The joint of an end that no name is given to: on the axis of the tube it lies on, or in the middle between
        right and left."""
        place = self.ends[end]
        if not isinstance(place, Along):
            return f"{self.name}_{('start', 'end')[end]}"
        name = f"{self.name}_on_{place.host}".removesuffix("_" + EACH)
        start = self.ends[0]
        # Both ends may stand on one tube.
        if end == 1 and isinstance(start, Along) and start.host == place.host:
            return f"{name}_end"
        return name

    def joint(self, end: int, side: str = "") -> str:
        """The joint at the start (0) or end (1); `side` is right or left for a pair."""
        return self._joints[end][side]

    @cached_property
    def _joints(self) -> tuple[Mapping[str, str], Mapping[str, str]]:
        # Worked out once: a layout asks for the names of every end, and a thousand variants have one plan.
        sides = ("", *SIDES)
        start = {side: self._named(0, side) for side in sides}
        end = {side: self._named(1, side) for side in sides}
        return start, end

    def _named(self, end: int, side: str) -> str:
        place = self.ends[end]
        if isinstance(place, AtJoint):
            return place.name.format(side=side)
        if place.pair:
            return f"{self.node_on(end)}_{side}"
        return self.node_on(end)

    def tied_to(self, end: int) -> str:
        """The joint on a neighbour's axis that carries this end stiffly; '' where the end lies on the axis itself."""
        place = self.ends[end]
        if isinstance(place, AtJoint):
            return place.tied_to
        if isinstance(place, Along) and place.apart:
            return self.node_on(end)
        if isinstance(place, Free) and place.apart and not (place.x or place.y):
            return place.joint
        return ""


@dataclass(frozen=True)
class PlanItem:
    """A size that a plan adds to the sheet, mm, or a mass, kg: its name, what is taken without it, what is believed."""

    key: str
    label: str
    usual: float
    limits: tuple[float, float]
    unit: str = "mm"


@dataclass(frozen=True)
class FurtherPart:
    """A part like one of `frame.parts.PARTS` once more, from joint to joint."""

    name: str
    like: str
    along: tuple[str, ...]


@dataclass(frozen=True)
class Rider:
    """Somebody aboard. saddle, bracket : joints; bars : the joint whose right and left he holds; mass : the plan's
    item that holds his mass, '' for the rider of the loads. timing : items of radius and chainline of the
    chain from the rider in front of him; nobody rides in front of the first. seat_tube : the tube that his post
    stands in. As it stands the rider of a single bicycle.
    """

    name: str = "rider"
    saddle: str = "saddle"
    bars: str = "bar"
    bracket: str = "bottom_bracket"
    mass: str = ""
    timing: tuple[str, ...] = ()
    seat_tube: str = "seat_tube"


@dataclass(frozen=True)
class Carrier:
    """A rack that the frame carries. end : whose luggage hangs on it. hangs : joint, right and left of it together ->
    share of that luggage. bolted : its pinned ends turn on bolts; built in, all ends are rigid."""

    name: str
    label: str
    end: Wheel
    hangs: tuple[tuple[str, float], ...]
    bolted: bool = True


@dataclass(frozen=True)
class FramePlan:
    """The tubes of a kind of frame and where they meet.

    roles : its tubes, in the order in which every table lists them. items : sizes of its own in the sheet.
    joints : named joints that it places itself, over those of the layout, in this order; a place apart is two joints,
    name_right and name_left. struts : the tube at whose start a rack's struts hang. starter : what its
    starter sheet has otherwise than a diamond's, by items of the sheet. racks : those whose tubes are among the roles.
    usual : quantity of the side view -> what is usual, where that differs from single bicycles. parts : parts that it
    has more than once. riders : everybody aboard, from front to rear; the last one's chain drives the wheel. words :
    bare words that a sheet of no other plan has in the names of its rows.

    Raises
    ------
    ModelError
        When a row names a tube or an item that the plan does not have.
    """

    name: str
    label: str
    roles: tuple[TubeRole, ...]
    items: tuple[PlanItem, ...] = ()
    joints: tuple[tuple[str, Place], ...] = ()
    struts: str = "seatstay"
    starter: tuple[tuple[str, float], ...] = ()
    racks: tuple[Carrier, ...] = ()
    usual: tuple[tuple[str, tuple[float, float]], ...] = ()
    parts: tuple[FurtherPart, ...] = ()
    riders: tuple[Rider, ...] = (Rider(),)
    words: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        _refuse_gaps(self)

    @cached_property
    def _by_name(self) -> Mapping[str, TubeRole]:
        return {role.name: role for role in self.roles}

    @property
    def names(self) -> tuple[str, ...]:
        """The tubes, in order."""
        return tuple(role.name for role in self.roles)

    @property
    def fork_tubes(self) -> tuple[str, ...]:
        """Tubes whose mass counts to the fork."""
        return tuple(role.name for role in self.roles if role.in_fork)

    @property
    def beside_the_frame(self) -> tuple[str, ...]:
        """Tubes whose mass does not count to the frame: those of fork and racks."""
        return (*self.fork_tubes, *self.in_region("rack"))

    @property
    def followers(self) -> tuple[Rider, ...]:
        """Who rides behind the first rider, from front to rear."""
        return self.riders[1:]

    def rear_bracket(self, placed: Mapping[str, float]) -> tuple[float, float]:
        """The bracket of the last rider, whose chain drives the wheel: x and y from the first one, mm."""
        joint = self.riders[-1].bracket
        own = dict(self.joints)
        x = 0.0
        y = 0.0
        while joint != self.riders[0].bracket:
            place = own.get(joint)
            if not isinstance(place, Free):
                raise ModelError(
                    f"plan {self.name}: the {spoken(joint)} must stand x and y from another bracket, as in "
                    "'bottom_bracket + -{boom_length} 0'"
                )
            x += sized(place.x, placed)
            y += sized(place.y, placed)
            joint = place.joint
        return x, y

    def items_at(
        self, joint: str, at: tuple[float, float], base: tuple[float, float]
    ) -> dict[str, float]:
        """The items, mm, that place a joint of the plan at x and y, where they count from `base`; those that are
        numbers or count otherwise are left out."""
        place = dict(self.joints).get(joint)
        if not isinstance(place, Free):
            return {}
        found = {}
        for amount, off in ((place.x, at[0] - base[0]), (place.y, at[1] - base[1])):
            if isinstance(amount, str):
                found[amount.removeprefix("-")] = -off if amount.startswith("-") else off
        return found

    def turned(self, placed: Mapping[str, float], degrees_down: float) -> dict[str, float]:
        """The items that place joints by x and y from another, with the frame turned nose down."""
        turn = radians(degrees_down)
        found: dict[str, float] = {}
        for joint, place in self.joints:
            if isinstance(place, Free) and isinstance(place.x, str) and isinstance(place.y, str):
                x = sized(place.x, placed)
                y = sized(place.y, placed)
                now = (x * cos(turn) + y * sin(turn), y * cos(turn) - x * sin(turn))
                found |= self.items_at(joint, now, (0.0, 0.0))
        return found

    def with_joints_turned(self, placed: Mapping[str, float], degrees_down: float) -> "FramePlan":
        """The plan with the joints that numbers, not items alone, place from another, turned nose down: a rack's."""
        turn = radians(degrees_down)
        joints = []
        for joint, place in self.joints:
            if isinstance(place, Free) and not (
                isinstance(place.x, str) and isinstance(place.y, str)
            ):
                x = sized(place.x, placed)
                y = sized(place.y, placed)
                place = replace(
                    place,
                    x=x * cos(turn) + y * sin(turn),
                    y=y * cos(turn) - x * sin(turn),
                )
            joints.append((joint, place))
        return replace(self, joints=tuple(joints))

    def rack(self, end: Wheel) -> Carrier | None:
        """The rack that carries the luggage of one end."""
        return next((rack for rack in self.racks if rack.end == end), None)

    @property
    def item_keys(self) -> tuple[str, ...]:
        return tuple(item.key for item in self.items)

    @property
    def pair_joints(self) -> tuple[str, ...]:
        """Joints that stand right and left."""
        return (*PAIRS, *(name for name, place in self.joints if place.pair))

    @property
    def used_joints(self) -> frozenset[str]:
        """Joints of the layout that its tubes and its own joints rest on."""
        own = dict(self.joints)
        used = {joint for role in self.roles for joint in role.via}
        for place in (*(end for role in self.roles for end in role.ends), *own.values()):
            if isinstance(place, AtJoint):
                used |= {place.name.removesuffix("_" + EACH), place.tied_to}
            elif isinstance(place, Free):
                used.add(place.joint)
            elif isinstance(place, Between):
                used |= {place.first, place.second}
        return frozenset(used - set(own) - {""})

    def role(self, tube: str) -> TubeRole:
        """The row of a tube. Raises ModelError for a name that the plan does not hold."""
        if tube not in self._by_name:
            raise ModelError(f"there is no tube '{tube}'; known: {', '.join(self.names)}")
        return self._by_name[tube]

    def get(self, tube: str) -> TubeRole | None:
        """The row of a tube, or None."""
        return self._by_name.get(tube)

    def present(self, tubes: Collection[str]) -> tuple[TubeRole, ...]:
        """The tubes a frame has whose tube table holds these: all that are not optional, and those optional ones."""
        # In the plan's order, so that every table lists the tubes alike.
        return tuple(role for role in self.roles if not role.optional or role.name in tubes)

    def optional_ones(self, tubes: Collection[str]) -> tuple[TubeRole, ...]:
        """The optional tubes that a frame has."""
        return tuple(role for role in self.present(tubes) if role.optional)

    def parts_like(self, names: Collection[str]) -> tuple[str, ...]:
        """These parts, and those of the plan that are there once more."""
        return (*names, *(part.name for part in self.parts if part.like in names))

    def in_region(self, region: str) -> tuple[str, ...]:
        """Names of the tubes of one region."""
        return tuple(role.name for role in self.roles if role.region == region)

    def without_fork(self) -> "FramePlan":
        """The plan without the tubes of the fork's region: its fork is a given part.

        Raises ModelError where another tube stands on one of them.
        """
        kept = tuple(role for role in self.roles if role.region != "fork")
        return replace(self, roles=kept)

    def with_roles(self, *roles: TubeRole) -> "FramePlan":
        """The plan with rows replaced by name, or added at its end."""
        new = {role.name: role for role in roles}
        kept = tuple(new.pop(role.name, role) for role in self.roles)
        return replace(self, roles=(*kept, *new.values()))


def _refuse_gaps(plan: FramePlan) -> None:
    """A row must name tubes that are there; the joints it names are looked up by the layout."""
    names = {role.name for role in plan.roles}
    if len(names) != len(plan.roles):
        raise ModelError(f"plan {plan.name}: two of its tubes have one name")
    for role in plan.roles:
        met = {*role.mitred_start, *role.mitred_end, *role.narrower_than} - {SHELL}
        hosts = {place.tube for place in role.ends if isinstance(place, Along)}
        for other in sorted((met | hosts) - names):
            raise ModelError(
                f"plan {plan.name}: the {role.label} meets a {spoken(other)}, which the plan does not have"
            )


def without_side(member: str) -> str:
    """The tube that a member is: left and right of a pair are two members of one tube."""
    return member.removesuffix("_right").removesuffix("_left")


def not_handled(role: TubeRole, what: str) -> Finding:
    """That something leaves a tube out; `what` begins with who, such as ``the front view does not show``."""
    # The frame is right without its rack.
    severity: Severity = "info" if role.region == "rack" else "warning"
    return Finding("tube-not-handled", severity, f"{what} the {role.label}", role.name)
