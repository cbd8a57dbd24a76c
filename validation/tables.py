"""Tables that stand in the terminal, in the report and in the spreadsheets alike: built once, numbers still numbers."""

from collections.abc import Iterable, Iterator, Mapping
from math import isfinite

from ..converters.showing.table import HZ_DIGITS, Column, Kind, Row, Table
from ..converters.showing.words import DASH
from ..model.decide import first_largest, settled
from ..model.geometry.statements import label
from ..model.vibration.cadence import FrequencyGap, Pedalled
from ..model.vibration.transmissibility import STRUCTURE_DAMPING, Transmissibility
from ..model.words import signed
from .audit import Audit, FigureAudit
from .drawing_check import DimensionRow
from .opensees.agreement import CrossCheck

ORDERLY = (
    0.05  # percent of mesh error below which rounding and mixed signs hide the order of convergence
)
SWING_CAUTION = (
    "Swings are for comparing frames, not for looking up: the rider is dead weight here, a real one gives "
    "with arms and legs, and the damping is assumed. At half the damping a resonance is twice as high."
)


# --- geometry -----------------------------------------------------------------------------------------------------
_DIMENSIONS = (
    Column("item", "item"),
    Column("drawing", "drawing", Kind.NUMBER, digits=2),
    Column("sheet", "sheet", Kind.NUMBER, digits=2),
    Column("difference", "difference", Kind.NUMBER, digits=2, signed=True),
    Column("tolerance", "tolerance", Kind.GIVEN),
    Column("unit", "unit"),
    Column("within", "within", Kind.VERDICT, missing="not stated"),
)


def dimension_table(rows: Iterable[DimensionRow]) -> Table:
    """The drawing against its sheet."""
    return Table(
        "drawing against sheet",
        "Drawing against sheet",
        _DIMENSIONS,
        [
            (label(r.item), r.drawing, r.sheet, r.difference, r.tolerance, r.unit, r.ok)
            for r in rows
        ],
    )


# --- evidence -----------------------------------------------------------------------------------------------------
_CROSS = (
    Column("load_case", "load case"),
    Column("displacements", "displacements", Kind.ERROR),
    Column("reactions", "reactions", Kind.ERROR),
    Column("end_forces", "end forces", Kind.ERROR),
    Column("within", "within 1e-8", Kind.VERDICT),
)


def cross_table(cross: Mapping[str, CrossCheck], titles: Mapping[str, str]) -> Table:
    """Largest relative differences from the second solver; of a case not compared, why. titles : case -> its title."""
    return Table(
        "second solver",
        "Solved again by OpenSees, same mesh, loads and supports: largest relative difference",
        _CROSS,
        [(titles.get(name, name), *_differences(c)) for name, c in cross.items()],
        "Relative to the largest value of its kind in the case.",
    )


def _differences(cross: CrossCheck) -> Row:
    if cross.reason is not None:
        return None, None, None, f"not compared: {cross.reason}"
    return cross.displacements, cross.reactions, cross.end_forces, cross.ok


def mesh_words(row: FigureAudit) -> str:
    """The mesh's error bar in percent."""
    if row.mesh_error < 0.001:
        return "<0.001"
    return f"{row.mesh_error:.3f}"


def order_words(row: FigureAudit) -> str:
    """The observed order of convergence; a dash where the error is too small to tell one."""
    if row.mesh_error < 1e-6:
        return "exact"
    if row.order is None or row.mesh_error < ORDERLY:
        return DASH
    return f"{row.order:.1f}"


# --- vibration ----------------------------------------------------------------------------------------------------
def nearest_pushes(gaps: Iterable[FrequencyGap]) -> dict[int, FrequencyGap]:
    """Mode number -> the gap to the push of pedalling it is nearest to."""
    # The nearest comes last and stays; settled, so that rounding does not choose between equals.
    return {gap.mode: gap for gap in sorted(gaps, key=lambda gap: -settled(abs(gap.percent)))}


def gap_words(gap: FrequencyGap | None) -> tuple[str, str]:
    """Which push, and how far from it."""
    if gap is None:
        return DASH, DASH
    push = f"{gap.push}, {gap.order} per turn"
    # 0 percent: the push runs through this frequency within the cadences.
    if gap.percent:
        return (push, f"{signed(gap.percent, 0)} %")
    return (f"{push}, at {gap.meets_rpm:.0f} rpm", "meets it")


_RESPONSE = (
    Column("place", "place"),
    Column("swing", "largest swing", Kind.NUMBER, "mm", digits=1),
    Column("cadence", "at", Kind.NUMBER, "rpm", digits=0),
    Column("times", "times the slow push", Kind.NUMBER, digits=1),
)


def response_table(moved: Pedalled) -> Table:
    """Largest motion over the cadence range, and how much larger than under a slow push."""
    rows: list[Row] = []
    for place, amplitude in moved.amplitude.items():
        # y is up, z sideways.
        for axis, way in ((1, "up and down"), (2, "sideways")):
            worst = int(first_largest(amplitude[:, axis]))
            more = float(moved.amplification[place][worst, axis])
            rows.append(
                (
                    f"{place}, {way}",
                    float(amplitude[worst, axis]),
                    round(float(moved.cadences[worst])),
                    # A place that a slow push does not move at all has no ratio.
                    more if isfinite(more) else None,
                )
            )
    title = f"Steady pedalling, {moved.cadences[0]:.0f} to {moved.cadences[-1]:.0f} rpm"
    notes = (
        f"{moved.peak_force:.0f} N peak a foot; damping ratio {moved.damping_ratio:g}, assumed. "
        f"{SWING_CAUTION}"
    )
    return Table("steady pedalling", title, _RESPONSE, rows, notes)


_SHAKEN = (
    Column("frequency", "frequency", Kind.NUMBER, "Hz", HZ_DIGITS),
    Column("saddle_axle", "saddle over rear axle", Kind.NUMBER, digits=2),
    Column("bars_axle", "bars over front axle", Kind.NUMBER, digits=2),
    Column("saddle_road", "saddle over road", Kind.NUMBER, digits=2),
    Column("bars_road", "bars over road", Kind.NUMBER, digits=2),
)


def shaken_tables(shaken: Mapping[str, Transmissibility]) -> Iterator[Table]:
    """What of the road's shaking reaches each rider's saddle and bars, at the third octaves."""
    for name, one in shaken.items():
        # of one rider alone nobody need be told whose saddle it is
        yield _shaken_table(one, "" if len(shaken) == 1 else f", {name}")


def _shaken_table(shaken: Transmissibility, whose: str) -> Table:
    columns = (shaken.saddle_axle, shaken.bars_axle, shaken.saddle_road, shaken.bars_road)
    rows: list[Row] = []
    for k, hz in enumerate(shaken.hz):
        ratios = [float(column[k]) for column in columns]
        rows.append((float(hz), *ratios))
    peaks = " and ".join(
        f"the {name} {ratio:.1f} times at {hz:.1f} Hz"
        for name, (hz, ratio) in (("saddle", shaken.saddle_peak), ("bars", shaken.bars_peak))
    )
    notes = (
        f"Both wheels on a shaker that moves up and down alike; most of the road reaches {peaks}. The rider answers as "
        "measured seated people do (Fairley & Griffin 1989, read in a handbook; like ISO 5982, from memory), the same "
        f"curve at saddle, bars and pedals by his shares; frame and tyres lose {STRUCTURE_DAMPING:.0%} of critical, "
        "assumed. A large ratio over an axle that happens to stand still says little. For comparing frames."
    )
    return Table(
        "transmissibility", f"What of the road's shaking gets through{whose}", _SHAKEN, rows, notes
    )


# --- joints -----------------------------------------------------------------------------------------------------------
def joint_table(done: Audit) -> Table:
    """Each figure with every kind of joint: how it changes, and what then stiffens most for its weight."""
    rows: list[Row] = []
    for figure in done.figures:
        for kind, best in figure.ranking.items():
            change = figure.joints.get(kind)
            rows.append((figure.case, figure.title, kind, change, ", ".join(best) or DASH))
    return Table("joints", "What the kind of joint changes", _JOINTS, rows)


_JOINTS = (
    Column("case", "case"),
    Column("measured", "measured"),
    Column("joints", "joints"),
    Column("change", "change", Kind.NUMBER, "%", digits=1, signed=True),
    Column("first", "stiffens most for its weight"),
)
