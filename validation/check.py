"""The main check: does the drawing give the sheet's numbers, and can the solved numbers be trusted? One verdict."""

from collections.abc import Iterator
from dataclasses import dataclass, replace

from ..converters.analysis import Analysis, analyse
from ..converters.inputs import Reading
from ..model.choice.workshop_rules import bench_words
from ..model.errors import ModelError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.clearance import Clearance, clearances
from ..model.frame.joint_places import unsaid_joints
from ..model.geometry.closure import ClosureRow
from ..model.geometry.statements import label
from ..model.joints.shape import JointKind
from ..model.mechanics.result import Result
from ..model.tubes.materials import metal
from ..model.words import signed, spoken
from .drawing_check import DimensionRow, against_sheet
from .opensees import CrossCheck, available, cross_check

_FELT = 0.5  # percent: less of a figure is not worth a word where most joints are said
_HARDLY = 0.05  # of the largest movement of its case and unit: less changes by any percentage


@dataclass(frozen=True)
class Check:
    """Everything the verdict rests on.

    cross : load case -> comparison with OpenSees; empty when OpenSees is not there, then `not_crossed` says why.
    """

    reading: Reading
    dimensions: tuple[DimensionRow, ...]
    closure: tuple[ClosureRow, ...]
    analysis: Analysis
    cross: dict[str, CrossCheck]
    not_crossed: str | None
    findings: tuple[Finding, ...]
    clearances: tuple[Clearance, ...] = ()

    @property
    def reasons(self) -> tuple[str, ...]:
        """Why the verdict is `fail`; empty when it is `pass`."""
        off = [
            f"{label(row.item)} is off by {signed(row.difference, 2)} {row.unit}"
            for row in self.dimensions
            if row.ok is False
        ]
        open_ = [
            f"the sheet contradicts itself on {label(row.item)} by {signed(row.difference, 2)} {row.unit}"
            for row in self.closure
            if not row.ok
        ]
        # a second solver that differs makes every figure doubtful, however well the sheet agrees
        apart = [
            f"case {name}: {cross.summary}" for name, cross in self.cross.items() if not cross.ok
        ]
        errors = [finding.message for finding in self.findings if finding.severity == "error"]
        return (*off, *open_, *apart, *errors)

    @property
    def verdict(self) -> str:
        if self.reasons:
            return "fail"
        return "pass"


def check(
    reading: Reading,
    names: tuple[str, ...] = (),
    tolerance_mm: float = 1.0,
    tolerance_deg: float = 0.1,
) -> Check:
    """Compare, solve and cross-check a drawing read with its sheet (or a sheet alone: closure and solve only)."""
    rows = against_sheet(reading, tolerance_mm, tolerance_deg)
    analysis = analyse(reading, names)
    # asked once: without the library the check is complete but for this
    missing = available()
    if missing:
        cross = {}
    else:
        cross = cross_check(analysis.results)
    if reading.sheet is not None:
        closure = reading.sheet.closure
    else:
        closure = ()
    room: tuple[Clearance, ...]
    if reading.bicycle is None:
        room = ()
    else:
        room = clearances(reading.bicycle)
    found = (
        *analysis.findings,
        *joints_not_said(analysis, names),
        *workshop_findings(reading, room),
        *_not_crossed(missing),
    )
    return Check(reading, rows, closure, analysis, cross, missing, found, room)


def joints_not_said(analysis: Analysis, names: tuple[str, ...] = ()) -> tuple[Finding, ...]:
    """What bare welds would change most, where nobody said how tubes are joined and their joints are rigid."""
    bicycle = analysis.reading.bicycle
    silent = () if bicycle is None else unsaid_joints(bicycle)
    if bicycle is None or not silent:
        return ()
    welds: dict[str, JointKind] = dict.fromkeys(silent, "bare")
    joints = {**bicycle.joints, **welds}
    welded = replace(analysis.reading, bicycle=replace(bicycle, joints=joints))
    try:
        results = analyse(welded, names).results
    except ModelError:
        # a frame whose joints cannot be placed is rigid or refused; who asks for them is told why
        return ()
    gives: list[tuple[float, str]] = []
    for name, result in analysis.results.items():
        gives += _more(result, results[name])
    if not gives:
        return ()
    most, figure = max(gives)
    what = "the tubes"
    if bicycle.joints:
        what = ", ".join(map(spoken, silent))
        # The rest is said: what is hardly felt is not worth a word.
        if most < _FELT:
            return ()
    return (
        Finding(
            "joints-not-said",
            "info",
            f"how {what} are joined is not said, so their joints are rigid; bare welds would give most at {figure}: "
            f"{signed(most, 0)} %. {_welded(bicycle, silent)}Write a row 'joined' into the sheet (TIG welded, fillet "
            "brazed, lugged, rigid), or ask with --joints",
            "joined",
        ),
    )


def _welded(bicycle: Bicycle, tubes: tuple[str, ...]) -> str:
    """That the stuff of some tubes says how they are joined; nothing of steel, which is joined in every way."""
    stuff = {metal(bicycle.tubes[tube].material) for tube in tubes} - {"steel"}
    if not stuff:
        return ""
    named = " and ".join(sorted(stuff))
    return f"{named.capitalize()} tubes are welded as a rule (common practice), so that is nearer the truth. "


def _more(rigid: Result, welded: Result) -> Iterator[tuple[float, str]]:
    """Percent by which each stiffness figure of a case moves more, with its name."""
    for measure in rigid.case.measures:
        alike = [abs(rigid.measured[m.name]) for m in rigid.case.measures if m.unit == measure.unit]
        value = rigid.measured[measure.name]
        if measure.reference is not None and abs(value) > _HARDLY * max(alike):
            more = 100 * (welded.measured[measure.name] / value - 1)
            yield (
                more,
                f"{measure.title or measure.name} under '{rigid.case.title or rigid.case.name}'",
            )


def workshop_findings(reading: Reading, room: tuple[Clearance, ...]) -> tuple[Finding, ...]:
    """What would stop the builder at the bench: tyres without room; as a word, the rules for a brazed frame."""
    if reading.bicycle is None:
        return ()
    tight = (found for gap in room if (found := gap.finding) is not None)
    return (*tight, *bench_words(reading.bicycle))


def _not_crossed(reason: str | None) -> tuple[Finding, ...]:
    if reason is None:
        return ()
    return (
        Finding(
            "no-cross-check", "warning", f"the cross-check with OpenSees was not made: {reason}"
        ),
    )
