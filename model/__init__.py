"""The frame and its mechanics. Knows no file format and imports nothing above it.

What a script or a notebook needs comes straight from here, loaded when it is first asked for::

    from model import lay_out, load_cases, mesh, solve

    layout = lay_out(bicycle)
    results = solve(mesh(bicycle, layout=layout), load_cases(bicycle, layout, ["seated", "side_push"]))
    results["side_push"].stiffness["head_sideways"]  # N/mm

A name that is both a module and its main function, such as `solve`, stands here for the function; everything else
of that module is imported from the module, as in ``from model.solve import Restrained``.
"""

import sys
from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .bicycle import Bicycle, Fittings, Loads
    from .closure import Closure, solve_dimensions
    from .compare import Comparison, compare
    from .dimensions import FrameDimensions
    from .energy import EnergyTable, energy_shares
    from .errors import FrameError, InputError, MechanismError, ModelError
    from .findings import Finding
    from .frame_mitres import cut_lengths, frame_mitres
    from .frame_model import (
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
    from .layout import FrameLayout, lay_out
    from .load_cases import load_cases
    from .materials import Material, find_material
    from .mesh import MeshOptions, mesh
    from .mode_words import describe
    from .modes import Modes, modes
    from .result import Result
    from .ride_feel import RideFeel, ride_feel
    from .sections import Section, oval_tube, round_tube
    from .sensitivity import Sensitivity, ranking, sensitivities
    from .solve import solve
    from .stress import StressTable, stress_table
    from .tubes import Tube
    from .variants import TubeChange, Variant, grid
    from .version import VERSION
    from .vibration import vibration_model

# Public name -> the module it lives in.
_HOMES = {
    "bicycle": ("Bicycle", "Fittings", "Loads"), "closure": ("Closure", "solve_dimensions"),
    "compare": ("Comparison", "compare"), "dimensions": ("FrameDimensions",),
    "energy": ("EnergyTable", "energy_shares"), "errors": ("FrameError", "InputError", "MechanismError", "ModelError"),
    "findings": ("Finding",), "frame_mitres": ("cut_lengths", "frame_mitres"),
    "frame_model": ("Element", "EqualDofs", "FrameModel", "LoadCase", "Measure", "MemberLoad", "NodeMass", "RigidLink",
                    "Spring"),
    "layout": ("FrameLayout", "lay_out"), "load_cases": ("load_cases",), "materials": ("Material", "find_material"),
    "mesh": ("MeshOptions", "mesh"), "mode_words": ("describe",), "modes": ("Modes", "modes"), "result": ("Result",),
    "ride_feel": ("RideFeel", "ride_feel"), "sections": ("Section", "oval_tube", "round_tube"),
    "sensitivity": ("Sensitivity", "ranking", "sensitivities"), "solve": ("solve",),
    "stress": ("StressTable", "stress_table"), "tubes": ("Tube",), "variants": ("TubeChange", "Variant", "grid"),
    "version": ("VERSION",), "vibration": ("vibration_model",),
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


class _Package(ModuleType):
    """This package: when one of its modules is loaded, Python puts it here under its name; a public function of the
    same name goes before."""

    def __setattr__(self, name: str, value: Any) -> None:
        if isinstance(value, ModuleType) and _HOME.get(name) == name:
            value = getattr(value, name)
        super().__setattr__(name, value)


sys.modules[__name__].__class__ = _Package


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'model' has no attribute '{name}'")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
