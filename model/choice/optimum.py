"""The ideal tubes between the catalogue's sizes: a continuous optimum as a guide, then the options nearest to it.

Diameters and walls vary smoothly within limits; butts keep their lengths. Exact derivatives
(model.postprocess.sensitivity) feed SLSQP (Kraft 1988, scipy's implementation). The optimum is a local one; the search
over real tubes decides.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import MeshOptions
from ..postprocess.sensitivity import Gradients, Sensitivity, gradients
from ..reanalysis.fast_options import CaseMaker
from ..tubes.tube import Tube
from ..words import spoken
from .figures import MASSES, Figure, figures, find_figure, tube_masses, values
from .search import Bound, Objective
from .together import solved

FTOL = 1e-8  # of the objective relative to the present bicycle
STEPS = 60
MM = 10.0  # mm: makes a difference of diameters comparable to the relative limits
ACTIVE = 1e-3  # a limit this close, relative to its figure, is called active


@dataclass(frozen=True)
class Range:
    """How far one tube may vary: outside diameter at its start, and its thinnest wall, mm."""

    diameter: tuple[float, float]
    wall: tuple[float, float]

    @classmethod
    def spanned(cls, tubes: Sequence[Tube]) -> "Range":
        """The range that a tube's options span."""
        ods = [t.od_start for t in tubes]
        walls = [min(t.walls) for t in tubes]
        return cls((min(ods), max(ods)), (min(walls), max(walls)))


@dataclass(frozen=True)
class Optimum:
    """The continuous optimum.

    bicycle : with the ideal tubes. figures and values : as in a search, by the full solver. active : the limits that
    hold it back, in words. kept : whether all limits are kept; converged, steps, message : from the optimiser.
    """

    bicycle: Bicycle
    tubes: tuple[str, ...]
    figures: tuple[Figure, ...]
    values: tuple[float, ...]
    active: tuple[str, ...]
    kept: bool
    converged: bool
    steps: int
    message: str


def optimum(
    bicycle: Bicycle,
    ranges: Mapping[str, Range],
    cases_of: CaseMaker,
    objective: Objective,
    bounds: Sequence[Bound] = (),
    slenderness: Mapping[str, float] | None = None,
    narrower: Mapping[str, Sequence[str]] | None = None,
    options: MeshOptions | None = None,
) -> Optimum:
    """Ideal diameters and walls within `ranges` for one objective, keeping the bounds.

    slenderness : tube -> largest diameter over thinnest wall. narrower : tube -> tubes it must not be wider than.

    Raises
    ------
    ModelError
        For an unknown figure, a range that leaves nothing free, or what the solver refuses.
    """
    from scipy.optimize import minimize

    problem = _Problem(
        bicycle,
        ranges,
        cases_of,
        objective,
        bounds,
        _Shape(slenderness or {}, narrower or {}),
        options or MeshOptions(),
    )
    # SLSQP takes general limits and needs few solves; gradients are exact here.
    found = minimize(
        problem.cost,
        problem.start,
        jac=problem.cost_slope,
        method="SLSQP",
        bounds=[(0.0, 1.0)] * len(problem.start),
        constraints=[{"type": "ineq", "fun": problem.room, "jac": problem.room_slope}]
        if len(problem.room(problem.start))
        else [],
        options={"ftol": FTOL, "maxiter": STEPS},
    )
    return problem.result(found)


@dataclass(frozen=True)
class _Shape:
    """Limits on sizes alone, see `optimum`."""

    slenderness: Mapping[str, float]
    narrower: Mapping[str, Sequence[str]]

    def room(
        self, sizes: Mapping[str, Mapping[str, float]]
    ) -> list[tuple[str, float, dict[tuple[str, str], float]]]:
        """(words, how far inside, slope by (tube, kind)) of every limit that the given sizes touch upon."""
        out = []
        for tube, most in self.slenderness.items():
            # A rule on a tube that the frame does not have binds nothing.
            if tube in sizes:
                d = sizes[tube]["diameter"]
                w = sizes[tube]["wall"]
                out.append(
                    (
                        f"{spoken(tube)}: diameter over wall <= {most:g}",
                        1 - d / (w * most),
                        {(tube, "diameter"): -1 / (w * most), (tube, "wall"): d / (w**2 * most)},
                    )
                )
        for tube, others in self.narrower.items():
            for other in (o for o in others if tube in sizes and o in sizes):
                d = sizes[tube]["diameter"]
                room = sizes[other]["diameter"]
                out.append(
                    (
                        f"{spoken(tube)} no wider than the {spoken(other)}",
                        (room - d) / MM,
                        {(tube, "diameter"): -1 / MM, (other, "diameter"): 1 / MM},
                    )
                )
        return out


class _Problem:
    """The optimiser's view: unknowns in 0..1 over each range, figures relative to the present bicycle."""

    def __init__(
        self,
        bicycle: Bicycle,
        ranges: Mapping[str, Range],
        cases_of: CaseMaker,
        objective: Objective,
        bounds: Sequence[Bound],
        shape: _Shape,
        options: MeshOptions,
    ) -> None:
        self.bicycle = bicycle
        self.cases_of = cases_of
        self.options = options
        self.ranges = dict(ranges)
        self.objective = objective
        self.figures = (*MASSES, *figures(cases_of(bicycle, lay_out(bicycle))))
        # Only ranges with width are unknowns; the others are sizes.
        self.free = [
            (tube, kind, low, high)
            for tube, r in ranges.items()
            for kind, (low, high) in (("diameter", r.diameter), ("wall", r.wall))
            if high > low
        ]
        if not self.free:
            raise ModelError(
                "the ranges leave nothing free; give options with different diameters or walls"
            )
        self.goal = find_figure(self.figures, objective.key)
        self.limits = [(find_figure(self.figures, b.key), b) for b in bounds]
        self.shape = shape
        self._known: tuple[bytes, Array, Array] | None = None
        self.reference = self._at_present()
        # From the present sizes, moved into the ranges where they lie outside.
        self.start = np.array(
            [
                np.clip((self._present(tube, kind) - low) / (high - low), 0.0, 1.0)
                for tube, kind, low, high in self.free
            ]
        )

    def _at_present(self) -> Array:
        masses, results = solved(self.bicycle, self.cases_of, self.options)
        return np.array([*masses, *values(results)])

    def _present(self, tube: str, kind: str) -> float:
        # the start of a tapered tube and the thin middle of a butted one stand for the whole
        held = self.bicycle.tubes[tube]
        if kind == "diameter":
            return held.od_start
        return min(held.walls)

    def sizes(self, x: Array) -> dict[str, dict[str, float]]:
        """Tube -> diameter and wall of every tube, free or not."""
        sizes = {}
        for tube in self.bicycle.tubes:
            diameter = self._present(tube, "diameter")
            sizes[tube] = {"diameter": diameter, "wall": self._present(tube, "wall")}
        # A range without width is a size that was chosen, whatever the tube has now.
        for tube, span in self.ranges.items():
            sizes[tube] = {"diameter": span.diameter[0], "wall": span.wall[0]}
        for (tube, kind, low, high), share in zip(self.free, x, strict=True):
            sizes[tube][kind] = low + (high - low) * float(share)
        return sizes

    def bicycle_at(self, x: Array) -> Bicycle:
        tubes = {
            tube: self.bicycle.tubes[tube].scaled(
                size["diameter"] - self._present(tube, "diameter"),
                size["wall"] - self._present(tube, "wall"),
            )
            for tube, size in self.sizes(x).items()
            if tube in self.ranges
        }
        return replace(self.bicycle, tubes={**self.bicycle.tubes, **tubes})

    # --- figures and slopes, relative to the present bicycle ---------------------------------------------------
    def _at(self, x: Array) -> tuple[Array, Array]:
        """(f,) relative figures and their (f, n) slopes; the last point is remembered."""
        # Cost, limits and slopes are asked for one by one at the same point: solved once.
        if self._known is None or self._known[0] != x.tobytes():
            bicycle = self.bicycle_at(x)
            layout = lay_out(bicycle)
            cases = self.cases_of(bicycle, layout)
            found = gradients(bicycle, cases, self.options)
            results = {case.name: found.results[case.name] for case in cases}
            figures = np.array([*tube_masses(found.model, layout), *values(results)])
            slopes = self._slopes(found, figures) * [high - low for _, _, low, high in self.free]
            self._known = x.tobytes(), figures / self.reference, slopes / self.reference[:, None]
        return self._known[1], self._known[2]

    def _slopes(self, found: Gradients, figures: Array) -> Array:
        """(f, n) change of every figure per mm of every free size."""
        # Sensitivities come as a list, the optimiser wants a matrix.
        rows = {(r.case, r.measure, r.tube, r.parameter): r for r in found.rows}
        out = np.zeros((len(self.figures), len(self.free)))
        for k, (tube, kind, _, _) in enumerate(self.free):
            out[0, k] = 1000 * found.mass[tube, kind]
            # Tubes of fork and racks do not count into the frame's mass.
            if tube in self.bicycle.plan.beside_the_frame:
                out[1, k] = 0.0
            else:
                out[1, k] = out[0, k]
            for row, figure in enumerate(self.figures[2:], start=2):
                slope = rows[figure.case, figure.name, tube, kind]
                out[row, k] = _slope(slope, figure, float(figures[row]))
        return out

    def cost(self, x: Array) -> float:
        return float(self._sign * self._at(x)[0][self.goal])

    def cost_slope(self, x: Array) -> Array:
        return np.asarray(self._sign * self._at(x)[1][self.goal])

    @property
    def _sign(self) -> float:
        """SLSQP makes things small; a figure that is negative now is turned round by the division."""
        return (-1.0 if self.objective.greatest else 1.0) * float(
            np.sign(self.reference[self.goal])
        )

    def room(self, x: Array) -> Array:
        """How far inside each limit, relative: bounds on figures, then on sizes; negative is outside."""
        # Every limit as something that must not be negative.
        inside = [
            side * (self._at(x)[0][row] - self._relative(row, b)) for row, b, side in self._sides()
        ]
        return np.array(inside + [room for _, room, _ in self.shape.room(self.sizes(x))])

    def room_slope(self, x: Array) -> Array:
        rows = [side * self._at(x)[1][row] for row, _, side in self._sides()]
        for _, _, slope in self.shape.room(self.sizes(x)):
            # Unknowns run from 0 to 1 over each range, slopes are per mm.
            per_share = [
                slope.get((tube, kind), 0.0) * (high - low) for tube, kind, low, high in self.free
            ]
            rows.append(np.array(per_share))
        return np.array(rows)

    def _sides(self) -> list[tuple[int, Bound, float]]:
        return [
            (row, b, (1.0 if b.at_least else -1.0) * float(np.sign(self.reference[row])))
            for row, b in self.limits
        ]

    def _relative(self, row: int, bound: Bound) -> float:
        if bound.percent:
            return 1 + bound.value / 100
        return bound.value / float(self.reference[row])

    def result(self, found: Any) -> Optimum:
        # SLSQP may end a rounding outside its own bounds
        x = np.clip(found.x, 0.0, 1.0)
        figures = self._at(x)[0] * self.reference
        room = self.room(x)
        words = [bound.text for _, bound in self.limits]
        words += [word for word, _, _ in self.shape.room(self.sizes(x))]
        active = [word for word, inside in zip(words, room, strict=True) if abs(inside) < ACTIVE]
        active += [
            f"{spoken(tube)}: {kind} {'least' if share < 0.5 else 'most'}, {low + (high - low) * share:g} mm"
            for (tube, kind, low, high), share in zip(self.free, x, strict=True)
            # exactly at an end: the range binds, and a wider one would give more
            if share in (0.0, 1.0)
        ]
        return Optimum(
            self.bicycle_at(x),
            tuple(self.ranges),
            self.figures,
            tuple(float(v) for v in figures),
            tuple(active),
            bool(np.all(room > -ACTIVE)),
            bool(found.success),
            int(found.nit),
            str(found.message),
        )


def _slope(row: Sensitivity, figure: Figure, value: float) -> float:
    """Slope of a figure: of its stiffness reference / displacement, or of the displacement itself."""
    if figure.reference is None:
        return row.per_mm
    # of reference / displacement: more displacement is less stiffness
    return -value * row.per_mm / row.value


def nearest(
    best: Optimum,
    choices: Mapping[str, Sequence[Tube]],
    ranges: Mapping[str, Range],
    count: int = 3,
) -> dict[str, tuple[Tube, ...]]:
    """Per tube the `count` options nearest to the ideal one, nearest first; distance in shares of the range."""
    out = {}
    for tube, options in choices.items():
        ideal = best.bicycle.tubes[tube]
        r = ranges[tube]
        wide, deep = (max(high - low, 1e-9) for low, high in (r.diameter, r.wall))
        out[tube] = tuple(
            sorted(
                options,
                key=lambda o, i=ideal, w=wide, d=deep: (  # type: ignore[misc]
                    ((o.od_start - i.od_start) / w) ** 2 + ((min(o.walls) - min(i.walls)) / d) ** 2
                ),
            )[:count]
        )
    return out
