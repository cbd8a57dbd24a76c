"""The equations of many frames of one build, in bands: what they share is worked out once, the rest in arrays.

What is stiff is a PIECE between two nodes: the stiffness of its far end while the near one is clamped, and the arm from
near to far; equilibrium gives all else. Links, ties and supports are eliminated equation by equation as for one frame.
Which displacements are free, in which order they are factored and where every number of the band comes from is the
PATTERN of a build. Arrays begin with an axis of bicycles.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpbtrf, dpbtrs

from ..arrays import Array, lower_places
from ..frame.mesh import Outline
from ..mechanics.assembly import PIVOT_LIMIT, Entries
from ..mechanics.constraints import Equation, eliminate, link_equations
from ..mechanics.frame_model import LoadCase

Places = NDArray[np.intp]
_SIX = np.arange(6)


@dataclass(frozen=True, eq=False)
class StiffPieces:
    """What is stiff. ends : (pieces, 2) near and far node. far : (bicycles, pieces, 6, 6) stiffness of the far end
    while the near one is clamped, global axes. arm : (bicycles, pieces, 3) from near to far. grounded : (pieces,) those
    that stand on the ground with their near end."""

    ends: Places
    far: Array
    arm: Array
    grounded: NDArray[np.bool_]

    @staticmethod
    def joined(parts: Sequence["StiffPieces"]) -> "StiffPieces":
        """All of them in one row."""
        ends = np.concatenate([part.ends for part in parts])
        far = np.concatenate([part.far for part in parts], axis=1)
        arm = np.concatenate([part.arm for part in parts], axis=1)
        return StiffPieces(ends, far, arm, np.concatenate([part.grounded for part in parts]))

    def blocks(self) -> Array:
        """(bicycles, pieces, 3, 6, 6) stiffness of far on far, far on near, near on near."""
        out = np.empty((*self.far.shape[:2], 3, 6, 6))
        x, y, z = np.moveaxis(self.arm, -1, 0)[..., None]
        out[:, :, 0] = self.far
        # A turn of the near end takes the far one along by turn x arm.
        carried = out[:, :, 1]
        carried[:] = self.far
        carried[..., 3] += y * self.far[..., 2] - z * self.far[..., 1]
        carried[..., 4] += z * self.far[..., 0] - x * self.far[..., 2]
        carried[..., 5] += x * self.far[..., 1] - y * self.far[..., 0]
        near = out[:, :, 2]
        near[:] = carried
        near[..., 3, :] += y * carried[..., 2, :] - z * carried[..., 1, :]
        near[..., 4, :] += z * carried[..., 0, :] - x * carried[..., 2, :]
        near[..., 5, :] += x * carried[..., 1, :] - y * carried[..., 0, :]
        np.negative(carried, out=carried)
        return out

    def whole(self, blocks: Array, piece: int) -> Array:
        """(bicycles, 12, 12) stiffness of one piece, its near end first, of its blocks."""
        far, across, near = np.moveaxis(blocks[:, piece], 1, 0)
        if self.grounded[piece]:
            near = across = np.zeros_like(far)
        rows = [[near, np.swapaxes(across, 1, 2)], [across, far]]
        return np.concatenate([np.concatenate(row, axis=2) for row in rows], axis=1)

    def times(self, u: Array) -> Array:
        """(bicycles, 2 pieces, 6, cases) forces on the ends, first all near ones, that movements of the nodes
        (bicycles, nodes, 6, cases) ask for."""
        near = u[:, self.ends[:, 0]]
        near[:, self.grounded] = 0.0
        x, y, z = np.moveaxis(self.arm, -1, 0)[..., None]
        moved = u[:, self.ends[:, 1]] - near
        turn = near[:, :, 3:]
        moved[:, :, 0] -= z * turn[:, :, 1] - y * turn[:, :, 2]
        moved[:, :, 1] -= x * turn[:, :, 2] - z * turn[:, :, 0]
        moved[:, :, 2] -= y * turn[:, :, 0] - x * turn[:, :, 1]
        out = np.empty((len(u), 2 * len(self.ends), *u.shape[2:]))
        near, far = np.split(out, 2, axis=1)
        np.matmul(self.far, moved, out=far)
        np.negative(far, out=near)
        near[:, :, 3] -= y * far[:, :, 2] - z * far[:, :, 1]
        near[:, :, 4] -= z * far[:, :, 0] - x * far[:, :, 2]
        near[:, :, 5] -= x * far[:, :, 1] - y * far[:, :, 0]
        near[:, self.grounded] = 0.0
        return out


@dataclass(frozen=True, eq=False)
class Sums:
    """Adds up what shares a place: the first of every place at once, then every second, and so on. In one go each place
    comes up once, so that numpy can add without a loop.

    turns : (places, numbers of the values) of each go.
    """

    turns: tuple[tuple[Places, Places], ...]

    @classmethod
    def of(cls, places: Places) -> "Sums":
        """places : where each value goes, below 0 nowhere."""
        there = np.flatnonzero(places >= 0)
        order = there[np.argsort(places[there], kind="stable")]
        along = places[order]
        first = np.r_[True, along[1:] != along[:-1]] if len(along) else np.zeros(0, dtype=bool)
        begins = np.flatnonzero(first)
        rank = np.arange(len(order)) - np.repeat(begins, np.diff(np.r_[begins, len(order)]))
        turns = []
        for turn in range(int(rank.max(initial=-1)) + 1):
            chosen = rank == turn
            turns.append((along[chosen], order[chosen]))
        return cls(tuple(turns))

    def into(self, out: Array, values: Array) -> Array:
        """Add values (bicycles, numbers, ...) into (bicycles, places, ...), which must be nought before."""
        for turn, (places, numbers) in enumerate(self.turns):
            if turn:
                out[:, places] += values[:, numbers]
            else:
                out[:, places] = values[:, numbers]
        return out


@dataclass(frozen=True, eq=False)
class Links:
    """Links, ties and supports eliminated: which displacements are free, and what the others make of them.

    free : (size,) dofs. alias : (6 nodes,) number of the free displacement that a dof is, -1 where it is none.
    sums : dof -> free number -> factor, one for each bicycle or for all. linked : as the links alone leave it, dof ->
    dof -> factor. supported : dofs.
    """

    free: Places
    alias: Places
    sums: Mapping[int, Mapping[int, Any]]
    linked: Mapping[int, Equation]
    supported: Places

    @classmethod
    def of(
        cls, made: Outline, index: Mapping[str, int], xyz: Array, case: LoadCase
    ) -> "Links | None":
        """None where a support stands on what a link moves: the full solver shares its force out."""
        equations = link_equations(made.links, made.ties, index, np.moveaxis(xyz, 1, 0))
        linked, _ = eliminate(equations, _largest, _least)
        held = [
            6 * index[node] + k
            for node, flags in case.supports.items()
            for k, flag in enumerate(flags)
            if flag
        ]
        if any(dof in linked for dof in held):
            return None
        gone = {*linked, *held}
        free = np.array([dof for dof in range(6 * len(index)) if dof not in gone])
        alias = np.full(6 * len(index), -1, dtype=np.intp)
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

    @property
    def structure(self) -> tuple[object, ...]:
        """All but the factors."""
        terms = tuple((dof, *row) for dof, row in self.sums.items())
        return (self.free.tobytes(), self.alias.tobytes(), terms)

    def moved(self, q: Array) -> Array:
        """(bicycles, 6 nodes, cases) all displacements from the free ones."""
        padded = np.concatenate([q, np.zeros_like(q[:, :1])], axis=1)
        out = padded[:, self.alias]
        for dof, row in self.sums.items():
            for number, factor in row.items():
                out[:, dof] += _each(factor) * q[:, number]
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

    def terms(self, dof: int) -> Mapping[int, Any]:
        """Free number -> factor of what a displacement is made of."""
        if dof in self.sums:
            return self.sums[dof]
        if self.alias[dof] >= 0:
            return {int(self.alias[dof]): 1.0}
        return {}

    def numbers(self, dofs: Sequence[int]) -> list[int]:
        """Free numbers that displacements are made of."""
        return sorted({number for dof in dofs for number in self.terms(dof)})

    def turn(self, dofs: Sequence[int], bicycles: int) -> Array:
        """(bicycles, displacements, numbers) what displacements are of the free ones of `numbers`."""
        numbers = self.numbers(dofs)
        out = np.zeros((bicycles, len(dofs), len(numbers)))
        for place, dof in enumerate(dofs):
            for number, factor in self.terms(dof).items():
                out[:, place, numbers.index(number)] += factor
        return out


@dataclass(frozen=True, eq=False)
class Pattern:
    """Where every number of the band comes from, for one way in which links and supports leave displacements free.

    order : of the free displacements in the band. plain : from the blocks of all pieces into the band. linked : pieces
    that end on a displacement which is a sum of others, and where the lower triangle of their turned stiffness goes.
    nodal : from ends of pieces to dofs. gathering : from dofs to free displacements.
    """

    order: Places
    width: int
    plain: Sums
    linked: tuple[tuple[int, Sums], ...]
    nodal: Sums
    gathering: Sums

    @classmethod
    def of(cls, links: Links, pieces: StiffPieces) -> "Pattern":
        dofs = (6 * pieces.ends[:, :, None] + _SIX).reshape(-1, 12)
        summed = np.zeros(len(links.alias), dtype=bool)
        summed[list(links.sums)] = True
        turned = summed[dofs].any(axis=1)
        row, column, source = _plain_entries(links.alias[dofs], turned, pieces.grounded)
        of_linked = {}
        for piece in np.flatnonzero(turned).tolist():
            numbers = np.array(links.numbers(dofs[piece].tolist()), dtype=np.intp)
            first, second = lower_places(len(numbers))
            of_linked[piece] = (numbers[first], numbers[second])
        rows = np.concatenate([row, *(one for one, _ in of_linked.values())])
        columns = np.concatenate([column, *(other for _, other in of_linked.values())])
        size = len(links.free)
        node = links.free // 6
        touching = (
            np.concatenate([node[rows], node[columns]]),
            np.concatenate([node[columns], node[rows]]),
        )
        order = Entries(size, rows, columns, np.zeros(len(rows)), node, touching).order()
        position = np.empty(size, dtype=np.intp)
        position[order] = np.arange(size)
        width = int(np.abs(position[rows] - position[columns]).max()) + 1

        def flat(one: Places, other: Places) -> Places:
            low = np.minimum(position[one], position[other])
            return np.asarray(low * width + np.abs(position[one] - position[other]))

        plain = Sums.of(flat(row, column))
        taken = tuple((places, source[numbers]) for places, numbers in plain.turns)
        # near ends first, as the forces of the pieces stand
        ends = np.concatenate([pieces.ends[:, 0], pieces.ends[:, 1]])
        return cls(
            order,
            width,
            Sums(taken),
            tuple((piece, Sums.of(flat(*places))) for piece, places in of_linked.items()),
            Sums.of(ends),
            Sums.of(links.alias),
        )

    def gathered(self, links: Links, forces: Array) -> Array:
        """(bicycles, free, cases) forces on the free displacements."""
        out = np.zeros((len(forces), len(self.order), forces.shape[2]))
        self.gathering.into(out, forces)
        for dof, row in links.sums.items():
            for number, factor in row.items():
                out[:, number] += _each(factor) * forces[:, dof]
        return out

    def band(self, links: Links, pieces: StiffPieces) -> Array:
        """(bicycles, size, width) reduced stiffness, row k what meets unknown k and those behind it in the order."""
        blocks = pieces.blocks()
        out = np.zeros((len(blocks), len(self.order) * self.width))
        self.plain.into(out, blocks.reshape(len(blocks), -1))
        for piece, sums in self.linked:
            dofs = (6 * pieces.ends[piece][:, None] + _SIX).ravel().tolist()
            turn = links.turn(dofs, len(blocks))
            turned = np.swapaxes(turn, 1, 2) @ pieces.whole(blocks, piece) @ turn
            first, second = lower_places(turn.shape[2])
            for places, numbers in sums.turns:
                out[:, places] += turned[:, first[numbers], second[numbers]]
        return out.reshape(len(blocks), -1, self.width)


def _plain_entries(
    unknowns: Places, turned: NDArray[np.bool_], grounded: NDArray[np.bool_]
) -> tuple[Places, Places, Places]:
    """Rows, columns and numbers in the blocks of all that pieces bring which end on free displacements. unknowns :
    (pieces, 12), near end first."""
    first, second = lower_places(12)
    block = 2 - first // 6 - second // 6
    inside = 36 * block + 6 * (first % 6) + second % 6
    there = (unknowns[:, first] >= 0) & (unknowns[:, second] >= 0) & ~turned[:, None]
    # What stands on the ground has its far end alone.
    there[grounded] &= block == 0
    piece, pair = np.nonzero(there)
    row = unknowns[piece, first[pair]]
    column = unknowns[piece, second[pair]]
    source = 108 * piece + inside[pair]
    # Two places that are one unknown stand on the diagonal, where both of the pair count.
    twice = np.flatnonzero((row == column) & (first != second)[pair])
    every = np.concatenate([np.arange(len(row)), twice])
    return row[every], column[every], source[every]


@dataclass(frozen=True, eq=False)
class Factors:
    """The reduced stiffness of every bicycle, scaled to unit diagonal and factored in band form. sound : bicycles in
    which no pivot vanished."""

    order: Places
    scale: Array
    bands: Sequence[Array]
    sound: NDArray[np.bool_]

    @classmethod
    def of(cls, pattern: Pattern, band: Array) -> "Factors":
        """band : overwritten."""
        diagonal = band[:, :, 0]
        held = diagonal > 0
        scale = 1 / np.sqrt(np.where(held, diagonal, 1.0))
        ahead = np.pad(scale, ((0, 0), (0, pattern.width - 1)))
        band *= scale[:, :, None]
        band *= np.lib.stride_tricks.sliding_window_view(ahead, pattern.width, axis=1)
        bands = []
        sound = np.array(held.all(axis=1))
        for k, own in enumerate(band):
            # Column after column, as LAPACK wants it: nothing is copied.
            factor, failed = dpbtrf(own.T, lower=1, overwrite_ab=1)
            sound[k] &= not failed and factor[0].min() >= PIVOT_LIMIT
            bands.append(factor)
        return cls(pattern.order, scale, bands, sound)

    def solve(self, right: Array) -> Array:
        """(bicycles, free, cases) displacements under forces on the free displacements, unrefined."""
        scaled = np.ascontiguousarray(np.swapaxes(right[:, self.order], 1, 2))
        scaled *= self.scale[:, None, :]
        for band, own in zip(self.bands, scaled, strict=True):
            dpbtrs(band, own.T, lower=1, overwrite_b=1)
        scaled *= self.scale[:, None, :]
        q = np.empty_like(right)
        q[:, self.order] = np.swapaxes(scaled, 1, 2)
        return q


def sizes(order: Places, band: Array, q: Array) -> Array:
    """(bicycles, free, cases) |K| |q|: the sizes that are added up in K q. band : of K, not scaled, in that order."""
    ordered = np.abs(q[:, order])
    size = ordered.shape[1]
    out = np.zeros_like(ordered)
    for offset, column in enumerate(np.moveaxis(np.abs(band), 2, 0)):
        there = column[:, : size - offset, None]
        out[:, offset:] += there * ordered[:, : size - offset]
        if offset:
            out[:, : size - offset] += there * ordered[:, offset:]
    back = np.empty_like(out)
    back[:, order] = out
    return back


def _each(factor: Any) -> Any:
    """A factor for each bicycle, or one for all, beside arrays (bicycles, cases)."""
    return factor[:, None] if np.ndim(factor) else factor


def _largest(coefficient: Any) -> float:
    return float(np.abs(coefficient).max())


def _least(coefficient: Any) -> float:
    return float(np.abs(coefficient).min())
