"""Load cases to read about: what loads, what holds, what is measured, and the other ways to be held."""

from collections.abc import Sequence
from typing import Any

from ...model.cases.held import holdings
from ...model.cases.library import load_cases, usual_cases
from ...model.frame.bicycle import Bicycle
from ...model.frame.layout import lay_out
from ...model.mechanics.frame_model import DOFS, LoadCase, Measure
from ...model.words import DOF_WORDS, load_words, spoken
from .table import Column, Row, Table

_CASES = (
    Column("case", "case"),
    Column("title", "what it is"),
    Column("measured", "measured"),
    Column("ways", "ways to hold it"),
    Column("usual", "without --case"),
)
_MEASURES = (
    Column("measure", "measure"),
    Column("measured", "measured"),
    Column("under", "stiffness under"),
)
_HOLDINGS = (Column("holding", "way"), Column("words", "what is held, and by what"))
_SUPPORTS = (
    Column("where", "where"),
    Column("held", "held"),
    Column("touching", "what touches it"),
)


def wanted_cases(bicycle: Bicycle, names: tuple[str, ...]) -> tuple[LoadCase, ...]:
    """The named load cases of a bicycle. Raises UnknownNameError as `load_cases` does."""
    return load_cases(bicycle, lay_out(bicycle), names)


def case_list(bicycle: Bicycle, cases: Sequence[LoadCase]) -> Table:
    """One line a case."""
    usual = usual_cases(bicycle)
    rows: list[Row] = []
    # the number of ways, not the ways: one line a case
    for case in cases:
        measured = ", ".join(spoken(measure.name) for measure in case.measures)
        solved = ""
        if case.name in usual:
            solved = "solved"
        title = case.title or spoken(case.name)
        rows.append((case.name, title, measured, str(len(holdings(case.name))), solved))
    notes = (
        "Name one to read its loads, supports, measures and source: droptrail cases side_push. Where there are "
        "several ways to hold it, audit and compare show the figure under each."
    )
    return Table("cases", "Load cases", _CASES, rows, notes)


def case_tables(case: LoadCase) -> tuple[Table, ...]:
    """What holds a case, what is measured, and the other ways to hold it."""
    title = case.title or spoken(case.name)
    # what touches stands beside what is held: a support that nothing touches is one to doubt
    held: list[Row] = [
        (spoken(node), ", ".join(_held(flags)), case.touching.get(node, ""))
        for node, flags in case.supports.items()
    ]
    measured: list[Row] = [(m.name, m.title or spoken(m.name), _under(m)) for m in case.measures]
    ways: list[Row] = [(way.short, way.words) for way in holdings(case.name)]
    tables = [
        Table("supports", f"{title}: held", _SUPPORTS, held),
        Table("measures", "Measured", _MEASURES, measured),
    ]
    # a single way is the one in the table above
    if len(ways) > 1:
        tables.append(Table("holdings", "Ways to hold it", _HOLDINGS, ways))
    return tuple(tables)


def _held(flags: tuple[int, ...]) -> list[str]:
    return [DOF_WORDS[dof] for dof, flag in zip(DOFS, flags, strict=True) if flag]


def _under(measure: Measure) -> str:
    if measure.reference is None:
        return "a movement, no stiffness"
    # torques are kept in N·mm and told in N·m
    return load_words(measure.reference, measure.unit == "deg")


def case_json(bicycle: Bicycle, case: LoadCase) -> dict[str, Any]:
    """A case as one object with stable keys; loads in N and N*mm at nodes, supports as held directions."""
    springs = [
        {"id": s.id, "i": s.i, "j": s.j, "k": list(s.k), "x_axis": list(s.x_axis)}
        for s in case.springs
    ]
    measures = [
        {"name": m.name, "title": m.title, "unit": m.unit, "reference": m.reference}
        for m in case.measures
    ]
    ways = [{"name": way.name, "words": way.words} for way in holdings(case.name)]
    # directions in words, since six flags need their order explained
    supports = {node: _held(flags) for node, flags in case.supports.items()}
    return {
        "name": case.name,
        "title": case.title,
        "usual": case.name in usual_cases(bicycle),
        "loads_and_supports": case.notes,
        "source": case.source,
        "loads": {node: list(load) for node, load in case.nodal.items()},
        "supports": supports,
        "springs": springs,
        "touching": dict(case.touching),
        "measures": measures,
        "held_how": ways,
    }
