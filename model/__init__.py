"""The frame and its mechanics. Knows no file format and imports nothing above it.

What a script or a notebook needs comes straight from here, loaded when it is first asked for::

    from model import lay_out, load_cases, mesh, solve

    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, ["seated", "side_push"]))
    results["side_push"].stiffness["head_sideways"]  # N/mm

Everything else is imported from the module it lives in, as in ``from model.mechanics.solve import Restrained``.
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .cases.library import load_cases
    from .choice.compare import Comparison, compare
    from .choice.variants import TubeChange, Variant, grid
    from .errors import FrameError, InputError, MechanismError, ModelError
    from .findings import Finding
    from .frame.bicycle import Bicycle, Fittings, Loads
    from .frame.frame_mitres import cut_lengths, frame_mitres
    from .frame.layout import FrameLayout, lay_out
    from .frame.mesh import MeshOptions, mesh
    from .geometry.closure import Closure, solve_dimensions
    from .geometry.dimensions import FrameDimensions
    from .mechanics.energy import EnergyTable, energy_shares
    from .mechanics.frame_model import (
        Element,
        EqualDofs,
        FrameModel,
        LoadCase,
        Measure,
        MemberLoad,
        NodeMass,
        RigidLink,
        Spring,
    )
    from .mechanics.result import Result
    from .mechanics.solve import solve
    from .postprocess.ride_feel import RideFeel, ride_feel
    from .postprocess.sensitivity import Sensitivity, ranking, sensitivities
    from .postprocess.stress import StressTable, stress_table
    from .tubes.materials import Material, find_material
    from .tubes.sections import Section, oval_tube, round_tube
    from .tubes.tube import Tube
    from .version import VERSION
    from .vibration.mode_words import describe
    from .vibration.modes import Modes, modes
    from .vibration.setup import vibration_model

# Public name -> the module it lives in.
_HOMES = {
    "frame.bicycle": ("Bicycle", "Fittings", "Loads"),
    "geometry.closure": ("Closure", "solve_dimensions"),
    "choice.compare": ("Comparison", "compare"),
    "geometry.dimensions": ("FrameDimensions",),
    "mechanics.energy": ("EnergyTable", "energy_shares"),
    "errors": ("FrameError", "InputError", "MechanismError", "ModelError"),
    "findings": ("Finding",),
    "frame.frame_mitres": ("cut_lengths", "frame_mitres"),
    "mechanics.frame_model": ("Element", "EqualDofs", "FrameModel", "LoadCase", "Measure", "MemberLoad", "NodeMass",
                              "RigidLink", "Spring"),
    "frame.layout": ("FrameLayout", "lay_out"),
    "cases.library": ("load_cases",),
    "tubes.materials": ("Material", "find_material"),
    "frame.mesh": ("MeshOptions", "mesh"),
    "vibration.mode_words": ("describe",),
    "vibration.modes": ("Modes", "modes"),
    "mechanics.result": ("Result",),
    "postprocess.ride_feel": ("RideFeel", "ride_feel"),
    "tubes.sections": ("Section", "oval_tube", "round_tube"),
    "postprocess.sensitivity": ("Sensitivity", "ranking", "sensitivities"),
    "mechanics.solve": ("solve",),
    "postprocess.stress": ("StressTable", "stress_table"),
    "tubes.tube": ("Tube",),
    "choice.variants": ("TubeChange", "Variant", "grid"),
    "version": ("VERSION",),
    "vibration.setup": ("vibration_model",),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "VERSION", "Bicycle", "Closure", "Comparison", "Element", "EnergyTable", "EqualDofs", "Finding", "Fittings",
    "FrameDimensions", "FrameError", "FrameLayout", "FrameModel", "InputError", "LoadCase", "Loads", "Material",
    "Measure", "MechanismError", "MemberLoad", "MeshOptions", "ModelError", "Modes", "NodeMass", "Result", "RideFeel",
    "RigidLink", "Section", "Sensitivity", "Spring", "StressTable", "Tube", "TubeChange", "Variant", "compare",
    "cut_lengths", "describe", "energy_shares", "find_material", "frame_mitres", "grid", "lay_out", "load_cases",
    "mesh", "modes", "oval_tube", "ranking", "ride_feel", "round_tube", "sensitivities", "solve", "solve_dimensions",
    "stress_table", "vibration_model",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'model' has no attribute '{name}'")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
