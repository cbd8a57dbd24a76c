"""From a reading to solved load cases: the one route that every command takes."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from ..model.assumption import Assumed
from ..model.cases.library import load_cases, usual_cases
from ..model.cases.view import all_idle_supports
from ..model.cases.wheels import on_wheels
from ..model.errors import InputError, MechanismError, UnknownNameError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.joint_places import assumed_joints
from ..model.frame.layout import FrameLayout, lay_out
from ..model.frame.mesh import MeshOptions, mesh
from ..model.frame.parts import assumed_parts
from ..model.mechanics.frame_model import FrameModel, LoadCase
from ..model.mechanics.result import Result
from ..model.mechanics.solve import solve
from ..model.postprocess.stress import StressTable, stress_table
from ..model.reanalysis.fast_options import CaseMaker
from ..model.vibration.setup import Supports, vibration_model
from .inputs import Reading

USUAL_MESH = MeshOptions()


@dataclass(frozen=True)
class Analysis:
    """A reading meshed, its load cases and their results; `assumed` also tells the sizes of the bolted-on parts."""

    reading: Reading
    model: FrameModel
    cases: tuple[LoadCase, ...]
    results: Mapping[str, Result]
    assumed: tuple[Assumed, ...] = ()

    @property
    def findings(self) -> tuple[Finding, ...]:
        """Those of the reading, then those of the load cases."""
        return (*self.reading.findings, *self.case_findings)

    @property
    def case_findings(self) -> tuple[Finding, ...]:
        """Supports that carry load where nothing touches the bicycle, wheels that would lift off. A model file does
        not say what touches the bicycle, so nothing is said of its supports."""
        # only a bicycle's supports are told apart into touching and idle ones
        if self.reading.model is not None:
            return ()
        return all_idle_supports(self.results)

    def stresses(self) -> dict[str, StressTable]:
        """Load case -> nominal stress; with a bicycle the walls are exact at the ends of cones and tapers."""
        bicycle = self.reading.bicycle
        # without a bicycle the walls are those the sections of the elements tell, piece by piece
        if bicycle is None:
            layout = None
        else:
            layout = lay_out(bicycle)
        return {
            name: stress_table(result, bicycle, layout) for name, result in self.results.items()
        }


@dataclass(frozen=True)
class OwnCases:
    """The load cases of a TOML file, set up for any variant of a bicycle; others of `names` come from the library."""

    path: Path
    names: tuple[str, ...]
    options: MeshOptions

    def __call__(self, bicycle: Bicycle, layout: FrameLayout) -> tuple[LoadCase, ...]:
        from .files.case_toml import read_cases

        read = read_cases(self.path, bicycle, layout, mesh(bicycle, self.options, layout))
        # names may mix the builder's own cases with those of the library
        own = {case.name: case for case in read}
        return tuple(
            own[name] if name in own else load_cases(bicycle, layout, (name,))[0]
            for name in self.names or own
        )


@dataclass(frozen=True)
class OnWheels:
    """Load cases with wheels and tyres as springs in place of held axles."""

    cases_of: CaseMaker

    def __call__(self, bicycle: Bicycle, layout: FrameLayout) -> tuple[LoadCase, ...]:
        # after the cases are set up, so that a builder's own case gets wheels too
        return tuple(on_wheels(case, bicycle) for case in self.cases_of(bicycle, layout))


def case_maker(
    reading: Reading, names: tuple[str, ...] = (), options: MeshOptions = USUAL_MESH
) -> CaseMaker:
    """What sets up the load cases that were asked for: by name, else those of `--cases`, else the usual ones of the
    bicycle as it was read (luggage or not, its variants are held against the same cases)."""
    cases_of: CaseMaker
    if reading.own_cases is None:
        # a model file has no bicycle here, and needs none: its cases come with it
        usual = usual_cases(reading.bicycle) if reading.bicycle is not None else ()
        cases_of = partial(load_cases, names=names or usual)
    else:
        cases_of = OwnCases(reading.own_cases, names, options)
    if reading.wheels == "springs":
        return OnWheels(cases_of)
    return cases_of


def model_and_cases(
    reading: Reading, names: tuple[str, ...] = (), options: MeshOptions = USUAL_MESH
) -> tuple[FrameModel, tuple[LoadCase, ...]]:
    """The analysis model of a reading and the named load cases (default: the usual ones, or all of a model file).

    Raises InputError for a case name a model file does not have.
    """
    if reading.model is not None:
        # load cases of a model file name its own nodes, so the library's would not fit it
        return reading.model, _picked(reading, names)
    bicycle = reading.need_bicycle()
    layout = lay_out(bicycle)
    return mesh(bicycle, options, layout), case_maker(reading, names, options)(bicycle, layout)


def vibrating(
    # laid out once: mesh and load cases must speak of the same joints
    reading: Reading,
    supports: Supports = "tyres",
    names: tuple[str, ...] = (),
    options: MeshOptions = USUAL_MESH,
) -> tuple[FrameModel, LoadCase]:
    """The model with its masses and what holds it when it vibrates: a bicycle as `supports` says, a model file as the
    (first) named load case does. Raises as `model_and_cases` does."""
    if reading.model is not None:
        model, cases = model_and_cases(reading, names)
        # one set of supports is enough to vibrate; further load cases would change loads only
        return model, cases[0]
    return vibration_model(reading.need_bicycle(), supports, options=options)


def _picked(reading: Reading, names: tuple[str, ...]) -> tuple[LoadCase, ...]:
    known = {case.name: case for case in reading.cases}
    unknown = [name for name in names if name not in known]
    if unknown:
        raise UnknownNameError(
            f"{reading.source}: no load case '{unknown[0]}'; it holds: {', '.join(known) or 'none'}"
        )
    # a file may hold a model alone; only who solves it needs a case
    if not known:
        raise InputError(
            f"{reading.source}: the model holds no load case, so there is nothing to solve"
        )
    return tuple(known[name] for name in names) or reading.cases


def analyse(
    reading: Reading, names: tuple[str, ...] = (), options: MeshOptions = USUAL_MESH
) -> Analysis:
    """Mesh and solve."""
    model, cases = model_and_cases(reading, names, options)
    try:
        # all at once: one factor serves every case with the same supports
        results = solve(model, cases)
    except MechanismError as error:
        # a misspelt "supports" leaves the frame loose, so a near key is the likeliest cause
        raise MechanismError(f"{_mistyped(reading)}{error}") from error
    return Analysis(reading, model, cases, results, assumptions(reading))


def _mistyped(reading: Reading) -> str:
    """Keys of a model file that are nearly known ones: what they were to hold may be what is missing."""
    near = [
        f.message
        for f in reading.findings
        if f.code == "model-unknown-key" and f.severity == "warning"
    ]
    # only near misses are warnings; a key far from any known one is somebody's own note
    return "".join(f"{message}. " for message in near)


def assumptions(reading: Reading) -> tuple[Assumed, ...]:
    """What the reading assumes; with a bicycle also the sizes of the bolted-on parts that it is meshed with."""
    if reading.bicycle is None:
        return reading.assumed
    bicycle = reading.bicycle
    parts = set(bicycle.parts)
    # a suspension fork comes with its crown
    if bicycle.suspension is not None:
        parts.add("fork_crown_piece")
    return (*reading.assumed, *assumed_joints(bicycle), *assumed_parts(parts))
