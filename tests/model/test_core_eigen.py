"""Corners of the eigen-solver: counting roots where a pivot vanishes, systems without stiffness, hopeless scaling."""

import numpy as np
import pytest
from droptrail.model.errors import MechanismError, ModelError
from droptrail.model.vibration import eigen
from droptrail.model.vibration.eigen import count_below, lowest_pairs
from scipy import sparse


def matrix(dense) -> sparse.csr_matrix:
    return sparse.csr_matrix(np.array(dense, dtype=float))


ONE = sparse.identity(3, format="csr")
ROOTS = matrix([[2.0, 0, 0], [0, 5.0, 0], [0, 0, 9.0]])
# Roots -1 and 1 and 4, no diagonal to pivot on in the first two rows.
CROSSED = matrix([[0.0, 1, 0], [1, 0.0, 0], [0, 0, 4.0]])


@pytest.mark.parametrize(("root", "count"), [(1.0, 0), (3.0, 1), (6.0, 2), (10.0, 3)])
def test_roots_below_a_value_are_counted(root, count):
    assert count_below(ROOTS, ONE, root) == count


@pytest.mark.parametrize(("root", "count"), [(-2.0, 0), (0.0, 1), (2.0, 2), (5.0, 3)])
def test_a_zero_pivot_is_counted_the_dense_way(root, count):
    assert count_below(CROSSED, ONE, root) == count


def test_a_value_that_is_itself_a_root_does_not_count_it():
    assert count_below(ROOTS, ONE, 5.0) == 1
    assert count_below(sparse.csr_matrix((3, 3)), ONE, 0.0) == 0


def test_where_it_cannot_be_counted_it_says_so(monkeypatch):
    monkeypatch.setattr(eigen, "DENSE_LIMIT", 2)
    with pytest.raises(
        ModelError,
        match=r"modes below root 5 could not be counted on 3 unknowns; use a coarser mesh",
    ):
        count_below(ROOTS, ONE, 5.0)


def test_nothing_but_mass_is_a_mechanism():
    with pytest.raises(MechanismError):
        lowest_pairs(sparse.csr_matrix((3, 3)), ONE, 1)


def test_a_free_row_beside_stiff_ones_is_a_rigid_motion():
    roots, vectors, rigid = lowest_pairs(matrix(np.diag([0.0, 4.0, 9.0])), ONE, 3)
    assert rigid == 1
    np.testing.assert_allclose(roots, [0.0, 4.0, 9.0], rtol=1e-9)
    np.testing.assert_allclose(np.abs(vectors), np.eye(3), atol=1e-9)


def test_a_matrix_that_lapack_gives_up_on_is_refused_in_words(monkeypatch):
    def gives_up(*_, **__):
        raise np.linalg.LinAlgError("not positive definite")

    monkeypatch.setattr("scipy.linalg.eigh", gives_up)
    with pytest.raises(ModelError, match="too badly scaled for natural modes; check the units"):
        lowest_pairs(ROOTS, ONE, 2)
