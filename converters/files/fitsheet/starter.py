"""Starter sheets: a filled bicycle of every plan, with extras, as a builder writes it, to put own numbers into."""

import csv
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from ....model.errors import ModelError
from ....model.frame.bicycle import Bicycle, Fittings, Loads
from ....model.frame.dropouts import DEFAULT_MATERIAL, DROPOUTS
from ....model.frame.hubs import HUB_NAMES, HUBS
from ....model.frame.parts import PARTS
from ....model.frame.suspension import TYPICAL, SuspensionFork
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.statements import FIELDS, quantities
from ....model.tubes.known_plans import DIAMOND
from ....model.tubes.materials import find_material
from ....model.tubes.plan import FramePlan
from ....model.tubes.racks import RACKS, with_rack
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .bicycle import PLACES, plain_tube, used_nodes
from .write_sheet import (
    ITEM_HEADER,
    Rows,
    csv_text,
    item_row,
    number,
    plan_row,
    save,
    settings_rows,
    suspension_rows,
    tube_tables,
)

_TYRE = 35.0  # mm
_LUGGAGE = {"front": 8.0, "rear": 14.0}  # kg
SUSPENSION = "suspension_fork"
EXTRAS = (*RACKS, SUSPENSION)  # what a starter sheet may have besides its plan
POINTS = Path(__file__).parent.parent / "data" / "points.csv"


def write_starter_sheet(
    path: str | Path, force: bool = False, plan: FramePlan = DIAMOND, extras: Sequence[str] = ()
) -> None:
    """Write the starter sheet of a plan, with some of `EXTRAS`, as .csv or .xlsx.

    Raises like `write_fit_sheet`, and ModelError for an extra that is not known or does not go with the plan.
    """
    save(_rows(with_extras(plan_starter(plan), extras)), Path(path), force)


def write_points_starter(path: str | Path, force: bool = False) -> None:
    """Write a starter sheet of points and tubes as .csv or .xlsx; raises like `write_fit_sheet`."""
    with POINTS.open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    save(iter(rows), Path(path), force)


def starter_sheet() -> str:
    """A filled, commented CSV fit sheet of an invented tourer, to put one's own numbers into."""
    return csv_text(_rows(plan_starter(DIAMOND)))


def starter_bicycle() -> Bicycle:
    """An invented 700C tourer: 622 wheels with 35 mm tyres, butted steel."""
    steel = find_material("4130")
    return Bicycle(
        FrameDimensions(
            reach=384.0,
            head_angle=71.5,
            seat_angle=72.5,
            bb_drop=75.0,
            chainstay=450.0,
            head_tube=160.0,
            lower_stack=12.0,
            fork_length=394.0,
            fork_offset=52.0,
            wheel_radius_front=311.0 + _TYRE,
            wheel_radius_rear=311.0 + _TYRE,
            seat_tube=560.0,
            top_tube_on_seat_tube=530.0,
            top_tube_below_head_top=35.0,
            down_tube_above_head_bottom=40.0,
            seatstay_below_top_tube=15.0,
        ),
        {
            "head_tube": Tube(steel, 36.0, 36.0, (1.1,)),
            "top_tube": Tube(steel, 28.6, 28.6, (0.8, 0.5, 0.8), (80.0, 80.0), (30.0, 30.0)),
            "down_tube": Tube(steel, 31.8, 31.8, (0.9, 0.6, 0.9), (100.0, 80.0), (30.0, 30.0)),
            "seat_tube": Tube(steel, 28.6, 28.6, (0.9, 0.6), (130.0,), (30.0,)),
            "chainstay": Tube(steel, 22.2, 14.0, (0.8,)),
            "seatstay": Tube(steel, 16.0, 12.5, (0.8,)),
            "fork_blade": Tube(steel, 24.0, 13.0, (1.0,)),
            "steerer": Tube(steel, 28.6, 28.6, (1.6,)),
        },
        # Room for the tyre beside stays and blades, as ISO 4210-2 wants it.
        Fittings(
            rear_hub_spacing=135.0,
            blade_spacing=64.0,
            front_hub_spacing=100.0,
            saddle_height=740.0,
        ),
        Loads(rider_mass=82.0),
        "Starter tourer (invented)",
        tyre_widths=(_TYRE, _TYRE),
    )


_HEAD = (
    "# droptrail fit sheet. Rows that begin with # are not read. Put your own numbers in the value column.",
    "# Rows may stand in any order; rows you do not need can go: whatever is then assumed is listed.",
    '# Units: mm, cm, m, inch (also 1 1/8"), degrees, % for slopes, kg, N. Decimal point or comma.',
)


_CHECKS = (
    "# The rows below say again what the rows above already fix. They are compared, and differences reported.",
    "# Any of them can also replace a row above: stack for the lower headset stack, trail for the fork offset.",
)


_TUBES = (
    "# Tubes: outside diameter 28.6, both ends of a taper 22.2-14, or height x width of an oval 30x16.",
    "# A blade that is cylindrical for 180 mm before it tapers: 24-13 after 180; an oval that ends round: 30x17-14.",
    "# A column 'corner radius' (outside, mm) makes a tube of height x width rectangular.",
    "# A row 'joined' above, or a column 'joint' for single tubes (TIG welded, fillet brazed, lugged or rigid), says",
    "# how the tubes are joined; without it their joints are rigid, and the check says what welds would change.",
    "# Wall 0.8, or butted 0.8/0.5/0.8 with butts 80/80; with the lengths of the wall's tapers 80+30/80+30.",
    "# A butted tube begins at the bottom bracket (seat and down tube, chainstay), at the seat tube (top tube,",
    "# seatstay), at the top (head tube, steerer), at the crown (fork blade).",
)


_PARTS = (
    "# Parts may stand below the tubes: take the # away from a row. Without a row they are assumed, and listed.",
    "# Hubs: by the standard of their axle, or as a bar of outside diameter and wall (assumed: 17 and 15 mm, solid).",
)


_CHECKED = (
    "stack",
    "trail",
    "wheelbase",
    "front_center_horizontal",
    "effective_top_tube",
    "bb_height",
)


def plan_starter(plan: FramePlan) -> Bicycle:
    """The starter bicycle with the tubes of a plan: those it shares with the diamond as there, the others plain."""
    bicycle = starter_bicycle()
    unused = [name for name in FIELDS if name in PLACES and PLACES[name] not in used_nodes(plan)]
    own = dict(plan.starter)
    changes: dict[str, float | None] = dict.fromkeys(unused)
    changes |= {name: value for name, value in own.items() if name in FIELDS}
    tubes = {}
    for role in (role for role in plan.roles if not role.optional):
        shared = DIAMOND.get(role.name)
        # A pair in the place of one tube is of thinner ones.
        if shared is not None and shared.plain == role.plain:
            tubes[role.name] = bicycle.tubes[role.name]
        else:
            tubes[role.name] = plain_tube(role)
    fittings = {key: value for key, value in own.items() if hasattr(bicycle.fittings, key)}
    placing = {item.key: own.get(item.key, item.usual) for item in plan.items}
    return replace(
        bicycle,
        dimensions=replace(bicycle.dimensions, **changes),  # type: ignore[arg-type]
        fittings=replace(bicycle.fittings, **fittings),
        tubes=tubes,
        plan=plan,
        placing=placing,
        name="Starter tourer (invented)"
        if plan is DIAMOND
        else f"Starter, {plan.label} (invented)",
    )


def with_extras(bicycle: Bicycle, extras: Sequence[str]) -> Bicycle:
    """The starter bicycle with racks and a suspension fork.

    Raises ModelError for an extra that is not known or does not go with the bicycle.
    """
    for extra in extras:
        if extra not in EXTRAS:
            raise ModelError(
                f"'{spoken(extra)}' is no extra of a starter sheet; known: {', '.join(EXTRAS)}"
            )
    racks = [extra for extra in extras if extra in RACKS]
    for rack in racks:
        bicycle = _with_rack(bicycle, rack)
    # a rack on the fork's blades cannot stand without them, and is told so
    return _with_suspension(bicycle) if SUSPENSION in extras else bicycle


def _with_rack(bicycle: Bicycle, rack: str) -> Bicycle:
    """A bolted rack, its tubes and items as usual, and luggage to hang on it."""
    plan = with_rack(bicycle.plan, rack)
    further = [role for role in plan.roles if bicycle.plan.get(role.name) is None]
    sizes = {item.key: item.usual for item in RACKS[rack].items}
    end = RACKS[rack].racks[0].end
    return replace(
        bicycle,
        plan=plan,
        tubes={**bicycle.tubes, **{role.name: plain_tube(role) for role in further}},
        placing={**bicycle.placing, **sizes},
        loads=replace(bicycle.loads, **{f"{end}_luggage": _LUGGAGE[end]}),
    )


def _with_suspension(bicycle: Bicycle) -> Bicycle:
    """A suspension fork with every figure of it stated as it usually is, and a head tube shorter by about as much as
    the fork is longer."""
    plan = bicycle.plan.without_fork()
    usual = {key: value.usual for key, value in TYPICAL.items()}
    return replace(
        bicycle,
        plan=plan,
        tubes={name: tube for name, tube in bicycle.tubes.items() if plan.get(name) is not None},
        dimensions=replace(bicycle.dimensions, fork_length=452.0, head_tube=110.0, reach=378.0),
        suspension=SuspensionFork().having(usual),
    )


def _rows(bicycle: Bicycle) -> Rows:
    """A starter bicycle as a builder writes it: wheels by rim and tyre, some things said twice, comments."""
    plan = bicycle.plan
    held = quantities(bicycle.dimensions)
    yield from ((line,) for line in _HEAD)
    yield ITEM_HEADER
    yield "name", bicycle.name, "", "any text"
    yield from plan_row(plan)
    for name in FIELDS:
        if getattr(bicycle.dimensions, name) is None:
            continue
        if name.startswith("wheel_radius"):
            side = name.rsplit("_", 1)[1]
            yield from (
                item_row(f"bead_seat_{side}", "622"),
                item_row(f"tyre_width_{side}", _TYRE),
            )
        else:
            yield item_row(name, getattr(bicycle.dimensions, name))
    yield from (item_row(key, value) for key, value in bicycle.placing.items())
    yield from (*settings_rows(bicycle.fittings), *settings_rows(bicycle.loads))
    yield from suspension_rows(bicycle)
    yield from ((line,) for line in _CHECKS)
    yield from (
        item_row(key, round(value, 1)) for key in _CHECKED if (value := held[key]) is not None
    )
    blank, *tubes = tube_tables(bicycle)
    yield from (blank, *((line,) for line in _TUBES), *tubes)
    yield from ((line,) for line in _PARTS)
    yield from _parts()


def _parts() -> Rows:
    """The usual parts as rows that are not read yet."""
    for name, part in PARTS.items():
        end = next((hub for hub in HUB_NAMES if hub == name), None)
        if end is None:
            wall = "solid" if part.solid else number(part.wall)
            yield f"# {spoken(name)}", number(part.od), wall, "", part.stuff.name, ""
        else:
            usual, *others = HUBS[end]
            yield f"# {spoken(name)}", usual, "", "", "", f"or {', '.join(others)}"
    for name in DROPOUTS:
        words = "plate, height x thickness x length from the axle"
        yield f"# {spoken(name)}", "30x6x26", "", "", DEFAULT_MATERIAL, words
