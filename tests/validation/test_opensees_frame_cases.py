"""The published and closed-form frame results again, by OpenSees: the same file, the same tolerances.

Two independent programs meeting the same figures says that the hand-over (axes, releases, links, springs, member
loads, masses) is right; their difference is then held to 1e-8 for every static case.
"""

import pytest
from droptrail.validation.answers import opensees_answers, our_answers
from droptrail.validation.opensees import available, compare, cross_check
from droptrail.validation.reference_cases import evaluate
from test_frame_cases import REFERENCES, STATIC, assert_met, named

pytestmark = pytest.mark.skipif(available() is not None, reason=str(available()))

MODES = [r for r in REFERENCES if r.quantity in ("freq", "nrigid")]
STATIC_MODELS = list(dict.fromkeys(r.of for r in STATIC))


@pytest.mark.parametrize("reference", named(STATIC))
def test_static_reference(reference):
    assert_met(reference, evaluate(reference, opensees_answers(reference.of, REFERENCES)))


@pytest.mark.parametrize("reference", named(MODES))
def test_modal_reference(reference):
    assert_met(reference, evaluate(reference, opensees_answers(reference.of, REFERENCES)))


@pytest.mark.parametrize(
    "of", [pytest.param(of, id=f"{of.case}-{of.name}") for of in STATIC_MODELS]
)
def test_both_solvers_agree_on_every_static_case(of):
    ours = our_answers(of).solutions
    checks = {
        name: compare(result, opensees_answers(of, REFERENCES).solutions[name])
        for name, result in ours.items()
    }
    assert checks.keys() == {case.name for case in of.file.cases}
    for name, check in checks.items():
        assert check.ok, (name, check.differences)


def test_all_of_them_ran():
    assert len(STATIC) == 204
    assert len(MODES) == 92
    assert len(STATIC_MODELS) == 29


def test_cross_check_takes_results_as_they_come():
    of = STATIC_MODELS[0]
    checks = cross_check(our_answers(of).solutions)
    assert [c.verdict for c in checks.values()] == ["pass"] * len(of.file.cases)
