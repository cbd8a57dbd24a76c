"""Held how: other ways in which a bench, a road or the rider may hold the bicycle under the same load.

A stiffness is for its supports. Each main case has its credible ways to be held, the case as it is told first; an
answer that changes from way to way belongs to the way and not to the frame.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial

from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase
from ..mechanics.inertia import REFERENCE
from .motion import as_ridden
from .ride import ALONE
from .tools import CLAMPED
from .wheels import on_wheels

Change = Callable[[LoadCase, Bicycle, FrameLayout], LoadCase]
MARK = " held: "  # between a case's name and that of a way to hold it
# directions of an axle that a rig holds besides
_NO_SWIVEL = (0, 0, 0, 0, 1, 0)
_UPRIGHT = (0, 0, 0, 1, 0, 0)
_NO_ROLL = (1, 0, 0, 0, 0, 0)


@dataclass(frozen=True)
class Holding:
    """One way to hold the bicycle under a case. `short` heads a column, `words` say what is held and by what."""

    name: str
    short: str
    words: str
    change: Change

    def of(self, case: LoadCase, bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
        """The case held this way, under a name of its own."""
        changed = self.change(case, bicycle, layout)
        return replace(
            changed,
            name=held_name(case.name, self),
            title=f"{case.title or case.name}, {self.short}",
            notes=f"{case.notes}; but here: {self.words}",
            held=f"{case.held}; but here: {self.words}",
        )


def held_name(case: str, holding: Holding) -> str:
    """Name of a case held in one way, such as ``side_push held: as_ridden``."""
    return f"{case}{MARK}{holding.name}"


# --- what is changed ------------------------------------------------------------------------------------------------
def _as_told(case: LoadCase, bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    return case


def _clamping(
    case: LoadCase, bicycle: Bicycle, layout: FrameLayout, more: Mapping[str, tuple[int, ...]]
) -> LoadCase:
    supports = dict(case.supports)
    for node, flags in more.items():
        # Held besides, never instead: a way that frees something would be another test.
        before = supports.get(node, (0,) * 6)
        supports[node] = tuple(max(pair) for pair in zip(before, flags, strict=True))
    # what was a mere reference carries now
    # A touched support is one that may carry without a finding.
    touching = {node: what for node, what in case.touching.items() if what != REFERENCE}
    touching = {**dict.fromkeys(more, "held by the rig"), **touching}
    return replace(case, supports=supports, touching=touching)


def _held(**more: tuple[int, ...]) -> Change:
    """These directions held besides what the case holds."""
    return partial(_clamping, more=more)


def _on_wheels(case: LoadCase, bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    return on_wheels(case, bicycle)


def _shell_clamped(case: LoadCase, bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The shell on the table instead of an arm: what the arm did, the table does."""
    return replace(
        case,
        supports={"bottom_bracket": CLAMPED},
        touching={"bottom_bracket": "shell clamped on a table"},
    )


# --- the ways -------------------------------------------------------------------------------------------------------
AS_TOLD = Holding("as_told", "as told", "held as the load case tells", _as_told)
REAR_GRIPPED = Holding(
    "rear_gripped",
    "rear axle gripped",
    "rear axle bolted fast, so that it cannot swivel either; front axle free to lean",
    _held(rear_axle=_NO_SWIVEL),
)
FRONT_UPRIGHT = Holding(
    "front_upright",
    "front upright",
    "front axle kept from leaning by its stand; rear axle free to swivel",
    _held(front_axle=_UPRIGHT),
)
BOTH_GRIPPED = Holding(
    "both_gripped",
    "both gripped",
    "rear axle bolted fast, no swivel, and front axle kept from leaning",
    _held(rear_axle=_NO_SWIVEL, front_axle=_UPRIGHT),
)
HUBS_APART = Holding(
    "hubs_fixed",
    "hubs fixed",
    "front axle kept from rolling too, so that the hubs cannot move apart",
    _held(front_axle=_NO_ROLL),
)
WHEELS = Holding(
    "on_wheels",
    "on its wheels",
    "standing on wheels and tyres as springs, the rear wheel kept upright and from rolling",
    _on_wheels,
)
RIDDEN = Holding(
    "as_ridden",
    "as ridden",
    "held by nothing: the push is balanced by the inertia of bicycle, rider and bags",
    as_ridden,
)
SHELL = Holding(
    "shell_clamped",
    "shell clamped",
    "bottom bracket shell clamped on a table, which takes the torque; axles free",
    _shell_clamped,
)
JIG = Holding(
    "in_a_jig",
    "in a jig",
    "dropouts of frame and fork bolted fast in a jig, neither axle can move or turn",
    _held(rear_axle=CLAMPED, front_axle=CLAMPED),
)

_PUSHED = (AS_TOLD, REAR_GRIPPED, FRONT_UPRIGHT, BOTH_GRIPPED, WHEELS, RIDDEN)
_WEIGHED = (AS_TOLD, HUBS_APART, WHEELS)
_PEDALLED = (AS_TOLD, REAR_GRIPPED, FRONT_UPRIGHT, WHEELS)
HOLDINGS: Mapping[str, tuple[Holding, ...]] = {
    "seated": _WEIGHED,
    "seated_luggage": _WEIGHED,
    "climb": _PEDALLED,
    "climb_left": _PEDALLED,
    "strokes_opposed": _PEDALLED,
    "strokes_quarter_apart": _PEDALLED,
    "side_push": _PUSHED,
    "bb_push": _PUSHED,
    "frame_torsion": (AS_TOLD, SHELL, JIG),
    "saddle_push": _WEIGHED,
}


def holdings(case: str) -> tuple[Holding, ...]:
    """The ways to hold a case, as told first; only that one for a case that names its rig, or comes from a file."""
    if case.removesuffix("_left").endswith(ALONE):
        return _PEDALLED
    return HOLDINGS.get(case, (AS_TOLD,))


def held_cases(
    case: LoadCase, bicycle: Bicycle, layout: FrameLayout
) -> tuple[tuple[Holding, LoadCase], ...]:
    """Every way to hold a case with the case held that way; as told it keeps its name. A way that changes nothing,
    such as wheels under a case that stands on them already, is left out."""
    ways = holdings(case.name)
    # The first way is the case itself, under its own name.
    others = [(way, way.of(case, bicycle, layout)) for way in ways[1:]]
    # Compared by what acts and holds: titles and words differ from way to way anyway.
    told = (case.supports, case.springs, case.nodal)
    new = [pair for pair in others if (pair[1].supports, pair[1].springs, pair[1].nodal) != told]
    return ((ways[0], case), *new)
