"""Harmonic response: one mass on a spring by hand, direct against modal, reciprocity, resonance, free bodies."""

from collections.abc import Callable
from dataclasses import replace
from math import inf, pi

import numpy as np
import pytest
from droptrail.model.arrays import Array
from droptrail.model.errors import MechanismError, ModelError
from droptrail.model.mechanics.frame_model import Element, FrameModel, NodeMass, RigidLink, Spring
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import round_tube
from droptrail.model.vibration.harmonic import direct_response, modal_response, static_response
from droptrail.model.vibration.modes import Dynamics

STEEL = Material("steel", 205e3, 80e3, 7.85e-9)
TUBE = replace(round_tube(28.6, 0.9, STEEL.nu), Asy=inf, Asz=inf)
FIXED = (1, 1, 1, 1, 1, 1)


def beam(pieces: int = 12) -> FrameModel:
    nodes = {f"{k}": (550.0 * k / pieces, 0.0, 0.0) for k in range(pieces + 1)}
    return FrameModel(
        nodes,
        tuple(Element(f"e{k}", f"{k}", f"{k + 1}", TUBE, STEEL, (0, 1, 0)) for k in range(pieces)),
    )


def push(model: FrameModel, node: str, dof: int, size: complex = 1.0) -> Array:
    out = np.zeros(model.dofs, dtype=complex)
    out[6 * model.node_index[node] + dof] = size
    return out


def oscillator() -> Dynamics:
    """2 kg on 500 N/mm sideways; a weightless stub only because a model needs an element."""
    model = FrameModel(
        {"a": (0.0, 0.0, 0.0), "b": (100.0, 0.0, 0.0)},
        (Element("e", "a", "b", TUBE, replace(STEEL, rho=0.0), (0, 1, 0)),),
        springs=(Spring("s", "a", None, (1e3, 5e2, 1e3, 1e6, 1e6, 1e6)),),
        rigid_links=(RigidLink("a", "b"),),
        masses=(NodeMass("a", 2e-3, (1.0, 1.0, 1.0)),),
    )
    return Dynamics.of(model)


@pytest.mark.parametrize("zeta", [0.01, 0.2])
@pytest.mark.parametrize("by", ["direct", "modal"])
def test_one_mass_on_a_spring(zeta: float, by: str) -> None:
    """u = f / (k (1 + 2 i zeta) - m w^2): at the resonance amplitude f / (2 zeta k), a quarter turn behind."""
    dynamics = oscillator()
    hz = np.array([0.0, 20.0, np.sqrt(5e2 / 2e-3) / (2 * pi), 200.0])
    force = push(dynamics.model, "a", 1, 30.0)
    found = (
        direct_response(dynamics, force, hz, zeta)
        if by == "direct"
        else modal_response(dynamics, dynamics.modes(6), force, hz, zeta)
    ).at("a")[:, 1]
    expected = 30.0 / (5e2 * (1 + 2j * zeta) - 2e-3 * (2 * pi * hz) ** 2)
    np.testing.assert_allclose(found, expected, rtol=1e-10)
    assert abs(found[2]) == pytest.approx(30 / 5e2 / (2 * zeta), rel=1e-9)
    assert np.degrees(np.angle(found[2])) == pytest.approx(-90, abs=1e-6)


def test_modal_and_direct_agree() -> None:
    """All modes: to rounding. A few with the static rest: the rest's error falls as (f / f_left_out)^2."""
    dynamics = Dynamics.of(beam(), {"0": FIXED})
    force = push(dynamics.model, "12", 1, 10.0) + push(dynamics.model, "7", 2, 5j)
    hz = np.array([5.0, 92.0, 300.0])
    exact = direct_response(dynamics, force, hz, 0.02).u
    every = modal_response(dynamics, dynamics.modes(dynamics.k.shape[0]), force, hz, 0.02).u
    np.testing.assert_allclose(every, exact, rtol=0, atol=1e-8 * np.abs(exact).max())
    errors = [
        np.abs(modal_response(dynamics, dynamics.modes(n), force, hz[:1], 0.02).u - exact[:1]).max()
        / np.abs(exact[:1]).max()
        for n in (2, 6)
    ]
    assert errors[1] < errors[0] < 1e-3
    left_out = modal_response(dynamics, dynamics.modes(2), force, hz[2:], 0.02).u
    assert np.abs(left_out - exact[2:]).max() > 1e-3 * np.abs(exact[2:]).max()


def test_reciprocity() -> None:
    """Motion at A under a push at B equals motion at B under the same push at A, at any frequency (Rayleigh)."""
    dynamics = Dynamics.of(beam(), {"0": FIXED})
    here, there = push(dynamics.model, "12", 1), push(dynamics.model, "5", 5)
    a = direct_response(dynamics, here, [150.0], 0.03).at("5")[0, 5]
    b = direct_response(dynamics, there, [150.0], 0.03).at("12")[0, 1]
    assert a == pytest.approx(b, rel=1e-9)
    assert abs(a.imag) > 1e-3 * abs(a)


def test_standing_still_is_the_static_solution() -> None:
    dynamics = Dynamics.of(beam(), {"0": FIXED})
    force = push(dynamics.model, "12", 1, 10.0)
    still = static_response(dynamics, force[None])[0].reshape(-1, 6)
    assert still[-1, 1].real == pytest.approx(10 * 550**3 / (3 * STEEL.E * TUBE.Iz), rel=1e-9)
    np.testing.assert_allclose(direct_response(dynamics, force, [0.0]).u[0], still, atol=1e-9)


def test_a_free_body_answers_as_a_mass() -> None:
    """Well below the first elastic root (589 Hz) the centre moves by -f / (m w^2), both ways of solving."""
    dynamics = Dynamics.of(beam())
    force = push(dynamics.model, "0", 0, 1.0)
    mass = STEEL.rho * TUBE.A * 550
    for response in (
        direct_response(dynamics, force, [3.0]),
        modal_response(dynamics, dynamics.modes(30), force, [3.0]),
    ):
        assert response.at("6")[0, 0] == pytest.approx(-1 / (mass * (6 * pi) ** 2), rel=1e-4)
    with pytest.raises(MechanismError, match="no static deflection"):
        static_response(dynamics, force[None])


def test_each_frequency_may_have_its_own_load() -> None:
    dynamics = Dynamics.of(beam(), {"0": FIXED})
    loads = np.array([push(dynamics.model, "12", 1, 1.0), push(dynamics.model, "12", 2, 2.0)])
    both = direct_response(dynamics, loads, [10.0, 20.0], 0.01)
    np.testing.assert_allclose(
        both.u[1], direct_response(dynamics, loads[1], [20.0], 0.01).u[0], rtol=1e-12
    )


@pytest.mark.parametrize(
    ("wrong", "words"),
    [
        (
            lambda d, f: modal_response(d, d.modes(6), f, [d.modes(6).frequencies_hz[0]]),
            "is a natural frequency",
        ),
        (lambda d, f: direct_response(d, f, [-1.0]), "zero or more"),
        (lambda d, f: direct_response(d, f, [1.0], 1.5), "between 0 and 1"),
        (lambda d, f: direct_response(d, f[:-1], [1.0]), "finite numbers are needed"),
        (lambda d, f: direct_response(d, f * np.nan, [1.0]), "finite numbers are needed"),
    ],
)
def test_refusals(wrong: Callable[[Dynamics, Array], object], words: str) -> None:
    dynamics = oscillator()
    with pytest.raises(ModelError, match=words):
        wrong(dynamics, push(dynamics.model, "a", 1))


def test_an_undamped_resonance_is_refused_by_the_direct_way() -> None:
    """A stub whose k and m are round numbers: at exactly 1 / 2 pi Hz the matrix is singular to the last bit."""
    model = FrameModel(
        {"a": (0.0, 0.0, 0.0), "b": (1.0, 0.0, 0.0)},
        (Element("e", "a", "b", TUBE, replace(STEEL, rho=0.0), (0, 1, 0)),),
        springs=(Spring("s", "a", None, (4.0, 4.0, 4.0, 4.0, 4.0, 4.0)),),
        rigid_links=(RigidLink("a", "b"),),
        masses=(NodeMass("a", 1.0, (1.0, 1.0, 1.0)),),
    )
    dynamics = Dynamics.of(model)
    with pytest.raises(ModelError, match="is a natural frequency"):
        direct_response(dynamics, push(model, "a", 0), [1 / pi])
