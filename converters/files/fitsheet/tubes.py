"""The tube table and the material table of a fit sheet: text rows -> tubes and materials."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from difflib import get_close_matches

from ....model.assumption import Assumed
from ....model.errors import FrameError, InputError
from ....model.findings import Finding
from ....model.frame.joint_places import may_give
from ....model.joints.shape import JointKind
from ....model.tubes.known_plans import known_tubes
from ....model.tubes.materials import MATERIALS, Material, elastic_disagreement, find_material
from ....model.tubes.plan import FramePlan
from ....model.tubes.racks import rack_tubes
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .conventions import conventions
from .names import SOLID_WORDS, TUBE_NAMES, split_names
from .table import SheetRow, bare, spellings
from .values import Outside, butts, outside, quantity, series, straight

# Believable ranges, mm, MPa, kg/m3: wide on purpose, they catch wrong units and slipped points.
DIAMETERS = (5.0, 120.0)
WALLS = (0.2, 12.0)
LENGTHS = (0.0, 700.0)
MODULI = {"E": (5e3, 1e6), "G": (300.0, 5e5)}
POISSON = (0.0, 0.5)
DENSITIES = (500.0, 2e4)
STRENGTHS = (1.0, 5e3)

_BY_NAME = {
    spelled: member
    for member in (*known_tubes(), *rack_tubes())
    for name in (member, *split_names(TUBE_NAMES.get(member, "")))
    for spelled in spellings(name)
}
DEFAULT_MATERIAL = "steel"
# How a builder says it; the first word is the kind's own.
JOINT_WORDS: Mapping[JointKind, tuple[str, ...]] = {
    "rigid": ("rigid",),
    "bare": (
        *("bare", "bare weld", "bare welds", "welded", "weld", "TIG", "TIG welded", "TIG weld"),
        *(
            "WIG",
            "WIG geschweißt",
            "WIG geschweisst",
            "geschweißt",
            "geschweisst",
            "MIG",
            "MIG welded",
        ),
        *("soudé", "soudé TIG", "saldato", "saldato TIG"),
    ),
    "fillet": (
        *(
            "fillet",
            "fillet brazed",
            "brazed fillet",
            "brazed",
            "bronze welded",
            "gelötet",
            "geloetet",
        ),
        *("muffenlos gelötet", "brasé", "saldobrasato"),
    ),
    "lug": (
        *(
            "lug",
            "lugged",
            "lugs",
            "lugged and brazed",
            "lugged brazed",
            "brazed lugs",
            "brazed with lugs",
        ),
        *("gemufft", "Muffe", "Muffen", "raccord", "raccords", "congiunzione", "congiunzioni"),
    ),
}
# What nobody has studied here: it gives otherwise than any weld.
_OTHERWISE = (
    "glued",
    "bonded",
    "wrapped",
    "carbonwrap",
    "geklebt",
    "collé",
    "incollato",
    "bilaminate",
)
JOINT_WORDS_SAID = ", ".join(words[0] for words in JOINT_WORDS.values())
_KIND_BY_WORD = {bare(word): kind for kind, words in JOINT_WORDS.items() for word in words}


def read_tubes(
    rows: Sequence[SheetRow],
    plan: FramePlan,
    materials: Mapping[str, Material],
    findings: list[Finding],
    assumed: list[Assumed],
) -> dict[str, Tube]:
    """Member -> tube. Unknown tubes become findings; a missing material is assumed and listed.

    Raises
    ------
    InputError
        Naming file, row, column, value and the range expected; also when two rows for one tube disagree.
    """
    tubes: dict[str, Tube] = {}
    for row in rows:
        member = member_named(row["tube"], plan)
        if member is None:
            # a tube nobody knows is a warning: it may be the one that is missing
            findings.append(_unknown_tube(row, plan))
            continue
        if plan.get(member) is None:
            # told with the plan
            continue
        tube = _tube(row, member, materials, assumed)
        findings.extend(_note_finding(row))
        # two rows that disagree: nobody can know which one is meant
        if tubes.setdefault(member, tube) != tube:
            raise row.refusal(
                f"'{row['tube']}' is given twice with different values; leave one row out", "tube"
            )
    return tubes


def joint_kind(word: str) -> JointKind | None:
    """The kind of joint that a word of the workshop means; None for any other word."""
    return _KIND_BY_WORD.get(bare(word))


def joint_words_wanted(word: str) -> str:
    """What to write instead of a word that is no kind of joint, for the end of a refusal."""
    key = bare(word)
    if any(bare(other) in key for other in _OTHERWISE):
        return (
            "; joints that are glued, wrapped or laminated have not been studied: write rigid, and expect "
            "a real one to give more"
        )
    near = get_close_matches(key, list(_KIND_BY_WORD), n=1)
    if near:
        return f". Did you mean '{JOINT_WORDS[_KIND_BY_WORD[near[0]]][0]}'?"
    return ""


def unused_joints(
    joints: Mapping[str, JointKind],
    joining: JointKind | None,
    rows: Sequence[SheetRow],
    plan: FramePlan,
) -> Iterator[Finding]:
    """Cells of tubes that end on no other, where they say something else than the tubes do that end on them."""
    where = {member_named(row["tube"], plan): row.where for row in rows}
    for tube, kind in joints.items():
        ends_here = [
            role.name
            for role in plan.roles
            if tube in (*role.mitred_start[:1], *role.mitred_end[:1])
        ]
        told = {joints.get(other, joining or "rigid") for other in ends_here}
        if may_give(plan, tube) or not ends_here or told == {kind}:
            continue
        yield Finding(
            "sheet-joint-not-used",
            "warning",
            f"{spoken(tube)}: joint '{kind}' says nothing here, for a cell is about the tube's own ends, and "
            f"these stand on no tube; write it in the rows of {', '.join(map(spoken, ends_here))}",
            where.get(tube, ""),
        )


def read_joints(rows: Sequence[SheetRow], plan: FramePlan) -> dict[str, JointKind]:
    """Tube -> how its ends are joined, where the sheet says so.

    Raises
    ------
    InputError
        For a word that is none of `JOINT_WORDS`, naming file, row and column.
    """
    joints: dict[str, JointKind] = {}
    for row in rows:
        member = member_named(row["tube"], plan)
        if member is None or plan.get(member) is None or not row["joint"]:
            continue
        kind = joint_kind(row["joint"])
        if kind is None:
            raise InputError(
                f"{row.where}, column joint: '{row['joint']}' is no kind of joint; write {JOINT_WORDS_SAID} "
                f"(bare: welded without filler to speak of), or leave it empty{joint_words_wanted(row['joint'])}"
            )
        joints[member] = kind
    return joints


def _note_finding(row: SheetRow) -> Iterator[Finding]:
    """A note that says another diameter than the outside one was written."""
    # only these two make another number of what was written
    meant = [name for name in conventions(row["note"]) if name in ("inside", "radius")]
    if meant:
        yield Finding(
            "sheet-note-not-used",
            "warning",
            f"{row['tube']} has the note '{row['note']}', but '{row['outside_diameter']}' was read as its outside "
            "diameter; write the outside diameter",
            row.where,
        )


def member_named(name: str, plan: FramePlan | None = None) -> str | None:
    """The tube of a trade name such as ``TT`` or ``Oberrohr``, or of the plan's own name; None when it is not known."""
    key = bare(name)
    own = {bare(tube): tube for tube in (plan.names if plan is not None else ())}
    # "chainstays" and "chainstay": rows are written in both
    for spelled in (key, key.removesuffix("s")):
        if found := own.get(spelled) or _BY_NAME.get(spelled):
            return found
    return None


def nearest_member(name: str) -> str:
    """The member whose name is nearly spelled so; '' when none is."""
    near = get_close_matches(bare(name), list(_BY_NAME), n=1)
    if near:
        return _BY_NAME[near[0]]
    return ""


def _unknown_tube(row: SheetRow, plan: FramePlan) -> Finding:
    near = nearest_member(row["tube"])
    if near:
        hint = f" Did you mean '{spoken(near)}'?"
    else:
        hint = " A tube of your own needs columns 'from' and 'to', such as seat tube 0.45, down tube 0.5."
    return Finding(
        "sheet-unknown-tube",
        "warning",
        f"tube '{row['tube']}' is not known and was not used.{hint} Known: "
        f"{', '.join(map(spoken, plan.names))}",
        row.where,
    )


def _tube(
    row: SheetRow, member: str, materials: Mapping[str, Material], assumed: list[Assumed]
) -> Tube:
    return tube_of(row, spoken(member), _material_of(row, member, materials, assumed))


def tube_of(row: SheetRow, what: str, material: Material) -> Tube:
    """The tube whose sizes a row states; `what` names it in messages. Raises InputError with the place."""
    shape = _outside(row)
    walls = _walls(row, shape)
    lengths, tapers = _butts(row)
    # a wall of n thicknesses has n - 1 places where one begins
    if len(lengths) != len(walls) - 1:
        wanted = _butts_wanted(row, walls, lengths)
        raise row.refusal(f"{wanted}{unread_columns(row)}", item=what)
    corner = _corner(row)
    if corner is None:
        hint = (
            "a butted tube is written wall 0.8/0.5/0.8 and butts 100/60, with tapers 100+30/60+30"
        )
    else:
        hint = "a rectangular tube is written height x width, such as 30x20, with its outside corner radius"
    try:
        return Tube(
            material,
            shape.start,
            shape.end,
            walls,
            lengths,
            tapers,
            shape.width,
            corner,
            shape.width_end,
            shape.straight,
        )
    except FrameError as error:
        raise row.refusal(f"{error}; {hint}", item=what) from error


def _butts_wanted(row: SheetRow, walls: Sequence[float], lengths: Sequence[float]) -> str:
    """Walls and butt lengths that do not belong together, in words."""
    if len(walls) == 1:
        return (
            f"the wall '{row['wall']}' is plain, but butt lengths '{row['butts']}' are given; write the wall as "
            "0.8/0.5/0.8, or leave the butts empty"
        )
    need = len(walls) - 1
    if len(lengths) < need:
        held = f"only '{row['butts']}' is given"
    else:
        held = f"'{row['butts']}' are given"
    if lengths:
        held = held
    else:
        held = "none is given"
    return (
        f"the wall '{row['wall']}' has {len(walls)} thicknesses, so the length of the "
        f"{'thick end' if need == 1 else f'{need} ends'} is needed in the column 'butts', such as "
        f"{'100' if need == 1 else '/'.join(['100', '60', '60', '60'][:need])}; {held}"
    )


def unread_columns(row: SheetRow) -> str:
    """The row's columns that are not known, for the end of a refusal that they may be the cause of; '' without any."""
    listed = ", ".join(f"'{text}'" for text in row.unknown)
    if listed:
        return f". Not understood and not read: column {listed}"
    return ""


def _outside(row: SheetRow) -> Outside:
    with row.at("outside_diameter"):
        shape = outside(row["outside_diameter"], row.units["outside_diameter"])
    row.in_range("outside_diameter", shape.sizes, DIAMETERS)
    row.in_range("outside_diameter", shape.straight, LENGTHS)
    return outside_columns(row, shape)


def outside_columns(row: SheetRow, shape: Outside) -> Outside:
    """The outside with what stands in columns of their own: width across, straight lengths."""
    if row["oval_width"]:
        with row.at("oval_width"):
            widths = series(row["oval_width"], row.units["oval_width"])
            if len(widths) > 2:
                raise InputError(
                    "expected the width across, or the widths at both ends such as 17-14"
                )
        row.in_range("oval_width", widths, DIAMETERS)
        # None, because the width does not change along the tube
        last = widths[-1] if widths[-1] != widths[0] else None
        shape = replace(shape, width=widths[0], width_end=last)
    if row["straight"]:
        with row.at("straight"):
            kept = straight(row["straight"], row.units["straight"])
            if any(shape.straight):
                raise InputError(
                    f"the outside diameter '{row['outside_diameter']}' states a straight length too; leave one out"
                )
            # only a taper leaves a straight part to speak of
            tapers = shape.start != shape.end or shape.width_end is not None
            if row["outside_diameter"] and not tapers:
                raise InputError(
                    f"the outside diameter '{row['outside_diameter']}' does not taper; write both ends, such as "
                    "24-13, or leave the straight length away"
                )
        row.in_range("straight", kept, LENGTHS)
        shape = replace(shape, straight=kept)
    return shape


def _corner(row: SheetRow) -> float | None:
    """Outside corner radius of a rectangular tube."""
    if not row["corner"]:
        return None
    with row.at("corner"):
        return quantity(row["corner"], row.units["corner"], "length")[0]


def _walls(row: SheetRow, shape: Outside) -> tuple[float, ...]:
    if bare(row["wall"]) in SOLID_WORDS:
        if shape.width is not None or shape.end != shape.start:
            raise row.refusal(
                f"'{row['outside_diameter']}' with a solid wall: a solid rod is round and as thick all along",
                "wall",
            )
        # solid: a tube whose wall reaches the middle
        return (shape.start / 2,)
    with row.at("wall"):
        walls = series(row["wall"], row.units["wall"])
    row.in_range("wall", walls, WALLS)
    return walls


def _butts(row: SheetRow) -> tuple[tuple[float, ...], tuple[float, ...]]:
    with row.at("butts"):
        lengths, tapers = butts(row["butts"], row.units.get("butts", ""))
    row.in_range("butts", (*lengths, *tapers), LENGTHS)
    if row["taper"]:
        with row.at("taper"):
            if tapers:
                raise InputError(
                    f"'{row['taper']}', but the butts carry tapers too, '{row['butts']}'; leave one out"
                )
            tapers = series(row["taper"], row.units["taper"])
        row.in_range("taper", tapers, LENGTHS)
    return lengths, tapers


def _material_of(
    row: SheetRow, member: str, materials: Mapping[str, Material], assumed: list[Assumed]
) -> Material:
    name = row["material"]
    if not name:
        item = f"{spoken(member)}: material"
        why = "its row in the tube table names none"
        # told, since a material decides weight and strength
        assumed.append(Assumed("tubes", member, item, DEFAULT_MATERIAL, source=why))
        return find_material(DEFAULT_MATERIAL)
    if bare(name) in materials:
        return materials[bare(name)]
    with row.at("material"):
        return find_material(name)


# --- the builder's own materials ------------------------------------------------------------------------------
def read_materials(rows: Sequence[SheetRow], findings: list[Finding]) -> dict[str, Material]:
    """Bare name -> material of the material table; E with G or nu, density, strengths where stated.

    E, G and nu that contradict each other, and a name that replaces a built-in material, become findings.

    Raises
    ------
    InputError
        For a value that is missing or impossible, or a name that is given twice; the message names row and column.
    """
    materials: dict[str, Material] = {}
    for row in rows:
        material = _material(row, findings)
        if row["material"].lower() in MATERIALS:
            findings.append(
                Finding(
                    "sheet-material-replaced",
                    "info",
                    f"material '{material.name}' is taken from the "
                    "sheet, not from the built-in table",
                    row.where,
                )
            )
        if materials.setdefault(bare(material.name), material) != material:
            raise row.refusal(f"'{material.name}' is given twice with different values", "material")
    return materials


def _material(row: SheetRow, findings: list[Finding]) -> Material:
    name = row["material"]
    e = _modulus(row, "E")
    nu = None
    if row["nu"]:
        with row.at("nu"):
            nu = quantity(row["nu"], "", "number")[0]
        row.in_range("nu", (nu,), POISSON, "")
    if row["G"]:
        g = _modulus(row, "G")
        if nu is None:
            finding = None
        else:
            finding = elastic_disagreement(name, e, g, nu)
        findings.extend([] if finding is None else [finding])
    elif nu is not None:
        g = e / (2 * (1 + nu))
    else:
        raise row.refusal(f"material '{name}' needs G or nu beside E")
    strengths = {
        column: _strength(row, column) for column in ("yield_strength", "ultimate", "endurance")
    }
    with row.at("material"):
        return Material(name, e, g, _density(row), source=row["note"] or "fit sheet", **strengths)


def _modulus(row: SheetRow, column: str) -> float:
    """MPa; without a unit the figure itself tells GPa (below 1000) from MPa, there is no metal in between."""
    with row.at(column):
        value, unit = quantity(row[column], row.units.get(column, ""), "stress")
    if not unit and value < 1000:
        value *= 1000
    row.in_range(column, (value,), MODULI[column], "MPa")
    return value


def _density(row: SheetRow) -> float:
    """tonne/mm^3; without a unit the figure itself tells g/cm3 (below 100) from kg/m3."""
    with row.at("density"):
        value, unit = quantity(row["density"], row.units["density"], "density")
        if not unit:
            value = quantity(row["density"], "g/cm3" if value < 100 else "kg/m3", "density")[0]
    row.in_range("density", (value * 1e12,), DENSITIES, "kg/m3")
    return value


def _strength(row: SheetRow, column: str) -> float | None:
    # without a strength stress stands by itself, with no share of it
    if not row[column]:
        return None
    with row.at(column):
        value = quantity(row[column], row.units[column], "stress")[0]
    row.in_range(column, (value,), STRENGTHS, "MPa")
    return value
