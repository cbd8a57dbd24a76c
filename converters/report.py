"""One self-contained page: everything inlined, so that it opens from a USB stick with no network."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path
from typing import Any

from .files import write_text


@dataclass(frozen=True)
class Block:
    """A table of a page: cells are text already, ready to be shown. `marks` say per row: fine, off or neither."""

    title: str
    columns: Sequence[str]
    rows: Sequence[Sequence[str]]
    text_columns: Sequence[str] = ()
    marks: Sequence[bool | None] = ()
    notes: str = ""


@dataclass(frozen=True)
class Bar:
    """Strain energy of one member in percent of the case's total, by kind."""

    member: str
    bending: float
    torsion: float
    axial: float
    shear: float

    @property
    def total(self) -> float:
        return round(self.bending + self.torsion + self.axial + self.shear, 1)


@dataclass(frozen=True)
class EnergyChart:
    """One load case's bars, the longest first."""

    title: str
    bars: Sequence[Bar]


@dataclass(frozen=True)
class ReportFacts:
    """All that the page shows. `scene`, `cases` and `modes` are what the 3-D view draws (see report_scene);
    `overlay`, `still` and `variant_plot` are SVG texts made by this program."""

    name: str
    source: str
    date: str
    version: str
    verdict: str
    verdict_words: str
    headline: str
    caution: str
    scene: Mapping[str, Any]
    cases: Sequence[Mapping[str, Any]]
    provenance: Mapping[str, Any]
    modes: Sequence[Mapping[str, Any]] = ()
    reasons: Sequence[str] = ()
    overlay: str = ""
    overlay_words: str = ""
    still: str = ""
    still_words: str = ""
    colour_kinds: Sequence[str] = ()
    dimension_tables: Sequence[Block] = ()
    case_tables: Sequence[Block] = ()
    energy: Sequence[EnergyChart] = ()
    tube_tables: Sequence[Block] = ()
    variant_tables: Sequence[Block] = ()
    variant_plot: str = ""
    mode_tables: Sequence[Block] = ()
    audit_tables: Sequence[Block] = ()
    findings: Sequence[Mapping[str, str]] = ()
    assumed: Sequence[str] = field(default_factory=tuple)


def render_report(facts: ReportFacts) -> str:
    """The page as one HTML text."""
    from jinja2 import Environment
    from plotly.offline import get_plotlyjs

    page = Environment(autoescape=True, trim_blocks=True).from_string(resource("report.html.j2"))
    return page.render(facts=facts, css=resource("report.css"), js=resource("report.js"), plotly=get_plotlyjs(),
                       scene_json=script_json({"scene": facts.scene, "cases": facts.cases, "modes": facts.modes}))


def write_report(facts: ReportFacts, path: str | Path, force: bool = False) -> None:
    """Write the page. Raises InputError when the file exists and `force` is not given."""
    write_text(path, render_report(facts), force)


def script_json(value: Any) -> str:
    """JSON that is safe inside a script element: no text of the data can end the element or open a comment."""
    text = json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


def resource(name: str) -> str:
    """Text of a file in converters/data."""
    return (files("converters") / "data" / name).read_text(encoding="utf-8")
