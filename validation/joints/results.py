"""What the study is held against, worked out once and kept for VALIDATION.md. ``python -m ...joints.results``

Minutes of computing; the page shows what stands in data/results.json, and tests work a part of it out anew.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from ...model.arrays import Array
from ...model.frame.layout import lay_out
from . import rear_joints, whole_fork, whole_frame
from .front_triangle import Triangle, head_flexibility, quantities, seat_held, triangle_mesh
from .invented_triangles import DRAWN, INVENTED, TrianglePair, each_once
from .meshing import mesher_version
from .obstacles import OBSTACLES, straight_tube
from .published_joints import (
    PUBLISHED,
    STEEL,
    extrapolated_compliance,
    farther,
    fessler,
    natural_sizes,
    offshore_joints,
    stiffness_of,
    wall_compliance,
)
from .shell import ShellSolver, TubeRing
from .single import POISSON, SingleJoint
from .study import NEAR_SIZES, ROOT, extrapolated

RESULTS = Path(__file__).with_name("data") / "results.json"
REFERENCE = ROOT / "tests" / "data" / "front_triangle.json"
_PUBLISHED_SIZES = (2.4, 1.7)  # mm, along the weld
_TRIANGLE_SIZES = (3.0, 2.1)
_TRIANGLE_COARSENING = 1.25
_INVENTED_SIZES = (3.2, 2.3)
_OPINION_SIZES = ((4.4, 6.6), (3.2, 4.8))
_DIVISIONS = (8, 16, 32)
_AROUND = (24, 48)
# Over the chord's diameter: a thin and a thick chord, a branch of 0.85 D at 80 degrees, its foot half a D from the end.
_FAR_ENDS = (2.5, 4.0, 6.0)


def tube_results() -> list[dict[str, Any]]:
    """Cantilever tubes over the closed forms."""
    return [{"around": around, **_plain(straight_tube(around))} for around in _AROUND]


def obstacle_results() -> list[dict[str, Any]]:
    """Obstacle cases over their published values, mesh by mesh."""
    rows = []
    for case in OBSTACLES:
        ratios = [case.solve(divisions) / case.published for divisions in _DIVISIONS]
        rows.append({"name": case.name, "published": case.published, "ratios": ratios})
    return rows


def published_results() -> list[dict[str, Any]]:
    """Published single joints."""
    rows = []
    for case in PUBLISHED:
        compliance = extrapolated_compliance(case.joint, _PUBLISHED_SIZES)
        in_plane, out_of_plane = stiffness_of(compliance, case.joint)
        rows.append(
            {
                "branch": case.branch,
                "chord": case.chord,
                "place": case.place,
                "published": [case.in_plane, case.out_of_plane],
                "ours": [in_plane, out_of_plane],
            }
        )
    return rows


def offshore_results() -> list[dict[str, Any]]:
    """The offshore formula beside shells."""
    rows = []
    for joint in offshore_joints():
        compliance = extrapolated_compliance(joint, natural_sizes(joint, NEAR_SIZES))
        rows.append(
            {
                "branch_over_chord": joint.branch_diameter,
                "chord_over_wall": 1.0 / joint.chord_wall,
                "formula": fessler(joint),
                "ours": wall_compliance(compliance, joint),
            }
        )
    return rows


def far_end_results() -> list[dict[str, Any]]:
    """Turn about the chord and about the axis across, as the chord's held far end is moved out."""
    rows = []
    for over_wall in (30.0, 52.0):
        for ring in (True, False):
            joint = SingleJoint(0.85, 0.025, 1.0, 1.0 / over_wall, 80.0, 1.1, 1.0, 4.0, ring=ring)
            for far_end in _FAR_ENDS:
                placed = farther(joint, far_end)
                compliance = extrapolated_compliance(placed, natural_sizes(joint, NEAR_SIZES))
                turns = {"along": compliance[3, 3], "across": compliance[5, 5]}
                row = {"chord_over_wall": over_wall, "ring": ring, "far_end": far_end}
                rows.append(row | _plain(turns))
    return rows


def triangle_results() -> list[dict[str, Any]]:
    """Every published movement of the front triangle, from two meshes and their limit."""
    data = json.loads(REFERENCE.read_text(encoding="utf-8"))
    rows = []
    for geometry, entry in data["geometries"].items():
        triangle = Triangle.from_data(entry)
        length = entry["head_tube_length_mm"]
        meshes = [
            triangle_mesh(triangle, size, _TRIANGLE_COARSENING * size) for size in _TRIANGLE_SIZES
        ]
        points = [len(tubes.mesh.points) for tubes in meshes]
        for rings in ("rigid", "distributing"):
            wanted = _cases(data, geometry, rings)
            if not wanted:
                continue
            matrices = [
                head_flexibility(triangle, tubes, data["E_MPa"], rings == "rigid")
                for tubes in meshes
            ]
            limit = extrapolated(matrices, points)
            for case in wanted:
                limit_value = _movement(limit, case, length)
                fine_value = _movement(matrices[-1], case, length)
                rows.append(case | {"limit": limit_value, "fine": fine_value, "points": points[-1]})
            print(geometry, rings, points, flush=True)
    return rows


def _cases(data: Mapping[str, Any], geometry: str, rings: str) -> list[dict[str, Any]]:
    return [
        case
        for case in data["cases"]
        if case["geometry"] == geometry and case["head_rings"] == rings
    ]


def _movement(flexibility: Array, case: Mapping[str, Any], length: float) -> float:
    # Support B follows from A by hand, without another solve.
    held = seat_held(flexibility) if case["support"] == "B" else flexibility
    return quantities(held, length)[case["quantity"]]


def invented_results() -> list[dict[str, Any]]:
    """Movements of the invented front triangles."""
    return _movements_of(INVENTED)


def drawn_results() -> list[dict[str, Any]]:
    """Movements of front triangles drawn at random."""
    return _movements_of(DRAWN)


def _movements_of(pairs: Iterable[TrianglePair]) -> list[dict[str, Any]]:
    """Of front triangles in shells, ends of the head tube round: the limit of two meshes."""
    rows = []
    for one in each_once(pairs):
        meshes = [triangle_mesh(one.triangle, size, 1.2 * size) for size in _INVENTED_SIZES]
        points = [len(tubes.mesh.points) for tubes in meshes]
        matrices = [head_flexibility(one.triangle, tubes, STEEL) for tubes in meshes]
        limit = extrapolated(matrices, points)
        for support, matrix in (("A", limit), ("B", seat_held(limit))):
            for quantity, value in quantities(matrix, one.head_tube).items():
                row = {"triangle": one.name, "support": support, "quantity": quantity}
                rows.append(row | {"shell": float(value)})
        print(one.name, points, flush=True)
    return rows


def second_opinion_results() -> list[dict[str, Any]]:
    """One joint on one mesh by the study's triangle and by that of OpenSees."""
    from .meshing import mesh_pipes
    from .second_opinion import opensees_displacements

    rows = []
    for size in (4.0, 2.8):
        joint = PUBLISHED[1].joint
        tubes = mesh_pipes(joint.pipes(), size, 1.3 * size)
        chord, branch = joint.pipes()
        points = tubes.mesh.points
        held = [chord.ring_at(points, chord.start), chord.ring_at(points, chord.end)]
        tip = TubeRing(branch.ring_at(points, branch.end), branch.end, rigid=False)
        solver = ShellSolver(tubes.mesh, held, [tip])
        loads = solver.ring_loads()
        # The same load vectors on both sides, so that only the element differs.
        theirs = loads.T @ opensees_displacements(tubes.mesh, held, loads, 1.0, POISSON)
        ratio = np.diag(theirs) / np.diag(solver.ring_flexibility())
        rows.append({"points": len(points), "ratios": ratio.tolist()})
    return rows


def whole_frame_results() -> list[dict[str, Any]]:
    """Figures of whole frames in shells."""
    rows = []
    for name, bicycle in whole_frame.frames().items():
        found = whole_frame.frame_in_shells(bicycle)
        coarse, fine = found.meshes
        for figure, limit in found.limit.items():
            row = {"frame": name, "figure": figure, "coarse": coarse[figure], "fine": fine[figure]}
            rows.append(row | {"limit": limit, "points": found.points})
        print(name, found.points, flush=True)
    return rows


def whole_frame_opinions() -> list[dict[str, Any]]:
    """The tourer's frame on two meshes by the study's triangle and by that of OpenSees."""
    bicycle = whole_frame.frames()[whole_frame.TOURER]
    body = whole_frame.frame_body(bicycle, lay_out(bicycle))
    rows = []
    for sizes in _OPINION_SIZES:
        tubes = body.meshed(*sizes)
        ours, theirs = whole_frame.opinions(body, tubes)
        row = {"points": len(tubes.mesh.points), "ours": ours.tolist()}
        rows.append(row | {"theirs": theirs.tolist()})
    return rows


def _plain(values: Mapping[str, Any]) -> dict[str, float]:
    return {name: float(value) for name, value in values.items()}


SECTIONS: dict[str, Callable[[], list[dict[str, Any]]]] = {
    "tube": tube_results,
    "obstacles": obstacle_results,
    "published": published_results,
    "offshore": offshore_results,
    "far_end": far_end_results,
    "second_opinion": second_opinion_results,
    "front_triangle": triangle_results,
    "invented": invented_results,
    "drawn": drawn_results,
    "whole_frame": whole_frame_results,
    "whole_frame_opinion": whole_frame_opinions,
    "rear_joints": rear_joints.rear_results,
    "whole_fork": whole_fork.forks_in_shells,
}


def main() -> None:
    """Work out what is not kept yet; delete a section of the file to have it worked out anew."""
    RESULTS.parent.mkdir(exist_ok=True)
    kept = json.loads(RESULTS.read_text(encoding="utf-8")) if RESULTS.exists() else {}
    kept["mesher"] = "gmsh " + mesher_version()
    for name, work in SECTIONS.items():
        if name not in kept:
            kept[name] = work()
            # After each section: a run that is stopped keeps what it has.
            RESULTS.write_text(json.dumps(kept, indent=1) + "\n", encoding="utf-8")
            print(name, flush=True)


if __name__ == "__main__":
    main()
