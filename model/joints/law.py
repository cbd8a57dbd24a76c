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

    C = c (v vᵀ + LEAST (I - v vᵀ)),  v = (1, a, b) at unit length

with ln c, a and b polynomials in the features of the shape, fitted by ridge regression whose weight makes the
leave-one-out error least. Fillets, lugs and inserts are fitted as what they change of the bare joint of the same tubes.
C is positive definite whatever the features. The error bar is the leave-one-out error of c, from the hat matrix (Cook &
Weisberg, Residuals and Influence in Regression, 1982, ch. 2, from memory).
"""

import csv
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files

import numpy as np

from ..arrays import Array
from ..findings import Finding
from ..tubes.materials import Material
from ..tubes.sections import round_tube
from .shape import KINDS, JointKind, JointShape

BLOCKS = ((5, 0, 1), (3, 2, 4))  # r3 u1 u2 in the plane of both tubes, r1 u3 r2 across it
LEAST = 1e-3  # of a block's soft direction: what counts as rigid
FILES = ("study.csv", "frame_joints.csv", "lugged_joints.csv", "even_joints.csv")
_TURNS = np.array([0, 0, 0, 1, 1, 1])  # order of length that a direction brings with it
_DIRECTIONS = ("u1", "u2", "u3", "r1", "r2", "r3")
_NARROWEST = 0.55  # branch over chord diameter of the joints that the law is fitted to
_GIVES = 4.0  # ln c of the stiffest of them: a twentieth of what a top tube's joint gives
_TURNING = 0.5  # share of the turn in the soft direction: with less the joint gives nowhere, and beams say all
_ENOUGH = 24  # rows of a family: with fewer a surface says nothing of its error
_RIDGES = np.logspace(-6, 1, 15)
_POISSON = 0.3  # of the study
_FULL = 0.95  # leverage of a row that nearly alone decides its own value
_NEARLY = 0.02  # of a range's end: so far the surface is continued, and nobody is told


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
    numbers = bare.at(bare.inside(ratios))
    doubt = bare.doubt
    for family in _families(shape):
        change = _change(family)
        if change is None:
            findings.append(_not_studied(family))
            continue
        findings += _outside(ratios, change, only=_OWN[family])
        numbers = numbers + change.at(change.inside(ratios))
        doubt = max(doubt, change.doubt)
    total = np.zeros((6, 6))
    for block, three in zip(BLOCKS, numbers, strict=True):
        total[np.ix_(block, block)] = _whole(three)
    scale = material.E * _scale(shape.chord_diameter - shape.chord_wall)
    return JointCompliance(total / scale, doubt, tuple(findings))


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
    ("round end", 0, "ring"),
    ("fillet radius over chord diameter", 2, "fillet_radius"),
    ("sleeve length over chord diameter", 2, "sleeve_length"),
    ("sleeve wall over chord wall", 2, "sleeve_wall"),
)
_DISTANCE = 4
# What a family of the study varies beside the bare joint's shape, by place in `_RATIOS`.
_OWN = {"fillet": (6,), "lug": (7, 8), "inserted": ()}


def _ratios(shape: JointShape) -> Array:
    """(9,) numbers in the order of `_RATIOS`; they alone decide the dimensionless compliance."""
    chord = shape.chord_diameter - shape.chord_wall
    wide = (shape.branch_diameter - shape.branch_wall) / chord
    return np.array(
        [
            wide,
            chord / shape.chord_wall,
            shape.branch_wall / shape.chord_wall,
            shape.angle_deg,
            shape.to_end / chord - _foot(wide, shape.angle_deg),
            float(shape.ring),
            shape.fillet_radius / chord,
            shape.sleeve_length / chord,
            shape.sleeve_wall / shape.chord_wall,
        ]
    )


def _foot(wide: float, angle_deg: float) -> float:
    """How far the branch's edge lies towards the near end from where the axes meet, over the chord's diameter."""
    angle = np.radians(angle_deg)
    return float(0.5 / np.tan(angle) + 0.5 * wide / np.sin(angle))


def _families(shape: JointShape) -> tuple[str, ...]:
    """What sets the joint apart from a bare one."""
    found = [shape.kind] if shape.kind != "bare" else []
    return (*found, *(["inserted"] if shape.inserted else []))


def _basic(ratios: Array) -> Array:
    """(n, 6) features of a bare joint. The end's effect dies away along the chord as exp(-distance / diameter), the
    distance counted from the joint's edge: so the study is met best of several lengths and of the axes' distance."""
    beta, gamma, tau, angle, distance, ring = ratios.T[:6]
    near = np.exp(-distance)
    lean = np.cos(np.radians(angle))
    return np.column_stack(
        [np.log(beta), np.log(gamma / 30), np.log(tau), lean, near * ring, near * (1 - ring)]
    )


def _terms(ratios: Array, family: str) -> Array:
    """Columns of a fit: the features of the shape with what the family varies, and all their products."""
    features = np.column_stack([_basic(ratios), *_own(ratios, family)])
    first, second = np.triu_indices(features.shape[1])
    return np.hstack([features, features[:, first] * features[:, second]])


def _own(ratios: Array, family: str) -> tuple[Array, ...]:
    """Features of what a family adds to the bare joint: a fillet's radius; a lug's wall, by which the chord's grows to
    1 + wall of itself, alone and with the lug's length."""
    if family == "fillet":
        return (ratios[:, 6],)
    if family == "lug":
        thicker = np.log1p(ratios[:, 8])
        return thicker, thicker * ratios[:, 7]
    return ()


def _scale(diameter: float) -> Array:
    """(6, 6) powers of length that make a compliance times E dimensionless: D for a translation by a force, D² for
    a mixed entry, D³ for a rotation by a moment."""
    return np.asarray(diameter ** (1 + _TURNS[:, None] + _TURNS))


# --- the fit ---------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class _Surface:
    """One fitted surface. low, high : (9,) ranges of the ratios. middle, spread : of the terms over the study. level,
    slopes : (blocks, 3) and (blocks, terms, 3) of ln c, a, b. doubt : see `JointCompliance`."""

    family: str
    low: Array
    high: Array
    middle: Array
    spread: Array
    level: Array
    slopes: Array
    doubt: float

    def inside(self, ratios: Array) -> Array:
        """The nearest ratios within the study, or nearly so."""
        low = self.low - _NEARLY * np.abs(self.low)
        high = self.high + _NEARLY * np.abs(self.high)
        return np.asarray(np.clip(ratios, low, high))

    def at(self, ratios: Array) -> Array:
        """(blocks, 3) numbers that make the blocks, or for a family what it adds to them."""
        terms = (_terms(ratios[None], self.family)[0] - self.middle) / self.spread
        return np.asarray(self.level + terms @ self.slopes)


@cache
def _bare() -> _Surface:
    return _fit("bare", study("bare"))


@cache
def _change(family: str) -> _Surface | None:
    """What a family changes of the bare joint; None where the study holds too few of it."""
    rows = study(family)
    if len(rows) < _ENOUGH:
        return None
    return _fit(family, rows)


def _fit(family: str, rows: "Sequence[StudyRow]") -> _Surface:
    ratios = np.array([row.ratios for row in rows])
    targets = np.array([row.numbers for row in rows])
    low = ratios.min(axis=0)
    high = ratios.max(axis=0)
    if family != "bare":
        targets = targets - np.array([row.bare for row in rows], dtype=float)
    terms = _terms(ratios, family)
    middle = terms.mean(axis=0)
    spread = terms.std(axis=0)
    # a column of one value says nothing: its slope is nought
    spread[spread < 1e-9] = np.inf
    standard = (terms - middle) / spread
    level = targets.mean(axis=0)
    fits = [_ridge(standard, targets - level, weight) for weight in _RIDGES]
    slopes, doubt = min(fits, key=lambda fit: fit[1])
    return _Surface(family, low, high, middle, spread, level, slopes, doubt)


def _ridge(terms: Array, targets: Array, weight: float) -> tuple[Array, float]:
    """Slopes (blocks, terms, 3) under one weight, and the relative leave-one-out error of c in the worse block."""
    count = len(terms)
    system = terms.T @ terms + weight * count * np.eye(terms.shape[1])
    solver = np.linalg.solve(system, terms.T)
    slopes = np.einsum("tn,nbk->btk", solver, targets)
    leverage = np.minimum(np.einsum("nt,tn->n", terms, solver) + 1 / count, _FULL)
    left = targets - np.einsum("nt,btk->nbk", terms, slopes)
    # What the fit without a row would miss that row by: no refit is needed.
    missed = np.expm1(np.abs(left[:, :, 0]) / (1 - leverage)[:, None])
    return slopes, float(np.sqrt(np.mean(missed**2, axis=0)).max())


def _whole(three: Array) -> Array:
    """(3, 3) dimensionless block from ln c, a, b."""
    soft = np.array([1.0, three[1], three[2]])
    along = np.outer(soft, soft) / (soft @ soft)
    return np.asarray(np.exp(three[0]) * (along + LEAST * (np.eye(3) - along)))


def _inside(ratios: Array) -> Array:
    """(6, 6) what the branch's beam gives between the chord's axis and its wall, dimensionless, at the axes' meeting.

    The integral of the work of both forces along the stretch; section as round tube, shear after Cowper 1966.
    """
    wide, over_wall, wall_ratio, angle_deg = ratios[:4]
    wall = wall_ratio / over_wall
    section = round_tube(wide + wall, wall, _POISSON)
    shear_modulus = 0.5 / (1 + _POISSON)
    angle = np.radians(angle_deg)
    length = 0.5 / np.sin(angle)
    branch = np.array([np.cos(angle), np.sin(angle), 0.0])
    along = np.outer(branch, branch)
    square = np.eye(3) - along
    force = along / section.A + square / (shear_modulus * section.Asy)
    moment = along / (shear_modulus * section.J) + square / section.Iy
    # the moment of a force at the axes' meeting, per length along the branch: force x branch
    arm = np.cross(np.eye(3), branch).T
    given = np.zeros((6, 6))
    given[:3, :3] = length * force + length**3 / 3 * arm.T @ moment @ arm
    given[3:, :3] = length**2 / 2 * moment @ arm
    given[:3, 3:] = given[3:, :3].T
    given[3:, 3:] = length * moment
    return given


def soft_direction(block: Array) -> Array | None:
    """ln c, a, b of a dimensionless block (3, 3); None where it is no turn of the branch that gives most."""
    values, axes = np.linalg.eigh((block + block.T) / 2)
    softest = axes[:, -1]
    if values[-1] <= 0 or abs(softest[0]) < _TURNING:
        return None
    return np.array([np.log(values[-1]), softest[1] / softest[0], softest[2] / softest[0]])


# --- the study -------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class StudyRow:
    """One joint of the study: ratios (9,) in the order of the law, numbers (2, 3) ln c, a, b of what the walls give in
    both blocks, compliance (6, 6) dimensionless as the shells gave it, bare the numbers of the bare joint that it
    varies; None for that one itself."""

    ratios: Array
    numbers: Array
    compliance: Array
    bare: Array | None = None


@cache
def study(family: str) -> tuple[StudyRow, ...]:
    """The joints of one family of the study: bare, fillet, lug, inserted, without those that hardly give."""
    bare = {_place(row): read for row in _table("bare") if (read := _row(row)) is not None}
    if family == "bare":
        return tuple(row for row in bare.values() if _giving(row))
    found = []
    for row in _table(family):
        read = _row(row)
        twin = bare.get(_place(row))
        if read is not None and twin is not None and _gives_enough(read):
            found.append(replace(read, bare=twin.numbers))
    return tuple(found)


def _giving(row: StudyRow) -> bool:
    """Whether a bare joint belongs to the law: what hardly gives, and slender branches, would bend the surface where
    frames have their joints."""
    return bool(row.ratios[0] >= _NARROWEST and _gives_enough(row))


def _gives_enough(row: StudyRow) -> bool:
    return bool(row.numbers[:, 0].min() >= _GIVES)


def _place(row: Mapping[str, str]) -> tuple[str, str]:
    """Joints of one number and the same near end differ in their family alone."""
    return row["number"], row["ring"]


@cache
def _table(family: str) -> tuple[dict[str, str], ...]:
    rows: list[dict[str, str]] = []
    for name in FILES:
        file = files(__package__).joinpath(name)
        if file.is_file():
            text = file.read_text(encoding="utf-8")
            lines = [line for line in text.splitlines() if line and not line.startswith("#")]
            rows += csv.DictReader(lines)
    return tuple(row for row in rows if row["family"] == family)


def _row(row: dict[str, str]) -> StudyRow | None:
    ratios = np.array([float(row[column]) for _, _, column in _RATIOS])
    ratios[_DISTANCE] -= _foot(ratios[0], ratios[3])
    matrix = np.zeros((6, 6))
    for i, one in enumerate(_DIRECTIONS):
        for j, other in enumerate(_DIRECTIONS):
            text = row.get(f"c_{one}{other}")
            if text is not None:
                matrix[i, j] = matrix[j, i] = float(text)
    walls = matrix + _inside(ratios)
    found = [soft_direction(walls[np.ix_(block, block)]) for block in BLOCKS]
    numbers = [three for three in found if three is not None]
    if len(numbers) < len(BLOCKS):
        return None
    return StudyRow(ratios, np.array(numbers), matrix)


# --- findings -------------------------------------------------------------------------------------------------------
def _not_studied(family: str) -> Finding:
    return Finding(
        "joint-outside-study",
        "warning",
        f"no joint of the kind '{family}' has been studied; taken without, so it gives more here than it does",
        family,
    )


def _outside(ratios: Array, surface: _Surface, only: Iterable[int] = range(6)) -> list[Finding]:
    found = []
    for k in only:
        name, digits, _ = _RATIOS[k]
        value = ratios[k]
        low = surface.low[k]
        high = surface.high[k]
        if value != surface.inside(ratios)[k]:
            found.append(
                Finding(
                    "joint-outside-study",
                    "warning",
                    f"{name} {value:.{digits}f} lies outside the joints studied, {low:.{digits}f} to "
                    f"{high:.{digits}f}; the nearest studied joint is taken",
                    name,
                )
            )
    return found
