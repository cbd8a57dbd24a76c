"""One dimension changed, and what then stays and what follows: the frame drawn anew.

A builder who turns one knob has to say what stays ("keep the trail") and what follows ("let the offset follow").
Without a word every field of `FrameDimensions` stays but the changed one, and what is worked out from them moves. A
derived number that is changed or kept needs one field that follows; `FOLLOWERS` holds the usual ones (common practice,
no source), the first that is not itself changed or kept is taken.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ..errors import ModelError
from .closure_search import ClosureProblem
from .dimensions import FrameDimensions
from .quantities import QUANTITIES, STATED
from .statements import FIELDS, label, quantities, unit

FOLLOWERS: Mapping[str, tuple[str, ...]] = {
    "stack": ("head_tube", "lower_stack", "fork_length"),
    "bb_height": ("bb_drop",),
    "trail": ("fork_offset", "head_angle"),
    "mechanical_trail": ("fork_offset", "head_angle"),
    "wheel_flop": ("fork_offset", "head_angle"),
    "axle_to_crown_straight": ("fork_length",),
    "effective_top_tube": ("reach", "seat_angle"),
    "wheelbase": ("reach", "chainstay", "head_angle"),
    "front_center_horizontal": ("reach", "head_angle"),
    "front_center": ("reach", "head_angle"),
    "chainstay_horizontal": ("chainstay",),
    "seat_tube_extension": ("seat_tube", "top_tube_on_seat_tube"),
    "top_tube_slope_deg": ("top_tube_on_seat_tube", "top_tube_below_head_top"),
    "standover": ("top_tube_on_seat_tube", "top_tube_below_head_top"),
    "top_tube_cc": ("reach", "top_tube_on_seat_tube"),
    "down_tube_cc": ("down_tube_above_head_bottom", "reach"),
    "seatstay_cc": ("seatstay_below_top_tube",),
}
SAME = 1e-6  # mm or degrees; fields nearer than this have not moved


@dataclass(frozen=True)
class Moved:
    """The frame after a change. followed : the fields that had to follow, with what they were and are now."""

    dimensions: FrameDimensions
    followed: tuple[tuple[str, float, float], ...] = ()

    def __str__(self) -> str:
        """``fork offset follows: 50 -> 46.2 mm``; empty where nothing had to follow."""
        return ", ".join(
            f"{label(name)} follows: {before:.2f} -> {after:.2f} {unit(name)}"
            for name, before, after in self.followed
        )


def moved(
    present: FrameDimensions,
    changes: Mapping[str, float],
    keep: Sequence[str] = (),
    follow: Sequence[str] = (),
) -> Moved:
    """The frame with these values (names of `STATED`, mm or degrees) and the kept quantities as they are.

    follow : fields that follow, in place of the usual ones.

    Raises
    ------
    ModelError
        For something the frame does not hold, what cannot stay beside what is changed, or a frame that cannot be.
    """
    held = quantities(present)
    for name in (*changes, *keep):
        if held.get(name) is None and (name not in FIELDS or name in keep):
            raise ModelError(
                f"{label(name)} is not known of this frame, so nothing can be made of it"
            )
    for name, number in changes.items():
        # far outside, the equations below lose their meaning before anybody could say so
        if not QUANTITIES[name].believes(number):
            raise ModelError(
                f"{label(name)} is {number:.6g}, {QUANTITIES[name].expected()}; check the value and its unit"
            )
    # a change wins over a wish to keep the same item
    wanted = {name: value for name in keep if (value := held[name]) is not None} | dict(changes)
    loose = _followers(wanted, follow)
    fixed = [name for name in FIELDS if name not in loose and name not in wanted]
    # what is kept before what stays anyway, and what may move last: the search takes them in turn
    order = [*(n for n in wanted if n not in changes), *fixed, *loose]
    defaults = {
        name: value for name in order if (value := wanted.get(name, held[name])) is not None
    }
    problem = ClosureProblem(changes, defaults, present.given)
    # from the present frame: the one that was meant is the one nearby
    frame = problem.the_frame(problem.start)
    # the search may satisfy the equations with another field than was asked
    _hold(present, frame, wanted, fixed)
    return Moved(frame, _followed(present, frame, loose))


def _followers(wanted: Mapping[str, float], follow: Sequence[str]) -> list[str]:
    """One field that follows for every derived number that is changed or kept."""
    asked = list(follow)
    for name in asked:
        if name not in FIELDS:
            raise ModelError(
                f"{label(name)} is worked out from other dimensions and cannot follow by itself; name one of: "
                f"{', '.join(map(label, FIELDS))}"
            )
        if name in wanted:
            raise ModelError(f"{label(name)} cannot follow: it is itself set or kept")
    loose: list[str] = []
    for name in wanted:
        if name in FIELDS:
            continue
        own = [one for one in asked if one not in loose]
        usual = [one for one in FOLLOWERS[name] if one not in wanted and one not in loose]
        able = own or usual
        if not able:
            raise ModelError(
                f"{label(name)} cannot be had: everything that could follow "
                f"({', '.join(map(label, FOLLOWERS[name]))}) is set or kept too; leave one out, or name with --follow "
                "what may move"
            )
        loose.append(able[0])
    # a wish that does nothing would be taken for heeded
    idle = [name for name in asked if name not in loose]
    if idle:
        raise ModelError(
            f"{label(idle[0])} has nothing to follow; say with --keep what is to stay, such as trail"
        )
    return loose


def _hold(
    present: FrameDimensions,
    frame: FrameDimensions,
    wanted: Mapping[str, float],
    fixed: Sequence[str],
) -> None:
    """Refuse a frame in which something else moved or what was wanted is not there."""
    now = quantities(frame)
    strayed = [name for name in fixed if _differ(getattr(present, name), getattr(frame, name))]
    missed = [name for name, value in wanted.items() if _differ(now[name], value)]
    if strayed or missed:
        raise ModelError(
            f"{' and '.join(label(name) for name in wanted)} cannot be had together by what is to follow"
            + (f" ({label(strayed[0])} would have to move)" if strayed else "")
            + "; name another with --follow"
        )


def _differ(a: float | None, b: float | None) -> bool:
    if a is None or b is None:
        return a is not b
    return abs(a - b) > SAME


def _followed(
    present: FrameDimensions, frame: FrameDimensions, loose: Sequence[str]
) -> tuple[tuple[str, float, float], ...]:
    pairs = ((name, getattr(present, name), getattr(frame, name)) for name in loose)
    return tuple(pair for pair in pairs if pair[1] is not None and _differ(pair[1], pair[2]))


def knob_names() -> tuple[str, ...]:
    """Every quantity of the side view that can be changed or kept."""
    return tuple(STATED)
