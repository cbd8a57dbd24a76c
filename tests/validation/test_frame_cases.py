"""Every published and closed-form frame result of tests/data/frame_cases.json, by our own solver.

The source of each figure stands in the file beside it and is printed when a test fails; the test id names case,
model, quantity and kind of source.
"""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest
from droptrail.validation.answers import our_answers
from droptrail.validation.reference_cases import Answers, Reference, evaluate, read_references

FILE = Path(__file__).parents[1] / "data" / "frame_cases.json"
REFERENCES = read_references(FILE)
STATIC = [r for r in REFERENCES if r.of.kind == "static"]
BUCKLING = [r for r in REFERENCES if r.of.kind == "buckling"]


def named(references):
    return [pytest.param(r, id=r.id) for r in references]


def assert_met(reference: Reference, computed: float) -> None:
    assert reference.met_by(computed), (
        f"{reference.id}: {computed!r} instead of {reference.value!r} within {reference.tolerance:.1e}\n"
        f"{reference.of.title}\nsource: {reference.of.source}"
    )


@pytest.mark.parametrize("reference", named(STATIC))
def test_static_reference(reference):
    assert_met(reference, evaluate(reference, our_answers(reference.of)))


@pytest.mark.parametrize("reference", named(BUCKLING))
def test_buckling_reference(reference):
    assert_met(reference, evaluate(reference, our_answers(reference.of)))


# --- the harness itself -----------------------------------------------------------------------------------------
def test_every_reference_of_the_file_is_there():
    """306 figures in 24 cases and 45 models, as counted in the file when it was taken over; none lost, none twice."""
    kinds = Counter(r.of.kind for r in REFERENCES)
    assert kinds == {"static": 204, "modal": 88, "buckling": 6, "harmonic": 8}
    assert len({r.id for r in REFERENCES}) == 306
    assert len({r.of.case for r in REFERENCES}) == 24
    assert len({(r.of.case, r.of.name) for r in REFERENCES}) == 45


def test_every_reference_has_a_tolerance_and_a_source():
    for r in REFERENCES:
        assert r.of.source
        assert 0 < r.tolerance < 0.04 * max(abs(r.value), 0.5), r.id


@pytest.mark.parametrize("reference", named(STATIC + BUCKLING))
def test_harness_fails_when_the_expected_value_is_two_tolerances_off(reference):
    computed = evaluate(reference, our_answers(reference.of))
    away = 2 * reference.tolerance * (1 if computed <= reference.value else -1)
    moved = replace(reference, value=reference.value + away, rtol=0.0, atol=reference.tolerance)
    assert not moved.met_by(computed)
    with pytest.raises(AssertionError, match="source"):
        assert_met(moved, computed)


def test_a_missing_mode_meets_no_reference():
    reference = BUCKLING[0]
    assert not reference.met_by(evaluate(reference, Answers(factors={"1": []})))


def test_an_unknown_quantity_is_refused():
    from droptrail.model.errors import InputError

    strange = replace(STATIC[0], query={**STATIC[0].query, "q": "colour"})
    with pytest.raises(InputError, match="'colour' is not known"):
        evaluate(strange, our_answers(STATIC[0].of))


def test_a_reference_to_a_model_that_is_not_there_is_refused(tmp_path):
    from droptrail.model.errors import InputError

    path = tmp_path / "cases.json"
    path.write_text(
        '{"cases": [{"id": "X", "kind": "static", "title": "t", "source": {"text": "s"}, "models": {},'
        ' "suggested_rtol": 1e-9, "references": [{"q": "disp", "model": "main", "value": 1}]}]}'
    )
    with pytest.raises(InputError, match="case X, reference 0: no model 'main'"):
        read_references(path)
