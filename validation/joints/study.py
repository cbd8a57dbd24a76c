"""The sweep: many joints in shells, every result kept, written to model/joints. `make joint-study`

Everything is over the chord: lengths over its mid-surface diameter D, E = 1. A joint of diameter D in a material of
modulus E has the compliances

    turn under moment  c / (E D^3),   turn under force, or the reverse  c / (E D^2),   movement under force  c / (E D)

exactly, as the bodies are similar and linear; Poisson's ratio is 0.3.

Each joint is solved on two meshes and extrapolated: flat triangles err by the square of their size, so by the inverse
of the number of points. Finished joints stand in a file beside the checkout; a second run goes on where it stopped.
"""

from __future__ import annotations

import argparse
import csv
import json
import multiprocessing
import os
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from math import sqrt
from pathlib import Path
from typing import Any

import numpy as np

from ...model.arrays import Array
from .designs import DESIGNS, Design, Place
from .meshing import mesh_pipes, mesher_version
from .single import SingleJoint, compliance_on, inside_flexibility

ROOT = Path(__file__).parents[2]
DATA = ROOT / "model" / "joints"
KEPT = ROOT / ".joint-study" / "joints.jsonl"
FAR_END = 4.0  # chord beyond the joint's foot, over D; its effect stands in VALIDATION.md
BRANCH_LENGTH = 4.0  # over its own diameter
NEAR_SIZES = (0.13, 0.09)  # of the triangles along the weld, over the root of both diameters
COARSENING = 1.5  # away from the weld


# The plane of both axes is one of symmetry: u1, u2, r3 do not mix with u3, r1, r2.
IN_PLANE = (0, 1, 5)
OUT_OF_PLANE = (2, 3, 4)
_NAMES = ("u1", "u2", "u3", "r1", "r2", "r3")


@dataclass(frozen=True)
class Sample:
    """One joint of a design: place in it, family, and whether the near end is held round."""

    design: str
    number: int
    family: str
    ring: bool
    place: Place

    @property
    def key(self) -> str:
        end = "ring" if self.ring else "open"
        return f"{self.design}-{self.family}-{end}-{self.number}"

    @property
    def joint(self) -> SingleJoint:
        """The joint over its chord's diameter."""
        branch = self.place["branch_over_chord"]
        wall = 1.0 / self.place["chord_over_wall"]
        # Without ends at first: where the foot lies depends on the tubes and the angle alone.
        bare = SingleJoint(
            branch,
            self.place["wall_ratio"] * wall,
            1.0,
            wall,
            self.place["angle_deg"],
            to_end=0.0,
            to_far_end=0.0,
            branch_length=0.0,
            ring=self.ring,
        )
        low, high = bare.foot
        placed = replace(
            bare,
            to_end=high + self.place["past_foot"],
            to_far_end=-low + FAR_END,
            # Half a D more, as the branch comes out of the chord's wall and not of its axis.
            branch_length=BRANCH_LENGTH * branch + 0.5,
        )
        return self._made(placed)

    def _made(self, joint: SingleJoint) -> SingleJoint:
        if self.family == "hole":
            return replace(joint, hole=True)
        if self.family == "inserted":
            return replace(joint, inserted=True)
        if self.family == "fillet":
            return replace(joint, fillet_radius=self.place["fillet_radius"])
        if self.family == "lug":
            sleeve_wall = self.place["sleeve_wall"] * joint.chord_wall
            return replace(
                joint, sleeve_length=self.place["sleeve_length"], sleeve_wall=sleeve_wall
            )
        return joint


def samples(design: Design, counts: dict[str, int]) -> Iterator[Sample]:
    """All joints of a design, family by family; the k-th of a family differs from the k-th bare one in that alone."""
    # As many places as the largest family has: the first ones stay when more are asked for.
    places = design.places(max(counts.values()))
    for family, count in counts.items():
        for number in range(count):
            for ring in (True, False):
                yield Sample(design.name, number, family, ring, places[number])


def solve_sample(sample: Sample) -> dict[str, Any]:
    """Extrapolated compliance of one joint with what the mesh leaves open."""
    joint = sample.joint
    scale = sqrt(joint.branch_diameter * joint.chord_diameter)
    matrices = []
    points = []
    for size in NEAR_SIZES:
        tubes = mesh_pipes(joint.pipes(), size * scale, COARSENING * size * scale)
        matrices.append(compliance_on(joint, tubes))
        points.append(len(tubes.mesh.points))
    matrix = extrapolated(matrices, points)
    return {
        "key": sample.key,
        "sample": asdict(sample),
        "matrix": matrix.tolist(),
        "fine": matrices[-1].tolist(),
        "points": points,
    }


def extrapolated(matrices: Sequence[Array], points: Sequence[int]) -> Array:
    """Richardson's limit of two meshes whose error goes with the inverse of the number of points."""
    coarse, fine = matrices
    step = (fine - coarse) * points[0] / (points[1] - points[0])
    # Made symmetric, as Maxwell's reciprocity holds but for rounding.
    return 0.5 * (fine + step + (fine + step).T)


def run(wanted: Sequence[Sample], processes: int, kept: Path) -> None:
    """Solve what is not kept yet, one line of JSON a joint."""
    kept.parent.mkdir(exist_ok=True)
    # Refused joints count as done, so that a second run does not try them again.
    done = {record["key"] for record in read_kept(kept)}
    missing = [sample for sample in wanted if sample.key not in done]
    with multiprocessing.Pool(processes) as pool, kept.open("a") as out:
        for count, record in enumerate(pool.imap_unordered(solve_or_say, missing), start=1):
            out.write(json.dumps(record) + "\n")
            # Written at once: a run that is stopped loses only the joints in work.
            out.flush()
            print(f"{count} of {len(missing)}: {record['key']}", flush=True)


def solve_or_say(sample: Sample) -> dict[str, Any]:
    """A joint that the mesher or the solver refuses is named, and left out of the data."""
    try:
        return solve_sample(sample)
    # The mesher raises bare Exceptions, and one joint that fails must not end the run.
    except Exception as reason:
        return {"key": sample.key, "refused": f"{type(reason).__name__}: {reason}"}


def read_kept(kept: Path) -> list[dict[str, Any]]:
    if not kept.exists():
        return []
    with kept.open() as lines:
        return [json.loads(line) for line in lines]


def block_columns() -> list[tuple[str, int, int]]:
    """Name and place of the twelve compliances that symmetry about the plane of both axes leaves."""
    columns = []
    for block in (IN_PLANE, OUT_OF_PLANE):
        for place, i in enumerate(block):
            for j in block[place:]:
                columns.append((f"c_{_NAMES[i]}{_NAMES[j]}", i, j))
    return columns


def write_data_file(kept: Path, design: Design) -> int:
    """The design's file, with whatever else goes there, from what is kept; returns the number of joints."""
    solved = [record for record in read_kept(kept) if "matrix" in record]
    there = [record for record in solved if _design(record).file == design.file]
    counts = Counter(record["sample"]["family"] for record in there)
    records = [record for record in there if counts[record["sample"]["family"]] >= design.fewest]
    path = DATA / design.file
    # The pool finishes in any order; sorted, the file changes only where its joints do.
    records.sort(key=lambda record: _place(record["sample"]))
    rows = [_row(record) for record in records]
    if not rows:
        return 0  # too few for any family: the file stays as it was
    with path.open("w", newline="") as out:
        for line in _head(design, len(records)):
            out.write(f"# {line}\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(rows[0])
        writer.writerows(row.values() for row in rows)
    return len(records)


def read_data_file(path: Path) -> list[dict[str, Any]]:
    """Rows of a data file: the family's name, everything else as numbers."""
    with path.open(encoding="utf-8", newline="") as lines:
        # The csv module knows no comments: the head's lines are dropped before it sees them.
        rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    return [_numbers(row) for row in rows]


def _numbers(row: dict[str, str]) -> dict[str, Any]:
    return {name: text if name == "family" else float(text) for name, text in row.items()}


FAMILIES = ("bare", "fillet", "lug", "inserted", "hole")


def _design(record: dict[str, Any]) -> Design:
    return DESIGNS[record["sample"]["design"]]


def _place(sample: dict[str, Any]) -> tuple[int, int, int, bool]:
    first = DESIGNS[sample["design"]].first
    return FAMILIES.index(sample["family"]), first, sample["number"], not sample["ring"]


def _head(design: Design, count: int) -> list[str]:
    bounds = [f"{name} {r.low:g} to {r.high:g}" for name, r in design.ranges.items()]
    return [
        f"{count} joints of thin tubes in shells, written by make joint-study; do not edit.",
        "Lengths over the chord's mid-surface diameter D, E = 1, Poisson's ratio 0.3; compliances times E D^3 for",
        "turn under moment (rr), E D^2 for ur, E D for uu. Beyond Timoshenko beams rigid at the centre-lines.",
        "Axes where the centre-lines meet: 1 along the chord to its near end, 2 square to it on the branch's side, 3.",
        "angle_deg between branch and the chord towards its near end; to_end from the axes' meeting to that end.",
        "ring 1: near end held round, 0: free; kinds by fillet_radius, sleeve_length (over D), sleeve_wall (over T).",
        "mesh_in, mesh_out: change of the in-plane and out-of-plane block from the finer mesh to the limit, over what",
        "the walls give (the block with the branch's stretch inside the chord added).",
        f"The {design.name} design: " + "; ".join(bounds) + ".",
        f"Mesher: gmsh {mesher_version()}; triangles along the weld at most {NEAR_SIZES[0]} and {NEAR_SIZES[1]} of"
        f" the root of both diameters, {COARSENING} times that away from it.",
    ]


def _row(record: dict[str, Any]) -> dict[str, Any]:
    sample = Sample(**record["sample"])
    joint = sample.joint
    matrix = np.array(record["matrix"])
    fine = np.array(record["fine"])
    row = {
        "family": sample.family,
        "number": DESIGNS[sample.design].first + sample.number,
        "ring": int(sample.ring),
        "branch_over_chord": f"{joint.branch_diameter:.6g}",
        "chord_over_wall": f"{1.0 / joint.chord_wall:.6g}",
        "wall_ratio": f"{joint.branch_wall / joint.chord_wall:.6g}",
        "angle_deg": f"{joint.angle:.6g}",
        "to_end": f"{joint.to_end:.6g}",
        "fillet_radius": f"{joint.fillet_radius:.6g}",
        "sleeve_length": f"{joint.sleeve_length:.6g}",
        "sleeve_wall": f"{joint.sleeve_wall / joint.chord_wall:.6g}",
    }
    for name, i, j in block_columns():
        row[name] = f"{matrix[i, j]:.6g}"
    # Over what the walls give: a compliance close to 0 would make any change look large.
    walls = matrix + inside_flexibility(joint)
    row["mesh_in"] = f"{_block_change(matrix - fine, walls, IN_PLANE):.2g}"
    row["mesh_out"] = f"{_block_change(matrix - fine, walls, OUT_OF_PLANE):.2g}"
    row["points"] = record["points"][-1]
    return row


def _block_change(change: Array, whole: Array, block: tuple[int, ...]) -> float:
    places = np.ix_(block, block)
    return float(np.linalg.norm(change[places]) / np.linalg.norm(whole[places]))


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line: what to solve and by how many processes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--kept", type=Path, default=KEPT, help="file of finished joints")
    parser.add_argument("--design", choices=sorted(DESIGNS), help="this design alone")
    for family in FAMILIES:
        parser.add_argument(f"--{family}", type=int, help=f"places of {family} joints")
    options = parser.parse_args(arguments)
    given = {family: getattr(options, family) for family in FAMILIES}
    # 0 is an answer too: no joints of that family.
    said = {family: count for family, count in given.items() if count is not None}
    designs = [one for one in DESIGNS.values() if options.design in (None, one.name)]
    for design in designs:
        counts = DEFAULT_COUNTS[design.name] | said
        run(list(samples(design, counts)), options.processes, options.kept)
    for design in {one.file: one for one in designs}.values():
        print(f"{write_data_file(options.kept, design)} joints in {DATA / design.file}")


DEFAULT_COUNTS = {
    "full": {"bare": 8, "fillet": 8, "lug": 8, "inserted": 8, "hole": 2},
    "frame": {"bare": 64, "fillet": 48, "lug": 48, "inserted": 48, "hole": 8},
    "lugged": {"bare": 64, "fillet": 0, "lug": 64, "inserted": 0, "hole": 0},
    "even": {"bare": 32, "fillet": 0, "lug": 0, "inserted": 0, "hole": 0},
    "wide": {"bare": 128, "fillet": 24, "lug": 24, "inserted": 12, "hole": 12},
}

if __name__ == "__main__":
    main()
