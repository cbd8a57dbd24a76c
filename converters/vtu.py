"""Model and results as VTU (VTK's XML format for unstructured grids) through meshio, for any 3-D viewer.

Centre-lines are two-node lines with the results as named arrays; `surface` makes tubes of them, with the sizes they
have. Units are the model's: mm, N, N·mm, MPa, rad. The format holds numbers only: member names become ids.
"""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from model.beam import Beams
from model.findings import Finding
from model.frame_model import Array, FrameModel
from model.modes import Modes
from model.result import Result
from model.stress import stress_table

from .files import new_file
from .outside import half_sizes

SIDES = 16  # corners of a tube's round outline
_ENDS = ("i", "j")
_SECTION = ("A", "Iy", "Iz", "J")


def write_vtu(model: FrameModel, path: str | Path, results: Mapping[str, Result] | None = None,
              modes: Modes | None = None, *, surface: bool = False, force: bool = False) -> tuple[Finding, ...]:
    """Write a .vtu file; returns what the format could not carry.

    Raises InputError when the file exists and `force` is not given, or cannot be written.
    """
    import meshio

    points = _point_data(model, results or {}, modes)
    cells = _cell_data(model, results or {})
    if surface:
        grid = _tubes(meshio, model, points, cells)
    else:
        grid = meshio.Mesh(model.xyz, [("line", model.ends)], point_data=points,
                           cell_data={name: [values] for name, values in cells.items()})
    with new_file(path, force) as temporary:
        grid.write(temporary, file_format="vtu")
    return _losses(model, surface)


def member_ids(model: FrameModel) -> dict[str, int]:
    """Member name -> the number that stands for it in the file."""
    return {name: k for k, name in enumerate(dict.fromkeys(e.member or e.id for e in model.elements))}


def _losses(model: FrameModel, surface: bool) -> tuple[Finding, ...]:
    legend = ", ".join(f"{number} {name}" for name, number in member_ids(model).items())
    found = [Finding("vtu-names", "info", f"a VTU file holds no names; member_id stands for: {legend}")]
    if model.rigid_links or model.equal_dofs or model.springs:
        found.append(Finding("vtu-links", "info", "links, bearings and springs have no place in the file; the analysis "
                                                  "model (droptrail model) holds them"))
    if surface:
        found.append(Finding("vtu-surface", "info", f"tubes are drawn with {SIDES} flat sides"))
    return tuple(found)


def _point_data(model: FrameModel, results: Mapping[str, Result], modes: Modes | None) -> dict[str, Array]:
    data: dict[str, Array] = {"node_id": np.arange(len(model.nodes), dtype=float)}
    for name, result in results.items():
        data[f"displacement_{name}"] = result.u[:, :3]
        data[f"rotation_{name}"] = result.u[:, 3:]
        reaction = np.zeros((len(model.nodes), 6))
        for node, force in result.reactions.items():
            reaction[model.node_index[node]] = force
        data[f"reaction_force_{name}"], data[f"reaction_moment_{name}"] = reaction[:, :3], reaction[:, 3:]
    for k in range(0 if modes is None else len(modes)):
        assert modes is not None
        data[f"mode_{k + 1}_{modes.frequencies_hz[k]:.3f}_Hz"] = modes.shapes[k, :, :3]
    return data


def _cell_data(model: FrameModel, results: Mapping[str, Result]) -> dict[str, Array]:
    ids = member_ids(model)
    data: dict[str, Array] = {name: model.properties[name] for name in _SECTION}
    data["outside_diameter"] = 2 * half_sizes(model).max(axis=1)
    data["member_id"] = np.array([ids[e.member or e.id] for e in model.elements], dtype=float)
    for name, result in results.items():
        for k, end in enumerate(_ENDS):
            data[f"force_{end}_{name}"] = result.end_forces[:, 6 * k:6 * k + 3]
            data[f"moment_{end}_{name}"] = result.end_forces[:, 6 * k + 3:6 * k + 6]
        data[f"nominal_stress_{name}"] = stress_table(result).von_mises.max(axis=1)  # NaN: outline not known
    return data


def _tubes(meshio: Any, model: FrameModel, points: Mapping[str, Array], cells: Mapping[str, Array]) -> Any:
    """Each element as a prism of `SIDES` quadrilaterals with its own corners."""
    rotation, half = Beams.of(model).rotation, half_sizes(model)
    angle = 2 * np.pi * np.arange(SIDES) / SIDES
    ring = (np.cos(angle)[None, :, None] * half[:, None, :1] * rotation[:, None, 1]
            + np.sin(angle)[None, :, None] * half[:, None, 1:] * rotation[:, None, 2])
    corners = model.xyz[model.ends][:, :, None, :] + ring[:, None]
    count = len(model.elements)
    first = 2 * SIDES * np.arange(count)[:, None] + np.arange(SIDES)
    after = 2 * SIDES * np.arange(count)[:, None] + (np.arange(SIDES) + 1) % SIDES
    quads = np.stack([first, after, after + SIDES, first + SIDES], axis=2).reshape(-1, 4)
    spread = {name: np.repeat(values[model.ends], SIDES, axis=1).reshape(-1, *values.shape[1:])
              for name, values in points.items()}
    return meshio.Mesh(corners.reshape(-1, 3), [("quad", quads)], point_data=spread,
                       cell_data={name: [np.repeat(values, SIDES, axis=0)] for name, values in cells.items()})
