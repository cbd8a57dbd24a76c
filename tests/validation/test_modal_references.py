"""Our modes and harmonic responses against every modal and harmonic figure of the reference file, and against OpenSees.

The source of each figure stands in the file beside it. OpenSees gets the same mesh and the same mass model.
"""

from dataclasses import replace
from math import inf

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Loads
from droptrail.model.tubes.sections import round_tube
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import SUPPORTS, vibration_model
from droptrail.validation.answers import our_answers
from droptrail.validation.opensees import available, modes_opensees
from droptrail.validation.reference_cases import Answers, evaluate
from helpers_bicycle import tourer
from helpers_frames import ALL_SIX, cantilever, random_frame, tube_material
from test_frame_cases import REFERENCES, assert_met, named

OURS = [r for r in REFERENCES if r.of.kind in ("modal", "harmonic")]
MODELS = list(dict.fromkeys(r.of for r in OURS))
CROSS_CHECK = 1e-6  # relative, on frequencies
needs_opensees = pytest.mark.skipif(available() is not None, reason=str(available()))


@pytest.mark.parametrize("reference", named(OURS))
def test_reference(reference):
    assert_met(reference, evaluate(reference, our_answers(reference.of, REFERENCES)))


@pytest.mark.parametrize("reference", named([r for r in OURS if r.quantity == "harmonic_undamped"]))
def test_harmonic_reference_by_modes(reference):
    assert_met(reference, evaluate(reference, our_answers(reference.of, REFERENCES, "modal")))


def test_all_of_them_ran():
    assert len(OURS) == 96
    assert sum(r.quantity == "harmonic_undamped" for r in OURS) == 4
    assert {r.of.case for r in OURS} == {"M01", "M02", "M05", "M07", "M08", "M09", "M10", "H02"}


def test_the_references_can_fail():
    """Torsional mass rho J instead of rho Ip is the known mistake: it must miss the M08 torsion reference."""
    of = next(m for m in MODELS if m.case == "M08" and m.name == "J_true")
    model = of.file.model
    wrong = replace(
        model,
        elements=tuple(
            replace(e, section=replace(e.section, Ip=e.section.J)) for e in model.elements
        ),
    )
    bad = Answers(frequencies=modes(wrong, of.file.cases[0].supports).frequencies_hz)
    torsion = [r for r in OURS if r.of is of and r.query.get("mode") == 3]
    assert torsion
    assert not any(r.met_by(evaluate(r, bad)) for r in torsion)


# --- OpenSees ------------------------------------------------------------------------------------------------------
def largest_difference(model, supports, springs=(), count=12):
    """Elastic frequencies relative, rigid ones against the first elastic; both programs must count them alike."""
    ours = modes(model, supports, springs, count)
    theirs = modes_opensees(model, supports, count, springs)
    first = ours.frequencies_hz[ours.rigid]
    assert np.all(theirs[: ours.rigid] < 1e-3 * first)
    return float(np.max(np.abs(theirs[ours.rigid :] / ours.frequencies_hz[ours.rigid :] - 1)))


@needs_opensees
@pytest.mark.parametrize("supports", SUPPORTS)
def test_the_bicycle_agrees_with_opensees(supports):
    """Same mesh, lumped rider, wheels and tyre springs, shear-flexible beams with rotary inertia."""
    model, case = vibration_model(tourer(loads=Loads(front_luggage=6.0)), supports)
    assert largest_difference(model, case.supports, case.springs) < CROSS_CHECK


@needs_opensees
@pytest.mark.parametrize("shear", [True, False])
@pytest.mark.parametrize("seed", range(10))
def test_random_frames_agree_with_opensees(seed, shear):
    model, case = random_frame(seed, links=seed % 3 > 0)
    steel = tube_material(205e3, 0.29, 7.85e-9)
    elements = tuple(
        replace(
            e,
            releases=(),
            material=steel,
            section=e.section if shear else replace(e.section, Asy=inf, Asz=inf),
        )
        for e in model.elements
    )
    model = replace(model, elements=elements, rotary=shear)
    assert largest_difference(model, case.supports, case.springs, 6) < CROSS_CHECK


@needs_opensees
def test_the_cross_check_can_fail():
    """Left-out rotary inertia of a stubby tube is a difference OpenSees must notice."""
    steel = tube_material(205e3, 0.29, 7.85e-9)
    model = replace(cantilever(round_tube(40.0, 2.0, 0.29), steel, 300.0, 10), rotary=True)
    theirs = modes_opensees(model, {"0": ALL_SIX}, 4)
    np.testing.assert_allclose(
        modes(model, {"0": ALL_SIX}, count=4).frequencies_hz, theirs, rtol=CROSS_CHECK
    )
    other = modes(replace(model, rotary=False), {"0": ALL_SIX}, count=4).frequencies_hz
    assert np.max(np.abs(other / theirs - 1)) > 1e-3
