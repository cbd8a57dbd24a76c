"""One self-contained page: everything inlined, so that it opens from a USB stick with no network."""

import json
from base64 import b64encode
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache, cached_property
from hashlib import sha256
from html import escape
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ...files.writing import write_text
from ..table import Table

if TYPE_CHECKING:
    from jinja2 import Environment


@dataclass(frozen=True)
class PageFigure:
    """An inline SVG text made by this program, with the words below it."""

    svg: str
    words: str


@dataclass(frozen=True)
class CaseBlock:
    """The table of a load case beside a picture of it: SVG text made by this program, and its words. rig : what is
    held, pushed and measured. held : the figure under the other ways to hold it."""

    table: Table
    figure: str
    figure_words: str
    rig: PageFigure | None = None
    held: Table | None = None


@dataclass(frozen=True)
class Tile:
    """One number to see at a glance: what, how much with its unit, and under which load."""

    label: str
    value: str
    note: str = ""


@dataclass(frozen=True)
class Bar:
    """Strain energy of one member in percent of the case's total, by kind; `joint` is that of a joint that gives."""

    member: str
    bending: float = 0.0
    torsion: float = 0.0
    axial: float = 0.0
    shear: float = 0.0
    joint: float = 0.0

    @property
    def total(self) -> float:
        return round(self.bending + self.torsion + self.axial + self.shear + self.joint, 1)


@dataclass(frozen=True)
class EnergyChart:
    """One load case's bars, the longest first, and the tubes ranked by stiffness per weight."""

    title: str
    bars: Sequence[Bar]
    ranking: Table | None = None


@dataclass(frozen=True)
class PagePlot:
    """A picture drawn by a plotting library, as a whole SVG file, with the words that say what it shows."""

    svg: str
    words: str

    @property
    def source(self) -> str:
        """For an image element: nothing inside can reach the page."""
        # base64: as an image its scripts and styles cannot reach the page
        return "data:image/svg+xml;base64," + b64encode(self.svg.encode()).decode()


@dataclass(frozen=True)
class DrawingPart:
    """The side view with its tables: a drawing's when `drawn`, with `lines` saying how each of its lines was taken."""

    figure: PageFigure
    drawn: bool
    tables: Sequence[Table]
    lines: Table | None = None


@dataclass(frozen=True)
class ReportFacts:
    """All that the page shows. `scene`, `cases`, `modes` and `wobble` are what the 3-D view draws (see scene);
    `side` and `corner` are SVG texts made by this program."""

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
    cause: str = ""
    tiles: Sequence[Tile] = ()
    drawing: DrawingPart | None = None
    side: str = ""
    corner: str = ""
    still_words: str = ""
    tube_tables: Sequence[Table] = ()
    case_tables: Sequence[CaseBlock] = ()
    ride_tables: Sequence[Table] = ()
    energy: Sequence[EnergyChart] = ()
    stress_tables: Sequence[Table] = ()
    variant_tables: Sequence[Table] = ()
    variant_plot: PagePlot | None = None
    mode_tables: Sequence[Table] = ()
    mode_plot: PagePlot | None = None
    wobble: Mapping[str, Any] | None = None
    audit_tables: Sequence[Table] = ()
    findings: Sequence[Mapping[str, str]] = ()
    assumed: Table | None = None

    @property
    def warnings(self) -> list[str]:
        """What must be seen beside the verdict; errors are among the reasons already."""
        # errors stand among the reasons, and would be said twice
        return [finding["message"] for finding in self.findings if finding["severity"] == "warning"]

    @cached_property
    def longest_bar(self) -> float:
        """Percent that fills the width of a bar, common to all charts so that they can be compared."""
        return max((bar.total for chart in self.energy for bar in chart.bars), default=100.0)

    @property
    def soft_joints(self) -> bool:
        """Whether any joint gives, and the key of the bars must say so."""
        return any(bar.joint for chart in self.energy for bar in chart.bars)

    @property
    def drawing_data(self) -> Mapping[str, Any]:
        """What the 3-D view needs."""
        return {
            "scene": self.scene,
            "cases": self.cases,
            "modes": self.modes,
            "wobble": self.wobble,
        }


def render_report(facts: ReportFacts) -> str:
    """The page as one HTML text."""
    scripts = (plotly_script(), resource("report.js"))
    return (
        templates()
        .get_template("report.html.j2")
        .render(
            facts=facts,
            css=resource("report.css"),
            running=css_text(f"{facts.name} · {facts.source} · {facts.date}"),
            scripts=scripts,
            # the policy names these very scripts by their digests
            policy=_policy(scripts),
            scene_json=script_json(facts.drawing_data),
        )
    )


def css_text(words: str) -> str:
    """A CSS string of any words: every letter that could end it, or the style element, as its code point."""
    safe = "".join(c if c.isalnum() or c in " .,-+_·()" else f"\\{ord(c):x} " for c in words)
    return f'"{safe}"'


HEAD = 1000  # letters in which the page says what it is
_MADE_BY = '<meta name="generator" content="droptrail report">'
# by the input's name: a report of another frame must not make room for this one
_INPUT = '<meta name="droptrail-input" content='
SECTIONS = (
    "verdict",
    "drawing",
    "stiffness",
    "gives",
    "stress",
    "vibration",
    "trust",
    "assumptions",
)


def render_results(facts: ReportFacts) -> dict[str, str]:
    """Section name -> HTML of the report's sections, for the served page to put in place."""
    return {name: render_part(name, facts) for name in SECTIONS}


def render_part(name: str, shown: Any) -> str:
    """One macro of the report's parts over what it shows: `drawn`, `findings`, or a section over ReportFacts."""
    # the macros are this program's, the values escaped by the template
    parts = templates().get_template("report_parts.html.j2").module
    return str(getattr(parts, name)(shown))


def render_block(table: Table) -> str:
    """One table as HTML, without its title."""
    parts = templates().get_template("report_parts.html.j2").module
    return str(parts.table(table, False))  # type: ignore[attr-defined]


def write_report(facts: ReportFacts, path: str | Path, force: bool = False) -> None:
    """Write the page. Raises InputError when the file exists and `force` is not given."""
    write_text(path, render_report(facts), force)


def is_report_of(path: Path, source: str) -> bool:
    """Whether a file is a report of this input, by the name of the input that stands in its head."""
    try:
        # "replace": a file that is no page at all must not end in an error
        with path.open(encoding="utf-8", errors="replace") as held:
            head = held.read(HEAD)
    except OSError:
        return False
    return _MADE_BY in head and f'{_INPUT}"{escape(source)}"' in head


def _policy(scripts: Sequence[str]) -> str:
    """Content security policy: only these very scripts run, nothing is fetched from anywhere."""
    hashes = " ".join(
        # a changed script no longer matches its digest and does not run
        f"'sha256-{b64encode(sha256(text.encode()).digest()).decode()}'"
        for text in scripts
    )
    return (
        # styles are inline because the page carries all of them with it
        f"default-src 'none'; script-src {hashes}; style-src 'unsafe-inline'; img-src data: blob:; "
        "base-uri 'none'; form-action 'none'"
    )


def script_json(value: Any) -> str:
    """JSON that is safe inside a script element: no text of the data can end the element or open a comment."""
    text = json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    # "<" would begin a tag, and a comment could swallow the rest of the script
    return text.replace("&", "\\u0026").replace("<", "\\u003c").replace(">", "\\u003e")


@cache
def templates() -> "Environment":
    """Page templates; every value is escaped unless the template itself says it is this program's own mark-up."""
    from jinja2 import Environment, FunctionLoader, StrictUndefined

    return Environment(
        # from the package and nowhere else: no template of the user's is looked for
        loader=FunctionLoader(resource),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        # a name misspelt in a template fails at once, and not as an empty place
        undefined=StrictUndefined,
    )


def resource(name: str) -> str:
    """Text of a file in converters/showing/data."""
    return (files(__package__.rpartition(".")[0]) / "data" / name).read_text(encoding="utf-8")


@cache
def plotly_script() -> str:
    """The plotting library's script, as its package carries it."""
    return (files("plotly") / "package_data" / "plotly.min.js").read_text(encoding="utf-8")
