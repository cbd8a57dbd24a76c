"""The sweep over crowns: blades and steerer on a crown tube in shells, written to model/joints/crown_joints.csv.

As `study`: everything over the crown's mid-surface diameter, E = 1, two meshes and their limit, one line of JSON a
crown in the same file of finished ones.
"""

from __future__ import annotations

import argparse
import os
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from ...model.arrays import Array
from .crown import CrownJoint, crown_compliances, crown_mesh
from .designs import CROWN, Place, crown_places
from .meshing import mesher_version
from .study import (
    DATA,
    KEPT,
    block_columns,
    extrapolated,
    read_kept,
    run,
    with_rows_there,
    write_rows,
)

SIZES = (0.11, 0.08)  # of the triangles, over the root of blade's and crown's diameter
COUNT = 64
FILE = DATA / "crown_joints.csv"


@dataclass(frozen=True)
class CrownSample:
    """One crown of the design."""

    number: int
    place: Place

    @property
    def key(self) -> str:
        return f"crown-{self.number}"

    @property
    def joint(self) -> CrownJoint:
        """The crown over its own diameter."""
        place = self.place
        wall = 1.0 / place["crown_over_wall"]
        blade = place["blade_over_crown"]
        steerer = place["steerer_over_crown"]
        return CrownJoint(
            1.0,
            wall,
            blade,
            place["wall_ratio"] * wall,
            steerer,
            place["steerer_wall_ratio"] * wall,
            place["lean_deg"],
            0.5 * steerer + place["gap"] + 0.5 * blade,
        )

    def solve(self) -> dict[str, Any]:
        """Compliances of both joints in the limit of two meshes, and on the finer one."""
        pairs = []
        points = []
        for size in SIZES:
            tubes = crown_mesh(self.joint, size)
            pairs.append(crown_compliances(self.joint, tubes))
            points.append(len(tubes.mesh.points))
        blades, steerers = zip(*pairs, strict=True)
        return {
            "key": self.key,
            "crown": asdict(self),
            "blade": extrapolated(blades, points).tolist(),
            "steerer": extrapolated(steerers, points).tolist(),
            "fine": [matrix.tolist() for matrix in pairs[-1]],
            "points": points,
        }


def write_file(kept: Path) -> int:
    """The data file from what is kept and what it holds already; returns the number of crowns."""
    records = [record for record in read_kept(kept) if "crown" in record and "blade" in record]
    solved = [_row(record) for record in records]
    rows = with_rows_there(FILE, _mesher(), solved, lambda row: int(row["number"]))
    if rows:
        write_rows(FILE, _head(len(rows)), rows)
    return len(rows)


def _head(count: int) -> list[str]:
    bounds = [f"{name} {r.low:g} to {r.high:g}" for name, r in CROWN.items()]
    return [
        f"{count} crown tubes with blades and steerer in shells, written by make joint-study; do not edit.",
        "Over the crown's mid-surface diameter D, E = 1, Poisson's ratio 0.3; compliances times E D^3 for turn under",
        "moment (rr), E D^2 for ur, E D for uu. Beyond Timoshenko beams rigid at the centre-lines.",
        "b_: a blade's joint where its axis meets the crown's; s_: the steerer's, which both blades feel. Axes: 1",
        "along the crown outwards, 2 up the steerer, 3 across both. The crown's ends are closed by lids.",
        "The steerer goes through. lean_deg: blade off square to the crown, outwards; half: from the steerer's axis to",
        "the blade's on the crown's.",
        "mesh: change of the blade's joint from the finer mesh to the limit, over the limit.",
        "Design: " + "; ".join(bounds) + ".",
        _mesher(),
    ]


def _mesher() -> str:
    return (
        f"Mesher: gmsh {mesher_version()}; triangles of {SIZES[0]} and {SIZES[1]} of the root of blade's and crown's "
        "diameter."
    )


def _row(record: dict[str, Any]) -> dict[str, Any]:
    sample = CrownSample(**record["crown"])
    row: dict[str, Any] = {"number": sample.number}
    row |= {name: f"{sample.place[name]:.6g}" for name in CROWN}
    row["half"] = f"{sample.joint.half:.6g}"
    blade = np.array(record["blade"])
    row |= _columns("b", blade) | _columns("s", np.array(record["steerer"]))
    fine = np.array(record["fine"][0])
    turns = np.s_[3:, 3:]
    row["mesh"] = f"{np.linalg.norm((fine - blade)[turns]) / np.linalg.norm(blade[turns]):.2g}"
    row["points"] = record["points"][-1]
    return row


def _columns(letter: str, matrix: Array) -> dict[str, str]:
    return {name: f"{matrix[i, j]:.6g}" for name, i, j in block_columns(letter)}


def main(arguments: Sequence[str] | None = None) -> None:
    """Command line: by how many processes, and where finished crowns are kept."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--processes", type=int, default=os.cpu_count())
    parser.add_argument("--kept", type=Path, default=KEPT, help="file of finished joints")
    parser.add_argument("--crowns", type=int, default=COUNT)
    options = parser.parse_args(arguments)
    places = crown_places(options.crowns)
    wanted = [CrownSample(number, place) for number, place in enumerate(places)]
    run(wanted, options.processes, options.kept)
    print(f"{write_file(options.kept)} crowns in {FILE}")


if __name__ == "__main__":
    main()
