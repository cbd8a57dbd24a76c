"""How far can a number be trusted? Mesh, second solver, equilibrium, conditioning, theory, and the drawing itself.

Mesh: every element halved twice; from three values the observed order p = log2((v1-v2)/(v2-v4)) and Richardson's
extrapolated value (Roache 1998, from memory) give the error bar of the value shown. Drawing: each length of the
frame anywhere within ±0.5 mm and each angle within ±0.1 degree, independently and evenly spread; once by linear
propagation and once by drawing the lots (seeded, so that the same input gives the same answer).
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import log2, nan, sqrt

import numpy as np

from ..model.cases.view import all_idle_supports
from ..model.choice.held import Contender, Held, study
from ..model.errors import ModelError
from ..model.findings import Finding
from ..model.frame.bicycle import Bicycle
from ..model.frame.layout import lay_out
from ..model.frame.mesh import MeshOptions, mesh
from ..model.geometry.dimensions import FrameDimensions
from ..model.geometry.statements import FIELDS
from ..model.joints.law import studied_kinds
from ..model.joints.shape import JointKind
from ..model.mechanics.beam import Beams
from ..model.mechanics.frame_model import FrameModel, LoadCase, Measure
from ..model.mechanics.result import Result
from ..model.mechanics.solve import Restrained, solve
from ..model.postprocess.sensitivity import ranking, sensitivities
from ..model.reanalysis.fast_options import CaseMaker
from ..model.words import spoken
from .ladder import Rung, ladder
from .opensees import TOLERANCE, CrossCheck, available, cross_check

# mm, degrees: what a careful workshop drawing and jig hold
LENGTH_TOLERANCE = 0.5
ANGLE_TOLERANCE = 0.1
LOTS = 150
RANKED = 3  # sizes named in a ranking
AS_IT_IS = "as it is"
# For the drawing's tolerances alone: meshed alike on both sides, the error all but cancels.
COARSE = MeshOptions(element_length=250.0, taper_pieces=1, cone_pieces=4)
_ROUNDING = (
    1e-9  # relative: below it mesh differences are rounding, the mesh is exact for this figure
)
Figures = dict[tuple[str, str], float]


@dataclass(frozen=True)
class FigureAudit:
    """One measured figure with everything that could move it. All changes in percent of the value shown.

    value : stiffness where the measure has a reference load, else the movement. order : observed order of mesh
    convergence, None where the mesh is exact. mesh_error : Richardson's error bar. without_shear, rigid_zones :
    the change when that assumption is swapped, NaN where zones would leave nothing of a tube. joints : kind of joint ->
    the change with all tubes joined so. ranking : kind of joint -> the three sizes that stiffen most for their weight,
    best first, as the frame is joined first. drawing_linear,
    drawing_lots : half-width of the range that holds 95 % of the frames within the drawing's tolerance; the second None
    where no lots were drawn, the first NaN for a model without a drawing.
    """

    case: str
    measure: str
    title: str
    unit: str
    value: float
    order: float | None
    mesh_error: float
    without_shear: float
    rigid_zones: float = nan
    drawing_linear: float = nan
    drawing_lots: float | None = None
    joints: Mapping[str, float] = field(default_factory=dict)
    ranking: Mapping[str, tuple[str, ...]] = field(default_factory=dict)

    @classmethod
    def of_mesh(
        cls,
        case: LoadCase,
        measure: Measure,
        base: Figures,
        halves: Sequence[Figures],
        bare: Figures,
    ) -> "FigureAudit":
        """What mesh and beam theory move: of the mesh, of it halved twice, and without shear.

        The rest needs a bicycle and is left NaN: 0 would say that it changes nothing.
        """
        key = (case.name, measure.name)
        order, error = mesh_error(base[key], halves[0][key], halves[1][key])
        return cls(
            case.name,
            measure.name,
            measure.title or measure.name,
            measure.unit if measure.reference is None else measure.stiffness_unit,
            base[key],
            order,
            100 * error,
            percent(bare[key], base[key]),
        )


@dataclass(frozen=True)
class CaseEvidence:
    """What every solve must show: residual, balance, conditioning, reciprocity, and OpenSees on the same mesh."""

    case: str
    residual: float
    force_balance: float
    moment_balance: float
    condition: float
    reciprocity: float
    opensees: float | None
    opensees_reason: str


@dataclass(frozen=True)
class Audit:
    """The whole audit; `ok` when every closed form and every solver comparison is within its tolerance.

    held : the first figure of every case under each way to hold it; far more than any error bar may hang on that.
    """

    figures: tuple[FigureAudit, ...]
    evidence: tuple[CaseEvidence, ...]
    rungs: tuple[Rung, ...]
    elements: int
    lots: int
    findings: tuple[Finding, ...]
    held: tuple[Held, ...] = ()

    @property
    def drawn(self) -> bool:
        """Whether a bicycle was audited: one that was drawn, of tubes and joints."""
        return any(figure.ranking for figure in self.figures)

    @property
    def crossed(self) -> bool:
        """Whether there was a second solver at all; a case it cannot hold is said in its row."""
        return any(e.opensees is not None for e in self.evidence)

    @property
    def ok(self) -> bool:
        # A missing second solver is no failure here; `crossed` says that there was none.
        solvers = all(e.opensees is None or e.opensees <= TOLERANCE for e in self.evidence)
        closed_forms = all(rung.ok for rung in self.rungs)
        # work done by either load along the other's movement: equal for any linear structure (Betti 1872)
        reciprocal = all(e.reciprocity <= 1e-9 for e in self.evidence)
        return solvers and closed_forms and reciprocal


def audit(
    bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions | None = None, count: int = LOTS
) -> Audit:
    """Audit every measured figure of the load cases that `cases_of` sets up. Raises as meshing and solving do.

    count : lots drawn within the drawing's tolerance, the slow part; 0 leaves them out (`drawing_lots` is None then).
    """
    options = options or MeshOptions()
    layout = lay_out(bicycle)
    cases = cases_of(bicycle, layout)
    model = mesh(bicycle, options, layout)
    results = solve(model, cases)
    base = figures_of(results)
    # two refinements, because one difference alone does not tell the order
    halves = [_solved(bicycle, cases_of, options.refined(factor)) for factor in (2, 4)]
    # the other theory, whichever the options chose
    euler = _solved(bicycle, cases_of, replace(options, shear=not options.shear))
    zones = _zones_swapped(bicycle, cases_of, options)
    kinds = joint_kinds(bicycle)
    jointed = {kind: _jointed(bicycle.joined(kind), cases_of, options) for kind in kinds}
    ranked = {AS_IT_IS: _rankings(bicycle, cases, options)}
    ranked |= {kind: _rankings(bicycle.joined(kind), cases, options) for kind in kinds}
    gradients = _drawing_gradients(bicycle, cases_of)
    lots, worked = _drawn_lots(bicycle, cases_of, count)
    rows = []
    for case in cases:
        for measure in case.measures:
            key = (case.name, measure.name)
            drawn = _spread({name: g[key] for name, g in gradients.items()})
            # NaN and not 0 where an assumption gives no figure: 0 would say that it changes nothing.
            joints: dict[str, float] = {}
            for kind, held in jointed.items():
                joints[kind] = percent(held.get(key, nan), base[key])
            best = {kind: held.get(key, ()) for kind, held in ranked.items()}
            rows.append(
                replace(
                    FigureAudit.of_mesh(case, measure, base, halves, euler),
                    rigid_zones=percent(zones.get(key, nan), base[key]),
                    drawing_linear=drawn,
                    drawing_lots=lots[key],
                    joints=joints,
                    ranking=best,
                )
            )
    found = list(all_idle_supports(results))
    if worked < count:
        found.append(
            Finding(
                "lots-lost",
                "warning",
                f"{count - worked} of {count} lots drawn within the drawing's "
                "tolerance gave no frame that can be solved; their spread is not in 'by lots'",
            )
        )
    return Audit(
        tuple(rows),
        evidence_of(model, results),
        ladder(),
        len(model.elements),
        worked,
        tuple(found),
        # One contender: only how much its figures hang on the supports is asked here.
        study([Contender("as it stands", bicycle, 0.0, 0)], cases_of, options),
    )


def mesh_error(v1: float, v2: float, v4: float) -> tuple[float | None, float]:
    """Observed order and relative error bar of v1 from values on meshes h, h/2, h/4.

    Where the differences do not shrink steadily the order means nothing: then the bar is twice the largest
    difference seen, and the order None.
    """
    first = v1 - v2
    second = v2 - v4
    scale = abs(v4) or 1.0
    if abs(first) <= _ROUNDING * scale and abs(second) <= _ROUNDING * scale:
        return None, max(abs(first), abs(second)) / scale
    # orders below a quarter or above six are noise: such a bar would flatter
    if second == 0 or not 1.2 <= first / second <= 64:
        return None, 2 * max(abs(first), abs(second), abs(v1 - v4)) / scale
    order = log2(first / second)
    # Richardson: what the differences would add up to on ever finer meshes
    extrapolated = v4 - second / (2**order - 1)
    return order, abs(v1 - extrapolated) / scale


def _solved(bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions) -> Figures:
    layout = lay_out(bicycle)
    return figures_of(solve(mesh(bicycle, options, layout), cases_of(bicycle, layout)))


def _zones_swapped(bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions) -> Figures:
    """With rigid zones where there were none, or the other way; empty where zones leave nothing of a tube."""
    try:
        return _solved(bicycle, cases_of, replace(options, rigid_zones=not options.rigid_zones))
    except ModelError:
        return {}


def joint_kinds(bicycle: Bicycle) -> tuple[JointKind, ...]:
    """The kinds of joint to set beside the frame's own: those studied, and rigid ones where it is not joined so."""
    # Tubes whose joints nobody stated meet rigidly.
    own = set(bicycle.joints.values()) or {"rigid"}
    # A kind is left out only where every joint is of that kind already.
    return tuple(kind for kind in studied_kinds() if own != {kind})


def _jointed(bicycle: Bicycle, cases_of: CaseMaker, options: MeshOptions) -> Figures:
    """Empty with rigid zones, which joints that give contradict."""
    try:
        return _solved(bicycle, cases_of, options)
    except ModelError:
        return {}


def _rankings(
    bicycle: Bicycle, cases: tuple[LoadCase, ...], options: MeshOptions
) -> dict[tuple[str, str], tuple[str, ...]]:
    """The three sizes that stiffen each figure most for their weight; empty with rigid zones."""
    try:
        rows = sensitivities(bicycle, cases, options)
    except ModelError:
        return {}
    found = {}
    for case in cases:
        for measure in case.measures:
            best = ranking(rows, case.name, measure.name)[:RANKED]
            found[case.name, measure.name] = tuple(
                f"{spoken(row.tube)} {row.parameter}" for row in best
            )
    return found


def figures_of(results: Mapping[str, Result]) -> Figures:
    """Stiffness where a measure has a reference load, else what moved."""
    found: Figures = {}
    for name, result in results.items():
        for measure, moved in result.measured.items():
            stiffness = result.stiffness[measure]
            if stiffness is None:
                found[(name, measure)] = moved
            else:
                found[(name, measure)] = stiffness
    return found


def percent(changed: float, base: float) -> float:
    if base:
        return 100 * (changed / base - 1)
    return 0.0


# --- the drawing's tolerance -----------------------------------------------------------------------------------
def _toleranced(d: FrameDimensions) -> dict[str, float]:
    """Dimension -> half-width of its tolerance."""
    return {
        name: ANGLE_TOLERANCE if name.endswith("angle") else LENGTH_TOLERANCE
        for name in FIELDS
        if getattr(d, name) is not None
    }


def _moved(bicycle: Bicycle, changes: Mapping[str, float]) -> Bicycle:
    d = bicycle.dimensions
    return replace(
        bicycle, dimensions=replace(d, **{n: getattr(d, n) + v for n, v in changes.items()})
    )


def _drawing_gradients(bicycle: Bicycle, cases_of: CaseMaker) -> dict[str, Figures]:
    """Dimension -> figure -> change in percent over its tolerance (central difference over ± the tolerance)."""
    base = _solved(bicycle, cases_of, COARSE)
    out = {}
    for name, half in _toleranced(bicycle.dimensions).items():
        sides = []
        for step in (half, -half):
            try:
                sides.append(_solved(_moved(bicycle, {name: step}), cases_of, COARSE))
            except (
                ModelError
            ):  # one side of a limit, such as a lower stack of zero: take the other side alone
                sides.append(base)
        if base not in sides:
            span = 2
        else:
            span = 1
        out[name] = {
            key: 100 * (sides[0][key] - sides[1][key]) / span / value if value else 0.0
            for key, value in base.items()
        }
    return out


def _spread(percents: Mapping[str, float]) -> float:
    """95 % half-width of the sum of independent, evenly spread parts, taken as normal."""
    # Evenly spread over ±p has the variance p²/3; 1.96 standard deviations hold 95 %.
    return 1.96 * sqrt(sum(p**2 for p in percents.values()) / 3)


def _drawn_lots(
    bicycle: Bicycle, cases_of: CaseMaker, count: int
) -> tuple[Mapping[tuple[str, str], float | None], int]:
    """Half of the range that holds the middle 95 % of frames drawn within the tolerances, percent; how many could be
    solved."""
    rng = np.random.default_rng(20240917)
    halves = _toleranced(bicycle.dimensions)
    base = _solved(bicycle, cases_of, COARSE)
    seen: dict[tuple[str, str], list[float]] = {key: [] for key in base}
    for _ in range(count):
        changes = {name: float(half * rng.uniform(-1, 1)) for name, half in halves.items()}
        try:
            figures = _solved(_moved(bicycle, changes), cases_of, COARSE)
        except ModelError:
            continue
        for key, value in figures.items():
            seen[key].append(percent(value, base[key]))
    spread = {
        key: float(np.diff(np.percentile(values, (2.5, 97.5)))[0] / 2) if values else None
        for key, values in seen.items()
    }
    # Every lot that was solved gives each figure once.
    return spread, max(map(len, seen.values()), default=0)


# --- evidence of the solve -------------------------------------------------------------------------------------
def evidence_of(model: FrameModel, results: Mapping[str, Result]) -> tuple[CaseEvidence, ...]:
    missing = available()
    if missing:
        cross: Mapping[str, CrossCheck] = {}
    else:
        cross = cross_check(results)
    return tuple(
        CaseEvidence(
            name,
            r.residual,
            r.force_balance,
            r.moment_balance,
            r.condition,
            reciprocity(model, r.case),
            cross[name].largest if name in cross else None,
            missing or (cross[name].reason or "" if name in cross else ""),
        )
        for name, r in results.items()
    )


def reciprocity(model: FrameModel, case: LoadCase) -> float:
    """Maxwell-Betti: work of one random load set through the other's displacements, both ways, relative difference."""
    # Seeded: the same model is told the same figure.
    rng = np.random.default_rng(7)
    beams = Beams.of(model)
    forces = rng.standard_normal((model.dofs, 2))
    # The supports of the case, but random loads, so that every freedom has its say.
    moved = Restrained(beams, case).displacements(forces)
    work = forces.T @ moved
    return float(abs(work[0, 1] - work[1, 0]) / sqrt(work[0, 0] * work[1, 1]))
