"""From a reading to solved load cases: the one route that every command takes."""

from collections.abc import Mapping
from dataclasses import dataclass

from model.cases.library import load_cases
from model.cases.view import idle_supports
from model.errors import InputError
from model.findings import Finding
from model.frame.layout import lay_out
from model.frame.mesh import MeshOptions, mesh
from model.frame.parts import part_sentences
from model.mechanics.frame_model import FrameModel, LoadCase
from model.mechanics.result import Result
from model.mechanics.solve import solve
from model.postprocess.stress import StressTable, stress_table
from model.vibration.setup import Supports, vibration_model

from .inputs import Reading

MAIN_CASES = ("seated", "climb", "side_push")


@dataclass(frozen=True)
class Analysis:
    """A meshed frame, its load cases and their results; `assumed` also tells the sizes of the bolted-on parts."""

    model: FrameModel
    cases: tuple[LoadCase, ...]
    results: Mapping[str, Result]
    assumed: tuple[str, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Supports that carry load where nothing touches the bicycle, wheels that would lift off."""
        return tuple(found for result in self.results.values() for found in idle_supports(result))

    def stresses(self, reading: Reading) -> dict[str, StressTable]:
        """Load case -> nominal stress; with a bicycle the walls are exact at the ends of cones and tapers."""
        layout = None if reading.bicycle is None else lay_out(reading.bicycle)
        return {name: stress_table(result, reading.bicycle, layout) for name, result in self.results.items()}


def model_and_cases(reading: Reading, names: tuple[str, ...] = (), *, shear: bool = True,
                    element_length: float = 60.0, rigid_zones: bool = False) -> tuple[FrameModel, tuple[LoadCase, ...]]:
    """The analysis model of a reading and the named load cases (default: the three main ones, or all of a model file).

    Raises InputError for a case name a model file does not have, or an element length that makes no sense.
    """
    if reading.model is not None:
        return reading.model, _picked(reading, names)
    options = mesh_options(shear, element_length, rigid_zones)
    bicycle = reading.need_bicycle()
    layout = lay_out(bicycle)
    model = mesh(bicycle, options, layout)
    if reading.own_cases is None:
        return model, load_cases(bicycle, layout, names or MAIN_CASES)
    from .case_toml import read_cases

    own = {case.name: case for case in read_cases(reading.own_cases, bicycle, layout, model)}
    return model, tuple(own[name] if name in own else load_cases(bicycle, layout, (name,))[0] for name in names or own)


def vibrating(reading: Reading, supports: Supports = "tyres", names: tuple[str, ...] = (), *, shear: bool = True,
              element_length: float = 60.0, rigid_zones: bool = False) -> tuple[FrameModel, LoadCase]:
    """The model with its masses and what holds it when it vibrates: a bicycle as `supports` says, a model file as the
    (first) named load case does. Raises as `model_and_cases` does."""
    if reading.model is not None:
        model, cases = model_and_cases(reading, names)
        return model, cases[0]
    options = mesh_options(shear, element_length, rigid_zones)
    return vibration_model(reading.need_bicycle(), supports, options=options)


def mesh_options(shear: bool, element_length: float, rigid_zones: bool) -> MeshOptions:
    """Raises InputError for an element length that makes no sense."""
    if not 1.0 <= element_length <= 500.0:
        raise InputError(f"element length {element_length:g} mm: give 1 to 500 mm")
    return MeshOptions(element_length=element_length, shear=shear, rigid_zones=rigid_zones)


def _picked(reading: Reading, names: tuple[str, ...]) -> tuple[LoadCase, ...]:
    known = {case.name: case for case in reading.cases}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise InputError(f"{reading.source}: no load case '{unknown[0]}'; it holds: {', '.join(known) or 'none'}")
    if not known:
        raise InputError(f"{reading.source}: the model holds no load case, so there is nothing to solve")
    return tuple(known[name] for name in names) or reading.cases


def analyse(reading: Reading, names: tuple[str, ...] = (), *, shear: bool = True, element_length: float = 60.0,
            rigid_zones: bool = False) -> Analysis:
    """Mesh and solve."""
    model, cases = model_and_cases(reading, names, shear=shear, element_length=element_length,
                                   rigid_zones=rigid_zones)
    parts = part_sentences() if reading.bicycle is not None else ()
    return Analysis(model, cases, solve(model, cases), (*reading.assumed, *parts))
