"""`make mutation` finds its modules and their tests, and notices when it would test nothing."""

import pytest
from mutation import ROOT, TESTS, USUAL, configuration
from mutation import tests_for as named


@pytest.mark.parametrize("module", TESTS)
def test_every_module_has_its_tests(module):
    assert (ROOT / module).is_file()
    assert len(named(module).split()) == len(TESTS[module])
    assert named(module) in configuration(module)


def test_a_module_not_listed_takes_the_tests_of_its_name():
    assert named("model/mechanics/buckling.py") == "tests/model/test_buckling.py"


def test_a_module_without_tests_is_refused():
    with pytest.raises(SystemExit, match=r"model/version\.py: no tests are named after it"):
        named("model/version.py")


def test_the_usual_modules_are_the_core():
    assert set(USUAL) <= set(TESTS)
