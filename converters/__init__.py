"""Files in and out: fit sheet, DXF, analysis-model JSON, tables. Heavy libraries load where they are used.

What a script or a notebook needs comes straight from here, loaded when it is first asked for::

    from converters import analyse, read_input

    reading = read_input("tourer.dxf", sheet="tourer.csv")
    reading.dimensions.trail  # mm
    analyse(reading).results["seated"].stiffness["saddle_vertical"]  # N/mm
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .analysis import Analysis, analyse, model_and_cases
    from .case_toml import read_cases
    from .choice.catalogue import load_catalogue
    from .choice.compare_table import compare_json, write_comparison
    from .choice.variants_table import choices, read_variants
    from .draw.frame import draw_frame
    from .draw.mitre import write_mitres
    from .drawing import Drawing
    from .dxf.read import read_dxf
    from .fitsheet.bicycle import FitSheet, SheetReading, bicycle_from_sheet, read_fit_sheet
    from .fitsheet.write import starter_bicycle, write_fit_sheet, write_starter_sheet
    from .inputs import Reading, ReadOptions, read_input
    from .model_file.read import read_model
    from .model_file.write import save_model, write_model
    from .result_json import geometry_json, solve_json
    from .sideview.read import SideView, read_side_view, recognise

# Public name -> the module it lives in.
_HOMES = {
    "analysis": ("Analysis", "analyse", "model_and_cases"),
    "case_toml": ("read_cases",),
    "choice.catalogue": ("load_catalogue",),
    "choice.compare_table": ("compare_json", "write_comparison"),
    "drawing": ("Drawing",),
    "dxf.read": ("read_dxf",),
    "draw.frame": ("draw_frame",),
    "fitsheet.bicycle": ("FitSheet", "SheetReading", "bicycle_from_sheet", "read_fit_sheet"),
    "fitsheet.write": ("starter_bicycle", "write_fit_sheet", "write_starter_sheet"),
    "inputs": ("ReadOptions", "Reading", "read_input"),
    "draw.mitre": ("write_mitres",),
    "model_file.read": ("read_model",),
    "model_file.write": ("save_model", "write_model"),
    "result_json": ("geometry_json", "solve_json"),
    "sideview.read": ("SideView", "read_side_view", "recognise"),
    "choice.variants_table": ("choices", "read_variants"),
}
_HOME = {name: home for home, names in _HOMES.items() for name in names}

__all__ = [
    "Analysis", "Drawing", "FitSheet", "ReadOptions", "Reading", "SheetReading", "SideView", "analyse",
    "bicycle_from_sheet", "choices", "compare_json", "draw_frame", "geometry_json", "load_catalogue",
    "model_and_cases", "read_cases", "read_dxf", "read_fit_sheet", "read_input", "read_model", "read_side_view",
    "read_variants", "recognise", "save_model", "solve_json", "starter_bicycle", "write_comparison",
    "write_fit_sheet", "write_mitres", "write_model", "write_starter_sheet",
]


def __getattr__(name: str) -> Any:
    if name not in _HOME:
        raise AttributeError(f"module 'converters' has no attribute '{name}'")
    return getattr(import_module(f"{__name__}.{_HOME[name]}"), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
