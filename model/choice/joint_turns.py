"""Where the kind of joint turns a choice: the same variants with rigid joints and with joints that give.

Beams that meet rigidly promise what thin walls under a branch take away again, and underrate the wall of the tube
that carries the joints. Nobody can see that from one table, so two are held against each other.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ..findings import Finding
from ..frame.bicycle import Bicycle
from ..frame.joint_places import unsaid_joints
from ..frame.mesh import MeshOptions
from ..joints.shape import JointKind
from ..reanalysis.fast_options import CaseMaker
from ..words import signed
from .compare import Comparison, compare
from .variants import Reshaped, Variant

POINTS = 2.0  # percent points between both kinds: less does not turn a choice
TIMES = 1.5  # and one kind must promise this many times what the other does


def other_kind(bicycle: Bicycle) -> JointKind:
    """What to hold a bicycle's joints against: bare welds where it is joined rigidly, rigid joints where it is not."""
    if all(kind == "rigid" for kind in bicycle.joints.values()):
        return "bare"
    return "rigid"


def joint_turns(
    comparison: Comparison,
    variants: Sequence[Variant | Reshaped],
    cases_of: CaseMaker,
    options: MeshOptions | None = None,
) -> tuple[Finding, ...]:
    """What the same variants come to with the other kind of joint, only where it turns the choice.

    Raises ModelError as `compare` does.
    """
    bicycle = comparison.reference.bicycle
    kind = other_kind(bicycle)
    whole = MeshOptions() if options is None else options
    # Rigid zones contradict joints that give: there is nothing to hold against each other.
    if whole.rigid_zones:
        return ()
    joined = [_joined(variant, kind) for variant in variants]
    # The figures as told are enough: how the bicycle is held is a question of its own.
    other = compare(bicycle.joined(kind), joined, cases_of, options, held_otherwise=False)
    return tuple(_turns(comparison, other, _Words.of(bicycle, kind)))


@dataclass(frozen=True)
class _Words:
    """What both kinds of joint are called, and what to do where they disagree."""

    mine: str
    other: str
    advice: str

    @classmethod
    def of(cls, bicycle: Bicycle, other: JointKind) -> "_Words":
        if other == "rigid":
            promise = "believe the first: rigid joints leave out what thin walls give"
            return cls("with the joints as stated", "with rigid ones", promise)
        if unsaid_joints(bicycle):
            ask = "say first how the tubes are joined (row 'joined' of the sheet, or --joints)"
            return cls("with rigid joints", "with bare welds", ask)
        return cls("with rigid joints, as stated", "with bare welds", "how they are joined decides")


def _joined(variant: Variant | Reshaped, kind: JointKind) -> Variant | Reshaped:
    """The variant with the other kind of joint: a geometry of its own carries its joints with it."""
    if isinstance(variant, Reshaped):
        return replace(variant, bicycle=variant.bicycle.joined(kind))
    return variant


def _turns(one: Comparison, other: Comparison, words: _Words) -> Iterator[Finding]:
    places = {figure.key: k for k, figure in enumerate(one.figures)}
    for number, figure in enumerate(other.figures):
        # only a stiffness is bought with tubes: a mass is what it is
        if figure.reference is None or figure.key not in places:
            continue
        first = _changes(one, places[figure.key])
        second = _changes(other, number)
        for k in _apart(first, second):
            # Row 0 is the reference, which the changes leave out.
            name = one.rows[k + 1].name
            yield Finding(
                "joint-turns-choice",
                "info",
                f"{figure.title}: '{name}' brings {signed(first[k], 1)} % {words.mine} and "
                f"{signed(second[k], 1)} % {words.other}; {words.advice}",
                name,
            )
        # A single variant has no rival to change places with.
        if len(first) > 1 and (turned := _first_turned(first, second)):
            best = [one.rows[k + 1].name for k in turned]
            yield Finding(
                "joint-turns-choice",
                "info",
                f"{figure.title}: {words.mine} '{best[0]}' is the stiffest, {words.other} '{best[1]}'; {words.advice}",
                figure.key,
            )


def _changes(comparison: Comparison, number: int) -> np.ndarray:
    return np.array([comparison.change(row, number) for row in comparison.rows[1:]])


def _apart(first: np.ndarray, second: np.ndarray) -> np.ndarray:
    """Numbers of the variants that one kind promises far more of than the other."""
    larger = np.maximum(np.abs(first), np.abs(second))
    smaller = np.minimum(np.abs(first), np.abs(second))
    same_way = first * second > 0
    apart = np.abs(first - second) >= POINTS
    # The other way round, or several times as much: smaller differences turn no choice.
    return np.flatnonzero(apart & (~same_way | (larger >= TIMES * smaller)))


def _first_turned(first: np.ndarray, second: np.ndarray) -> tuple[int, int] | None:
    """The stiffest variant of either kind, where they differ by more than rounding and wishes."""
    a = int(np.argmax(first))
    b = int(np.argmax(second))
    if a == b or first[a] - first[b] < POINTS / 4 or second[b] - second[a] < POINTS / 4:
        return None
    return a, b
