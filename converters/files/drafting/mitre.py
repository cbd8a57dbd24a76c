"""Mitre templates on paper at 1:1: one page per tube end, as SVG (to print) and DXF (to cut by machine or plot), and
all of them as one PDF, a template that is larger than the paper on several sheets to be glued.

A PICTURE is a page of strokes and words in mm, origin bottom left; both formats are made from it. On the page
the neighbour is up; wrapped round the tube with the printed side out, the left edge lies on the first mark and meets
the right edge. The BASE LINE runs square round the tube, a whole number of cm from the centre
of the joint.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from math import ceil, pi
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree

import numpy as np

from ....model.arrays import Array
from ....model.errors import InputError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.frame_mitres import CutLength, cut_lengths, frame_mitres, mitre_findings
from ....model.frame.mitre import Mitre
from ....model.words import spoken
from ..writing import refuse_existing, write_text
from .dxf_paper import CENTRE, LEFT, DxfPaper

if TYPE_CHECKING:
    from matplotlib.textpath import TextPath

Format = Literal["svg", "dxf", "pdf"]
Xy = tuple[float, float]
A4 = (210.0, 297.0)
PAPERS = {"A4": A4, "Letter": (215.9, 279.4)}  # mm, ISO 216 and ANSI/ASME Y14.1 A
ALL_IN_ONE = "mitre_templates.pdf"
LETTER_WIDTH = (
    0.8  # of a letter of height 1, on the broad side: a note is broken before it runs off the paper
)
MARGIN = 20.0  # mm, more than any printer's unprintable edge
STEPS = 720  # half a degree round the tube; the quarters, where equal tubes have a kink, lie on it
LEAST_SLEEVE = 25.0  # mm of paper between throat and base line, to wrap it straight
RULER = 100.0
TAB = 8.0  # glue tab
TITLE = 4.5
TITLE_LINE = 6.5  # mm from line to line of the title
TEXT = 3.0
SMALL = 2.5
LINE = 5.5  # mm from note to note

FONT = "DejaVu Sans"  # comes with matplotlib
CAPITAL = 0.729  # height of its capitals, of its size

# Style -> DXF layer, SVG colour, line width mm, dashes.
STYLES: dict[str, tuple[str, str, float, str]] = {
    "cut": ("CUT_LINE", "#000000", 0.35, ""),
    "bore": ("BORE_LINE", "#0040c0", 0.2, "2 1"),
    "paper": ("TEMPLATE", "#707070", 0.18, ""),
    "mark": ("CONSTRUCTION", "#c00000", 0.18, "4 1 1 1"),
    "note": ("NOTES", "#000000", 0.25, ""),
}


@dataclass(frozen=True, eq=False)
class Stroke:
    """A run of straight pieces."""

    points: Array
    style: str


@dataclass(frozen=True)
class Words:
    """A text; rotation in degrees, anti-clockwise."""

    text: str
    at: Xy
    height: float = TEXT
    rotation: float = 0.0
    centred: bool = False


@dataclass
class Picture:
    """One page, mm."""

    width: float
    height: float
    title: str
    strokes: list[Stroke] = field(default_factory=list)
    words: list[Words] = field(default_factory=list)

    def line(self, style: str, *points: Xy) -> None:
        self.strokes.append(Stroke(np.array(points, dtype=float), style))

    def write(
        self,
        text: str,
        x: float,
        y: float,
        height: float = TEXT,
        rotation: float = 0.0,
        centred: bool = False,
    ) -> None:
        self.words.append(Words(text, (x, y), height, rotation, centred))


def write_mitres(
    bicycle: Bicycle,
    folder: str | Path,
    formats: Sequence[Format] = ("svg", "dxf", "pdf"),
    *,
    shell_diameter: float | None = None,
    paper: str = "A4",
    force: bool = False,
) -> tuple[tuple[Path, ...], tuple[Finding, ...]]:
    """Write a template for every mitred tube end into a folder, made where it does not exist.

    Returns the files written, such as ``top_tube_at_seat_tube.svg`` and the `ALL_IN_ONE` of the PDF, and what to look
    at before cutting. `paper` is one of `PAPERS`.

    Raises
    ------
    InputError
        When a file exists and `force` is not given, or the folder cannot be written.
    ModelError
        When the bicycle does not place its tubes or lacks one.
    """
    folder = Path(folder)
    mitres = frame_mitres(bicycle, shell_diameter)
    lengths = {length.member: length for length in cut_lengths(mitres)}
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError(
            f"{folder}: this folder cannot be made ({error.strerror or error})"
        ) from error
    mitred = {f"{m.member}_at_{m.cuts[0].neighbour}": m for m in mitres if m.coverage}
    single = [kind for kind in formats if kind != "pdf"]
    written = tuple(folder / f"{name}.{kind}" for name in mitred for kind in single)
    if "pdf" in formats:
        written = (*written, folder / ALL_IN_ONE)
    refuse_existing(written, force)
    sheet = PAPERS[paper]
    pages = {
        name: template(mitre, lengths[mitre.member], bicycle.name, sheet)
        for name, mitre in mitred.items()
    }
    for name, page in pages.items():
        for kind in single:
            WRITERS[kind](page, folder / f"{name}.{kind}", force)
    if "pdf" in formats:
        from .mitre_pdf import write_pdf

        write_pdf(list(pages.values()), folder / ALL_IN_ONE, sheet, force)
    found = mitre_findings(bicycle, mitres)
    if "bb_shell" in bicycle.parts:
        return written, found
    shell = shell_diameter or bicycle.part("bb_shell").od
    assumed = Finding(
        "mitre-shell",
        "info",
        f"the bottom bracket shell is taken as {shell:g} mm across; measure yours and state it if it differs",
        "bb_shell",
    )
    return written, (*found, assumed)


# --- the page -------------------------------------------------------------------------------------------------


def base_distance(mitre: Mitre) -> float:
    """Distance of the base line from the joint along the tube, mm: whole cm, clear of the throat."""
    return 10.0 * ceil((mitre.short_point + LEAST_SLEEVE) / 10)


def template(mitre: Mitre, length: CutLength, name: str = "", sheet: Xy = A4) -> Picture:
    """The page of one tube end: as large as the paper, or larger where the sleeve does not fit."""
    width = max(sheet[0], mitre.wrap_length + 2 * MARGIN + TAB)
    title = _broken(f"{name}: {mitre.title}".lstrip(": "), sheet[0], TITLE)
    notes = [line for note in _notes(mitre, length) for line in _broken(note, sheet[0], TEXT)]
    above = MARGIN + TITLE_LINE * len(title) + 12
    over = max(6.0, 6.0 - mitre.long_point)
    below = over + base_distance(mitre) + 8 + LINE * len(notes) + 22
    page = Picture(width, max(sheet[1], above + below + MARGIN), title[0])
    for k, line in enumerate(title):
        page.write(line, MARGIN, page.height - MARGIN - TITLE_LINE * k, TITLE)
    top = page.height - above
    joint = top - over
    _wrap(page, mitre, MARGIN, top, joint)
    y = joint - base_distance(mitre) - 8
    for note in notes:
        y -= LINE
        page.write(note, MARGIN, y)
    _ruler(page, MARGIN, y - 22)
    return page


def _broken(text: str, width: float, height: float) -> list[str]:
    """A text as lines that fit between the margins of the paper, also where a template takes several sheets."""
    letters = int((width - 2 * MARGIN) / (LETTER_WIDTH * height))
    return wrap(text, letters) or [""]


def _wrap(page: Picture, mitre: Mitre, left: float, top: float, joint: float) -> None:
    """The sleeve: its edges, the lines to cut, the marks. `joint` is the height of the neighbour's axis."""
    wide = mitre.wrap_length
    base = joint - base_distance(mitre)
    right = left + wide
    tab = left + wide + TAB
    page.line("paper", (left, top), (left, base), (right, base), (right, top), (left, top))
    page.line("paper", (right, base), (tab, base + 3), (tab, top - 3), (right, top))
    page.write("glue", tab - 2, (base + top) / 2, SMALL, 90, True)
    page.line("mark", (left, joint), (right, joint))
    page.write("centre of the joint", left + wide / 8, joint + 1, 2.0)
    phi = np.linspace(0, 2 * pi, STEPS + 1)
    for style, distance in (("bore", mitre.inner(phi)), ("cut", mitre.outer(phi))):
        for piece in _unbroken(np.column_stack([left + mitre.radius * phi, joint - distance])):
            page.strokes.append(Stroke(piece, style))
    for k in range(5):
        x = left + wide * k / 4
        page.line("mark", (x, base), (x, top))
        page.write(f"{90 * k % 360} {mitre.marks[k % 4]}", x - 1, base + 2, SMALL, 90)
    page.write("base line", left, base - 4, SMALL)
    page.write(f"{mitre.neighbours} this side", left, top + 2, SMALL)
    page.write("seam", left - 2, (base + top) / 2, SMALL, 90, True)
    _arrow_up(page, right + TAB + 5, base + 2, top - 2)


def _arrow_up(page: Picture, x: float, low: float, high: float) -> None:
    """Which way the template sits on the tube."""
    page.line("mark", (x, low), (x, high), (x - 1.5, high - 4), (x + 1.5, high - 4), (x, high))
    page.write("up: to the neighbour", x - 1.5, (low + high) / 2, SMALL, 90, True)


def _unbroken(points: Array) -> Iterator[Array]:
    """The runs of finite points, two or more each."""
    finite = np.isfinite(points).all(axis=1)
    bounds = np.flatnonzero(np.diff(np.concatenate([[0], finite.astype(int), [0]])))
    yield from (points[a:b] for a, b in zip(bounds[::2], bounds[1::2], strict=True) if b - a > 1)


def _notes(mitre: Mitre, length: CutLength) -> Iterator[str]:
    yield (
        f"{spoken(mitre.member)}: outside diameter {mitre.od:.2f} mm, wrap {mitre.wrap_length:.2f} mm, wall "
        f"{mitre.wall:.2f} mm"
    )
    for cut in mitre.cuts:
        if abs(cut.offset) > 0.05:
            aside = f", axes {abs(cut.offset):.1f} mm beside each other"
        else:
            aside = ""
        yield f"to the {spoken(cut.neighbour)}, {2 * cut.neighbour_radius:.2f} mm, at {cut.acute:.2f} degrees{aside}"
    yield f"base line: square round the tube, {base_distance(mitre):g} mm along it from the centre of the joint"
    yield (
        f"long point {mitre.long_point:.1f}, throat {mitre.short_point:.1f} mm from the centre of the joint; depth "
        f"{mitre.depth:.1f} mm"
    )
    yield (
        f"tube {length.centre_to_centre:.1f} mm centre to centre; saw it {length.longest:.1f} mm long first "
        "(long point to long point)"
    )
    yield f"solid: cut line on the outside; dashed: where the bore ends, up to {mitre.bevel:.1f} mm off: bevel to it"
    if abs(mitre.taper) > 1e-9:
        yield "the tube is tapered here: wrap it square at the base line and let the left edge follow the mark"
    if mitre.coverage < 1:
        yield f"only {100 * mitre.coverage:.0f} % of the circumference meets the neighbour; close the rest with a cap"
    yield "Print at 100 %, not fitted to the page. Before cutting, check the ruler and the angle on the jig."


def _ruler(page: Picture, x: float, y: float) -> None:
    page.line("note", (x, y), (x + RULER, y))
    for k in range(11):
        if k % 5 == 0:
            tick = 6.0
        else:
            tick = 3.5
        page.line("note", (x + 10 * k, y), (x + 10 * k, y + tick))
    for k in (0, 5, 10):
        page.write(f"{10 * k}", x + 10 * k, y + 7, SMALL, 0, True)
    page.write("100 mm: lay a steel rule on it", x + RULER + 4, y)


# --- formats --------------------------------------------------------------------------------------------------


def svg_text(picture: Picture) -> str:
    """The page as SVG; one unit of the view box is one mm."""
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "width": f"{picture.width:g}mm",
            "height": f"{picture.height:g}mm",
            "viewBox": f"0 0 {picture.width:g} {picture.height:g}",
        },
    )
    ElementTree.SubElement(root, "title").text = picture.title
    for stroke in picture.strokes:
        _, colour, width, dashes = STYLES[stroke.style]
        points = " ".join(f"{x:.4f},{picture.height - y:.4f}" for x, y in stroke.points)
        shape = {
            "points": points,
            "fill": "none",
            "stroke": colour,
            "stroke-width": f"{width}",
            "class": stroke.style,
        }
        ElementTree.SubElement(
            root, "polyline", shape | ({"stroke-dasharray": dashes} if dashes else {})
        )
    for words in picture.words:
        root.append(_letters(words, picture.height))
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _letters(words: Words, height: float) -> ElementTree.Element:
    """A text as the outlines of its letters: no viewer's own font can then make it run off the page."""
    from matplotlib.font_manager import FontProperties
    from matplotlib.textpath import TextPath

    path = TextPath((0, 0), words.text, size=words.height / CAPITAL, prop=FontProperties(FONT))
    width = path.get_extents().xmax if words.text.strip() else 0.0
    place = f"translate({words.at[0]:.3f} {height - words.at[1]:.3f})"
    if words.rotation:
        place += f" rotate({-words.rotation:g})"
    if words.centred:
        place += f" translate({-width / 2:.3f} 0)"
    group = ElementTree.Element("g", {"transform": place, "class": "words", "fill": "#000000"})
    ElementTree.SubElement(group, "title").text = words.text
    ElementTree.SubElement(group, "path", {"d": _outline(path)})
    return group


def _outline(path: "TextPath") -> str:
    """Path data with y down, as SVG has it."""
    said = []
    for points, code in path.iter_segments(curves=True, simplify=False):
        letter = {1: "M", 2: "L", 3: "Q", 4: "C", 79: "Z"}[int(code)]
        if letter == "Z":
            said.append(letter)
        else:
            flipped = points.reshape(-1, 2) * (1, -1)
            said.append(letter + " ".join(f"{x:.2f},{y:.2f}" for x, y in flipped))
    return "".join(said)


def _write_svg(picture: Picture, path: Path, force: bool) -> None:
    write_text(path, svg_text(picture), force)


def _write_dxf(picture: Picture, path: Path, force: bool) -> None:
    paper = DxfPaper(dashes=3.0)
    for stroke in picture.strokes:
        layer = STYLES[stroke.style][0]
        if len(stroke.points) > 2:
            paper.polyline(layer, stroke.points)
        else:
            for start, end in pairwise(stroke.points):
                paper.line(layer, start, end)
    for words in picture.words:
        paper.text(
            "NOTES",
            words.text,
            words.at,
            words.height,
            CENTRE if words.centred else LEFT,
            words.rotation,
        )
    paper.save(path, force)


WRITERS = {"svg": _write_svg, "dxf": _write_dxf}
