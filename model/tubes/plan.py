"""The plan of the frame: one row for each tube that a frame can have, read by everything that deals with tubes.

Layout, mesh, mitres, drawing, clearances, workshop rules, sheet and words ask this table and hold no list of their
own; who cannot handle a tube says so with `not_handled`. A tube is added by adding its row to `PLAN`. Marked optional,
it is in the frame when the tube table has a row for it, and otherwise leaves no trace.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Literal

from ..errors import ModelError
from ..findings import Finding
from ..words import spoken

End = Literal["start", "end"]
Wheel = Literal["rear", "front"]
SHELL = "bb_shell"  # stands among the neighbours of a mitre, but is a part and not a tube


@dataclass(frozen=True)
class AtJoint:
    """A named joint of the layout; ``{side}`` in the name stands for right and left of a paired tube.

    tied_to : the joint on a neighbour's axis that carries it stiffly, where it stands beside that neighbour.
    """

    name: str
    tied_to: str = ""


@dataclass(frozen=True)
class Along:
    """A point on the axis of a straight tube of the middle plane, at a share of its length from its start.

    aside : how far to its side a paired tube stands there, mm; carried stiffly by the point on the axis.
    """

    tube: str
    share: float
    aside: float = 0.0


@dataclass(frozen=True)
class TubeRole:
    """One tube of the plan, or one pair: left and right share an entry of the tube table.

    ends : where it starts and ends; butts and tapers count from the start. via : joints on it in between.
    plain : (diameter at start, at end, wall), mm, of the steel tube taken when a sheet names none.
    shape : ``bowed`` and ``raked`` are bent as the fittings say, see `layout`.
    mitred_start, mitred_end : what the end is cut to; those after the first may be struck on the way to the first.
    template_from : side of the tube at which its mitre template begins.
    narrower_than : tubes that it must not be wider than. lugs : diameters for which lugs are made, mm.
    region : what a mode shape calls the part of the bicycle it belongs to.
    tyres : wheels whose tyres could touch it. bridged : right and left are joined by a bridge behind the tyre.
    inside : the tube in which it turns, hidden from the side.
    """

    name: str
    ends: tuple[AtJoint | Along, AtJoint | Along]
    plain: tuple[float, float, float]
    via: tuple[str, ...] = ()
    paired: bool = False
    optional: bool = False
    shape: Literal["straight", "bowed", "raked"] = "straight"
    mitred_start: tuple[str, ...] = ()
    mitred_end: tuple[str, ...] = ()
    template_from: Literal["top", "front"] = "top"
    narrower_than: tuple[str, ...] = ()
    lugs: tuple[float, ...] = ()
    region: str = "main triangle"
    tyres: tuple[Wheel, ...] = ("rear", "front")
    bridged: bool = False
    inside: str = ""

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

    def node_on(self, place: Along) -> str:
        """The joint on the other tube's axis."""
        return f"{self.name}_on_{place.tube}"

    def joint(self, end: int, side: str = "") -> str:
        """The joint at the start (0) or end (1); `side` is right or left for a pair."""
        place = self.ends[end]
        if isinstance(place, AtJoint):
            return place.name.format(side=side)
        # Aside of the axis right and left are two joints.
        if place.aside:
            return f"{self.node_on(place)}_{side}"
        return self.node_on(place)

    def tied_to(self, end: int) -> str:
        """The joint on a neighbour's axis that carries this end stiffly; '' where the end lies on the axis itself."""
        place = self.ends[end]
        if isinstance(place, AtJoint):
            return place.tied_to
        if place.aside:
            return self.node_on(place)
        return ""


# Sizes and neighbours of the diamond frame: common practice, no source.
PLAN = (
    TubeRole(
        "head_tube",
        (AtJoint("head_tube_top"), AtJoint("head_tube_bottom")),
        (36.0, 36.0, 1.1),
        via=("top_tube_head_node", "down_tube_head_node"),
        lugs=(31.8, 36.0),
        tyres=(),
    ),
    TubeRole(
        "top_tube",
        (AtJoint("seat_tube_top_tube_node"), AtJoint("top_tube_head_node")),
        (28.6, 28.6, 0.8),
        mitred_start=("seat_tube",),
        mitred_end=("head_tube",),
        narrower_than=("head_tube", "seat_tube"),
        lugs=(25.4, 28.6),
        tyres=(),
    ),
    TubeRole(
        "down_tube",
        (AtJoint("bottom_bracket"), AtJoint("down_tube_head_node")),
        (31.8, 31.8, 0.8),
        # On its way to the shell it may strike the foot of the seat tube.
        mitred_start=(SHELL, "seat_tube"),
        # On its way to the head tube, the end of the top tube.
        mitred_end=("head_tube", "top_tube"),
        narrower_than=("head_tube",),
        lugs=(28.6, 31.8),
        tyres=("front",),
    ),
    TubeRole(
        "seat_tube",
        (AtJoint("bottom_bracket"), AtJoint("seat_tube_top")),
        (28.6, 28.6, 0.8),
        via=("seat_tube_seatstay_node", "seat_tube_top_tube_node"),
        mitred_start=(SHELL,),
        # It stands upright: its top would be its own direction.
        template_from="front",
        lugs=(28.6,),
        tyres=("rear",),
    ),
    TubeRole(
        "chainstay",
        (AtJoint("chainstay_shell_{side}"), AtJoint("rear_dropout_{side}")),
        (19.0, 19.0, 0.8),
        paired=True,
        mitred_start=(SHELL,),
        region="rear triangle",
        tyres=("rear",),
        bridged=True,
    ),
    TubeRole(
        "seatstay",
        # Beside the seat tube, and carried stiffly by the joint on its axis.
        (AtJoint("seatstay_top_{side}", "seat_tube_seatstay_node"), AtJoint("rear_dropout_{side}")),
        (16.0, 16.0, 0.8),
        paired=True,
        shape="bowed",
        mitred_start=("seat_tube",),
        template_from="front",
        region="rear triangle",
        tyres=("rear",),
        bridged=True,
    ),
    TubeRole(
        "fork_blade",
        (AtJoint("crown_{side}"), AtJoint("front_dropout_{side}")),
        (24.0, 24.0, 1.0),
        paired=True,
        shape="raked",
        region="fork",
        tyres=("front",),
    ),
    TubeRole(
        "steerer",
        (AtJoint("stem_clamp"), AtJoint("fork_crown")),
        (28.6, 28.6, 1.6),
        via=("steerer_upper", "steerer_lower"),
        region="bars",
        tyres=(),
        inside="head_tube",
    ),
)

MEMBERS = tuple(role.name for role in PLAN)
FORK_TUBES = tuple(role.name for role in PLAN if role.in_fork)
_ROLES = {role.name: role for role in PLAN}


def role_of(tube: str) -> TubeRole:
    """The row of a tube. Raises ModelError for a name that the plan does not hold."""
    if tube not in _ROLES:
        raise ModelError(f"there is no tube '{tube}'; known: {', '.join(MEMBERS)}")
    return _ROLES[tube]


def without_side(member: str) -> str:
    """The tube that a member is: left and right of a pair are two members of one tube."""
    return member.removesuffix("_right").removesuffix("_left")


def present(tubes: Collection[str]) -> tuple[TubeRole, ...]:
    """The tubes a frame has whose tube table holds these: all that are not optional, and those optional ones."""
    # In the plan's order, so that every table lists the tubes alike.
    return tuple(role for role in PLAN if not role.optional or role.name in tubes)


def optional_ones(tubes: Collection[str]) -> tuple[TubeRole, ...]:
    """The optional tubes that a frame has."""
    return tuple(role for role in present(tubes) if role.optional)


def in_region(region: str) -> tuple[str, ...]:
    """Names of the tubes of one region."""
    return tuple(role.name for role in PLAN if role.region == region)


def not_handled(role: TubeRole, what: str) -> Finding:
    """That something leaves a tube out; `what` begins with who, such as ``the front view does not show``."""
    return Finding("tube-not-handled", "warning", f"{what} the {role.label}", role.name)
