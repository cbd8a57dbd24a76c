"""Parts in a fit sheet: rows of the tube table, axle standards among the items, texts such as ``27.2x2.2:6061-T6``."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from ....model.assumption import Assumed
from ....model.errors import FrameError, InputError
from ....model.findings import Finding
from ....model.frame.dropouts import DROPOUTS, Dropout, usual_dropout_material
from ....model.frame.hubs import HUB_NAMES, Hub, HubName, find_hub, is_standard
from ....model.frame.parts import PARTS, Part
from ....model.tubes.materials import Material, find_material
from ....model.tubes.tube import Tube
from ....model.words import spoken
from .names import PART_NAMES, SOLID_WORDS, split_names
from .table import SheetRow, bare, spellings
from .tubes import DIAMETERS, WALLS, tube_of
from .values import outside, plain, series

# one item for two things: a width, or the standard that means it
SPACINGS: Mapping[HubName, str] = {name: f"{name}_spacing" for name in HUB_NAMES}
# half a millimetre: what a sheet may round off
SAME_SPACING = 0.5  # mm
# sizes are told by an x between two figures, on the keyboard or as a sign
_SIZES = re.compile(r"\d\s*[x×]\s*\d")
AnyPart = Part | Hub | Dropout
_BY_NAME = {
    spelled: part
    for part in (*PARTS, *DROPOUTS)
    for name in (part, *split_names(PART_NAMES[part]))
    for spelled in spellings(name)
}


@dataclass(frozen=True)
class StatedPart:
    """A part and where it stands."""

    part: AnyPart
    where: str


def part_named(name: str) -> str | None:
    """The part of a trade name such as ``seatpost`` or ``Vorbau``; None when it is not known."""
    return _BY_NAME.get(bare(name))


def hub_named(name: str) -> HubName | None:
    """The hub of that name; None for anything else."""
    part = part_named(name)
    # looked up by value, so that the type of the name is the hub's own
    return next((hub for hub in HUB_NAMES if hub == part), None)


def read_parts(
    rows: Sequence[SheetRow], materials: Mapping[str, Material], assumed: list[Assumed]
) -> dict[str, StatedPart]:
    """Part -> what the tube table states of it; rows of tubes are passed over.

    Raises
    ------
    InputError
        Naming file, row, column, value and what is expected; also when two rows for one part disagree.
    """
    found: dict[str, StatedPart] = {}
    for row in rows:
        name = part_named(row["tube"])
        if name is None:
            continue
        part = _part(row, name, materials, assumed)
        if found.setdefault(name, StatedPart(part, row.where)).part != part:
            raise row.refusal(
                f"'{row['tube']}' stands twice with different values; leave one row out", "tube"
            )
    return found


def _part(
    row: SheetRow, name: str, materials: Mapping[str, Material], assumed: list[Assumed]
) -> AnyPart:
    end = hub_named(name)
    # a standard names axle and shell in one word, so nothing else of the row is read
    if end is not None and is_standard(row["outside_diameter"]):
        with row.at("outside_diameter"):
            return find_hub(end, row["outside_diameter"])
    material = _material(row, name, materials, assumed)
    # a plate has three sizes and no wall
    if name in DROPOUTS:
        with row.at("outside_diameter"):
            return _dropout(name, row["outside_diameter"], row.units["outside_diameter"], material)
    if bare(row["wall"]) in SOLID_WORDS:
        with row.at("outside_diameter"):
            od = _solid(row["outside_diameter"], row.units["outside_diameter"])
        row.in_range("outside_diameter", (od,), DIAMETERS)
        # solid: a tube whose wall reaches the middle, so that one kind of part is enough
        return Part(name, Tube(material, od, od, (od / 2,)))
    if not row["wall"]:
        raise row.refusal(f"{spoken(name)}: give the wall in mm, or 'solid'", "wall")
    try:
        return Part(name, tube_of(row, spoken(name), material))
    except InputError:
        raise
    except FrameError as error:
        raise row.refusal(str(error)) from error


def _dropout(name: str, text: str, unit: str, material: Material) -> Dropout:
    """The plate of ``30x6x26``: height x thickness x length from the axle."""
    sizes = [series(part, unit) for part in plain(text).lower().split("x")]
    if [len(size) for size in sizes] != [1, 1, 1]:
        raise InputError(
            f"'{text}' is not understood; a dropout is written height x thickness x length from the axle, such as "
            "30x6x26",
            value=text,
        )
    (height,), (thickness,), (length,) = sizes
    return Dropout(name, height, thickness, length, material)


def _solid(text: str, unit: str) -> float:
    shape = outside(text, unit)
    if shape.start != shape.end or shape.width is not None:
        raise InputError(
            f"'{text}' solid: only a round bar of one diameter can be solid; state height x width and a wall",
            value=text,
        )
    return shape.start


def _material(
    row: SheetRow, name: str, materials: Mapping[str, Material], assumed: list[Assumed]
) -> Material:
    if not row["material"]:
        usual = _usual_material(name)
        why = "its row in the tube table names none"
        # an assumed material is listed, since a wrong one changes the weight and the give
        assumed.append(Assumed("parts", name, f"{spoken(name)}: material", usual.name, source=why))
        return usual
    if bare(row["material"]) in materials:
        return materials[bare(row["material"])]
    with row.at("material"):
        return find_material(row["material"])


def _usual_material(name: str) -> Material:
    if name in PARTS:
        return PARTS[name].stuff
    return usual_dropout_material()


# --- texts ------------------------------------------------------------------------------------------------------
def is_part_text(text: str) -> bool:
    """Whether a text states sizes or an axle standard and no plain number."""
    # the last word alone: "28 solid" has a size in front of it
    last = bare(text.strip().rpartition(" ")[2])
    return is_standard(text) or ":" in text or last in SOLID_WORDS or bool(_SIZES.search(text))


def part_text(name: str, text: str, known: Mapping[str, Material]) -> AnyPart:
    """The part of a text such as ``27.2x2.2:6061-T6``, ``28 solid``, ``QR 100``; without a material the usual one's.

    known : the builder's own materials by bare name. Raises InputError or ModelError in words.
    """
    end = hub_named(name)
    size, colon, metal = text.strip().partition(":")
    if end is not None and is_standard(size):
        return find_hub(end, size)
    if not colon:
        material = _usual_material(name)
    elif bare(metal) in known:
        material = known[bare(metal)]
    else:
        material = find_material(metal.strip())
    if name in DROPOUTS:
        return _dropout(name, size.strip(), "", material)
    body, _, last = size.strip().rpartition(" ")
    if bare(last) in SOLID_WORDS:
        od = _solid(body, "")
        return _within(Part(name, Tube(material, od, od, (od / 2,))))
    # from the right: the first x may belong to an oval
    sizes, cross, wall = size.strip().lower().rpartition("x")
    if not cross:
        raise InputError(
            f"{spoken(name)} '{text}': write outside diameter x wall, such as 27.2x2.2, or a solid bar, 28 solid"
        )
    shape = outside(sizes)
    thick = outside(wall).start
    return _within(
        Part(name, Tube(material, shape.start, shape.end, (thick,), (), (), shape.width))
    )


def _within(part: Part) -> Part:
    """Refuses sizes that no part can have."""
    limits = [(part.od, DIAMETERS, "outside diameter")]
    # a solid part's wall is its radius, and no range of walls knows it
    if part.wall != part.od / 2:
        limits.append((part.wall, WALLS, "wall"))
    for value, (low, high), what in limits:
        if not low <= value <= high:
            raise InputError(
                f"{spoken(part.name)} {part.words}: {what} {value:g} mm, expected {low:g} to {high:g} mm"
            )
    return part


# --- spacing ----------------------------------------------------------------------------------------------------
def spacings(parts: Mapping[str, StatedPart], fittings: dict[str, float]) -> Iterator[Finding]:
    """Fills in the hub spacing that an axle standard means; a stated one that differs is said and kept."""
    for name, item in SPACINGS.items():
        stated = parts.get(name)
        if stated is None or not isinstance(stated.part, Hub):
            continue
        # only where the sheet states none; what it states stays
        spacing = fittings.setdefault(item, stated.part.spacing)
        if abs(spacing - stated.part.spacing) > SAME_SPACING:
            yield Finding(
                "hub-spacing-disagrees",
                "warning",
                f"{spoken(name)} {stated.part.name} is {stated.part.spacing:g} mm wide between the dropouts, the "
                f"sheet states {spacing:g} mm, which is used; correct one of them",
                stated.where,
            )
