"""Fit sheets with one slip of a hand each: every item and every tube column, by kind of slip."""

import math
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise
from pathlib import Path

from droptrail.converters.files.fitsheet.find_item import find_item
from droptrail.converters.inputs import read_input
from droptrail.model.errors import FrameError
from droptrail.model.findings import Finding

SAMPLE = Path(__file__).parent.parent / "sample_drawings" / "tourer_700c.csv"
# Rows of the sample that say again what the others fix.
TWICE = ("effective top tube", "front centre", "wheelbase")

Rows = dict[str, list[str]]


@dataclass(frozen=True)
class Sheet:
    """Items and tubes by name: item -> value, unit, note; tube -> diameter, wall, butts, material, note."""

    items: Rows
    tubes: Rows

    def text(self) -> str:
        lines = [["item", "value", "unit", "note"], *([k, *v] for k, v in self.items.items())]
        lines += [[], ["tube", "outside diameter", "wall", "butts", "material", "note"]]
        lines += [[k, *v] for k, v in self.tubes.items()]
        return "\n".join(",".join(line) for line in lines) + "\n"

    def with_item(
        self, name: str, value: str, unit: str | None = None, note: str | None = None
    ) -> "Sheet":
        old = self.items[name]
        row = [value, old[1] if unit is None else unit, old[2] if note is None else note]
        return replace(self, items={**self.items, name: row})

    def with_tube(self, name: str, column: int, value: str) -> "Sheet":
        row = list(self.tubes[name])
        row[column] = value
        return replace(self, tubes={**self.tubes, name: row})

    def without(self, *names: str) -> "Sheet":
        return replace(self, items={k: v for k, v in self.items.items() if k not in names})


def sample() -> Sheet:
    """The tourer's sheet, every item and tube of it, with the parts of a starter sheet."""
    head, tail = SAMPLE.read_text(encoding="utf-8").strip().split("\n\n")
    items = {row[0]: row[1:4] for row in (line.split(",") for line in head.splitlines()[1:])}
    tubes = {row[0]: row[1:6] for row in (line.split(",") for line in tail.splitlines()[1:])}
    parts = {
        "saddle height": "740", "stem length": "90", "bar width": "440", "crank length": "170", "pedal offset": "150",
        "chainline": "45", "chainring radius": "92", "sprocket radius": "40",
        "seatstay spacing": "30", "upper stack": "35",
    }  # fmt: skip
    items |= {name: [value, "mm", ""] for name, value in parts.items()}
    items |= {
        "side push": ["200", "N", ""],
        "pedal force": ["1000", "N", ""],
        "bar pull": ["350", "N", ""],
    }
    items |= {"front wheel mass": ["1.6", "kg", ""], "rear wheel mass": ["2", "kg", ""]}
    return Sheet(items, tubes)


def said(sheet: Sheet, folder: Path) -> list[str]:
    """What the tool says: code and message of each finding that asks to look, or the refusal."""
    path = folder / "sheet.csv"
    path.write_text(sheet.text(), encoding="utf-8")
    try:
        reading = read_input(path)
    except FrameError as error:
        return [f"refused: {error}"]
    return [f"{f.code}: {f.message}" for f in reading.findings if _asks(f)]


def _asks(finding: Finding) -> bool:
    return finding.severity != "info" or finding.code == "frame-wheels-unequal"


def item_slips(sheet: Sheet) -> Iterator[tuple[str, Sheet]]:
    """Slipped points, cm, inches, pounds, signs, for each item with a number."""
    for name, (value, unit, _) in sheet.items.items():
        match = find_item(name)
        if match is None or match.item.group == "text" or match.item.key.startswith("bead_seat"):
            continue
        number = float(value)
        if match.item.kind == "share" or match.item.key == "crank_angle":
            continue
        yield f"{name} x 10", sheet.with_item(name, f"{number * 10:g}")
        yield f"{name} / 10", sheet.with_item(name, f"{number / 10:g}")
        if unit == "mm":
            yield f"{name} in inches", sheet.with_item(name, f"{number / 25.4:.2f}")
            yield f"{name} with unit cm", sheet.with_item(name, value, "cm")
            yield f"{name} with unit inch", sheet.with_item(name, value, "in")
        if match.item.group == "geometry":
            yield f"{name} with the other sign", sheet.with_item(name, f"{-number:g}")
    yield "rider in pounds", sheet.with_item("rider mass", "181")
    yield "rider in grams", sheet.with_item("rider mass", "82000")


def swaps(sheet: Sheet) -> Iterator[tuple[str, Sheet]]:
    """Values of neighbouring rows of one kind in each other's place, and of any two spacings."""
    names = list(sheet.items)
    spacings = [name for name in names if name.endswith("spacing")]
    for first, second in dict.fromkeys([*pairwise(names), *combinations(spacings, 2)]):
        a, b = sheet.items[first], sheet.items[second]
        kinds = [match.item.kind for match in (find_item(first), find_item(second)) if match]
        if len(kinds) == 2 and kinds[0] == kinds[1] and a[0] != b[0]:
            yield (
                f"{first} and {second} swapped",
                sheet.with_item(first, b[0]).with_item(second, a[0]),
            )


def tube_slips(sheet: Sheet) -> Iterator[tuple[str, Sheet]]:
    """Diameter, wall, butts of each tube."""
    for name, (size, wall, butts, _, _) in sheet.tubes.items():
        yield f"{name}: radius for diameter", sheet.with_tube(name, 0, _each(size, "-", 0.5))
        yield f"{name}: diameter x 10", sheet.with_tube(name, 0, _each(size, "-", 10))
        yield f"{name}: diameter / 10", sheet.with_tube(name, 0, _each(size, "-", 0.1))
        yield f"{name}: wall x 10", sheet.with_tube(name, 1, _each(wall, "/", 10))
        yield f"{name}: wall / 10", sheet.with_tube(name, 1, _each(wall, "/", 0.1))
        yield (
            f"{name}: wall and diameter swapped",
            sheet.with_tube(name, 0, wall.split("/")[0]).with_tube(name, 1, size),
        )
        if "-" in size:
            yield (
                f"{name}: tapered the wrong way",
                sheet.with_tube(name, 0, "-".join(size.split("-")[::-1])),
            )
        else:
            inside = float(size) - 2 * float(wall.split("/")[0])
            yield f"{name}: inside diameter", sheet.with_tube(name, 0, f"{inside:g}")
        if wall.count("/") == 2:
            thick, thin, _ = wall.split("/")
            yield f"{name}: butts reversed", sheet.with_tube(name, 1, f"{thin}/{thick}/{thin}")
            yield (
                f"{name}: one point slipped",
                sheet.with_tube(name, 1, f"{thick}/{10 * float(thin):g}/{thick}"),
            )
        if wall.count("/") == 1:
            yield (
                f"{name}: butt reversed",
                sheet.with_tube(name, 1, "/".join(wall.split("/")[::-1])),
            )
        if butts:
            yield (
                f"{name}: butts in cm",
                sheet.with_tube(name, 2, _each(butts.replace("+30", ""), "/", 0.1)),
            )
            yield (
                f"{name}: butts x 10",
                sheet.with_tube(name, 2, _each(butts.replace("+30", ""), "/", 10)),
            )


def note_slips(sheet: Sheet) -> Iterator[tuple[str, Sheet]]:
    """Notes that say another convention than the item's."""
    for name, note in (
        ("seat angle", "effective"), ("head angle", "from the vertical"), ("chainstay", "effective"),
        ("front centre", "effective"), ("reach", "straight"), ("stack", "along the steering axis"),
        ("fork offset", "horizontal"), ("wheelbase", "effective"), ("head tube length", "vertical"),
        ("bottom bracket drop", "straight"), ("effective top tube", "centre to centre"),
        ("seat tube length", "horizontal"),
    ):  # fmt: skip
        yield f"{name} '{note}'", sheet.with_item(name, sheet.items[name][0], note=note)
    yield "top tube 'inside diameter'", sheet.with_tube("top tube", 4, "inside diameter")


def _each(text: str, mark: str, factor: float) -> str:
    return mark.join(f"{float(part) * factor:g}" for part in text.split(mark))


def believable(seed: int) -> Sheet:
    """A random frame that a builder might draw: city, road, touring, mountain, small and large."""
    rng = random.Random(seed)
    wheel, tyre = rng.choice(
        [(622, (23, 60)), (584, (35, 70)), (559, (32, 65)), (507, (40, 55)), (406, (28, 50))]
    )
    width = rng.randint(*tyre)
    radius = wheel / 2 + width
    size = rng.uniform(-1, 1)
    head = rng.uniform(66.5, 74)
    # the offset that a trail of the trade asks for; drop so that cranks clear the ground
    trail = rng.uniform(40, 95)
    offset = radius * math.cos(math.radians(head)) - trail * math.sin(math.radians(head))
    offset = min(72.0, max(28.0, offset))
    drop = radius - rng.uniform(262, 300)
    drop = min(85.0, max(-25.0, drop))
    seat = rng.uniform(70, 76.5)
    seat_tube = 520 + 70 * size
    short = wheel < 500
    fork = radius + rng.uniform(28, 75)
    if short:
        stay = rng.uniform(390, 450)
        head_tube = 240 + 40 * size
    else:
        stay = max(radius + 68, rng.uniform(405, 475))
        head_tube = 150 + 55 * size
    stays = rng.choice(["22.2-12.5", "22.2-14", "24-14", "30-16x18", "19-12.5"])
    blades = rng.choice(["24-13", "22-12.5", "28-14x20", "31.8-16", "25.4-14"])
    items: Rows = {
        "reach": [f"{390 + 35 * size + rng.uniform(-8, 8):.1f}", "mm", ""],
        "head angle": [f"{head:.1f}", "deg", ""],
        "seat angle": [f"{seat:.1f}", "deg", ""],
        "bottom bracket drop": [f"{drop:.1f}", "mm", ""],
        "chainstay": [f"{stay:.0f}", "mm", ""],
        "head tube": [f"{head_tube:.0f}", "mm", ""],
        "lower headset stack": [rng.choice(["0", "1", "10.5", "12", "13.5", "15"]), "mm", ""],
        rng.choice(["axle to crown", "fork length along axis"]): [f"{fork:.0f}", "mm", ""],
        "fork offset": [f"{offset:.0f}", "mm", ""],
        "wheel": [str(wheel), "mm", ""],
        "tyre": [str(width), "mm", ""],
        "seat tube": [f"{seat_tube:.0f}", "mm", "centre to top"],
        "top tube on seat tube": [f"{seat_tube - rng.uniform(15, 60):.0f}", "mm", ""],
        "top tube below head tube top": [f"{rng.uniform(22, 45):.0f}", "mm", ""],
        "down tube above head tube bottom": [f"{rng.uniform(25, 45):.0f}", "mm", ""],
        "rear hub spacing": [rng.choice(["120", "126", "130", "135", "142", "148"]), "mm", ""],
        "front hub spacing": [rng.choice(["100", "100", "110"]), "mm", ""],
        "bottom bracket shell width": [rng.choice(["68", "73", "86.5"]), "mm", ""],
        "rider mass": [f"{rng.uniform(48, 118):.0f}", "kg", ""],
    }  # fmt: skip
    middle = rng.choice(["0.5", "0.6", "0.4"])
    end = rng.choice(["0.8", "0.9", "0.7"])
    oversize = rng.choice(
        [
            ("25.4", "28.6", "28.6"),
            ("28.6", "31.8", "28.6"),
            ("31.8", "34.9", "31.8"),
            ("28.6", "38.1", "28.6"),
        ]
    )
    steerer = rng.choice([("25.4", "31.8"), ("28.6", "36"), ("28.6", "44")])
    tubes: Rows = {
        "head tube": [steerer[1], rng.choice(["0.9", "1.1", "1.6"]), "", "4130", ""],
        "top tube": [oversize[0], f"{end}/{middle}/{end}", "75+30/75+30", "4130", ""],
        "down tube": [oversize[1], f"{end}/{middle}/{end}", "100+30/75+30", "4130", ""],
        "seat tube": [oversize[2], f"{end}/{middle}", "130+30", "4130", ""],
        "chainstay": [stays, rng.choice(["0.8", "0.6", "1"]), "", "4130", ""],
        "seatstay": [rng.choice(["14", "16-12.5", "14-12", "19-12.5"]), rng.choice(["0.6", "0.8"]), "", "4130", ""],
        "fork blade": [blades, rng.choice(["0.9", "1", "1.2"]), "", "4130", ""],
        "steerer": [steerer[0], "1.6", "", "4130", ""],
    }  # fmt: skip
    return Sheet(items, tubes)
