"""Published and closed-form frame results, and how far a solver's answer is from them.

A reference file is a list of cases, each with one or more models in the analysis-model format
(`converters.files.model_file.read_model`), its source, and references: a quantity of a model, its
value and its tolerance. Any solver whose answer has `u`, `reactions` and `end_forces` (see `Result`)
can be held against it, and any list of natural frequencies, buckling factors or harmonic amplitudes.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Protocol

import numpy as np

from ..converters.files.model_file.read_model import ModelFile, read_model_file
from ..converters.files.strict_json import parse_object, read_text
from ..model.arrays import Array
from ..model.errors import InputError
from ..model.mechanics.frame_model import DOFS, FrameModel

_COMPONENTS = ("N", "Vy", "Vz", "T", "My", "Mz")


class Solution(Protocol):
    """What a static reference needs of a solved load case."""

    @property
    def u(self) -> Array: ...
    @property
    def reactions(self) -> Mapping[str, Array]: ...
    @property
    def end_forces(self) -> Array: ...


@dataclass(frozen=True, eq=False)
class Answers:
    """What a solver found for one model; only what its references ask for need be there.

    solutions : load case -> solution. frequencies : Hz, ascending, rigid modes included. factors : load case ->
    buckling factors, ascending. amplitudes : (load case, rad/s) -> (n, 6) undamped harmonic response.
    """

    solutions: Mapping[str, Solution] = field(default_factory=dict)
    frequencies: Array | None = None
    factors: Mapping[str, Array] = field(default_factory=dict)
    amplitudes: Mapping[tuple[str, float], Array] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class CaseModel:
    """One model of a case, with where its figures come from."""

    case: str
    kind: str
    name: str
    source: str
    title: str
    data: Mapping[str, Any]

    @cached_property
    def file(self) -> ModelFile:
        return read_model_file(self.data)


@dataclass(frozen=True, eq=False)
class Reference:
    """One figure to be met: |computed - value| <= rtol |value| + atol. `query` holds the keys of the file's entry."""

    of: CaseModel
    number: int
    query: Mapping[str, Any]
    value: float
    rtol: float
    atol: float

    @property
    def quantity(self) -> str:
        return str(self.query["q"])

    @property
    def id(self) -> str:
        """Case, model, number in the case, quantity, place and kind of source: unique and readable in a test report."""
        place = [
            str(self.query[k])
            for k in ("lc", "node", "element", "end", "dof", "comp", "mode")
            if k in self.query
        ]
        return "-".join(
            [
                self.of.case,
                self.of.name,
                f"{self.number:02d}",
                self.quantity,
                *place,
                self.query["kind"],
            ]
        )

    @property
    def tolerance(self) -> float:
        return self.rtol * abs(self.value) + self.atol

    def met_by(self, computed: float) -> bool:
        return abs(computed - self.value) <= self.tolerance


def read_references(path: str | Path) -> tuple[Reference, ...]:
    """Every reference of a file, in the file's order.

    Raises
    ------
    InputError
        When the file is not such a list, or a reference names a model that its case does not have.
    """
    name = Path(path).name
    data = parse_object(read_text(Path(path))[0], name)
    return tuple(reference for case in data.get("cases", ()) for reference in _of_case(case, name))


def _of_case(case: Mapping[str, Any], file: str) -> list[Reference]:
    models = {
        name: CaseModel(case["id"], case["kind"], name, case["source"]["text"], case["title"], data)
        for name, data in case["models"].items()
    }
    out = []
    for number, entry in enumerate(case["references"]):
        if entry["model"] not in models:
            raise InputError(
                f"{file}: case {case['id']}, reference {number}: no model '{entry['model']}'"
            )
        # The mutual work is a relative figure already: its relative tolerance holds against the value 0.
        absolute = float(entry["rtol"] if entry["q"] == "betti" else entry.get("atol", 0.0))
        relative = float(entry.get("rtol", 0.0 if absolute else case["suggested_rtol"]))
        out.append(
            Reference(
                models[entry["model"]], number, entry, float(entry["value"]), relative, absolute
            )
        )
    return out


def evaluate(reference: Reference, answers: Answers) -> float:
    """The figure that a reference asks for.

    Raises
    ------
    InputError
        For a quantity that is not known.
    """
    # Deferred: a query holds the keys of its own quantity alone.
    figures: Mapping[str, Callable[[], float]] = {
        "disp": lambda: _displacement(model, query, answers.solutions[query["lc"]].u),
        "disp_diff": lambda: _displacement_difference(
            model, query, answers.solutions[query["lc"]].u
        ),
        "reac": lambda: _reaction(query, answers.solutions[query["lc"]]),
        "endforce": lambda: _end_force(model, query, answers.solutions[query["lc"]]),
        "betti": lambda: _betti(reference, answers.solutions),
        "freq": lambda: _nth(answers.frequencies, query["mode"]),
        # A rigid motion comes out of a solver as a small frequency and not as 0.
        "nrigid": lambda: float(np.sum(np.asarray(answers.frequencies) < query["tol_hz"])),
        "buckling": lambda: _nth(answers.factors[query["lc"]], query["mode"]),
        "harmonic_undamped": lambda: _displacement(
            model, query, answers.amplitudes[query["lc"], query["omega"]]
        ),
    }
    model = reference.of.file.model
    query = reference.query
    if reference.quantity not in figures:
        raise InputError(f"{reference.id}: quantity '{reference.quantity}' is not known")
    return figures[reference.quantity]()


def _nth(values: Array | None, mode: int) -> float:
    """Modes are counted from 1; NaN, which meets no reference, when there are not so many."""
    if values is not None and len(values) >= mode:
        return float(values[mode - 1])
    return float("nan")


def _displacement(model: FrameModel, query: Mapping[str, Any], u: Array) -> float:
    return _signed(query["dof"], lambda dof: u[model.node_index[query["node"]], DOFS.index(dof)])


def _displacement_difference(model: FrameModel, query: Mapping[str, Any], u: Array) -> float:
    index = model.node_index
    dof = DOFS.index(query["dof"])
    return float(u[index[query["node"]], dof] - u[index[query["node2"]], dof])


def _reaction(query: Mapping[str, Any], solution: Solution) -> float:
    return _signed(query["dof"], lambda dof: solution.reactions[query["node"]][DOFS.index(dof)])


def _end_force(model: FrameModel, query: Mapping[str, Any], solution: Solution) -> float:
    # Twelve end forces: six of end i, then six of end j.
    first = 6 * (query["end"] == "j")
    force = solution.end_forces[model.element_index[query["element"]], first : first + 6]
    resultants = {
        "|Mb|": np.hypot(force[4], force[5]),
        "|Mall|": np.linalg.norm(force[3:]),
        "|M|bend_max": np.abs(force[4:]).max(),
    }
    if query["comp"] in resultants:
        return float(resultants[query["comp"]])
    return _signed(query["comp"], lambda comp: force[_COMPONENTS.index(comp)])


def _signed(name: str, value: Callable[[str], float]) -> float:
    """A component by name; written |ry| it is compared by magnitude."""
    if name.startswith("|"):
        return abs(float(value(name.strip("|"))))
    return float(value(name))


def _betti(reference: Reference, solutions: Mapping[str, Solution]) -> float:
    """(work of A through B - work of B through A) relative to the larger; the reference value is 0."""
    file = reference.of.file
    query = reference.query
    cases = {case.name: case for case in file.cases}
    index = file.model.node_index

    def work(loads: str, through: str) -> float:
        return sum(
            float(np.dot(load, solutions[through].u[index[node]]))
            for node, load in cases[loads].nodal.items()
        )

    ab = work(query["lcA"], query["lcB"])
    ba = work(query["lcB"], query["lcA"])
    return (ab - ba) / max(abs(ab), abs(ba))
