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
import signal
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from math import sqrt
from pathlib import Path
from time import monotonic
from typing import Any, Protocol

import numpy as np

from ...model.arrays import Array
from .designs import (
    FILLER_AND_LUG,
    FRAME,
    THICK,
    USUAL,
    Place,
    Ranges,
    even_places,
    frame_places,
    thick_places,
    usual_places,
)
from .meshing import TubeMesh, mesh_pipes, mesher_version
from .single import SingleJoint, compliance_on, inside_flexibility

ROOT = Path(__file__).parents[2]
DATA = ROOT / "model" / "joints"
FILE = DATA / "frame_joints.csv"
FEWEST = 24  # a family with fewer joints is not written: a law fitted to a handful believes itself too much
KEPT = ROOT / ".joint-study" / "joints.jsonl"
SECONDS_EACH = 3.0  # of one core, by the mesher and the solver; for the message alone
BRANCH_LENGTH = (
    2.5  # over its own diameter; 4.0 changes what gives by 1 %, the thinnest branches by 2 %
)
# Of the triangles along the weld and away from it, over the root of both diameters. Coarser ones (0.13 and 0.09, and
# half as large again away from the weld) left 10 to 20 % open where a joint gives little more than its branch's beam.
NEAR_SIZES = (0.09, 0.065)
COARSENING = 1.0


# The plane of both axes is one of symmetry: u1, u2, r3 do not mix with u3, r1, r2.
IN_PLANE = (0, 1, 5)
OUT_OF_PLANE = (2, 3, 4)
_NAMES = ("u1", "u2", "u3", "r1", "r2", "r3")


@dataclass(frozen=True)
class Sample:
    """One joint of the design: place in it, family, and whether the near end is held round."""

    number: int
    family: str
    ring: bool
    place: Place

    @property
    def key(self) -> str:
        end = "ring" if self.ring else "open"
        return f"frame-{self.family}-{end}-{self.number}"

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
            to_far_end=-low + self.place["past_far_foot"],
            # Half a D more, as the branch comes out of the chord's wall and not of its axis.
            branch_length=BRANCH_LENGTH * branch + 0.5,
        )
        return self._made(placed)

    def solve(self) -> dict[str, Any]:
        """Extrapolated compliance of the joint with what the mesh leaves open."""
        joint = self.joint
        matrices = []
        points = []
        for size in NEAR_SIZES:
            tubes = _tubes(joint.plain, size)
            matrices.append(compliance_on(joint, tubes))
            points.append(len(tubes.mesh.points))
        matrix = extrapolated(matrices, points)
        return {
            "key": self.key,
            "sample": asdict(self),
            "matrix": matrix.tolist(),
            "fine": matrices[-1].tolist(),
            "points": points,
        }

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


def samples(counts: dict[str, int]) -> Iterator[Sample]:
    """All joints of the design, place by place; the k-th of a family differs from the k-th bare one in that alone.

    Tubes of nearly one size and thick chords come last, numbered from where `MORE` says.
    """
    # As many places as the largest family has: the first ones stay when more are asked for.
    most = max(counts.values())
    shapes = frame_places(most)
    # Place by place, as all joints of a place share their meshes.
    for number in range(most):
        for family, count in counts.items():
            if number < count:
                for ring in (True, False):
                    yield Sample(number, family, ring, shapes[number])
    for first, places_of, count in MORE:
        for number, place in enumerate(places_of(count), start=first):
            for ring in (True, False):
                yield Sample(number, "bare", ring, place)


@lru_cache(maxsize=len(NEAR_SIZES))
def _tubes(plain: SingleJoint, size: float) -> TubeMesh:
    scale = sqrt(plain.branch_diameter * plain.chord_diameter)
    return mesh_pipes(plain.pipes(), size * scale, COARSENING * size * scale)


def extrapolated(matrices: Sequence[Array], points: Sequence[int]) -> Array:
    """Richardson's limit of two meshes whose error goes with the inverse of the number of points."""
    coarse, fine = matrices
    step = (fine - coarse) * points[0] / (points[1] - points[0])
    # Made symmetric, as Maxwell's reciprocity holds but for rounding.
    return 0.5 * (fine + step + (fine + step).T)


class Solvable(Protocol):
    """What a sweep solves, one after the other."""

    @property
    def key(self) -> str: ...

    def solve(self) -> dict[str, Any]: ...


def run(wanted: Sequence[Solvable], processes: int, kept: Path) -> None:
    """Solve what is not kept yet, one line of JSON a joint. Ctrl-C ends it; what is finished is kept."""
    kept.parent.mkdir(exist_ok=True)
    # Refused joints count as done, so that a second run does not try them again.
    done = {record["key"] for record in read_kept(kept)}
    missing = [sample for sample in wanted if sample.key not in done]
    guess = _minutes(len(missing) * SECONDS_EACH / processes)
    print(
        f"{len(wanted)} wanted, {len(wanted) - len(missing)} of them kept in {kept}; the other {len(missing)} take "
        f"{guess}, each process (here {processes}) on a core of its own. Ctrl-C stops: what is finished is kept.",
        flush=True,
    )
    started = monotonic()
    with multiprocessing.Pool(processes, _leave_ctrl_c) as pool, kept.open("a") as out:
        try:
            for count, record in enumerate(pool.imap_unordered(solve_or_say, missing), start=1):
                out.write(json.dumps(record) + "\n")
                # Written at once: a run that is stopped loses only the joints in work.
                out.flush()
                left = _minutes((monotonic() - started) / count * (len(missing) - count))
                print(f"{count} of {len(missing)}, {left} to go: {record['key']}", flush=True)
        except KeyboardInterrupt:
            pool.terminate()
            raise SystemExit(
                f"stopped; the same command goes on from what is kept in {kept}"
            ) from None


def _leave_ctrl_c() -> None:
    """Of a process of the pool: Ctrl-C is for the one that started it, which ends them all."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _minutes(seconds: float) -> str:
    return f"about {max(1, round(seconds / 60.0))} min"


def solve_or_say(sample: Solvable) -> dict[str, Any]:
    """A joint that the mesher or the solver refuses is named, and left out of the data."""
    try:
        return sample.solve()
    # The mesher raises bare Exceptions, and one joint that fails must not end the run.
    except Exception as reason:
        return {"key": sample.key, "refused": f"{type(reason).__name__}: {reason}"}


def read_kept(kept: Path) -> list[dict[str, Any]]:
    """What a file of finished joints holds. A last line cut short, as a machine that went off leaves it, is taken off
    the file."""
    if not kept.exists():
        return []
    text = kept.read_text(encoding="utf-8")
    whole = text[: text.rfind("\n") + 1]
    if whole != text:
        kept.write_text(whole, encoding="utf-8")
    return [json.loads(line) for line in whole.splitlines()]


def block_columns(letter: str = "c") -> list[tuple[str, int, int]]:
    """Name and place of the twelve compliances that symmetry about the plane of both axes leaves."""
    columns = []
    for block in (IN_PLANE, OUT_OF_PLANE):
        for place, i in enumerate(block):
            for j in block[place:]:
                columns.append((f"{letter}_{_NAMES[i]}{_NAMES[j]}", i, j))
    return columns


def write_data_file(kept: Path) -> int:
    """The data file from what is kept and what it holds already; returns the number of joints."""
    # Crowns are kept in the same file, and written by their own module.
    solved = [_row(record) for record in read_kept(kept) if "matrix" in record]
    rows = with_rows_there(FILE, _mesher(), solved, _order)
    counts = Counter(row["family"] for row in rows)
    rows = [row for row in rows if counts[row["family"]] >= FEWEST]
    # too few for any family: the file stays as it was
    if rows:
        write_rows(FILE, _head(len(rows)), rows)
    return len(rows)


Row = Mapping[str, Any]


def with_rows_there(
    path: Path, mesher: str, rows: Sequence[Row], order: Callable[[Row], Any]
) -> list[Row]:
    """Rows in order, with those that the data file holds and that were not worked out again.

    mesher : the line of the head that says what meshed them. order : of a row, of each another.

    Raises
    ------
    SystemExit
        When rows would stay in the file that were meshed in another way than its head would say.
    """
    found = {order(row): row for row in text_rows(path)}
    fresh = {order(row): row for row in rows}
    stay = len(found.keys() - fresh.keys())
    if stay and f"# {mesher}" not in path.read_text(encoding="utf-8").splitlines():
        raise SystemExit(
            f"{path} was made otherwise than '{mesher}', and {stay} of its joints were not worked out again: left as "
            "it is. Work all of them out, with nothing said of how many, or delete the file"
        )
    both = found | fresh
    return [both[place] for place in sorted(both)]


def write_rows(path: Path, head: Sequence[str], rows: Sequence[Row]) -> None:
    """A data file: its head as comments, the columns' names, the rows."""
    with path.open("w", newline="") as out:
        for line in head:
            out.write(f"# {line}\n")
        writer = csv.writer(out, lineterminator="\n")
        writer.writerow(rows[0])
        writer.writerows(row.values() for row in rows)


def read_data_file(path: Path) -> list[dict[str, Any]]:
    """Rows of a data file: the family's name, everything else as numbers."""
    return [_numbers(row) for row in text_rows(path)]


def text_rows(path: Path) -> list[dict[str, str]]:
    """Rows of a data file as they stand there."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        # The csv module knows no comments: the head's lines are dropped before it sees them.
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def _numbers(row: dict[str, str]) -> dict[str, Any]:
    return {name: text if name == "family" else float(text) for name, text in row.items()}


FAMILIES = ("bare", "fillet", "lug", "inserted", "hole")
# Places of each family, unless the command line says otherwise.
DEFAULT_COUNTS = {"bare": 160, "fillet": 64, "lug": 128, "inserted": 80, "hole": 12}
# Bare joints beside those: their first number, their design, how many places.
MORE = ((1000, even_places, 24), (2000, thick_places, 48), (3000, usual_places, 24))


def _order(row: Row) -> tuple[int, int, bool]:
    """Of the file's rows: families in turn, places by number, the ring before the free end."""
    return FAMILIES.index(row["family"]), int(row["number"]), not int(row["ring"])


def _mesher() -> str:
    return (
        f"Mesher: gmsh {mesher_version()}; triangles along the weld at most {NEAR_SIZES[0]} and {NEAR_SIZES[1]} of"
        f" the root of both diameters, {COARSENING} times that away from it."
    )


def _head(count: int) -> list[str]:
    ranges = FRAME | FILLER_AND_LUG
    return [
        f"{count} joints of thin tubes in shells, written by make joint-study; do not edit.",
        "Lengths over the chord's mid-surface diameter D, E = 1, Poisson's ratio 0.3; compliances times E D^3 for",
        "turn under moment (rr), E D^2 for ur, E D for uu. Beyond Timoshenko beams rigid at the centre-lines.",
        "Axes where the centre-lines meet: 1 along the chord to its near end, 2 square to it on the branch's side, 3.",
        "angle_deg between branch and the chord towards its near end; to_end from the axes' meeting to that end,",
        "to_far_end to the other one, which is held. ring 1: near end held round, 0: free; kinds by fillet_radius,",
        "sleeve_length (over D), sleeve_wall (over T).",
        "mesh_in, mesh_out: change of the in-plane and out-of-plane block from the finer mesh to the limit, over what",
        "the walls give (the block with the branch's stretch inside the chord added).",
        f"Design: {_bounds(ranges)}.",
        f"From number 2000 on: {_bounds(THICK)}.",
        f"From number 3000 on: {_bounds(USUAL)}.",
        _mesher(),
    ]


def _bounds(ranges: Ranges) -> str:
    """Ranges in words, without those that are the design's own."""
    own = {
        name: r for name, r in ranges.items() if ranges.keys() != FRAME.keys() or r != FRAME[name]
    }
    return "; ".join(f"{name} {r.low:g} to {r.high:g}" for name, r in own.items())


def _row(record: dict[str, Any]) -> dict[str, Any]:
    sample = Sample(**record["sample"])
    joint = sample.joint
    matrix = np.array(record["matrix"])
    fine = np.array(record["fine"])
    row = {
        "family": sample.family,
        "number": sample.number,
        "ring": int(joint.ring),
        "branch_over_chord": f"{joint.branch_diameter:.6g}",
        "chord_over_wall": f"{1.0 / joint.chord_wall:.6g}",
        "wall_ratio": f"{joint.branch_wall / joint.chord_wall:.6g}",
        "angle_deg": f"{joint.angle:.6g}",
        "to_end": f"{joint.to_end:.6g}",
        "to_far_end": f"{joint.to_far_end:.6g}",
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
    for family in FAMILIES:
        parser.add_argument(f"--{family}", type=int, help=f"places of {family} joints")
    parser.add_argument(
        "--only", nargs="+", metavar="KEY", help="these joints alone, as a run names them"
    )
    options = parser.parse_args(arguments)
    given = {family: getattr(options, family) for family in FAMILIES}
    # 0 is an answer too: no joints of that family.
    said = {family: count for family, count in given.items() if count is not None}
    wanted = list(samples(DEFAULT_COUNTS | said))
    if options.only:
        unknown = set(options.only) - {sample.key for sample in wanted}
        if unknown:
            parser.error(
                f"no joint of the design: {', '.join(sorted(unknown))}; the first is {wanted[0].key}"
            )
        wanted = [sample for sample in wanted if sample.key in options.only]
    run(wanted, options.processes, options.kept)
    print(f"{write_data_file(options.kept)} joints in {FILE}")


if __name__ == "__main__":
    main()
