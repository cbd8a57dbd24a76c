"""Our results and OpenSees' side by side, and one figure per load case that says how far apart they are.

Scales. A difference is relative to the largest of its kind in the case - translations, rotations, forces,
moments apart - so that a component that happens to be small is not held against itself. A kind that is absent
altogether (the shear forces of a beam bent by a couple, the moments of a bar in tension) is rounding only, and is
held against what its partner gives with the model's size as lever: forces at least moment / size, rotations at
least translation / size, moments at least 1 % of force x size, translations at least 1 % of rotation x size.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from math import nan

import numpy as np

from ...model.arrays import Array
from ...model.mechanics.frame_model import DOFS, FrameModel, LoadCase
from ...model.mechanics.result import Result
from .engine import OpenSeesError, available
from .solve import OpenSeesResult, solve_opensees_cases

TOLERANCE = 1e-8
_LEVER_SHARE = 1e-2
_FORCES = ("N", "Vy", "Vz", "T", "My", "Mz")
_REACTIONS = ("Fx", "Fy", "Fz", "Mx", "My", "Mz")


@dataclass(frozen=True)
class AgreementRow:
    """One component, ours beside theirs. `difference` is relative to the largest of its kind in the case."""

    kind: str
    item: str
    component: str
    ours: float
    opensees: float
    difference: float


@dataclass(frozen=True, eq=False)
class AgreementTable:
    """One kind of quantity: (k, 6) values of both; `scale` (6,) is what a difference is relative to."""

    kind: str
    items: tuple[str, ...]
    components: tuple[str, ...]
    ours: Array
    theirs: Array
    scale: Array

    @property
    def difference(self) -> Array:
        return np.asarray(np.abs(self.ours - self.theirs) / self.scale)

    @property
    def largest(self) -> float:
        """Largest relative difference; NaN when any value is not a number."""
        return float(self.difference.max(initial=0.0))

    def rows(self) -> Iterator[AgreementRow]:
        for item, *values in zip(self.items, self.ours, self.theirs, self.difference, strict=True):
            for component, ours, theirs, difference in zip(self.components, *values, strict=True):
                yield AgreementRow(
                    self.kind, item, component, float(ours), float(theirs), float(difference)
                )


@dataclass(frozen=True, eq=False)
class CrossCheck:
    """One load case compared.

    tables : displacements, reactions and end forces of both; empty when the case could not be compared, and
    `reason` then says why.
    """

    case: str
    reason: str | None = None
    tables: tuple[AgreementTable, ...] = ()

    @property
    def differences(self) -> dict[str, float]:
        """Kind -> largest relative difference."""
        return {table.kind: table.largest for table in self.tables}

    @property
    def displacements(self) -> float:
        """Largest relative difference of the displacements; NaN, as for the next two, when not compared."""
        return self.differences.get("displacement", nan)

    @property
    def reactions(self) -> float:
        return self.differences.get("reaction", nan)

    @property
    def end_forces(self) -> float:
        return self.differences.get("end force", nan)

    @property
    def largest(self) -> float | None:
        """Largest relative difference of all, None when not compared; a NaN stays NaN."""
        if self.tables:
            # Of numpy: Python's own max may lose a NaN.
            return float(np.max(list(self.differences.values())))
        return None

    @property
    def ok(self) -> bool:
        """True only when compared and within `TOLERANCE`."""
        return self.largest is not None and self.largest <= TOLERANCE

    @property
    def verdict(self) -> str:
        if not self.tables:
            return "not compared"
        if self.ok:
            return "pass"
        return "fail"

    @property
    def summary(self) -> str:
        """The comparison in a few words."""
        if self.largest is None:
            return f"not compared with OpenSees: {self.reason}"
        return f"the two solvers differ by {self.largest:.1e}, at most {TOLERANCE:.0e} is accepted"

    def rows(self) -> list[AgreementRow]:
        """Every component side by side."""
        return [row for table in self.tables for row in table.rows()]

    def worst(self, count: int = 10) -> list[AgreementRow]:
        """The rows that differ most, the worst first."""
        return sorted(self.rows(), key=lambda row: -row.difference)[:count]


def cross_check(results: Mapping[str, Result]) -> dict[str, CrossCheck]:
    """Solve the same cases with OpenSees and compare displacements, reactions and end forces.

    A case that OpenSees cannot have, represent or solve is in the answer with its reason and is not `ok`.
    """
    groups: dict[int, list[Result]] = {}
    for result in results.values():
        # By identity: the results of one solve share their model.
        groups.setdefault(id(result.model), []).append(result)
    checks = {check.case: check for group in groups.values() for check in _checks(group)}
    return {name: checks[result.case.name] for name, result in results.items()}


def _checks(results: list[Result]) -> list[CrossCheck]:
    reason = available()
    if reason is not None:
        return [CrossCheck(r.case.name, reason=reason) for r in results]
    try:
        theirs = solve_opensees_cases(results[0].model, [r.case for r in results])
    except OpenSeesError as error:
        if len(results) == 1:
            return [CrossCheck(results[0].case.name, reason=str(error))]
        # One case that cannot be solved must not take the others with it.
        return [check for r in results for check in _checks([r])]
    return [compare(r, theirs[r.case.name]) for r in results]


def compare(ours: Result, theirs: OpenSeesResult) -> CrossCheck:
    """Hold one result against OpenSees' answer for the same case."""
    return CrossCheck(ours.case.name, tables=_tables(ours, theirs))


def _tables(
    ours: Result, theirs: OpenSeesResult
) -> tuple[AgreementTable, AgreementTable, AgreementTable]:
    model = ours.model
    size = float(np.ptp(model.xyz, axis=0).max())
    held = sorted({*ours.reactions, *theirs.reactions}, key=lambda node: model.node_index[node])
    r1 = _stack(ours.reactions, held)
    r2 = _stack(theirs.reactions, held)
    f1 = ours.end_forces.reshape(-1, 6)
    f2 = theirs.end_forces.reshape(-1, 6)
    ends = tuple(f"{e.id} {end}" for e in model.elements for end in "ij")
    return (
        AgreementTable(
            "displacement",
            tuple(model.nodes),
            DOFS,
            ours.u,
            theirs.u,
            _scale([ours.u, theirs.u], size, True),
        ),
        AgreementTable(
            "reaction",
            tuple(held),
            _REACTIONS,
            r1,
            r2,
            _scale([r1, r2, *_load_sizes(model, ours.case)], size),
        ),
        AgreementTable("end force", ends, _FORCES, f1, f2, _scale([f1, f2, r1, r2], size)),
    )


def _scale(values: list[Array], size: float, rotations: bool = False) -> Array:
    """(6,) scale of forces and moments, or, with `rotations`, of translations and rotations (k, 6)."""
    # forces and moments, or lengths and turns: different units, so each half has a scale of its own
    largest = [np.abs(v).max(axis=0, initial=0.0) for v in values]
    together = np.max([np.zeros(6), *largest], axis=0)
    first = float(together[:3].max())
    second = float(together[3:].max())
    if rotations:
        scales = max(first, _LEVER_SHARE * second * size), max(second, first / size)
    else:
        scales = max(first, second / size), max(second, _LEVER_SHARE * first * size)
    return np.repeat([s if s > 0 else 1.0 for s in scales], 3)


def _stack(reactions: Mapping[str, Array], nodes: list[str]) -> Array:
    """(k, 6); a support that only one side knows counts as zero on the other."""
    return np.array([reactions.get(node, np.zeros(6)) for node in nodes]).reshape(-1, 6)


def _load_sizes(model: FrameModel, case: LoadCase) -> list[Array]:
    """Applied loads, so that reactions that happen to be zero are held against what is applied."""
    nodal = [np.array([load], dtype=float) for load in case.nodal.values()]
    for load in case.member_loads:
        e = model.elements[model.element_index[load.element]]
        length = float(np.linalg.norm(np.subtract(model.nodes[e.j], model.nodes[e.i])))
        nodal.append(np.array([[*(w * length for w in load.w), 0, 0, 0]], dtype=float))
    return nodal
