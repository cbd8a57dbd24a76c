"""How far the wobble index can be trusted: what each choice behind it moves, and which unstated value decides.

The index is the most that the hands must supply, N*m*s/rad. Everything stands as a change of it, so that it can be held
against the difference between two bicycles.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from ..converters.showing.table import Column, Kind, Row, Table
from ..model.errors import ModelError
from ..model.frame.bicycle import Bicycle
from ..model.frame.mesh import MeshOptions, mesh
from ..model.frame.riding import RIDING, settled_riding, unstated
from ..model.stability.flexibility import Flex, Flexibility
from ..model.stability.hands import BAND_SPEEDS, SAMPLES, Band, Need, SetUp, draws, hands_need
from ..model.stability.shimmy_flex import fork_give, frame_give
from ..model.vibration.bare import bare_model
from ..model.vibration.modes import modes
from ..model.words import give_or_take, signed
from .audit import joint_kinds, mesh_error
from .wobble import found_again

FINE = tuple(np.arange(3.0, 20.001, 0.1))  # m/s, ten times as fine as the study's own speeds
SHOWN_DRAWS = 40  # what `droptrail shimmy` draws by itself
RESAMPLED = 400  # of the band, for the error of its ends
DECIDING = 6  # values shown


@dataclass(frozen=True)
class Swapped:
    """One choice behind the index: what was changed, and the index then; `why` says how to read it."""

    what: str
    need: float
    why: str


@dataclass(frozen=True)
class Decider:
    """A value that nobody stated: the index at either end of its range, all others as usual."""

    words: str
    low: float
    high: float

    @property
    def span(self) -> float:
        return abs(self.high - self.low)


@dataclass(frozen=True)
class WobbleAudit:
    """need : the index. mesh_bar : of it, from the mesh halved twice. choices : everything else that was swapped.

    deciders : the values that nobody stated, the weightiest first. band : of `SAMPLES` draws. band_error : standard
    error of (low, middle, high) of a band of `SHOWN_DRAWS` draws. share_error : of a share near one half from so many.
    """

    need: float
    at: float
    mesh_bar: float
    choices: tuple[Swapped, ...]
    deciders: tuple[Decider, ...]
    band: Band
    band_error: tuple[float, float, float]
    share_error: float


def audit_wobble(bicycle: Bicycle, options: MeshOptions | None = None) -> WobbleAudit | None:
    """The audit; None for a bicycle that nobody rides, and where its bar has no wobble to be damped.

    Raises as meshing and solving do.
    """
    if not bicycle.ridden:
        return None
    options = options or MeshOptions()
    usual = _meshed(bicycle, options)
    try:
        need = usual.need()
    except ModelError:
        return None
    # Two refinements, because one difference alone does not tell the order.
    finer = [_meshed(bicycle, options.refined(k)).need().most for k in (2, 4)]
    _, bar = mesh_error(need.most, *finer)
    band = usual.band(draws(bicycle.riding, SAMPLES))
    return WobbleAudit(
        need.most,
        need.at,
        bar * abs(finer[-1]),
        (
            Swapped("every element of the mesh halved twice", finer[-1], ""),
            *_speeds(usual, need),
            *_kept_motions(usual, need),
            *_joints(bicycle),
        ),
        _deciders(usual),
        band,
        _band_error(band),
        0.5 / sqrt(SHOWN_DRAWS),
    )


def _meshed(bicycle: Bicycle, options: MeshOptions) -> SetUp:
    model = mesh(bicycle, options)
    return SetUp(bicycle, frame_give(bicycle, model), fork_give(bicycle, model))


def _speeds(usual: SetUp, need: Need) -> Iterator[Swapped]:
    fine = usual.need(FINE)
    yield Swapped(
        "speeds ten times as fine, every 0.1 m/s", fine.most, f"worst at {fine.at:.1f} m/s"
    )
    coarse = usual.need(BAND_SPEEDS)
    yield Swapped("the six speeds of bands, compare and search", coarse.most, "")
    made = usual.model(settled_riding(usual.bicycle.riding))
    yield Swapped(
        "found again by the eigenvalues of the whole system",
        found_again(made, need),
        f"the root at {need.hz[need.worst]:.1f} Hz and its change with the damping of the hands",
    )


def _kept_motions(usual: SetUp, need: Need) -> Iterator[Swapped]:
    """Fewer motions kept of frame and fork; and what the frame's own inertia between them would add."""
    for words, head, fork in (
        ("fork rigid: 8 motions kept", usual.head, None),
        ("frame gives at the head alone: 2 and 3 motions", only(usual.head, "head"), usual.fork),
        (
            "frame without the pedals' motions: 5 and 3",
            only(usual.head, "head", "rear"),
            usual.fork,
        ),
    ):
        yield Swapped(words, replace(usual, head=head, fork=fork).need().most, "all 11 are kept")
    lowest = _lowest_of_the_frame(usual.bicycle)
    wobble = float(need.hz[need.worst])
    # Below its own first mode a frame gives more by (f / f1)^2, to first order (one degree of freedom, textbook).
    more = 1 / (1 - (wobble / lowest) ** 2)
    if usual.head is not None:
        softer = replace(usual, head=usual.head.scaled(1 / more)).need().most
        yield Swapped(
            "frame as soft as its own inertia makes it",
            softer,
            f"condensed as if at rest; its own first mode, hung free, has {lowest:.0f} Hz, the wobble {wobble:.1f}",
        )


def only(part: Flex | Flexibility | None, *places: str) -> Flexibility | None:
    """The part with no other motions free than those of the places: the others held, as a support holds."""
    if not isinstance(part, Flexibility):
        return None
    kept = [k for k, joint in enumerate(part.joints) if joint.name.split()[0] in places]
    stiff = part.stiffness[np.ix_(kept, kept)]
    joints = tuple(part.joints[k] for k in kept)
    return Flexibility(joints, np.asarray(np.linalg.inv(stiff)), part.damping_ratio)


def _lowest_of_the_frame(bicycle: Bicycle) -> float:
    model = bare_model(bicycle, ("frame",))
    found = modes(model, count=8)
    return float(found.frequencies_hz[found.rigid])


def _joints(bicycle: Bicycle) -> Iterator[Swapped]:
    for kind in joint_kinds(bicycle):
        yield Swapped(f"tubes joined {kind}", SetUp.of(bicycle.joined(kind)).need().most, "")


def _deciders(usual: SetUp) -> tuple[Decider, ...]:
    """One value at a time at both ends of its range."""
    loads = usual.bicycle.loads
    found = []
    for assumed in unstated(usual.bicycle.riding, (loads.front_luggage, loads.rear_luggage)):
        value = RIDING[assumed.key]
        # The damping of the arms is what is asked for, and not in it.
        if value.key == "arms_damping":
            continue
        ends = []
        for end in (value.low, value.high):
            values = {**settled_riding(usual.bicycle.riding), value.key: end}
            ends.append(hands_need(usual.model(values), BAND_SPEEDS).most)
        found.append(
            Decider(f"{value.words}, {value.low:g} to {value.high:g} {value.unit}".rstrip(), *ends)
        )
    found.sort(key=lambda one: -one.span)
    return tuple(found)


def _band_error(band: Band) -> tuple[float, float, float]:
    """How far the ends of a band of `SHOWN_DRAWS` draws scatter, by drawing anew from the larger band (bootstrap)."""
    rng = np.random.default_rng(3)
    drawn = rng.choice(band.samples, (RESAMPLED, SHOWN_DRAWS))
    low, middle, high = np.std(np.quantile(drawn, (0.1, 0.5, 0.9), axis=1), axis=1, ddof=1)
    return float(low), float(middle), float(high)


# --- tables ---------------------------------------------------------------------------------------------------------
_UNIT = "N·m·s/rad"
_CHOICES = (
    Column("changed", "what was changed"),
    Column("need", "hands must supply", Kind.NUMBER, _UNIT, digits=3, signed=True),
    Column("change", "change", Kind.NUMBER, _UNIT, digits=3, signed=True),
    Column("why", "note"),
)
_DECIDERS = (
    Column("value", "value that nobody stated"),
    Column("low", "hands, at the low end", Kind.NUMBER, _UNIT, digits=2, signed=True),
    Column("high", "at the high end", Kind.NUMBER, _UNIT, digits=2, signed=True),
    Column("span", "between them", Kind.NUMBER, _UNIT, digits=2),
)


def wobble_audit_tables(done: WobbleAudit) -> tuple[Table, Table]:
    """What moves the index, and what decides it."""
    rows: list[Row] = [("as worked out", done.need, None, f"worst at {done.at:.1f} m/s")]
    rows += [(one.what, one.need, one.need - done.need, one.why) for one in done.choices]
    low, middle, high = done.band_error
    band = done.band
    notes = (
        f"Mesh: {give_or_take(done.mesh_bar, 3)} by Richardson's bar. Band over what nobody stated, "
        f"{len(band.samples)} draws: {signed(band.low, 2)} to {signed(band.high, 2)} in eight of ten, middle "
        f"{signed(band.middle, 2)}. A band of {SHOWN_DRAWS} draws, as droptrail shimmy makes it, has its ends to "
        f"{give_or_take(low, 2)} and {give_or_take(high, 2)}, its middle to {give_or_take(middle, 2)} (one standard "
        f"error), a share of draws to {give_or_take(100 * done.share_error, 0)} points "
        "at most. Two bicycles under the same draws differ far more surely than that."
    )
    choices = Table("wobble_choices", "How far to trust the wobble index", _CHOICES, rows, notes)
    shown = [(one.words, one.low, one.high, one.span) for one in done.deciders[:DECIDING]]
    first = ""
    if done.deciders:
        first = f"What decides: {done.deciders[0].words}. Measure or state it first."
    return choices, Table(
        "wobble_deciders", "What decides the wobble index", _DECIDERS, shown, first
    )
