"""What a rider feels of vertical give: tyres, wheels, fork, frame and bolted-on parts in series, each with its share.

For one load P on springs in series the sinks add up. Here the load is spread over saddle, pedals and bars, so the
mean sink is weighted with the loads: sum(F u) / W = 2 U / W, and every component's part is twice its own energy over
their sum W. Springs in a row under one load give exactly their own sinks that way, and the parts always
add up to the whole.

A loaded tyre sinks 4-5 mm (common practice, no source); its spring is taken from that and the axle's own load.
"""

from dataclasses import dataclass

from ..errors import ModelError
from ..frame.layout import FrameLayout
from ..mechanics.energy import energy_shares
from ..mechanics.result import Result

TYRE_SAG = 4.5  # mm under the seated rider, middle of common practice
WHEEL_STIFFNESS = 3000.0  # N/mm radial, spoked wheel: workshop value from memory, no source
FRAME_PARTS = ("bb_shell", "chainstay_bridge", "seatstay_bridge", "rear_dropout")
FORK_PARTS = ("fork_crown_piece", "front_dropout")
_RIDE_WORDS = (
    "each tyre is taken to sink 4.5 mm under its load, whatever the rider and tyre (common practice, "
    "4-5 mm), so the shares are for comparing frames only; the modes use a tyre's stiffness for small "
    "movements about that, which is higher; wheel stiffness from memory"
)


@dataclass(frozen=True)
class Give:
    """One component: mean sink under the rider's weight, mm, and its share of the whole, 0 to 1."""

    component: str
    sink: float
    share: float


@dataclass(frozen=True)
class RideFeel:
    """All components, from the ground up.

    weight : all that stands on the axles, N. tyre_sag : sink of each tyre under it, mm. front_end : how far the head
    tube's top sinks by fork and frame alone in the same case, mm: to be seen beside the tyre's sag.
    """

    gives: tuple[Give, ...]
    weight: float
    tyre_sag: float
    front_end: float
    notes: str = _RIDE_WORDS

    @property
    def total(self) -> float:
        """Mean sink, mm."""
        return sum(give.sink for give in self.gives)


def ride_feel(
    seated: Result,
    layout: FrameLayout,
    tyre_sag: float = TYRE_SAG,
    wheel_stiffness: float = WHEEL_STIFFNESS,
) -> RideFeel:
    """Tyres, wheels, fork and frame in series under the seated rider.

    seated : the solved case ``seated`` (or ``seated_luggage``) of a bicycle. tyre_sag : mm under the rider.
    wheel_stiffness : N/mm.

    Raises
    ------
    ModelError
        For a case that does not stand on both axles, or spring values that are not positive.
    """
    _check(seated, tyre_sag, wheel_stiffness)
    # All loads of the case hang on the two axles, whatever they are called.
    weight = -sum(load[1] for load in seated.case.nodal.values())
    front, rear = (float(seated.reactions[axle][1]) for axle in ("front_axle", "rear_axle"))
    sinks = {
        # Each tyre sinks alike, so it is weighted with what stands on it.
        "tyres": (front * tyre_sag + rear * tyre_sag) / weight,
        # Force times sink, F · F / k, over the weight.
        "wheels": (front**2 + rear**2) / wheel_stiffness / weight,
        **_frame_sinks(seated, layout, weight),
    }
    total = sum(sinks.values())
    gives = tuple(Give(component, sink, sink / total) for component, sink in sinks.items())
    head = -float(seated.displacement(layout.node("head_tube_top"))[1])
    return RideFeel(gives, weight, tyre_sag, head)


def _frame_sinks(seated: Result, layout: FrameLayout, weight: float) -> dict[str, float]:
    """Twice the strain energy of fork, frame and the other parts over the weight."""
    # A member that is not a tube of the table is a part: axle, post, stem, bar.
    tube_of = {member.name: member.tube for member in layout.members}
    sinks = {"fork": 0.0, "frame": 0.0, "axles, seat post, stem and bar": 0.0}
    table = energy_shares(seated)
    brazed = layout.plan.parts_like(FRAME_PARTS)
    for member, kinds in table.members.items():
        tube = tube_of.get(member)
        if tube in layout.plan.fork_tubes or member in FORK_PARTS:
            place = "fork"
        else:
            if tube is not None or member in brazed:
                place = "frame"
            else:
                place = "axles, seat post, stem and bar"
        sinks[place] += 2 * sum(kinds.values()) / weight
    return sinks


def _check(seated: Result, tyre_sag: float, wheel_stiffness: float) -> None:
    if not {"front_axle", "rear_axle"} <= set(seated.reactions):
        raise ModelError(
            f"load case {seated.case.name} does not stand on both axles; take the case 'seated'"
        )
    for what, value in (("tyre sag", tyre_sag), ("wheel stiffness", wheel_stiffness)):
        if not value > 0:
            raise ModelError(f"{what} {value:g}: it must be positive")
