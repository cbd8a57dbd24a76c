"""Many bicycles at once: every figure is the full solver's, whatever differs; what is built otherwise is left to it.

The full solver is held by closed forms and by OpenSees elsewhere; a stretch of tube is held by closed forms here.
"""

from collections.abc import Iterator, Sequence
from dataclasses import fields, is_dataclass, replace
from functools import partial
from math import pi

import numpy as np
import pytest
from droptrail.model.cases.library import load_cases
from droptrail.model.cases.wheels import on_wheels
from droptrail.model.choice import together
from droptrail.model.choice.compare import compare
from droptrail.model.choice.together import figures_of_one, figures_together
from droptrail.model.choice.variants import Reshaped
from droptrail.model.errors import FrameError, ModelError
from droptrail.model.frame.bicycle import Bicycle, Fittings
from droptrail.model.frame.cutting import MemberPath, MeshOptions, Passed, TubeLine, divisions
from droptrail.model.frame.dropouts import Dropout
from droptrail.model.frame.hubs import HUBS
from droptrail.model.frame.layout import Member
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.reanalysis import bands, batch
from droptrail.model.reanalysis.bands import Links, Pattern, StiffPieces, Sums, sizes
from droptrail.model.reanalysis.batch import worked_out
from droptrail.model.reanalysis.drafts import DraftRows, TubeRows, drafts
from droptrail.model.reanalysis.stretches import stretch_stiffness
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_plans import otherwise, samples_and_plans

CASES = partial(load_cases, names=("seated", "climb", "side_push", "frame_torsion", "saddle_push"))
SAME = 3e-9  # the oldest LAPACK rounds to 1.1e-9, today's to 2e-10; the program itself asks its witness for 1e-9
CURVED = tourer(fittings=Fittings(stay_curve=12.0, blade_straight=150.0))
ALL = {**samples_and_plans(), "curved": CURVED}
BENT = ("step_through_26", "step_through", "step_through_twin", "own")


def batched(bicycles: Sequence[Bicycle], cases=CASES, options=None) -> list[tuple[float, ...]]:
    """Figures by the batch alone; fails where it hands one back."""
    done = worked_out(bicycles, cases, options)
    assert all(one is not None for one in done)
    return [(sum(one.masses.values()), *one.values) for one in done if one is not None]


def in_full(bicycle: Bicycle, cases=CASES, options=None) -> tuple[float, ...]:
    mass, _, *values = figures_of_one(bicycle, cases, options)
    return (mass, *values)


PLATE = Dropout("rear_dropout", 30.0, 6.0, 40.0, STEEL)
BUILDS = {
    "plain": tourer(),
    "curved stays and blades": CURVED,
    "post in the seat tube": tourer(fittings=Fittings(seat_post_insertion=90.0)),
    "oval, squeezed round": tourer(
        chainstay=Tube(STEEL, 30.0, 14.0, (0.8,), oval_width=17.0, oval_end=14.0)
    ),
    "rectangular stays": tourer(
        chainstay=Tube(STEEL, 30.0, 22.0, (0.9,), oval_width=16.0, corner=4.0)
    ),
    "straight, then tapered": tourer(
        fork_blade=Tube(STEEL, 24.0, 13.0, (1.0,), straight=(150.0, 20.0))
    ),
    "bare welds": tourer().joined("bare"),
    "lugs": tourer().joined("lug"),
    "dropouts and hubs stated": replace(
        tourer(),
        parts={
            "rear_dropout": PLATE,
            "front_hub": HUBS["front_hub"]["QR 100"],
            "rear_hub": HUBS["rear_hub"]["QR 135"],
        },
    ),
}


@pytest.mark.parametrize("build", BUILDS)
def test_every_figure_of_a_batch_is_the_full_solvers(build):
    bicycles = otherwise(BUILDS[build], len(build))
    for figures, bicycle in zip(batched(bicycles), bicycles, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle), rtol=SAME)


@pytest.mark.parametrize(
    "options",
    [
        MeshOptions(element_length=500.0, taper_pieces=1, cone_pieces=1, bridges=False),
        MeshOptions(element_length=8.5),
        MeshOptions(shear=False),
        MeshOptions(rigid_zones=True),
    ],
    ids=["coarse", "fine", "without shear", "rigid zones"],
)
def test_the_batch_counts_the_pieces_of_the_same_mesh(options):
    bicycles = otherwise(tourer(), 5, 4)
    for figures, bicycle in zip(batched(bicycles, options=options), bicycles, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle, options=options), rtol=SAME)


def test_wheels_as_springs_and_a_held_in_every_way():
    """Springs to the ground under linked nodes, whose stiffness changes from bicycle to bicycle."""

    def cases(bicycle, layout):
        told = load_cases(bicycle, layout, ("seated", "side_push", "climb"))
        return tuple(on_wheels(case, bicycle) for case in told)

    bicycles = otherwise(tourer(), 11, 4)
    for figures, bicycle in zip(batched(bicycles, cases), bicycles, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle, cases), rtol=SAME)


@pytest.mark.parametrize("name", ALL)
def test_every_sample_and_plan_in_other_shapes(name):
    bicycles = otherwise(ALL[name], 21, 14)
    done = worked_out(bicycles, CASES)
    # An arc is cut into more pieces where it turns farther: too few of one build are not worked out.
    assert sum(one is not None for one in done) > 4
    for one, bicycle in zip(done, bicycles, strict=True):
        if one is not None:
            figures = (sum(one.masses.values()), *one.values)
            # what two riders' strokes leave of each other is known to a share of the strokes, not of itself
            np.testing.assert_allclose(figures, in_full(bicycle), rtol=SAME, atol=1e-10)


# --- laid out together ------------------------------------------------------------------------------------------
def rows_of(bicycles: Sequence[Bicycle], cases=CASES) -> list[DraftRows]:
    """One for each way to lay them out."""
    numbers = range(len(bicycles))
    return [DraftRows.of(*one) for one in drafts(numbers, bicycles, cases, MeshOptions())]


def numbers_in(value: object) -> Iterator[np.ndarray]:
    """Every array that something holds."""
    if isinstance(value, np.ndarray):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from numbers_in(one)
    elif is_dataclass(value):
        for field in fields(value):
            yield from numbers_in(getattr(value, field.name))


@pytest.mark.parametrize("name", ALL)
def test_a_thousand_are_laid_out_by_the_steps_of_one(name):
    """Places, loads, springs, weights of measures: column by column the numbers of each bicycle for itself."""
    # three, so that an axis of bicycles mistaken for one of space has its length
    bicycles = otherwise(ALL[name], 5, 3) + otherwise(ALL[name], 6, 9)
    for some in (bicycles[:3], bicycles):
        together = rows_of(some)
        # Nothing needs plain numbers: all go one way, or two or three where arcs turn farther or meet another tube
        # in another piece.
        assert len(together) <= (3 if name in BENT else 1)
        for rows in together:
            alone = DraftRows.joined([rows_of([some[k]])[0] for k in rows.numbers])
            pairs = list(zip(numbers_in(rows), numbers_in(alone), strict=True))
            assert len(pairs) > 25
            for many, single in pairs[1:]:
                if many.dtype == object:
                    assert many.tolist() == single.tolist()
                else:
                    # lengths of a metre, and loads of a thousand newtons on arms of one
                    np.testing.assert_allclose(many, single, rtol=1e-12, atol=1e-9)


def test_bicycles_that_go_different_ways_are_laid_out_apart():
    """A top tube that meets the seat tube at its very top has no node of its own there."""
    at_top = [
        replace(bicycle, dimensions=replace(bicycle.dimensions, top_tube_on_seat_tube=550.0))
        for bicycle in otherwise(tourer(), 4, 4)
    ]
    mixed = [
        bicycle for pair in zip(otherwise(tourer(), 9, 4), at_top, strict=True) for bicycle in pair
    ]
    apart = rows_of(mixed)
    assert sorted(sorted(rows.numbers.tolist()) for rows in apart) == [[0, 2, 4, 6], [1, 3, 5, 7]]
    for figures, bicycle in zip(batched(mixed), mixed, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle), rtol=SAME)


def test_a_load_case_that_wants_plain_numbers_has_each_bicycle_laid_out_for_itself():
    def cases(bicycle, layout):
        (case,) = load_cases(bicycle, layout, ("seated",))
        push = float(bicycle.dimensions.head_angle)
        return (replace(case, nodal={**case.nodal, "bar_left": (0.0, 0.0, push, 0.0, 0.0, 0.0)}),)

    bicycles = otherwise(tourer(), 2, 5)
    assert len(rows_of(bicycles, cases)) == 5
    for figures, bicycle in zip(batched(bicycles, cases), bicycles, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle, cases), rtol=SAME)


def test_what_cannot_be_laid_out_stops_no_other():
    bicycles = otherwise(tourer(), 2, 6)
    bicycles[3] = replace(
        bicycles[3], dimensions=replace(bicycles[3].dimensions, top_tube_on_seat_tube=700.0)
    )
    done = worked_out(bicycles, CASES)
    assert [k for k, one in enumerate(done) if one is None] == [3]


def test_bicycles_in_another_order_have_the_same_figures():
    bicycles = otherwise(tourer().joined("bare"), 3, 7)
    turned = list(reversed(bicycles))
    there = np.array(batched(bicycles))
    np.testing.assert_allclose(np.array(batched(turned))[::-1], there, rtol=1e-12)


def test_a_batch_longer_than_a_chunk_is_whole(monkeypatch):
    monkeypatch.setattr(batch, "CHUNK", 5)
    monkeypatch.setattr(batch, "DRAFTED", 7)
    bicycles = otherwise(tourer(), 8, 13)
    # The last chunk holds three, which are left to the full solver.
    done = worked_out(bicycles, CASES)
    assert [one is None for one in done] == [False] * 10 + [True] * 3
    every = figures_together(bicycles, CASES)
    for figures, bicycle in zip(every, bicycles, strict=True):
        np.testing.assert_allclose(figures, figures_of_one(bicycle, CASES), rtol=SAME)


# --- what is left to the full solver ---------------------------------------------------------------------------
def test_different_builds_are_batched_apart():
    """A seat post that goes in has a node of its own; the answers stand in the order of the question."""
    one = otherwise(BUILDS["plain"], 1, 4)
    other = otherwise(BUILDS["post in the seat tube"], 1, 4)
    mixed = [bicycle for pair in zip(one, other, strict=True) for bicycle in pair]
    for figures, bicycle in zip(batched(mixed), mixed, strict=True):
        np.testing.assert_allclose(figures, in_full(bicycle), rtol=SAME)


def test_a_load_along_a_tube_is_left_to_the_full_solver():
    def cases(bicycle, layout):
        (case,) = load_cases(bicycle, layout, ("seated",))
        return (replace(case, member_loads=(MemberLoad("top_tube.2", (0.0, -1.0, 0.0)),)),)

    bicycles = otherwise(tourer(), 2, 5)
    assert worked_out(bicycles, cases) == [None] * 5
    for figures, bicycle in zip(figures_together(bicycles, cases), bicycles, strict=True):
        assert figures == figures_of_one(bicycle, cases)


def test_a_support_on_a_linked_node_is_left_to_the_full_solver():
    def cases(bicycle, layout):
        (case,) = load_cases(bicycle, layout, ("seated",))
        held = {"rear_contact": (1, 1, 1, 1, 0, 0), "front_axle": (0, 1, 1, 0, 0, 0)}
        return (replace(case, supports=held),)

    bicycles = otherwise(tourer(), 2, 4)
    assert worked_out(bicycles, cases) == [None] * 4
    for figures, bicycle in zip(figures_together(bicycles, cases), bicycles, strict=True):
        assert figures == figures_of_one(bicycle, cases)


def test_a_motion_that_nothing_holds_is_named_as_ever():
    def cases(bicycle, layout):
        return tuple(
            replace(case, springs=()) for case in load_cases(bicycle, layout, ("side_push",))
        )

    bicycles = otherwise(tourer(), 2, 4)
    assert worked_out(bicycles, cases) == [None] * 4
    for found in figures_together(bicycles, cases):
        assert isinstance(found, FrameError)
        assert "leave the frame loose" in str(found)


def test_butts_that_do_not_fit_one_bicycle_stop_no_other():
    bicycles = otherwise(tourer(), 2, 5)
    long = Tube(STEEL, 28.6, 28.6, (0.8, 0.5, 0.8), (300.0, 300.0), (30.0, 30.0))
    bicycles[2] = replace(bicycles[2], tubes={**bicycles[2].tubes, "top_tube": long})
    found = figures_together(bicycles, CASES)
    assert isinstance(found[2], ModelError)
    assert "butts and tapers take 660.0 mm" in str(found[2])
    for k in (0, 1, 3, 4):
        np.testing.assert_allclose(found[k], figures_of_one(bicycles[k], CASES), rtol=SAME)


def test_a_batch_that_a_witness_contradicts_is_not_used(monkeypatch):
    bicycles = otherwise(tourer(), 2, 4)
    true = together.worked_out

    def wrong(*args):
        return [
            replace(one, values=tuple(v * (1 + 1e-8) for v in one.values)) for one in true(*args)
        ]

    monkeypatch.setattr(together, "worked_out", wrong)
    for figures, bicycle in zip(figures_together(bicycles, CASES), bicycles, strict=True):
        assert figures == figures_of_one(bicycle, CASES)


@pytest.mark.parametrize(
    ("where", "what", "limit"),
    [
        (batch, "RESIDUAL_LIMIT", 0.0),
        (batch, "BALANCE_LIMIT", 0.0),
        (bands, "PIVOT_LIMIT", 1.0),
    ],
)
def test_a_row_that_fails_a_check_is_handed_back(monkeypatch, where, what, limit):
    """With limits that nothing keeps every bicycle goes to the full solver: each check is looked at."""
    monkeypatch.setattr(where, what, limit)
    assert worked_out(otherwise(tourer(), 4, 4), CASES) == [None] * 4


def test_a_comparison_of_geometries_is_the_full_solvers():
    bicycles = otherwise(tourer(), 6, 5)
    variants = [Reshaped(f"v{k}", "drawn", bicycle) for k, bicycle in enumerate(bicycles)]
    done = compare(tourer(), variants, CASES, held_otherwise=False)
    for row, bicycle in zip(done.rows[1:], bicycles, strict=True):
        np.testing.assert_allclose(row.values, figures_of_one(bicycle, CASES), rtol=SAME)


# --- a stretch by itself -----------------------------------------------------------------------------------------
def stretch(path, tube: Tube, options: MeshOptions) -> np.ndarray:
    """(12, 12) stiffness of one tube from end to end."""
    member = Member("tube", "tube", "a", "b", tuple(path))
    run = MemberPath.of(member)
    line = TubeLine(member, tube, run, {"a": 0.0, "b": run.length}, 0.0, run.length)
    passed = Passed(line, ("a", "b"), (0.0, run.length))
    ends = np.array([path[0], path[-1]])
    rows = TubeRows.of((passed,), [{"tube": tube}])
    far = stretch_stiffness(rows, ends[:1], ends[1:], options)[0]
    arm = ends[1:] - ends[:1]
    alone = StiffPieces(np.array([[0, 1]]), far[None], arm[None], np.zeros(1, dtype=bool))
    return alone.whole(alone.blocks(), 0)[0]


def test_a_plain_stretch_bends_as_a_cantilever():
    """w = P L³ / 3 EI + P L / G As (textbook), sideways and up, near end clamped; however it lies."""
    tube = Tube(STEEL, 30.0, 30.0, (1.0,))
    s = tube.section(30.0, 1.0)
    end = np.array([240.0, 320.0, 300.0])
    length = 500.0
    k = stretch([(0.0, 0.0, 0.0), tuple(end)], tube, MeshOptions())
    across = np.cross(end, (0.3, -0.7, 0.2))
    across /= np.linalg.norm(across)
    moved = np.linalg.solve(k[6:, 6:], np.concatenate([1000.0 * across, np.zeros(3)]))
    wanted = 1000.0 * (length**3 / (3 * STEEL.E * s.Iz) + length / (STEEL.G * s.Asy))
    assert moved[:3] @ across == pytest.approx(wanted, rel=1e-12)


def test_a_quarter_circle_gives_as_closed_form_has_it():
    """Clamped quarter ring, force at the free end square to its plane: w = P R³ (π/4 / EI + (3π/4 - 2) / GJ), thin
    curved bar (Timoshenko, Strength of Materials, from memory; by Castigliano M = P R sin t, T = P R (1 - cos t))."""
    radius = 300.0
    tube = Tube(STEEL, 20.0, 20.0, (1.0,))
    s = tube.section(20.0, 1.0)
    turns = np.linspace(0, pi / 2, 201)
    path = [(radius * float(np.sin(t)), radius * float(1 - np.cos(t)), 0.0) for t in turns]
    k = stretch(path, tube, MeshOptions(shear=False))
    moved = np.linalg.solve(k[6:, 6:], [0.0, 0.0, 100.0, 0.0, 0.0, 0.0])[2]
    bending = pi / 4 / (STEEL.E * s.Iz)
    twisting = (3 * pi / 4 - 2) / (STEEL.G * s.J)
    assert moved == pytest.approx(100.0 * radius**3 * (bending + twisting), rel=1e-4)


def test_a_stretch_moved_as_a_rigid_body_feels_nothing():
    k = stretch(
        [(0.0, 0.0, 0.0), (100.0, 40.0, 5.0), (180.0, 120.0, 9.0)],
        Tube(STEEL, 20.0, 14.0, (1.0,)),
        MeshOptions(),
    )
    np.testing.assert_allclose(k, k.T, atol=1e-9 * np.abs(k).max())
    arm = np.array([180.0, 120.0, 9.0])
    for axis in np.eye(3):
        slide = np.concatenate([axis, np.zeros(3), axis, np.zeros(3)])
        turn = np.concatenate([np.zeros(3), axis, np.cross(axis, arm), axis])
        assert np.abs(k @ slide).max() < 1e-9 * np.abs(k).max()
        assert np.abs(k @ turn).max() < 1e-9 * np.abs(k).max() * 200


# --- bands -------------------------------------------------------------------------------------------------------
def test_a_piece_answers_movements_as_its_stiffness_matrix_does():
    """Blocks, forces on ends and whole matrix are three ways to say one thing, on the ground too."""
    rng = np.random.default_rng(4)
    half = rng.normal(size=(3, 2, 6, 6))
    far = half @ np.swapaxes(half, 2, 3)
    arm = rng.normal(size=(3, 2, 3))
    arm[:, 1] = 0.0
    pieces = StiffPieces(np.array([[1, 0], [2, 2]]), far, arm, np.array([False, True]))
    u = rng.normal(size=(3, 3, 6, 2))
    forces = pieces.times(u)
    between = pieces.whole(pieces.blocks(), 0)
    both = np.concatenate([u[:, 1], u[:, 0]], axis=1)
    wanted = between @ both
    np.testing.assert_allclose(forces[:, 0], wanted[:, :6], rtol=1e-12, atol=1e-12)
    np.testing.assert_allclose(forces[:, 2], wanted[:, 6:], rtol=1e-12, atol=1e-12)
    # No force and no moment is left over: about the near end far force x arm.
    moment = np.cross(arm[:, 0, :, None], forces[:, 2, :3], axis=1)
    np.testing.assert_allclose(forces[:, 0, :3], -forces[:, 2, :3])
    np.testing.assert_allclose(forces[:, 0, 3:], -forces[:, 2, 3:] - moment, atol=1e-12)
    np.testing.assert_allclose(forces[:, 3], far[:, 1] @ u[:, 2], rtol=1e-12, atol=1e-12)
    assert not forces[:, 1].any()


def test_what_shares_a_place_is_added_up():
    """numpy's own unbuffered addition is the reference."""
    rng = np.random.default_rng(2)
    places = rng.integers(-1, 5, size=30)
    values = rng.normal(size=(4, 30, 2))
    wanted = np.zeros((4, 5, 2))
    there = np.flatnonzero(places >= 0)
    np.add.at(wanted, (slice(None), places[there]), values[:, there])
    found = Sums.of(places).into(np.zeros((4, 5, 2)), values)
    np.testing.assert_allclose(found, wanted, rtol=1e-12, atol=1e-12)


def test_sizes_are_those_of_the_whole_matrix():
    rng = np.random.default_rng(3)
    band = rng.normal(size=(2, 6, 3))
    order = rng.permutation(6)
    q = rng.normal(size=(2, 6, 1))
    for own, moved, found in zip(band, q, sizes(order, band, q), strict=True):
        whole = np.zeros((6, 6))
        for k, row in enumerate(own):
            for offset, value in enumerate(row[: 6 - k]):
                whole[order[k], order[k + offset]] = value
                whole[order[k + offset], order[k]] = value
        np.testing.assert_allclose(found, np.abs(whole) @ np.abs(moved), rtol=1e-12)


def test_a_band_is_the_stiffness_of_the_free_displacements():
    """By dense algebra, T^T K T: shared displacements, a sum of others, one held, a spring to the ground."""
    rng = np.random.default_rng(8)
    half = rng.normal(size=(2, 3, 6, 6))
    arm = rng.normal(size=(2, 3, 3))
    arm[:, 2] = 0.0
    ends = np.array([[0, 1], [1, 2], [2, 2]])
    grounded = np.array([False, False, True])
    pieces = StiffPieces(ends, half @ np.swapaxes(half, 2, 3), arm, grounded)
    free = np.array([dof for dof in range(18) if dof not in (0, 7, 14, 15)])
    alias = np.full(18, -1)
    alias[free] = np.arange(len(free))
    # Both ends of the first piece share a displacement; dof 14 is a sum, with factors of each bicycle's own.
    alias[7] = alias[1]
    factors = rng.normal(size=(2, 2))
    sums = {14: {3: factors[:, 0], 9: factors[:, 1]}}
    links = Links(free, alias, sums, {}, np.array([0, 15]))
    pattern = Pattern.of(links, pieces)
    band = pattern.band(links, pieces)
    forces = rng.normal(size=(2, 18, 2))
    for bicycle in range(2):
        stiffness = np.zeros((18, 18))
        for piece, (near, far) in enumerate(ends):
            dofs = np.r_[6 * near : 6 * near + 6, 6 * far : 6 * far + 6]
            whole = pieces.whole(pieces.blocks(), piece)[bicycle]
            np.add.at(stiffness, np.ix_(dofs, dofs), whole)
        turn = np.zeros((18, len(free)))
        turn[alias >= 0, alias[alias >= 0]] = 1.0
        turn[14, [3, 9]] = factors[bicycle]
        wanted = (turn.T @ stiffness @ turn)[np.ix_(pattern.order, pattern.order)]
        found = np.zeros_like(wanted)
        for k, row in enumerate(band[bicycle]):
            for offset, value in enumerate(row[: len(free) - k]):
                found[k, k + offset] = found[k + offset, k] = value
        np.testing.assert_allclose(found, wanted, rtol=1e-12, atol=1e-12)
        gathered = pattern.gathered(links, forces)[bicycle]
        np.testing.assert_allclose(gathered, turn.T @ forces[bicycle], rtol=1e-12, atol=1e-12)


def test_what_is_near_a_dropped_place_alone_keeps_its_node():
    """A joint at 300, the wall changes 0.08 beyond, the taper begins 0.16 beyond: the change goes to the joint."""
    tube = Tube(STEEL, 30.0, 24.0, (1.0, 0.7), (300.08,), (40.0,), straight=(300.16, 0.0))
    member = Member("tube", "tube", "a", "b", ((0.0, 0.0, 0.0), (600.0, 0.0, 0.0)))
    stops = {"a": 0.0, "joint": 300.0, "b": 600.0}
    line = TubeLine(member, tube, MemberPath.of(member), stops, 0.0, 600.0)
    (cut,) = divisions([line], MeshOptions(element_length=500.0))
    assert 300.0 in cut.breaks
    assert 300.08 not in cut.breaks
    assert 300.16 in cut.breaks
