"""Bicycles laid out together, with their load cases, before anything is cut or solved; then as arrays.

A DRAFT is a bicycle laid out, or many at once whose numbers are columns (`model.columns`): the same code lays out
both. Its numbers as arrays with one row for each bicycle are its ROWS; rows of one build can be put under one another.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, is_dataclass
from functools import cached_property
from itertools import chain
from math import nan
from typing import Any, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from ..arrays import Array
from ..columns import Parted, ScalarNeeded, of_all, points_of, stacked
from ..errors import FrameError
from ..frame.bicycle import Bicycle
from ..frame.cutting import MeshOptions, Passed
from ..frame.dropouts import Dropout
from ..frame.layout import lay_out
from ..frame.mesh import Outline, outline
from ..mechanics.beam import spd_inverse
from ..mechanics.frame_model import Element, LoadCase, Measure, Spring
from ..mechanics.solve import same_restraints
from ..tubes.tube import Tube
from .fast_options import CaseMaker

T = TypeVar("T")
# Fields of a bicycle that say nothing but words.
_WORDS = frozenset({"name", "assumed", "source"})


@dataclass(frozen=True, eq=False)
class Draft:
    """Bicycles laid out, with their load cases. Of several the numbers are columns."""

    bicycles: Sequence[Bicycle]
    cases: tuple[LoadCase, ...]
    outline: Outline

    @classmethod
    def of(cls, bicycles: Sequence[Bicycle], cases_of: CaseMaker, options: MeshOptions) -> "Draft":
        """Raises as laying out does, Parted where they do not go one way, ScalarNeeded where columns cannot go."""
        bicycle = stacked(bicycles, whole=(Tube,), words=_WORDS)
        layout = lay_out(bicycle)
        cases = cases_of(bicycle, layout)
        return cls(bicycles, cases, outline(bicycle, options, layout))

    @cached_property
    def build(self) -> tuple[object, ...]:
        """What must be alike for two bicycles to be worked out together."""
        made = self.outline
        lines = []
        for passed in made.lines:
            line = passed.line
            counts = (len(line.stops), len(line.path.run))
            lines.append((line.member.name, counts, line.plate is None, passed.nodes))
        bars = tuple((bar.member, bar.i, bar.j) for bar in made.bars)
        # cases that one factor serves for one bicycle have to share it for every other
        together = []
        for group in same_restraints(self.cases):
            together.append(tuple(case.name for case in group))
        return (
            tuple(made.nodes),
            tuple(lines),
            bars,
            _between(made.springs),
            made.links,
            made.ties,
            tuple(map(_restraint, self.cases)),
            tuple(together),
        )


def _between(springs: Sequence[Spring]) -> tuple[object, ...]:
    # not how stiff they are: that may differ from bicycle to bicycle
    return tuple((spring.i, spring.j, spring.compliance is None) for spring in springs)


def _restraint(case: LoadCase) -> tuple[object, ...]:
    """All of a case but its numbers."""
    measures = []
    for m in case.measures:
        places = tuple(node for node, _ in m.weights)
        measures.append((m.name, m.unit, m.reference is None, places))
    return (
        case.name,
        tuple(case.nodal),
        tuple((node, tuple(flags)) for node, flags in case.supports.items()),
        _between(case.springs),
        tuple(measures),
        bool(case.member_loads),
    )


def drafts(
    numbers: Sequence[int],
    bicycles: Sequence[Bicycle],
    cases_of: CaseMaker,
    options: MeshOptions,
) -> Iterator[tuple[list[int], Draft]]:
    """The bicycles of these numbers in as few drafts as there are ways to lay them out; what cannot be laid out is
    left out, for the full solver to say why."""
    own = list(numbers)
    try:
        yield own, Draft.of([bicycles[number] for number in own], cases_of, options)
    except Parted as parted:
        for group in parted.groups:
            yield from drafts([own[place] for place in group], bicycles, cases_of, options)
    except ScalarNeeded:
        for number in own:
            yield from drafts([number], bicycles, cases_of, options)
    # What stops columns stops every bicycle in them, for they all go one way.
    except FrameError:
        return


# --- numbers of a draft as arrays --------------------------------------------------------------------------------
@dataclass(frozen=True, eq=False)
class TubeRows:
    """The lines of the tubes, (bicycles, lines, ...). stops, places, curve : mm from the start, nan where a line has
    fewer. bent, paths : numbers of the bent lines, and (bicycles, points, 3) of each. plated, plates : numbers of the
    lines that end in a stated dropout, and (bicycles, 9) where that begins, its section and material."""

    tubes: NDArray[np.object_]
    length: Array
    low: Array
    high: Array
    stops: Array
    places: Array
    curve: Array
    paths: tuple[Array, ...]
    plates: tuple[Array, ...]
    bent: tuple[int, ...]
    plated: tuple[int, ...]

    @classmethod
    def of(cls, passed: Sequence[Passed], tables: Sequence[Mapping[str, Tube]]) -> "TubeRows":
        """tables : the tubes of each bicycle."""
        lines = [one.line for one in passed]
        count = len(tables)
        names = [line.member.tube for line in lines]
        tubes = np.empty((count, len(names)), dtype=object)
        for row, table in zip(tubes, tables, strict=True):
            row[:] = [table[name] for name in names]
        ends = _table([(line.path.length, line.low, line.high) for line in lines], count)
        stops = _uneven([tuple(line.stops.values()) for line in lines], count)
        places = _uneven([one.places for one in passed], count)
        curve = _uneven([line.curve for line in lines], count)
        paths = {}
        plates = {}
        for k, line in enumerate(lines):
            if line.member.bent:
                paths[k] = _each(points_of(line.path.points), count)
            if line.plate is not None:
                numbers = (line.tube_ends, *section_numbers(line.plate))
                plates[k] = _table([numbers], count)[:, 0]
        return cls(
            tubes,
            ends[..., 0],
            ends[..., 1],
            ends[..., 2],
            stops,
            places,
            curve,
            tuple(paths.values()),
            tuple(plates.values()),
            tuple(paths),
            tuple(plates),
        )


@dataclass(frozen=True, eq=False)
class SpringRows:
    """Springs in their own axes. stiffness : (bicycles, springs, 6, 6). x_axis, vxy : (bicycles, springs, 3)."""

    stiffness: Array
    x_axis: Array
    vxy: Array

    @classmethod
    def of(cls, springs: Sequence[Spring], count: int) -> "SpringRows":
        stiffness = np.zeros((count, len(springs), 6, 6))
        for place, spring in enumerate(springs):
            if spring.compliance is None:
                # the diagonal
                stiffness[:, place].reshape(count, 36)[:, ::7] = _table([spring.k], count)[:, 0]
            else:
                stiffness[:, place] = spd_inverse(_table(spring.compliance, count))
        x_axes = [spring.x_axis for spring in springs]
        across = [spring.vxy for spring in springs]
        return cls(stiffness, _table(x_axes, count, 3), _table(across, count, 3))


@dataclass(frozen=True, eq=False)
class MeasureRows:
    """weights : (bicycles, places, 6). reference : (bicycles,), nan where there is none."""

    weights: Array
    reference: Array

    @classmethod
    def of(cls, measure: Measure, count: int) -> "MeasureRows":
        reference = np.full(count, np.nan)
        if measure.reference is not None:
            reference[:] = of_all(measure.reference)
        return cls(_table([six for _, six in measure.weights], count, 6), reference)


@dataclass(frozen=True, eq=False)
class CaseRows:
    """nodal : (bicycles, loaded nodes, 6). springs : those of the case alone."""

    nodal: Array
    springs: SpringRows
    measures: tuple[MeasureRows, ...]

    @classmethod
    def of(cls, case: LoadCase, count: int) -> "CaseRows":
        return cls(
            _table(list(case.nodal.values()), count, 6),
            SpringRows.of(case.springs, count),
            tuple(MeasureRows.of(measure, count) for measure in case.measures),
        )


@dataclass(frozen=True, eq=False)
class DraftRows:
    """Drafts of one build as arrays. numbers : which bicycles. xyz : (bicycles, nodes, 3). bars : (bicycles, bars, 8)
    section and material of the parts."""

    numbers: NDArray[np.intp]
    xyz: Array
    tubes: TubeRows
    bars: Array
    springs: SpringRows
    cases: tuple[CaseRows, ...]

    @classmethod
    def of(cls, numbers: Sequence[int], draft: Draft) -> "DraftRows":
        made = draft.outline
        count = len(numbers)
        bars = _table(list(map(section_numbers, made.bars)), count, 8)
        tubes = TubeRows.of(made.lines, [bicycle.tubes for bicycle in draft.bicycles])
        return cls(
            np.array(numbers, dtype=np.intp),
            _table(list(made.nodes.values()), count),
            tubes,
            bars,
            SpringRows.of(made.springs, count),
            tuple(CaseRows.of(case, count) for case in draft.cases),
        )

    def __len__(self) -> int:
        return len(self.numbers)

    @staticmethod
    def joined(parts: Sequence["DraftRows"]) -> "DraftRows":
        """DraftRows of one build under one another."""
        return _over(parts, np.concatenate)

    def part(self, first: int, last: int) -> "DraftRows":
        """Some of the rows."""
        return _over([self], lambda arrays: arrays[0][first:last])


def section_numbers(piece: Element | Dropout) -> tuple[float, ...]:
    """A, Iy, Iz, J, Asy, Asz, E, G."""
    s = piece.section
    return (s.A, s.Iy, s.Iz, s.J, s.Asy, s.Asz, piece.material.E, piece.material.G)


def _over(parts: Sequence[T], work: Callable[[Sequence[Any]], Any]) -> T:
    """What `work` makes of the arrays that stand in the same place of each."""
    first = parts[0]
    if is_dataclass(first):
        made = []
        for field in fields(first):
            made.append(_over([getattr(part, field.name) for part in parts], work))
        return cast(T, cast(Any, type(first))(*made))
    if isinstance(first, tuple):
        columns = zip(*cast(Sequence[tuple[Any, ...]], parts), strict=True)
        return cast(T, tuple(_over(column, work) for column in columns))
    # Which lines are bent is one for all.
    if isinstance(first, int):
        return first
    return cast(T, work(parts))


def _table(rows: Sequence[Sequence[float]], count: int, width: int = 0) -> Array:
    """(count, rows, columns) numbers, those of columns for each bicycle. width : of a table that may be empty."""
    flat = list(chain.from_iterable(rows))
    out = np.empty((len(flat), count))
    for place, number in enumerate(flat):
        out[place] = of_all(number)
    wide = len(rows[0]) if rows else width
    return np.ascontiguousarray(out.T).reshape(count, len(rows), wide)


def _uneven(rows: Sequence[Sequence[float]], count: int) -> Array:
    """(count, rows, most) numbers, rows that have fewer filled up with nan."""
    most = max(map(len, rows), default=0)
    return _table([(*row, *(nan,) * (most - len(row))) for row in rows], count)


def _each(values: Array, count: int) -> Array:
    """(count, k, 3) points that may be one for all."""
    return np.array(np.broadcast_to(values, (count, *values.shape[-2:])))
