"""What lies between two nodes of a tube as one stiff piece, for any number of tubes at once.

A stretch of a tube is a chain of prismatic pieces. With its near end clamped the far end moves by the sum of what the
pieces give (unit-load method; Przemieniecki 1968, ch. 7, as in `condensed`). A prismatic piece gives about its own
middle without cross terms,

    L/EA, L/GAsy + L³/12EIz, L/GAsz + L³/12EIy, L/GJ, L/EIy, L/EIz,

so that only the lever from there to the far end is left to be carried. The pieces are those of the mesh.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array, crossed, run_of
from ..frame.centre_lines import point_at
from ..frame.cutting import SHARED, CutPieces, MeshOptions, Uncut, alike, cut
from ..mechanics.beam import spd_inverse, to_global
from ..tubes.sections import section_values
from .drafts import TubeRows
from .tube_flexibility import section_gives

_ROUND = 1e-12  # mm; an oval whose height and width differ by less is round


def stretch_stiffness(
    lines: TubeRows, start: Array, end: Array, options: MeshOptions
) -> tuple[Array, Array]:
    """Stiffness (stretches, 6, 6) of the far end of every stretch, its near end clamped, global axes, and masses
    (bicycles, lines) in tonne. Stretches stand line by line in order, bicycle after bicycle.

    start, end : (stretches, 3) where the stretches begin and end.

    Raises
    ------
    ModelError
        When butts, tapers or straight lengths do not fit a tube's length.
    """
    pieces = _Pieces.of(lines, options)
    gives = _gives(pieces, lines, options.shear)
    length = np.linalg.norm(end - start, axis=1)
    axes = frame_axes((end - start) / length[:, None])
    natural = _straight(pieces, gives, len(length))
    lengths = pieces.length
    if lines.paths:
        curved, near, far = _ends_of_bent(pieces, lines)
        # A piece of a bent tube is straight and cuts the corner of a curve point that it passes.
        lengths[curved] = np.linalg.norm(far - near, axis=1)
        _bend(natural, pieces, gives, (curved, near, far), end, axes)
    mass = np.bincount(pieces.row, lengths * gives[6], lines.length.size)
    return to_global(natural, axes), np.asarray(mass.reshape(lines.length.shape), dtype=float)


@dataclass(frozen=True, eq=False)
class _Pieces:
    """The pieces of a mesh, parted where a node stands inside one. stretch : number of the stretch a piece lies in.
    lever : mm from its middle to the stretch's far end."""

    row: NDArray[np.intp]
    stretch: NDArray[np.intp]
    start: Array
    end: Array
    lever: Array
    cut: CutPieces
    piece: NDArray[np.intp]

    @property
    def length(self) -> Array:
        return self.end - self.start

    @classmethod
    def of(cls, lines: TubeRows, options: MeshOptions) -> "_Pieces":
        whole = cut(_uncut(lines), options)
        places = lines.places.reshape(-1, lines.places.shape[-1])
        stretches = np.isfinite(places).sum(axis=1) - 1
        first = np.cumsum(stretches) - stretches
        own = places[whole.row]
        before = (own <= whole.start[:, None] + SHARED).sum(axis=1)
        after = (own < whole.end[:, None] - SHARED).sum(axis=1)
        count = 1 + after - before
        piece = np.repeat(np.arange(len(count)), count)
        part = np.arange(len(piece)) - np.repeat(np.cumsum(count) - count, count)
        row = whole.row[piece]
        k = before[piece] + part
        start = np.where(part == 0, whole.start[piece], places[row, k - 1])
        last = part + 1 == count[piece]
        far = places[row, np.minimum(k, places.shape[1] - 1)]
        end = np.where(last, whole.end[piece], far)
        lever = far - (start + end) / 2
        return cls(row, first[row] + k - 1, start, end, lever, whole, piece)


def _uncut(lines: TubeRows) -> Uncut:
    """The lines of all bicycles, one after the other."""
    length, low, high = (values.ravel() for values in (lines.length, lines.low, lines.high))
    stops, curve = (
        values.reshape(len(length), values.shape[-1]) for values in (lines.stops, lines.curve)
    )
    return Uncut(lines.tubes.ravel().tolist(), length, stops, curve, low, high)


def _gives(pieces: _Pieces, lines: TubeRows, shear: bool) -> Array:
    """(7, pieces) 1/EA, 1/GAsy, 1/GAsz, 1/GJ, 1/EIy, 1/EIz and the mass per mm, tonne, of what weighs as a tube."""
    whole = pieces.cut
    different, which = alike(lines.tubes.ravel().tolist())
    kind = which[whole.row]
    out = np.empty((7, len(whole.row)))
    for k, tube in enumerate(different):
        own = np.flatnonzero(kind == k)
        height = whole.height[own]
        wall = whole.wall[own]
        width = whole.width[own]
        round_ones = np.abs(width - height) < _ROUND
        material = tube.material
        values = np.empty((6, len(own)))
        for chosen, oval in ((round_ones, False), (~round_ones, True)):
            if tube.corner is not None:
                chosen = np.full(len(own), oval)
            if chosen.any():
                sizes = (width[chosen], height[chosen], wall[chosen])
                values[:, chosen] = section_values(*sizes, material.nu, oval, tube.corner)
        out[:, own] = _compliances(values, material.E, material.G, material.rho)
    bicycle, line = np.divmod(whole.row, lines.length.shape[1])
    for number, plates in zip(lines.plated, lines.plates, strict=True):
        mine = np.flatnonzero(line == number)
        behind = mine[whole.middle[mine] > plates[bicycle[mine], 0]]
        _, *values, E, G = plates[bicycle[behind]].T
        out[:, behind] = _compliances(np.array(values), E, G, 0.0)
    # Without shear an area has no end: the term is left out, not made small.
    if not shear:
        out[1:3] = 0.0
    return out[:, pieces.piece]


def _compliances(values: Array, E: float | Array, G: float | Array, rho: float) -> Array:
    area = values[0]
    return np.concatenate([section_gives(values, E, G), [rho * area]])


def _straight(pieces: _Pieces, gives: Array, count: int) -> Array:
    """(stretches, 6, 6) stiffness of the far ends of straight stretches, near ends clamped, in their own axes."""
    length = pieces.length
    along, shear_y, shear_z, twist, bend_y, bend_z = gives[:6] * length
    lever = pieces.lever
    own = length**2 / 12

    def total(values: Array) -> Array:
        return np.asarray(np.bincount(pieces.stretch, values, count))

    return _far_end(
        total(along),
        total(twist),
        (total(shear_y + bend_z * (lever**2 + own)), total(bend_z * lever), total(bend_z)),
        (total(shear_z + bend_y * (lever**2 + own)), total(bend_y * lever), total(bend_y)),
    )


def bar_stiffness(gives: Array, length: Array) -> Array:
    """(bars, 6, 6) as `_straight`, of bars of one piece each. gives : (6, bars) per mm, as `section_gives` has them."""
    along, shear_y, shear_z, twist, bend_y, bend_z = gives * length
    third = length**2 / 3
    return _far_end(
        along,
        twist,
        (shear_y + bend_z * third, bend_z * length / 2, bend_z),
        (shear_z + bend_y * third, bend_y * length / 2, bend_y),
    )


_Plane = tuple[Array, Array, Array]


def _far_end(along: Array, twist: Array, upright: _Plane, across: _Plane) -> Array:
    """(k, 6, 6) stiffness of far ends from what they give. upright, across : of both planes of bending how a force
    moves the end, how it turns it, and how a moment turns it."""
    out = np.zeros((len(along), 6, 6))
    out[:, 0, 0] = 1 / along
    out[:, 3, 3] = 1 / twist
    for move, turn, sign, (moves, both, turns) in ((1, 5, 1.0, upright), (2, 4, -1.0, across)):
        # Two by two, inverted by hand.
        size = moves * turns - both**2
        out[:, move, move] = turns / size
        out[:, turn, turn] = moves / size
        out[:, move, turn] = out[:, turn, move] = -sign * both / size
    return out


def _ends_of_bent(pieces: _Pieces, lines: TubeRows) -> tuple[NDArray[np.intp], Array, Array]:
    """Numbers of the pieces of bent tubes, and where each begins and ends (k, 3)."""
    bicycle, line = np.divmod(pieces.row, lines.length.shape[1])
    curved = np.flatnonzero(np.isin(line, lines.bent))
    ends = np.stack([pieces.start[curved], pieces.end[curved]], axis=1)
    placed = np.empty((*ends.shape, 3))
    for number, paths in zip(lines.bent, lines.paths, strict=True):
        mine = np.flatnonzero(line[curved] == number)
        own = bicycle[curved[mine]]
        placed[mine] = point_at(paths[own], run_of(paths)[own], ends[mine])
    near, far = np.swapaxes(placed, 0, 1)
    return curved, near, far


def _bend(
    natural: Array,
    pieces: _Pieces,
    gives: Array,
    bent: tuple[NDArray[np.intp], Array, Array],
    end: Array,
    axes: Array,
) -> None:
    """The same for stretches of bent tubes, put into `natural`: every piece has a direction of its own. bent : as
    `_ends_of_bent` has them."""
    curved, near, far = bent
    stretch = pieces.stretch[curved]
    length = np.linalg.norm(far - near, axis=1)
    directions = frame_axes((far - near) / length[:, None])
    along, shear_y, shear_z, twist, bend_y, bend_z = gives[:6, curved] * length
    third = length**2 / 12
    moves = np.stack([along, shear_y + bend_z * third, shear_z + bend_y * third], axis=1)
    turns = np.stack([twist, bend_y, bend_z], axis=1)
    # In the axes of the stretch.
    turned = directions @ np.swapaxes(axes[stretch], 1, 2)
    arm = np.einsum("kij,kj->ki", axes[stretch], end[stretch] - (near + far) / 2)
    moving = np.einsum("kai,ka,kaj->kij", turned, moves, turned)
    turning = np.einsum("kai,ka,kaj->kij", turned, turns, turned)
    # A force at the far end is a moment arm x force at the piece.
    carry = np.swapaxes(crossed(arm[:, None, :], np.eye(3)[None]), 1, 2)
    back = np.swapaxes(carry, 1, 2)
    give = np.empty((len(curved), 6, 6))
    give[:, :3, :3] = moving + back @ turning @ carry
    give[:, :3, 3:] = back @ turning
    give[:, 3:, :3] = turning @ carry
    give[:, 3:, 3:] = turning
    own = np.unique(stretch)
    flexibility = np.zeros((len(own), 6, 6))
    np.add.at(flexibility, np.searchsorted(own, stretch), give)
    natural[own] = spd_inverse(flexibility)


def frame_axes(x: Array) -> Array:
    """(k, 3, 3) axes as rows for directions (k, 3): y across in the frame's plane, straight up of a crosswise one."""
    across = np.hypot(x[:, 0], x[:, 1])
    crosswise = across < 1e-6
    y = np.stack([-x[:, 1], x[:, 0], np.zeros(len(x))], axis=1)
    y /= np.where(crosswise, 1.0, across)[:, None]
    y[crosswise] = (0.0, 1.0, 0.0)
    z = crossed(x, y)
    z /= np.linalg.norm(z, axis=1)[:, None]
    return np.stack([x, crossed(z, x), z], axis=1)
