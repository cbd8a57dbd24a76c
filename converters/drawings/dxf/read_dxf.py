"""read_dxf: a DXF file of any dialect becomes a Drawing of plain curves, or one sentence says why not.

The stages, each a module: what kind of file (sniff), groups (tags), sections and wholeness (sections),
header, layers, blocks and entities (document), blocks unfolded (place), shapes (shapes, spline),
curves, notes and dimensions (curves, notes, plane). Limits stand in budget.
"""

import hashlib
from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np

from ....model.errors import InputError
from ....model.findings import Finding
from ....model.uncollected import uncollected
from ..drawing import Drawing
from .curves import Collector
from .document import Document, printable, read_document
from .place import Unfolder
from .sniff import check_is_dxf, load_bytes
from .tags import Record

PAPER_SPACE = 67  # group code, 1 for what is drawn on a sheet of paper
# $INSUNITS -> mm per drawing unit (DXF reference, header section); 0 is unitless.
MM_PER_UNIT = {
    1: 25.4,
    2: 304.8,
    3: 1609344.0,
    4: 1.0,
    5: 10.0,
    6: 1000.0,
    7: 1e6,
    8: 25.4e-6,
    9: 0.0254,
    10: 914.4,
    11: 1e-7,
    12: 1e-6,
    13: 1e-3,
    14: 100.0,
    15: 1e4,
    16: 1e5,
    17: 1e12,
    21: 1200000.0 / 3937.0,
}


@uncollected()
def read_dxf(path: str | Path) -> Drawing:
    """Read a text or binary DXF, R12 to R2018.

    Returns the visible line work of the model space (of paper space when the model space is empty) in drawing units,
    with findings on everything left out. Points of lines and vertices of polylines are bit for bit those of the file.

    Raises
    ------
    InputError
        one line naming the file, the fault and the next step: not a DXF, cut off, damaged, not finite, a block within
        itself, more than the budgets allow, not in the XY plane, nothing drawn.
    """
    path = Path(path)
    try:
        data = load_bytes(path)
        check_is_dxf(data)
        with np.errstate(all="ignore"):  # numbers out of range are caught by name in curves
            return _drawing(path, data, read_document(data))
    except InputError as error:
        raise InputError(printable(f"{path.name or path}: {error}")) from None


def _drawing(path: Path, data: bytes, document: Document) -> Drawing:
    unfolder, collector, findings = _collect(document)
    curves = collector.all_curves()
    findings = [*document.findings, *findings, *unfolder.findings(), *collector.findings()]
    if not collector.curves and not collector.filled:
        raise InputError(_nothing(unfolder, findings))
    whole = Drawing(
        curves=curves,
        notes=tuple(collector.notes),
        dimensions=tuple(collector.dimensions),
        header_unit=_header_unit(document),
        source=str(path),
        sha256=hashlib.sha256(data).hexdigest(),
        version=document.header.get("$ACADVER", b"").decode("ascii", "replace"),
        findings=tuple(findings),
    )
    return _ways_to_read(whole, collector)


def _ways_to_read(whole: Drawing, collector: Collector) -> Drawing:
    """The lines that are plotted; as others, each tried where those before make no bicycle: with the outlines of
    filled areas, with what is not plotted, with both."""
    plotted = _plotted(whole)
    ways: list[Callable[[], Drawing]] = []
    if collector.filled:
        ways.append(lambda: _plotted(_with_outlines(whole, collector)))
    if len(plotted.curves) < len(whole.curves):
        ways.append(lambda: _with_unplotted(whole))
    if len(ways) > 1:
        ways.append(lambda: _with_unplotted(_with_outlines(whole, collector)))
    return replace(plotted, others=tuple(ways))


def _with_outlines(drawing: Drawing, collector: Collector) -> Drawing:
    text = (
        f"lines alone make no bicycle; the outlines of {len(collector.filled)} filled areas were taken as lines. "
        "Compare with the overlay picture."
    )
    findings = [f for f in drawing.findings if f.code != "dxf-filled"]
    findings.append(Finding("dxf-filled", "info", text))
    curves = (*drawing.curves, *collector.outlines())
    return replace(drawing, curves=curves, findings=tuple(findings))


def _plotted(drawing: Drawing) -> Drawing:
    """Without the lines on layers that are not plotted, if there are others."""
    shown = tuple(curve for curve in drawing.curves if curve.plotted)
    count = len(drawing.curves) - len(shown)
    if not count or not shown:
        return drawing
    text = (
        f"{count} objects on layers that are not plotted, or shown in no viewport, were left out: "
        f"{_unplotted_layers(drawing)}."
    )
    left_out = Finding("dxf-not-plotted", "info", text)
    return replace(drawing, curves=shown, findings=(*drawing.findings, left_out))


def _with_unplotted(drawing: Drawing) -> Drawing:
    text = (
        "what is plotted makes no bicycle; lines on layers that are not plotted, or shown in no viewport, were taken "
        f"too: {_unplotted_layers(drawing)}. Compare with the overlay picture."
    )
    taken = Finding("dxf-not-plotted", "warning", text)
    return replace(drawing, findings=(*drawing.findings, taken))


def _unplotted_layers(drawing: Drawing) -> str:
    return ", ".join(sorted({curve.layer for curve in drawing.curves if not curve.plotted}))


def _collect(document: Document) -> tuple[Unfolder, Collector, list[Finding]]:
    """The model space if anything is drawn in it, else the first place that holds curves."""
    model = [record for record in document.entities if record.integer(PAPER_SPACE) != 1]
    unfolder, collector = _take(document, model)
    if collector.curves or collector.filled or unfolder.hidden:
        return unfolder, collector, []
    for entities, where in _elsewhere(document):
        other = _take(document, entities)
        if other[1].curves:
            text = f"the model space is empty; the drawing was read from {where}. Check that its scale is the frame's."
            return *other, [Finding("dxf-paper-space", "warning", text)]
    return unfolder, collector, []


def _elsewhere(document: Document) -> Iterable[tuple[list[Record], str]]:
    """Where a drawing can be when the model space is empty."""
    yield (
        [record for record in document.entities if record.integer(PAPER_SPACE) == 1],
        "paper space (the layout)",
    )
    for name, block in document.blocks.items():
        if name.startswith(("*paper_space", "$paper_space", "*model_space", "$model_space")):
            yield list(block.entities), f"block {block.name}"


def _take(document: Document, entities: Iterable[Record]) -> tuple[Unfolder, Collector]:
    unfolder = Unfolder(document)
    collector = Collector(document)
    collector.take(unfolder.unfold(entities))
    return unfolder, collector


def _nothing(unfolder: Unfolder, findings: list[Finding]) -> str:
    """Why there is nothing to read: the finding that explains it, if one does."""
    codes = ("dxf-explode-first", "dxf-xref", "dxf-block-missing", "dxf-no-line-work")
    because = [f.message for code in codes for f in findings if f.code == code]
    if because:
        return f"holds no readable line work. {because[0]}"
    if unfolder.hidden:
        count = sum(unfolder.hidden.values())
        layers = ", ".join(sorted(unfolder.hidden))
        return f"shows nothing: all {count} objects are hidden. Switch their layers on ({layers}) and export again."
    return "is empty: no line, circle or curve in model space or paper space. Export the drawing itself."


def _header_unit(document: Document) -> float | None:
    """$INSUNITS as mm per unit; None when missing, 0 or unknown."""
    try:
        return MM_PER_UNIT.get(int(float(document.header.get("$INSUNITS", b"0"))))
    except (ValueError, OverflowError):
        return None
