"""The rigid bicycle against its published benchmark.

Meijaard, Papadopoulos, Ruina, Schwab 2007, Proc. R. Soc. A 463, 1955-1982. Table 1 was read; the state matrix
rows were read in SymPy's test of the same bicycle (sympy/physics/mechanics/tests/test_kane3.py); matrices,
table 2 eigenvalues and the critical speeds are from memory (they agree with what was read).
"""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.stability.whipple import BENCHMARK, RigidBody, Wheel
from hypothesis import given, settings
from hypothesis import strategies as st

PAPER = {
    "M": [[80.81722, 2.31941332208709], [2.31941332208709, 0.29784188199686]],
    "C1": [[0, 33.86641391492494], [-0.85035641456978, 1.68540397397560]],
    "K0": [[-80.95, -2.59951685249872], [-2.59951685249872, -0.80329488458618]],
    "K2": [[0, 76.59734589573222], [0, 2.65431523794604]],
}
# Table 2: weave real and imaginary part, castering, capsize eigenvalue (from memory; at 0, 5 also computed).
TABLE_2 = {
    0: [-5.53094371765393, -3.13164324790656, 3.13164324790656, 5.53094371765393],
    5: [
        -14.07838969279822,
        -0.77534188219585 - 4.46486771378823j,
        -0.77534188219585 + 4.46486771378823j,
        -0.32286642900409,
    ],
}


def table_1(v: float) -> np.ndarray:
    """Lower half of the published state matrix at speed v."""
    return np.array(
        [
            [
                9.48977444677355,
                -0.891197738059089 * v**2 - 0.571523173729245,
                -0.105522449805691 * v,
                -0.330515398992311 * v,
            ],
            [
                11.7194768719633,
                -1.97171508499972 * v**2 + 30.9087533932407,
                3.67680523332152 * v,
                -3.08486552743311 * v,
            ],
        ]
    )


@pytest.mark.parametrize("name", PAPER)
def test_matrices_of_the_paper(name: str) -> None:
    np.testing.assert_allclose(getattr(BENCHMARK.matrices, name), PAPER[name], rtol=0, atol=2e-12)


@pytest.mark.parametrize("v", [0.0, 1.0, 3.7, 5.0, 10.0])
def test_state_matrix_rows_that_were_read(v: float) -> None:
    state = BENCHMARK.matrices.state_matrix(v)
    np.testing.assert_array_equal(state[:2], [[0, 0, 1, 0], [0, 0, 0, 1]])
    np.testing.assert_allclose(state[2:], table_1(v), rtol=1e-13, atol=1e-12)


@pytest.mark.parametrize("v", range(11))
def test_eigenvalues_follow_from_the_published_rows(v: int) -> None:
    rows = np.vstack([[[0, 0, 1, 0], [0, 0, 0, 1]], table_1(v)])
    expected = np.linalg.eigvals(rows)
    expected = expected[np.lexsort((expected.imag, expected.real))]
    np.testing.assert_allclose(BENCHMARK.eigenvalues(v), expected, rtol=1e-10, atol=1e-10)


@pytest.mark.parametrize("v", TABLE_2)
def test_eigenvalues_of_table_2(v: int) -> None:
    np.testing.assert_allclose(BENCHMARK.eigenvalues(v), TABLE_2[v], rtol=0, atol=1e-11)


def test_critical_speeds() -> None:
    assert BENCHMARK.weave_speed == pytest.approx(4.292382536, abs=5e-10)
    assert BENCHMARK.capsize_speed == pytest.approx(6.024262015, abs=5e-10)


def test_critical_speeds_are_where_stability_changes() -> None:
    weave, capsize = BENCHMARK.weave_speed, BENCHMARK.capsize_speed
    assert weave is not None
    assert capsize is not None
    unstable = {
        v: int((BENCHMARK.eigenvalues(v).real > 0).sum())
        for v in (weave - 1e-3, weave + 1e-3, capsize - 1e-3, capsize + 1e-3)
    }
    assert list(unstable.values()) == [2, 0, 0, 1]


def test_a_bicycle_without_trail_and_spin_never_steadies_itself() -> None:
    """Castor effects gone: the lean alone falls over at every speed, there is no weave or capsize speed."""
    dead = replace(
        BENCHMARK,
        trail=0.0,
        tilt=0.0,
        rear_wheel=Wheel(0.3, 2, 0.06, 0),
        front_wheel=Wheel(0.35, 3, 0.14, 0),
    )
    assert all(max(dead.eigenvalues(v).real) > 0 for v in range(1, 11))


def test_geometry_of_the_benchmark_from_its_frame_dimensions() -> None:
    """Head angle 72 degrees and offset 0.032071427 m give the table's trail (identity read in Moore 2012)."""
    frame = FrameDimensions(
        reach=380,
        head_angle=72,
        seat_angle=73,
        bb_drop=50,
        chainstay=430,
        head_tube=140,
        lower_stack=10,
        fork_length=380,
        fork_offset=32.071427,
        wheel_radius_front=350,
        wheel_radius_rear=300,
    )
    assert frame.trail / 1000 == pytest.approx(BENCHMARK.trail, abs=1e-9)
    assert pi / 2 - np.radians(frame.head_angle) == pytest.approx(BENCHMARK.tilt, abs=1e-15)


@settings(deadline=None, max_examples=30)
@given(mass=st.floats(0.5, 3), length=st.floats(0.5, 3), v=st.floats(0, 10))
def test_scaling(mass: float, length: float, v: float) -> None:
    """Mass scales out; with all lengths times k, speed times sqrt(k), eigenvalues go with 1 / sqrt(k)."""

    def body(b: RigidBody) -> RigidBody:
        i = mass * length**2
        return RigidBody(b.mass * mass, b.x * length, b.z * length, b.Ixx * i, b.Izz * i, b.Ixz * i)

    def wheel(w: Wheel) -> Wheel:
        return Wheel(
            w.radius * length, w.mass * mass, w.Ixx * mass * length**2, w.Iyy * mass * length**2
        )

    b = BENCHMARK
    other = replace(
        b,
        wheelbase=b.wheelbase * length,
        trail=b.trail * length,
        rear_wheel=wheel(b.rear_wheel),
        rear_body=body(b.rear_body),
        front_assembly=body(b.front_assembly),
        front_wheel=wheel(b.front_wheel),
    )
    scaled = np.poly(other.eigenvalues(v * length**0.5) * length**0.5)
    np.testing.assert_allclose(scaled, np.poly(b.eigenvalues(v)), rtol=1e-9, atol=1e-8)


def test_impossible_values_are_named() -> None:
    with pytest.raises(ModelError, match="wheelbase is 0"):
        replace(BENCHMARK, wheelbase=0.0)
    with pytest.raises(ModelError, match="tilt below 90 degrees"):
        replace(BENCHMARK, tilt=pi / 2)
    with pytest.raises(ModelError, match="wheel mass and inertia must be"):
        Wheel(0.3, 2, -0.06, 0.12)
    with pytest.raises(ModelError, match="wheel radius is -0"):
        Wheel(-0.3, 2, 0.06, 0.12)
    with pytest.raises(ModelError, match="Ixz 9 is larger"):
        RigidBody(85, 0.3, -0.9, 9.2, 2.8, 9)
    with pytest.raises(ModelError, match="mass and inertia"):
        RigidBody(float("nan"), 0.3, -0.9, 9.2, 2.8, 0)
