"""What a change of geometry or rider does before anything is solved: trail, room, weight on the wheels, as figures."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import isnan, nan

from ..errors import FrameError, ModelError
from ..frame.bicycle import Bicycle
from ..frame.clearance import clearances, toe_gap
from ..geometry.statements import label, quantities, unit
from ..stability.shared_mass import tube_pieces
from ..stability.shimmy_setup import RIGID_RIDER, bicycle_parameters
from .compare import Extra
from .figures import SEEN, Figure

QUANTITIES = (
    "trail",
    "wheel_flop",
    "wheelbase",
    "front_center",
    "stack",
    "reach",
    "bb_height",
    "head_angle",
    "seat_angle",
    "fork_offset",
    "chainstay",
    "standover",
)
WEIGHT = (
    "Weight on the front wheel: every rider seated, his mass over the points he rests on by their shares, luggage "
    "where it hangs; level road, at rest."
)


@dataclass(frozen=True)
class Sight:
    """One figure that is seen without solving: its key, its words, its unit, and how a bicycle gets it."""

    key: str
    words: str
    unit: str
    of: Callable[[Bicycle], float]
    note: str = ""


def front_share(bicycle: Bicycle) -> float:
    """Share of the weight on the front wheel, percent, from moments about the rear contact of the rigid bicycle."""
    rear, front = _wheel_loads(bicycle)
    return 100.0 * front / (rear + front)


def front_weight(bicycle: Bicycle) -> float:
    """Weight on the front wheel, N."""
    return _wheel_loads(bicycle)[1]


def _wheel_loads(bicycle: Bicycle) -> tuple[float, float]:
    """On rear and front wheel, N."""
    tubes = None
    # The rough weights of frame and fork are a single bicycle's.
    if bicycle.plan.followers:
        tubes = tube_pieces(bicycle)
    # At rest nothing sways: the rigid rider is enough.
    return bicycle_parameters(bicycle, hold=RIGID_RIDER, tubes=tubes).model.wheel_loads


def sights(bicycle: Bicycle) -> tuple[Sight, ...]:
    """Every sight of this bicycle: geometry, weight on the front wheel, room for tyres and toes."""
    held = quantities(bicycle.dimensions)
    known = [name for name in QUANTITIES if held[name] is not None]
    # The gap to the pedal is a sight of its own, under its own key.
    rooms = [gap.name for gap in clearances(bicycle) if "pedal" not in gap.name]
    drawn = [Sight(name, label(name), unit(name), _quantity(name)) for name in known]
    gaps = [Sight(_key(name), name, "mm", _room(name)) for name in rooms]
    weights = (
        Sight("front_weight", "weight on the front wheel", "N", front_weight, WEIGHT),
        Sight("front_share", "share of the weight on the front wheel", "%", front_share, WEIGHT),
    )
    return (
        *drawn,
        *weights,
        Sight("toe_gap", "pedal axle to front tyre, steering turned", "mm", toe_gap),
        *gaps,
    )


def _key(name: str) -> str:
    return name.replace(",", "").replace(" ", "_")


def find_sight(bicycle: Bicycle, key: str) -> Sight:
    """The sight of that key. Raises ModelError that lists the known ones."""
    known = sights(bicycle)
    for one in known:
        if _key(key.strip().lower()) in (one.key, _key(one.words)):
            return one
    raise ModelError(f"'{key}' is nothing that is seen; known: {', '.join(s.key for s in known)}")


def sighted(bicycle: Bicycle) -> Extra:
    """The sights as figures of a comparison, keys ``geometry.trail`` and so on; nan where a variant has none."""
    known = sights(bicycle)
    figures = tuple(
        Figure(
            one.key,
            one.words,
            one.unit,
            supports=one.note,
            case=SEEN,
            group="Geometry and room",
        )
        for one in known
    )

    def values(variant: Bicycle) -> Sequence[float]:
        return [_value(one, variant) for one in known]

    return Extra(figures, values)


def both(*extras: Extra | None) -> Extra | None:
    """Several extras as one; None where there is none."""
    given = [extra for extra in extras if extra is not None]
    if not given:
        return None

    def values(variant: Bicycle) -> Sequence[float]:
        return [value for extra in given for value in extra.values(variant)]

    return Extra(tuple(figure for extra in given for figure in extra.figures), values)


def _value(one: Sight, bicycle: Bicycle) -> float:
    try:
        return one.of(bicycle)
    except FrameError:
        return nan


def _quantity(name: str) -> Callable[[Bicycle], float]:
    def of(bicycle: Bicycle) -> float:
        value = quantities(bicycle.dimensions)[name]
        if value is None:
            return nan
        return value

    return of


def _room(name: str) -> Callable[[Bicycle], float]:
    def of(bicycle: Bicycle) -> float:
        gaps: Mapping[str, float] = {gap.name: gap.gap for gap in clearances(bicycle)}
        # A variant may lack the tube that had this gap.
        return gaps.get(name, nan)

    return of


STEPS = 48  # places at which a goal is looked for before it is closed in on
HALVINGS = 60


def seek(
    make: Callable[[float], Bicycle],
    goal: Callable[[Bicycle], float],
    wanted: float,
    limits: tuple[float, float],
    present: float,
) -> tuple[float | None, tuple[float, float]]:
    """(the value nearest to the present one for which `goal` is what is wanted, or None; the range that was reached).

    Places over the limits are tried, then the nearest pair between which the goal is passed is halved.
    """
    low, high = limits
    # With the present value among them, so that a goal close to it is found close to it.
    places = sorted({present, *(low + (high - low) * k / STEPS for k in range(STEPS + 1))})
    seen = [(x, y) for x in places if not isnan(y := _tried(make, goal, x))]
    pairs = [(a, b) for a, b in pairwise(seen) if (a[1] - wanted) * (b[1] - wanted) <= 0]
    values = [y for _, y in seen]
    reached = (min(values, default=nan), max(values, default=nan))
    if not pairs:
        return None, reached
    (a, at_a), (b, _) = min(
        pairs, key=lambda pair: min(abs(pair[0][0] - present), abs(pair[1][0] - present))
    )
    for _ in range(HALVINGS):
        middle = (a + b) / 2
        at_middle = _tried(make, goal, middle)
        # Between two bicycles that can be there may lie one that cannot.
        if isnan(at_middle):
            return None, reached
        if (at_middle - wanted) * (at_a - wanted) <= 0:
            b = middle
        else:
            a = middle
            at_a = at_middle
    return (a + b) / 2, reached


def _tried(make: Callable[[float], Bicycle], goal: Callable[[Bicycle], float], x: float) -> float:
    """The goal at one place; nan where no bicycle can be made."""
    try:
        return goal(make(x))
    except FrameError:
        return nan
