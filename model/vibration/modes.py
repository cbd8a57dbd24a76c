"""Natural frequencies and mode shapes of a frame model under any supports, or none.

Consistent mass (`mass`), constraints as in `solve`, the lowest roots with proof that none is missing (`eigen`).
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import pi

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..errors import MechanismError, ModelError
from ..mechanics.assembly import spring_matrix, spring_stiffness, stiffness_matrix
from ..mechanics.beam import Beams
from ..mechanics.constraints import Constraints
from ..mechanics.energy import mutual_work
from ..mechanics.frame_model import FrameModel, Spring
from ..mechanics.inertia import rigid_motions
from ..mechanics.mechanism import describe_free_motion
from ..threads import one_thread
from .eigen import lowest_pairs
from .mass import mass_matrix

RESIDUAL_LIMIT = 1e-6
RIGID_BODY = 1e-11  # a stiffness this far below what went into it is rounding


@dataclass(frozen=True, eq=False)
class Modes:
    """The lowest modes of a model; it exists only after residuals and the count of roots have been checked.

    model : with the springs of the case in it. frequencies_hz (k,) ascending, rigid motions exactly 0 and
    first, `rigid` of them. shapes (k, n, 6), u^T M u = 1 in the model's mass unit, largest translation
    positive. effective_mass (k, 6): mass (tonne) that moves with the mode along x, y, z and inertia (tonne mm^2)
    about the axes through the centre of mass; over all modes they add up to what the supports leave free.
    total_mass (6,) the whole of it. residuals (k,): |K u - w^2 M u| / |w^2 M u|, unit-scaled; rigid motions
    against the first elastic root.
    """

    model: FrameModel
    supports: Mapping[str, Iterable[int]]
    frequencies_hz: Array
    shapes: Array
    effective_mass: Array
    total_mass: Array
    residuals: Array
    rigid: int

    def __len__(self) -> int:
        return len(self.frequencies_hz)

    def shape(self, number: int, node: str) -> Array:
        """(6,) motion of a node in mode `number` (from 0)."""
        return np.asarray(self.shapes[number, self.model.node_index[node]])

    @cached_property
    def element_energy(self) -> Array:
        """(k, m, 6) strain energy of each element (axial, shear y, shear z, torsion, bending y, z), over the total.

        The springs have the rest (`spring_energy`); a rigid motion has none.
        """
        # Energy follows from the section forces of each shape, as in the static case.
        beams = Beams.of(self.model)
        out = np.zeros((len(self), len(self.model.elements), 6))
        for k in range(self.rigid, len(self)):
            local = beams.turn(self.shapes[k].reshape(-1)[beams.dofs], to_local=True)
            ends = np.einsum("mij,mj->mi", beams.k_local, local)
            out[k] = mutual_work(beams, ends, ends) / (2 * pi * self.frequencies_hz[k]) ** 2
        return out

    @cached_property
    def spring_energy(self) -> dict[str, Array]:
        """Spring id -> (k,) share of the strain energy of each mode."""
        index = self.model.node_index
        squares = (2 * pi * self.frequencies_hz) ** 2
        out = {}
        for spring in self.model.springs:
            stretch = self.shapes[:, index[spring.i]] - (
                0 if spring.j is None else self.shapes[:, index[spring.j]]
            )
            work = np.einsum("ka,ab,kb->k", stretch, spring_matrix(spring), stretch)
            out[spring.id] = np.divide(work, squares, out=np.zeros(len(self)), where=squares > 0)
        return out


@dataclass(frozen=True, eq=False)
class Dynamics:
    """A model under supports and springs as matrices over its free unknowns: k, m, and T back to all (6n, free).

    model : with the extra springs in it. mass : (6n, 6n) before reduction.
    """

    model: FrameModel
    supports: Mapping[str, Iterable[int]]
    mass: sparse.csr_matrix
    T: sparse.csr_matrix
    k: sparse.csr_matrix
    m: sparse.csr_matrix

    @classmethod
    def of(
        cls,
        model: FrameModel,
        supports: Mapping[str, Iterable[int]] | None = None,
        springs: Sequence[Spring] = (),
    ) -> "Dynamics":
        """Raises ModelError when something is named that the model does not have, or when nothing can deform."""
        if springs:
            whole = replace(model, springs=(*model.springs, *springs))
        else:
            whole = model
        held: Mapping[str, Iterable[int]]
        # No supports is a choice here: the frame hung on strings.
        if supports is None:
            held = {}
        else:
            held = supports
        beams = Beams.of(model)
        stiffness = stiffness_matrix(beams)
        mass = mass_matrix(beams)
        if springs:
            stiffness = stiffness + spring_stiffness(model, springs)
        T = Constraints.of(model, held).T
        reduced = (T.T @ stiffness @ T).tocsr()
        # what K_ii would be without cancellation
        felt = T.multiply(T).T @ abs(stiffness.diagonal())
        # All stiffness cancelled by rigid links: what is left is rounding and would give modes of
        # noise.
        if T.shape[1] and np.all(reduced.diagonal() <= RIGID_BODY * felt):
            raise ModelError(
                "nothing in this model can deform: its links and supports tie every node rigidly to the "
                "others, so there is nothing to vibrate; remove a link"
            )
        return cls(whole, held, mass, T, reduced, (T.T @ mass @ T).tocsr())

    @one_thread()
    def modes(self, count: int = 12) -> Modes:
        """The lowest modes; raises as `modes` does."""
        if count < 1:
            raise ModelError(f"{count} modes asked for; at least one is needed")
        if not np.any(self.m.diagonal() > 0):
            raise ModelError(
                "nothing that can move has a mass; give the materials a density or the nodes masses"
            )
        try:
            roots, vectors, rigid = lowest_pairs(self.k, self.m, count)
        except MechanismError as error:
            # Only what neither stiffness nor mass resists is the loose part.
            together = (self.k / self.k.diagonal().max() + self.m / self.m.diagonal().max()).tocsr()
            raise MechanismError(
                "a part without mass moves freely; "
                + describe_free_motion(self.model, together, self.T, "modes")
            ) from error
        residuals = _residuals(self.k, self.m, roots, vectors, rigid)
        shapes = _signed((self.T @ vectors).T.reshape(len(roots), -1, 6))
        effective, total = _effective_mass(self.model, self.mass, shapes)
        return Modes(
            self.model,
            self.supports,
            np.sqrt(np.maximum(roots, 0)) / (2 * pi),
            shapes,
            effective,
            total,
            residuals,
            rigid,
        )


def modes(
    model: FrameModel,
    supports: Mapping[str, Iterable[int]] | None = None,
    springs: Sequence[Spring] = (),
    count: int = 12,
) -> Modes:
    """The `count` lowest modes under supports (node -> six flags) and extra springs.

    Raises
    ------
    MechanismError
        When a part without mass can move freely; the message names the motion.
    ModelError
        When the model has no mass, names what it does not have, or the result fails its own checks.
    """
    return Dynamics.of(model, supports, springs).modes(count)


def _residuals(k: Array, m: Array, roots: Array, vectors: Array, rigid: int) -> Array:
    """Relative residuals of the pairs, refused above RESIDUAL_LIMIT."""
    # Scaled as the matrix that is singular at the root, so that mm and rad weigh alike.
    diagonal = k.diagonal() + np.max(roots, initial=0.0) * m.diagonal()
    scale = 1 / np.sqrt(np.where(diagonal > 0, diagonal, 1.0))[:, None]
    inertia = scale * (m @ vectors)
    against = np.where(
        np.arange(len(roots)) < rigid, roots[min(rigid, len(roots) - 1)] or 1.0, roots
    )
    size = against * np.linalg.norm(inertia, axis=0)
    out = np.linalg.norm(scale * (k @ vectors) - roots * inertia, axis=0) / size
    if len(roots) > rigid and not np.all(out <= RESIDUAL_LIMIT):
        worst = int(np.argmax(out))
        raise ModelError(
            f"mode {worst + 1} misses its equation by {out[worst]:.1e}, allowed {RESIDUAL_LIMIT:.0e}; "
            "the model is too badly scaled to trust"
        )
    return np.asarray(out)


def _signed(shapes: Array) -> Array:
    """Each shape with its largest translation (else rotation) positive, so that a result does not depend on chance."""
    out = shapes.copy()
    for k, shape in enumerate(shapes):
        if np.any(shape[:, :3]):
            part = shape[:, :3]
        else:
            part = shape
        # Rounded, so that a tie between left and right is broken by place and not by the last bit.
        size = np.abs(part).ravel()
        if part.ravel()[np.argmax(np.round(size / size.max(), 6))] < 0:
            out[k] = -shape
    return out


def _effective_mass(model: FrameModel, mass: Array, shapes: Array) -> tuple[Array, Array]:
    """Effective modal masses (k, 6) and the whole (6,), rotations about the centre of mass."""
    about = rigid_motions(model.xyz)
    # The mass matrix itself gives the centre of mass: no second bookkeeping of lumps.
    moments = about[:, :3].T @ (mass @ about)
    total = float(moments[0, 0])
    centre = np.array([moments[2, 4], moments[0, 5], moments[1, 3]]) / -total
    motions = rigid_motions(model.xyz - centre)
    moved = mass @ motions
    participation = shapes.reshape(len(shapes), -1) @ moved
    return participation**2, np.einsum("ij,ij->j", motions, moved)


def mac(first: Modes, second: Modes) -> Array:
    """(k1, k2) modal assurance criterion (Allemang & Brown 1982) over the translations of the nodes both have.

    Raises
    ------
    ModelError
        For models that share no node name.
    """
    shared = [node for node in first.model.nodes if node in second.model.node_index]
    if not shared:
        raise ModelError("the two models share no node name; their modes cannot be compared")
    # Translations only: a rotation has another unit, and would need a length to be weighed with.
    a = _translations(first, shared)
    b = _translations(second, shared)
    return np.asarray((a @ b.T) ** 2 / np.outer((a**2).sum(axis=1), (b**2).sum(axis=1)))


def _translations(found: Modes, nodes: Sequence[str]) -> Array:
    """(k, 3 nodes) motions of the named nodes in every mode."""
    rows = [found.model.node_index[node] for node in nodes]
    return found.shapes[:, rows, :3].reshape(len(found), -1)


def follow(reference: Modes, variant: Modes) -> Array:
    """(k,) which mode of the variant is each mode of the reference; -1 where none is alike (MAC below one half)."""
    from scipy.optimize import linear_sum_assignment

    # One to one: two modes of the reference must not follow the same mode.
    alike = mac(reference, variant)
    out = np.full(len(reference), -1)
    for row, column in zip(*linear_sum_assignment(-alike), strict=True):
        if alike[row, column] >= 0.5:
            out[row] = column
    return out
