"""Tables of solved load cases: what moves and how stiff that is, where it gives, how the walls are stressed."""

from collections.abc import Mapping
from dataclasses import replace

from ....model.decide import settled
from ....model.frame.layout import FrameLayout
from ....model.mechanics.energy import EnergyTable
from ....model.mechanics.frame_model import Measure
from ....model.mechanics.result import Result
from ....model.postprocess.assumed import assumed_share
from ....model.postprocess.fatigue import FatigueTable
from ....model.postprocess.ride_feel import ride_feel
from ....model.postprocess.stress import StressTable
from ....model.words import load_words, rounded_load, spoken
from ..table import Amount, Column, Kind, Row, Table

MILLI = 1000.0  # N·mm of a N·m
LOAD_CASE = Column("load_case", "load case")


def case_title(result: Result) -> str:
    """What a load case is called where people read."""
    return result.case.title or spoken(result.case.name)


def measure_title(measure: Measure) -> str:
    return measure.title or spoken(measure.name)


def load(measure: Measure) -> Amount:
    """The load a stiffness is set against, without its sign; torques in N·m."""
    if measure.reference is None:
        return Amount(None, "")
    if measure.unit == "deg":
        # the size of the load; which way it acts stands in the case's words
        return Amount(rounded_load(abs(measure.reference) / MILLI), "N·m")
    return Amount(rounded_load(abs(measure.reference)), "N")


def said_load(measure: Measure) -> str:
    """The load a stiffness stands against, with its unit."""
    return load_words(measure.reference, measure.unit == "deg")


# --- stiffness --------------------------------------------------------------------------------------------------
STIFFNESS = (
    Column("measure", "measure", files_only=True),
    Column("measured", "measured"),
    Column("moves", "moves", Kind.NUMBER, varying=True),
    Column("under", "under", Kind.GIVEN, varying=True),
    Column("stiffness", "stiffness", Kind.NUMBER, varying=True),
    Column("assumed", "of it in assumed parts", Kind.PERCENT, digits=0),
)
_OF_STIFFNESS = ("under", "stiffness", "assumed")


def stiffness_table(result: Result) -> Table:
    """What moves under a load case, the load it is set against, and the stiffness that follows.

    A model file measures nothing by name: then where it moves most, in the file's own unit.
    """
    share = assumed_share(result)
    rows: list[Row] = [
        (
            measure.name,
            measure_title(measure),
            Amount(result.measured[measure.name], measure.unit),
            load(measure),
            Amount(result.stiffness[measure.name], measure.stiffness_unit),
            _of_stiffness(share, measure),
        )
        for measure in result.case.measures
    ]
    if not rows:
        # without measures the largest movement is the best that can be told
        node, size = result.largest_movement
        rows = [("", f"largest movement, node {node}", Amount(size, ""), None, None, None)]
    # Several loads at once make movements, not stiffnesses: columns of dashes would tell nobody anything.
    movements = all(measure.reference is None for measure in result.case.measures)
    columns = tuple(
        # the columns stay in the files, so that tables of several cases fit together
        replace(c, files_only=c.files_only or (movements and c.key in _OF_STIFFNESS))
        for c in STIFFNESS
    )
    return Table("stiffness", case_title(result), columns, rows, case_words(result))


def _of_stiffness(share: float | None, measure: Measure) -> float | None:
    """The share of a load's own movement; of a movement that other loads make too, energy does not tell it."""
    if measure.reference is None:
        return None
    return share


def case_words(result: Result) -> str:
    """What loads and holds the bicycle in a case, and where the set-up comes from; empty where a file says nothing."""
    if not result.case.notes:
        return ""
    # a number without a source would look like one of a standard
    source = result.case.source or "not stated"
    return f"Loads and supports: {result.case.notes}. Source: {source}."


# --- where it gives ---------------------------------------------------------------------------------------------
_ENERGY = (
    Column("tube", "tube"),
    Column("bending", "bending", Kind.PERCENT, digits=1),
    Column("torsion", "torsion", Kind.PERCENT, digits=1),
    Column("axial", "along", Kind.PERCENT, digits=1),
    Column("shear", "shear", Kind.PERCENT, digits=1),
    Column("together", "together", Kind.PERCENT, digits=1),
)


def energy_table(result: Result, energy: EnergyTable) -> Table:
    """Share of the strain energy per tube, left and right of a pair together, the largest first; springs too."""
    rows: list[Row] = []
    for tube, kinds in energy.kinds_of_tubes.items():
        parts = [kinds[kind] for kind in ("bending", "torsion", "axial", "shear")]
        rows.append((spoken(tube), *parts, sum(parts)))
    # a joint of thin tubes gives like a tube does, so it stands where its share puts it; its name says what it is
    for joint, share in energy.joints.items():
        rows.append((spoken(joint), None, None, None, None, share))
    if energy.joints:
        shares = [*energy.tubes.values(), *energy.joints.values()]
        order = sorted(range(len(rows)), key=lambda k: -settled(shares[k]))
        rows = [rows[k] for k in order]
    for spring, value in energy.springs.items():
        if spring not in energy.joints:
            # a case that stores nothing has no share to give
            share = value / energy.total if energy.total else 0.0
            rows.append((f"spring {spoken(spring)}", None, None, None, None, share))
    return Table(
        "strain energy",
        f"{case_title(result)}: where it gives, left and right of a pair together",
        _ENERGY,
        rows,
    )


def largest_rows(table: Table, count: int) -> Table:
    """The first rows of a table that is too long for a screen."""
    # the rest is not lost: files hold the whole table
    return Table(table.name, table.title, table.columns, table.rows[:count], table.notes)


# --- stress -----------------------------------------------------------------------------------------------------
def stress_columns(units: bool) -> tuple[Column, ...]:
    """units : False for a model file, which may be in any consistent set."""
    if units:
        unit = "MPa"
    else:
        unit = ""
    # no beam model is good to more digits than whole MPa
    return (
        Column("tube", "tube"),
        Column("von_mises", "von Mises", Kind.NUMBER, unit, digits=_stress_digits(units)),
        Column("normal", "normal", Kind.NUMBER, unit, _stress_digits(units), files_only=True),
        Column("shear", "shear", Kind.NUMBER, unit, _stress_digits(units), files_only=True),
        Column("where", "where"),
        Column("element", "element", files_only=True),
        Column("yield", "yield", Kind.NUMBER, unit, _stress_digits(units)),
        Column("of_yield", "of yield", Kind.PERCENT, digits=1),
    )


def _stress_digits(units: bool) -> int | None:
    if units:
        return 0
    return None


def stress_rows(result: Result, stress: StressTable, units: bool = True) -> Table:
    """The peak of every tube in one case, the most used first, with the caution about joints."""
    rows: list[Row] = [
        (
            spoken(row.place.member),
            row.von_mises,
            row.normal,
            row.shear,
            row.place.words,
            row.place.element,
            row.yield_strength,
            row.utilisation,
        )
        for row in stress.rows
    ]
    title = f"{case_title(result)}: highest nominal stress in the wall"
    return Table("nominal stress", title, stress_columns(units), rows, stress.caution)


_FATIGUE = (
    Column("tube", "tube"),
    Column("amplitude", "amplitude", Kind.NUMBER, "MPa", digits=0),
    Column("mean", "mean", Kind.NUMBER, "MPa", digits=0),
    Column("used", "of endurance and ultimate", Kind.PERCENT, digits=0),
)


def fatigue_rows(fatigue: FatigueTable) -> Table:
    """Nominal stress going to and fro between two load cases."""
    first, second = fatigue.cases
    rows: list[Row] = [
        (spoken(row.place.member), row.amplitude, row.mean, row.utilisation) for row in fatigue.rows
    ]
    title = f"To and fro between {first} and {second}: nominal normal stress"
    return Table("fatigue", title, _FATIGUE, rows, fatigue.caution)


# --- what the rider feels ---------------------------------------------------------------------------------------
_RIDE = (
    Column("part", "part"),
    Column("sinks", "sinks", Kind.NUMBER, "mm"),
    Column("share", "share", Kind.PERCENT, digits=0),
)


def ride_table(seated: Result, layout: FrameLayout) -> Table:
    """What the seated rider feels give: tyres, wheels, fork, frame, each with its share."""
    felt = ride_feel(seated, layout)
    # digits as the column itself would show them, inside a sentence
    sinks = Column("", "", Kind.NUMBER)
    notes = (
        f"Mean sink under {sinks.text(felt.weight)} N: {sinks.text(felt.total)} mm. The head tube top sinks "
        f"{sinks.text(felt.front_end)} mm by fork and frame, each tyre {felt.tyre_sag:g} mm. Values: {felt.notes}."
    )
    rows: list[Row] = [(give.component, give.sink, give.share) for give in felt.gives]
    return Table("ride feel", "What gives under the rider", _RIDE, rows, notes)


# --- evidence ---------------------------------------------------------------------------------------------------
_EVIDENCE = (
    LOAD_CASE,
    Column("residual", "residual", Kind.ERROR),
    Column("force_balance", "forces in balance", Kind.ERROR),
    Column("moment_balance", "moments in balance", Kind.ERROR),
    Column("condition", "condition number", Kind.ERROR),
)


def evidence_table(results: Mapping[str, Result]) -> Table:
    """What every solution carries: residual, balances, condition."""
    rows: list[Row] = [
        (case_title(r), r.residual, r.force_balance, r.moment_balance, r.condition)
        for r in results.values()
    ]
    return Table(
        "evidence",
        "Each solution against its own equations",
        _EVIDENCE,
        rows,
        # the bound is told with the numbers, so that a reader need not know it
        "Residual and balances are relative to the largest load; 1e-8 or less is sound.",
    )
