"""Variants beside the reference: every figure, checked, its change, and what it costs in grams."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import nan

from ..cases.view import all_idle_supports
from ..errors import FrameError, ModelError
from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.mesh import MeshOptions
from ..mechanics.result import Result
from ..reanalysis.fast_options import CaseMaker
from .figures import MASSES, Figure, figures
from .figures import values as measured_values
from .held import SAME_MASS, Contender, Held, held_findings, study
from .together import figures_together, solved
from .variants import Reshaped, Variant

MOST_HELD = 24  # variants that are also solved under every other way to hold them


@dataclass(frozen=True)
class Extra:
    """Further figures beside statics and mass, such as frequencies: what they are and how a bicycle gets them."""

    figures: tuple[Figure, ...]
    values: Callable[[Bicycle], Sequence[float]]


@dataclass(frozen=True)
class ComparedRow:
    """One variant with its figures; `changes` in words, empty for the reference."""

    name: str
    changes: str
    values: tuple[float, ...]
    bicycle: Bicycle


@dataclass(frozen=True)
class Comparison:
    """All variants over the same figures. `rows[0]` is the reference, `findings` tell how its load cases hold it,
    `held` what becomes of the headline figures when it is held otherwise."""

    figures: tuple[Figure, ...]
    rows: tuple[ComparedRow, ...]
    findings: tuple[Finding, ...] = ()
    held: tuple[Held, ...] = ()

    @property
    def reference(self) -> ComparedRow:
        return self.rows[0]

    def change(self, row: ComparedRow, number: int) -> float:
        """Change of a figure against the reference, percent; nan where the reference is nothing to take percents of."""
        base = self.reference.values[number]
        # Percents of a figure below zero would turn its sign round.
        if base == 0 or (base < 0 and self.figures[number].is_signed):
            return nan
        return 100.0 * (row.values[number] / base - 1.0)

    def per_10_g(self, row: ComparedRow, number: int) -> float | None:
        """Percent change per 10 g added; None where the mass stays the same."""
        # The first figure is the mass of all tubes.
        grams = row.values[0] - self.reference.values[0]
        if abs(grams) < SAME_MASS:
            return None
        return 10.0 * self.change(row, number) / grams


def compare(
    bicycle: Bicycle,
    variants: Sequence[Variant | Reshaped],
    cases_of: CaseMaker,
    options: MeshOptions | None = None,
    extra: Extra | None = None,
    held_otherwise: bool = True,
) -> Comparison:
    """Solve the reference in full and the variants together; the first also under every other way to hold the cases.

    held_otherwise : False leaves those ways out, where only the figures as told are wanted.

    Raises
    ------
    ModelError
        For two variants of one name, or a variant that cannot be; the message names it.
    """
    names = [variant.name for variant in variants]
    for name in names:
        if names.count(name) > 1:
            raise ModelError(f"two variants are called '{name}'; give each its own name")
    masses, results = solved(bicycle, cases_of, options)
    known = (
        *MASSES,
        *figures([result.case for result in results.values()]),
        *(extra.figures if extra else ()),
    )
    reference = ComparedRow("reference", "", _values(masses, results, bicycle, extra), bicycle)
    changed = [variant.of(bicycle) for variant in variants]
    worked = figures_together(changed, cases_of, options)
    beside = zip(variants, changed, worked, strict=True)
    rows = (reference, *(_row(variant, one, done, extra) for variant, one, done in beside))
    held: tuple[Held, ...] = ()
    if held_otherwise:
        # The reference and the first variants: every way to hold them is another full solve.
        held = study([contender(row, bicycle) for row in rows[: MOST_HELD + 1]], cases_of, options)
    return Comparison(known, rows, (*all_idle_supports(results), *held_findings(held)), held)


def contender(row: ComparedRow, present: Bicycle) -> Contender:
    """A compared bicycle as one to be ranked under every way to hold it, with the tubes it has unlike the present."""
    other = [name for name, tube in row.bicycle.tubes.items() if tube != present.tubes.get(name)]
    return Contender(row.name, row.bicycle, row.values[0], len(other))


def _row(
    variant: Variant | Reshaped,
    changed: Bicycle,
    worked: tuple[float, ...] | FrameError,
    extra: Extra | None,
) -> ComparedRow:
    try:
        if isinstance(worked, FrameError):
            raise worked
        values = (*worked, *(extra.values(changed) if extra else ()))
        return ComparedRow(variant.name, variant.changes, values, changed)
    except FrameError as error:
        # By its name: one variant out of many stops the whole comparison.
        raise ModelError(f"variant {variant.name}: {error}") from error


def _values(
    masses: tuple[float, float],
    results: Mapping[str, Result],
    bicycle: Bicycle,
    extra: Extra | None,
) -> tuple[float, ...]:
    return (*masses, *measured_values(results), *(extra.values(bicycle) if extra else ()))
