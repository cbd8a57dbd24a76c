"""The side view of a frame for several riders, read as the single bicycle that is left when it is folded up.

A FOLD takes out what lies between the seat tubes of the first and the last rider and moves the rear end, everything
behind the last one's seat tube, forward until his bracket lies on the first one's and the rear axle at its own height:
a rigid motion, so the chainstay keeps its length, the wheels stand on the same ground, and nothing in front moves. What
is left is a diamond, read as any other. Then everything is moved back, and every bracket behind the first is settled by
all that marks it.
"""

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import pairwise
from math import hypot

import numpy as np
from numpy.typing import NDArray

from ....model.errors import InputError
from ....model.geometry.dimensions import Point
from ....model.tubes.places import AtJoint
from ....model.tubes.plan import FramePlan, TubeRole
from ....model.words import spoken
from ..drawing import Drawing
from ..labelling.doubt import InDoubtError
from ..labelling.nodes import CIRCLE, LINE_END, SURE, Node, Witness, settle
from ..labelling.seat_tubes import Row, RowNames, find_row
from ..labelling.witnesses import CHAINRING, EYELET, SHELL_SIZE
from ..linework.evidence import Evidence, settled
from ..linework.lines import Candidate, crossing
from ..linework.pieces import Pieces, cut
from ..linework.plane import Vec
from ..linework.pose import Pose
from ..linework.rounds import LEAST_COVERAGE, Round, find_rounds
from ..linework.strokes import gather
from .checks import node_findings
from .fold import MM, Fold, fold, going_on, pose_of_row
from .free_lines import LEAST_LENGTH, FreeLines, FreeTube, may_be_tube, tubes_of
from .labels import TextLabel
from .recognise import recognise_told
from .side_view import SideView, Told
from .written import written_findings

MOST_FOLDS = 4  # the fold is made anew until the brackets that the reading settles stay
STAYS = 1e-4  # mm that a bracket may still move
NEAR = 34.0  # mm about a bracket in which circles and lines speak for it
TOLERANCE = 0.05  # mm; witnesses nearer than this agree
BETWEEN = "between the first and the last seat tube, no tube that the plan places there"
# Findings of the folded drawing that the rear end's new place makes.
_OF_THE_FOLD = ("side-note-differs",)


# --- read and moved back ------------------------------------------------------------------------------------


def recognise_several(drawing: Drawing, plan: FramePlan, told: Told) -> SideView:
    """The side view of a frame for several riders. Raises InputError as `recognise` does, and where it does not show as
    many seat tubes with their brackets as riders."""
    refused: InputError | None = None
    for drawn in (drawing, *(other() for other in drawing.others)):
        try:
            return _recognised(drawn, plan, told)
        except InDoubtError:
            raise
        except InputError as error:
            refused = refused or error
    assert refused is not None
    raise refused


def _recognised(drawing: Drawing, plan: FramePlan, told: Told) -> SideView:
    pick = told.pick or {}
    names = RowNames(tuple(rider.seat_tube for rider in plan.followers), tuple(_booms(plan)))
    of_row = (*names.seats, *names.booms)
    own = {name: held for name, held in pick.items() if name in of_row}
    rest = {name: held for name, held in pick.items() if name not in own}
    evidence = settled(drawing.curves, told.layers, rest).naming(own)
    rounds = find_rounds(drawing.curves, LEAST_COVERAGE)
    pieces = cut(drawing.curves, frozenset(i for r in rounds for i in (*r.curves, *r.copies)))
    row = find_row(rounds, pieces, evidence, names)
    if row is None or len(row.brackets) != len(plan.riders):
        raise _other_number(row, plan, names)
    drawn = _lines(pieces, evidence, row.radii[1] / MM)
    # the seatstays join the last seat tube, which is folded away
    asked = replace(told, pick=rest, loose=frozenset({"seatstay"}))
    for _ in range(MOST_FOLDS):
        folded = fold(drawing, row, going_on(row, drawn))
        view = recognise_told(folded.drawing, asked)
        read = _Read(drawing, folded, view, row, evidence, rounds, pieces, plan)
        before = row
        row = read.settled
        step = STAYS / view.transform.mm_per_unit
        if max(map(_apart, before.brackets, row.brackets)) <= step:
            break
    return read.unfolded()


def _other_number(row: Row | None, plan: FramePlan, names: RowNames) -> InputError:
    """That a drawing shows another number of seat tubes than riders."""
    found = 1 if row is None else len(row.brackets)
    tubes = zip(names.seats, names.booms, strict=True)
    wanted = ", ".join(f"{spoken(seat)} at the foot of {spoken(boom)}" for seat, boom in tubes)
    picks = " ".join(f"--pick {name}=HANDLE" for name in (*names.seats, *names.booms))
    return InputError(
        f"{found} seat tube{'s' if found > 1 else ''} found whose feet tubes join, and the plan '{plan.label}' has "
        f"{len(plan.riders)} (behind the first: {wanted}); draw them all, name them with {picks}, or correct the plan",
        option="--pick",
    )


def _lines(pieces: Pieces, evidence: Evidence, mm: float) -> FreeLines:
    """Every straight line that may be a tube's, in drawing units. mm : the length of one millimetre in them."""
    strokes = gather(pieces, mm)
    allowed = may_be_tube(evidence)
    rows = []
    curves = []
    for k, held in enumerate(strokes.pieces):
        owners = tuple(dict.fromkeys(int(pieces.owner[piece]) for piece in held))
        if all(allowed[i] for i in owners):
            rows.append(strokes.ends[k].reshape(2, 2))
            curves.append(owners)
    drawn = np.array(rows, float).reshape(-1, 2, 2)
    return FreeLines(drawn, drawn, tuple(curves))


def _apart(a: Vec, b: Vec) -> float:
    return hypot(a[0] - b[0], a[1] - b[1])


def _booms(plan: FramePlan) -> Iterator[str]:
    """The tubes from bracket to bracket, from front to rear."""
    for fore, back in pairwise(plan.riders):
        joining = [role.name for role in plan.roles if _ends(role) == {fore.bracket, back.bracket}]
        if not joining:
            raise InputError(
                f"plan {plan.label}: no tube joins {spoken(fore.bracket)} and {spoken(back.bracket)}, so its drawing "
                "cannot be read; give its fit sheet alone"
            )
        yield joining[0]


def _ends(role: TubeRole) -> set[str]:
    return {place.name for place in role.ends if isinstance(place, AtJoint)}


@dataclass(frozen=True, eq=False)
class _Read:
    """The folded drawing read, and what of the drawing itself speaks for the brackets behind the first."""

    drawing: Drawing
    fold: Fold
    view: SideView
    before: Row
    evidence: Evidence
    rounds: Sequence[Round]
    pieces: Pieces
    plan: FramePlan

    @cached_property
    def _members(self) -> Mapping[int, str]:
        """Curve of the drawing -> the member of the folded frame that it is."""
        parts = self.fold.parts
        return {
            parts.get(one.index, one.index): one.member for one in self.view.labels if one.member
        }

    @cached_property
    def _axles(self) -> Row:
        """The row with axles and first bracket as the folded drawing's reading has them."""
        x, y = self.fold.back(np.array(self.view.points["rear_axle"])).tolist()
        return replace(
            self.before,
            rear=(x, y),
            front=self.view.points["front_axle"],
            brackets=(self.view.transform.offset, *self.before.brackets[1:]),
        )

    @cached_property
    def pose(self) -> Pose:
        """Level axes in mm, the rear axle at the origin."""
        return pose_of_row(self._axles, self.view.transform.mm_per_unit)

    @cached_property
    def origin(self) -> Vec:
        """The first bracket in the pose's axes."""
        return self.pose.apply(self._axles.brackets[0])

    @cached_property
    def lines(self) -> FreeLines:
        """Every straight line that may be a tube's, mm from the first bracket."""
        lines = _lines(self.pieces, self.evidence, 1 / self.view.transform.mm_per_unit)
        ends = self.pose.apply_all(lines.drawn) - np.array(self.origin)
        long = np.hypot(*(ends[:, 1] - ends[:, 0]).T) >= LEAST_LENGTH
        return FreeLines(ends, lines.drawn, lines.curves).only(long)

    def tube(self, curves: Collection[int], *places: Vec) -> FreeTube | None:
        """The tube that some curves draw straight, whose line passes some places, mm from the first bracket."""
        held = set(curves)
        which = np.array([held.issuperset(own) for own in self.lines.curves], bool)
        for x, y in places:
            which &= self._passing((x, y))
        tubes = tubes_of(self.lines.only(which))
        return max(tubes, key=lambda tube: tube.line.length, default=None)

    def _passing(self, at: Vec) -> NDArray[np.bool_]:
        """The lines that pass near a place, or would run on."""
        p = self.lines.ends[:, 0]
        step = self.lines.ends[:, 1] - p
        rel = np.array(at) - p
        across = step[:, 0] * rel[:, 1] - step[:, 1] * rel[:, 0]
        near: NDArray[np.bool_] = np.abs(across) <= NEAR * np.hypot(*step.T)
        return near

    def member(self, name: str, *places: Vec) -> FreeTube | None:
        """A member of the folded frame as it was drawn."""
        return self.tube([i for i, member in self._members.items() if member == name], *places)

    @cached_property
    def axle(self) -> Vec:
        """The rear axle, mm from the first bracket."""
        return self._here(self._axles.rear)

    @cached_property
    def seats(self) -> tuple[FreeTube | None, ...]:
        """The seat tubes, from front to rear."""
        return tuple(self._seat(k) for k in range(len(self.before.seats)))

    def _seat(self, k: int) -> FreeTube | None:
        foot = self.before.brackets[k]
        up = self.before.ups[k]
        size = self.before.radii[1]
        above = (foot[0] + size * up[0], foot[1] + size * up[1])
        return self.tube(self.before.seats[k], self._here(foot), self._here(above))

    @cached_property
    def behind(self) -> tuple[Node, ...]:
        """The brackets behind the first, mm from it."""
        return tuple(self._bracket(k) for k in range(1, len(self.before.brackets)))

    def _bracket(self, k: int) -> Node:
        at = self._here(self.before.brackets[k])
        name = spoken(self.plan.riders[k].bracket)
        found = settle(name, [*self._circles(at), *self._ends(k, at)], TOLERANCE)
        return found or Node(name, at, (), (), 0.0)

    def _here(self, drawn: Vec) -> Vec:
        """A point of the drawing in mm from the first bracket."""
        x, y = self.pose.apply(drawn)
        return (x - self.origin[0], y - self.origin[1])

    def _circles(self, about: Vec) -> Iterator[Witness]:
        for one in self.rounds:
            size = one.radius * self.pose.scale
            at = self._here(one.centre)
            if not EYELET <= size <= CHAINRING or _apart(at, about) > min(
                NEAR, max(size, SHELL_SIZE[0])
            ):
                continue
            if SHELL_SIZE[0] <= size <= SHELL_SIZE[1]:
                yield Witness("the bracket's circle", at, rank=SURE, curves=one.curves)
            else:
                yield Witness(
                    f"the circle of radius {size:.4g} mm", at, rank=CIRCLE, curves=one.curves
                )

    def _ends(self, k: int, about: Vec) -> Iterator[Witness]:
        brackets = [self._here(at) for at in self.before.brackets]
        booms = [*_booms(self.plan)]
        named = {
            spoken(self.plan.riders[k].seat_tube): self.seats[k],
            spoken(booms[k - 1]): self.tube(self.before.booms[k - 1], brackets[k - 1], about),
        }
        if k < len(booms):
            named[spoken(booms[k])] = self.tube(self.before.booms[k], about, brackets[k + 1])
        else:
            named["chainstay"] = self.member("chainstay", self.axle, about)
        for name, tube in named.items():
            if tube is None:
                continue
            line = tube.line
            if _apart(line.p, about) < _apart(line.q, about):
                line = line.reversed()
            drawn = bool(tube.middle) or line.diameter is None
            yield Witness(
                f"the {name}", line.q, line.u, ended=drawn, rank=LINE_END, curves=tube.curves
            )

    @cached_property
    def settled(self) -> Row:
        x, y = self.origin
        drawn = [self.pose.back((node.at[0] + x, node.at[1] + y)) for node in self.behind]
        return replace(self._axles, brackets=(self._axles.brackets[0], *drawn))

    # --- the view ---------------------------------------------------------------------------------------
    def unfolded(self) -> SideView:
        """The side view in the drawing's own places."""
        view = self.view
        rear = Point(*self.behind[-1].at)
        given = view.dimensions.given._replace(rear_bracket=rear)
        dimensions = replace(
            view.dimensions,
            bb_drop=self.axle[1],
            chainstay=rear.distance(Point(*self.axle)),
            seatstay_below_top_tube=None,
            given=given,
        )
        joints: dict[str, tuple[Vec, ...]] = {}
        for rider, node, seat in zip(self.plan.followers, self.behind, self.seats[1:], strict=True):
            joints[rider.bracket] = (node.at,)
            top = self.plan.role(rider.seat_tube).ends[1]
            if seat is not None and isinstance(top, AtJoint):
                joints[top.name] = tuple(self._on(seat.line))
        last = self.seats[-1]
        stay = self.member("seatstay", self.axle)
        met = None
        if last is not None and stay is not None:
            met = crossing(stay.line, last.line)
        if met is not None:
            joints["seat_tube_seatstay_node"] = (met,)
        step = view.precision.step
        behind = [
            found for node in self.behind for found in node_findings(self.drawing, node, step)
        ]
        said = written_findings(self.drawing, dimensions, view.transform.mm_per_unit, step)
        return replace(
            view,
            drawing=self.drawing,
            dimensions=dimensions,
            labels=tuple(self._labels()),
            points=self._points(),
            lines=self._drawn_lines(met),
            free=self._free(),
            # courses of the folded drawing, which are no places of the frame itself
            paths={},
            extents={},
            findings=(
                *(f for f in view.findings if f.code not in _OF_THE_FOLD),
                *behind,
                *said,
            ),
            plan=self.plan,
            joints=joints,
        )

    def _on(self, line: Candidate) -> Iterator[Vec]:
        """Where something that runs along a tube ends, on its axis and above its middle."""
        for p, q in self.lines.ends.tolist():
            beside = max(abs(line.lateral((p[0], p[1]))), abs(line.lateral((q[0], q[1]))))
            if beside > NEAR:
                continue
            for at in (p, q):
                along = line.along((at[0], at[1]))
                if along > line.length / 2:
                    yield line.at(along)

    def _labels(self) -> Iterator[TextLabel]:
        parts = self.fold.parts
        named = {parts.get(one.index, one.index): one for one in self.view.labels if one.member}
        for one in self.view.labels[: len(self.drawing.curves)]:
            own = named.get(one.index, one)
            if not own.member and one.index in self.fold.between:
                own = replace(own, how=BETWEEN)
            yield replace(own, index=one.index)

    def _points(self) -> dict[str, Vec]:
        kept = {k: at for k, at in self.view.points.items() if k != "seat_tube_seatstay_node"}
        names = [rider.bracket for rider in self.plan.followers]
        brackets = dict(zip(names, self.settled.brackets[1:], strict=True))
        return {**kept, "rear_axle": self._axles.rear, **brackets}

    def _drawn_lines(self, node: Vec | None) -> dict[str, tuple[Vec, ...]]:
        lines = dict(self.view.lines)
        for name in ("chainstay", "seatstay"):
            if name in lines:
                back = self.fold.back(np.array(lines[name])).tolist()
                lines[name] = tuple((x, y) for x, y in back)
        if "chainstay" in lines:
            lines["chainstay"] = (*lines["chainstay"][:-1], self.settled.brackets[-1])
        if "seatstay" in lines and node is not None:
            at = self.pose.back((node[0] + self.origin[0], node[1] + self.origin[1]))
            lines["seatstay"] = (*lines["seatstay"][:-1], at)
        return lines

    def _free(self) -> FreeLines:
        """What no member is drawn with: what lies between, and what the folded reading left over."""
        parts = self.fold.parts
        left = {parts.get(i, i) for own in self.view.free.curves for i in own}
        left |= {parts.get(i, i) for i in self.fold.between}
        return self.lines.only(np.array([left.issuperset(own) for own in self.lines.curves], bool))
