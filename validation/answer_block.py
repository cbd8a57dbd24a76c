"""The answer first: what a check comes to, in at most eight lines of 80 columns."""

from collections.abc import Iterator
from textwrap import wrap

from ..converters.showing.tables.frame import mass_words
from ..model.frame.layout import lay_out
from ..model.frame.tube_mass import mass_table
from ..model.geometry.statements import label
from ..model.words import number, signed
from .causes import causes, causes_words
from .check import Check

LINES = 8
COLUMNS = 80
# the stiffnesses that builders compare, in the order they are said
_SAID = (
    ("side_push", "head_sideways", "head sideways"),
    ("frame_torsion", None, "torsion"),
    ("saddle_push", None, "saddle"),
)


def answer_block(done: Check, verdict: str) -> list[str]:
    """Verdict; trail and drop wanted and got; causes; clearances that fail; mass; stiffness; where the rest stands."""
    lines = [f"Verdict: {verdict}{tight_words(done, verdict == 'PASS')}"]
    lines += [
        *_decisive(done),
        *filter(None, [cause_words(done)]),
        *_room(done),
        *_mass(done),
        *_stiffness(done),
    ]
    lines.append(_rest(done))
    return _fitted(lines)


def tight(done: Check) -> list[str]:
    """Every gap that is smaller than wanted, in words, the tightest first."""
    small = sorted(
        (gap for gap in done.clearances if not gap.enough), key=lambda g: g.gap - g.wanted
    )
    return [f"{gap.name} {gap.gap:.1f} of {gap.wanted:g} mm" for gap in small]


def tight_words(done: Check, clean: bool) -> str:
    """A tyre without its room is not a clean pass, so the verdict itself says it; '' where there is room.

    clean : nothing else stands in the way of the verdict that these words follow.
    """
    count = len(tight(done))
    if not count:
        return ""
    joint = ";"
    if clean:
        joint = ", but"
    if count == 1:
        return f"{joint} 1 gap is smaller than wanted"
    return f"{joint} {count} gaps are smaller than wanted"


def _decisive(done: Check) -> Iterator[str]:
    """Trail and drop on one line: what is there, and what was wanted."""
    rows = {row.item: row for row in done.dimensions}
    bicycle = done.reading.bicycle
    said = []
    for item, words in (("trail", "Trail"), ("bb_drop", "drop")):
        row = rows.get(item)
        if row is not None and row.sheet is not None and row.drawing is not None:
            mark = ""
            if not row.ok:
                mark = ": OFF"
            said.append(f"{words} {row.drawing:.2f} mm (wanted {row.sheet:.2f}{mark})")
        elif bicycle is not None:
            value = getattr(bicycle.dimensions, item)
            said.append(f"{words} {value:.2f} mm")
    if said:
        yield ", ".join(said)


def cause_words(done: Check) -> str:
    """What explains the differences of drawing and sheet; else what the sheet's own contradictions come from; '' where
    all agrees."""
    reading = done.reading
    off = [row for row in done.dimensions if row.ok is False]
    # Causes are looked for among dimensions; a tube's diameter explains no other item.
    tubes = [row for row in off if row.item.endswith("_diameter")]
    count = len(off) - len(tubes)
    said = []
    if count and reading.view is not None and reading.sheet is not None and reading.stated:
        # The tolerances the rows were judged by, so that cause and verdict agree.
        mm = next(row.tolerance for row in done.dimensions if row.item == "trail")
        deg = next(row.tolerance for row in done.dimensions if row.item == "head_angle")
        found = causes(reading.view.dimensions, reading.stated, reading.sheet.not_stated, mm, deg)
        said.append(causes_words(found, count))
    said += [f"{label(row.item)} {signed(row.difference, 1)} mm" for row in tubes]
    said += [f.message for f in done.findings if f.code == "closure-suspects"]
    if not said:
        return ""
    return f"Cause: {'; '.join(said)}"


def _room(done: Check) -> Iterator[str]:
    """The tightest gaps, as many as one line holds."""
    # As many as fit on the line, and the tightest even where it does not.
    small = tight(done)
    for count in range(len(small), 0, -1):
        more = ""
        if len(small) > count:
            more = f" and {len(small) - count} more"
        line = f"Too tight: {', '.join(small[:count])}{more}"
        if len(line) <= COLUMNS or count == 1:
            yield line
            return


def _mass(done: Check) -> Iterator[str]:
    bicycle = done.reading.bicycle
    # A model file has no tubes to weigh.
    if bicycle is not None:
        masses = mass_table(done.analysis.model, lay_out(bicycle))
        yield f"Mass of the tubes: {mass_words(masses)}"


def _stiffness(done: Check) -> Iterator[str]:
    said = []
    for case, measure, words in _SAID:
        result = done.analysis.results.get(case)
        if result is None:
            continue
        for one in result.case.measures:
            value = result.stiffness[one.name]
            # None stands for the first stiffness of the case.
            if value is not None and measure in (None, one.name):
                said.append(f"{words} {number(value)} {one.stiffness_unit}")
                break
    if said:
        yield f"Stiffness: {', '.join(said)}"


def _rest(done: Check) -> str:
    notes = _counted(sum(finding.severity == "info" for finding in done.findings), "note")
    assumed = _counted(len(done.analysis.assumed), "value")
    crossed = "Not solved a second time"
    if done.not_crossed is None and done.cross:
        crossed = "Solved again by OpenSees"
    return f"{crossed}; {assumed} assumed, {notes}: see --full"


def _counted(count: int, thing: str) -> str:
    if count == 1:
        return f"1 {thing}"
    return f"{count} {thing}s"


def _fitted(lines: list[str]) -> list[str]:
    """At most `LINES` of `COLUMNS`: the longest give way, at a word, and say so."""
    # Lines that are left over are room for the long ones to run on.
    room = LINES - len(lines)
    out: list[str] = []
    for line in lines:
        parts = wrap(
            line, COLUMNS, subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
        )
        taken = parts[: 1 + max(room, 0)]
        room -= len(taken) - 1
        if len(taken) < len(parts):
            taken[-1] = _shortened(taken[-1])
        out += taken
    return out


def _shortened(line: str) -> str:
    while len(line) > COLUMNS - 4:
        line = line.rpartition(" ")[0]
    return f"{line} ..."
