"""Names the motion that nothing resists, in words a builder can act on."""

from collections.abc import Iterator
from itertools import combinations

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..words import spoken
from .frame_model import DOFS, FrameModel

_AXIS_WORDS = ("fore and aft", "up and down", "sideways")
_TURN_WORDS = (
    "lean over (turn about a fore-and-aft axis)",
    "turn left and right (about a vertical axis)",
    "pitch (turn about a sideways axis)",
)
_NULL = 1e-9  # eigenvalue of the unit-scaled stiffness below which a motion counts as free
_LARGE = 3_000  # unknowns beyond which only the freest dof is named, not the motion
_NAMED = 40  # nodes that are tried as hinges and pivots


def describe_free_motion(
    model: FrameModel, reduced: sparse.csr_matrix, T: sparse.csr_matrix, case: str
) -> str:
    """One sentence naming the free motions of a model whose reduced stiffness is singular."""
    # A dense eigensolution of a large model would take minutes to say the same.
    if reduced.shape[0] > _LARGE:
        words = [f"for one, {_largest(model, _loosest(reduced, T))}"]
    else:
        motions = _null_motions(reduced, T)
        words = _unheld(model, motions) or name_motions(model, motions)
    return (
        f"load case {case}: the supports leave the frame loose - {'; '.join(words)}. "
        "Hold that motion with a support, a spring or a locked steering"
    )


def _unheld(model: FrameModel, motions: Array) -> list[str]:
    """That nothing holds the whole, or a part of it, at all: six motions named one by one would hide it."""
    everything = np.ones(len(model.nodes), dtype=bool)
    if _all_free(model, everything, motions):
        return ["nothing holds it at all"]
    part = _moving_part(model, motions)
    if part is not None and _all_free(model, part, motions):
        return [f"nothing holds {_part_name(model, part)}, which is joined to nothing that is held"]
    return []


def _all_free(model: FrameModel, part: np.ndarray, motions: Array) -> bool:
    """Whether every rigid motion of a part lies in the free space."""
    centre = model.xyz[part].mean(axis=0)
    for k in range(3):
        shift = _rigid(model, part, np.eye(3)[k], np.zeros(3), centre)
        turn = _rigid(model, part, np.zeros(3), np.eye(3)[k], centre)
        for motion in (shift, turn):
            unit = motion / np.linalg.norm(motion)
            if np.linalg.norm(motions.T @ unit) < 1 - 1e-8:
                return False
    return True


def _null_motions(reduced: sparse.csr_matrix, T: sparse.csr_matrix) -> Array:
    """(6n, k) orthonormal basis of the motions that cost no energy, in all displacements."""
    # Unit scaling: mm and rad then have comparable eigenvalues.
    diagonal = reduced.diagonal()
    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))
    values, vectors = np.linalg.eigh(reduced.toarray() * scale[:, None] * scale[None, :])
    # At least one: the factorisation has already said that something is loose.
    count = max(1, int((values < _NULL).sum()))
    return np.linalg.qr(T @ (scale[:, None] * vectors[:, :count]))[0]


def _loosest(reduced: sparse.csr_matrix, T: sparse.csr_matrix) -> Array:
    """(6n,) of a large model one motion that costs next to no energy: what an arbitrary load does to it, held by
    a breath."""
    from scipy.sparse.linalg import splu

    diagonal = reduced.diagonal()
    scale = sparse.diags(1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0)))
    # Small enough to let the loose motion dominate, large enough to factor.
    held = (scale @ reduced @ scale + 1e-10 * sparse.eye(len(diagonal))).tocsc()
    motion = T @ (scale @ splu(held).solve(np.random.default_rng(7).standard_normal(len(diagonal))))
    return np.asarray(motion)


def name_motions(model: FrameModel, motions: Array) -> list[str]:
    """Words for free motions, an orthonormal basis (6n, k).

    Simple motions of the whole and of a part are held against the space; what is left is named by its largest dof.
    """
    words = []
    for text, candidate in _candidates(model, motions):
        if not motions.shape[1]:
            break
        unit = candidate / np.linalg.norm(candidate)
        # A candidate counts when it lies in the free space whole, not when it resembles it.
        inside = motions.T @ unit
        if np.linalg.norm(inside) > 1 - 1e-8:
            words.append(text)
            # The next words describe what this motion does not explain.
            left = motions - motions @ np.outer(inside, inside)
            motions = _basis(left, motions.shape[1] - 1)
    # No candidate fits: the dof that moves most is still a place to look.
    for column in motions.T[: 6 - len(words)]:
        words.append(_largest(model, column))
    return words


def _basis(columns: Array, rank: int) -> Array:
    return np.linalg.svd(columns, full_matrices=False)[0][:, :rank]


def _candidates(model: FrameModel, motions: Array) -> Iterator[tuple[str, Array]]:
    """Plausible free motions, the most helpful description first."""
    named = _spokesmen(model)
    everything = np.ones(len(model.nodes), dtype=bool)
    for k in range(3):
        yield (
            f"it is free to slide {_AXIS_WORDS[k]}",
            _rigid(model, everything, np.eye(3)[k], np.zeros(3), np.zeros(3)),
        )
    # Axes through two known points: both axles, the steering.
    yield from _turns(model, everything, "the frame", list(combinations(named, 2)))
    for k in range(3):
        for node in named:
            yield (
                f"the frame is free to {_TURN_WORDS[k]} at {_spoken(node)}",
                _rigid(model, everything, np.zeros(3), np.eye(3)[k], np.array(model.nodes[node])),
            )
    # Last, a part that moves while the rest stands: a steering that nothing locks.
    moving = _moving_part(model, motions)
    if moving is not None:
        still_named = [
            n for n in named if not moving[model.node_index[n]] or _touches(model, n, moving)
        ]
        part = _part_name(model, moving)
        yield from _turns(model, moving, part, list(combinations(still_named, 2)))
        # A single bolt, or a ball: a turn about each axis at the place where both touch.
        for node in still_named:
            if _meets(model, node, moving):
                at = np.array(model.nodes[node])
                for k in range(3):
                    yield (
                        f"{part} is free to {_TURN_WORDS[k]} at {_spoken(node)}",
                        _rigid(model, moving, np.zeros(3), np.eye(3)[k], at),
                    )


def _spokesmen(model: FrameModel) -> list[str]:
    """Nodes that a motion is described by: axles and head tube first, those are the points a builder thinks in."""
    named = [node for node in model.nodes if ":" not in node]
    first = [
        n
        for n in ("rear_axle", "front_axle", "head_tube_top", "head_tube_bottom", "fork_crown")
        if n in named
    ]
    return first + [n for n in named if n not in first][:_NAMED]


def _turns(
    model: FrameModel, part: np.ndarray, what: str, pairs: list[tuple[str, str]]
) -> Iterator[tuple[str, Array]]:
    for a, b in pairs:
        line = np.subtract(model.nodes[b], model.nodes[a])
        if np.linalg.norm(line) > 1e-6:
            yield (
                f"{what} is free to turn about {_line_name(a, b)}",
                _rigid(
                    model, part, np.zeros(3), line / np.linalg.norm(line), np.array(model.nodes[a])
                ),
            )


def _line_name(a: str, b: str) -> str:
    pair = {a, b}
    if pair == {"rear_axle", "front_axle"}:
        return "the line through both axles"
    if pair <= {"head_tube_top", "head_tube_bottom", "fork_crown"}:
        return "the steering axis"
    return f"the line through {_spoken(a)} and {_spoken(b)}"


def _spoken(node: str) -> str:
    if not node.isdigit():
        return spoken(node)
    return f"node {node}"


def _rigid(model: FrameModel, part: np.ndarray, shift: Array, turn: Array, point: Array) -> Array:
    """(6n,) rigid motion of the nodes in `part`, the others at rest."""
    motion = np.zeros((len(model.nodes), 6))
    motion[part, :3] = shift + np.cross(turn, model.xyz[part] - point)
    motion[part, 3:] = turn
    return motion.ravel()


def _moving_part(model: FrameModel, motions: Array) -> np.ndarray | None:
    """Nodes that turn or move in the free motions, when that is a part and not the whole."""
    # Translation and rotation together: a pivot moves nothing and turns all the same.
    size = np.abs(motions.reshape(len(model.nodes), 6, -1)).max(axis=(1, 2))
    moving = np.asarray(size > 1e-6 * size.max())
    if moving.all():
        return None
    return moving


def _touches(model: FrameModel, node: str, moving: np.ndarray) -> bool:
    # Bearings are two points at one place, one on each side of the motion.
    here = np.array(model.nodes[node])
    still = model.xyz[~moving]
    return bool(len(still) and np.min(np.linalg.norm(still - here, axis=1)) < 1e-6)


def _meets(model: FrameModel, node: str, moving: np.ndarray) -> bool:
    """Whether a node is where the moving part is joined: a tube runs on from it, or a point lies there that moves."""
    index = model.node_index
    for e in model.elements:
        ends = (e.i, e.j)
        if node in ends and any(moving[index[end]] for end in ends):
            return True
    return _touches(model, node, ~moving)


def _part_name(model: FrameModel, moving: np.ndarray) -> str:
    members = sorted(
        {
            e.member
            for e in model.elements
            if e.member and moving[model.node_index[e.i]] and moving[model.node_index[e.j]]
        }
    )
    if any("fork" in m or "steerer" in m for m in members):
        return "the fork with the front wheel"
    if members:
        return f"the part with {', '.join(m.replace('_', ' ') for m in members[:3])}"
    return "a part of the model"


def _largest(model: FrameModel, column: Array) -> str:
    dof = int(np.argmax(np.abs(column)))
    node = list(model.nodes)[dof // 6]
    if dof % 6 < 3:
        verb = "move"
    else:
        verb = "turn"
    return f"{_spoken(node)} is free to {verb} in {DOFS[dof % 6]}"
