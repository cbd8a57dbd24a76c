"""Fork crowns: what the study takes for a joint, the law made from it, and whole forks in shells beside beams.

Sources: stiffness of a rigid disc on an elastic half-space (K. L. Johnson, Contact Mechanics, 1985, ch. 3; in the form
that is usual for foundations, from memory); the product's own solver for the definition; shells of whole forks, which
the law was not made from.
"""

import json
from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.joints import crown as law
from droptrail.model.joints import stretch
from droptrail.model.joints.crown import CrownShape, crown_compliance
from droptrail.model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    RigidLink,
    soft_joint,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import round_tube
from droptrail.validation.joints import crown
from droptrail.validation.joints.crown import CrownJoint, crown_compliances
from droptrail.validation.joints.crown_study import CrownSample, crown_places
from droptrail.validation.joints.results import RESULTS
from droptrail.validation.joints.single import TubeSection
from droptrail.validation.joints.whole_fork import FORKS, LOADS, forks_beside
from helpers_gmsh import needs_gmsh

STEEL = Material("steel", 205000.0, 205000.0 / 2.6, 7.85e-9)
JOINT = CrownJoint(1.0, 0.07, 0.75, 0.035, 0.85, 0.06, 5.0, 1.1)
ACROSS = (0.0, 0.0, 1.0)


class Mesh:
    """As much of a mesh as the beams ask for."""

    points = np.zeros((0, 3))


def spread(seed: int, size: float) -> np.ndarray:
    half = np.random.default_rng(seed).normal(size=(6, 6))
    return size * (half @ half.T + np.eye(6))


def mirrored(matrix: np.ndarray) -> np.ndarray:
    turn = np.diag([-1.0, 1.0, 1.0, 1.0, -1.0, -1.0])
    return turn @ matrix @ turn


def springs_of(blade: np.ndarray, steerer: np.ndarray) -> np.ndarray:
    """(12, 12) movements of the blades' ends in a fork of the product's beams with these two springs, each branch rigid
    from the crown's axis to its wall."""
    steel = Material("study", 1.0, 1.0 / 2.6, 0.0)
    tubes, stem, right, left = JOINT.pipes()
    reach = 0.5 / np.cos(np.radians(JOINT.lean))
    nodes = {
        "held": tuple(stem.end),
        "stem_wall": (0.0, 0.5, 0.0),
        "stem": (0.0, 0.0, 0.0),
        "crown": (0.0, 0.0, 0.0),
    }
    bars = [("stem_wall", "held", stem)]
    springs = [soft_joint("s", "crown", "stem", steerer)]
    links = [RigidLink("stem", "stem_wall")]
    for side, pipe, matrix in (("right", right, blade), ("left", left, mirrored(blade))):
        foot = pipe.start
        nodes |= {
            side: tuple(foot),
            f"{side}_twin": tuple(foot),
            f"{side}_wall": tuple(foot + reach * pipe.axis),
            f"{side}_tip": tuple(pipe.end),
        }
        bars += [("crown", side, tubes), (f"{side}_wall", f"{side}_tip", pipe)]
        springs.append(soft_joint(side, side, f"{side}_twin", matrix))
        links.append(RigidLink(f"{side}_twin", f"{side}_wall"))
    elements = tuple(
        Element(f"{i}.{j}", i, j, round_tube(p.diameter + p.wall, p.wall, 0.3), steel, ACROSS)
        for i, j, p in bars
    )
    model = FrameModel(nodes, elements, tuple(springs), rigid_links=tuple(links))
    tips = ("right_tip", "left_tip")
    columns = []
    for tip in tips:
        for unit in np.eye(6).tolist():
            case = LoadCase("unit", {tip: tuple(unit)}, supports={"held": (1,) * 6})
            result = solve(model, [case])["unit"]
            columns.append(np.concatenate([result.displacement(one) for one in tips]))
    return np.column_stack(columns)


def test_both_joints_come_back_from_a_fork_that_has_them(monkeypatch):
    """What defines them: a fork of the product's beams with a spring at each blade and one at the steerer, given to the
    study in the shells' place, gives back these springs less the beams inside the crown."""
    blade = spread(3, 10.0)
    steerer = spread(4, 4.0)
    steerer = 0.5 * (steerer + mirrored(steerer))
    moved = springs_of(blade, steerer)

    class Told:
        def __init__(self, *_: object) -> None: ...

        def ring_flexibility(self) -> np.ndarray:
            return np.pad(moved, (0, 12))

    monkeypatch.setattr(crown, "ShellSolver", Told)
    monkeypatch.setattr(crown, "faceted_section", lambda pipe, *_: TubeSection.of(pipe))
    found = crown_compliances(JOINT, type("Tubes", (), {"mesh": Mesh}))
    down = law._DOWN
    over_wall = 1 / JOINT.crown_wall
    inside = (
        down @ stretch.beam_inside(0.75, over_wall, 0.035 / 0.07, 85.0) @ down,
        stretch.beam_inside(0.85, over_wall, 0.06 / 0.07, 90.0),
    )
    for matrix, given, wanted in zip(found, inside, (blade, steerer), strict=True):
        assert matrix + given == pytest.approx(wanted, rel=1e-6, abs=1e-6 * np.abs(wanted).max())


# --- the law ------------------------------------------------------------------------------------------------------
def test_the_error_bar_is_within_ten_per_cent():
    """Leave-one-out; over what a blade feels of its own joint and, twice, of the steerer's."""
    assert 0.01 < law._law().doubt <= 0.10
    assert len(law.crown_rows()) >= 60


def test_the_studys_own_crowns_come_back():
    """Both turns of a blade, and the steerer's over its beam's."""
    made = law._law()
    for row in law.crown_rows():
        blade = made.blade(row.ratios)
        steerer = made.steerer(row.ratios)
        bend = law._beam_turn(row.ratios)
        for turn, block in ((5, 0), (3, 1)):
            assert np.log(blade[turn, turn]) == pytest.approx(row.blade[block, 0], abs=0.06)
        assert steerer[3, 3] / bend == pytest.approx(max(row.steerer[0, 0], 0.0), abs=0.12)
        twist = steerer[4, 4] / bend / 1.3
        assert twist == pytest.approx(np.exp(row.steerer[2, 0]), rel=0.1, abs=0.05)


SHAPES = [
    CrownShape(part, od, wall, 24.0, 1.0, 28.6, 1.6, 4.0, 33.0)
    for part in ("blade", "steerer")
    for od, wall in ((31.8, 2.0), (38.1, 1.2), (34.9, 3.0), (25.4, 4.0), (60.0, 0.8))
]


@pytest.mark.parametrize("shape", SHAPES)
def test_it_is_positive_definite_and_scales_as_similar_bodies_do(shape):
    """Turn by moment 1/(E D3), movement by force 1/(E D): identity of dimensions."""
    matrix = crown_compliance(shape, STEEL).matrix
    soft_joint("j", "a", "b", matrix)
    names = ("crown", "blade", "steerer")
    doubled = {f"{name}_{what}": 2 for name in names for what in ("diameter", "wall")}
    larger = replace(
        shape, half=2 * shape.half, **{k: v * getattr(shape, k) for k, v in doubled.items()}
    )
    powers = np.array([0.5, 0.5, 0.5, 1.5, 1.5, 1.5])
    expected = matrix / 2 ** np.add.outer(powers, powers)
    assert crown_compliance(larger, STEEL).matrix == pytest.approx(expected, rel=1e-9)


def test_beyond_the_study_the_nearest_is_taken_and_said():
    inside = CrownShape("blade", 34.9, 2.0, 25.4, 1.0, 28.6, 1.8, 4.0, 34.0)
    assert crown_compliance(inside, STEEL).findings == ()
    narrow = crown_compliance(replace(inside, crown_diameter=28.6), STEEL)
    assert any("steerer over crown diameter" in finding.message for finding in narrow.findings)
    lugged = crown_compliance(replace(inside, kind="lug"), STEEL)
    assert any("lug" in finding.message for finding in lugged.findings)
    assert lugged.matrix == pytest.approx(crown_compliance(inside, STEEL).matrix)


def test_a_solid_crown_gives_as_a_half_space_under_a_disc():
    """Stiffness of a rigid disc of radius a: 8 G a/(2 - nu) sideways, 4 G a/(1 - nu) down, 8 G a3/3(1 - nu) rocking,
    16 G a3/3 twisting; the disc lies on the crown's lower side, 28 mm below the node."""
    shape = CrownShape("blade", 28.0, 14.0, 24.0, 1.0, 28.6, 1.6, 0.0, 33.0)
    matrix = crown_compliance(shape, STEEL).matrix
    g = STEEL.G
    a = 12.0
    assert shape.inside == pytest.approx(28.0)
    assert matrix[1, 1] == pytest.approx(0.7 / (4 * g * a))
    assert matrix[3, 3] == pytest.approx(3 * 0.7 / (8 * g * a**3))
    assert matrix[4, 4] == pytest.approx(3 / (16 * g * a**3))
    sideways = 1.7 / (8 * g * a) + 28.0**2 * matrix[5, 5]
    assert matrix[0, 0] == pytest.approx(sideways)
    # a force at the disc moves the disc by its own give, and not by what the arm to the node would add
    at_disc = np.eye(6)
    at_disc[0, 5] = -28.0
    at_disc[2, 3] = 28.0
    moved = at_disc @ matrix @ at_disc.T
    assert moved == pytest.approx(np.diag(moved.diagonal()), abs=1e-18)


def test_a_size_that_cannot_be_is_refused():
    with pytest.raises(ModelError, match="blade wall"):
        CrownShape("blade", 28.0, 14.0, 24.0, 0.0, 28.6, 1.6, 0.0, 33.0)


# --- whole forks --------------------------------------------------------------------------------------------------
def kept_forks() -> list[dict]:
    return forks_beside(json.loads(RESULTS.read_text(encoding="utf-8"))["whole_fork"])


def test_forks_in_shells_are_met_by_beams_with_crowns_that_give():
    """Three forks, four loads; rigid at the crown race the beams are up to eleven per cent off, either way."""
    rows = kept_forks()
    assert len(rows) == len(FORKS) * len(LOADS)
    assert max(abs(row["giving"]) for row in rows) <= 4.0
    assert max(abs(row["rigid"]) for row in rows) >= 8.0


@needs_gmsh
def test_a_crown_of_the_file_is_worked_out_as_it_was_kept():
    sample = CrownSample(5, crown_places(16)[5])
    made = sample.solve()
    rows = [row for row in law.data_rows(law.FILE) if row["number"] == "5"]
    for letter, name in (("b", "blade"), ("s", "steerer")):
        for entry, (i, j) in {"r1r1": (3, 3), "r3r3": (5, 5), "r2r2": (4, 4)}.items():
            told = float(rows[0][f"{letter}_{entry}"])
            assert made[name][i][j] == pytest.approx(told, rel=0.01, abs=0.5)
