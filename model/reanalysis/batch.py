"""Many bicycles of one build at once: the same joints, other places, tubes, parts and loads.

What they share is worked out once: which displacements are free, in which order they are factored, where every number
of the band comes from. What differs is an array with one row for each bicycle. A stretch of tube between two nodes
counts as one piece (`stretches`), which is the same arithmetic as solving for every node of the mesh. The rest is the
solver's own: constraints eliminated equation by equation, unit diagonal, reverse Cuthill-McKee, banded Cholesky, one
step of refinement, and no figure without its residual and balance.

A bicycle that is built otherwise than the others, or fails a check here, is left to the full solver, which knows what
to say of it.
"""

import gc
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbtrf, dpbtrs

from ..arrays import Array
from ..errors import FrameError
from ..frame.bicycle import Bicycle
from ..frame.cutting import MeshOptions
from ..mechanics.assembly import PIVOT_LIMIT, Entries
from ..mechanics.beam import local_axes, local_stiffness, to_global
from ..mechanics.constraints import Equation, eliminate, link_equations
from ..mechanics.frame_model import LoadCase, Measure, Spring
from ..mechanics.result import ROUNDING
from ..mechanics.solve import BALANCE_LIMIT, RESIDUAL_LIMIT, balance, same_restraints
from ..threads import one_thread
from .drafts import Draft, DraftRows, SpringRows, drafts
from .fast_options import CaseMaker
from .stretches import frame_axes, stretch_stiffness

DRAFTED = 1024  # bicycles laid out at once
CHUNK = 128  # bicycles at once: enough to forget the bookkeeping, few enough to stay in the processor's cache
FEWEST = 4  # fewer of one build are quicker one by one
GRAMS = 1e6  # of a tonne


@dataclass(frozen=True)
class Worked:
    """masses : tube -> g. values : every measure of every case in order, a stiffness where it has a load of its own."""

    masses: Mapping[str, float]
    values: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class Batch:
    """Bicycles of one build. draft : one of them, which speaks for all in everything but numbers."""

    draft: Draft
    rows: DraftRows
    options: MeshOptions

    @cached_property
    def index(self) -> dict[str, int]:
        return {node: k for k, node in enumerate(self.draft.outline.nodes)}

    def values(self) -> Array:
        """(bicycles, figures) every measure of every case in order, as `choice.figures` has it; nan in a row that must
        be solved in full."""
        cases = self.draft.cases
        if any(case.member_loads for case in cases):
            return np.full((len(self.rows), sum(len(c.measures) for c in cases)), np.nan)
        order = [case.name for case in cases]
        found: dict[str, Array] = {}
        for group in same_restraints(cases):
            numbers = [order.index(case.name) for case in group]
            figures = _CaseGroup(self, numbers).figures()
            found |= {order[n]: f for n, f in zip(numbers, figures, strict=True)}
        return np.concatenate([found[name] for name in order], axis=1)

    @cached_property
    def _ends(self) -> NDArray[np.intp]:
        """(stretches, 2) numbers of the nodes between which the stretches of the tubes lie."""
        lines = self.draft.outline.lines
        pairs = [pair for passed in lines for pair in pairwise(passed.nodes)]
        return np.array([(self.index[a], self.index[b]) for a, b in pairs])

    @cached_property
    def _stretches(self) -> tuple[Array, Array]:
        # the tubes of all bicycles in one list, so that one call works on them
        start, end = (self.rows.xyz[:, self._ends[:, k]].reshape(-1, 3) for k in (0, 1))
        return stretch_stiffness(self.rows.tubes, start, end, self.options)

    @cached_property
    def tubes(self) -> tuple[NDArray[np.intp], Array]:
        """Ends (stretches, 2) and stiffness (bicycles, stretches, 12, 12) of what lies between two nodes of a tube."""
        return self._ends, self._stretches[0].reshape(len(self.rows), -1, 12, 12)

    def masses(self) -> list[dict[str, float]]:
        """Tube -> mass in g, left and right of a pair together, for each bicycle."""
        names = [passed.line.member.tube for passed in self.draft.outline.lines]
        grams = GRAMS * self._stretches[1]
        tubes = list(dict.fromkeys(names))
        columns = []
        for tube in tubes:
            # a tube may run in several stretches, and a pair has two of each
            own = [k for k, name in enumerate(names) if name == tube]
            columns.append(grams[:, own].sum(axis=1))
        summed = np.stack(columns, axis=1)
        return [dict(zip(tubes, row, strict=True)) for row in summed.tolist()]

    @cached_property
    def bars(self) -> tuple[NDArray[np.intp], Array]:
        """Ends (bars, 2) and stiffness (bicycles, bars, 12, 12) of the parts."""
        ends = np.array([(self.index[bar.i], self.index[bar.j]) for bar in self.draft.outline.bars])
        properties = dict(zip(_PROPERTIES, self.rows.bars.reshape(-1, 8).T, strict=True))
        xyz = self.rows.xyz
        axis = (xyz[:, ends[:, 1]] - xyz[:, ends[:, 0]]).reshape(-1, 3)
        length = np.linalg.norm(axis, axis=1)
        local = local_stiffness(properties, length)
        turned = to_global(local, frame_axes(axis / length[:, None]))
        return ends, turned.reshape(len(self.rows), -1, 12, 12)

    def springs(
        self, kinds: Sequence[Spring], rows: Sequence[SpringRows]
    ) -> tuple[NDArray[np.intp], Array]:
        """Ends (springs, 2) and stiffness (bicycles, springs, 12, 12) of the springs of each bicycle."""
        ends = [(self.index[s.i], self.index[s.j or s.i]) for s in kinds]
        six = np.concatenate([one.stiffness for one in rows], axis=1)
        x = np.concatenate([one.x_axis for one in rows], axis=1)
        vxy = np.concatenate([one.vxy for one in rows], axis=1)
        names = [f"spring {s.id}" for s in kinds] * len(six)
        turn = local_axes(x.reshape(-1, 3), vxy.reshape(-1, 3), names)[1]
        whole = np.zeros((len(turn), 12, 12))
        whole[:, :6, :6] = six.reshape(-1, 6, 6)
        turned = to_global(whole, turn).reshape(len(six), len(kinds), 12, 12)
        block = turned[:, :, :6, :6]
        joined = np.flatnonzero([s.j is not None for s in kinds])
        turned[:, joined, 6:, 6:] = block[:, joined]
        turned[:, joined, :6, 6:] = turned[:, joined, 6:, :6] = -block[:, joined]
        return np.array(ends, dtype=np.intp).reshape(-1, 2), turned


def worked_out(
    bicycles: Sequence[Bicycle], cases_of: CaseMaker, options: MeshOptions | None = None
) -> list[Worked | None]:
    """Masses and measured values of each bicycle; None where it must be solved by itself.

    cases_of : must give each bicycle cases of the same names.
    """
    found: list[Worked | None] = [None] * len(bicycles)
    options = options or MeshOptions()
    builds: dict[object, tuple[Draft, list[DraftRows]]] = {}
    with one_thread(), _uncollected():
        for first in range(0, len(bicycles), DRAFTED):
            numbers = range(first, min(first + DRAFTED, len(bicycles)))
            for own, draft in drafts(numbers, bicycles, cases_of, options):
                # One draft of a build speaks for all that follow.
                speaker, waiting = builds.setdefault(draft.build, (draft, []))
                waiting.append(DraftRows.of(own, draft))
                if sum(map(len, waiting)) >= CHUNK:
                    waiting[:] = _work_off(speaker, DraftRows.joined(waiting), options, found)
        for speaker, waiting in builds.values():
            if sum(map(len, waiting)) >= FEWEST:
                _work(Batch(speaker, DraftRows.joined(waiting), options), found)
    return found


def _work_off(
    draft: Draft, rows: DraftRows, options: MeshOptions, found: list[Worked | None]
) -> list[DraftRows]:
    """Work out whole chunks, and hand back what is left."""
    whole = len(rows) - len(rows) % CHUNK
    for first in range(0, whole, CHUNK):
        _work(Batch(draft, rows.part(first, first + CHUNK), options), found)
    return [rows.part(whole, len(rows))]


@contextmanager
def _uncollected() -> Iterator[None]:
    """No search for unreachable rings of objects meanwhile: a batch makes objects by the ten thousand and no rings, and
    the search through all that the program holds would take a fifth of the time."""
    running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if running:
            gc.enable()


def _work(batch: Batch, found: list[Worked | None]) -> None:
    """Put the answers of one batch in their places."""
    try:
        values = batch.values()
    # One of them stops all, such as butts that do not fit: each says so for itself.
    except FrameError:
        return
    masses = batch.masses()
    sound = np.flatnonzero(~np.isnan(values).any(axis=1))
    for place, number in zip(sound.tolist(), batch.rows.numbers[sound].tolist(), strict=True):
        found[number] = Worked(masses[place], tuple(values[place].tolist()))


_PROPERTIES = ("A", "Iy", "Iz", "J", "Asy", "Asz", "E", "G")


class _CaseGroup:
    """The cases of a batch that share their supports and springs."""

    def __init__(self, batch: Batch, numbers: Sequence[int]) -> None:
        self.batch = batch
        self.cases = [batch.draft.cases[n] for n in numbers]
        self.rows = [batch.rows.cases[n] for n in numbers]
        springs = [*batch.draft.outline.springs, *self.cases[0].springs]
        numbers_of_springs = [batch.rows.springs, self.rows[0].springs]
        kinds = (batch.tubes, batch.bars, batch.springs(springs, numbers_of_springs))
        ends = np.concatenate([ends for ends, _ in kinds])
        self.stiffness = np.concatenate([k for _, k in kinds], axis=1)
        self.dofs = (6 * ends[:, :, None] + np.arange(6)).reshape(-1, 12)
        self.map = _Map.of(batch, self.cases[0])

    def figures(self) -> list[Array]:
        """(bicycles, measures) of each case; nan in the row of a bicycle that fails a check."""
        forces = self._forces()
        if self.map is None:
            return [np.full((len(forces), len(c.measures)), np.nan) for c in self.cases]
        links = self.map
        system = _Factors.of(links, self.dofs, self.stiffness)
        u = links.moved(system.solve(links.gathered(forces)))
        # One step of refinement.
        u += links.moved(system.solve(links.gathered(forces - self._times(u))))
        sound = system.sound & self._checked(links, system, u, forces)
        found = [self._measured(k, u[:, :, k]) for k in range(forces.shape[2])]
        for values in found:
            values[~sound] = np.nan
        return found

    def _forces(self) -> Array:
        """(bicycles, 6 nodes, cases)"""
        index = self.batch.index
        out = np.zeros((len(self.batch.rows), len(index), 6, len(self.cases)))
        for k, (case, rows) in enumerate(zip(self.cases, self.rows, strict=True)):
            loads = out[..., k]
            loads[:, [index[node] for node in case.nodal]] = rows.nodal
        return out.reshape(len(out), -1, len(self.cases))

    def _times(self, u: Array) -> Array:
        """(bicycles, 6 nodes, cases) forces K u."""
        forces = self.stiffness @ u[:, self.dofs]
        flat = forces.reshape(len(u), -1, u.shape[2])
        out = np.zeros_like(u)
        order, starts, places = _runs(self.dofs.ravel())
        out[:, places] = np.add.reduceat(flat[:, order], starts, axis=1)
        return out

    def _checked(
        self, links: "_Map", system: "_Factors", u: Array, forces: Array
    ) -> NDArray[np.bool_]:
        """Which bicycles keep residual and balance in every case, by the limits of the solver."""
        unbalanced = self._times(u) - forces
        left = np.linalg.norm(links.gathered(unbalanced), axis=1)
        size = np.linalg.norm(links.gathered(forces), axis=1)
        # Against the loads alone is stricter than what the solver asks; only where that fails sizes are added up.
        if not np.all(left <= RESIDUAL_LIMIT * size):
            size += np.linalg.norm(system.sizes(u[:, links.free]), axis=1)
        reactions = links.reactions(unbalanced)
        grounded = np.flatnonzero((self.dofs[:, :6] == self.dofs[:, 6:]).all(axis=1))
        ground = np.zeros_like(u)
        for piece in grounded:
            own = self.dofs[piece, :6]
            ground[:, own] -= self.stiffness[:, piece, :6, :6] @ u[:, own]
        force, moment = balance(self.batch.rows.xyz, [forces, reactions, ground])
        sound = (
            (left <= RESIDUAL_LIMIT * size) & (force <= BALANCE_LIMIT) & (moment <= BALANCE_LIMIT)
        )
        return np.asarray(sound.all(axis=1) & np.isfinite(u).all(axis=(1, 2)))

    def _measured(self, number: int, u: Array) -> Array:
        """(bicycles, measures) of one case from its displacements (bicycles, 6 nodes), as `choice.figures` has them."""
        index = self.batch.index
        six = u.reshape(len(u), -1, 6)
        columns = []
        measures = self.cases[number].measures
        for measure, rows in zip(measures, self.rows[number].measures, strict=True):
            at = [index[node] for node, _ in measure.weights]
            value = np.einsum("bni,bni->b", rows.weights, six[:, at])
            if measure.unit == "deg":
                value = np.degrees(value)
            if measure.reference is not None:
                value = _stiffnesses(rows.reference, value, measure, six)
            columns.append(value)
        return np.stack(columns, axis=1) if columns else np.zeros((len(u), 0))


@dataclass(frozen=True, eq=False)
class _Factors:
    """The reduced stiffness of every bicycle, scaled to unit diagonal and factored in band form.

    first, second, summed : each pair of unknowns that meet once, and its stiffness (bicycles, pairs). order : of the
    unknowns in the band. sound : bicycles in which no pivot vanished.
    """

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    summed: Array
    order: NDArray[np.intp]
    scale: Array
    bands: Sequence[Array]
    sound: NDArray[np.bool_]

    @classmethod
    def of(cls, links: "_Map", dofs: NDArray[np.intp], stiffness: Array) -> "_Factors":
        row, column, value, touching = links.entries(dofs, stiffness)
        size = len(links.free)
        order = Entries(size, row, column, value[0], links.free // 6, touching).order()
        position = np.empty(size, dtype=np.intp)
        position[order] = np.arange(size)
        low = np.minimum(position[row], position[column])
        offset = np.abs(position[row] - position[column])
        width = int(offset.max()) + 1
        runs, starts, flat = _runs(low * width + offset)
        summed = np.add.reduceat(value[:, runs], starts, axis=1)
        first = flat // width
        second = first + flat % width
        diagonal = summed[:, first == second]
        held = diagonal > 0
        scale = 1 / np.sqrt(np.where(held, diagonal, 1.0))
        band = np.zeros((len(value), size * width))
        band[:, flat] = summed * scale[:, first] * scale[:, second]
        bands = []
        sound = np.array(held.all(axis=1))
        for k, own in enumerate(band.reshape(-1, size, width)):
            factor, failed = dpbtrf(own.T, lower=1, overwrite_ab=1)
            sound[k] &= not failed and factor[0].min() >= PIVOT_LIMIT
            bands.append(factor)
        return cls(order[first], order[second], summed, order, scale, bands, sound)

    def solve(self, right: Array) -> Array:
        """(bicycles, free, cases) displacements under forces on the free displacements, unrefined."""
        scaled = self.scale[:, :, None] * right[:, self.order]
        for k, band in enumerate(self.bands):
            scaled[k] = dpbtrs(band, scaled[k], lower=1)[0]
        q = np.empty_like(scaled)
        q[:, self.order] = self.scale[:, :, None] * scaled
        return q

    def sizes(self, q: Array) -> Array:
        """(bicycles, free, cases) |K| |q|: the sizes that are added up in K q."""
        off = self.first != self.second
        row = np.concatenate([self.first, self.second[off]])
        column = np.concatenate([self.second, self.first[off]])
        value = np.abs(np.concatenate([self.summed, self.summed[:, off]], axis=1))
        order, starts, _ = _runs(row)
        shares = value[:, order, None] * np.abs(q)[:, column[order]]
        return np.asarray(np.add.reduceat(shares, starts, axis=1))


def _stiffnesses(reference: Array, value: Array, measure: Measure, six: Array) -> Array:
    """Load over its own movement, endless where that is rounding beside the largest movement of its kind."""
    turning = measure.unit == "deg"
    moved = np.degrees(six[:, :, 3:]) if turning else six[:, :, :3]
    rounding = np.abs(value) <= ROUNDING * np.abs(moved).max(axis=(1, 2))
    stiffness = reference / np.where(rounding, 1.0, value) / (1000.0 if turning else 1.0)
    return np.where(rounding, np.inf, stiffness)


def _runs(
    numbers: NDArray[np.intp],
) -> tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.intp]]:
    """The order that puts equal numbers together, where each run begins, and the number of each run."""
    order = np.argsort(numbers, kind="stable")
    found, starts = np.unique(numbers[order], return_index=True)
    return order, starts, found


@dataclass(frozen=True, eq=False)
class _Map:
    """Links, ties and supports of a batch eliminated: which displacements are free, and what the others make of them.

    free : (size,) dofs. alias : (6 nodes,) number of the free displacement that a dof is, -1 where it is none.
    sums : dof -> free number -> factor, one for each bicycle or for all. linked : as the links alone leave it, dof ->
    dof -> factor. supported : dofs.
    """

    free: NDArray[np.intp]
    alias: NDArray[np.intp]
    sums: Mapping[int, Mapping[int, Any]]
    linked: Mapping[int, Equation]
    supported: NDArray[np.intp]

    @classmethod
    def of(cls, batch: Batch, case: LoadCase) -> "_Map | None":
        """None where a support stands on what a link moves: the full solver shares its force out."""
        made = batch.draft.outline
        places = np.moveaxis(batch.rows.xyz, 1, 0)
        equations = link_equations(made.links, made.ties, batch.index, places)
        linked, _ = eliminate(equations, _largest, _least)
        held = [
            6 * batch.index[node] + k
            for node, flags in case.supports.items()
            for k, flag in enumerate(flags)
            if flag
        ]
        if any(dof in linked for dof in held):
            return None
        gone = {*linked, *held}
        free = np.array([dof for dof in range(6 * len(batch.index)) if dof not in gone])
        alias = np.full(6 * len(batch.index), -1, dtype=np.intp)
        alias[free] = np.arange(len(free))
        sums: dict[int, dict[int, Any]] = {}
        for dof, row in linked.items():
            left = {int(alias[target]): c for target, c in row.items() if alias[target] >= 0}
            sums[dof] = left
            # A shared displacement is the other one by another name.
            if len(left) == 1 and np.ndim(c := next(iter(left.values()))) == 0 and c == 1.0:
                alias[dof] = next(iter(left))
                del sums[dof]
        return cls(free, alias, {d: r for d, r in sums.items() if r}, linked, np.array(held))

    def moved(self, q: Array) -> Array:
        """(bicycles, 6 nodes, cases) all displacements from the free ones."""
        padded = np.concatenate([q, np.zeros_like(q[:, :1])], axis=1)
        out = padded[:, self.alias]
        for dof, row in self.sums.items():
            for number, factor in row.items():
                out[:, dof] += _each(factor) * q[:, number]
        return out

    def gathered(self, forces: Array) -> Array:
        """(bicycles, free, cases) forces on the free displacements."""
        known = np.flatnonzero(self.alias >= 0)
        order, starts, _ = _runs(self.alias[known])
        out = np.add.reduceat(forces[:, known[order]], starts, axis=1)
        for dof, row in self.sums.items():
            for number, factor in row.items():
                out[:, number] += _each(factor) * forces[:, dof]
        return out

    def reactions(self, unbalanced: Array) -> Array:
        """(bicycles, 6 nodes, cases) forces of the supports, what links hand on taken in."""
        out = np.zeros_like(unbalanced)
        out[:, self.supported] = unbalanced[:, self.supported]
        held = set(self.supported.tolist())
        for dof, row in self.linked.items():
            for target, factor in row.items():
                if target in held:
                    out[:, target] += _each(factor) * unbalanced[:, dof]
        return out

    def entries(
        self, dofs: NDArray[np.intp], stiffness: Array
    ) -> tuple[
        NDArray[np.intp], NDArray[np.intp], Array, tuple[NDArray[np.intp], NDArray[np.intp]]
    ]:
        """Rows, columns and values (bicycles, entries) of what is stiff, each pair once, and the nodes that meet."""
        summed = np.zeros(len(self.alias), dtype=bool)
        summed[list(self.sums)] = True
        linked = summed[dofs].any(axis=1)
        plain = np.flatnonzero(~linked)
        parts = [(self.alias[dofs[plain]], stiffness[:, plain])]
        parts += [self._turned(dofs[p], stiffness[:, p]) for p in np.flatnonzero(linked)]
        rows = []
        columns = []
        values = []
        for unknowns, k in parts:
            first, second = np.tril_indices(unknowns.shape[1])
            row = unknowns[:, first]
            column = unknowns[:, second]
            there = np.nonzero((row >= 0) & (column >= 0))
            # Two places that are one unknown stand on the diagonal, where both of the pair count.
            twice = 1.0 + ((row == column) & (first != second))
            values.append(k[:, there[0], first[there[1]], second[there[1]]] * twice[there])
            rows.append(row[there])
            columns.append(column[there])
        row = np.concatenate(rows)
        column = np.concatenate(columns)
        node = self.free // 6
        both = (
            np.concatenate([node[row], node[column]]),
            np.concatenate([node[column], node[row]]),
        )
        return row, column, np.concatenate(values, axis=1), both

    def _turned(self, dofs: NDArray[np.intp], k: Array) -> tuple[NDArray[np.intp], Array]:
        """One piece that ends on a linked node: its unknowns (1, m) and its stiffness (bicycles, 1, m, m) in them."""
        terms = [(place, self._terms(dof)) for place, dof in enumerate(dofs.tolist())]
        unknowns = sorted({number for _, row in terms for number in row})
        turn = np.zeros((len(k), 12, len(unknowns)))
        for place, row in terms:
            for number, factor in row.items():
                turn[:, place, unknowns.index(number)] += factor
        turned = np.swapaxes(turn, 1, 2) @ k @ turn
        return np.array([unknowns], dtype=np.intp), turned[:, None]

    def _terms(self, dof: int) -> Mapping[int, Any]:
        if dof in self.sums:
            return self.sums[dof]
        if self.alias[dof] >= 0:
            return {int(self.alias[dof]): 1.0}
        return {}


def _each(factor: Any) -> Any:
    """A factor for each bicycle, or one for all, beside arrays (bicycles, cases)."""
    return factor[:, None] if np.ndim(factor) else factor


def _largest(coefficient: Any) -> float:
    return float(np.abs(coefficient).max())


def _least(coefficient: Any) -> float:
    return float(np.abs(coefficient).min())
