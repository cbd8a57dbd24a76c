"""Every table of a frame: what was read, what was meshed, what every load case gave, and how far to trust it."""

from collections.abc import Sequence

from ...model.choice.figures import figure
from ...model.frame.layout import joints_in_space, lay_out
from ...model.frame.tube_mass import MASS_WORDS, mass_table
from ...model.geometry.closure import ClosureRow
from ...model.geometry.quantities import QUANTITIES
from ...model.geometry.statements import label
from ...model.mechanics.energy import KINDS, energy_shares
from ...model.mechanics.frame_model import DOFS
from ...model.vibration.mode_words import KINDS as MODE_KINDS
from ...model.vibration.mode_words import describe
from ...model.vibration.modes import Modes
from ..analysis import Analysis
from ..inputs import Reading
from .result_json import provenance
from .tables import Cell, Table
from .words import CAUTION

Rows = list[Sequence[Cell]]
_ENDS = ("N", "Vy", "Vz", "T", "My", "Mz")


def frame_tables(reading: Reading, analysis: Analysis) -> tuple[Table, ...]:
    """All tables of a reading and its solved load cases, the figures first, provenance last."""
    units = _Units(reading.model is None)
    if reading.model is not None:
        read = []
    else:
        read = [_geometry(reading), _joints(reading), *_closure(reading)]
    if reading.bicycle is not None:
        read.append(_tubes(reading))
    solved = [
        _loads(analysis, units),
        _supports(analysis),
        _displacements(analysis, units),
        _reactions(analysis, units),
        _end_forces(analysis, units),
        _stress(reading, analysis, units),
        _energy(analysis),
    ]
    meshed = [
        _nodes(analysis, units),
        _elements(analysis, units),
        _masses(reading, analysis, units),
    ]
    found = analysis.findings
    said = [
        Table(
            "findings",
            ("severity", "code", "message", "where"),
            [(f.severity, f.code, f.message, f.where) for f in found],
        ),
        Table(
            "assumed",
            ("assumed, because the input does not say",),
            [(s,) for s in analysis.assumed],
        ),
    ]
    return (_stiffness(analysis), *read, *solved, *meshed, *said, _provenance(reading, analysis))


class _Units:
    """Heads with units; without, where a model file may be in any consistent set."""

    def __init__(self, known: bool) -> None:
        self.known = known

    def head(self, name: str, unit: str) -> str:
        if self.known:
            return f"{name} [{unit}]"
        return name

    def heads(self, names: Sequence[str], first: str, second: str) -> tuple[str, ...]:
        """Six names: three with the first unit, three with the second."""
        return tuple(self.head(name, first if k < 3 else second) for k, name in enumerate(names))


# --- what was read ------------------------------------------------------------------------------------------------
def _geometry(reading: Reading) -> Table:
    d = reading.dimensions
    values = {**vars(d), **d.derived()}
    return Table(
        "geometry",
        ("item", "key", "value", "unit"),
        [
            (row.label, key, values[key], row.unit)
            for key, row in QUANTITIES.items()
            if key in values
        ],
    )


def _joints(reading: Reading) -> Table:
    if reading.bicycle is not None:
        joints = joints_in_space(reading.dimensions, reading.bicycle.fittings)
        rows: Rows = [(name, *(xyz or (None, None, None))) for name, xyz in joints.items()]
    else:
        rows = [
            (name, *((p.x, p.y) if p else (None, None)), None)
            for name, p in reading.dimensions.points().items()
        ]
    return Table("joints", ("joint", "x [mm]", "y [mm]", "z [mm]"), rows)


def _closure(reading: Reading) -> list[Table]:
    if reading.sheet is None or not reading.sheet.closure:
        return []
    return [closure_table(reading.sheet.closure)]


def closure_table(rows: Sequence[ClosureRow]) -> Table:
    """What a sheet says twice."""
    return Table(
        "closure",
        ("item", "stated", "implied by the rest", "difference", "tolerance", "unit", "within"),
        [
            (label(r.item), r.stated, r.implied, r.difference, r.tolerance, r.unit, r.ok)
            for r in rows
        ],
    )


def _tubes(reading: Reading) -> Table:
    def joined(values: Sequence[float]) -> str:
        return "/".join(f"{v:g}" for v in values)

    heads = (
        "tube",
        "outside diameter start [mm]",
        "outside diameter end [mm]",
        "width across, oval [mm]",
        "corner radius, rectangular [mm]",
        "walls [mm]",
        "butts [mm]",
        "tapers [mm]",
        "material",
        "E [MPa]",
        "G [MPa]",
        "density [kg/m³]",
        "yield strength [MPa]",
    )
    return Table(
        "tubes",
        heads,
        [
            (
                name,
                t.od_start,
                t.od_end,
                t.oval_width,
                t.corner,
                joined(t.walls),
                joined(t.butts),
                joined(t.tapers),
                t.material.name,
                t.material.E,
                t.material.G,
                t.material.rho * 1e12,
                t.material.yield_strength,
            )
            for name, t in reading.need_bicycle().tubes.items()
        ],
    )


# --- what the load cases gave -------------------------------------------------------------------------------------
def _stiffness(analysis: Analysis) -> Table:
    rows: Rows = []
    for name, result in analysis.results.items():
        for m in result.case.measures:
            if m.reference is None:
                load = ""
            else:
                load = figure(result.case, m).load
            rows.append(
                (
                    name,
                    m.name,
                    m.title,
                    result.measured[m.name],
                    m.unit,
                    load,
                    result.stiffness[m.name],
                    "" if result.stiffness[m.name] is None else m.stiffness_unit,
                    result.case.notes,
                    result.case.source,
                )
            )
    return Table(
        "stiffness",
        (
            "load case",
            "measure",
            "measured",
            "moves",
            "unit",
            "under",
            "stiffness",
            "stiffness unit",
            "loads and supports",
            "source",
        ),
        rows,
    )


def _loads(analysis: Analysis, units: _Units) -> Table:
    rows: Rows = []
    for name, result in analysis.results.items():
        rows += [
            (name, "node", node, "global", *map(float, load))
            for node, load in result.case.nodal.items()
        ]
        rows += [
            (
                name,
                "per length of element",
                load.element,
                load.frame,
                *map(float, load.w),
                None,
                None,
                None,
            )
            for load in result.case.member_loads
        ]
    heads = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")
    return Table(
        "loads", ("load case", "on", "name", "axes", *units.heads(heads, "N, N/mm", "N·mm")), rows
    )


def _supports(analysis: Analysis) -> Table:
    rows: Rows = []
    for name, result in analysis.results.items():
        case = result.case
        rows += [
            (name, node, "held", *map(bool, flags), case.touching.get(node, ""))
            for node, flags in case.supports.items()
        ]
        rows += [
            (name, spring.i, "spring", *map(bool, spring.k), spring.id) for spring in case.springs
        ]
    return Table(
        "supports", ("load case", "node", "how", *DOFS, "what touches, or the spring"), rows
    )


def _displacements(analysis: Analysis, units: _Units) -> Table:
    rows: Rows = [
        (name, node, *map(float, u))
        for name, r in analysis.results.items()
        for node, u in zip(r.model.nodes, r.u, strict=True)
    ]
    return Table("displacements", ("load case", "node", *units.heads(DOFS, "mm", "rad")), rows)


def _reactions(analysis: Analysis, units: _Units) -> Table:
    rows: Rows = [
        (name, node, *map(float, force))
        for name, r in analysis.results.items()
        for node, force in r.reactions.items()
    ]
    return Table(
        "reactions",
        ("load case", "node", *units.heads(("Fx", "Fy", "Fz", "Mx", "My", "Mz"), "N", "N·mm")),
        rows,
    )


def _end_forces(analysis: Analysis, units: _Units) -> Table:
    rows: Rows = [
        (name, e.id, e.member, end, *map(float, f[k : k + 6]))
        for name, r in analysis.results.items()
        for e, f in zip(r.model.elements, r.end_forces, strict=True)
        for end, k in (("i", 0), ("j", 6))
    ]
    return Table(
        "end forces",
        ("load case", "element", "member", "end", *units.heads(_ENDS, "N", "N·mm")),
        rows,
    )


def _stress(reading: Reading, analysis: Analysis, units: _Units) -> Table:
    rows: Rows = [
        (
            name,
            row.place.member,
            row.von_mises,
            row.normal,
            row.shear,
            row.place.words,
            row.place.element,
            row.yield_strength,
            None if row.utilisation is None else 100 * row.utilisation,
            table.caution,
        )
        for name, table in analysis.stresses().items()
        for row in table.rows
    ]
    heads = (units.head(name, "MPa") for name in ("von Mises", "normal", "shear"))
    return Table(
        "nominal stress",
        (
            "load case",
            "tube",
            *heads,
            "where",
            "element",
            units.head("yield", "MPa"),
            "of yield [%]",
            "caution",
        ),
        rows,
    )


def _energy(analysis: Analysis) -> Table:
    rows: Rows = []
    for name, result in analysis.results.items():
        table = energy_shares(result)
        rows += [
            (name, member, *(100 * row[kind] for kind in KINDS), 100 * sum(row.values()))
            for member, row in table.shares.items()
        ]
        rows += [
            (name, f"spring {spring}", None, None, None, None, 100 * value / (table.total or 1.0))
            for spring, value in table.springs.items()
        ]
    return Table(
        "strain energy",
        ("load case", "member", *(f"{kind} [%]" for kind in KINDS), "all [%]"),
        rows,
    )


def mode_tables(modes: Modes, notes: str, units: bool = True) -> tuple[Table, ...]:
    """Natural modes in words and figures, and their shapes. notes : what holds and loads the bicycle."""
    words = describe(modes)
    listed: Rows = [
        (
            w.number,
            w.hz,
            w.title,
            w.plane,
            *(100 * w.kinds[kind] for kind in (*MODE_KINDS, "springs")),
            float(modes.residuals[k]),
            notes,
        )
        for k, w in enumerate(words)
    ]
    shapes: Rows = [
        (w.number, node, *map(float, six))
        for w in words
        for node, six in zip(modes.model.nodes, modes.shapes[w.number - 1], strict=True)
    ]
    heads = _Units(units).heads(DOFS, "mm", "rad")
    return (
        Table(
            "modes",
            (
                "mode",
                "frequency [Hz]",
                "what it does",
                "plane",
                *(f"{k} [%]" for k in MODE_KINDS),
                "springs [%]",
                "residual",
                "held and laden",
            ),
            listed,
        ),
        Table("mode shapes", ("mode", "node", *heads), shapes),
    )


# --- what was meshed ----------------------------------------------------------------------------------------------
def _nodes(analysis: Analysis, units: _Units) -> Table:
    return Table(
        "nodes",
        ("node", *(units.head(axis, "mm") for axis in "xyz")),
        [(node, *map(float, xyz)) for node, xyz in analysis.model.nodes.items()],
    )


def _elements(analysis: Analysis, units: _Units) -> Table:
    heads = (
        "element",
        "member",
        "end i",
        "end j",
        *(
            units.head(n, u)
            for n, u in (
                ("A", "mm²"),
                ("Iy", "mm⁴"),
                ("Iz", "mm⁴"),
                ("J", "mm⁴"),
                ("shear area y", "mm²"),
                ("shear area z", "mm²"),
                ("half height", "mm"),
                ("half width", "mm"),
            )
        ),
        "material",
        *(units.head(n, "MPa") for n in "EG"),
    )
    return Table(
        "elements",
        heads,
        [
            (
                e.id,
                e.member,
                e.i,
                e.j,
                s.A,
                s.Iy,
                s.Iz,
                s.J,
                s.Asy,
                s.Asz,
                s.cy or None,
                s.cz or None,
                e.material.name,
                e.material.E,
                e.material.G,
            )
            for e in analysis.model.elements
            for s in (e.section,)
        ],
    )


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
    rows: Rows = [
        (member, found.tubes.get(member, "part"), scale * m.kg, *m.centre)
        for member, m in found.members.items()
    ]
    if layout is None:
        sums = {"all": found.total}
    else:
        sums = {"frame tubes": found.frame, "fork": found.fork, "all with parts": found.total}
    rows += [(name, "sum", scale * m.kg, *m.centre) for name, m in sums.items()]
    return Table(
        "masses",
        (
            "member",
            "tube",
            units.head("mass", "kg"),
            *(units.head(f"centre of mass {axis}", "mm") for axis in "xyz"),
        ),
        rows,
    )


def _provenance(reading: Reading, analysis: Analysis) -> Table:
    facts = provenance(reading, analysis.model)
    facts["units"] = ", ".join(f"{what} {unit}" for what, unit in facts["units"].items())
    rows: Rows = [*facts.items(), ("masses", MASS_WORDS), ("caution", CAUTION)]
    rows += [
        (f"{name}: {what.replace('_', ' ')}", float(getattr(result, what)))
        for name, result in analysis.results.items()
        for what in ("residual", "force_balance", "moment_balance", "condition")
    ]
    return Table("provenance", ("what", "value"), rows)
