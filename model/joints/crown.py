"""What a fork crown gives where two blades and the steerer meet it: a law from crown tubes in shells, or a solid crown.

`crown_joints.csv` holds crown tubes with lids, blades welded to them and a steerer that goes through. Two joints come
of each: a blade's and the steerer's, as each moves when the other blade is loaded too (the steerer's) or beside that
(the blade's). As in `law` the stretch inside the crown is given back, so that blade and steerer are rigid from the
crown's axis to its wall.

In the model of a fork the crown race, a blade's upper node and the ends of the crown's own beam lie on one level; the
crown hangs below it, its top at the race. So a crown's axis lies half its height below the nodes, and a blade is rigid
down to the crown's lower wall; the compliances are carried up to the nodes.

A solid crown gives what an elastic half-space gives under a rigid disc of the blade's size (K. L. Johnson, Contact
Mechanics, 1985, ch. 3; from memory): a tenth of what a beam inside it would.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from math import cos, isfinite, radians, sin
from typing import Literal

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..findings import Finding
from ..tubes.materials import Material
from ..tubes.sections import round_tube
from .law import (
    BLOCKS,
    JointCompliance,
    block_numbers,
    blocks_of,
    data_rows,
    in_place,
    nearest_studied,
    outside_study,
    row_matrix,
    scale_of,
)
from .shape import JointKind
from .stretch import POISSON, beam_inside
from .surface import Surface, fit, relative

CrownPart = Literal["blade", "steerer"]
FILE = "crown_joints.csv"
# From the study's axes (along the crown outwards, up the steerer, across) to a joint's, its second axis down the blade.
_DOWN = np.kron(np.eye(2), np.diag([1.0, -1.0, -1.0]))
_STEERERS = (
    1,
    5,
    6,
)  # features of the steerer's joint: crown and steerer alone, the blades hardly change it
_GAP = 0.5  # crown diameters over which the steerer's holding dies away along the crown
_STIFFEST = 0.02  # of the turn of the steerer's beam inside the crown: what counts as rigid
_STEEPEST = 2.0  # crown diameters: the steerer's joint turns about a place no farther off than that
_RANGES = (
    ("blade over crown diameter", 2),
    ("crown diameter over wall", 1),
    ("blade over crown wall", 2),
    ("degrees that the blade leans outwards", 1),
    ("gap between steerer and blade over the crown's diameter", 2),
    ("steerer over crown diameter", 2),
    ("steerer over crown wall", 2),
)
_COLUMNS = (
    "blade_over_crown",
    "crown_over_wall",
    "wall_ratio",
    "lean_deg",
    "gap",
    "steerer_over_crown",
    "steerer_wall_ratio",
)


@dataclass(frozen=True)
class CrownShape:
    """One joint of a fork crown, outside diameters and walls in mm.

    part : whose joint it is. lean_deg : by which a blade leaves square to the crown, outwards. half : from the
    steerer's axis to where the blade begins on the crown's. A crown whose wall is half its diameter is solid.
    """

    part: CrownPart
    crown_diameter: float
    crown_wall: float
    blade_diameter: float
    blade_wall: float
    steerer_diameter: float
    steerer_wall: float
    lean_deg: float
    half: float
    kind: JointKind = "bare"

    def __post_init__(self) -> None:
        for name in ("crown_diameter", "crown_wall", "blade_diameter", "blade_wall", "half"):
            value = getattr(self, name)
            if not (isfinite(value) and value > 0):
                raise ModelError(
                    f"a crown's {name.replace('_', ' ')} is {value} mm; it must be > 0"
                )

    @property
    def solid(self) -> bool:
        return self.crown_wall >= self.crown_diameter / 2

    @property
    def below(self) -> float:
        """Of the crown's axis below the crown race, mm."""
        return self.crown_diameter / 2

    @property
    def inside(self) -> float:
        """Length of the part's axis that is rigid, from the node at the crown race's level, mm."""
        if self.part == "steerer":
            return 0.0
        reach = self.below
        if self.solid:
            reach += self.crown_diameter / 2
        else:
            reach += (self.crown_diameter - self.crown_wall) / 2
        return reach / cos(radians(self.lean_deg))


def crown_compliance(shape: CrownShape, material: Material) -> JointCompliance:
    """What a crown gives at a blade's or the steerer's end; axes of `shape` with e1 along the crown (outwards) and e2
    along the part, away from the crown.

    Beyond the study's ranges the nearest crown inside is taken, with a finding.
    """
    if shape.kind == "rigid":
        return JointCompliance(np.zeros((6, 6)), 0.0)
    if shape.solid:
        return JointCompliance(_half_space(shape, material), 0.0)
    law = _law()
    ratios = _ratios(shape)
    nearest = nearest_studied(ratios, law.low, law.high)
    findings = []
    if shape.part == "blade":
        findings = list(outside_study(ratios, nearest, law.low, law.high, _RANGES))
    if shape.part == "blade" and shape.kind != "bare":
        findings.append(
            Finding(
                "joint-outside-study",
                "warning",
                f"crowns were studied with bare welds alone; a {shape.kind} makes this one stiffer than it is taken",
                shape.kind,
            )
        )
    matrix = law.blade(nearest) if shape.part == "blade" else law.steerer(nearest)
    diameter = shape.crown_diameter - shape.crown_wall
    carried = _raised(matrix / (material.E * scale_of(diameter)), shape)
    return JointCompliance(carried, law.doubt, tuple(findings))


def _raised(matrix: Array, shape: CrownShape) -> Array:
    """From the crown's axis to the node at the crown race's level."""
    # Second axis: down the blade, or up the steerer.
    towards_race = shape.below if shape.part == "steerer" else -shape.below
    motion = np.eye(6)
    # A turn about the first axis moves what lies along the second one along the third, and the other way round.
    motion[2, 3] = towards_race
    motion[0, 5] = -towards_race
    return np.asarray(motion @ matrix @ motion.T)


def _half_space(shape: CrownShape, material: Material) -> Array:
    """Under a rigid disc on the crown's lower side, at the node."""
    a = shape.blade_diameter / 2
    nu = POISSON
    given = np.zeros(6)
    given[[0, 2]] = (2 - nu) * (1 + nu) / (4 * a)
    given[1] = (1 - nu**2) / (2 * a)
    given[[3, 5]] = 3 * (1 - nu**2) / (4 * a**3)
    given[4] = 3 * (1 + nu) / (8 * a**3)
    motion = np.eye(6)
    motion[2, 3] = -shape.crown_diameter
    motion[0, 5] = shape.crown_diameter
    return np.asarray(motion @ np.diag(given / material.E) @ motion.T)


# --- the law --------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class _CrownLaw:
    """Surfaces of both joints. low, high : (7,) ranges of the ratios. doubt : of what a blade feels of the whole crown,
    relative, leave-one-out."""

    low: Array
    high: Array
    blades: Surface
    steerers: Surface
    doubt: float

    def blade(self, ratios: Array) -> Array:
        """(6, 6) dimensionless, at the crown's axis, in the joint's axes."""
        return in_place(blocks_of(self.blades.at(_features(ratios))))

    def steerer(self, ratios: Array) -> Array:
        """(6, 6) dimensionless, at the crown's axis, second axis up the steerer."""
        one, other, along = self.steerers.at(_features(ratios)[list(_STEERERS)])
        bend = _beam_turn(ratios)
        total = np.diag(np.full(6, _STIFFEST * bend))
        for turn, move, (share, coupling) in ((3, 2, one[:2]), (5, 0, other[:2])):
            # Where the crown makes the steerer stiffer than its beam outside, next to nothing is left.
            share = max(float(share), _STIFFEST)
            lever = float(np.clip(coupling / share, -_STEEPEST, _STEEPEST))
            vector = np.zeros(6)
            vector[turn] = 1.0
            vector[move] = lever
            total += share * bend * np.outer(vector, vector)
        total[4, 4] += np.exp(along[0]) * bend * (1 + POISSON)
        total[1, 1] += np.exp(along[1]) * bend
        return total


@cache
def _law() -> _CrownLaw:
    rows = crown_rows()
    ratios = np.array([row.ratios for row in rows])
    features = np.array([_features(row.ratios) for row in rows])
    blades = fit(features, np.array([row.blade for row in rows]), relative)
    turns = np.array([row.turns for row in rows])
    steerers = fit(
        features[:, _STEERERS],
        np.array([row.steerer for row in rows]),
        # Both blades load the steerer's joint, so each feels it twice.
        lambda missed: float(np.sqrt(np.mean((2 * missed[:, :2, 0] / turns) ** 2, axis=0)).max()),
    )
    doubt = float(np.hypot(blades.error, steerers.error))
    return _CrownLaw(ratios.min(axis=0), ratios.max(axis=0), blades, steerers, doubt)


def _features(ratios: Array) -> Array:
    blade, over_wall, wall, lean, gap, steerer, steerer_wall = ratios
    return np.array(
        [
            np.log(blade),
            np.log(over_wall / 14),
            np.log(wall),
            sin(radians(lean)),
            np.exp(-gap / _GAP),
            np.log(steerer),
            np.log(steerer_wall),
        ]
    )


def _ratios(shape: CrownShape) -> Array:
    crown = shape.crown_diameter - shape.crown_wall
    blade = (shape.blade_diameter - shape.blade_wall) / crown
    steerer = (shape.steerer_diameter - shape.steerer_wall) / crown
    return np.array(
        [
            blade,
            crown / shape.crown_wall,
            shape.blade_wall / shape.crown_wall,
            shape.lean_deg,
            shape.half / crown - 0.5 * steerer - 0.5 * blade,
            steerer,
            shape.steerer_wall / shape.crown_wall,
        ]
    )


def _beam_turn(ratios: Array) -> float:
    """Turn under a moment of the steerer's beam from the crown's axis to its wall, dimensionless."""
    wall = ratios[6] / ratios[1]
    return float(0.5 / round_tube(ratios[5] + wall, wall, POISSON).Iz)


# --- the study ------------------------------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class CrownRow:
    """One crown of the study: ratios (7,); blade (2, 5) the numbers of its blocks (`law`); steerer (3, 2): turn about
    the crown and about the axis across, each with its coupling to the movement, over the turn of its beam inside, and
    logarithms of the twist over that beam's and of the movement along over its turn; turns (2,) of the blade's joint
    over the turn of the steerer's beam."""

    ratios: Array
    blade: Array
    steerer: Array
    turns: Array


def crown_rows() -> Sequence[CrownRow]:
    """The crowns of the study."""
    return [_row(row) for row in data_rows(FILE)]


def _row(row: dict[str, str]) -> CrownRow:
    ratios = np.array([float(row[column]) for column in _COLUMNS])
    wide, over_wall, wall_ratio, lean = ratios[:4]
    blade = _DOWN @ row_matrix(row, "b") @ _DOWN + beam_inside(
        wide, over_wall, wall_ratio, 90 - lean
    )
    steerer = row_matrix(row, "s") + beam_inside(ratios[5], over_wall, ratios[6], 90.0)
    numbers = [block_numbers(blade[np.ix_(block, block)]) for block in BLOCKS]
    bend = _beam_turn(ratios)
    of_steerer = [
        [steerer[3, 3] / bend, steerer[3, 2] / bend],
        [steerer[5, 5] / bend, steerer[5, 0] / bend],
        [np.log(steerer[4, 4] / bend / (1 + POISSON)), np.log(steerer[1, 1] / bend)],
    ]
    turns = np.array([blade[3, 3], blade[5, 5]]) / bend
    return CrownRow(ratios, np.array(numbers, dtype=float), np.array(of_steerer), turns)
