"""The compliance of a joint from its shape: a smooth surface through the study, positive definite everywhere.

The study holds what the end of the branch moves relative to the chord's axis beyond centre-line beams, one row per
joint computed in shells (`FILES`). A branch begins at the chord's wall, its beam at the chord's axis: with that stretch
of beam added (`_inside`), what is left is what the WALLS give, and its soft directions are positive and smooth. They
are what the law answers, for a branch whose stretch inside the chord (`JointShape.inside`) is rigid: shells are then

    chord through the joint + walls + branch from the wall on,

each once. Mirror symmetry in the plane of both tubes parts the walls' compliance into two blocks: in the plane
(r3 u1 u2) and across it (r1 u3 r2). Each has one direction in which a thin joint gives, many times softer than the
other two: a turn about a place near the chord's wall. So a block, made dimensionless by E and the chord's mid-surface
diameter, is

    C = c (v vᵀ + diag(0, p, q)),  v = (1, a, b)

c the turn under a moment, a and b what that moment moves over it, both as the study has them; p and q what a force, or
the branch's own twist, moves beside that, over c. ln c, a, b, ln p and ln q are smooth in the features of the shape
(`surface`). Fillets, lugs and inserts are fitted as what they change of the bare joint of the same tubes. A lug or an
insert stiffens the tubes under it as beams too, while the beams around the joint stay those of plain tubes: C with that
relief added is what the surface holds, and the relief, in closed form, is taken off again. C is positive definite
whatever the features. The error bar is the leave-one-out error of c.
"""

import csv
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np

from ..arrays import Array
from ..findings import Finding
from ..tubes.materials import Material
from .shape import KINDS, JointKind, JointShape
from .stretch import RELIEVED, beam_inside, foot, relief_of
from .surface import TRIED, TRIED_ROUGHLY, Surface, fit, relative, scattered

BLOCKS = ((5, 0, 1), (3, 2, 4))  # r3 u1 u2 in the plane of both tubes, r1 u3 r2 across it
_ROWS = np.array(BLOCKS)[:, :, None]
_COLUMNS = np.array(BLOCKS)[:, None, :]
LEAST = 0.004  # of a block's turn: what counts as rigid
FILE = "frame_joints.csv"
_TURNS = np.array([0, 0, 0, 1, 1, 1])  # order of length that a direction brings with it
_DIRECTIONS = ("u1", "u2", "u3", "r1", "r2", "r3")
_GIVES = 4.0  # ln c of the stiffest fillet or lug that counts: a twentieth of what a top tube's bare joint gives
_REMAINS = 0.2  # of c at least, when what a sleeve saves its tubes as beams is taken off
# (reach, scatter) of both surfaces of a family, of the least leave-one-out error. Looking for them takes ten times as
# long as the fit, so a test looks (`test_the_smoothest_surfaces_are_those_told`) and no command does.
_SMOOTHEST: dict[str, tuple[tuple[float, float], tuple[float, float]]] = {
    "bare": ((8.0, 0.002), (4.0, 0.02)),
    "fillet": ((12.0, 0.002), (3.0, 0.1)),
    "lug": ((4.0, 0.01), (3.0, 0.1)),
    "inserted": ((3.0, 0.03), (3.0, 0.1)),
}
_TURNED = 3  # of a block's five numbers, those of a moment
_ENOUGH = 24  # rows of a family: with fewer a surface says nothing of its error
_FAR_DYING = 0.7  # of the near end's length: so the study is met best, a held end being felt less far than a free one
# Of the bare joint's features: what an end does changes faster than what the tubes' sizes do. What a fillet or a lug
# changes of it does not.
_LIVELY = (1.0, 1.0, 1.0, 1.0, 2.0, 2.0, 2.0)
_NEAR = 0.25  # chord diameters to the far end, or another branch, below which the study has none
_FAR = 4.0  # chord diameters to an end: beyond them it is not felt, and the study ends there
_NEARLY = 0.05  # of a range: so far beyond it the surface is continued, and nobody is told


@dataclass(frozen=True, eq=False)
class JointCompliance:
    """What the walls of a joint give, between the chord's axis and a branch that is rigid from there to the wall.

    matrix : (6, 6) u1 u2 u3 r1 r2 r3 in the joint's axes, mm/N, rad/N, rad/(N mm); zero for a rigid joint.
    doubt : relative error to expect of it, leave-one-out. findings : what to know.
    """

    matrix: Array
    doubt: float
    findings: tuple[Finding, ...] = ()


def joint_compliance(shape: JointShape, material: Material) -> JointCompliance:
    """What the walls of a joint of this shape give; E scales it, Poisson's ratio is taken as the study's 0.3.

    Beyond the study's ranges the nearest shape inside is taken, with a finding that names item, value and range.
    """
    if shape.kind == "rigid":
        return JointCompliance(np.zeros((6, 6)), 0.0)
    bare = _bare()
    ratios = _ratios(shape)
    findings = _outside(ratios, bare)
    plain = bare.at(bare.inside(ratios))
    numbers = plain
    doubt = bare.doubt
    relief = np.zeros((6, 6))
    for family in _families(shape):
        change = _change(family)
        if change is None:
            findings.append(_not_studied(family))
            continue
        findings += _outside(ratios, change, only=_OWN[family])
        numbers = numbers + change.at(change.inside(ratios))
        doubt = max(doubt, change.doubt)
        relief += relief_of(change.inside(ratios), family)
    given = _relieved(blocks_of(numbers), relief)
    if numbers is not plain:
        given = no_more_than(given, blocks_of(plain))
    scale = material.E * scale_of(shape.chord_diameter - shape.chord_wall)
    return JointCompliance(in_place(given) / scale, doubt, tuple(findings))


def studied_kinds() -> tuple[JointKind, ...]:
    """Rigid, and every kind of joint of which the study holds enough."""
    return tuple(kind for kind in KINDS if kind == "rigid" or len(study(kind)) >= _ENOUGH)


# --- the shape in numbers ------------------------------------------------------------------------------------------
# Name for a finding and its digits; the study's column. Lengths are over the chord's mid-surface diameter.
_RATIOS = (
    ("branch over chord diameter", 2, "branch_over_chord"),
    ("chord diameter over wall", 1, "chord_over_wall"),
    ("branch over chord wall", 2, "wall_ratio"),
    ("angle in degrees", 1, "angle_deg"),
    ("distance from the joint's edge to the chord's end over the chord's diameter", 2, "to_end"),
    ("distance to the chord's other end over the chord's diameter", 2, "to_far_end"),
    ("round end", 0, "ring"),
    ("fillet radius over chord diameter", 2, "fillet_radius"),
    ("sleeve length over chord diameter", 2, "sleeve_length"),
    ("sleeve wall over chord wall", 2, "sleeve_wall"),
)
_DISTANCE = 4
_FAR_DISTANCE = 5
_BARE = range(7)  # what a bare joint is known by; the rest is a family's own
# What a family of the study varies beside the bare joint's shape, by place in `_RATIOS`.
_OWN = {"fillet": (7,), "lug": (8, 9), "inserted": ()}


def _ratios(shape: JointShape) -> Array:
    """(10,) numbers in the order of `_RATIOS`; they alone decide the dimensionless compliance."""
    chord = shape.chord_diameter - shape.chord_wall
    wide = (shape.branch_diameter - shape.branch_wall) / chord
    near, far = foot(wide, shape.angle_deg)
    return np.array(
        [
            wide,
            chord / shape.chord_wall,
            shape.branch_wall / shape.chord_wall,
            shape.angle_deg,
            min(shape.to_end / chord - near, _FAR),
            min(max(shape.to_far_end / chord - far, _NEAR), _FAR),
            float(shape.ring),
            shape.fillet_radius / chord,
            shape.sleeve_length / chord,
            shape.sleeve_wall / shape.chord_wall,
        ]
    )


def _families(shape: JointShape) -> tuple[str, ...]:
    """What sets the joint apart from a bare one."""
    found = [shape.kind] if shape.kind != "bare" else []
    return (*found, *(["inserted"] if shape.inserted else []))


def _basic(ratios: Array) -> Array:
    """(n, 7) features of a bare joint. Of a branch's width the arc of chord beside it counts, which ends steeply where
    both are of one size. An end's effect dies away along the chord as a tube's ovalisation does, over a length that
    grows with diameter and root of diameter over wall; distances are counted from the joint's edges."""
    beta, gamma, tau, angle, distance, far_distance, ring = ratios.T[:7]
    dying = np.sqrt(gamma / 30)
    near = np.exp(-distance / dying)
    far = np.exp(-far_distance / (_FAR_DYING * dying))
    lean = np.cos(np.radians(angle))
    arc = np.arccos(np.minimum(beta, 1.0))
    return np.column_stack(
        [arc, np.log(gamma / 30), np.log(tau), lean, near * ring, near * (1 - ring), far]
    )


def _features(ratios: Array, family: str) -> Array:
    """Columns of a fit: the features of the shape with what the family varies."""
    return np.column_stack([_basic(ratios), *_own(ratios, family)])


def _own(ratios: Array, family: str) -> tuple[Array, ...]:
    """Features of what a family adds to the bare joint: a fillet's radius, alone and over the branch's wall; a lug's
    wall, by which the chord's grows to 1 + wall of itself and the branch's likewise, and with the lug's length."""
    _, gamma, tau, _, _, _, _, radius, length, wall = ratios.T
    if family == "fillet":
        return radius, np.log1p(0.5 * radius * gamma / tau)
    if family == "lug":
        thicker = np.log1p(wall)
        return thicker, thicker * length, np.log1p(wall / tau)
    return ()


def scale_of(diameter: float) -> Array:
    """(6, 6) powers of length that make a compliance times E dimensionless: D for a translation by a force, D² for
    a mixed entry, D³ for a rotation by a moment."""
    return np.asarray(diameter ** (1 + _TURNS[:, None] + _TURNS))


# --- the fit ---------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class Law:
    """One family's surfaces with the ranges (10,) of the ratios they were fitted to.

    turned : of what a moment does, ln c, a, b. beside : of what a force or the twist moves beside it, ln p and ln q:
    small, often hardly more than the shells' own rounding, so of a reach and a scatter of its own, and never beyond
    what joints of the study have, least to most (2, blocks, 2).
    """

    family: str
    low: Array
    high: Array
    turned: Surface
    beside: Surface
    least_to_most: Array

    @property
    def doubt(self) -> float:
        return self.turned.error

    def inside(self, ratios: Array) -> Array:
        """The nearest ratios within the study, or nearly so."""
        return nearest_studied(ratios, self.low, self.high)

    def at(self, ratios: Array) -> Array:
        """(blocks, 5) numbers that make the blocks, or for a family what it adds to them."""
        features = _features(ratios[None], self.family)[0]
        beside = np.clip(self.beside.at(features), *self.least_to_most)
        return np.hstack([self.turned.at(features), beside])


@cache
def _bare() -> Law:
    return fitted("bare", study("bare"))


@cache
def _change(family: str) -> Law | None:
    """What a family changes of the bare joint; None where the study holds too few of it."""
    rows = study(family)
    if len(rows) < _ENOUGH:
        return None
    return fitted(family, rows)


def fitted(family: str, rows: "Sequence[StudyRow]", anew: bool = False) -> Law:
    """The surfaces through joints of one family. anew : how smooth they are is looked for once more."""
    smoothest, smoothest_beside = _SMOOTHEST[family]
    tried: Sequence[tuple[float, float]] = (smoothest,)
    tried_beside: Sequence[tuple[float, float]] = (smoothest_beside,)
    if anew:
        tried = TRIED
        tried_beside = TRIED_ROUGHLY
    ratios = np.array([row.ratios for row in rows])
    targets = np.array([row.numbers for row in rows])
    if family != "bare":
        targets = targets - np.array([row.bare for row in rows], dtype=float)
    features = _features(ratios, family)
    lively = _LIVELY if family == "bare" else 1.0
    shares = np.array([row.share for row in rows])
    # Where a relief was added, what is left of some joints is next to nothing.
    gives = np.array([row.gives or family not in RELIEVED for row in rows])

    def measure(missed: Array) -> float:
        """Of c as it is without the relief."""
        return relative(missed[gives], shares[gives])

    turned = fit(features, targets[:, :, :_TURNED], measure, lively, tried)
    others = targets[:, :, _TURNED:]
    beside = fit(features, others, scattered, lively, tried_beside)
    least_to_most = np.array([others.min(axis=0), others.max(axis=0)])
    return Law(family, ratios.min(axis=0), ratios.max(axis=0), turned, beside, least_to_most)


def blocks_of(numbers: Array) -> Array:
    """(blocks, 3, 3) dimensionless blocks from the five numbers of each, (blocks, 5); positive definite."""
    moved = numbers[:, :_TURNED].copy()
    moved[:, 0] = 1.0
    given = moved[:, :, None] * moved[:, None, :]
    # Nothing moves the turn beside the moment: the other two alone make the block definite.
    given[:, [1, 2], [1, 2]] += np.maximum(np.exp(numbers[:, _TURNED:]), LEAST)
    return np.asarray(np.exp(numbers[:, :1, None]) * given)


def in_place(blocks: Array) -> Array:
    """(6, 6) of the two blocks (2, 3, 3), in the order u1 u2 u3 r1 r2 r3."""
    total = np.zeros((6, 6))
    total[_ROWS, _COLUMNS] = blocks
    return total


def no_more_than(given: Array, most: Array) -> Array:
    """The nearest compliances (..., n, n) to those given that give no more than others under any load, all positive
    definite.

    What is brazed or sleeved on to a joint, or put into its chord, adds to its energy at every movement, so it can give
    no more anywhere (principle of least potential energy). Where a surface says otherwise, it is the surface that errs.
    """
    root = np.linalg.cholesky(most)
    inverse = np.linalg.inv(root)
    shares, ways = np.linalg.eigh(inverse @ given @ np.swapaxes(inverse, -1, -2))
    turned = root @ ways
    held = turned * np.minimum(shares, 1.0)[..., None, :]
    return np.asarray(held @ np.swapaxes(turned, -1, -2))


def block_numbers(block: Array) -> Array | None:
    """(5,) numbers of a dimensionless block (3, 3); None where a moment does not turn the branch its own way."""
    turn = block[0, 0]
    if turn <= 0:
        return None
    moved = block[0, 1:] / turn
    beside = np.diag(block)[1:] / turn - moved**2
    return np.array([np.log(turn), *moved, *np.log(np.maximum(beside, LEAST))])


def _relieved(blocks: Array, relief: Array) -> Array:
    """(blocks, 3, 3) without the relief (6, 6), or without as much of it as leaves a share of the turn."""
    if not relief.any():
        return blocks
    numbers = []
    for block, saved in zip(blocks, relief[_ROWS, _COLUMNS], strict=True):
        part = min(1.0, (1.0 - _REMAINS) * block[0, 0] / saved[0, 0])
        numbers.append(block_numbers(block - part * saved))
    # None of them is None: a share of each turn remains.
    return blocks_of(np.array(numbers, dtype=float))


# --- the study -------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class StudyRow:
    """One joint of the study: ratios (10,) in the order of the law; numbers (2, 5) of what the walls give in both
    blocks, with the relief of a sleeve added; compliance (6, 6) dimensionless as the shells gave it; share (2,) of each
    block's turn that is left without the relief; bare the numbers of the bare joint that it varies, None for that one
    itself."""

    ratios: Array
    numbers: Array
    compliance: Array
    share: Array
    bare: Array | None = None

    @property
    def gives(self) -> bool:
        """Enough to count."""
        left = np.exp(self.numbers[:, 0]) * self.share
        return bool(left.min() >= np.exp(_GIVES))


@cache
def study(family: str) -> tuple[StudyRow, ...]:
    """The joints of one family of the study: bare, fillet, lug, inserted."""
    bare = _bare_joints()
    if family == "bare":
        return tuple(bare.values())
    found = []
    for row in _tables().get(family, []):
        read = _row(row)
        twin = bare.get(_place(row))
        # Without a relief, what hardly gives would bend the surface where joints give.
        if read is not None and twin is not None and (read.gives or family in RELIEVED):
            found.append(replace(read, bare=twin.numbers))
    return tuple(found)


def _place(row: Mapping[str, str]) -> tuple[str, str]:
    """Joints of one number and the same near end differ in their family alone."""
    return row["number"], row["ring"]


@cache
def _bare_joints() -> dict[tuple[str, str], StudyRow]:
    """By place: what the other families are held against."""
    return {_place(row): read for row in _tables()["bare"] if (read := _row(row)) is not None}


@cache
def _tables() -> dict[str, list[dict[str, str]]]:
    """Family -> its rows of the data file."""
    tables: dict[str, list[dict[str, str]]] = {}
    for row in data_rows(FILE):
        tables.setdefault(row["family"], []).append(row)
    return tables


def data_rows(name: str) -> list[dict[str, str]]:
    """Rows of a data file of the study, by its columns' names."""
    text = files(__package__).joinpath(name).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return list(csv.DictReader(lines))


def row_matrix(row: Mapping[str, str], letter: str) -> Array:
    """(6, 6) compliance in the columns of a row that begin with a letter; those left out are nought."""
    matrix = np.zeros((6, 6))
    for i, one in enumerate(_DIRECTIONS):
        for j, other in enumerate(_DIRECTIONS):
            text = row.get(f"{letter}_{one}{other}")
            if text is not None:
                matrix[i, j] = matrix[j, i] = float(text)
    return matrix


def _row(row: dict[str, str]) -> StudyRow | None:
    ratios = np.array([float(row[column]) for _, _, column in _RATIOS])
    near, far = foot(ratios[0], ratios[3])
    ratios[_DISTANCE] = min(ratios[_DISTANCE] - near, _FAR)
    ratios[_FAR_DISTANCE] = min(ratios[_FAR_DISTANCE] - far, _FAR)
    matrix = row_matrix(row, "c")
    walls = matrix + beam_inside(*ratios[:4])
    whole = walls + relief_of(ratios, row["family"])
    found = [block_numbers(whole[np.ix_(block, block)]) for block in BLOCKS]
    numbers = [five for five in found if five is not None]
    if len(numbers) < len(BLOCKS):
        return None
    turns = [block[0] for block in BLOCKS]
    share = walls[turns, turns] / whole[turns, turns]
    return StudyRow(ratios, np.array(numbers), matrix, share)


# --- findings -------------------------------------------------------------------------------------------------------
def _not_studied(family: str) -> Finding:
    return Finding(
        "joint-outside-study",
        "warning",
        f"no joint of the kind '{family}' has been studied; taken without, so it gives more here than it does",
        family,
    )


def _outside(ratios: Array, law: Law, only: Iterable[int] = _BARE) -> list[Finding]:
    rows = [*only]
    names = [_RATIOS[k][:2] for k in rows]
    inside = law.inside(ratios)
    return list(outside_study(ratios[rows], inside[rows], law.low[rows], law.high[rows], names))


def nearest_studied(ratios: Array, low: Array, high: Array) -> Array:
    """The nearest ratios within the study's ranges, or nearly so."""
    more = _NEARLY * (high - low)
    return np.asarray(np.clip(ratios, low - more, high + more))


def outside_study(
    ratios: Array, nearest: Array, low: Array, high: Array, names: Sequence[tuple[str, int]]
) -> Iterator[Finding]:
    """A finding for each ratio that is not its nearest one within the study. names : with digits to show."""
    for k, (name, digits) in enumerate(names):
        if ratios[k] != nearest[k]:
            yield Finding(
                "joint-outside-study",
                "warning",
                f"{name} {ratios[k]:.{digits}f} lies outside the joints studied, {low[k]:.{digits}f} to "
                f"{high[k]:.{digits}f}; the nearest studied joint is taken",
                name,
            )
