"""Tubes that run into one another where the plan joins them by nothing: worked out on their surfaces in space.

A tube is sampled on its surface, from where it leaves the tubes it is cut to; a point of it that lies inside another
tube, and not inside what that one is cut to, is struck. What lies at a dropout, a crown or a bolt that both share is
left to the fitting there.
"""

import itertools
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array, run_of
from ..findings import Finding
from ..tubes.plan import SHELL, End, TubeRole, without_side
from ..tubes.tube import Tube
from ..words import spoken
from .bicycle import Bicycle
from .centre_lines import point_at
from .layout import FrameLayout, Member, lay_out

STEP = 4.0  # mm between rings of points along a tube
ROUND = 24  # points on a ring
LEAST = 0.5  # mm; what strikes less deep is filed off without a word
OF_A_FITTING = 60.0  # mm about a shared dropout, crown or bolt: tubes are cut short there (common practice, no source)
OF_A_MITRE = 2.5  # diameters of the struck tube about a mitred end within which the template is cut to it too


@dataclass(frozen=True)
class Struck:
    """`member` runs `depth` mm into `other`. along : mm from the member's start to the deepest place; end : the end
    of `member` that is to be cut to `other` as well, None where they strike between their ends; fitting : the joint
    that both run to beside one another, such as a dropout, '' where there is none."""

    member: str
    other: str
    depth: float
    along: float
    end: End | None
    fitting: str = ""


@dataclass(frozen=True, eq=False)
class _Solid:
    """One tube in space, with what its ends are cut to."""

    member: Member
    role: TubeRole
    tube: Tube

    @cached_property
    def path(self) -> Array:
        return np.array(self.member.path)

    @cached_property
    def run(self) -> Array:
        return run_of(self.path)

    @property
    def length(self) -> float:
        return float(self.run[-1])

    @cached_property
    def widest(self) -> float:
        return max(self.tube.od_start, self.tube.od_end, self.tube.oval_width or 0.0) / 2

    @cached_property
    def rings(self) -> Array:
        """Distances from the start at which its surface is looked at, mm."""
        return np.linspace(0.0, self.length, 2 + int(self.length / STEP))

    @cached_property
    def surface(self) -> Array:
        """(rings, ROUND, 3) points on its outside; an oval as round as it is high."""
        middle = point_at(self.path, self.run, self.rings)
        along = np.gradient(middle, axis=0)
        along /= np.linalg.norm(along, axis=1)[:, None]
        # Any direction that the tube nowhere runs along will do.
        least = np.eye(3)[np.abs(along).max(axis=0).argmin()]
        one = np.cross(along, least)
        one /= np.linalg.norm(one, axis=1)[:, None]
        two = np.cross(along, one)
        turn = np.linspace(0.0, 2 * np.pi, ROUND, endpoint=False)[:, None]
        across = np.cos(turn) * one[:, None] + np.sin(turn) * two[:, None]
        half = self.tube.heights(self.length, self.rings) / 2
        return np.asarray(middle[:, None] + half[:, None, None] * across)

    def near(self, other: "_Solid") -> tuple[Array, Array]:
        """(distance from the start, point) of those points of its surface that lie in the other's box."""
        low = other.path.min(axis=0) - other.widest
        high = other.path.max(axis=0) + other.widest
        within = ((self.surface > low) & (self.surface < high)).all(axis=-1)
        rings = np.broadcast_to(self.rings[:, None], within.shape)
        return rings[within], self.surface[within]

    def depth(self, points: Array) -> Array:
        """How deep points (..., 3) lie in the tube, mm; below zero outside."""
        deepest = np.full(points.shape[:-1], -np.inf)
        for k, start in enumerate(self.path[:-1]):
            piece = self.path[k + 1] - start
            length = float(np.linalg.norm(piece))
            along = (points - start) @ piece / length
            off = np.linalg.norm(points - start - along[..., None] * (piece / length), axis=-1)
            places = np.clip(self.run[k] + along, 0.0, self.length)
            half = self.tube.heights(self.length, places.ravel()).reshape(places.shape) / 2
            deep = np.where((along > 0) & (along < length), half - off, -np.inf)
            deepest = np.maximum(deepest, deep)
        return deepest


def struck(bicycle: Bicycle, layout: FrameLayout | None = None) -> tuple[Struck, ...]:
    """Every pair of tubes of the bicycle that run into one another and are not cut to one another, once each.

    Of two that meet at a mitred end, the one that stands later in the plan is `member`: it is fitted second.
    """
    scene = _Scene.of(bicycle, layout or lay_out(bicycle))
    pairs = itertools.combinations(scene.solids, 2)
    found = (
        _struck(scene, later, earlier) for earlier, later in pairs if _may_meet(later, earlier)
    )
    return tuple(one for one in found if one is not None)


def strikes(bicycle: Bicycle, layout: FrameLayout, member: str, tube: str) -> bool:
    """Whether a member runs into a tube outside what both are cut to, whatever the plan says of the two."""
    scene = _Scene.of(bicycle, layout)
    one = next(solid for solid in scene.solids if solid.member.name == member)
    for other in scene.solids:
        if other.role.name != tube:
            continue
        _, points = one.near(other)
        if not len(points):
            continue
        away = scene.cut_away(points, one, other, besides={one.role.name, tube})
        if np.where(away, -np.inf, other.depth(points)).max() > LEAST:
            return True
    return False


def overlap_findings(bicycle: Bicycle) -> tuple[Finding, ...]:
    """Tubes that run through one another where no mitre parts them; of what both sides have, the first is told."""
    told: dict[frozenset[str], Struck] = {}
    for one in struck(bicycle):
        if one.end is None:
            told.setdefault(frozenset(map(without_side, (one.member, one.other))), one)
    return tuple(map(_finding, told.values()))


def _finding(one: Struck) -> Finding:
    tube = without_side(one.member)
    if tube == without_side(one.other):
        words = (
            f"the right and the left {spoken(tube)} run {one.depth:.1f} mm into one another, {one.along:.0f} mm from "
            "their start; set them apart there, such as 'seat tube 0.6 apart 30', or bend them out"
        )
        return Finding("tubes-overlap", "warning", words, tube)
    if one.fitting:
        words = (
            f"the {spoken(one.member)} and the {spoken(one.other)}, which run to the same {spoken(one.fitting)}, lie "
            f"{one.depth:.1f} mm within one another {OF_A_FITTING:g} mm before it; shorten one of them, or let the "
            "plate or lug hold them apart"
        )
        return Finding("tubes-overlap", "info", words, one.member)
    words = (
        f"the {spoken(one.member)} runs {one.depth:.1f} mm into the {spoken(one.other)}, {one.along:.0f} mm from its "
        "own start, and nothing joins the two there, in the model as little as on a template; set them farther apart, "
        "or end one on the other"
    )
    return Finding("tubes-overlap", "warning", words, one.member)


@dataclass(frozen=True, eq=False)
class _Scene:
    """Every tube that could strike another, and the shells: (centre, radius, half the width) each."""

    layout: FrameLayout
    solids: tuple[_Solid, ...]
    shells: tuple[tuple[Array, float, float], ...]

    @classmethod
    def of(cls, bicycle: Bicycle, layout: FrameLayout) -> "_Scene":
        roles = {role.name: role for role in bicycle.roles}
        # The steerer turns inside another tube; what stands on it is held by a clamp.
        solids = [
            _Solid(member, roles[member.tube], bicycle.tubes[member.tube])
            for member in layout.members
            if member.tube in bicycle.tubes and not roles[member.tube].inside
        ]
        radius = bicycle.part("bb_shell").od / 2
        half = bicycle.fittings.bb_shell_width / 2
        brackets = ["bottom_bracket", *(rider.bracket for rider in bicycle.plan.riders)]
        shells = [(np.array(layout.joints[name]), radius, half) for name in dict.fromkeys(brackets)]
        return cls(layout, tuple(solids), tuple(shells))

    def cut_away(
        self, points: Array, one: _Solid, other: _Solid, besides: Collection[str] = ()
    ) -> Array:
        """Whether points lie inside what either tube is cut to. besides : tubes that do not count."""
        hosts = {
            name for solid in (one, other) for met in solid.role.mitred.values() for name in met
        }
        inside = np.zeros(len(points), dtype=bool)
        for host in self.solids:
            if host.role.name in hosts and host.role.name not in besides:
                inside |= host.depth(points) > 0
        if SHELL in hosts:
            for centre, radius, half in self.shells:
                off = points - centre
                inside |= (np.hypot(off[:, 0], off[:, 1]) < radius) & (np.abs(off[:, 2]) < half)
        return inside

    def shared(self, one: _Solid, other: _Solid) -> Iterator[str]:
        """Joints at which an end that is not mitred meets the other tube, or an end of it."""
        for solid, partner in ((one, other), (other, one)):
            ends = ((0, "start", solid.member.start), (1, "end", solid.member.end))
            for end, name, joint in ends:
                if name in solid.role.mitred:
                    continue
                # A pair beside an axis is carried by the joint on the axis.
                place = np.array(self.layout.joints[solid.role.tied_to(end) or joint])
                if partner.member.distance_from(place) < OF_A_FITTING / 2:
                    yield joint


def _may_meet(one: _Solid, other: _Solid) -> bool:
    """Whether two tubes may strike without being joined, as far as their roles tell."""
    cut_to = {name for met in one.role.mitred.values() for name in met}
    cuts = {name for met in other.role.mitred.values() for name in met}
    if other.role.name in cut_to or one.role.name in cuts:
        return False
    regions = {one.role.region, other.role.region}
    # Rods of a rack are told by themselves; a crown stands between fork and head tube.
    return regions != {"rack"} and not (
        "fork" in regions and "head_tube" in (one.role.name, other.role.name)
    )


def _struck(scene: "_Scene", later: _Solid, earlier: _Solid) -> Struck | None:
    rings, points = later.near(earlier)
    if not len(points):
        return None
    depth = earlier.depth(points)
    # Most pairs end here, before anything is looked up.
    if depth.max() <= LEAST:
        return None
    depth = np.where(scene.cut_away(points, later, earlier), -np.inf, depth)
    fitting = ""
    for joint in scene.shared(later, earlier):
        place = np.array(scene.layout.joints[joint])
        depth = np.where(np.linalg.norm(points - place, axis=-1) < OF_A_FITTING, -np.inf, depth)
        fitting = joint
    if depth.max() <= LEAST:
        return None
    along = float(rings[depth.argmax()])
    return Struck(
        later.member.name,
        earlier.member.name,
        float(depth.max()),
        along,
        _end(later, earlier, along),
        fitting,
    )


def _end(later: _Solid, earlier: _Solid, along: float) -> End | None:
    """The mitred end of the later tube at which it strikes the earlier one."""
    # Right and left are alike: neither is fitted second.
    if later.role is earlier.role:
        return None
    near = OF_A_MITRE * 2 * earlier.widest
    if "start" in later.role.mitred and along < near:
        return "start"
    if "end" in later.role.mitred and later.length - along < near:
        return "end"
    return None
