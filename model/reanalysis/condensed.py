"""Tubes condensed to their joints: a chain of beam elements becomes six natural deformations and a 6 x 6 flexibility.

A SEGMENT is the stretch of one tube between two neighbouring joints. Its twelve end components obey equilibrium,
so only six are independent: the force and moment at the far end, with the near end clamped. Their flexibility is
the sum over the chain's own elements, transported to the far end,

    F = sum_e Hₑᵀ fₑ Hₑ          (Przemieniecki, Theory of Matrix Structural Analysis, 1968, ch. 7: unit-load method)

with fₑ the element's cantilever flexibility. A sum of positive terms loses no digits, and rigid-body motion
costs exactly nothing; subtracting K_bi K_ii⁻¹ K_ib (Guyan) is the same in exact arithmetic and worse in a computer.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.mesh import in_plane_normal
from ..mechanics.beam import Beams, spd_inverse
from ..mechanics.frame_model import FrameModel, LoadCase

# Local deformations of a segment: stretch, two bows, twist, two end slopes (axes of `Segment.axes`).
NATURAL = 6


@dataclass(frozen=True, eq=False)
class Segment:
    """One tube between two joints.

    i, j : nodes at the near and far end. axes : (3, 3) rows x along the chord, y across it in the plane of the
    frame, z = x cross y. flexibility : (6, 6) of the far end with the near end clamped, forces then moments, in
    these axes (mm/N, rad/N, rad/(N mm)).
    """

    member: str
    i: str
    j: str
    chord: Array
    axes: Array
    flexibility: Array

    @cached_property
    def stiffness(self) -> Array:
        """(6, 6) natural stiffness, inverse of the flexibility."""
        return spd_inverse(self.flexibility)

    @cached_property
    def deformation(self) -> Array:
        """(6, 12) natural deformations from the global end displacements (u_i, theta_i, u_j, theta_j)."""
        turn = np.kron(np.eye(2), self.axes)
        rigid = np.block([[-np.eye(3), skew(self.chord)], [np.zeros((3, 3)), -np.eye(3)]])
        return np.hstack([turn @ rigid, turn])


def skew(r: Array) -> Array:
    """(3, 3) matrix with skew(r) @ v = r cross v."""
    x, y, z = r
    return np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])


def joint_nodes(model: FrameModel, cases: Iterable[LoadCase] = ()) -> set[str]:
    """Nodes that must stay: where members meet, and all that is tied, sprung, held, loaded or measured."""
    members: dict[str, set[str]] = {}
    for element in model.elements:
        for node in (element.i, element.j):
            members.setdefault(node, set()).add(element.member)
    # Where two members meet, forces of both enter.
    keep = {node for node, names in members.items() if len(names) > 1}
    for link in model.rigid_links:
        keep |= {link.master, link.slave}
    for tie in model.equal_dofs:
        keep |= {tie.master, tie.slave}
    # Whatever is held, loaded or measured must stay as a node of its own.
    springs = [*model.springs]
    for case in cases:
        springs += case.springs
        keep |= set(case.nodal) | set(case.supports)
        keep |= {node for measure in case.measures for node, _ in measure.weights}
    return keep | {n for s in springs for n in (s.i, s.j) if n is not None}


def segments(beams: Beams, member: str, keep: set[str]) -> list[Segment]:
    """The segments of one member, from its start to its end, cut at the nodes in `keep`.

    Raises
    ------
    ModelError
        When the member's elements are not a single chain, or have end releases.
    """
    model = beams.model
    numbers = [k for k, e in enumerate(model.elements) if e.member == member]
    out = []
    run = [numbers[0]]
    for before, number in pairwise(numbers):
        # The sum over a chain needs each element to begin where the last one ended.
        if model.elements[before].j != model.elements[number].i:
            raise ModelError(
                f"{member.replace('_', ' ')}: its elements are not a single chain from end to end, "
                "so it cannot be condensed"
            )
        if model.elements[number].i in keep:
            out.append(_segment(beams, run))
            run = []
        run.append(number)
    return [*out, _segment(beams, run)]


def _segment(beams: Beams, numbers: Sequence[int]) -> Segment:
    model = beams.model
    first = model.elements[numbers[0]]
    last = model.elements[numbers[-1]]
    # A release between two joints would leave the far end loose.
    if any(model.elements[k].releases for k in numbers):
        raise ModelError(
            f"{first.member.replace('_', ' ')}: an element has end releases, so it cannot be condensed"
        )
    chord = np.subtract(model.nodes[last.j], model.nodes[first.i])
    x = chord / np.linalg.norm(chord)
    # The frame's plane parts the deformations into those in it and those across it.
    y = np.array(in_plane_normal(tuple(chord.tolist())))
    axes = np.array([x, y, np.cross(x, y)])
    turn = np.kron(np.eye(2), axes)
    return Segment(
        first.member,
        first.i,
        last.j,
        chord,
        axes,
        turn @ _chain_flexibility(beams, numbers) @ turn.T,
    )


def _chain_flexibility(beams: Beams, numbers: Sequence[int]) -> Array:
    """(6, 6) flexibility of the last element's far end, global axes, the first element's near end clamped."""
    picked = list(numbers)
    far = beams.model.xyz[beams.model.ends[picked, 1]]
    turn = np.zeros((len(picked), 6, 6))
    turn[:, :3, :3] = turn[:, 3:, 3:] = beams.rotation[picked]
    # The element's own cantilever: its near end clamped.
    local = spd_inverse(beams.k_full[picked][:, 6:, 6:])
    # force at the tip -> force at the element's far end
    transport = np.tile(np.eye(6), (len(picked), 1, 1))
    transport[:, 3:, :3] = [skew(arm) for arm in far[-1] - far]
    at_tip = turn @ transport
    total = np.einsum("mki,mkl,mlj->ij", at_tip, local, at_tip)
    return np.asarray((total + total.T) / 2)
