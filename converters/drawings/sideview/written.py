"""Numbers written on the sheet ("HEAD ANGLE 72", a table of dimensions) held against what the lines measure.

Vocabulary: a TERM is the trade's name of an item; a CLAIM is a term with the number written behind or beside it.
Numbers are compared like dimensions that somebody typed: the drawing counts, the claim is told where it differs.
"""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

from ....model.findings import Finding
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.quantities import QUANTITIES
from ..drawing import Drawing, Note
from .say import find
from .unit_evidence import ANGLE_SLACK, LEAST_TYPED, ROUNDING, UNITS

# Item -> names in English, German, French, Spanish, Italian (common practice, no source), accents dropped. A name that
# means several items stands with all of them: one that agrees is enough.
TERMS: dict[tuple[str, ...], str] = {
    ("head_angle",): "head angle, head tube angle, hta, lenkwinkel, steuerwinkel, steuerrohrwinkel, lenkkopfwinkel, "
    "steuerkopfwinkel, angle de direction, angulo de direccion, angolo sterzo, angolo di sterzo",
    ("seat_angle",): "seat angle, seat tube angle, sitzwinkel, sitzrohrwinkel, angle de selle, angulo de sillin, "
    "angulo del tubo de sillin, angolo sella, angolo piantone",
    ("bb_drop",): "bb drop, bottom bracket drop, tretlagerabsenkung, abaissement du boitier, caida de pedalier, "
    "caida de eje, abbassamento movimento",
    ("bb_height",): "bb height, bottom bracket height, tretlagerhohe, hauteur du boitier, altura de pedalier, "
    "altezza movimento",
    ("chainstay",): "chainstay, chain stay, chainstays, chainstay length, kettenstrebe, "
    "kettenstreben, kettenstrebenlange, hinterbaulange, bases, longueur des bases, vainas, longitud de vainas, "
    "foderi bassi, lunghezza foderi",
    ("fork_offset",): "fork offset, fork rake, rake, gabelvorbiegung, vorbiegung, deport, avance de horquilla",
    ("trail", "mechanical_trail"): "trail, nachlauf, chasse, avancorsa, lanzamiento",
    ("axle_to_crown_straight", "fork_length"): "axle to crown, fork length, gabellange, einbauhohe, einbaulange, "
    "hauteur de fourche, longueur de fourche, altura de horquilla, altezza forcella",
    ("stack",): "stack",
    ("reach",): "reach",
    ("wheelbase",): "wheelbase, wheel base, radstand, empattement, distancia entre ejes, batalla, interasse, passo",
    ("head_tube",): "head tube, head tube length, steuerrohr, steuerrohrlange, tube de direction, tubo de direccion, "
    "tubo sterzo",
    ("seat_tube", "top_tube_on_seat_tube"): "seat tube, seat tube length, sitzrohr, sitzrohrlange, rahmenhohe, "
    "tube de selle, tubo de sillin, tubo sella, piantone",
    ("effective_top_tube", "top_tube_cc"): "top tube, top tube length, effective top tube, oberrohr, oberrohrlange, "
    "tube superieur, tubo superior, tubo orizzontale",
    ("front_center", "front_center_horizontal"): "front centre, front center, vorderbaulange",
}  # fmt: skip
_NUMBER = r"[-\u2212]?(\d{1,4}(?:[.,]\d{1,3})?)"
_UNIT = r"(mm|cm|m\b|inch|in\b|\"|deg|grad)?"
_BETWEEN = r"[ \t]*(?:\((?:[^)]{0,12})\))?[ \t]*[:=]?[ \t]*"
_BARE_NUMBER = re.compile(rf"\s*{_NUMBER}\s*{_UNIT}\.?\s*")
# before a term: another item
_OTHER_PARTS = ("headset", "lower", "upper", "mechanical", "steuersatz", "mean")
ROW = 0.7  # of a text's height: how far a number may stand above or below the term it belongs to
TUBES = {"head_tube", "seat_tube", "chainstay", "effective_top_tube"}
ANGLE_OF = {"head_tube": ("head_angle",), "seat_tube": ("seat_angle",)}
DEGREES = ("deg", "grad")
MM_PER = {**UNITS, "in": UNITS["inch"], '"': UNITS["inch"]}
SHORTEST = 70.0  # mm; a smaller number behind a tube's name is no length
NOTE_BUDGET = 2000  # texts looked at
SIZES = 8  # numbers in one row of a table of sizes, most


@dataclass(frozen=True)
class Claim:
    """What is written of one of `items`: the words, and every number with its unit ('' when none is written)."""

    items: tuple[str, ...]
    words: str
    numbers: tuple[tuple[str, str], ...]
    handle: str


Names = Mapping[str, tuple[str, ...]]  # a term in plain letters -> the items that it may mean


@cache
def _names() -> Names:
    return {plain(name.strip()): items for items, text in TERMS.items() for name in text.split(",")}


def _term(terms: Iterable[str]) -> str:
    # else "head tube" would match inside "head tube angle"
    longest_first = sorted(terms, key=len, reverse=True)
    return "(" + "|".join(re.escape(name) for name in longest_first) + ")"


@cache
def _claim(terms: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(
        rf"(?<![a-z]){_term(terms)}{_BETWEEN}{_NUMBER}\s*{_UNIT}(?!\s*[\d:x]|/|[.,]\d|-\d)"
    )


@cache
def _label(terms: tuple[str, ...]) -> re.Pattern[str]:
    return re.compile(
        rf"\s*{_term(terms)}\s*(?:\([^)]{{0,12}}\)|\[[^\]]{{0,12}}\]|,? *mm)?\s*[:=]?\s*"
    )


def plain(text: str) -> str:
    """Lower case, without accents or the letters that stand for them, degree signs as a word."""
    spoken = text.replace("ß", "ss").replace("°", " deg").replace("_", " ")
    bare = unicodedata.normalize("NFKD", spoken).encode("ascii", "ignore").decode()
    # oe and ae stand for umlauts, whose dots are gone by now
    return re.sub(r"(?<=[aou])e", "", bare.lower())


def claims(notes: Sequence[Note], names: Names | None = None) -> Iterator[Claim]:
    """Everything the texts say of an item: in one text, or a term and the numbers beside it in a row of a table.

    names : the terms looked for, those of the trade where they are not given.
    """
    names = names or _names()
    terms = tuple(names)
    lines = [
        (note, plain(line))
        for note in notes[:NOTE_BUDGET]
        for line in re.split(r"\r\n|\\P|[\r\n;]", note.text)
    ]
    numbers = [
        (note, match.groups("")) for note, line in lines if (match := _BARE_NUMBER.fullmatch(line))
    ]
    for note, line in lines:
        for match in _claim(terms).finditer(line):
            # "mechanical trail" is not "trail"
            if not line[: match.start()].rstrip().endswith(_OTHER_PARTS):
                found = (match[2], match[3] or "")
                yield from _claimed(names[match[1]], match[0].strip(), (found,), note.handle)
        label = _label(terms).fullmatch(line)
        if label:
            beside = tuple(_in_row(note, numbers))
            if beside:
                yield from _claimed(names[label[1]], label[1], beside, note.handle)


def _claimed(
    items: tuple[str, ...], words: str, numbers: tuple[tuple[str, str], ...], handle: str
) -> Iterator[Claim]:
    """A tube's name with a number in degrees means the tube's angle; without an angle of its own it is no claim."""
    degrees = all(unit in DEGREES for _, unit in numbers)
    if degrees and not (items[0] in QUANTITIES and QUANTITIES[items[0]].is_angle):
        items = ANGLE_OF.get(items[0], ())
    if items:
        yield Claim(items, words, numbers, handle)


def _in_row(
    label: Note, numbers: Iterable[tuple[Note, tuple[str, ...]]]
) -> Iterator[tuple[str, str]]:
    """Numbers in the label's row, to its right."""
    near = [
        (note.at[0], groups)
        for note, groups in numbers
        if note.at[0] > label.at[0] and abs(note.at[1] - label.at[1]) <= ROW * label.height
    ]
    # one row may hold a column for each frame size; any of them may be the one drawn
    for _, groups in sorted(near)[:SIZES]:
        yield groups[0], groups[1]


def written_findings(
    drawing: Drawing, d: FrameDimensions, mm_per_unit: float, resolution: float
) -> Iterator[Finding]:
    """A claim that no measured item bears out. `resolution` : what the drawing itself leaves open, mm."""
    measured = {**vars(d), **d.derived(), "stack": d.stack}
    yield from _differing(claims(drawing.notes), measured, mm_per_unit, resolution)


def written_items(
    drawing: Drawing, items: Mapping[str, tuple[str, float]], mm_per_unit: float, resolution: float
) -> Iterator[Finding]:
    """The same for sizes that a plan adds. items : key -> label and what the lines measure, mm."""
    if not items:
        return
    names = {plain(label): (key,) for key, (label, _) in items.items()}
    measured = {key: value for key, (_, value) in items.items()}
    labels = {key: label for key, (label, _) in items.items()}
    said = claims(drawing.notes, names)
    yield from _differing(said, measured, mm_per_unit, resolution, labels)


def _differing(
    said: Iterable[Claim],
    measured: Mapping[str, Any],
    mm_per_unit: float,
    resolution: float,
    labels: Mapping[str, str] | None = None,
) -> Iterator[Finding]:
    """Claims that nothing measured bears out. labels : of items that are lengths of a plan's own."""
    for claim in said:
        values = {name: measured.get(name) for name in claim.items}
        known = {name: value for name, value in values.items() if value is not None}
        if (
            known
            and not _is_diameter(claim, mm_per_unit)
            and not any(_borne_out(claim, n, v, mm_per_unit, resolution) for n, v in known.items())
        ):
            name, value = next(iter(known.items()))
            label, unit = _called(name, labels or {})
            yield find(
                "note-differs",
                "warning",
                f'the sheet says "{_said(claim)}" but the lines measure a {label} of {value:.5g} '
                f"{unit}. The drawing counts; correct one.",
                f"handle {claim.handle}" if claim.handle else "",
            )


def _called(name: str, labels: Mapping[str, str]) -> tuple[str, str]:
    """The item's name and unit in a sentence."""
    if name in labels:
        return labels[name], "mm"
    return QUANTITIES[name].label, QUANTITIES[name].unit_words


def written_lengths(drawing: Drawing, item: str, mm_per_unit: float) -> list[float]:
    """What the texts on the paper give for an item in mm, a unit that is not written being the millimetre's or the
    drawing's own."""
    found: list[float] = []
    for claim in claims(drawing.notes):
        if item in claim.items and not _is_diameter(claim, mm_per_unit):
            for text, unit in claim.numbers:
                number, _ = _read(text, angle=False)
                found += [number * MM_PER.get(unit, 1.0), number * MM_PER.get(unit, mm_per_unit)]
    return list(dict.fromkeys(found))


def _is_diameter(claim: Claim, mm_per_unit: float) -> bool:
    """A tube's name with a small number: its diameter or wall."""
    most = SHORTEST / max(mm_per_unit, 1.0)
    small = all(
        unit in ("", "mm") and float(text.replace(",", ".")) < most for text, unit in claim.numbers
    )
    return small and not TUBES.isdisjoint(claim.items)


def _said(claim: Claim) -> str:
    if len(claim.numbers) == 1 and claim.numbers[0][0] in claim.words:
        return claim.words
    return f"{claim.words} {' '.join(' '.join(n).strip() for n in claim.numbers)}"


def _borne_out(
    claim: Claim, name: str, value: float, mm_per_unit: float, resolution: float
) -> bool:
    angle = name in QUANTITIES and QUANTITIES[name].is_angle
    return any(
        abs(abs(value) - number * factor) <= max(slack * factor, resolution)
        for text, unit in claim.numbers
        for number, slack in [_read(text, angle)]
        for factor in _factors(unit, angle, mm_per_unit)
    )


def _read(text: str, angle: bool) -> tuple[float, float]:
    """The number, and how far it may lie from what is drawn: its rounding, or what counts as no contradiction."""
    _, _, decimals = text.replace(",", ".").partition(".")
    number = float(text.replace(",", "."))
    digit = 10.0 ** -len(decimals)
    # written numbers are held to the same slack as typed dimensions
    least = ANGLE_SLACK if angle else LEAST_TYPED * number
    return number, max(ROUNDING * digit, least)


def _factors(unit: str, angle: bool, mm_per_unit: float) -> tuple[float, ...]:
    """What a written number may be multiplied with: 1 for degrees, the unit's mm; without a unit any it can mean."""
    if angle:
        return (1.0,)
    stated = MM_PER.get(unit)
    return (stated,) if stated else (*UNITS.values(), mm_per_unit)
