"""The fast path gives the full solver's figures, for every way to cut the grid."""

from dataclasses import replace
from functools import partial

import numpy as np
import pytest
from droptrail.model.cases.library import CASES, SEVERAL_RIDERS, load_cases
from droptrail.model.choice.search import set_up
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Fittings
from droptrail.model.frame.mesh import MeshOptions
from droptrail.model.mechanics.frame_model import MemberLoad
from droptrail.model.reanalysis import fast_base
from droptrail.model.reanalysis.fast_base import build_base
from droptrail.model.reanalysis.fast_grid import FastGrid, shares
from droptrail.model.reanalysis.fast_options import condense_options
from droptrail.model.reanalysis.fast_small import last_update, last_update_operations
from droptrail.model.tubes.materials import find_material
from helpers_bicycle import tourer
from helpers_search import THREE, brute_force, options, small_search
from hypothesis import given, settings
from hypothesis import strategies as st

SAME = 1e-9  # against the full solver, whose own rounding is the larger part
EQUAL = 1e-12  # one fast route against another
GRID = small_search()
WHOLE = GRID.kernel.figures_of(0, GRID.size)


def test_every_variant_of_a_small_grid_equals_the_full_solver():
    full = brute_force(GRID)
    assert full.shape == (27, 2 + 11)
    assert np.abs(WHOLE.T / full - 1).max() < SAME
    assert np.ptp(full, axis=0).min() > 1e-3  # every figure does change over the grid


def test_mixed_materials_and_all_tubes_of_the_main_triangle():
    """The whole closed triangle is exchangeable, so that its deformations depend on one another."""
    choices = options(("head_tube", "top_tube", "down_tube", "seat_tube"), diameters=(0.0, 2.0))
    choices["top_tube"].append(replace(choices["top_tube"][0], material=find_material("6061-T6")))
    choices["down_tube"].append(
        replace(choices["down_tube"][0], material=find_material("Ti-3Al-2.5V"))
    )
    search = set_up(tourer(), choices, THREE)
    numbers = np.random.default_rng(5).integers(search.size, size=6)
    quick = search.kernel.figures_of(0, search.size)[:, numbers].T
    assert np.abs(quick / [search.in_full(int(n)) for n in numbers] - 1).max() < SAME


def test_stays_blades_and_steerer_with_curves_and_bridges():
    bicycle = tourer(fittings=Fittings(stay_curve=6.0, blade_straight=120.0))
    search = small_search(
        ("chainstay", "seatstay", "fork_blade", "steerer"), diameters=(0.0, 1.5), bicycle=bicycle
    )
    quick = search.kernel.figures_of(0, search.size).T
    assert np.abs(quick / brute_force(search) - 1).max() < SAME


@pytest.mark.parametrize("case", sorted({*CASES} - SEVERAL_RIDERS))
def test_every_load_case_of_the_library_can_be_searched(case):
    search = small_search(
        ("top_tube", "fork_blade"), diameters=(0.0, 2.0), cases=partial(load_cases, names=(case,))
    )
    assert search.disagreement(search.samples()) < SAME


def test_single_variants_equal_the_nested_grid():
    numbers = np.array([26, 0, 13, 13, 5])
    assert np.abs(GRID.kernel.figures_of_list(numbers) / WHOLE[:, numbers] - 1).max() < EQUAL


@given(st.integers(0, 27), st.integers(0, 27))
@settings(deadline=None, max_examples=40)
def test_any_range_equals_its_part_of_the_whole(a, b):
    start, stop = sorted((a, b))
    assert np.allclose(
        GRID.kernel.figures_of(start, stop), WHOLE[:, start:stop], rtol=EQUAL, atol=0
    )


def test_a_range_outside_the_grid_is_refused():
    with pytest.raises(IndexError):
        GRID.kernel.grid.measured(0, 28)


def test_splitting_into_independent_parts_changes_nothing(monkeypatch):
    held = condense_options(
        tourer(), options(("top_tube", "chainstay"), diameters=(0.0, 2.0)), THREE
    )
    apart = FastGrid(build_base(held))
    monkeypatch.setattr(fast_base, "UNCOUPLED", -1.0)
    together = FastGrid(build_base(held))
    assert len(together.base.problems) == 1  # one set of supports holds all three
    assert len(apart.base.problems) > 1
    assert np.abs(apart.measured(0, 4) / together.measured(0, 4) - 1).max() < 1e-11


def test_a_symmetric_frame_has_half_the_deformations_in_each_part():
    tubes = {
        f.tube: f.rank
        for f in condense_options(tourer(), options(("top_tube", "chainstay")), THREE).families
    }
    assert tubes == {"top_tube": 6, "chainstay": 24}  # two segments a side, cut at the bridge
    for problem in build_base(
        condense_options(tourer(), options(("top_tube", "chainstay")), THREE)
    ).problems:
        assert problem.ranks[0] <= 12
        assert problem.ranks[1] <= 3


def test_a_wrong_kernel_is_noticed():
    wrong = replace(
        GRID.kernel,
        grid=FastGrid(
            replace(GRID.kernel.grid.base, constant=GRID.kernel.grid.base.constant * (1 + 3e-9))
        ),
    )
    with pytest.raises(ModelError, match="differs from the full solver"):
        replace(GRID, kernel=wrong).disagreement([3])


def test_fine_and_coarse_meshes_are_condensed_exactly_too():
    for length in (25.0, 300.0):
        search = set_up(
            tourer(), options(("top_tube",)), THREE, options=MeshOptions(element_length=length)
        )
        assert search.disagreement(search.samples()) < SAME


# --- refusals -------------------------------------------------------------------------------------------------
def test_refuses_rigid_zones():
    with pytest.raises(ModelError, match="rigid zones"):
        set_up(tourer(), options(("top_tube",)), THREE, options=MeshOptions(rigid_zones=True))


def test_refuses_a_load_case_that_follows_the_tubes():
    def heavy(bicycle, layout):
        case = THREE(bicycle, layout)[0]
        return (
            replace(
                case,
                nodal={"saddle": (0.0, -bicycle.tubes["top_tube"].od_start, 0.0, 0.0, 0.0, 0.0)},
            ),
        )

    with pytest.raises(ModelError, match="changes with the tubes"):
        set_up(tourer(), options(("top_tube",)), heavy)


def test_refuses_a_load_along_a_tube():
    def windy(bicycle, layout):
        return (
            replace(
                THREE(bicycle, layout)[0], member_loads=(MemberLoad("top_tube.1", (0.0, 0.0, 1.0)),)
            ),
        )

    with pytest.raises(ModelError, match="along their length"):
        set_up(tourer(), options(("top_tube",)), windy)


def test_refuses_an_empty_and_an_endless_grid():
    with pytest.raises(ModelError, match="no tube has options"):
        set_up(tourer(), {}, THREE)
    many = [tourer().tubes["top_tube"].scaled(0.01 * k) for k in range(1001)]
    with pytest.raises(ModelError, match="leave some options out"):
        set_up(tourer(), {"top_tube": many, "down_tube": many, "seat_tube": many}, THREE)


# --- the innermost loop ---------------------------------------------------------------------------------------
def random_spd(rng, count, size):
    half = rng.normal(size=(count, size, size))
    return half @ np.swapaxes(half, 1, 2) + 0.1 * np.eye(size)


@pytest.mark.parametrize("rank", [0, 1, 3, 6])
def test_last_update_against_a_dense_solve(rank):
    rng = np.random.default_rng(rank)
    states = random_spd(rng, 5, rank + 5)
    # three choices of the tubes that this one's joints give on, four options of its own
    added = random_spd(rng, 12, rank).reshape(3, 4, rank, rank)
    chords = np.array([2, 0, 1, 1, 2])
    pairs = ((0, 0, 1), (1, 2, 0), (0, 1, 2))
    out = np.zeros((3, 5, 4))
    last_update(states, added, 2, pairs, out, chords)
    for m in range(5):
        for n in range(4):
            system = states[m, :rank, :rank] + added[chords[m], n]
            for load, measure, output in pairs:
                a, b = states[m, :rank, rank + load], states[m, :rank, rank + 2 + measure]
                expected = states[m, rank + load, rank + 2 + measure] - a @ np.linalg.solve(
                    system, b
                )
                assert out[output, m, n] == pytest.approx(expected, rel=1e-9)


class Counting(np.ndarray):
    """An array that counts the floating-point operations done on it."""

    count = 0

    def __array_ufunc__(self, ufunc, method, *inputs, out=(), **kwargs):
        plain = [np.asarray(x) for x in inputs]
        if out:
            kwargs["out"] = tuple(np.asarray(x) for x in out)
        result = getattr(ufunc, method)(*plain, **kwargs)
        Counting.count += result.size
        return out[0] if out else result.view(Counting)


@pytest.mark.parametrize("rank", [1, 3, 6, 12])
def test_stated_operations_are_the_ones_carried_out(rank):
    rng = np.random.default_rng(rank)
    states, added = (
        random_spd(rng, 2, rank + 4).view(Counting),
        random_spd(rng, 3, rank).view(Counting),
    )
    pairs = ((0, 0, 0), (0, 1, 1), (0, 2, 2))
    Counting.count = 0
    out = np.zeros((3, 2, 3)).view(Counting)
    last_update(states, added[None], 1, pairs, out, np.zeros(2, dtype=int))
    assert Counting.count / 6 == last_update_operations(rank, 1, 3, len(pairs))


def test_operations_per_variant_are_shared_over_the_grid():
    few, many = (small_search(diameters=np.linspace(-2, 2, n)) for n in (2, 12))
    assert many.kernel.grid.operations < few.kernel.grid.operations / 2
    assert many.kernel.grid.operations < 600


def test_shares_cover_the_grid_once():
    spans = shares((3, 4, 5), 17)
    assert spans[0] == (0, 15)
    assert [a for a, _ in spans[1:]] == [b for _, b in spans[:-1]]
    assert spans[-1][1] == 60
