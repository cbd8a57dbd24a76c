"""Mitre templates on paper at 1:1: one page per tube end, as SVG (to print) and DXF (to cut by machine or plot), and
all of them as one PDF, a template that is larger than the paper on several sheets to be glued.
"""

from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Literal
from xml.etree import ElementTree

from ....model.errors import InputError
from ....model.findings import Finding
from ....model.frame.bicycle import Bicycle
from ....model.frame.frame_mitres import cut_lengths, frame_mitres
from ....model.frame.mitre import Mitre
from ....model.frame.mitre_findings import mitre_findings
from ..writing import refuse_existing, write_text
from .dxf_paper import CENTRE, LEFT, DxfPaper
from .mitre_pdf import write_pdf
from .template import CAPITAL, FONT, PAPERS, STYLES, Picture, Words, template

if TYPE_CHECKING:
    from matplotlib.textpath import TextPath

Format = Literal["svg", "dxf", "pdf"]
ALL_IN_ONE = "mitre_templates.pdf"


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
    # an end that meets nothing has no template; it is a finding instead
    mitred = {_name(m, mitres): m for m in mitres if m.coverage}
    single = [kind for kind in formats if kind != "pdf"]
    written = tuple(folder / f"{name}.{kind}" for name in mitred for kind in single)
    if "pdf" in formats:
        written = (*written, folder / ALL_IN_ONE)
    # all names first: half a set of templates is worse than none
    refuse_existing(written, force)
    sheet = PAPERS[paper]
    # all pages before the first is written, so that a fault leaves no half of them
    pages = {
        name: template(mitre, lengths[mitre.member], bicycle.name, sheet)
        for name, mitre in mitred.items()
    }
    for name, page in pages.items():
        for kind in single:
            WRITERS[kind](page, folder / f"{name}.{kind}", force)
    if "pdf" in formats:
        write_pdf(list(pages.values()), folder / ALL_IN_ONE, sheet, force)
    found = mitre_findings(bicycle, mitres)
    if "bb_shell" in bicycle.parts:
        return written, found
    # the one that was really used, so that message and templates agree
    shell = shell_diameter or bicycle.part("bb_shell").od
    assumed = Finding(
        "mitre-shell",
        "info",
        f"the bottom bracket shell is taken as {shell:g} mm across; measure yours and state it if it differs",
        "bb_shell",
    )
    return written, (*found, assumed)


def _name(mitre: Mitre, mitres: Sequence[Mitre]) -> str:
    """``top_tube_at_seat_tube``; with its end where both are cut to tubes of one name, as a boom's to its shells."""
    name = _met(mitre)
    if [_met(other) for other in mitres].count(name) > 1:
        return f"{name}_{mitre.at_end}"
    return name


def _met(mitre: Mitre) -> str:
    return f"{mitre.member}_at_{mitre.cuts[0].neighbour}"


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
        # SVG's y runs down the page
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

    # matplotlib's size is that of the em; the capitals are what is asked for
    path = TextPath((0, 0), words.text, size=words.height / CAPITAL, prop=FontProperties(FONT))
    # blanks have no outline, and so no extent
    width = path.get_extents().xmax if words.text.strip() else 0.0
    place = f"translate({words.at[0]:.3f} {height - words.at[1]:.3f})"
    if words.rotation:
        place += f" rotate({-words.rotation:g})"
    # in this order: SVG applies them from the right
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
        # matplotlib's codes: 79 closes a letter, 3 and 4 are its curves
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
    # denser dashes: a template is small, and looked at from near
    paper = DxfPaper(dashes=3.0)
    for stroke in picture.strokes:
        layer = STYLES[stroke.style][0]
        # what has more than two points stays one line, to be cut in one go
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
