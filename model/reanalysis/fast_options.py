"""The allowed options of each tube, condensed once: natural stiffness of every option in one shared basis.

A FAMILY is one entry of the tube table with its options. Joints do not move when a tube is exchanged, so all
options of a family share the natural deformations (model.reanalysis.condensed) and differ by a small matrix only.
Right and left tubes of a pair are exchanged together; their deformations are combined to symmetric and
antisymmetric ones, which a symmetric frame does not mix.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from math import prod

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.joint_places import TubeJoint, tube_joints
from ..frame.layout import FrameLayout, lay_out
from ..frame.mesh import MeshOptions, mesh
from ..frame.tube_mass import mass_table
from ..mechanics.beam import Beams, spd_inverse, stretch_flexibility
from ..mechanics.frame_model import FrameModel, LoadCase, softer
from ..tubes.tube import Tube
from .condensed import NATURAL, Segment, joint_nodes, segments, skew

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
    masses : (options,) g, both tubes of a pair. chords : the exchangeable tubes that this one's joints give on, with
    how many options each has. stiffness : (choices of the chords, options, r, r) in that basis, r = rows of `basis`,
    the last chord's option turning fastest; one choice where the joints are rigid or the chords stay.
    soft : the share of the first option's stiffness that stays in the base frame, so that the base is no
    mechanism and every option adds to it.
    """

    tube: str
    options: tuple[Tube, ...]
    parts: tuple[Segment, ...]
    basis: Array
    masses: Array
    chords: Mapping[str, int]
    stiffness: Array
    soft: float

    @property
    def rank(self) -> int:
        """Independent end forces of the tube, pairs counted together."""
        return len(self.basis)

    @cached_property
    def added(self) -> Array:
        """(choices of the chords, options, r, r) inverse of what each adds to the base frame's soft tube."""
        return spd_inverse(self.stiffness - self.soft * self.stiffness[0, 0])

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
    choices = {**choices, **_bound_tubes(bicycle, layout, choices)}
    rounds = max((len(tubes) for tubes in choices.values()), default=1)
    bicycles = [_with_options(bicycle, choices, k) for k in range(rounds)]
    # Tubes alone: what their joints give comes on top, for it depends on two tubes at once.
    models = [mesh(b.joined("rigid"), options, layout) for b in bicycles]
    cases = cases_of(bicycles[0], layout)
    _check_cases(cases, [cases_of(b, layout) for b in bicycles[1:]])
    keep = joint_nodes(models[0], cases)
    meshes = [_Meshed(Beams.of(model), mass_table(model, layout).grams) for model in models]
    gives = _Gives(bicycles[0], choices, layout)
    families = [
        _family(layout, meshes[: len(tubes)], keep, tube, tuple(tubes), gives)
        for tube, tubes in choices.items()
    ]
    families.sort(key=lambda family: (-family.rank, len(family.options)))
    fixed = {tube: mass for tube, mass in meshes[0].masses.items() if tube not in choices}
    base = mesh(bicycles[0], options, layout)
    return OptionSet(
        _chords_first(families), _softened(base, layout, families, gives.joints), cases, fixed
    )


def _bound_tubes(
    bicycle: Bicycle,
    layout: FrameLayout,
    choices: Mapping[str, Sequence[Tube]],
) -> dict[str, tuple[Tube, ...]]:
    """Tubes that stay as they are while a chord of their joints is exchanged: they change with it, by one option."""
    return {
        joint.tube: (bicycle.tubes[joint.tube],)
        for joint in tube_joints(bicycle, layout)
        if joint.changes_with in choices and joint.tube not in choices
    }


def _chords_first(families: Sequence[Family]) -> tuple[Family, ...]:
    """The same order, but no tube before a chord of its joints: the chord's option must be known by then."""
    left = list(families)
    ordered: list[Family] = []
    while left:
        waiting = {family.tube for family in left}
        # A tube that were its own chord's chord would wait for ever; no plan has one, and it would be taken as it is.
        ready = next((f for f in left if not waiting & set(f.chords)), left[0])
        ordered.append(ready)
        left.remove(ready)
    return tuple(ordered)


@dataclass(frozen=True, eq=False)
class _Gives:
    """What the joints of exchangeable tubes give, for every option of both tubes."""

    bicycle: Bicycle
    choices: Mapping[str, Sequence[Tube]]
    layout: FrameLayout

    @cached_property
    def joints(self) -> tuple[TubeJoint, ...]:
        return tube_joints(self.bicycle, self.layout)

    def chords(self, tube: str) -> dict[str, int]:
        """The exchangeable tubes that this one's joints give on, and how many options each has."""
        names = [joint.changes_with for joint in self.joints if joint.tube == tube]
        return {name: len(self.choices[name]) for name in names if name in self.choices}

    def table(self, joint: TubeJoint, meshes: "Sequence[_Meshed]") -> Array:
        """(options of the chord, options of the branch, 6, 6) what a joint adds to a tube condensed from axis to axis,
        global axes; one option where a tube is not exchanged. meshes : one an option of the branch."""
        chords: Sequence[Mapping[str, Tube]] = [{}]
        if joint.changes_with in self.choices:
            chords = [{joint.changes_with: tube} for tube in self.choices[joint.changes_with]]
        branches = self.choices[joint.tube]
        out = np.empty((len(chords), len(branches), 6, 6))
        reach = np.empty(len(chords))
        for c, chord in enumerate(chords):
            for b, branch in enumerate(branches):
                tubes = {**self.bicycle.tubes, **chord, joint.tube: branch}
                bicycle = replace(self.bicycle, tubes=tubes)
                resized = joint.resized(bicycle, self.layout)
                out[c, b] = resized.spring_in_space()
            # How far the wall is from the axis is a matter of the chord and the angle alone.
            reach[c] = resized.shape.inside
        for b, meshed in enumerate(meshes):
            # The tube was condensed from axis to axis; inside the chord it is rigid.
            elements = meshed.elements_of(joint.member)
            out[:, b] -= stretch_flexibility(meshed.beams, elements, joint.end, reach)
        return out


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

    def elements_of(self, member: str) -> list[int]:
        """Numbers of a member's elements, from its start to its end."""
        return [k for k, e in enumerate(self.beams.model.elements) if e.member == member]


def _family(
    layout: FrameLayout,
    meshes: Sequence[_Meshed],
    keep: set[str],
    tube: str,
    tubes: tuple[Tube, ...],
    gives: _Gives,
) -> Family:
    # Left and right of a pair are exchanged together.
    members = [m.name for m in layout.members if m.tube == tube]
    if not members:
        raise ModelError(f"the frame has no {tube.replace('_', ' ')} to exchange")
    # One row per option: the parts between kept nodes, left and right of a pair one after the other.
    rows = [_parts(meshed, members, keep) for meshed in meshes]
    parts = rows[0]
    chords = gives.chords(tube)
    flexible = []
    for row in rows:
        flexible.append([part.flexibility for part in row])
    flexibility = np.array(flexible)[None]
    for joint in gives.joints:
        if joint.tube == tube:
            flexibility = _with_joint(flexibility, parts, joint, gives.table(joint, meshes), chords)
    blocks = spd_inverse(flexibility.reshape(-1, *flexibility.shape[2:]))
    basis = _basis(blocks, len(members))
    stiffness = np.asarray(basis @ _block_diagonal(blocks) @ basis.T)
    stiffness = stiffness.reshape(*flexibility.shape[:2], *stiffness.shape[1:])
    masses = np.array([meshed.masses[tube] for meshed in meshes])
    soft = SOFT * _common_share(blocks)
    return Family(tube, tubes, parts, basis, masses, chords, stiffness, soft)


def _with_joint(
    flexibility: Array,
    parts: Sequence[Segment],
    joint: TubeJoint,
    table: Array,
    chords: Mapping[str, int],
) -> Array:
    """Flexibilities (choices of the chords, options, parts, 6, 6) with what one joint gives at its end."""
    number = [k for k, part in enumerate(parts) if part.member == joint.member][joint.end]
    part = parts[number]
    turn = np.kron(np.eye(2), part.axes)
    # a force at the far end, brought to the joint: a force and, from the near end, a moment about it
    carried = np.eye(6)
    if joint.end == 0:
        carried[3:, :3] = skew(part.chord)
    carried = carried @ turn.T
    given = np.swapaxes(carried, 0, 1) @ table @ carried
    counts = list(chords.values())
    choices = np.indices(counts).reshape(len(counts), prod(counts))
    if joint.changes_with in chords:
        picked = choices[list(chords).index(joint.changes_with)]
    else:
        picked = np.zeros(max(1, choices.shape[1]), dtype=int)
    out = np.repeat(flexibility, len(picked) // len(flexibility), axis=0)
    out[:, :, number] += given[picked]
    return out


def _parts(meshed: _Meshed, members: Sequence[str], keep: set[str]) -> tuple[Segment, ...]:
    found: list[Segment] = []
    for member in members:
        found.extend(segments(meshed.beams, member, keep))
    return tuple(found)


def _basis(blocks: Array, members: int) -> Array:
    """(r, r) orthogonal: symmetric and antisymmetric sums for a mirrored pair, else the deformations as they are."""
    # Sums and differences of a mirrored pair part in-plane motion from sideways motion.
    half = blocks.shape[1] // 2
    # A strut on one of both cuts that one alone, and the halves have no mirror images.
    if members != 2 or blocks.shape[1] % 2 or not _mirrored(blocks[:, :half], blocks[:, half:]):
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


def _softened(
    model: FrameModel,
    layout: FrameLayout,
    families: Sequence[Family],
    joints: Sequence[TubeJoint],
) -> FrameModel:
    """The model with every exchangeable tube's moduli and joints scaled down to its family's soft share."""
    of = {joint.name: joint.member for joint in joints}
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
    springs = tuple(
        softer(spring, share[member]) if (member := of.get(spring.id)) in share else spring
        for spring in model.springs
    )
    return replace(model, elements=elements, springs=springs)
