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
    from .catalogue import load_catalogue
    from .compare_table import compare_json, write_comparison
    from .drawing import Drawing
    from .dxf_read import read_dxf
    from .dxf_write import draw_frame
    from .fitsheet import FitSheet, SheetReading, bicycle_from_sheet, read_fit_sheet
    from .fitsheet_write import starter_bicycle, write_fit_sheet, write_starter_sheet
    from .inputs import Reading, ReadOptions, read_input
    from .mitre_write import write_mitres
    from .model_json import read_model
    from .model_json_write import save_model, write_model
    from .result_json import geometry_json, solve_json
    from .sideview import SideView, read_side_view, recognise
    from .variants_table import choices, read_variants

# Public name -> the module it lives in.
_HOMES = {
    "analysis": ("Analysis", "analyse", "model_and_cases"), "case_toml": ("read_cases",),
    "catalogue": ("load_catalogue",), "compare_table": ("compare_json", "write_comparison"), "drawing": ("Drawing",),
    "dxf_read": ("read_dxf",), "dxf_write": ("draw_frame",),
    "fitsheet": ("FitSheet", "SheetReading", "bicycle_from_sheet", "read_fit_sheet"),
    "fitsheet_write": ("starter_bicycle", "write_fit_sheet", "write_starter_sheet"),
    "inputs": ("ReadOptions", "Reading", "read_input"), "mitre_write": ("write_mitres",), "model_json": ("read_model",),
    "model_json_write": ("save_model", "write_model"), "result_json": ("geometry_json", "solve_json"),
    "sideview": ("SideView", "read_side_view", "recognise"), "variants_table": ("choices", "read_variants"),
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
