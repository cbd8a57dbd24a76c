"""`make mutation` finds its modules and their tests, and notices when it would test nothing."""

import pytest
from mutation import READER, ROOT, TESTS, USUAL, configuration, left_out
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


def test_the_reader_of_drawings_is_among_them():
    rooms = {module.split("/")[2] for module in READER}
    assert rooms == {"linework", "labelling", "sideview"}
    assert len(READER) >= 18
    held = {module.rpartition("/")[2] for module in READER}
    assert {"weights.py", "search.py", "choice.py", "steering.py"} <= held


def test_a_sample_is_the_same_for_the_same_seed_whatever_the_order():
    faults = [f"fault {k}" for k in range(50)]
    gone = left_out(faults, 20, seed=3)
    assert len(gone) == 30
    assert set(left_out(faults[::-1], 20, seed=3)) == set(gone)
    assert set(left_out(faults, 20, seed=4)) != set(gone)
    assert left_out(faults, 0, seed=3) == left_out(faults, 60, seed=3) == []
