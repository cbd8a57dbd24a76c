"""Variants of a bicycle: a name and the tubes that are exchanged; grids of options per tube."""

import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..tubes.materials import Material
from ..tubes.tube import Tube

GRID_LIMIT = 200  # variants a comparison solves one by one; more is a job for the search


@dataclass(frozen=True)
class Variant:
    """A named set of exchanged tubes: tube table entry -> tube."""

    name: str
    tubes: Mapping[str, Tube]

    def __post_init__(self) -> None:
        # Frozen in depth: a dictionary handed in could still be changed by its owner.
        object.__setattr__(self, "tubes", MappingProxyType(dict(self.tubes)))

    def of(self, bicycle: Bicycle) -> Bicycle:
        """The bicycle with these tubes. Raises ModelError for one that its plan does not have."""
        for tube in self.tubes:
            if bicycle.plan.get(tube) is None:
                known = ", ".join(bicycle.plan.names)
                raise ModelError(f"variant {self.name}: there is no tube '{tube}'; known: {known}")
        return replace(bicycle, tubes={**bicycle.tubes, **self.tubes})

    @property
    def changes(self) -> str:
        """What is exchanged, in words."""
        return ", ".join(
            f"{name.replace('_', ' ')} {described(tube)}" for name, tube in self.tubes.items()
        )


@dataclass(frozen=True)
class Reshaped:
    """A variant of another geometry, rider or other parts: its name, what changed in words, and the bicycle itself."""

    name: str
    changes: str
    bicycle: Bicycle

    def of(self, bicycle: Bicycle) -> Bicycle:
        """The bicycle of this variant, whatever it is compared with."""
        return self.bicycle


def described(tube: Tube) -> str:
    """The tube's label with butts, oval width and material where they tell tubes apart."""
    if tube.butts:
        butts = f" butts {'/'.join(f'{b:g}' for b in tube.butts)}"
    else:
        butts = ""
    if tube.corner is None:
        shape = "oval"
    else:
        shape = f"rectangular (corners {tube.corner:g})"
    if tube.oval_width is None:
        oval = ""
    elif tube.width_end == tube.oval_width:
        oval = f" {shape} {tube.oval_width:g} wide"
    else:
        oval = f" {shape} {tube.oval_width:g}-{tube.width_end:g} wide"
    return f"{tube.label}{butts}{oval} {tube.material.name}"


@dataclass(frozen=True)
class TubeChange:
    """What is stated of a new tube; None keeps what the present tube has.

    A stated diameter without `oval_width` means a round tube, one without `straight` a taper over the whole length.
    Butt lengths are kept where the number of walls still fits them, and must be stated otherwise.
    """

    diameters: tuple[float, float] | None = None
    walls: tuple[float, ...] | None = None
    butts: tuple[float, ...] | None = None
    tapers: tuple[float, ...] | None = None
    oval_width: float | None = None
    material: Material | None = None
    oval_end: float | None = None
    straight: tuple[float, float] = (0.0, 0.0)

    def of(self, tube: Tube) -> Tube:
        """The changed tube. Raises ModelError where butt lengths are missing or nothing sensible results."""
        walls = self.walls or tube.walls
        butts = self._butts(tube, walls)
        # A taper belongs to its butt: with other butts the old ones mean nothing.
        if butts == tube.butts:
            kept_tapers = tube.tapers
        else:
            kept_tapers = ()
        start, end = self.diameters or (tube.od_start, tube.od_end)
        shape = tube
        if self.oval_width is not None or self.diameters is not None:
            shape = replace(tube, oval_width=self.oval_width, oval_end=self.oval_end, corner=None)
        kept_straight = shape.straight
        # A new diameter tapers over the whole length unless it says otherwise.
        if self.diameters is not None or any(self.straight):
            kept_straight = self.straight
        return Tube(
            self.material or tube.material,
            start,
            end,
            walls,
            butts,
            kept_tapers if self.tapers is None else self.tapers,
            shape.oval_width,
            shape.corner,
            shape.oval_end,
            kept_straight,
        )

    def _butts(self, tube: Tube, walls: tuple[float, ...]) -> tuple[float, ...]:
        if self.butts is not None:
            return self.butts
        if len(walls) == 1:
            return ()
        if len(tube.butts) != len(walls) - 1:
            stated = "/".join(f"{w:g}" for w in walls)
            od = (self.diameters or (tube.od_start,))[0]
            raise ModelError(
                f"walls {stated} need {len(walls) - 1} butt length(s), the present tube {tube.label} has "
                f"{len(tube.butts)}; state them, such as {od:g}x{stated}"
                f"@{'/'.join(['75'] * (len(walls) - 1))}"
            )
        return tube.butts


def grid(bicycle: Bicycle, choices: Mapping[str, Sequence[Tube]]) -> list[Variant]:
    """Every combination of the options but the bicycle as it stands, named by what differs from it.

    Raises
    ------
    ModelError
        When there are more than `GRID_LIMIT`; the search is made for those.
    """
    # Counted before anything is made.
    count = 1
    for tubes in choices.values():
        count *= len(tubes)
    if count > GRID_LIMIT:
        raise ModelError(
            f"{count} combinations are too many to compare one by one (at most {GRID_LIMIT}); "
            "use droptrail search"
        )
    names = {tube: short_names(options) for tube, options in choices.items()}
    out = []
    for picks in itertools.product(*(range(len(tubes)) for tubes in choices.values())):
        chosen = {tube: (k, choices[tube][k]) for tube, k in zip(choices, picks, strict=True)}
        changed = {
            tube: option
            for tube, (_, option) in chosen.items()
            if option != bicycle.tubes.get(tube)
        }
        title = ", ".join(
            f"{tube.replace('_', ' ')} {names[tube][chosen[tube][0]]}" for tube in changed
        )
        # The bicycle as it stands is the reference and no variant.
        if changed:
            out.append(Variant(title, changed))
    return out


def short_names(options: Sequence[Tube]) -> list[str]:
    """The shortest names that tell one tube's options apart: diameter, else label, else with butts and material."""
    diameters = [tube.diameters for tube in options]
    labels = [tube.label for tube in options]
    # One kind of name for all, the shortest that tells them apart.
    for names in (diameters, labels):
        if len(set(names)) == len(names):
            return names
    return [described(tube) for tube in options]
