"""Limits, objectives, front and best of a search against brute force, however it is cut; memory stays bounded."""

import tracemalloc
from concurrent.futures import Future, ThreadPoolExecutor

import numpy as np
import pytest
from droptrail.model.choice.pareto import front
from droptrail.model.choice.search import Bound, Objective, run, set_up
from droptrail.model.errors import ModelError
from helpers_bicycle import tourer
from helpers_search import THREE, brute_force, small_search
from hypothesis import given, settings
from hypothesis import strategies as st

BOUNDS = (
    Bound("side_push.head_sideways", True, 1.0, percent=True),
    Bound("mass", False, 2115.0, unit="g"),
    Bound("seated.saddle_vertical", False, 6.0, percent=True),
)
GOALS = (Objective("side_push.head_sideways", True), Objective("mass", False))
SEARCH = small_search(bounds=BOUNDS, objectives=GOALS, diameters=(-2.0, 0.0, 1.0, 3.0))


def beaten(costs):
    """Rows that some other row dominates, by comparing every pair: the definition, n^2."""
    worse = (costs[:, None, :] <= costs[None, :, :]).all(axis=2) & (
        costs[:, None, :] < costs[None, :, :]
    ).any(axis=2)
    return worse.any(axis=0)


@given(st.integers(1, 4), st.integers(0, 60), st.integers(1, 6), st.integers(0, 2**32 - 1))
@settings(deadline=None, max_examples=120)
def test_front_is_the_definition(goals, rows, spread, seed):
    costs = (
        np.random.default_rng(seed).integers(0, spread, size=(rows, goals)).astype(float)
    )  # many ties
    assert front(costs).tolist() == np.flatnonzero(~beaten(costs)).tolist()


@pytest.mark.parametrize("goals", [2, 3])
def test_front_of_a_quarter_sphere_is_its_surface(goals):
    rng = np.random.default_rng(1)
    surface = -np.abs(rng.normal(size=(200, goals)))
    surface /= np.linalg.norm(surface, axis=1)[:, None]
    costs = np.vstack([surface, surface * rng.uniform(0.1, 0.99, size=(200, 1))])
    assert set(range(200)) <= set(front(costs))
    assert front(costs).tolist() == np.flatnonzero(~beaten(costs)).tolist()


def test_front_leaves_out_what_is_not_a_number():
    assert front(np.array([[1.0, np.nan], [np.inf, 0.0], [2.0, 2.0]])).tolist() == [2]


# --- against brute force by the full solver ------------------------------------------------------------------
@pytest.fixture(scope="module")
def full():
    return brute_force(SEARCH)


def total(search, chunk):
    summary = search.kernel.nothing
    for result in run(search, chunk=chunk):
        summary = search.kernel.merged(summary, result.summary)
    return summary


def test_search_equals_brute_force_by_the_full_solver(full):
    summary = total(SEARCH, 10)
    keys = [f.key for f in SEARCH.figures]
    push, mass, saddle = (
        full[:, keys.index(k)]
        for k in ("side_push.head_sideways", "mass", "seated.saddle_vertical")
    )
    ref_push, ref_saddle = (
        SEARCH.reference[keys.index(k)]
        for k in ("side_push.head_sideways", "seated.saddle_vertical")
    )
    broken = np.array([push < 1.01 * ref_push, mass > 2115.0, saddle > 1.06 * ref_saddle])
    within = np.flatnonzero(~broken.any(axis=0))
    assert 3 < len(within) < SEARCH.size - 3
    assert (summary.seen, summary.within) == (SEARCH.size, len(within))
    assert summary.broken.tolist() == broken.sum(axis=1).tolist()
    only = broken & (broken.sum(axis=0) == 1)
    assert summary.alone.tolist() == only.sum(axis=1).tolist()
    best = within[np.argsort(-push[within])]
    assert summary.best.numbers.tolist() == best[:10].tolist()
    costs = np.column_stack([-push, mass])
    assert summary.front.numbers.tolist() == within[~beaten(costs[within])].tolist()
    assert np.allclose(summary.front.figures, full[summary.front.numbers], rtol=1e-9)
    for row, found in zip(only, summary.without, strict=True):
        candidates = np.flatnonzero(row)
        expected = [candidates[np.argmax(push[candidates])]] if len(candidates) else []
        assert found.numbers.tolist() == expected


@pytest.mark.parametrize("chunk", [1, 4, 7, 64, 1000])
def test_chunks_do_not_matter(chunk):
    whole, cut = SEARCH.kernel.run(0, SEARCH.size)[0], total(SEARCH, chunk)
    for name in ("best", "front"):
        assert getattr(cut, name).numbers.tolist() == getattr(whole, name).numbers.tolist()
    assert (cut.seen, cut.within, cut.broken.tolist()) == (
        whole.seen,
        whole.within,
        whole.broken.tolist(),
    )


def test_results_repeat_bit_for_bit():
    again = small_search(bounds=BOUNDS, objectives=GOALS, diameters=(-2.0, 0.0, 1.0, 3.0))
    assert np.array_equal(
        again.kernel.figures_of(0, again.size), SEARCH.kernel.figures_of(0, SEARCH.size)
    )
    assert again.fingerprint(10) == SEARCH.fingerprint(10)
    assert again.fingerprint(11) != SEARCH.fingerprint(10)


def test_nothing_within_the_limits():
    summary = total(small_search(bounds=(Bound("mass", False, 100.0),)), 9)
    assert (summary.within, len(summary.best), len(summary.front)) == (0, 0, 0)
    assert len(summary.without[0]) == 1  # what would be the best if only the mass were free


def test_unknown_figures_are_refused_with_the_known_ones():
    with pytest.raises(
        ModelError,
        match=r"figure 'seated.nose' is not measured here; known: mass, frame_mass, seated",
    ):
        small_search(bounds=(Bound("seated.nose", True, 1.0),))


# --- running --------------------------------------------------------------------------------------------------
def test_done_chunks_are_not_worked_out_again():
    assert [r.number for r in run(SEARCH, done={0, 2}, chunk=16)] == [1, 3]


def test_any_standard_executor_gives_the_same():
    with ThreadPoolExecutor(2) as pool:
        numbers = sorted(r.number for r in run(SEARCH, pool, chunk=8))
    assert numbers == list(range(8))


def test_only_a_few_chunks_are_under_way():
    class Lazy(ThreadPoolExecutor):
        most = under_way = 0

        def submit(self, *args):
            self.under_way += 1
            self.most = max(self.most, self.under_way)
            future: Future = super().submit(*args)
            return future

    with Lazy(1) as pool:
        for _ in run(SEARCH, pool, chunk=4, ahead=3):
            pool.under_way -= 1
    assert 1 <= pool.most <= 3


def test_memory_does_not_grow_with_the_number_of_variants():
    def measured(count):
        tube = tourer().tubes
        choices = {
            name: [tube[name].scaled(0.05 * k) for k in range(count)]
            for name in ("top_tube", "down_tube")
        }
        search = set_up(tourer(), choices, THREE, BOUNDS, GOALS)
        tracemalloc.start()
        try:
            for _ in run(search, chunk=2000):
                pass
            return tracemalloc.get_traced_memory()[1], search.size
        finally:
            tracemalloc.stop()

    (small, few), (large, many) = measured(45), measured(135)
    assert many == 9 * few
    assert large < 1.5 * small
