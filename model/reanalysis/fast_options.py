"""The allowed options of each tube, condensed once: natural stiffness of every option in one shared basis.

A FAMILY is one entry of the tube table with its options. Joints do not move when a tube is exchanged, so all
options of a family share the natural deformations (model.reanalysis.condensed) and differ by a small matrix only.
Right and left tubes of a pair are exchanged together; their deformations are combined to symmetric and
antisymmetric ones, which a symmetric frame does not mix.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import MeshOptions, mesh
from ..frame.tube_mass import mass_table
from ..mechanics.beam import Beams
from ..mechanics.frame_model import FrameModel, LoadCase
from ..tubes.tube import Tube
from .condensed import NATURAL, Segment, joint_nodes, segments, spd_inverse

CaseMaker = Callable[[Bicycle, FrameLayout], tuple[LoadCase, ...]]

# How the natural deformations of a left tube follow from the right one's under mirroring (z -> -z): stretch and
# bow in the plane of the frame stay, bow across it and twist turn round.
MIRROR = np.array([1.0, 1.0, -1.0, -1.0, -1.0, 1.0])
MIRRORED = 1e-9  # relative difference up to which left and right count as mirror images
SOFT = 0.5  # the base frame carries this share of what the softest option and every other have in common


@dataclass(frozen=True, eq=False)
class Family:
    """One tube of the table with its options.

    parts : the segments (of the first option) whose deformations the rows of `basis` combine.
    masses : (options,) g, both tubes of a pair. stiffness : (options, r, r) in that basis, r = rows of `basis`.
    soft : the share of the first option's stiffness that stays in the base frame, so that the base is no
    mechanism and every option adds to it.
    """

    tube: str
    options: tuple[Tube, ...]
    parts: tuple[Segment, ...]
    basis: Array
    masses: Array
    stiffness: Array
    soft: float

    @property
    def rank(self) -> int:
        """Independent end forces of the tube, pairs counted together."""
        return len(self.basis)

    @cached_property
    def added(self) -> Array:
        """(options, r, r) inverse of what each option adds to the base frame's soft tube."""
        return spd_inverse(self.stiffness - self.soft * self.stiffness[0])

    def probes(self, model: FrameModel) -> Array:
        """(r, 6n) natural deformations as weighted sums of a model's displacements."""
        rows = np.zeros((NATURAL * len(self.parts), model.dofs))
        for k, part in enumerate(self.parts):
            i = 6 * model.node_index[part.i]
            j = 6 * model.node_index[part.j]
            block = rows[NATURAL * k : NATURAL * (k + 1)]
            block[:, i : i + 6] += part.deformation[:, :6]
            block[:, j : j + 6] += part.deformation[:, 6:]
        return np.asarray(self.basis @ rows)


@dataclass(frozen=True, eq=False)
class OptionSet:
    """Families, outermost first, with the base frame (first options, softened) and its load cases.

    fixed_masses : g of every tube that is not exchanged.
    """

    families: tuple[Family, ...]
    base: FrameModel
    cases: tuple[LoadCase, ...]
    fixed_masses: Mapping[str, float]


def condense_options(
    bicycle: Bicycle,
    choices: Mapping[str, Sequence[Tube]],
    cases_of: CaseMaker,
    options: MeshOptions | None = None,
) -> OptionSet:
    """Mesh every option once and condense it to its joints.

    Raises
    ------
    ModelError
        When an option does not fit its tube, a load case changes with the tubes or loads a tube along its
        length, or rigid zones are asked for (their length depends on the neighbour's diameter).
    """
    options = options or MeshOptions()
    if options.rigid_zones:
        raise ModelError(
            "rigid zones change with the neighbouring tube, so tubes cannot be condensed one by one; "
            "search without rigid zones and check the chosen frame with them"
        )
    layout = lay_out(bicycle)
    rounds = max((len(tubes) for tubes in choices.values()), default=1)
    bicycles = [_with_options(bicycle, choices, k) for k in range(rounds)]
    models = [mesh(b, options, layout) for b in bicycles]
    cases = cases_of(bicycles[0], layout)
    _check_cases(cases, [cases_of(b, layout) for b in bicycles[1:]])
    keep = joint_nodes(models[0], cases)
    meshes = [_Meshed(Beams.of(model), mass_table(model, layout).grams) for model in models]
    families = [
        _family(layout, meshes[: len(tubes)], keep, tube, tuple(tubes))
        for tube, tubes in choices.items()
    ]
    families.sort(key=lambda family: (-family.rank, len(family.options)))
    fixed = {tube: mass for tube, mass in meshes[0].masses.items() if tube not in choices}
    return OptionSet(tuple(families), _softened(models[0], layout, families), cases, fixed)


def _with_options(bicycle: Bicycle, choices: Mapping[str, Sequence[Tube]], k: int) -> Bicycle:
    """The bicycle with option number k of every tube (starting again where a tube has fewer)."""
    return replace(
        bicycle,
        tubes={**bicycle.tubes, **{t: tubes[k % len(tubes)] for t, tubes in choices.items()}},
    )


def _check_cases(cases: tuple[LoadCase, ...], others: Sequence[tuple[LoadCase, ...]]) -> None:
    for k, case in enumerate(cases):
        if case.member_loads:
            raise ModelError(
                f"load case {case.name} loads tubes along their length, which the search cannot "
                "condense; compare a few variants with it instead"
            )
        if any(other[k] != case for other in others):
            raise ModelError(
                f"load case {case.name} changes with the tubes; compare a few variants with it instead"
            )


@dataclass(frozen=True, eq=False)
class _Meshed:
    beams: Beams
    masses: Mapping[str, float]


def _family(
    layout: FrameLayout,
    meshes: Sequence[_Meshed],
    keep: set[str],
    tube: str,
    tubes: tuple[Tube, ...],
) -> Family:
    # Left and right of a pair are exchanged together.
    members = [m.name for m in layout.members if m.tube == tube]
    if not members:
        raise ModelError(f"the frame has no {tube.replace('_', ' ')} to exchange")
    # One row per option: the parts between kept nodes, left and right of a pair one after the other.
    rows = [_parts(meshed, members, keep) for meshed in meshes]
    blocks = np.array([_stiffnesses(row) for row in rows])
    parts = rows[0]
    basis = _basis(blocks, len(members))
    stiffness = np.asarray(basis @ _block_diagonal(blocks) @ basis.T)
    masses = np.array([meshed.masses[tube] for meshed in meshes])
    return Family(tube, tubes, parts, basis, masses, stiffness, SOFT * _common_share(blocks))


def _parts(meshed: _Meshed, members: Sequence[str], keep: set[str]) -> tuple[Segment, ...]:
    found: list[Segment] = []
    for member in members:
        found.extend(segments(meshed.beams, member, keep))
    return tuple(found)


def _stiffnesses(parts: Sequence[Segment]) -> list[Array]:
    return [part.stiffness for part in parts]


def _basis(blocks: Array, members: int) -> Array:
    """(r, r) orthogonal: symmetric and antisymmetric sums for a mirrored pair, else the deformations as they are."""
    # Sums and differences of a mirrored pair part in-plane motion from sideways motion.
    half = blocks.shape[1] // 2
    if members != 2 or not _mirrored(blocks[:, :half], blocks[:, half:]):
        return np.eye(NATURAL * blocks.shape[1])
    turn = np.diag(np.tile(MIRROR, half))
    same = np.eye(NATURAL * half)
    return np.asarray(np.block([[same, turn], [same, -turn]]) / np.sqrt(2))


def _mirrored(right: Array, left: Array) -> bool:
    scale = np.sqrt(np.einsum("osii->osi", right))
    difference = np.abs(right * np.outer(MIRROR, MIRROR) - left)
    return bool(np.all(difference <= MIRRORED * scale[..., :, None] * scale[..., None, :]))


def _block_diagonal(blocks: Array) -> Array:
    """(options, parts, 6, 6) blocks as (options, 6 parts, 6 parts) matrices."""
    count, parts = blocks.shape[:2]
    full: Array = np.zeros((count, parts, NATURAL, parts, NATURAL))
    for k in range(parts):
        full[:, k, :, k, :] = blocks[:, k]
    return np.asarray(full.reshape(count, NATURAL * parts, NATURAL * parts))


def _common_share(blocks: Array) -> float:
    """The largest share of the first option's stiffness that every option surpasses (least generalised eigenvalue)."""
    inverse = np.linalg.inv(np.linalg.cholesky(blocks[0]))
    against_first = np.asarray(inverse @ blocks @ np.swapaxes(inverse, -1, -2))
    return float(np.linalg.eigvalsh(against_first).min())


def _softened(model: FrameModel, layout: FrameLayout, families: Sequence[Family]) -> FrameModel:
    """The model with every exchangeable tube's moduli scaled down to its family's soft share."""
    share = {m.name: f.soft for f in families for m in layout.members if m.tube == f.tube}
    elements = tuple(
        replace(
            e,
            material=replace(
                e.material, E=e.material.E * share[e.member], G=e.material.G * share[e.member]
            ),
        )
        if e.member in share
        else e
        for e in model.elements
    )
    return replace(model, elements=elements)
