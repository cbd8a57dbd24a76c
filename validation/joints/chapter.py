"""The chapter of VALIDATION.md on the joint study: read from what `results` and `study` kept, beams beside it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from itertools import groupby
from math import degrees
from typing import Any

import numpy as np

from ...converters.showing.markdown import plain_table
from ...model.words import signed
from .beside_shells import changes, invented_beside, published_beside
from .crown_study import FILE as CROWN_FILE
from .published_joints import AS_SOLID, PUBLISHED, stiffness_by_law, walls_off
from .rear_joints import rear_beside
from .results import RESULTS
from .study import FAMILIES, FILE, read_data_file
from .whole_fork import HELD_ABOVE, forks_beside
from .whole_frame import HEAD_CHANGED, SEAT_CHANGED, TOURER, opinion_limits, whole_beside

_HEAD = """\
How much thin tubes give where they meet, worked out in shells by `make joint-study` and kept; a test works a part of
it out anew. The shells are flat triangles of our own (membrane with drilling rotations after Felippa 2003, plate after
Batoz, Bathe and Ho 1980, both from memory), two meshes and their limit. The beams
taken off a joint are those of the facets, so that only the joint is left.

![Mesh of the front triangle](joints/data/front_triangle.png)
![Mesh of one joint, and how it moves under a moment out of plane](joints/data/single_joint.png)
"""
_OBSTACLES = """
### The shells on a tube and on the usual obstacle cases

Cantilever tube 28.6 x 0.8 x 150 over closed forms; obstacle cases over their published values (MacNeal and Harder 1985,
Belytschko et al. 1985, sizes and values from memory), by divisions of a side.
"""
_SECOND = """
### The same mesh by OpenSees

28.6 x 0.8 on 36 x 1.1: movements of the branch's end by OpenSees' ShellDKGT over ours, on the same triangles.
"""
_PUBLISHED = """
### Published single joints

Stiffness beyond centre-line beams, N m per degree in steel, chord ends held, branch 150 mm; computed for this project
with a general six-node shell whose own mesh change was 1.8 %. Allowed 5 %. The table printed names no angles: those of
its front triangle are used (top tube 78.3, down tube 59.4 degrees, shell 90). Only the thick shell is not met to 5 %;
finer meshes (1.7 and 1.2 mm: 3486) do not change that.
"""
_SOLID = """
Why thick walls part the codes: two things weigh as much as the joint does there. Shear across the wall makes it softer;
of OpenSees' triangles on one pair of meshes the one without it (ShellDKGT) gives 3402 on 40 x 3, the one with it
(ASDShellT3) 3090. And a branch ends on the OUTSIDE of its chord, while shells carry it on to the mid-surface: half a
wall more of a branch that bends, 1.5 mm on 40 x 3 or 12 % of what that joint gives, which makes shells too soft. The
published ones hold the shear, ours do not, and what shear takes from ours that half wall gives back. Ends held, loads
and beams taken off are alike in all of them. By six-node shells and by ten-node solids of a general solver
(CalculiX), limits of two meshes, worked out once and not by `make joint-study`:
"""
_BY_LAW = """
The same joints by the law of `model/joints`, which was made from none of them. A stiffness beyond beams is the inverse
of a difference, walls less the beam inside the chord, so that where walls give little more than that beam a few
percent of the law's compliance become many of this one; the last column is how far the law is off in what the walls
themselves give, the larger of both directions.
"""
_OFFSHORE = """
### An offshore formula

Fessler, Mockford and Webster (1986), T joints, turn of the foot times E D^3 (outside diameter). The formula for
bending in plane was read in OpenSees' source, the one for bending out of plane is from memory. Fitted to other chords:
it shows size and trend, and is no check to a few percent.
"""
_FAR_END = """
### Where the chord is held

Turn times E D^3 about the chord and across both tubes, branch 0.85 D at 80 degrees, near end 1.1 D away, as the held
far end moves out. The law holds the distance to that end too, which on a head tube is not far.
"""
_TRIANGLE = """
### The front triangle in shells

{count} published movements (three geometries, head tube ends round or free, two supports) by the study's code: largest
difference {worst:.2f} %, {within} of {count} within 0.5 %; the others stand beside coarse published meshes.
What it is worth to choose by: change of stiffness in percent,
"""

_BESIDE = """
### The front triangle as beams, with rigid joints and with joints that give

The published geometries, triangles of invented sizes and triangles drawn at random (seeded, sizes of the trade), in our
shells: by how much the beams' movements (32 each, two supports, head tube ends round) are off, percent, least and most.
Bare joints by the law of `model/joints`, branches from the chord's wall on. Wanted: 5 % and, below, 1.5 points.
"""
_OFF = """
What another tube brings of each stiffness that one chooses by (sideways at both ends of the head tube, twist, couple,
down; two supports): largest miss in points, and where it lies.
"""
_WHOLE = """
### Whole frames in shells: main triangle, rear triangle and fork

Two samples (their sheets of then are kept beside the results), frame and fork's blades in shells: main triangle, bottom
bracket shell, stays as cones, butts as they are; two meshes of {coarse} and {fine} points and their limit. Hubs,
dropouts, solid crown, steerer and seat post stay beams, and loads and supports are those of the product's own load
cases. What differs from the samples: dropouts stated as plates of 30 x 6 x 40 mm, so that stays end before they meet;
no bridges; seatstays 42 mm below the top tube, clear of its weld, welded to the side of the seat tube; loads on the
bottom bracket half on each end of its shell; one steel, Poisson's ratio 0.3. By how much the beams are off, percent,
joints rigid and bare by the law:

![Mesh of the tourer's frame](joints/data/whole_frame.png)
"""
_WHOLE_CHANGES = """
What another tube brings of each stiffness of the whole tourer, percent:
"""
_WHOLE_OPINION = """
The tourer's frame by OpenSees' ShellDKGT on the same triangles, ends of the bottom bracket shell clamped: movements
under unit loads there over ours, and the limits of both over one another. Two triangles with different membranes part
on the stays, where few of them make a ring, and meet in the limit.
"""
_REAR = """
### The rear triangle's joints, which stay rigid

The seat tube with the pair of stays on its sides, and the bottom bracket shell with all that stands on it, each cut out
of the whole frame: what their branches move beyond beams in shells, put between tubes and axes in the beams of that
frame, so that no law stands between. Beams off the whole frame in shells, percent, bare joints by the law and of the
rear triangle: nothing, the stays', the bracket's, both.
"""
_REAR_AFTER = """
Measured, the two offset each other: the stays' joints let the rear axle go {stays:.0f} % farther sideways, the bracket,
whose beams run on to the axis of a thick shell, {bracket:.0f} % less. One of both alone makes a frame worse, both
together no better than neither. So the stays stay rigid and the beams run on to the shell's axis.
"""
_FORKS = """
### Whole forks in shells: crown tube, steerer and blades

Invented forks of the sizes of the trade, none of them among the crowns that the law was made from: a crown tube with
lids, the steerer through it and held {above:g} mm above the crown race, straight tapered blades, forces on both lower
ends. Beams as the product places them: rigid, with crown and blades' tops at the race; giving, with the law's joints,
the crown hanging below the race. Movement under 1 N on each blade, mm; beams off, percent.
"""
_FILES = """
### The data files

Each joint is a place of a seeded design; ranges, units and sizes of the mesh stand in the head of each file.
"""


def chapter() -> str:
    """Markdown from the second-level heading on."""
    kept = json.loads(RESULTS.read_text(encoding="utf-8"))
    parts = [
        "\n## Joints in shells\n",
        _HEAD,
        _OBSTACLES,
        _tubes(kept["tube"]),
        "",
        _obstacles(kept["obstacles"]),
        _SECOND,
        _opinions(kept["second_opinion"]),
        _PUBLISHED,
        _published(kept["published"]),
        _SOLID,
        _as_solid(kept["published"]),
        _BY_LAW,
        _by_law(),
        _OFFSHORE,
        _offshore(kept["offshore"]),
        _FAR_END,
        _far_ends(kept["far_end"]),
        _triangle_words(kept["front_triangle"]),
        _changes(kept["front_triangle"]),
        "\nand the movements themselves, base geometry, head tube ends round, shell ends held:\n",
        _movements(kept["front_triangle"]),
        _BESIDE,
        _triangles_beside(kept["invented"] + kept["drawn"]),
        _OFF,
        _changes_beside(kept["invented"] + kept["drawn"]),
        _whole_words(kept["whole_frame"]),
        _whole_frames(kept["whole_frame"]),
        _WHOLE_CHANGES,
        _whole_changes(kept["whole_frame"]),
        _WHOLE_OPINION,
        _whole_opinion(kept["whole_frame_opinion"]),
        _REAR,
        _rear(kept["rear_joints"], kept["whole_frame"]),
        _FORKS.format(above=HELD_ABOVE),
        _forks(kept["whole_fork"]),
        _FILES,
        _data_files(),
    ]
    return "\n".join(parts)


def _tubes(rows: list[dict[str, Any]]) -> str:
    names = ("stretch", "twist", "bend", "turn")
    lines = []
    for row in rows:
        ratios = [f"{row[name]:.4f}" for name in names]
        lines.append([str(row["around"]), *ratios])
    return plain_table(("points around", *names), lines)


def _obstacles(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in rows:
        ratios = [f"{ratio:.3f}" for ratio in row["ratios"]]
        lines.append([row["name"], f"{row['published']:.5g}", *ratios])
    return plain_table(("case", "published", "8", "16", "32"), lines)


def _opinions(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in rows:
        ratios = [f"{ratio:.4f}" for ratio in row["ratios"]]
        lines.append([str(row["points"]), *ratios])
    return plain_table(("points", "u1", "u2", "u3", "r1", "r2", "r3"), lines)


def _published(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in rows:
        line = [_size(row["branch"]), _size(row["chord"]), row["place"]]
        for published, ours in zip(row["published"], row["ours"], strict=True):
            line += [_stiffness(published), _stiffness(ours), _percent(published, ours)]
        lines.append(line)
    heads = ("in plane, published", "ours", "%", "out of plane, published", "ours", "%")
    return plain_table(("branch", "chord", "place", *heads), lines)


def _as_solid(kept: list[dict[str, Any]]) -> str:
    lines = []
    for one in AS_SOLID:
        case = PUBLISHED[one.number]
        told = (case.in_plane, case.out_of_plane)
        ours = kept[one.number]["ours"]
        for k, plane in enumerate(("in plane", "out of plane")):
            if told[k] is not None:
                codes = (told[k], one.shells[k], ours[k], one.solid[k])
                line = [_size(case.branch), _size(case.chord), plane, *map(_stiffness, codes)]
                lines.append(line)
    heads = ("published", "its kind of shells, limit", "ours", "solids")
    return plain_table(("branch", "chord", "direction", *heads), lines)


def _by_law() -> str:
    lines = []
    for case in PUBLISHED:
        line = [_size(case.branch), _size(case.chord), case.place]
        by_law = stiffness_by_law(case)
        for published, ours in zip((case.in_plane, case.out_of_plane), by_law, strict=True):
            line += [_stiffness(published), _stiffness(ours), _percent(published, ours)]
        line.append(signed(100.0 * walls_off(case), 1))
        lines.append(line)
    heads = ("in plane, published", "law", "%", "out of plane, published", "law", "%", "walls, %")
    return plain_table(("branch", "chord", "place", *heads), lines)


def _forks(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in forks_beside(rows):
        meshes = [f"{row[key]:.4g}" for key in ("fine", "limit")]
        off = [signed(row[key], 1) for key in ("rigid", "giving")]
        lines.append([row["fork"], row["load"], *meshes, *off])
    heads = ("shells, finer mesh", "limit", "rigid", "giving")
    return plain_table(("fork", "load", *heads), lines)


def _size(tube: Sequence[float]) -> str:
    return f"{tube[0]:g} x {tube[1]:g}"


def _stiffness(value: float | None) -> str:
    # Below 0 the joint is stiffer than beams that meet at their centre-lines: no N m/degree.
    if value is None or value < 0.0:
        return "stiffer"
    return f"{value:.0f}"


def _percent(published: float | None, ours: float) -> str:
    if published is None:
        return ""
    return signed(100.0 * (ours / published - 1.0), 1)


def _offshore(rows: list[dict[str, Any]]) -> str:
    lines = []
    for row in rows:
        line = [f"{row['branch_over_chord']:g}", f"{row['chord_over_wall']:g}"]
        for formula, ours in zip(row["formula"], row["ours"], strict=True):
            line += [f"{formula:.0f}", f"{ours:.0f}", signed(100.0 * (ours / formula - 1.0), 0)]
        lines.append(line)
    heads = ("in plane, formula", "shells", "%", "out of plane, formula", "shells", "%")
    return plain_table(("d/D", "D/T", *heads), lines)


def _far_ends(rows: list[dict[str, Any]]) -> str:
    ends = {True: "round", False: "free"}
    return plain_table(
        ("D/T", "near end", "far end, D", "about the chord", "across"),
        [
            [
                f"{row['chord_over_wall']:g}",
                ends[row["ring"]],
                f"{row['far_end']:g}",
                f"{row['along']:.0f}",
                f"{row['across']:.0f}",
            ]
            for row in rows
        ],
    )


def _triangle_words(rows: list[dict[str, Any]]) -> str:
    off = [100.0 * abs(row["limit"] / row["shell"] - 1.0) for row in rows]
    within = sum(value <= 0.5 for value in off)
    return _TRIANGLE.format(count=len(rows), worst=max(off), within=within)


def _changes(rows: list[dict[str, Any]]) -> str:
    values = {
        (row["geometry"], row["support"], row["quantity"]): row
        for row in rows
        if row["head_rings"] == "rigid"
    }
    words = {"Fz_top__uz_top_mm": "sideways", "Mx__rx_mean_rad": "twist of the head"}
    lines = []
    for geometry in ("HT wall 1.6", "ST 34.9x0.9"):
        for support in ("A", "B"):
            for quantity, word in words.items():
                before = values["base", support, quantity]
                after = values[geometry, support, quantity]
                gains = [
                    # Stiffness is the inverse of a movement: the one before over the one after.
                    signed(100.0 * (before[kind] / after[kind] - 1.0), 1)
                    for kind in ("shell", "limit", "beam")
                ]
                lines.append([geometry, support, word, *gains])
    heads = ("change to", "support", "stiffness", "published shells", "ours", "rigid beams")
    return plain_table(heads, lines)


def _movements(rows: list[dict[str, Any]]) -> str:
    wanted = [
        row
        for row in rows
        if (row["geometry"], row["head_rings"], row["support"]) == ("base", "rigid", "A")
    ]
    return plain_table(
        ("movement", "published", "ours, finer mesh", "ours, limit", "%"),
        [
            [
                f"`{row['quantity']}`",
                f"{row['shell']:.5g}",
                f"{row['fine']:.5g}",
                f"{row['limit']:.5g}",
                signed(100.0 * (row["limit"] / row["shell"] - 1.0), 2),
            ]
            for row in wanted
        ],
    )


def _triangles_beside(kept: list[dict[str, Any]]) -> str:
    lines = []
    for one in (*published_beside(), *invented_beside(kept)):
        line = [one.name]
        for giving in (False, True):
            off = one.errors(giving)
            line += [signed(min(off), 1), signed(max(off), 1)]
        lines.append(line)
    heads = ("rigid: least", "most", "giving: least", "most")
    return plain_table(("triangle", *heads), lines)


def _changes_beside(kept: list[dict[str, Any]]) -> str:
    lines = []
    # Changes come pair by pair, so that neighbours of one name belong together.
    by_pair = groupby(changes(invented_beside(kept)), key=lambda change: change.name)
    for name, group in by_pair:
        told = list(group)
        worst_rigid = max(told, key=lambda change: abs(change.rigid - change.shells))
        worst_giving = max(told, key=lambda change: abs(change.giving - change.shells))
        lines.append(
            [
                name,
                f"{signed(worst_rigid.rigid, 1)} for {signed(worst_rigid.shells, 1)}",
                f"{signed(worst_giving.giving, 1)} for {signed(worst_giving.shells, 1)}",
            ]
        )
    return plain_table(("changed to", "rigid, at worst", "giving, at worst"), lines)


def _whole_words(rows: list[dict[str, Any]]) -> str:
    coarse, fine = rows[0]["points"]
    return _WHOLE.format(coarse=coarse, fine=fine)


def _whole_frames(rows: list[dict[str, Any]]) -> str:
    lines = []
    for one in whole_beside(rows):
        for figure, shells in one.shells.items():
            off = [100.0 * (beams[figure] / shells.limit - 1.0) for beams in one.beams]
            meshes = [f"{_shown(figure, value):.4g}" for value in (shells.fine, shells.limit)]
            lines.append([one.name, figure, *meshes, *(signed(value, 1) for value in off)])
    heads = ("shells, finer mesh", "limit", "rigid", "giving")
    return plain_table(("frame", "figure, mm or degrees", *heads), lines)


def _shown(figure: str, value: float) -> float:
    """A turn in degrees, a movement in mm."""
    if figure.endswith("twist"):
        return degrees(value)
    return value


def _whole_changes(rows: list[dict[str, Any]]) -> str:
    found = {one.name: one for one in whole_beside(rows)}
    before = found[TOURER]
    lines = []
    for name in (HEAD_CHANGED, SEAT_CHANGED):
        after = found[name]
        for figure in before.shells:
            gains = [
                # Stiffness is the inverse of a movement: the one before over the one after.
                signed(100.0 * (first[figure] / second[figure] - 1.0), 1)
                for first, second in zip(before.all, after.all, strict=True)
            ]
            lines.append([name, figure, *gains])
    return plain_table(("frame", "stiffness", "shells", "beams, rigid", "giving"), lines)


def _whole_opinion(rows: Sequence[dict[str, Any]]) -> str:
    ratios = {str(row["points"]): np.divide(row["theirs"], row["ours"]) for row in rows}
    ratios["limit"] = opinion_limits(rows)
    lines = []
    for points, ratio in ratios.items():
        for place, six in (("head tube top", ratio[:6]), ("right chainstay's end", ratio[6:])):
            lines.append([points, place, *(f"{one:.4f}" for one in six)])
    return plain_table(("points", "at", "u1", "u2", "u3", "r1", "r2", "r3"), lines)


def _rear(nodes: list[dict[str, Any]], rows: list[dict[str, Any]]) -> str:
    shells: dict[str, dict[str, float]] = {}
    for row in rows:
        shells.setdefault(row["frame"], {})[row["figure"]] = row["limit"]
    lines = []
    moved = []
    for one in rear_beside(nodes, shells):
        for figure, off in one.off.items():
            lines.append([one.name, figure, *(signed(value, 1) for value in off)])
        lines.append([one.name, "largest", *(f"{value:.1f}" for value in one.worst)])
        none, stays, bracket, _ = one.off["rear_sideways.rear_sideways"]
        moved.append((stays - none, none - bracket))
    table = plain_table(("frame", "figure", "nothing", "stays", "bracket", "both"), lines)
    stays, bracket = np.mean(moved, axis=0)
    return table + "\n" + _REAR_AFTER.format(stays=stays, bracket=bracket)


def _data_files() -> str:
    rows = read_data_file(FILE)
    found = Counter(row["family"] for row in rows)
    counts = {family: found[family] for family in FAMILIES}
    # A family without joints in the file is not named.
    said = ", ".join(f"{count} {family}" for family, count in counts.items() if count)
    crowns = len(read_data_file(CROWN_FILE))
    return (
        f"- `model/joints/{FILE.name}`: {len(rows)} joints ({said})\n"
        f"- `model/joints/{CROWN_FILE.name}`: {crowns} crowns"
    )
