"""Collects what a report shows: the check, where the frame gives, how it vibrates, how far to trust it."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from converters.report import Bar, Block, EnergyChart, ReportFacts
from converters.report_scene import case_json, scene_json
from converters.result_json import provenance
from converters.words import CAUTION, number
from model.dimensions import FrameDimensions
from model.energy import energy_shares
from model.result import Result
from model.version import VERSION

from .check import Check

if TYPE_CHECKING:
    from model.energy import EnergyTable


def report_facts(done: Check, extras: Mapping[str, Any] | None = None) -> ReportFacts:
    """The facts of a finished check as a page shows them; `extras` are further fields of ReportFacts."""
    results = done.analysis.results
    energies = {name: energy_shares(result) for name, result in results.items()}
    passed = done.verdict == "pass"
    return ReportFacts(
        name=_title(done), source=done.reading.source, date=date.today().isoformat(), version=VERSION,
        verdict=done.verdict, verdict_words=_verdict_words(done, passed), headline=_headline(done),
        caution=CAUTION, reasons=done.reasons, scene=scene_json(done.analysis.model, _dimensions(done)),
        cases=[case_json(result, _colours(result, energies[name])) for name, result in results.items()],
        colour_kinds=("energy",), provenance=_provenance(done), dimension_tables=_dimension_tables(done),
        case_tables=[_case_block(result) for result in results.values()],
        energy=[_energy_chart(results[name], table) for name, table in energies.items()],
        findings=[finding.as_dict() for finding in done.findings], assumed=done.analysis.assumed, **(extras or {}),
    )


def _dimensions(done: Check) -> FrameDimensions | None:
    return None if done.reading.model is not None else done.reading.dimensions


def _title(done: Check) -> str:
    bicycle = done.reading.bicycle
    return (bicycle.name if bicycle is not None else "") or done.reading.source


def _verdict_words(done: Check, passed: bool) -> str:
    if done.reading.view is not None and done.dimensions:
        return "The drawing gives the sheet's numbers" if passed else "Do not cut yet"
    return "The numbers hold together" if passed else "The numbers do not hold together"


def _headline(done: Check) -> str:
    if done.reading.model is not None:
        return f"{len(done.analysis.results)} load cases solved."
    derived = done.reading.dimensions.derived()
    words = (f"Trail {number(derived['trail'])} mm, bottom bracket drop "
             f"{number(done.reading.dimensions.bb_drop)} mm, wheelbase {number(derived['wheelbase'])} mm. ")
    compared = [cross.largest for cross in done.cross.values() if cross.largest is not None]
    if compared and len(compared) == len(done.cross):
        worst = max(compared)
        return f"{words}Solved twice, by this program and by OpenSees on the same mesh: largest difference {worst:.0e}."
    return words + (f"Not cross-checked: {done.not_crossed}." if done.not_crossed else "")


def _provenance(done: Check) -> dict[str, Any]:
    facts = provenance(done.reading, done.analysis.model)
    units = facts.pop("units")
    return {**facts, "units inside": ", ".join(f"{k} {v}" for k, v in units.items())}


def _dimension_tables(done: Check) -> list[Block]:
    blocks = []
    if done.dimensions:
        blocks.append(Block(
            "Drawing against sheet", ("item", "drawing", "sheet", "difference", "tolerance", "unit", "within"),
            [(_words(row.item), number(row.drawing), number(row.sheet), number(row.difference), number(row.tolerance),
              row.unit, _within(row.ok)) for row in done.dimensions],
            ("item", "unit", "within"), [row.ok for row in done.dimensions]))
    elif done.reading.model is None:
        blocks.append(_geometry_block(done))
    if done.closure:
        blocks.append(Block(
            "What the sheet says twice", ("item", "stated", "implied by the rest", "difference", "unit", "within"),
            [(_words(row.item), number(row.stated), number(row.implied), number(row.difference), row.unit,
              _within(row.ok)) for row in done.closure],
            ("item", "unit", "within"), [row.ok for row in done.closure]))
    return blocks


def _geometry_block(done: Check) -> Block:
    d = done.reading.dimensions
    rows = [("trail", d.trail, "mm"), ("bottom bracket drop", d.bb_drop, "mm"), ("head angle", d.head_angle, "deg"),
            ("seat angle", d.seat_angle, "deg"), ("stack", d.stack, "mm"), ("reach", d.reach, "mm"),
            ("chainstay", d.chainstay, "mm"), ("wheelbase", d.derived()["wheelbase"], "mm")]
    return Block("Geometry", ("item", "value", "unit"), [(n, number(v), u) for n, v, u in rows], ("item", "unit"))


def _within(ok: bool | None) -> str:
    return "not stated" if ok is None else "yes" if ok else "no"


def _case_block(result: Result) -> Block:
    case = result.case
    rows = [(m.title or m.name, number(result.measured[m.name]), m.unit, _load(m.reference, m.unit),
             number(result.stiffness[m.name]), m.stiffness_unit if result.stiffness[m.name] is not None else "")
            for m in case.measures]
    evidence = (f"Residual {result.residual:.0e}, force balance {result.force_balance:.0e}, moment balance "
                f"{result.moment_balance:.0e}, {len(result.model.elements)} elements.")
    notes = f"Loads and supports: {case.notes}. Source: {case.source}. {evidence}" if case.notes else evidence
    return Block(case.title or case.name, ("measured", "moves", "unit", "under", "stiffness", "stiffness unit"), rows,
                 ("measured", "unit", "stiffness unit"), notes=notes)


def _load(reference: float | None, unit: str) -> str:
    if reference is None:
        return "–"
    return f"{number(reference)} N" if unit == "mm" else f"{number(reference / 1000)} N·m"


def _colours(result: Result, energy: "EnergyTable") -> dict[str, Sequence[float]]:
    """Energy of the whole tube, percent, given to each of its elements."""
    per_tube = {member: 100 * sum(kinds.values()) for member, kinds in energy.shares.items()}
    return {"energy": [per_tube[element.member] for element in result.model.elements]}


def _energy_chart(result: Result, energy: "EnergyTable") -> EnergyChart:
    bars = [Bar(_words(member), **{kind: round(100 * share, 1) for kind, share in kinds.items()})
            for member, kinds in energy.shares.items()]
    longest = sorted(bars, key=lambda bar: -bar.total)
    return EnergyChart(result.case.title or result.case.name, [bar for bar in longest if bar.total >= 0.5])


def _words(name: str) -> str:
    return name.replace("_", " ")
