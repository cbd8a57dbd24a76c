"""The known plans, read from ``plans.toml``: adding a further one touches that file alone."""

import tomllib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import fields, replace
from pathlib import Path
from typing import Any

from ..errors import ModelError
from ..words import spoken
from .bends import read_bend
from .places import EACH, Along, Place, read_place
from .plan import REGIONS, Carrier, FramePlan, FurtherPart, PlanItem, Rider, TubeRole

FILE = Path(__file__).with_name("plans.toml")
_KEYS = {
    "label",
    "like",
    "without",
    "struts",
    "starter",
    "items",
    "joints",
    "tubes",
    "end",
    "hangs",
    "usual",
    "parts",
    "riders",
    "words",
}
# Of a row in the file; the rest are fields of `TubeRole`.
_OWN_WORDS = {"from", "to", "bend"}
_RIDER_WORDS = {field.name for field in fields(Rider)} - {"name"}
_PLAIN_FIELDS = {field.name for field in fields(TubeRole)} - {"name", "ends", "bend", "paired"}


def plans_from(text: str, known: Mapping[str, FramePlan] | None = None) -> dict[str, FramePlan]:
    """Name -> plan, of a text in the form of ``plans.toml``.

    Raises
    ------
    ModelError
        For a row that cannot be, with plan, tube and reason.
    """
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ModelError(f"the table of plans cannot be read: {error}") from error
    plans: dict[str, FramePlan] = {}
    for name, table in tables.items():
        try:
            plans[name] = _plan(name, table, {**(known or {}), **plans})
        except (ModelError, TypeError, ValueError) as error:
            raise ModelError(f"plan {name}: {error}") from error
    return plans


def _plan(name: str, table: Mapping[str, Any], known: Mapping[str, FramePlan]) -> FramePlan:
    _refuse_words(table, _KEYS, "the plan")
    like = FramePlan("", "", ())
    if "like" in table:
        like = known[table["like"]]
    items = {item.key: item for item in like.items}
    for key, row in table.get("items", {}).items():
        low, high = row["limits"]
        items[key] = PlanItem(
            key, row["label"], float(row["usual"]), (float(low), float(high)), row.get("unit", "mm")
        )
    left_out = table.get("without", [])
    roles = {role.name: role for role in like.roles if role.name not in left_out}
    rows = table.get("tubes", {})
    tubes = (*roles, *(tube for tube in rows if tube not in roles))
    pairs = [*like.pair_joints, *(role.name for role in roles.values() if role.paired)]
    joints = dict(like.joints)
    for joint, text in table.get("joints", {}).items():
        # A tube between pairs is one, so that a joint may lie on it on either side.
        of_pairs = [
            tube for tube, row in rows.items() if {row.get("from"), row.get("to")} & {*pairs}
        ]
        joints[joint] = read_place(text, tubes, [*pairs, *of_pairs])
        if joints[joint].pair:
            pairs.append(joint)
    for tube, row in rows.items():
        roles[tube] = _role(tube, row, roles.get(tube), tubes, pairs)
        if roles[tube].paired:
            pairs.append(tube)
    return FramePlan(
        name,
        table["label"],
        tuple(roles.values()),
        tuple(items.values()),
        tuple(joints.items()),
        table.get("struts", like.struts),
        tuple((key, float(value)) for key, value in table.get("starter", {}).items()),
        _racks(name, table),
        _usual(like, table),
        (*like.parts, *_parts(table)),
        _riders(like, table),
        (*like.words, *table.get("words", ())),
    )


def _usual(
    like: FramePlan, table: Mapping[str, Any]
) -> tuple[tuple[str, tuple[float, float]], ...]:
    own = {name: _frozen(span) for name, span in table.get("usual", {}).items()}
    return tuple((dict(like.usual) | own).items())


def _parts(table: Mapping[str, Any]) -> Iterator[FurtherPart]:
    for name, row in table.get("parts", {}).items():
        yield FurtherPart(name, row["like"], _frozen(row["along"]))


def _riders(like: FramePlan, table: Mapping[str, Any]) -> tuple[Rider, ...]:
    """Over those of a plan for several; the one of a plan for one is replaced."""
    rows = table.get("riders", {})
    known = {rider.name: rider for rider in like.riders if like.followers or not rows}
    for name, row in rows.items():
        _refuse_words(row, _RIDER_WORDS, f"the rider {name}")
        words = {word: _frozen(value) for word, value in row.items()}
        known[name] = replace(known.get(name, Rider(name)), **words)
    return tuple(known.values())


def _racks(name: str, table: Mapping[str, Any]) -> tuple[Carrier, ...]:
    """The rack that a table describes, see ``racks.toml``."""
    if "hangs" not in table:
        return ()
    hangs = tuple((joint, float(share)) for joint, share in table["hangs"].items())
    if abs(sum(share for _, share in hangs) - 1) > 1e-9:
        raise ModelError("the shares of the luggage that hang on a rack must add up to 1")
    return (Carrier(name, table["label"], table["end"], hangs),)


def _role(
    tube: str,
    row: Mapping[str, Any],
    base: TubeRole | None,
    tubes: Collection[str],
    pairs: Collection[str],
) -> TubeRole:
    """A row of the file: over the one of the plan that this one is like, or new."""
    _refuse_words(row, _OWN_WORDS | _PLAIN_FIELDS, f"the {tube}")
    changes: dict[str, Any] = {key: _frozen(row[key]) for key in row if key not in _OWN_WORDS}
    if changes.get("region", REGIONS[0]) not in REGIONS:
        raise ModelError(f"{tube}: region '{row['region']}' is not known; {', '.join(REGIONS)}")
    ends = {end: read_place(row[end], tubes, pairs) for end in ("from", "to") if end in row}
    if "bend" in row:
        changes["bend"] = read_bend(row["bend"])
    if base is None:
        return with_ends(TubeRole(tube, (ends["from"], ends["to"])), ends, changes)
    return with_ends(base, ends, changes)


def with_ends(role: TubeRole, ends: Mapping[str, Place], changes: Mapping[str, Any]) -> TubeRole:
    """The row with its ends ("from", "to") placed anew; it is a pair when an end stands right and left."""
    start = ends.get("from", role.ends[0])
    end = ends.get("to", role.ends[1])
    return replace(role, ends=(start, end), paired=start.pair or end.pair, **changes)


def _frozen(value: Any) -> Any:
    return tuple(value) if isinstance(value, list) else value


def _refuse_words(row: Mapping[str, Any], known: Collection[str], where: str) -> None:
    for word in row:
        if word not in known:
            raise ModelError(f"'{word}' is no word of {where}; known: {', '.join(sorted(known))}")


PLANS: Mapping[str, FramePlan] = plans_from(FILE.read_text(encoding="utf-8"))
DIAMOND = PLANS["diamond"]
# Kinds of bicycle that no fit sheet holds -> the sample that shows how they are given.
_NO_PLAN = {"recumbent": "recumbent_nodes.csv"}
_USUAL = {role.name for role in DIAMOND.roles if not role.optional}


def further_ones(roles: Iterable[TubeRole]) -> list[TubeRole]:
    """Those beyond the tubes that every diamond frame has."""
    return [role for role in roles if role.name not in _USUAL]


def known_tubes() -> tuple[str, ...]:
    """Every tube of every known plan."""
    names = [name for plan in PLANS.values() for name in plan.names]
    return tuple(dict.fromkeys(names))


def plan_named(text: str) -> FramePlan:
    """The plan of a name or label, or several as one: ``mixte + unicrown fork``.

    Raises
    ------
    ModelError
        For a name that is not known, with the known ones, and for two plans that do not go together.
    """
    first, *others = (_one_named(name) for name in text.split("+"))
    for other in others:
        first = together(first, other)
    return first


def _one_named(text: str) -> FramePlan:
    said = _said(text)
    for name, plan in PLANS.items():
        if said in (name, _said(plan.label)):
            return plan
    known = ", ".join(name.replace("_", " ") for name in PLANS)
    if not said:
        raise ModelError("a plan's name is missing beside a '+'; known: " + known)
    if said in _NO_PLAN:
        raise ModelError(
            f"a {text.strip()} is no plan of a fit sheet; give it as tables of points and tubes, see "
            f"sample_drawings/{_NO_PLAN[said]}"
        )
    raise ModelError(
        f"plan '{text.strip()}' is not known; known: {known}, and several as in mixte + unicrown fork"
    )


def _said(text: str) -> str:
    return "_".join(text.replace("-", " ").replace("_", " ").split()).casefold()


def _on_pairs(role: TubeRole, pairs: Collection[str]) -> TubeRole:
    """The row with each side's end on its own side's tube, where one plan makes a pair of what the other joins."""
    ends = []
    for place in role.ends:
        if isinstance(place, Along) and place.tube in pairs and not place.side:
            place = replace(place, side=EACH, apart=0.0)
        ends.append(place)
    one, other = ends
    return replace(role, ends=(one, other), paired=one.pair or other.pair)


def together(plan: FramePlan, other: FramePlan) -> FramePlan:
    """One plan with what another has otherwise than a diamond. Raises ModelError where both change one thing."""
    roles = {role.name: role for role in plan.roles}
    for name in dict.fromkeys((*DIAMOND.names, *other.names)):
        before = DIAMOND.get(name)
        role = other.get(name)
        if role == before:
            continue
        if plan.get(name) not in (before, role):
            raise ModelError(
                f"{plan.label} and {other.label} do not go together: both say how the {spoken(name)} runs"
            )
        if role is None:
            roles.pop(name, None)
        else:
            roles[name] = role
    joints = dict(plan.joints)
    for joint, place in other.joints:
        if joints.setdefault(joint, place) != place:
            raise ModelError(
                f"{plan.label} and {other.label} do not go together: both place the {spoken(joint)}"
            )
    items = {item.key: item for item in (*plan.items, *other.items)}
    pairs = [role.name for role in roles.values() if role.paired]
    roles = {name: _on_pairs(role, pairs) for name, role in roles.items()}
    return FramePlan(
        f"{plan.name} + {other.name}",
        f"{plan.label}, {other.label}",
        tuple(roles.values()),
        tuple(items.values()),
        tuple(joints.items()),
        plan.struts if other.struts == DIAMOND.struts else other.struts,
        (*plan.starter, *other.starter),
        usual=plan.usual or other.usual,
        parts=(*plan.parts, *other.parts),
        riders=_riders_of(plan, other),
        words=(*plan.words, *other.words),
    )


def _riders_of(plan: FramePlan, other: FramePlan) -> tuple[Rider, ...]:
    """Those of the plan that says who rides."""
    if plan.riders == other.riders or other.riders == DIAMOND.riders:
        return plan.riders
    if plan.riders == DIAMOND.riders:
        return other.riders
    raise ModelError(f"{plan.label} and {other.label} do not go together: both say who rides")


def for_riders(count: int) -> tuple[FramePlan, ...]:
    """The known plans for so many riders."""
    return tuple(plan for plan in PLANS.values() if len(plan.riders) == count)


def parts_like(*names: str) -> tuple[str, ...]:
    """These parts, and those of every known plan that are there once more."""
    found = [name for plan in PLANS.values() for name in plan.parts_like(names)]
    return tuple(dict.fromkeys(found))


def region_tubes(region: str) -> tuple[str, ...]:
    """The tubes of one region in every known plan."""
    names = [name for plan in PLANS.values() for name in plan.in_region(region)]
    return tuple(dict.fromkeys(names))
