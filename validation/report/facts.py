"""Collects what a report shows: the check, where the frame gives, how it vibrates, how far to trust it."""

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date
from typing import Any

import numpy as np

from ...converters.files.fitsheet.items import ITEMS
from ...converters.files.fitsheet.values import BASE_UNIT
from ...converters.showing.choice.compare_table import comparison_tables
from ...converters.showing.report.page import Bar, EnergyChart, PagePlot, ReportFacts
from ...converters.showing.report.scene import CORNER, Colours, case_json, scene_json
from ...converters.showing.report.stills import SIDE, BuiltFrame, still, still_words
from ...converters.showing.result_json import provenance
from ...converters.showing.table import Table
from ...converters.showing.tables.assumed import assumed_table
from ...converters.showing.tables.frame import room_table, sag_table
from ...converters.showing.tables.results import case_title, evidence_table
from ...converters.showing.words import CAUTION
from ...model.arrays import Array
from ...model.choice.compare import Comparison
from ...model.choice.held import Contender, Held, study
from ...model.findings import Finding
from ...model.frame.bicycle import Bicycle
from ...model.frame.layout import FrameLayout, lay_out
from ...model.frame.tube_mass import MassTable, mass_table
from ...model.mechanics.energy import EnergyTable, energy_shares
from ...model.mechanics.result import Result
from ...model.postprocess.sensitivity import Sensitivity, sensitivities
from ...model.postprocess.stress import StressTable, stress_table
from ...model.postprocess.walls import Walls
from ...model.version import VERSION
from ...model.words import spoken
from ..answer_block import cause_words, tight_words
from ..check import Check
from ..vibration import Vibration
from .blocks import (
    case_block,
    cross_tables,
    drawing_part,
    ride_tables,
    stress_tables,
    tiles,
    tube_table,
)
from .choices import ranking_block, rule_faults
from .modes import mode_blocks, mode_scene
from .wobble import Wobble, wobble_scene, wobble_table

_LEAST_SHARE = 0.5  # percent of the energy; tubes below it get no bar


@dataclass(frozen=True)
class Beside:
    """What a page shows beside the check: vibration, tube choices with their plot, more on accuracy, wobble."""

    vibration: Vibration | None = None
    mode_plot: PagePlot | None = None
    comparison: Comparison | None = None
    comparison_plot: PagePlot | None = None
    audit: tuple[Table, ...] = ()
    wobble: Wobble | None = None
    held: bool = True  # the first figures under every way to hold them, a dozen further solutions
    printed: bool = True  # pictures for paper, which a page that is served does not have


@dataclass(frozen=True)
class _Frame:
    """What is known of a frame beyond its model; units : whether its numbers are in mm and N."""

    bicycle: Bicycle | None = None
    layout: FrameLayout | None = None
    masses: MassTable | None = None
    units: bool = True

    @classmethod
    def of(cls, done: Check) -> "_Frame":
        bicycle = done.reading.bicycle
        # Points and members have no tubes to lay out or weigh.
        if bicycle is None or done.reading.model is not None:
            return cls(units=not done.reading.own_units)
        layout = lay_out(bicycle)
        return cls(bicycle, layout, mass_table(done.analysis.model, layout))


@dataclass(frozen=True)
class _Solved:
    """One load case with where its energy sits and how the walls are stressed."""

    result: Result
    energy: EnergyTable
    stress: StressTable

    @classmethod
    def of(cls, result: Result, frame: _Frame, walls: Walls) -> "_Solved":
        stress = stress_table(result, frame.bicycle, frame.layout, walls)
        return cls(result, energy_shares(result), stress)


def report_facts(done: Check, beside: Beside | None = None) -> ReportFacts:
    """The facts of a finished check as a page shows them."""
    beside = beside or Beside()
    frame = _Frame.of(done)
    walls = Walls.of(done.analysis.model, frame.bicycle, frame.layout)
    solved = [_Solved.of(result, frame, walls) for result in done.analysis.results.values()]
    scene = scene_json(
        done.analysis.model, None if frame.bicycle is None else frame.bicycle.dimensions
    )
    cases = [case_json(one.result, _colours(one, frame.units), frame.units) for one in solved]
    return ReportFacts(
        name=_title(done),
        source=done.reading.source,
        date=date.today().isoformat(),
        version=VERSION,
        verdict=done.verdict,
        verdict_words=_verdict_words(done),
        headline=_headline(done),
        caution=CAUTION,
        reasons=done.reasons,
        cause=cause_words(done),
        tiles=tiles(done, frame.masses),
        scene=scene,
        cases=cases,
        provenance=_provenance(done, frame),
        drawing=drawing_part(done.reading, done.dimensions, done.closure),
        tube_tables=_tubes(done, frame),
        **(_pictures(scene, cases) if beside.printed else {}),
        **_load_cases(done, frame, solved, scene, cases, beside.held),
        **_beside(done, beside),
        audit_tables=_audit(done, beside),
        findings=_findings(done, beside),
        assumed=_assumed(done),
    )


def _title(done: Check) -> str:
    bicycle = done.reading.bicycle
    return (bicycle.name if bicycle is not None else "") or done.reading.source


# --- verdict ----------------------------------------------------------------------------------------------------
def _verdict_words(done: Check) -> str:
    """What the check comes to, tyres without their room in the same breath."""
    return _verdict_alone(done) + tight_words(done, done.verdict == "pass")


def _verdict_alone(done: Check) -> str:
    passed = done.verdict == "pass"
    # what was drawn is not what is shown then: the drawing must not vouch for it
    if passed and done.reading.is_changed:
        return "As changed, the numbers hold together; it is no longer what was drawn"
    if done.reading.view is not None and done.dimensions:
        if passed:
            return "The drawing gives the sheet's numbers"
        # With a drawing to cut by, a failed check is said as what it means at the bench.
        return "Do not cut yet"
    if passed:
        return "The numbers hold together"
    return "The numbers do not hold together"


def _headline(done: Check) -> str:
    count = len(done.analysis.results)
    solved = f"{count} load case{'s' if count > 1 else ''} solved. "
    compared = [cross.largest for cross in done.cross.values() if cross.largest is not None]
    # The largest of some cases would speak for those that were not compared.
    if compared and len(compared) == len(done.cross):
        return f"{solved}Solved again by OpenSees on the same mesh: largest difference {max(compared):.0e}."
    return solved + (f"Not cross-checked: {done.not_crossed}." if done.not_crossed else "")


def _findings(done: Check, beside: Beside) -> list[dict[str, str]]:
    """Of the check, and of variants that break the workshop's rules; the gravest first."""
    beside_it = beside.comparison
    found = [
        *done.findings,
        *((*beside_it.findings, *rule_faults(beside_it)) if beside_it is not None else ()),
    ]
    # The check and the comparison may tell the same thing.
    found = list(dict.fromkeys(found))
    return [finding.as_dict() for finding in sorted(found, key=gravity)]


def gravity(finding: Finding) -> int:
    """Sorts findings, the gravest first."""
    return ("error", "warning", "info").index(finding.severity)


def _assumed(done: Check) -> Table | None:
    if not done.analysis.assumed:
        return None
    return assumed_table(done.analysis.assumed)


def _provenance(done: Check, frame: _Frame) -> dict[str, Any]:
    facts = provenance(done.reading, done.analysis.model)
    # Units get a row of their own at the end.
    units = facts.pop("units")
    facts = {spoken(key): value for key, value in facts.items()}
    if frame.bicycle is None:
        loads = {}
    else:
        loads = {
            "loads": ", ".join(
                f"{ITEMS[name].label} {value:g} {BASE_UNIT[ITEMS[name].kind]}".rstrip()
                for name, value in asdict(frame.bicycle.loads).items()
            )
        }
    return {**facts, "units inside": ", ".join(f"{k} {v}" for k, v in units.items()), **loads}


# --- pictures and tables ------------------------------------------------------------------------------------------
def _pictures(scene: Mapping[str, Any], cases: list[dict[str, Any]]) -> dict[str, Any]:
    # The still pictures show the first case.
    return {
        "side": still(scene, cases[0], SIDE),
        "corner": still(scene, cases[0], CORNER),
        "still_words": still_words(cases[0]),
    }


def _load_cases(
    done: Check,
    frame: _Frame,
    solved: list[_Solved],
    scene: Mapping[str, Any],
    cases: list[dict[str, Any]],
    with_held: bool,
) -> dict[str, Any]:
    """Stiffness, where it gives, stress: a table or chart for each load case."""
    # A model file has no tubes that could be varied.
    if frame.bicycle is not None:
        ranked = sensitivities(frame.bicycle, done.analysis.cases)
    else:
        ranked = ()
    held = _held(done, frame) if with_held else {}
    built = BuiltFrame(scene)
    blocks = [
        case_block(one.result, built, case, held.get(one.result.case.name), frame.units)
        for one, case in zip(solved, cases, strict=True)
    ]
    charts = [_energy_chart(one.result, one.energy, ranked) for one in solved]
    stresses = [(one.result, one.stress) for one in solved]
    return {
        "case_tables": blocks,
        "ride_tables": ride_tables(done.analysis.results, frame.layout),
        "energy": charts,
        "stress_tables": stress_tables(stresses, frame.units),
    }


def _held(done: Check, frame: _Frame) -> dict[str, Held]:
    """Load case -> its first figure under every way to hold it, where there are several."""
    if frame.bicycle is None:
        return {}
    as_it_stands = Contender("as it stands", frame.bicycle, 0.0, 0)
    # One contender, as it was solved: its cases are at hand.
    found = study([as_it_stands], lambda bicycle, layout: done.analysis.cases)
    return {one.case: one for one in found}


def _tubes(done: Check, frame: _Frame) -> list[Table]:
    if frame.bicycle is None or frame.layout is None or frame.masses is None:
        return []
    # Outside diameters are seen in a drawing alone.
    if done.reading.view is not None:
        drawn = done.reading.view.diameters
    else:
        drawn = {}
    tables = [
        tube_table(frame.bicycle, frame.layout, frame.masses, drawn),
        room_table(done.clearances),
    ]
    fork = frame.bicycle.suspension
    if fork is not None:
        tables.append(sag_table(fork, frame.bicycle.dimensions))
    return tables


def _beside(done: Check, beside: Beside) -> dict[str, Any]:
    out: dict[str, Any] = {}
    if beside.vibration is not None:
        out |= {
            "modes": mode_scene(beside.vibration, done.analysis.model),
            "mode_tables": mode_blocks(beside.vibration),
            "mode_plot": beside.mode_plot,
        }
    if beside.wobble is not None:
        out["wobble"] = wobble_scene(beside.wobble, done.analysis.model)
        out["mode_tables"] = [*out.get("mode_tables", ()), wobble_table(beside.wobble)]
    if beside.comparison is not None:
        out |= {
            "variant_tables": comparison_tables(beside.comparison),
            "variant_plot": beside.comparison_plot,
        }
    return out


def _audit(done: Check, beside: Beside) -> list[Table]:
    return [*cross_tables(done), evidence_table(done.analysis.results), *beside.audit]


# --- where it gives -----------------------------------------------------------------------------------------------
def _colours(solved: _Solved, units: bool) -> dict[str, Colours]:
    """For every element the energy of its whole tube, a pair together, and the higher stress of its two ends."""
    per_tube = {
        member: 100 * solved.energy.tubes[tube]
        for member, tube in solved.energy.tube_of_members.items()
    }
    out = {
        "energy": Colours(
            "strain energy of the whole tube",
            "% of the total",
            [per_tube[element.member] for element in solved.result.model.elements],
        )
    }
    if solved.stress.rows:
        highest = _shown(solved.stress.von_mises.max(axis=1))
        out["stress"] = Colours("nominal stress in the wall", "MPa" if units else "", highest)
    return out


def _shown(values: Array) -> list[float]:
    """Elements whose wall is not known are drawn as unstressed."""
    return [float(value) for value in np.nan_to_num(values)]


def _energy_chart(
    result: Result, energy: EnergyTable, ranked: tuple[Sensitivity, ...]
) -> EnergyChart:
    bars = []
    for tube, kinds in energy.kinds_of_tubes.items():
        percent = {kind: round(100 * share, 1) for kind, share in kinds.items()}
        bars.append(Bar(spoken(tube), **percent))
    bars += [Bar(spoken(name), joint=round(100 * v, 1)) for name, v in energy.joints.items()]
    # Joints were added behind the tubes; the chart wants the largest first.
    if energy.joints:
        bars.sort(key=lambda bar: -bar.total)
    return EnergyChart(
        case_title(result),
        [bar for bar in bars if bar.total >= _LEAST_SHARE],
        ranking_block(result, ranked),
    )
