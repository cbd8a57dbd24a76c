"""What our solver and OpenSees answer to the models of a reference file (see `reference_cases`)."""

from functools import cache
from math import pi

import numpy as np

from ..model.arrays import Array
from ..model.mechanics.buckling import buckling_factors
from ..model.mechanics.solve import nodal_forces, solve
from ..model.vibration.harmonic import direct_response, modal_response
from ..model.vibration.modes import Dynamics, Modes
from .opensees import modes_opensees, solve_opensees_cases
from .reference_cases import Answers, CaseModel, Reference

_LEAST_MODES = 20


@cache
def our_answers(
    of: CaseModel, references: tuple[Reference, ...] = (), way: str = "direct"
) -> Answers:
    """Static and buckling cases need no references; modes and harmonic loads are asked for by them.

    way : harmonic response ``direct`` or ``modal``.
    """
    file = of.file
    if of.kind == "static":
        return Answers(solutions=solve(file.model, file.cases))
    if of.kind == "buckling":
        return Answers(
            factors={case.name: buckling_factors(file.model, case, 3) for case in file.cases}
        )
    # References of a case may belong to several models.
    own = [r for r in references if r.of is of]
    dynamics = Dynamics.of(file.model, file.cases[0].supports, file.cases[0].springs)
    found = dynamics.modes(
        max([_LEAST_MODES, *(int(r.query["mode"]) for r in own if "mode" in r.query)])
    )
    swung = [(r.query["lc"], r.query["omega"]) for r in own if r.quantity == "harmonic_undamped"]
    return Answers(
        frequencies=found.frequencies_hz,
        amplitudes={
            key: _amplitude(of, dynamics, found, *key, way) for key in dict.fromkeys(swung)
        },
    )


def _amplitude(
    of: CaseModel, dynamics: Dynamics, found: Modes, case: str, omega: float, way: str
) -> Array:
    force = nodal_forces(of.file.model, next(c for c in of.file.cases if c.name == case))
    hz = [float(omega) / (2 * pi)]
    if way == "direct":
        response = direct_response(dynamics, force, hz)
    else:
        response = modal_response(dynamics, found, force, hz)
    # Without damping the response is in phase, so nothing imaginary is left out.
    return np.asarray(response.u[0].real)


@cache
def opensees_answers(of: CaseModel, references: tuple[Reference, ...] = ()) -> Answers:
    """Static cases and frequencies; buckling and harmonic response are not asked of OpenSees."""
    file = of.file
    if of.kind == "static":
        return Answers(solutions=solve_opensees_cases(file.model, file.cases))
    count = max([int(r.query["mode"]) for r in references if r.of is of and r.quantity == "freq"])
    return Answers(frequencies=modes_opensees(file.model, file.cases[0].supports, count))
