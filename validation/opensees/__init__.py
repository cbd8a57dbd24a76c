"""The cross-check against OpenSees: same mesh, supports, loads and springs, solved by an independent program.

`available` says whether OpenSees can be had here, `cross_check` compares solved load cases, `solve_opensees` gives
its answer alone, `modes_opensees` its natural frequencies with the same mass model.
"""

from .agreement import TOLERANCE, AgreementRow, CrossCheck, compare, cross_check
from .engine import OpenSeesError, available
from .modes import modes_opensees
from .solve import OpenSeesResult, solve_opensees, solve_opensees_cases

__all__ = [
    "TOLERANCE",
    "AgreementRow",
    "CrossCheck",
    "OpenSeesError",
    "OpenSeesResult",
    "available",
    "compare",
    "cross_check",
    "modes_opensees",
    "solve_opensees",
    "solve_opensees_cases",
]
