"""Any item of a sheet set to another value: ``fork_offset=55``, ``tyre=42``, ``stack=600 mm``, ``rider_mass=90``.

Names are those of the sheet, in any language; what stays and what follows in the side view is `model.geometry.knobs`.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields, replace

from ....model.assumption import still_assumed
from ....model.errors import InputError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle, Fittings, Loads
from ....model.frame.dropouts import DROPOUTS
from ....model.frame.hubs import Hub
from ....model.frame.parts import PARTS
from ....model.frame.riding import settled_riding
from ....model.frame.suspension import SuspensionFork
from ....model.geometry.knobs import knob_names, moved
from ....model.geometry.statements import label, quantities, unit
from ....model.tubes.racks import RACKS
from ....model.words import spoken
from .find_item import ambiguous, find_item, nearest_item
from .items import ITEMS, SheetItem
from .parts import SPACINGS, AnyPart, hub_named, is_part_text, part_named, part_text
from .table import bare
from .values import quantity
from .wheels import KNOWN_BEAD_SEATS, tyre_label, wheel_label, wheel_radius

MOVING = ("trail", "stack", "wheelbase", "bb_height")  # told after a change of geometry
_AXLES = {"front_axle_standard": "front_hub", "rear_axle_standard": "rear_hub"}
_SIDES = {"front": ("front",), "rear": ("rear",), "both": ("front", "rear")}


@dataclass(frozen=True)
class Setting:
    """One item and its value in mm, degrees, kg, N or as a share; a bicycle type and a part are texts."""

    item: SheetItem
    value: float | str

    @property
    def words(self) -> str:
        """``fork offset 55 mm``"""
        if isinstance(self.value, str):
            return f"{self.item.label} {self.value}"
        return f"{self.item.label} {round(self.value, 4):g} {self.item.unit}".rstrip()


@dataclass(frozen=True)
class Turned:
    """A bicycle after its settings, and in words what followed them."""

    bicycle: Bicycle
    followed: str = ""


def known_names() -> list[str]:
    """What can be set, as options write it."""
    own = [f.name for part in (Loads, Fittings) for f in fields(part)]
    own += [key for key, item in ITEMS.items() if item.group == "suspension"]
    wheels = [key for key, item in ITEMS.items() if item.group == "wheel"]
    return [*own, "bicycle_type", *knob_names(), *wheels, *PARTS, *DROPOUTS]


def item_named(name: str) -> SheetItem | None:
    """The item of a key or of a name of the trade; None when it is not known or cannot be set."""
    # options are written with low lines, sheets with blanks
    key = name.strip().lower().replace(" ", "_")
    if key in ITEMS:
        item = ITEMS[key]
    else:
        found = find_item(name.replace("_", " "))
        if found is None:
            return None
        item = found.item
    # these say what a sheet is about, and have no value to turn
    texts = ("name", "plan", "fork_convention", "fork_type", "suspension_state", *RACKS)
    if item.key in (*texts, *_AXLES):
        return None
    return item


def part_item(name: str, value: str) -> SheetItem | None:
    """The part that a name and a text mean: sizes or an axle standard. A plain number for a name that an item has too
    (stem, bar, rear hub) means the item."""
    spoken_name = name.replace("_", " ").strip()
    axle = find_item(spoken_name)
    key = part_named(spoken_name)
    if axle is not None:
        # "front hub" is the spacing; with an axle standard it is the hub itself
        hubs = {spacing: hub for hub, spacing in SPACINGS.items()} | _AXLES
        key = key or hubs.get(axle.item.key)
    if key is None:
        return None
    # a plain number means the item, since a part is stated by its sizes
    if not is_part_text(value) and (axle is not None or item_named(name) is not None):
        return None
    return SheetItem(key, "part", "part", (0, 0), (spoken(key),))


def setting(text: str, option: str = "--set") -> Setting:
    """Read ``NAME=VALUE``. Raises InputError that names the option and what is expected."""
    name, _, value = text.partition("=")
    # the part first: its text is the stricter of the two forms
    item = part_item(name, value) or item_named(name)
    if item is None:
        spoken_name = name.strip().replace("_", " ")
        near = ambiguous(spoken_name) or nearest_item(spoken_name)
        hint = ""
        if near:
            hint = f" ({near}?)"
        raise InputError(
            f"{option} {text}: '{name.strip()}' is not known{hint}; known: {', '.join(known_names())}"
        )
    return Setting(item, setting_value(item, value, f"{option} {text}"))


def setting_value(item: SheetItem, text: str, where: str) -> float | str:
    """The value in the item's base unit; its unit may stand behind it."""
    if item.group == "text":
        # types are compared as ISO 4210 writes them, in lower case with blanks
        return text.strip().lower().replace("_", " ")
    if item.group == "part":
        return text.strip()
    try:
        if item.kind == "wheel":
            return float(wheel_label(text).bead_seat or 0)
        if item.kind == "tyre":
            return float(tyre_label(text).width or 0.0)
        return quantity(text, "", item.kind)[0]
    except InputError as error:
        raise InputError(f"{where}: {error}") from error


def plain_values(bicycle: Bicycle) -> dict[str, float]:
    """Every load, fitting and riding value of a bicycle, and the items of its plan, by the item's key; what is not
    stated as usual."""
    loads = {one.name: getattr(bicycle.loads, one.name) for one in fields(Loads)}
    fittings = {one.name: getattr(bicycle.fittings, one.name) for one in fields(Fittings)}
    own = {key: bicycle.placed[key] for key in bicycle.plan.item_keys}
    return {**loads, **fittings, **settled_riding(bicycle.riding), **own}


def present_value(bicycle: Bicycle, item: SheetItem) -> float:
    """What an item of the side view, the fittings, loads or riding is now. Raises InputError where it is not known."""
    held = plain_values(bicycle)
    if item.key in held:
        return float(held[item.key])
    # a dimension that the sheet leaves open has no value to begin from
    value = quantities(bicycle.dimensions)[item.key]
    if value is None:
        raise InputError(f"{item.label} is not known of this frame; state it in the sheet")
    return value


def turned(
    bicycle: Bicycle,
    settings: Sequence[Setting],
    keep: Sequence[str] = (),
    follow: Sequence[str] = (),
) -> Turned:
    """The bicycle with these settings; `keep` and `follow` are names of the side view.

    Raises InputError or ModelError for a value that cannot be, and for a tyre where the rim is not known.
    """
    by_group: dict[str, dict[str, float]] = {
        group: {} for group in ("loads", "fittings", "riding", "placing", "suspension", "geometry")
    }
    # rim and tyre make one radius together: each may be set, in any order
    widths = list(bicycle.tyre_widths)
    radii: dict[str, float] = {}
    stated = [one.item.key for one in settings]
    made = bicycle
    parts = dict(bicycle.parts)
    for one in settings:
        if one.item.group == "part":
            parts[one.item.key] = _part(bicycle, one)
        elif isinstance(one.value, str):
            made = replace(made, bicycle_type=one.value)
        elif one.item.group == "wheel":
            radii |= _wheels(bicycle, one.item, one.value, widths)
        else:
            by_group[one.item.group][one.item.key] = one.value
    widths_of_hubs = _hub_spacings(settings, parts)
    # what is set by name wins over what an axle standard means
    by_group["fittings"] = widths_of_hubs | by_group["fittings"]
    made = replace(
        made,
        parts=parts,
        loads=replace(made.loads, **by_group["loads"]),
        fittings=replace(made.fittings, **by_group["fittings"]),
        riding={**made.riding, **by_group["riding"]},
        placing={**made.placing, **by_group["placing"]},
        suspension=_fork(made, by_group["suspension"]),
        tyre_widths=(widths[0], widths[1]),
        # a wheel that was set leaves behind no radius of the tyre before
        assumed=still_assumed(made.assumed, (*stated, *radii, *widths_of_hubs)),
    )
    # the geometry last: it is worked out anew only where something of it changed
    changes = {**by_group["geometry"], **radii}
    if not changes:
        return Turned(made)
    result = moved(
        bicycle.dimensions,
        changes,
        tuple(map(side_view_name, keep)),
        tuple(map(side_view_name, follow)),
    )
    return Turned(replace(made, dimensions=result.dimensions), str(result))


def _fork(bicycle: Bicycle, changes: Mapping[str, float]) -> SuspensionFork | None:
    """The suspension fork with what was set."""
    if not changes:
        return bicycle.suspension
    if bicycle.suspension is None:
        raise InputError(
            f"{ITEMS[next(iter(changes))].label}: this bicycle has no suspension fork; state it in the sheet with "
            "the row 'fork type, suspension'"
        )
    return bicycle.suspension.having(
        {key.removeprefix("suspension_"): value for key, value in changes.items()}
    )


def _part(bicycle: Bicycle, one: Setting) -> AnyPart:
    # the builder's own materials are known by the tubes that are made of them
    own = {bare(tube.material.name): tube.material for tube in bicycle.tubes.values()}
    return part_text(one.item.key, str(one.value), own)


def _hub_spacings(settings: Sequence[Setting], parts: Mapping[str, AnyPart]) -> dict[str, float]:
    """The spacings that the axle standards among the settings mean."""
    found = {}
    for one in settings:
        end = hub_named(one.item.key)
        hub = parts.get(one.item.key)
        # only a standard has a spacing of its own; a bar of some size has none
        if one.item.group == "part" and end is not None and isinstance(hub, Hub):
            found[SPACINGS[end]] = hub.spacing
    return found


def side_view_name(name: str) -> str:
    """The quantity of the side view of that name. Raises InputError."""
    item = item_named(name)
    # only quantities of the side view can be held while another is moved
    if item is None or item.key not in knob_names():
        raise InputError(
            f"'{name}' is not a dimension of the side view that could stay or follow; known: {', '.join(knob_names())}"
        )
    return item.key


def _wheels(
    bicycle: Bicycle, item: SheetItem, value: float, widths: list[float | None]
) -> Mapping[str, float]:
    """The wheel radii that a wheel item makes; a tyre's width is put into `widths`."""
    what, _, side = item.key.rpartition("_")
    radii = {}
    for one in _SIDES[side]:
        k = ("front", "rear").index(one)
        name = f"wheel_radius_{one}"
        radius = getattr(bicycle.dimensions, name)
        width = widths[k]
        if what == "wheel_radius":
            radii[name] = value
        elif what == "wheel_diameter":
            radii[name] = value / 2
        # without the width it is not known how much of the radius is rim
        elif width is None:
            raise InputError(
                f"{item.label}: the sheet does not state the {one} tyre's width, so it is not known what the other "
                f"would change; state rim and tyre in the sheet, or set {name}"
            )
        elif what == "tyre_width":
            # a tyre is as high as it is wide: the rim, and what the tyre sinks in, stay
            radii[name] = radius + wheel_radius(0, value) - wheel_radius(0, width)
            widths[k] = value
        else:
            # the nearest size of the trade: the radius alone is known, rounded
            rim = min(KNOWN_BEAD_SEATS, key=lambda d: abs(wheel_radius(d, width) - radius))
            radii[name] = radius + (value - rim) / 2
    return radii


def set_findings(
    before: Bicycle, after: Bicycle, settings: Sequence[Setting], followed: str
) -> tuple[Finding, ...]:
    """What was set and what it moved, for the record."""
    # loads and fittings move nothing in the side view
    if before.dimensions == after.dimensions:
        return ()
    old = quantities(before.dimensions)
    new = quantities(after.dimensions)
    told = []
    for name in MOVING:
        was = old[name]
        now = new[name]
        # half a hundredth: below that nothing moved that could be built
        if was is not None and now is not None and abs(now - was) > 0.005:
            told.append(f"{label(name)} {was:.1f} -> {now:.1f} {unit(name)}")
    words = f"set: {', '.join(one.words for one in settings)}"
    if followed:
        words += f"; {followed}"
    if told:
        words += f"; moved: {', '.join(told)}"
    return (
        Finding(
            "item-set",
            "info",
            f"{words}. The frame is drawn anew at its angles; it is not the built frame tilted",
        ),
    )
