"""Writes VALIDATION.md: every published figure beside ours, worked out now. ``python -m validation.page``

For a checkout: the reference cases and drawings are test data. Errors that are mere rounding are shown as a bound,
so that the page is the same on every machine; a test works it out anew and compares.
"""

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from math import isnan
from pathlib import Path
from typing import Any

from ..converters.analysis import analyse
from ..converters.inputs import read_input
from ..converters.showing.markdown import plain_table
from ..model.cases.held import held_cases, holdings
from ..model.cases.library import cases_of, load_cases
from ..model.choice.held import Contender, Held, study
from ..model.frame.bicycle import Bicycle
from ..model.frame.layout import lay_out
from ..model.frame.mesh import mesh
from ..model.mechanics.solve import solve
from ..model.vibration.setup import SUPPORTS
from ..model.words import number as said_number
from ..model.words import spoken, tenths
from .answers import opensees_answers, our_answers
from .joints.chapter import chapter as joints_chapter
from .ladder import ladder
from .opensees import TOLERANCE, available, cross_check
from .published import DrawingLine, Line, bicycle_lines, drawing_lines, mitre_lines, section_lines
from .reference_cases import Reference, evaluate, read_references
from .vibration import MODE_TOLERANCE, vibrate
from .wobble import lines as wobble_lines
from .wobble_tables import (
    RACK_HEADS,
    TRADE_HEADS,
    WHERE_HEADS,
    heads,
    rack_row,
    sample_figures,
    study_rows,
    trade_row,
    where_rows,
)
from .wobble_why import DRAWN_HEADS, HEADS, drawn, moved

ROOT = Path(__file__).parent.parent
DATA = ROOT / "tests" / "data"
SAMPLES = ROOT / "sample_drawings"
PAGE = Path(__file__).with_name("VALIDATION.md")
ROUNDING = 1e-9
_HEAD = """\
# Validation: our figures beside figures from outside

Written by `python -m validation.page` (part of `make docs`); do not edit. A test works it out anew and fails when this
page is out of date. What the methods are, and what no figure here can show, stands in `model/METHODS.md`.

Expected: **published** is a figure printed in the source, **closed-form** one evaluated from a formula. Each case says
whether its source was read or is from memory; a figure recalled wrongly would hardly be met to four digits, but that is
not the same as having read it. Error: difference relative to the expected figure, absolute where that is zero.
Tolerance covers the digits printed and the mesh given, and nothing else.
"""


def page() -> str:
    """The whole page. Needs OpenSees and a checkout; raises FrameError where a model cannot be read or solved."""
    references = read_references(DATA / "frame_cases.json")
    frames = list(_frame_cases(references))
    bicycle = list(bicycle_lines())
    sections = list(section_lines())
    mitres = list(mitre_lines())
    drawings = list(drawing_lines(DATA))
    rungs = [
        # A rung's tolerance is relative, a line's absolute.
        Line(r.name + ": " + r.formula, "", r.expected, r.got, r.tolerance * abs(r.expected))
        for r in ladder()
    ]
    wobble = list(wobble_lines(read_input(SAMPLES / "tourer_700c.csv").need_bicycle()))
    crossed = list(_samples())
    ours = [met for case in frames for met in case.ours]
    theirs = [met for case in frames for met in case.opensees]
    summary = [
        ("frame results, our solver", len(ours), sum(ours)),
        ("frame results, OpenSees", len(theirs), sum(theirs)),
    ]
    for name, lines in (
        ("bicycle dynamics and trail", bicycle),
        ("wobble model", wobble),
        ("sections", sections),
        ("mitres", mitres),
        ("drawings", drawings),
        ("closed forms of `droptrail audit`", rungs),
    ):
        summary.append((name, len(lines), sum(line.ok for line in lines)))
    agreed = sum(row[-1] == "yes" for row in crossed)
    summary.append(("sample bicycles against OpenSees", len(crossed), agreed))
    parts = [
        _HEAD,
        "## In short\n",
        plain_table(("what", "figures", "met"), summary),
        "\n## Drawings with known truth\n",
        _drawings(drawings),
        "\n## Bicycle dynamics and geometry\n",
        _lines(bicycle),
        "\n## The wobble model\n",
        *_wobble(wobble),
        "\n## Sections\n",
        _lines(sections),
        "\n## Mitres\n",
        _lines(mitres),
        "\n## Closed forms of the audit\n",
        "Sources as stated in `validation/ladder.py`, from memory.\n",
        _lines(rungs, source=False),
        "\n## Sample bicycles against OpenSees\n",
        "Same mesh, loads, supports and masses; the largest difference of any displacement, reaction, end force "
        "or frequency.\n",
        plain_table(("bicycle", "what", "largest difference", "allowed", "met"), crossed),
        "\n## Held how: the sample bicycles\n",
        _HELD,
        *_held_tables(),
        joints_chapter(),
        "\n## Published and closed-form frame results\n",
        *(case.text for case in frames),
    ]
    return "\n".join(parts).rstrip("\n") + "\n"


def number(value: float) -> str:
    return f"{value:.6g}"


def error(expected: float, got: float) -> str:
    """Relative, or absolute where nothing is expected; rounding as a bound."""
    # Nothing is relative to an expected 0.
    size = abs(got - expected) / (abs(expected) or 1.0)
    # NaN stands for a figure that is not there, such as a mode too few.
    if isnan(size):
        return "none found"
    if size < ROUNDING:
        return f"< {ROUNDING:.0e}"
    return f"{size:.1e}"


def _met(ok: bool) -> str:
    if ok:
        return "yes"
    return "NO"


def _lines(lines: Sequence[Line], source: bool = True) -> str:
    rows = [
        (
            *((line.what, line.source) if source else (line.what,)),
            number(line.expected),
            number(line.got),
            error(line.expected, line.got),
            f"{line.tolerance:.1e}",
            _met(line.ok),
        )
        for line in lines
    ]
    heads = (
        "figure",
        *(("source",) if source else ()),
        "expected",
        "ours",
        "error",
        "tolerance, absolute",
        "met",
    )
    return plain_table(heads, rows)


def _drawings(lines: Sequence[DrawingLine]) -> str:
    return (
        "Exports of general CAD programs of invented frames; the numbered ones' truth was written down by their "
        "maker, not by this program; of the others this project drew the lines and worked out stack, trail, "
        "front-centre and wheelbase apart from it. Largest difference of all items.\n\n"
    ) + plain_table(
        (
            "drawing",
            "written by",
            "items",
            "largest, mm",
            "largest, degrees",
            "tolerance, mm and degrees",
            "met",
        ),
        [
            (
                line.name,
                line.written_by,
                line.items,
                f"{line.mm:.2f}",
                f"{line.degrees:.2f}",
                f"{line.tolerance[0]:g}, {line.tolerance[1]:g}",
                _met(line.ok),
            )
            for line in lines
        ],
    )


def _wobble(lines: Sequence[Line]) -> Iterator[str]:
    """The wobble model's chapter: its checks, the published studies, the trade, bags and racks."""
    every = {sheet.stem: read_input(sheet).need_bicycle() for sheet in _sheets()}
    # The published studies are of bicycles with one rider.
    bicycles = {name: bicycle for name, bicycle in every.items() if not bicycle.plan.followers}
    # The fifth sample is the tourer again, with slips.
    bicycles.pop("disagree_tourer", None)
    racing = read_input(DATA / "racing_bicycle.csv").need_bicycle()
    checks, studies, why, draws, trade, racks, where = heads()
    yield checks
    yield _lines(lines)
    yield f"\n{studies}"
    figures = [sample_figures(bicycle) for bicycle in (racing, *bicycles.values())]
    names = ("racing bicycle", *bicycles)
    yield plain_table(("study", "how met with", "says", *names), study_rows(figures))
    yield f"\n{why}"
    yield plain_table(HEADS, [one.row for one in moved(racing)])
    yield f"\n{draws}"
    yield plain_table(DRAWN_HEADS, [one.row for one in drawn(racing)])
    yield f"\n{trade}"
    yield plain_table(TRADE_HEADS, [trade_row(*pair) for pair in bicycles.items()])
    yield f"\n{racks}"
    yield plain_table(RACK_HEADS, [rack_row(*pair) for pair in bicycles.items()])
    yield f"\n{where}"
    rows: list[tuple[str, ...]] = []
    for name in ("tourer_700c", "gravel_700c", "trekking_26"):
        carried = bicycles[name]
        light = replace(carried, loads=replace(carried.loads, rear_luggage=0.0))
        rows += where_rows(name, light)
    yield plain_table(WHERE_HEADS, rows)


# --- sample bicycles ----------------------------------------------------------------------------------------------
def _sheets() -> list[Path]:
    """The sheets of the samples: those with a drawing of the same name, other tables lie beside them."""
    return [drawing.with_suffix(".csv") for drawing in sorted(SAMPLES.glob("*.dxf"))]


def _samples() -> Iterator[tuple[str, str, str, str, str]]:
    for sheet in _sheets():
        reading = read_input(sheet)
        names = cases_of(reading.need_bicycle())
        checks = cross_check(analyse(reading, names).results)
        # A case that was not solved again must not count as met.
        ok = len(checks) == len(names) and all(check.ok for check in checks.values())
        yield (
            sheet.stem,
            f"{len(checks)} load cases",
            f"< {TOLERANCE:.0e}" if ok else "above",
            f"{TOLERANCE:.0e}",
            _met(ok),
        )
        yield _every_way(sheet.stem, reading.need_bicycle())
        for supports in SUPPORTS:
            off = vibrate(reading, supports).difference
            ok = off is not None and off <= MODE_TOLERANCE
            yield (
                sheet.stem,
                f"12 modes, supports {supports}",
                f"< {MODE_TOLERANCE:.0e}" if ok else f"{off}",
                f"{MODE_TOLERANCE:.0e}",
                _met(ok),
            )


def _every_way(name: str, bicycle: Bicycle) -> tuple[str, str, str, str, str]:
    """Every other way to hold a load case, solved again by OpenSees."""
    layout = lay_out(bicycle)
    names = tuple(name for name in cases_of(bicycle) if len(holdings(name)) > 1)
    ways = [
        held
        for case in load_cases(bicycle, layout, names)
        # The first way is the case as told, which is solved again above.
        for _, held in held_cases(case, bicycle, layout)[1:]
    ]
    checks = cross_check(solve(mesh(bicycle, layout=layout), ways))
    ok = len(checks) == len(ways) and all(check.ok for check in checks.values())
    return (
        name,
        f"{len(checks)} load cases held otherwise",
        f"< {TOLERANCE:.0e}" if ok else "above",
        f"{TOLERANCE:.0e}",
        _met(ok),
    )


# --- held how ------------------------------------------------------------------------------------------------------
_HELD = """\
The first figure of each main case under every credible way to hold it, and what a top or down tube 3.2 mm larger in
diameter changes in it, percent. A movement that falls is stiffer. The differences between the ways, and sometimes the
order of the two tubes, belong to the supports and not to the frame; what each way holds: `droptrail cases NAME`.
"""
_HELD_HEADS = ("figure", "held how", "value", "against as told, %", "top tube, %", "down tube, %")
LARGER = 3.2  # mm


def _held_tables() -> Iterator[str]:
    for sheet in _sheets():
        bicycle = read_input(sheet).need_bicycle()
        # A frame of another plan has no such pair to be ranked.
        if not {"top_tube", "down_tube"} <= set(bicycle.tubes):
            continue
        contenders = [Contender("as it stands", bicycle, 0.0, 0)]
        contenders += [_with_larger(bicycle, tube) for tube in ("top_tube", "down_tube")]
        studied = study(contenders, load_cases)
        turns = [f"{held.figure.title}: {turn.words}." for held in studied for turn in held.turns()]
        yield f"### {sheet.stem}\n"
        yield plain_table(_HELD_HEADS, [row for held in studied for row in _held_rows(held)])
        yield f"\n{' '.join(turns) or 'No order turns.'}\n"


def _with_larger(bicycle: Bicycle, tube: str) -> Contender:
    tubes = {**bicycle.tubes, tube: bicycle.tubes[tube].scaled(LARGER, 0.0)}
    return Contender(f"larger {spoken(tube)}", replace(bicycle, tubes=tubes), 0.0, 1)


def _held_rows(held: Held) -> Iterator[tuple[str, ...]]:
    for number, way in enumerate(held.ways):
        # The first way is the one told: it has nothing to be held against.
        yield (
            held.figure.title,
            way.short,
            f"{said_number(held.values[0][number])} {held.figure.unit}",
            tenths(held.against_told(0, number)) if number else "",
            *(tenths(held.change(row, number)) for row in (1, 2)),
        )


# --- frame cases --------------------------------------------------------------------------------------------------
@dataclass(frozen=True)
class FrameCase:
    """One case of the reference file: its part of the page, and which figures are met."""

    text: str
    ours: tuple[bool, ...]
    opensees: tuple[bool, ...]


_FRAME_HEADS = (
    "model and figure",
    "kind",
    "expected",
    "ours",
    "error",
    "OpenSees",
    "error",
    "tolerance",
    "met",
)


def _frame_cases(references: tuple[Reference, ...]) -> Iterator[FrameCase]:
    cases = {
        case["id"]: case
        for case in json.loads((DATA / "frame_cases.json").read_text(encoding="utf-8"))["cases"]
    }
    # References stand case by case in the file, which groupby relies on.
    for name, group in groupby(references, key=lambda r: r.of.case):
        own = tuple(group)
        answers = [_both(reference, own) for reference in own]
        rows = [_frame_row(reference, *pair) for reference, pair in zip(own, answers, strict=True)]
        met = []
        for k in (0, 1):
            # What was not asked of a solver is neither met nor missed.
            judged = [
                r.met_by(value)
                for r, pair in zip(own, answers, strict=True)
                if (value := pair[k]) is not None
            ]
            met.append(tuple(judged))
        yield FrameCase(
            f"### {name}: {cases[name]['title']}\n\n{_source(cases[name]['source'])}\n\n"
            f"{plain_table(_FRAME_HEADS, rows)}\n",
            met[0],
            met[1],
        )


def _both(reference: Reference, own: tuple[Reference, ...]) -> tuple[float, float | None]:
    """Our figure and that of OpenSees, None where it is not asked."""
    ours = evaluate(reference, our_answers(reference.of, own))
    # Buckling and forced response are not asked of OpenSees.
    asked = reference.of.kind == "static" or reference.quantity in ("freq", "nrigid")
    return ours, evaluate(reference, opensees_answers(reference.of, own)) if asked else None


def _source(source: dict[str, str]) -> str:
    mark = {"READ": "read", "FROM MEMORY": "from memory", "DERIVED": "derived, no source"}.get(
        source["access"], ""
    )
    if source["where"]:
        where = f" ({source['where']})"
    else:
        where = ""
    return f"Source: {source['text']}. **{mark}**{where}"


def _frame_row(reference: Reference, ours: float, theirs: float | None) -> tuple[str, ...]:
    ok = all(reference.met_by(value) for value in (ours, theirs) if value is not None)
    if theirs is None:
        beside = ("-", "-")
    else:
        beside = (_shown(reference, theirs), error(reference.value, theirs))
    return (
        _figure(reference),
        reference.query["kind"],
        number(reference.value),
        _shown(reference, ours),
        error(reference.value, ours),
        *beside,
        _tolerance(reference),
        _met(ok),
    )


def _shown(reference: Reference, value: float) -> str:
    """Rounding about zero has no digits worth showing."""
    if abs(value) < ROUNDING and abs(value) <= reference.tolerance:
        return "0"
    return number(value)


def _tolerance(reference: Reference) -> str:
    if reference.rtol:
        relative = f"{reference.rtol:.0e} relative"
    else:
        relative = ""
    return " + ".join(
        part for part in (relative, f"{reference.atol:.0e}" if reference.atol else "") if part
    )


_WORDS = {
    "disp": "displacement",
    "disp_diff": "difference of displacements",
    "reac": "reaction",
    "endforce": "end force",
    "freq": "frequency, Hz",
    "nrigid": "rigid motions",
    "buckling": "buckling factor",
    "betti": "Betti, relative",
    "harmonic_undamped": "amplitude",
}


def _figure(reference: Reference) -> str:
    query: Any = reference.query
    place = [
        f"{word} {query[key]}"
        for key, word in (
            ("lc", "load"),
            ("lcA", "loads"),
            ("lcB", "and"),
            ("mode", "mode"),
            ("node", "node"),
            ("node2", "less node"),
            ("element", "element"),
            ("end", "end"),
            ("dof", ""),
            ("comp", ""),
        )
        if key in query
    ]
    return f"{reference.of.name}: {_WORDS[reference.quantity]}, {' '.join(' '.join(place).split())}".rstrip(
        ", "
    )


def main() -> None:
    if not DATA.is_dir():
        raise SystemExit(
            "the validation page is written from a checkout of droptrail, which holds the reference cases"
        )
    reason = available()
    if reason is not None:
        raise SystemExit(f"the validation page needs OpenSees beside our solver: {reason}")
    PAGE.write_text(page(), encoding="utf-8")
    print(f"wrote {PAGE.name}")


if __name__ == "__main__":
    main()
