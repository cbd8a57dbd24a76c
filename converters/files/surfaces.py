"""Tubes as surfaces for a 3-D viewer: every element a prism with many sides, with the sizes it has.

As VTU with results - displacements of the wall itself, the cross-section turning with the centre-line, and the
nominal stress all round it - or as plain STL or PLY triangles for viewers that know no results.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np

from ...model.arrays import Array
from ...model.findings import Finding
from ...model.mechanics.beam import Beams
from ...model.mechanics.frame_model import FrameModel
from ...model.postprocess.stress import StressTable, end_section_forces, wall_stress
from ...model.postprocess.walls import Walls
from .outside import half_sizes, size_findings
from .vtu import Contents, Values, cell_data, losses, point_data, save_grid
from .writing import new_file

SIDES = 24  # corners of a tube's outline: flat sides lie within 0.9 % of the radius
_TURN = 2 * np.pi * np.arange(SIDES) / SIDES
# the two formats nearly every viewer and slicer reads; neither has room for results
PLAIN = (".stl", ".ply")


def write_surfaces(
    contents: Contents,
    path: str | Path,
    *,
    deflected: tuple[str, float] | None = None,
    force: bool = False,
) -> tuple[Finding, ...]:
    """Write the tubes as .vtu, .stl or .ply; returns what the file cannot carry.

    deflected : (load case, factor): the tubes are drawn moved so many times as far as the case moves them.
    Raises InputError when the file exists and `force` is not given, or cannot be written.
    """
    # slow to import, and only needed once a file is really written
    import meshio

    path = Path(path)
    corners, offsets = tube_corners(contents.model, contents.walls)
    points = corners.reshape(-1, 3)
    if deflected is not None:
        case, factor = deflected
        # sections stay plane: the wall goes where the beam theory says, not only the centre-line
        points = points + factor * moved(contents.model, offsets, contents.results[case].u).reshape(
            -1, 3
        )
        contents = replace(
            # a shape that was moved must say so wherever the file goes
            contents,
            about={**contents.about, "drawn": f"{factor:g} times as far as {case} moves"},
        )
    if path.suffix.lower() in PLAIN:
        _write_plain(points, contents, path, force)
        found = Finding(
            "surface-plain",
            "info",
            f"{path.suffix.lower()[1:].upper()} holds the shape only: no "
            "units (it is in those of the model, mm for a bicycle), no names, no results",
        )
        return (found, *size_findings(contents.model), *_sides(deflected))
    cells = {
        # an element's number belongs to each of its flat sides
        name: [np.repeat(values, SIDES, axis=0)]
        for name, values in cell_data(contents).items()
    }
    grid = meshio.Mesh(
        points,
        [("quad", quads(len(contents.model.elements)))],
        cell_data=cells,
        point_data=_corner_data(contents, offsets),
    )
    save_grid(grid, contents, path, force)
    return (*losses(contents), *_sides(deflected))


def tube_corners(model: FrameModel, walls: Walls | None = None) -> tuple[Array, Array]:
    """Corners (m, 2, SIDES, 3) at both ends of every element, and their offsets (same shape) from the centre-line.

    The outline is that of the walls; where it is not known, an ellipse of the outside sizes.
    """
    rotation = Beams.of(model).rotation[:, None, None]
    half = half_sizes(model)[:, None, None]
    # corners sit at the wall's own angles, so an oval's edge is drawn where its stress is reckoned
    y, z = (walls or Walls.of(model)).points(_round(model))
    # a model file may not say which outline its sections have
    y = np.where(np.isnan(y), half[..., 0] * np.cos(_TURN), y)
    z = np.where(np.isnan(z), half[..., 1] * np.sin(_TURN), z)
    offsets = y[..., None] * rotation[..., 1, :] + z[..., None] * rotation[..., 2, :]
    return model.xyz[model.ends][:, :, None, :] + offsets, offsets


def _round(model: FrameModel) -> Array:
    """(m, 2, SIDES) angles of the corners."""
    return np.broadcast_to(_TURN, (len(model.elements), 2, SIDES))


def moved(model: FrameModel, offsets: Array, u: Array) -> Array:
    """(m, 2, SIDES, 3) displacement of the corners: u + theta x r, cross-sections staying plane and whole."""
    ends = u[model.ends]
    # small rotations, as the whole solution is: no rotation matrix
    return np.asarray(ends[:, :, None, :3] + np.cross(ends[:, :, None, 3:], offsets))


def quads(elements: int) -> Array:
    """(SIDES m, 4) corner numbers of the flat sides, seen from outside anticlockwise."""
    # two rings of corners an element, none shared with the next: a step in size stays sharp
    first = 2 * SIDES * np.arange(elements)[:, None] + np.arange(SIDES)
    after = 2 * SIDES * np.arange(elements)[:, None] + (np.arange(SIDES) + 1) % SIDES
    # near ring forward, far ring back: the order makes the normal point out of the tube
    return np.stack([first, after, after + SIDES, first + SIDES], axis=2).reshape(-1, 4)


def _sides(deflected: tuple[str, float] | None) -> tuple[Finding, ...]:
    found = [
        Finding(
            "vtu-surface", "info", f"tubes are drawn with {SIDES} flat sides, open ends, not mitred"
        )
    ]
    if deflected is not None:
        found.append(
            Finding(
                "surface-moved",
                "info",
                f"the tubes are drawn moved, {deflected[1]:g} times as far as "
                f"load case {deflected[0]} moves them; do not measure them",
            )
        )
    return tuple(found)


def _write_plain(points: Array, contents: Contents, path: Path, force: bool) -> None:
    """Triangles only, in single precision as STL has it."""
    import meshio

    sides = quads(len(contents.model.elements))
    triangles = (
        # the same turn for both halves: viewers and slicers tell outside from inside by it
        np.stack([sides[:, [0, 1, 2]], sides[:, [0, 2, 3]]], axis=1).reshape(-1, 3).astype(np.int32)
    )
    with new_file(path, force) as temporary:
        meshio.Mesh(points.astype(np.float32), [("triangle", triangles)]).write(
            temporary, file_format=path.suffix.lower()[1:], binary=True
        )


def _corner_data(contents: Contents, offsets: Array) -> dict[str, Values]:
    """Nodal arrays carried to the corners, displacements and mode shapes as the wall moves, stress round the wall."""
    model = contents.model
    ends = contents.model.ends
    # both ends of an element get the node's value; its corners all the same one
    data = {
        name: np.repeat(values[ends], SIDES, axis=1).reshape(-1, *values.shape[1:])
        for name, values in point_data(contents).items()
    }
    motions = {
        contents.name("displacement", label, "mm"): contents.results[case].u
        for case, label in contents.labels.items()
    }
    if contents.modes is not None:
        shapes = contents.modes.shapes
        # found by the name the nodal data gave it, so that file and legend keep one numbering
        motions |= {
            name: shapes[int(name.split("_")[1]) - 1] for name in data if name.endswith("_Hz")
        }
    data |= {name: moved(model, offsets, six).reshape(-1, 3) for name, six in motions.items()}
    for case, label in contents.labels.items():
        if case in contents.stresses:
            for kind, values in _round_the_wall(contents, case, contents.stresses[case]).items():
                # flattened corner by corner, in the order of the points
                data[contents.name(kind, label, "MPa")] = values.ravel()
    return data


def _round_the_wall(contents: Contents, case: str, table: StressTable) -> dict[str, Array]:
    """(m, 2, SIDES) nominal stress at the corners: normal, shear, von Mises; NaN where the outline is not known."""
    forces = end_section_forces(contents.results[case])
    normal, shear = wall_stress(table.walls, forces, _round(contents.model))
    return {
        "normal_stress": normal,
        "shear_stress": shear,
        "von_mises": np.sqrt(normal**2 + 3 * shear**2),
    }
