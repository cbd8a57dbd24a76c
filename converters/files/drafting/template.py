"""One page of a mitre template: strokes and words in mm, whatever they are written as.

A PICTURE is a page of strokes and words in mm, origin bottom left. On the page the neighbour is up; wrapped round the
tube with the printed side out, the left edge lies on the first mark and meets the right edge. The BASE LINE runs square
round the tube, a whole number of cm from the centre of the joint.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from math import ceil, pi
from textwrap import wrap

import numpy as np

from ....model.arrays import Array
from ....model.frame.frame_mitres import CutLength
from ....model.frame.mitre import Mitre
from ....model.words import spoken

Xy = tuple[float, float]
A4 = (210.0, 297.0)
PAPERS = {"A4": A4, "Letter": (215.9, 279.4)}  # mm, ISO 216 and ANSI/ASME Y14.1 A
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


def base_distance(mitre: Mitre) -> float:
    """Distance of the base line from the joint along the tube, mm: whole cm, clear of the throat."""
    # whole centimetres: a builder finds them on a rule
    return 10.0 * ceil((mitre.short_point + LEAST_SLEEVE) / 10)


def template(mitre: Mitre, length: CutLength, name: str = "", sheet: Xy = A4) -> Picture:
    """The page of one tube end: as large as the paper, or larger where the sleeve does not fit."""
    # wider than the paper where the sleeve is, on several sheets then
    width = max(sheet[0], mitre.wrap_length + 2 * MARGIN + TAB)
    title = _broken(f"{name}: {mitre.title}".lstrip(": "), sheet[0], TITLE)
    notes = [line for note in _notes(mitre, length) for line in _broken(note, sheet[0], TEXT)]
    above = MARGIN + TITLE_LINE * len(title) + 12
    # by how far the tube bites past the neighbour's axis, so that nothing is cut off
    over = max(6.0, 6.0 - mitre.long_point)
    # the ruler needs 22 mm of its own below the notes
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
    # the base line is square, whatever the mitre: it is what is lined up first
    base = joint - base_distance(mitre)
    right = left + wide
    # beyond the tube, so that it takes no part of the circumference
    tab = left + wide + TAB
    page.line("paper", (left, top), (left, base), (right, base), (right, top), (left, top))
    page.line("paper", (right, base), (tab, base + 3), (tab, top - 3), (right, top))
    page.write("glue", tab - 2, (base + top) / 2, SMALL, 90, True)
    page.line("mark", (left, joint), (right, joint))
    page.write("centre of the joint", left + wide / 8, joint + 1, 2.0)
    phi = np.linspace(0, 2 * pi, STEPS + 1)
    # both lines: the cut goes by the outside, and the bore shows how far to bevel
    for style, distance in (("bore", mitre.inner(phi)), ("cut", mitre.outer(phi))):
        # a mitre may leave gaps where the tube misses its neighbour
        for piece in _unbroken(np.column_stack([left + mitre.radius * phi, joint - distance])):
            page.strokes.append(Stroke(piece, style))
    # the fifth is the first again, at the other edge of the sleeve
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
    # the difference marks where a run of finite points begins and ends
    bounds = np.flatnonzero(np.diff(np.concatenate([[0], finite.astype(int), [0]])))
    yield from (points[a:b] for a, b in zip(bounds[::2], bounds[1::2], strict=True) if b - a > 1)


def _notes(mitre: Mitre, length: CutLength) -> Iterator[str]:
    yield (
        f"{spoken(mitre.member)}: outside diameter {mitre.od:.2f} mm, wrap {mitre.wrap_length:.2f} mm, wall "
        f"{mitre.wall:.2f} mm"
    )
    for cut in mitre.cuts:
        # below that it would be told as 0.0 mm
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
