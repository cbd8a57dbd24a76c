"""A load case to look at: arrows for loads and reactions, marks for supports - and supports that should not carry.

A support that carries load where nothing touches the bicycle makes a stiff-looking frame out of nothing; the
finding says which one.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ..arrays import Array, Xyz
from ..findings import Finding
from ..mechanics.beam import Beams
from ..mechanics.frame_model import DOFS, FrameModel, LoadCase, Measure
from ..mechanics.inertia import REFERENCE
from ..mechanics.result import Result
from ..words import DOF_WORDS, load_words, spoken
from .tools import ON_GROUND

COUNTS = 0.45  # of the largest weight: a place that counts as one where the figure is read
DRAWN = 0.03  # of the largest load: smaller ones are left out of a picture of the rig
IDLE = 1e-6  # share of the largest load below which a support counts as idle


@dataclass(frozen=True)
class Arrow:
    """A force (N) or moment (N*mm) at a node; `what` is ``load`` or ``reaction``, `kind` ``force`` or ``moment``.

    spread : the tube that it is a part of the load on, '' for a load at a place.
    """

    node: str
    at: Xyz
    vector: Xyz
    kind: str
    what: str
    spread: str = ""

    @property
    def size(self) -> float:
        """N or N*mm."""
        return float(np.linalg.norm(self.vector))

    @property
    def alike(self) -> tuple[object, ...]:
        """What arrows that are told together have in common: left and right of the frame, or spread over one tube."""
        way = np.array(self.vector) / self.size
        # a load along a tube is one load, though it stands on every element
        if self.spread:
            return ("spread", self.what, self.spread, *(np.round(way, 2) + 0.0))
        x, y, z = self.at
        # z without its sign: left and right of the frame are alike
        place = np.round([*way[:2], abs(way[2]), x, y, abs(z)], 1) + 0.0
        return ("pair", self.what, self.kind, f"{self.size:.4g}", *place)


@dataclass(frozen=True)
class SupportMark:
    """What holds the bicycle at a node: the held directions (ux .. rz) and what touches it there ('' : nothing)."""

    node: str
    at: Xyz
    held: tuple[str, ...]
    touching: str

    @property
    def ways(self) -> str:
        """The held directions in words."""
        return ", ".join(DOF_WORDS[dof] for dof in self.held)


@dataclass(frozen=True)
class CasePicture:
    """Everything to draw of one load case. springs : marks of the case's own springs, such as a steering lock."""

    arrows: tuple[Arrow, ...]
    supports: tuple[SupportMark, ...]
    springs: tuple[SupportMark, ...]


def large(arrows: Sequence[Arrow], span: float) -> tuple[Arrow, ...]:
    """Arrows that are not small beside the largest; a moment counts as a force over the frame's size `span`."""
    # A moment has no size beside a force until it is given an arm.
    sizes = [arrow.size / (span if arrow.kind == "moment" else 1.0) for arrow in arrows]
    least = DRAWN * max(sizes, default=0.0)
    return tuple(arrow for arrow, size in zip(arrows, sizes, strict=True) if size >= least)


def together(arrows: Sequence[Arrow]) -> list[tuple[Arrow, ...]]:
    """The arrows that are told together, in the order of the first of each."""
    found: dict[tuple[object, ...], list[Arrow]] = {}
    for arrow in arrows:
        found.setdefault(arrow.alike, []).append(arrow)
    return [tuple(group) for group in found.values()]


def sum_words(arrows: Sequence[Arrow], units: bool = True) -> str:
    """``442 N``; of arrows told together their sum, ``161 N in all``, as the words of a load case tell it."""
    said = load_words(sum(arrow.size for arrow in arrows), arrows[0].kind == "moment", units)
    if len(arrows) > 1:
        return f"{said} in all"
    return said


def pushed_words(arrows: Sequence[Arrow], units: bool = True) -> str:
    """Where each load of a picture comes on: ``bottom bracket 2056 N and 168 N·m; rear axle 1851 N``."""
    places: dict[str, list[str]] = {}
    for group in together(arrows):
        nodes = dict.fromkeys(arrow.spread or arrow.node for arrow in group)
        where = " and ".join(spoken(node) for node in nodes)
        places.setdefault(where, []).append(sum_words(group, units))
    return "; ".join(f"{where} {' and '.join(said)}" for where, said in places.items())


def left_out_words(count: int) -> str:
    """How many arrows `large` has left out."""
    if count == 1:
        return "One smaller load is not drawn"
    return f"{count} smaller loads are not drawn"


@dataclass(frozen=True)
class Gauge:
    """Where a figure is read: the places that count most in it, the way they are counted, and what it is.

    turning : whether it is a turn about `way` and not a movement along it.
    """

    name: str
    words: str
    places: tuple[Xyz, ...]
    way: Xyz
    turning: bool


def gauges(model: FrameModel, case: LoadCase) -> tuple[Gauge, ...]:
    """Where each measure of a case is read; energies are read nowhere."""
    return tuple(_gauge(model, m) for m in case.measures if m.unit != "J" and m.weights)


def _gauge(model: FrameModel, measure: Measure) -> Gauge:
    turning = measure.unit == "deg"
    # Weights are six components: three of movement, then three of turning.
    part = slice(3, 6) if turning else slice(0, 3)
    ways = [(node, np.array(six)[part]) for node, six in measure.weights]
    sizes = [float(np.linalg.norm(way)) for _, way in ways]
    most = max(sizes)
    counted = [pair for pair, size in zip(ways, sizes, strict=True) if size >= most * COUNTS]
    # The way of the place that counts most; a measure against another place has two.
    x, y, z = (float(v) for v in ways[sizes.index(most)][1] / (most or 1.0))
    places = tuple(model.nodes[node] for node, _ in counted)
    return Gauge(measure.name, measure.title or spoken(measure.name), places, (x, y, z), turning)


def case_picture(model: FrameModel, case: LoadCase, result: Result | None = None) -> CasePicture:
    """Loads and supports of a case in place; with a result the reactions too."""
    arrows = [
        arrow for node, load in case.nodal.items() for arrow in _arrows(model, node, load, "load")
    ]
    arrows += _member_arrows(model, case)
    if result is not None:
        # Reactions that are mere rounding are not drawn.
        smallest = IDLE * _size(model, case)
        arrows += [
            arrow
            for node, load in result.reactions.items()
            for arrow in _arrows(model, node, load, "reaction")
            if _carried(model, _six(arrow)) > smallest
        ]
    supports = tuple(
        SupportMark(node, model.nodes[node], _held(flags), case.touching.get(node, ""))
        for node, flags in case.supports.items()
    )
    springs = tuple(
        SupportMark(s.i, model.nodes[s.i], _held(s.k), spoken(s.id)) for s in case.springs
    )
    return CasePicture(tuple(arrows), supports, springs)


def idle_supports(result: Result) -> tuple[Finding, ...]:
    """Supports that carry load where nothing touches the bicycle, and wheels that would lift off the ground."""
    return (*_untouched(result), *_lifting(result))


def all_idle_supports(results: Mapping[str, Result]) -> tuple[Finding, ...]:
    """`idle_supports` of every solved load case."""
    return tuple(found for result in results.values() for found in idle_supports(result))


def _untouched(result: Result) -> Iterator[Finding]:
    model = result.model
    case = result.case
    size = _size(model, case)
    for node, load in result.reactions.items():
        what = case.touching.get(node, "")
        if (what and what != REFERENCE) or not _carried(model, load) > IDLE * size:
            continue
        if what:
            why = "but it is a reference for the readings only: the loads do not balance; add what balances them"
        else:
            why = (
                "but the case names nothing that touches the bicycle there; take it off, or say what "
                "touches"
            )
        yield Finding(
            "support-untouched",
            "warning",
            f"load case {case.name}: the support at {spoken(node)} carries {_load_words(load)}, {why}",
            node,
        )


def _lifting(result: Result) -> Iterator[Finding]:
    case = result.case
    for node, what in case.touching.items():
        push = _push_up(result, node)
        if ON_GROUND in what and push < -IDLE * _size(result.model, case):
            yield Finding(
                "wheel-lifts",
                "warning",
                f"load case {case.name}: the support at {spoken(node)} pulls down with {load_words(push)}, "
                "so the wheel would leave the ground; lower the loads that lift it",
                node,
            )


def _push_up(result: Result, node: str) -> float:
    """What ground gives a node upwards, by a support or by a tyre as a spring, N; nought where it gives nothing."""
    push = 0.0
    if node in result.reactions:
        push = float(result.reactions[node][1])
    # A spring with one end stands on the ground and pushes against the movement.
    for spring in result.case.springs:
        if spring.j is None and spring.i == node:
            push -= spring.k[1] * float(result.displacement(node)[1])
    return push


def _size(model: FrameModel, case: LoadCase) -> float:
    """Largest load of the case as a force; moments over the model's size."""
    nodal = [_carried(model, np.array(load)) for load in case.nodal.values()]
    # A load per mm over the whole frame, which is more than any tube carries.
    spans = [float(np.linalg.norm(load.w)) * model.span for load in case.member_loads]
    return max([*nodal, *spans], default=0.0)


def _carried(model: FrameModel, load: Array) -> float:
    return max(float(np.linalg.norm(load[:3])), float(np.linalg.norm(load[3:])) / model.span)


def _arrows(
    model: FrameModel, node: str, load: Array | tuple[float, ...], what: str
) -> Iterator[Arrow]:
    for kind, part in (("force", load[:3]), ("moment", load[3:])):
        if any(part):
            x, y, z = (float(v) for v in part)
            yield Arrow(node, model.nodes[node], (x, y, z), kind, what)


def _six(arrow: Arrow) -> Array:
    """An arrow as the six components of a load."""
    return np.array(
        [*arrow.vector, 0, 0, 0] if arrow.kind == "force" else [0, 0, 0, *arrow.vector], dtype=float
    )


def _member_arrows(model: FrameModel, case: LoadCase) -> Iterator[Arrow]:
    """A uniform load as its resultant at the middle of the element, global axes."""
    for load in case.member_loads:
        beams = Beams.of(model)
        k = model.element_index[load.element]
        if load.frame == "global":
            w = np.array(load.w)
        else:
            w = beams.rotation[k].T @ np.array(load.w)
        element = model.elements[k]
        x, y, z = (float(v) for v in w * beams.length[k])
        mx, my, mz = (float(v) for v in np.add(model.nodes[element.i], model.nodes[element.j]) / 2)
        spread = element.member or element.id
        yield Arrow(load.element, (mx, my, mz), (x, y, z), "force", "load", spread)


def _held(flags: tuple[float, ...]) -> tuple[str, ...]:
    return tuple(dof for dof, flag in zip(DOFS, flags, strict=True) if flag)


def _load_words(load: Array) -> str:
    sizes = (float(np.linalg.norm(load[:3])), False), (float(np.linalg.norm(load[3:])), True)
    return (
        " and ".join(
            load_words(size, turning)
            for size, turning in sizes
            if size > (1.0 if turning else 1e-3)
        )
        or "load"
    )
