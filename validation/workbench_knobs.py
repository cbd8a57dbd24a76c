"""Every other item of the sheet as a knob of the served page: what stands there, what turning some of them makes."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from ..converters.files.fitsheet.items import ITEMS
from ..converters.files.fitsheet.knobs import Setting, plain_values, set_findings, setting, turned
from ..model.errors import FrameError, InputError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.slips import new_slips
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.statements import quantities

SAME = 1e-6  # mm or degrees
# Groups of items that are plain values of the bicycle, and what stands over them on the page.
PARTS = {
    "loads": "Rider, bags and loads",
    "placing": "Where the plan's tubes meet",
    "fittings": "Parts",
    "riding": "Tyres, wheels and rider's body in a wobble",
}
TYRES = ("tyre_width_front", "tyre_width_rear")
# What builders turn, in the order in which they talk of it; everything else of the side view follows below.
SIDE_VIEW = (
    "head_angle",
    "seat_angle",
    "fork_offset",
    "axle_to_crown_straight",
    "trail",
    "bb_drop",
    "chainstay",
    "stack",
    "reach",
    "effective_top_tube",
    "head_tube",
    "lower_stack",
    "wheelbase",
    "front_center",
    "seat_tube",
    "top_tube_on_seat_tube",
    "top_tube_below_head_top",
    "down_tube_above_head_bottom",
    "standover",
)


class KnobError(InputError):
    """A value that cannot be; `item` says which knob to mark, '' for all of them together."""

    def __init__(self, item: str, error: FrameError) -> None:
        super().__init__(str(error))
        self.item = item


@dataclass(frozen=True)
class Knobs:
    """What was turned. items : name -> text as typed, a unit may follow. keep : what stays in the side view."""

    items: Mapping[str, str] = field(default_factory=dict)
    keep: tuple[str, ...] = ()


NO_KNOBS = Knobs()


@dataclass(frozen=True)
class Knob:
    """One item as it stands on the page; `value` as text, '' where the bicycle does not hold it."""

    name: str
    label: str
    unit: str
    value: str
    group: str


def knobs_of(bicycle: Bicycle) -> tuple[Knob, ...]:
    """Every knob of a bicycle, group by group."""
    side = quantities(bicycle.dimensions)
    side_view = {name: side[name] for name in SIDE_VIEW}
    groups: dict[str, dict[str, float | None]] = {
        "Side view": side_view,
        "Tyres": dict(zip(TYRES, bicycle.tyre_widths, strict=True)),
        **{title: {} for title in PARTS.values()},
    }
    for name, value in plain_values(bicycle).items():
        groups[PARTS[ITEMS[name].group]][name] = value
    return tuple(
        Knob(name, ITEMS[name].label, ITEMS[name].unit, _text(value), group)
        for group, values in groups.items()
        for name, value in values.items()
    )


def _text(value: float | None) -> str:
    if value is None:
        return ""
    return f"{round(value, 2):g}"


@dataclass(frozen=True)
class TurnedKnobs:
    """The bicycle after its knobs. words : what was turned. side_view, parts : name -> value that is another now."""

    bicycle: Bicycle
    words: tuple[str, ...] = ()
    findings: tuple[Finding, ...] = ()
    side_view: Mapping[str, float] = field(default_factory=dict)
    parts: Mapping[str, float] = field(default_factory=dict)
    tyres: bool = False


def turn(bicycle: Bicycle, knobs: Knobs) -> TurnedKnobs:
    """The bicycle with the knobs turned.

    Raises
    ------
    KnobError
        For a name or a value that cannot be; the message says what is expected.
    """
    if not knobs.items:
        return TurnedKnobs(bicycle)
    settings = [_read(name, text) for name, text in knobs.items.items()]
    try:
        result = turned(bicycle, settings, knobs.keep)
    except FrameError as error:
        # Where several were turned nobody can tell which of them is at fault.
        only = next(iter(knobs.items)) if len(knobs.items) == 1 else ""
        raise KnobError(only, error) from error
    made = result.bicycle
    told = set_findings(bicycle, made, settings, result.followed)
    # Settings in words have no number to show.
    numbers = {one.item.key: one.value for one in settings if not isinstance(one.value, str)}
    words = tuple(one.words for one in settings)
    # Geometry is told by the moved side view, tyres by a flag of their own.
    parts = {key: value for key, value in numbers.items() if ITEMS[key].group in PARTS}
    return TurnedKnobs(
        made,
        words,
        (*told, *new_slips(bicycle, made)),
        _moved(bicycle.dimensions, made.dimensions),
        parts,
        made.tyre_widths != bicycle.tyre_widths,
    )


def _read(name: str, text: str) -> Setting:
    try:
        return setting(f"{name}={text}", "")
    except FrameError as error:
        raise KnobError(name, error) from error


def _moved(before: FrameDimensions, after: FrameDimensions) -> dict[str, float]:
    """Quantities of the side view that are others now."""
    was = quantities(before)
    return {
        name: value
        for name, value in quantities(after).items()
        if value is not None and (old := was[name]) is not None and abs(value - old) > SAME
    }
