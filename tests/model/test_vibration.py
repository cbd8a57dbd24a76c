"""The bicycle made ready for modes: masses complete, supports as said, and plausible frequencies."""

from dataclasses import replace
from math import pi

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Loads, PartMasses
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.beam import Beams
from droptrail.model.mechanics.frame_model import NodeMass
from droptrail.model.mechanics.inertia import rigid_motions
from droptrail.model.vibration.mass import mass_matrix
from droptrail.model.vibration.mode_words import describe
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import SUPPORTS, VibrationParts, assumptions, vibration_model
from helpers_bicycle import tourer

LADEN = tourer(loads=Loads(front_luggage=6.0, rear_luggage=12.0))


@pytest.mark.parametrize("supports", SUPPORTS)
def test_every_kilogram_is_in_it_once(supports: str) -> None:
    """Lumps of the sheet (rider 80, bags 18, wheels 3.6 kg) and parts on top of the bare mesh."""
    model, case = vibration_model(LADEN, supports)  # type: ignore[arg-type]
    bare = modes(replace(mesh(LADEN), rotary=True), count=1).total_mass[0]
    laden = modes(model, case.supports, case.springs, count=1).total_mass[0]
    added = (
        80 + 18 + 1.6 + 2.0 + 2.4 + 0.35 + 0.5
    )  # drivetrain, saddle, levers; post, bar and stem are meshed
    assert (laden - bare) * 1000 == pytest.approx(added, rel=1e-9)
    assert 1.5 < bare * 1000 < 4.0


def test_rigid_motions_are_those_that_the_supports_leave() -> None:
    """Free: six and the steering. Tyres and rigid supports: none."""
    counts = {}
    for supports in SUPPORTS:
        model, case = vibration_model(tourer(), supports)
        counts[supports] = modes(model, case.supports, case.springs, count=9).rigid
    assert counts == {"rigid": 0, "tyres": 0, "free": 7}


def test_bounce_on_the_tyres_by_hand() -> None:
    """Tyres of 1 N/mm under a frame a thousand times stiffer: a rigid body on two springs, bounce and pitch.

    Fore-aft is held at the rear axle, so pitching moves the centre of mass, `lever` above it, fore and aft too.
    """
    model, case = vibration_model(tourer(), "tyres", VibrationParts(tyre_vertical=1.0))
    found = modes(model, case.supports, case.springs, count=6)
    about = rigid_motions(model.xyz)
    moments = about.T @ (mass_matrix(Beams.of(model)) @ about)
    mass, inertia = found.total_mass[0], found.total_mass[5]
    x, y = moments[1, 5] / mass, -moments[0, 5] / mass
    rear, front, lever = (
        model.nodes["rear_contact"][0] - x,
        model.nodes["front_contact"][0] - x,
        y - 76.0,
    )
    assert model.nodes["rear_axle"][1] == 76.0
    k = np.array([[2.0, rear + front], [rear + front, rear**2 + front**2]])
    m = np.diag([mass, inertia + mass * lever**2])
    expected = np.sort(np.sqrt(np.linalg.eigvals(np.linalg.solve(m, k)))) / (2 * pi)
    got = sorted(
        w.hz for w in describe(found) if w.title in ("bounce on the tyres", "pitch on the tyres")
    )
    np.testing.assert_allclose(got, expected, rtol=0.01)


def test_bounce_with_rider_lies_near_the_published_value() -> None:
    """PLAUSIBILITY: published about 10 Hz for bicycle and rider on two tyres (READ second-hand); here 5 to 12."""
    model, case = vibration_model(tourer(), "tyres")
    words = describe(modes(model, case.supports, case.springs))
    bounce = next(w.hz for w in words if w.title == "bounce on the tyres")
    assert 5 < bounce < 12


def test_mass_lowers_and_stiffer_tubes_raise_the_frequencies() -> None:
    light, heavy = (
        vibration_model(tourer(loads=Loads(rider_mass=m)), "rigid") for m in (60.0, 110.0)
    )
    first, second = (modes(m, c.supports, c.springs).frequencies_hz for m, c in (light, heavy))
    assert np.all(second <= first * (1 + 1e-9))
    assert second[0] < 0.95 * first[0]


def test_bags_hang_where_the_static_case_hangs_them() -> None:
    model, _ = vibration_model(LADEN, "free")
    by_node: dict[str, float] = {}
    for mass in model.masses:
        by_node[mass.node] = by_node.get(mass.node, 0.0) + mass.m * 1000
    assert by_node["fork_crown"] == pytest.approx(3.0)
    assert by_node["front_dropout_left"] == by_node["front_dropout_right"] == pytest.approx(1.5)
    assert by_node["rear_dropout_left"] == by_node["rear_dropout_right"] == pytest.approx(4.5)
    assert by_node["seatstay_top_left"] == by_node["seatstay_top_right"] == pytest.approx(1.5)
    assert not any(m.node == "fork_crown" for m in vibration_model(tourer(), "free")[0].masses)


def test_wheels_carry_a_ring_across_and_nothing_about_the_axle() -> None:
    model, _ = vibration_model(tourer(), "free")
    wheel = next(m for m in model.masses if m.node == "front_axle")
    assert wheel == NodeMass("front_axle", 1.6e-3, (0.75 * 1.6e-3 * 348.0**2 / 2,) * 2 + (0.0,))


def test_assumptions_are_listed_in_the_case() -> None:
    _, case = vibration_model(LADEN, "tyres")
    for sentence in assumptions(LADEN, VibrationParts()):
        assert sentence in case.notes
    for word in (
        "150 N/mm",
        "50 N/mm",
        "upright",
        "100%",
        "drivetrain 2.4",
        "saddle without post 0.35",
        "gyroscopic",
        "6 kg front",
        "12 kg rear",
    ):
        assert word in case.notes


def test_refusals() -> None:
    with pytest.raises(
        ModelError, match="supports 'wheels' are not known; known: rigid, tyres, free"
    ):
        vibration_model(tourer(), "wheels")  # type: ignore[arg-type]
    with pytest.raises(ModelError, match="tyre spring of zero"):
        VibrationParts(tyre_vertical=0.0)
    with pytest.raises(ModelError, match="saddle is -1"):
        PartMasses(saddle=-1.0)
