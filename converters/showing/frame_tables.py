"""Every table of a frame: what was read, what was meshed, what every load case gave, and how far to trust it."""

from collections.abc import Sequence
from dataclasses import replace

from ...model.frame.layout import joints_in_space, lay_out
from ...model.frame.tube_mass import MASS_WORDS, mass_table
from ...model.geometry.quantities import QUANTITIES
from ...model.mechanics.energy import energy_shares
from ...model.mechanics.frame_model import DOFS
from ...model.vibration.mode_words import KINDS as MODE_KINDS
from ...model.vibration.mode_words import describe
from ...model.vibration.modes import Modes
from ..analysis import Analysis
from ..inputs import Reading
from .result_json import provenance
from .table import HZ_DIGITS, Column, Kind, Row, Table, stacked
from .tables.assumed import assumed_table
from .tables.frame import closure_table
from .tables.results import LOAD_CASE, STIFFNESS, energy_table, stiffness_table, stress_rows
from .words import CAUTION

_FORCES = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")
_ENDS = ("N", "Vy", "Vz", "T", "My", "Mz")


def frame_tables(reading: Reading, analysis: Analysis) -> tuple[Table, ...]:
    """All tables of a reading and its solved load cases, the figures first, provenance last."""
    # a model file may be in any consistent set, so its columns carry no units
    units = _Units(not reading.own_units)
    # a model file holds no joints of the trade, no sheet and no tubes by name
    if reading.model is not None:
        read = []
    else:
        read = [_geometry(reading), _joints(reading), *_closure(reading)]
    # tubes come from a sheet; a drawing alone has none
    if reading.bicycle is not None:
        read.append(_tubes(reading))
    solved = [
        _loads(analysis, units),
        _supports(analysis),
        _displacements(analysis, units),
        _reactions(analysis, units),
        _end_forces(analysis, units),
        _stress(analysis, units),
        _energy(analysis),
    ]
    meshed = [
        _nodes(analysis, units),
        _elements(analysis, units),
        _masses(reading, analysis, units),
    ]
    # the stiffness first: a worksheet opens on its first table
    return (
        _stiffness(analysis),
        *read,
        *solved,
        *meshed,
        _findings(analysis),
        assumed_table(analysis.assumed),
        _provenance(reading, analysis),
    )


def _findings(analysis: Analysis) -> Table:
    columns = [Column(key, key) for key in ("severity", "code", "message", "where")]
    rows = [(f.severity, f.code, f.message, f.where) for f in analysis.findings]
    return Table("findings", "Findings", columns, rows)


class _Units:
    """Columns with units; without, where a model file may be in any consistent set."""

    def __init__(self, known: bool) -> None:
        self.known = known

    def number(self, heading: str, unit: str, digits: int | None = None) -> Column:
        # the key is the heading, so that a file's columns can be asked for by what they show
        key = heading.replace(" ", "_")
        if self.known:
            return Column(key, heading, Kind.NUMBER, unit, digits)
        return Column(key, heading, Kind.NUMBER, digits=digits)

    def numbers(self, headings: Sequence[str], first: str, second: str) -> list[Column]:
        """Six columns: three with the first unit, three with the second."""
        forces = [self.number(heading, first) for heading in headings[:3]]
        moments = [self.number(heading, second) for heading in headings[3:]]
        return [*forces, *moments]


def _text(heading: str) -> Column:
    return Column(heading.replace(" ", "_"), heading)


# --- what was read ------------------------------------------------------------------------------------------------
def _geometry(reading: Reading) -> Table:
    d = reading.dimensions
    # stated and derived together, in the order of the table of quantities
    values = {**vars(d), **d.derived()}
    columns = (
        _text("item"),
        _text("key"),
        Column("value", "value", Kind.NUMBER, digits=2),
        _text("unit"),
    )
    rows = [
        (quantity.label, key, values[key], quantity.unit)
        for key, quantity in QUANTITIES.items()
        if key in values
    ]
    return Table("geometry", "Geometry", columns, rows)


def _joints(reading: Reading) -> Table:
    rows: list[Row] = []
    if reading.bicycle is not None:
        joints = joints_in_space(reading.bicycle)
        # a joint that the input does not place keeps its row, with empty cells
        rows += [(name, *(xyz or (None, None, None))) for name, xyz in joints.items()]
    else:
        # a side view does not show the sizes across
        for name, point in reading.dimensions.points().items():
            if point is None:
                rows.append((name, None, None, None))
            else:
                rows.append((name, point.x, point.y, None))
    axes = [Column(axis, axis, Kind.NUMBER, "mm", digits=1) for axis in "xyz"]
    return Table("joints", "Joints", (_text("joint"), *axes), rows)


def _closure(reading: Reading) -> list[Table]:
    if reading.sheet is None or not reading.sheet.closure:
        return []
    return [closure_table(reading.sheet.closure)]


def _tubes(reading: Reading) -> Table:
    def joined(values: Sequence[float]) -> str:
        return "/".join(f"{v:g}" for v in values)

    known = _Units(True)
    columns = (
        _text("tube"),
        known.number("outside diameter start", "mm"),
        known.number("outside diameter end", "mm"),
        known.number("width across, oval", "mm"),
        known.number("width across at the end", "mm"),
        known.number("straight at the start", "mm"),
        known.number("straight at the end", "mm"),
        known.number("corner radius, rectangular", "mm"),
        Column("walls", "walls", unit="mm"),
        Column("butts", "butts", unit="mm"),
        Column("tapers", "tapers", unit="mm"),
        _text("material"),
        known.number("E", "MPa"),
        known.number("G", "MPa"),
        known.number("density", "kg/m³"),
        known.number("yield strength", "MPa"),
    )
    rows = [
        (
            name,
            t.od_start,
            t.od_end,
            t.oval_width,
            t.width_end,
            *t.straight,
            t.corner,
            joined(t.walls),
            joined(t.butts),
            joined(t.tapers),
            t.material.name,
            t.material.E,
            t.material.G,
            # tonnes per mm³ inside, kg per m³ where people read
            t.material.rho * 1e12,
            t.material.yield_strength,
        )
        for name, t in reading.need_bicycle().tubes.items()
    ]
    return Table("tubes", "Tubes", columns, rows)


# --- what the load cases gave -------------------------------------------------------------------------------------
def _stiffness(analysis: Analysis) -> Table:
    # one head for all cases: a case of movements alone leaves its stiffness columns empty
    tables = {
        name: replace(stiffness_table(result), columns=STIFFNESS)
        for name, result in analysis.results.items()
    }
    notes = _text("loads and supports")
    return stacked("stiffness", "Stiffness", LOAD_CASE, tables, notes)


def _loads(analysis: Analysis, units: _Units) -> Table:
    rows: list[Row] = []
    for name, result in analysis.results.items():
        for node, load in result.case.nodal.items():
            # every load in one table: whoever checks by hand adds them up
            rows.append((name, "node", node, "global", *map(float, load)))
        for along in result.case.member_loads:
            # three components: a load along a tube brings no moments
            forces = map(float, along.w)
            rows.append(
                (name, "per length of element", along.element, along.frame, *forces, *_NONE)
            )
    words = (LOAD_CASE, _text("on"), _text("name"), _text("axes"))
    return Table("loads", "Loads", (*words, *units.numbers(_FORCES, "N, N/mm", "N·mm")), rows)


_NONE = (None, None, None)


def _supports(analysis: Analysis) -> Table:
    rows: list[Row] = []
    for name, result in analysis.results.items():
        case = result.case
        for node, flags in case.supports.items():
            rows.append((name, node, "held", *map(_held, flags), case.touching.get(node, "")))
        # a spring holds as a support does, so it stands among them
        for spring in case.springs:
            rows.append((name, spring.i, "spring", *map(_held, spring.k), spring.id))
    words = (LOAD_CASE, _text("node"), _text("how"))
    ways = [_text(dof) for dof in DOFS]
    columns = (*words, *ways, _text("what touches, or the spring"))
    return Table("supports", "Supports", columns, rows)


def _held(flag: float) -> str:
    """A word and no verdict: a direction that is free is nothing bad."""
    if flag:
        return "yes"
    return "no"


def _displacements(analysis: Analysis, units: _Units) -> Table:
    rows: list[Row] = [
        (name, node, *map(float, u))
        for name, r in analysis.results.items()
        for node, u in zip(r.model.nodes, r.u, strict=True)
    ]
    columns = (LOAD_CASE, _text("node"), *units.numbers(DOFS, "mm", "rad"))
    return Table("displacements", "Displacements", columns, rows)


def _reactions(analysis: Analysis, units: _Units) -> Table:
    rows: list[Row] = [
        (name, node, *map(float, force))
        for name, r in analysis.results.items()
        for node, force in r.reactions.items()
    ]
    columns = (LOAD_CASE, _text("node"), *units.numbers(_FORCES, "N", "N·mm"))
    return Table("reactions", "Reactions", columns, rows)


def _end_forces(analysis: Analysis, units: _Units) -> Table:
    rows: list[Row] = []
    for name, r in analysis.results.items():
        # six components at each end, in the element's own axes
        for e, f in zip(r.model.elements, r.end_forces, strict=True):
            rows.append((name, e.id, e.member, "i", *map(float, f[:6])))
            rows.append((name, e.id, e.member, "j", *map(float, f[6:])))
    words = (LOAD_CASE, _text("element"), _text("member"), _text("end"))
    return Table("end forces", "End forces", (*words, *units.numbers(_ENDS, "N", "N·mm")), rows)


def _stress(analysis: Analysis, units: _Units) -> Table:
    stresses = analysis.stresses()
    tables = {
        name: stress_rows(analysis.results[name], stress, units.known)
        for name, stress in stresses.items()
    }
    return stacked("nominal stress", "Nominal stress", LOAD_CASE, tables, _text("caution"))


def _energy(analysis: Analysis) -> Table:
    tables = {
        name: energy_table(result, energy_shares(result))
        for name, result in analysis.results.items()
    }
    return stacked("strain energy", "Strain energy", LOAD_CASE, tables)


def mode_tables(modes: Modes, notes: str, units: bool = True) -> tuple[Table, ...]:
    """Natural modes in words and figures, and their shapes. notes : what holds and loads the bicycle."""
    words = describe(modes)
    kinds = (*MODE_KINDS, "springs")
    listed: list[Row] = []
    for k, w in enumerate(words):
        shares = [w.kinds[kind] for kind in kinds]
        listed.append(
            (str(w.number), w.hz, w.title, w.plane, *shares, float(modes.residuals[k]), notes)
        )
    shapes: list[Row] = []
    for w in words:
        for node, six in zip(modes.model.nodes, modes.shapes[w.number - 1], strict=True):
            shapes.append((str(w.number), node, *map(float, six)))
    columns = (
        _text("mode"),
        Column("frequency", "frequency", Kind.NUMBER, "Hz", HZ_DIGITS),
        _text("what it does"),
        _text("plane"),
        *(Column(kind, kind, Kind.PERCENT, digits=1) for kind in kinds),
        Column("residual", "residual", Kind.ERROR),
        _text("held and laden"),
    )
    moved = (_text("mode"), _text("node"), *_Units(units).numbers(DOFS, "mm", "rad"))
    return (
        Table("modes", "Natural modes", columns, listed),
        Table("mode shapes", "Mode shapes", moved, shapes),
    )


# --- what was meshed ----------------------------------------------------------------------------------------------
def _nodes(analysis: Analysis, units: _Units) -> Table:
    columns = (_text("node"), *(units.number(axis, "mm") for axis in "xyz"))
    rows: list[Row] = [(node, *map(float, xyz)) for node, xyz in analysis.model.nodes.items()]
    return Table("nodes", "Nodes", columns, rows)


def _elements(analysis: Analysis, units: _Units) -> Table:
    columns = (
        _text("element"),
        _text("member"),
        _text("end i"),
        _text("end j"),
        units.number("A", "mm²"),
        units.number("Iy", "mm⁴"),
        units.number("Iz", "mm⁴"),
        units.number("J", "mm⁴"),
        units.number("shear area y", "mm²"),
        units.number("shear area z", "mm²"),
        units.number("half height", "mm"),
        units.number("half width", "mm"),
        _text("material"),
        units.number("E", "MPa"),
        units.number("G", "MPa"),
    )
    rows: list[Row] = []
    for e in analysis.model.elements:
        s = e.section
        # a size of nothing is a section that states none
        sizes = (s.A, s.Iy, s.Iz, s.J, s.Asy, s.Asz, s.cy or None, s.cz or None)
        material = (e.material.name, e.material.E, e.material.G)
        rows.append((e.id, e.member, e.i, e.j, *sizes, *material))
    return Table("elements", "Elements", columns, rows)


def _masses(reading: Reading, analysis: Analysis, units: _Units) -> Table:
    if reading.bicycle is None:
        layout = None
    else:
        layout = lay_out(reading.bicycle)
    found = mass_table(analysis.model, layout)
    # the table is in kg; a model file's own unit comes back
    if units.known:
        scale = 1.0
    else:
        scale = 1e-3
    rows: list[Row] = [
        (member, found.tubes.get(member, "part"), scale * m.kg, *m.centre)
        for member, m in found.members.items()
    ]
    if layout is None:
        sums = {"all": found.total}
    else:
        # frame and fork apart, as they are weighed
        sums = {"frame tubes": found.frame, "fork": found.fork, "all with parts": found.total}
    rows += [(name, "sum", scale * m.kg, *m.centre) for name, m in sums.items()]
    columns = (
        _text("member"),
        _text("tube"),
        units.number("mass", "kg"),
        *(units.number(f"centre of mass {axis}", "mm") for axis in "xyz"),
    )
    return Table("masses", "Masses", columns, rows)


def _provenance(reading: Reading, analysis: Analysis) -> Table:
    facts = provenance(reading, analysis.model)
    # one line for all units: in a table they are read, not calculated with
    facts["units"] = ", ".join(f"{what} {unit}" for what, unit in facts["units"].items())
    rows: list[Row] = []
    for what, value in (facts | {"masses": MASS_WORDS, "caution": CAUTION}).items():
        if isinstance(value, str):
            rows.append((what, value, None))
        else:
            rows.append((what, "", value))
    for name, result in analysis.results.items():
        rows += [
            (f"{name}: residual", "", result.residual),
            (f"{name}: force balance", "", result.force_balance),
            (f"{name}: moment balance", "", result.moment_balance),
            (f"{name}: condition", "", result.condition),
        ]
    columns = (
        # words and numbers in columns of their own, so that a sum over one of them means something
        _text("what"),
        Column("said", "said", missing=""),
        Column("value", "value", Kind.NUMBER, missing=""),
    )
    return Table("provenance", "Provenance", columns, rows)
