"""What is known of each curve besides its shape: its layer's words, its line type, what the user settled by hand."""

import re
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cache, cached_property

from ....model.errors import InputError
from ..drawing import Curve
from .rounds import Round
from .words import ALL, MEMBERS, NO_PART, PARTS, ROUNDS, meaning

# Points a name or line type is worth; a tube's place is worth 2. A chain of several tubes bears one tube's name.
NAMED = 0.3
MISNAMED = -0.3
NO_MEMBER = -0.6
MOST_LINES = 0.6  # share of all lines
MOST_SAID = 8  # layers named in a refusal: one line of a terminal or two
# DXF reference, group code 62: the colours that have a name
COLOURS = {"red": 1, "yellow": 2, "green": 3, "cyan": 4, "blue": 5, "magenta": 6, "white": 7}
MOST_SAID_COLOURS = 12
DASHED = -0.6  # as little a member as a line on a layer for other things
LENGTHS = ("head_tube", "lower_stack", "seat_tube")  # what a pick may state a length of
_LENGTH = re.compile(r"(\d+(?:\.\d+)?)\s*mm")
_DASHED_TYPES = ("HIDDEN", "DASHED", "PHANTOM", "DOT", "GESTRICHELT", "VERDECKT")


@cache
def _is_dashed(linetype: str) -> bool:
    return linetype.upper().startswith(_DASHED_TYPES)


@dataclass(frozen=True, eq=False)
class Evidence:
    """`roles`: curve index -> what the user says it is (a member, "frame", "wheel" or "ignore"); `lengths`: item ->
    the mm that the user states because its end is not in the lines."""

    curves: Sequence[Curve]
    roles: Mapping[int, str]
    lengths: Mapping[str, float] = field(default_factory=dict)

    def bonus(self, slot: str, curves: Sequence[int]) -> float | None:
        """Points for taking these curves as `slot`; None when the user's word forbids it."""
        # the steering axis may run on in one line as the upper part of a segmented fork
        runs_on = slot == "head_tube" and any(self.roles.get(i) != "fork" for i in curves)
        for index in curves:
            role = self.roles.get(index)
            if role == "fork" and runs_on:
                role = None
            # a named part of the fork, such as its crown, does not forbid the line to the fork
            if role in PARTS and slot == "fork":
                role = None
            if role is not None and role != slot and not (role == "frame" and slot in MEMBERS):
                return None
        if self.roles and self.claimed(slot) and not any(self.roles.get(i) == slot for i in curves):
            return None
        # a line may run on in one of another layer, such as a level stay in the cross of its axle
        return max(self.points(slot, index) for index in curves)

    def naming(self, picked: Mapping[str, str]) -> "Evidence":
        """With further names, of tubes that only some plans have: name -> handle[,handle]. Raises InputError for a
        handle that does not exist."""
        roles = dict(self.roles)
        for name, handles in picked.items():
            roles.update(dict.fromkeys(_handled(self.curves, name, handles.split(",")), name))
        return replace(self, roles=roles)

    def claimed(self, slot: str) -> bool:
        """True when the user named a curve for this slot, so that no other may have it."""
        return slot in self.roles.values()

    def named(self, slot: str) -> set[int]:
        """The curves the user named for this slot."""
        return {i for i, role in self.roles.items() if role == slot}

    def word(self, layer: str) -> str | None:
        """What the layer's name says; the name of a layer that holds most of the drawing says nothing."""
        # a whole frame on a layer "chainstay" was drawn without changing layers
        return None if layer == self.main_layer else meaning(layer)

    @cached_property
    def layers(self) -> Counter[str]:
        """How many curves lie on each layer."""
        return Counter(c.layer for c in self.curves)

    @cached_property
    def main_layer(self) -> str | None:
        layer, count = max(self.layers.items(), key=lambda n: n[1], default=("", 0))
        return layer if count > MOST_LINES * len(self.curves) else None

    def points(self, slot: str, index: int) -> float:
        """What a curve's layer and line type say for or against a slot."""
        curve = self.curves[index]
        word = self.word(curve.layer)
        points = 0.0
        if word == slot:
            points += NAMED
        elif word is not None and word != "frame":
            points += MISNAMED if word in MEMBERS else NO_MEMBER
        if _is_dashed(curve.linetype):
            points += DASHED
        return points

    def unlikely(self, r: Round) -> bool:
        """A circle drawn as something else than a part: dashed, or on a layer for other things."""
        curve = self.curves[r.curves[0]]
        role = self.roles.get(r.curves[0])
        if role is not None:
            return not role.startswith("wheel")
        picked = {i for i, what in self.roles.items() if what.startswith("wheel")}
        return bool(picked) or _is_dashed(curve.linetype) or self.word(curve.layer) in NO_PART

    def wheel_allowed(self, which: str, tyre: Round) -> bool:
        """May this circle be the front or rear wheel (`wheel_front`, `wheel_rear`), as far as the user settled it?"""
        role = self.roles.get(tyre.curves[0])
        if role is not None:
            return role in (which, "wheel")
        return not self.claimed(which)

    def is_dashed(self, index: int) -> bool:
        """A hidden or phantom line: what lies behind, not the outline itself."""
        return _is_dashed(self.curves[index].linetype)

    def elsewhere(self, index: int) -> bool:
        """A line that is no edge of a part in view: hidden, or on a layer for other things."""
        return self.is_dashed(index) or self.word(self.curves[index].layer) == "other"

    def all_dashed(self, curves: Sequence[int]) -> bool:
        """Whether every one of some curves is a hidden or phantom line."""
        return bool(curves) and all(self.is_dashed(i) for i in curves)

    def ignored(self, index: int) -> bool:
        return self.roles.get(index) == "ignore"


def settled(
    curves: Sequence[Curve], layers: Mapping[str, str] | None, pick: Mapping[str, str] | None
) -> Evidence:
    """Roles from a layer map (layer name, or "colour 1" -> member) and from picks (member -> handle[,handle], or
    a length such as 150mm).

    Raises InputError for a member, layer or handle that does not exist; a pick outranks a layer.
    """
    roles: dict[int, str] = {}
    lengths: dict[str, float] = {}
    for layer, member in (layers or {}).items():
        _check_member(member, "--layers")
        found = [i for i, c in enumerate(curves) if c.layer.casefold() == layer.casefold()]
        found = found or _of_colour(curves, layer)
        if not found:
            known = ", ".join(sorted({c.layer for c in curves})[:MOST_SAID])
            numbers = sorted({c.colour for c in curves})
            colours = ", ".join(map(str, numbers[:MOST_SAID_COLOURS]))
            raise InputError(
                f"--layers names the layer {layer!r}, which holds no line; layers with lines: {known}; colours: "
                f"{colours}, each as 'colour 1'",
                option="--layers",
            )
        roles.update(dict.fromkeys(found, member))
    for member, named in (pick or {}).items():
        handles = []
        for part in named.split(","):
            length = _LENGTH.fullmatch(part.strip())
            if length is None:
                handles.append(part)
            else:
                _check_length(member, part.strip())
                lengths[member] = float(length[1])
        if handles:
            _check_member(member, "--pick")
        roles.update(dict.fromkeys(_handled(curves, member, handles), member))
    return Evidence(curves, roles, lengths)


def _handled(curves: Sequence[Curve], member: str, handles: Sequence[str]) -> list[int]:
    """Indices of the curves with these handles. Raises InputError for a handle that none has."""
    found: list[int] = []
    by_handle: dict[str, list[int]] = {}
    for index, curve in enumerate(curves):
        by_handle.setdefault(curve.handle.upper(), []).append(index)
    for handle in handles:
        held = by_handle.get(handle.strip().upper(), []) if handle.strip() else []
        if not held:
            raise InputError(
                f"--pick {member}={handle.strip()}: no line has this handle; "
                "`droptrail read` lists the handles",
                option="--pick",
            )
        found += held
    return found


def _of_colour(curves: Sequence[Curve], name: str) -> list[int]:
    """The curves of a colour named as ``colour 1``, ``color 1`` or ``colour red``; ``red`` alone is a layer's name."""
    said = re.fullmatch(r"colou?r\s*(\d{1,3}|[a-z]+)", name.strip().casefold())
    if said is None:
        return []
    number = COLOURS.get(said[1]) or (int(said[1]) if said[1].isdigit() else None)
    return [i for i, c in enumerate(curves) if c.colour == number]


def _check_length(member: str, text: str) -> None:
    if member not in LENGTHS:
        raise InputError(
            f"--pick {member}={text}: a length can be stated of {', '.join(LENGTHS)}; anything else is named by the "
            "handle of its line",
            option="--pick",
        )


def _check_member(member: str, option: str) -> None:
    if member in LENGTHS and member not in ALL:
        raise InputError(
            f"{option}: {member!r} is no line; state it in millimetres, as --pick {member}=12mm",
            option=option,
        )
    if member not in ALL:
        raise InputError(
            f"{option}: {member!r} is no member; use one of {', '.join((*MEMBERS, *ROUNDS, *PARTS))}, "
            "frame, wheel or ignore",
            option=option,
        )
