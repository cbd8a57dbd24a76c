"""Many bicycles of one build at once: the same joints, other places, tubes, parts and loads.

What they share is worked out once: which displacements are free, in which order they are factored, where every number
of the band comes from. What differs is an array with one row for each bicycle. A stretch of tube between two nodes
counts as one piece (`stretches`), which is the same arithmetic as solving for every node of the mesh. The rest is the
solver's own: constraints eliminated equation by equation, unit diagonal, reverse Cuthill-McKee, banded Cholesky, one
step of refinement, and no figure without its residual and balance.

A bicycle that is built otherwise than the others, or fails a check here, is left to the full solver, which knows what
to say of it.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..errors import FrameError
from ..frame.bicycle import Bicycle
from ..frame.cutting import MeshOptions
from ..mechanics.beam import local_axes, to_global
from ..mechanics.frame_model import Measure, Spring
from ..mechanics.result import ROUNDING
from ..mechanics.solve import BALANCE_LIMIT, RESIDUAL_LIMIT, balance, same_restraints
from ..threads import one_thread
from ..uncollected import uncollected
from .bands import Factors, Links, Pattern, StiffPieces, sizes
from .drafts import Draft, DraftRows, SpringRows, drafts
from .fast_options import CaseMaker
from .stretches import bar_stiffness, frame_axes, stretch_stiffness
from .tube_flexibility import section_gives

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
    """Bicycles of one build. draft : one of them, which speaks for all in everything but numbers. patterns : those
    known."""

    draft: Draft
    rows: DraftRows
    options: MeshOptions
    patterns: dict[object, Pattern]

    def pattern(self, links: Links, pieces: StiffPieces) -> Pattern:
        """What the bicycles of a build share that is worth keeping from one batch to the next."""
        key = (links.structure, pieces.ends.tobytes(), pieces.grounded.tobytes())
        if key not in self.patterns:
            self.patterns[key] = Pattern.of(links, pieces)
        return self.patterns[key]

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
    def beams(self) -> StiffPieces:
        """Tubes and parts."""
        bars = self.draft.outline.bars
        own = np.array([(self.index[bar.i], self.index[bar.j]) for bar in bars], dtype=np.intp)
        ends = np.concatenate([self._ends, own.reshape(-1, 2)])
        arm = self.rows.xyz[:, ends[:, 1]] - self.rows.xyz[:, ends[:, 0]]
        count = len(self.rows)
        tubes = self._stretches[0].reshape(count, -1, 6, 6)
        axis = arm[:, len(self._ends) :].reshape(-1, 3)
        length = np.linalg.norm(axis, axis=1)
        *values, E, G = self.rows.bars.reshape(-1, 8).T
        local = bar_stiffness(section_gives(values, E, G), length)
        parts = to_global(local, frame_axes(axis / length[:, None]))
        far = np.concatenate([tubes, parts.reshape(count, -1, 6, 6)], axis=1)
        return StiffPieces(ends, far, arm, np.zeros(len(ends), dtype=bool))

    def springs(self, kinds: Sequence[Spring], rows: SpringRows) -> StiffPieces:
        """Springs, each between two nodes at one place or on the ground."""
        ends = [(self.index[s.i], self.index[s.j or s.i]) for s in kinds]
        grounded = [s.j is None for s in kinds]
        shape = rows.stiffness.shape
        names = [f"spring {s.id}" for s in kinds] * shape[0]
        turn = local_axes(rows.x_axis.reshape(-1, 3), rows.vxy.reshape(-1, 3), names)[1]
        far = to_global(rows.stiffness.reshape(-1, 6, 6), turn).reshape(shape)
        return StiffPieces(
            np.array(ends, dtype=np.intp).reshape(-1, 2),
            far,
            np.zeros_like(rows.x_axis),
            np.array(grounded, dtype=bool),
        )


def worked_out(
    bicycles: Sequence[Bicycle], cases_of: CaseMaker, options: MeshOptions | None = None
) -> list[Worked | None]:
    """Masses and measured values of each bicycle; None where it must be solved by itself.

    cases_of : must give each bicycle cases of the same names.
    """
    found: list[Worked | None] = [None] * len(bicycles)
    if len(bicycles) < FEWEST:
        return found
    options = options or MeshOptions()
    builds: dict[object, _Build] = {}
    with one_thread(), uncollected():
        for first in range(0, len(bicycles), DRAFTED):
            numbers = range(first, min(first + DRAFTED, len(bicycles)))
            for own, draft in drafts(numbers, bicycles, cases_of, options):
                build = builds.setdefault(draft.build, _Build(draft, options, found))
                build.take(DraftRows.of(own, draft))
        for build in builds.values():
            build.finish()
    return found


@dataclass(frozen=True, eq=False)
class _Build:
    """The bicycles of one build on their way through batches. draft : the first, which speaks for all that follow."""

    draft: Draft
    options: MeshOptions
    found: list[Worked | None]
    waiting: list[DraftRows] = field(default_factory=list)
    patterns: dict[object, Pattern] = field(default_factory=dict)

    def take(self, rows: DraftRows) -> None:
        """Work out whole chunks, and keep what is left."""
        self.waiting.append(rows)
        if sum(map(len, self.waiting)) < CHUNK:
            return
        rows = DraftRows.joined(self.waiting)
        whole = len(rows) - len(rows) % CHUNK
        for first in range(0, whole, CHUNK):
            self._work(rows.part(first, first + CHUNK))
        self.waiting[:] = [rows.part(whole, len(rows))]

    def finish(self) -> None:
        """Work out what is left, where it is worth while."""
        rows = DraftRows.joined(self.waiting)
        if len(rows) >= FEWEST:
            self._work(rows)

    def _work(self, rows: DraftRows) -> None:
        """Put the answers of one batch in their places."""
        batch = Batch(self.draft, rows, self.options, self.patterns)
        try:
            values = batch.values()
        # One of them stops all, such as butts that do not fit: each says so for itself.
        except FrameError:
            return
        masses = batch.masses()
        sound = np.flatnonzero(~np.isnan(values).any(axis=1))
        for place, number in zip(sound.tolist(), rows.numbers[sound].tolist(), strict=True):
            self.found[number] = Worked(masses[place], tuple(values[place].tolist()))


class _CaseGroup:
    """The cases of a batch that share their supports and springs."""

    def __init__(self, batch: Batch, numbers: Sequence[int]) -> None:
        self.batch = batch
        self.cases = [batch.draft.cases[n] for n in numbers]
        self.rows = [batch.rows.cases[n] for n in numbers]
        made = batch.draft.outline
        self.pieces = StiffPieces.joined(
            [
                batch.beams,
                batch.springs(made.springs, batch.rows.springs),
                batch.springs(self.cases[0].springs, self.rows[0].springs),
            ]
        )
        self.links = Links.of(made, batch.index, batch.rows.xyz, self.cases[0])

    def figures(self) -> list[Array]:
        """(bicycles, measures) of each case; nan in the row of a bicycle that fails a check."""
        if self.links is None:
            return [np.full((len(self.batch.rows), len(c.measures)), np.nan) for c in self.cases]
        solving = _Solving(self.links, self.batch.pattern(self.links, self.pieces), self.pieces)
        forces = self._forces()
        u = solving.displacements(forces)
        # One step of refinement.
        u += solving.displacements(forces - solving.times(u))
        sound = solving.factors.sound & self._checked(solving, u, forces)
        found = [self._measured(k, u[..., k]) for k in range(forces.shape[2])]
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

    def _checked(self, solving: "_Solving", u: Array, forces: Array) -> NDArray[np.bool_]:
        """Which bicycles keep residual and balance in every case, by the limits of the solver."""
        links = solving.links
        on_ends = solving.on_ends(u)
        unbalanced = solving.summed(on_ends) - forces
        left = np.linalg.norm(solving.gathered(unbalanced), axis=1)
        size = np.linalg.norm(solving.gathered(forces), axis=1)
        # Against the loads alone is stricter than what the solver asks; only where that fails sizes are added up.
        if not np.all(left <= RESIDUAL_LIMIT * size):
            size += np.linalg.norm(solving.sizes(u[:, links.free]), axis=1)
        index = self.batch.index
        grounded = np.flatnonzero(self.pieces.grounded)
        held = {node for case in self.cases for node in (*case.nodal, *case.supports)}
        at = sorted({index[node] for node in held} | set(self.pieces.ends[grounded, 1].tolist()))
        # A spring to ground carries load out of the frame as a support does.
        ground = np.zeros((len(u), len(index), *on_ends.shape[2:]))
        for piece in grounded:
            ground[:, self.pieces.ends[piece, 1]] -= on_ends[:, len(self.pieces.ends) + piece]
        six = (forces, links.reactions(unbalanced), ground)
        acting = [v.reshape(ground.shape)[:, at] for v in six]
        force, moment = balance(self.batch.rows.xyz, acting, at)
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


class _Solving:
    """The equations of a batch under one set of supports, factored."""

    def __init__(self, links: Links, pattern: Pattern, pieces: StiffPieces) -> None:
        self.links = links
        self.pattern = pattern
        self.pieces = pieces
        self.factors = Factors.of(pattern, pattern.band(links, pieces))

    def displacements(self, forces: Array) -> Array:
        """(bicycles, 6 nodes, cases) under forces of the same shape, unrefined."""
        return self.links.moved(self.factors.solve(self.gathered(forces)))

    def gathered(self, forces: Array) -> Array:
        """(bicycles, free, cases) forces on the free displacements."""
        return self.pattern.gathered(self.links, forces)

    def on_ends(self, u: Array) -> Array:
        """(bicycles, ends, 6, cases) forces on the ends of the pieces."""
        return self.pieces.times(u.reshape(len(u), -1, 6, u.shape[2]))

    def summed(self, on_ends: Array) -> Array:
        """(bicycles, 6 nodes, cases) forces on the ends added up."""
        nodes = len(self.links.alias) // 6
        out = np.zeros((len(on_ends), nodes, *on_ends.shape[2:]))
        return self.pattern.nodal.into(out, on_ends).reshape(len(out), -1, out.shape[3])

    def times(self, u: Array) -> Array:
        """(bicycles, 6 nodes, cases) forces K u."""
        return self.summed(self.on_ends(u))

    def sizes(self, q: Array) -> Array:
        """(bicycles, free, cases) |K| |q|: the sizes that are added up in K q."""
        return sizes(self.pattern.order, self.pattern.band(self.links, self.pieces), q)


def _stiffnesses(reference: Array, value: Array, measure: Measure, six: Array) -> Array:
    """Load over its own movement, endless where that is rounding beside the largest movement of its kind."""
    turning = measure.unit == "deg"
    moved = np.degrees(six[:, :, 3:]) if turning else six[:, :, :3]
    rounding = np.abs(value) <= ROUNDING * np.abs(moved).max(axis=(1, 2))
    stiffness = reference / np.where(rounding, 1.0, value) / (1000.0 if turning else 1.0)
    return np.where(rounding, np.inf, stiffness)
