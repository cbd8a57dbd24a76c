"""Mitre templates on paper at 1:1: one page per tube end, as SVG (to print) and DXF (to cut by machine or plot).

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
from typing import Literal
from xml.etree import ElementTree

import numpy as np

from ....model.arrays import Array
from ....model.errors import InputError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.frame_mitres import CutLength, cut_lengths, frame_mitres, mitre_findings
from ....model.frame.mitre import Mitre
from ....model.frame.parts import PARTS
from ....model.words import spoken
from ..writing import refuse_existing, write_text
from .dxf_paper import CENTRE, LEFT, DxfPaper

Format = Literal["svg", "dxf"]
Xy = tuple[float, float]
A4 = (210.0, 297.0)
MARGIN = 20.0  # mm, more than any printer's unprintable edge
STEPS = 720  # half a degree round the tube; the quarters, where equal tubes have a kink, lie on it
LEAST_SLEEVE = 25.0  # mm of paper between throat and base line, to wrap it straight
RULER = 100.0
TAB = 8.0  # glue tab
TEXT = 3.0
SMALL = 2.5
LINE = 5.5  # mm from note to note

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
    formats: Sequence[Format] = ("svg", "dxf"),
    *,
    shell_diameter: float = PARTS["bb_shell"].od,
    force: bool = False,
) -> tuple[tuple[Path, ...], tuple[Finding, ...]]:
    """Write a template for every mitred tube end into a folder, made where it does not exist.

    Returns the files written, such as ``top_tube_at_seat_tube.svg``, and what to look at before cutting.

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
    written = tuple(folder / f"{name}.{kind}" for name in mitred for kind in formats)
    refuse_existing(written, force)
    for name, mitre in mitred.items():
        picture = template(mitre, lengths[mitre.member], bicycle.name)
        for kind in formats:
            WRITERS[kind](picture, folder / f"{name}.{kind}", force)
    assumed = Finding(
        "mitre-shell",
        "info",
        f"the bottom bracket shell is taken as {shell_diameter:g} mm across; "
        "measure yours and state it if it differs",
        "bb_shell",
    )
    return written, (*mitre_findings(bicycle, mitres), assumed)


# --- the page -------------------------------------------------------------------------------------------------


def base_distance(mitre: Mitre) -> float:
    """Distance of the base line from the joint along the tube, mm: whole cm, clear of the throat."""
    return 10.0 * ceil((mitre.short_point + LEAST_SLEEVE) / 10)


def template(mitre: Mitre, length: CutLength, name: str = "") -> Picture:
    """The page of one tube end."""
    page = Picture(
        max(A4[0], mitre.wrap_length + 2 * MARGIN + TAB),
        A4[1],
        f"{name}: {mitre.title}".lstrip(": "),
    )
    page.write(page.title, MARGIN, page.height - MARGIN, 4.5)
    top = page.height - MARGIN - 18
    joint = top - max(6.0, 6.0 - mitre.long_point)
    _wrap(page, mitre, MARGIN, top, joint)
    y = joint - base_distance(mitre) - 8
    for note in _notes(mitre, length):
        y -= LINE
        page.write(note, MARGIN, y)
    _ruler(page, MARGIN, y - 22)
    return page


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
    page.write(f"{spoken(mitre.neighbours)} this side", left, top + 2, SMALL)


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
            "font-family": "sans-serif",
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
        x = words.at[0]
        y = picture.height - words.at[1]
        # capitals: 0.72 of it
        place = {
            "x": f"{x:.3f}",
            "y": f"{y:.3f}",
            "font-size": f"{words.height / 0.72:.2f}",
        }
        place |= {"text-anchor": "middle"} if words.centred else {}
        place |= (
            {"transform": f"rotate({-words.rotation:g} {x:.3f} {y:.3f})"} if words.rotation else {}
        )
        ElementTree.SubElement(root, "text", place).text = words.text
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


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
