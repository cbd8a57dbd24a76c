"""Model and results as VTU (VTK's XML format for unstructured grids) through meshio, for any 3-D viewer.

Centre-lines are two-node lines, or the tubes' surfaces (`surfaces`), with results and sections as named arrays;
names end in their unit where the model states units. The format holds no texts that all readers take, so texts go
into the field array ``about_json``, one number a byte:

    about = json.loads(bytes(meshio.read("frame.vtu").field_data["about_json"]))

with the names of nodes, elements and members in the order of the arrays, load cases with their loads in words,
evidence, units and provenance. Beside it ``member_7_down_tube`` = 7 lets a viewer's list of fields serve as legend.
"""

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ...model.arrays import Array
from ...model.findings import Finding
from ...model.mechanics.beam import Beams
from ...model.mechanics.energy import energy_shares
from ...model.mechanics.frame_model import FrameModel
from ...model.mechanics.result import Result
from ...model.postprocess.stress import StressTable
from ...model.postprocess.walls import Walls
from ...model.vibration.modes import Modes
from .outside import half_sizes, size_findings
from .writing import new_file

_SECTION = {
    # no superscripts: array names stay plain ASCII
    "A": "mm2",
    "Iy": "mm4",
    "Iz": "mm4",
    "J": "mm4",
    "Asy": "mm2",
    "Asz": "mm2",
    "Ip": "mm4",
    "E": "MPa",
    "G": "MPa",
    "rho": "t_mm3",
}
TEXT_FIELD = "about_json"
Values = NDArray[Any]


@dataclass(frozen=True, eq=False)
class Contents:
    """What goes into a file. stresses : load case -> nominal stress. about : provenance and the like, plain JSON.

    walls : outlines of the tubes, None takes those that the sections tell. units : the model is in mm, N, MPa, t;
    otherwise in any consistent set and the array names carry no unit.
    """

    model: FrameModel
    results: Mapping[str, Result] = field(default_factory=dict)
    stresses: Mapping[str, StressTable] = field(default_factory=dict)
    modes: Modes | None = None
    walls: Walls | None = None
    about: Mapping[str, Any] = field(default_factory=dict)
    units: bool = True

    def name(self, *parts: str) -> str:
        """An array's name: the parts joined, the last one (its unit) only where units are known."""
        return "_".join(part for part in (parts if self.units else parts[:-1]) if part)

    @property
    def labels(self) -> dict[str, str]:
        """Load case -> its name made of letters, digits and low lines, each a different one."""
        out: dict[str, str] = {}
        for case in self.results:
            plain = re.sub(r"\W+", "_", case, flags=re.ASCII).strip("_") or "case"
            if plain not in out.values():
                # two names may become the same plain one, and one array would then hide the other
                out[case] = plain
            else:
                out[case] = f"{plain}_{len(out) + 1}"
        return out

    @property
    def members(self) -> dict[str, int]:
        """Member (an element without one counts as its own) -> its number in `member_id`."""
        names = [element.member or element.id for element in self.model.elements]
        # dict.fromkeys keeps the order of first appearance, so numbers do not change between runs
        return {name: k for k, name in enumerate(dict.fromkeys(names))}


def write_vtu(contents: Contents, path: str | Path, *, force: bool = False) -> tuple[Finding, ...]:
    """Write the centre-lines; returns what the format cannot carry.

    Raises InputError when the file exists and `force` is not given, or cannot be written.
    """
    import meshio

    model = contents.model
    grid = meshio.Mesh(
        model.xyz,
        [("line", model.ends)],
        point_data=point_data(contents),
        cell_data={name: [values] for name, values in cell_data(contents).items()},
    )
    save_grid(grid, contents, path, force)
    return losses(contents)


def save_grid(grid: Any, contents: Contents, path: str | Path, force: bool) -> None:
    """Write a meshio mesh as VTU with the field data that meshio itself leaves out."""
    with new_file(path, force) as temporary:
        # the file is still the temporary one: what is added here is whole before it gets its name
        grid.write(temporary, file_format="vtu")
        _add_fields(temporary, field_data(contents))


def losses(contents: Contents) -> tuple[Finding, ...]:
    """What a VTU file cannot carry, for the record."""
    model = contents.model
    found = [
        Finding(
            "vtu-names",
            "info",
            "a VTU file holds no names that every viewer shows; member_id is a number, "
            f"explained by the fields member_..., and all names and load cases stand in {TEXT_FIELD}",
        )
    ]
    # each of these ties nodes without a line to draw, so a viewer shows a frame that falls apart
    if (
        model.rigid_links
        or model.equal_dofs
        or model.springs
        or any(e.releases for e in model.elements)
    ):
        found.append(
            Finding(
                "vtu-links",
                "info",
                "links, bearings, springs and end releases have no place in a VTU "
                "file; droptrail model writes them",
            )
        )
    return (*found, *size_findings(model))


# --- arrays -------------------------------------------------------------------------------------------------------
def point_data(contents: Contents) -> dict[str, Values]:
    """Array name -> (n, ...) values at the nodes, global axes."""
    name = contents.name
    model = contents.model
    data: dict[str, Values] = {"node_id": np.arange(len(model.nodes))}
    for case, label in contents.labels.items():
        # zeros where nothing acts: VTU wants a value at every node
        result = contents.results[case]
        for what, six in (
            ("displacement", result.u),
            ("load", _at_nodes(model, result.case.nodal)),
            ("reaction", _at_nodes(model, result.reactions)),
        ):
            if what == "displacement":
                first = "mm"
                second = "rad"
            else:
                first = "N"
                second = "Nmm"
            if what == "displacement":
                way = ("displacement", "rotation")
            else:
                way = (f"{what}_force", f"{what}_moment")
            # forces and moments apart: viewers draw an arrow from three components, not from six
            data[name(way[0], label, first)] = six[:, :3]
            data[name(way[1], label, second)] = six[:, 3:]
        # six flags a node, for a viewer to mark what was held
        data[f"held_{label}"] = _at_nodes(model, result.case.supports).astype(np.int32)
    for k in range(0 if contents.modes is None else len(contents.modes)):
        assert contents.modes is not None
        # modes have no size of their own: shapes are drawn as they come, not in mm
        data[_mode_name(contents.modes, k)] = contents.modes.shapes[k, :, :3]
        data[f"mode_{k + 1}_rotation"] = contents.modes.shapes[k, :, 3:]
    return data


def cell_data(contents: Contents) -> dict[str, Values]:
    """Array name -> (m, ...) values of the elements; end forces are N Vy Vz and T My Mz in local axes."""
    name = contents.name
    model = contents.model
    ids = contents.members
    data: dict[str, Values] = {
        name(key, unit): model.properties[key] for key, unit in _SECTION.items()
    }
    # half sizes are kept, diameters are what a builder knows
    height, width = 2 * half_sizes(model).T
    data[name("outside_diameter", "mm")] = height
    data[name("outside_width", "mm")] = width
    data["element_id"] = np.arange(len(model.elements))
    data["member_id"] = np.array([ids[e.member or e.id] for e in model.elements])
    data["local_y"] = Beams.of(model).rotation[:, 1]
    for case, label in contents.labels.items():
        result = contents.results[case]
        # columns 0-5 are the forces at end i, 6-11 those at end j
        for k, end in ((0, "i"), (6, "j")):
            data[name(f"end_force_{end}", label, "N")] = result.end_forces[:, k : k + 3]
            data[name(f"end_moment_{end}", label, "Nmm")] = result.end_forces[:, k + 3 : k + 6]
        data[f"energy_share_{label}"] = _shares(result)
        if case in contents.stresses:  # NaN where the outline of a section is not known
            data[name("nominal_stress", label, "MPa")] = contents.stresses[case].von_mises.max(
                axis=1
            )
    return data


def _at_nodes(model: FrameModel, values: Mapping[str, Any]) -> Array:
    """(n, 6) array of what some nodes have, zero elsewhere."""
    out = np.zeros((len(model.nodes), 6))
    for node, six in values.items():
        out[model.node_index[node]] = six
    return out


def _shares(result: Result) -> Array:
    """(m,) share of each element in the strain energy, 0 to 1."""
    table = energy_shares(result)
    # a case without any strain energy must give zeros, not a division by zero
    return np.asarray(table.elements.sum(axis=1) / (table.total or 1.0))


def _mode_name(modes: Modes, k: int) -> str:
    return f"mode_{k + 1}_{modes.frequencies_hz[k]:.3f}_Hz"


# --- field data ---------------------------------------------------------------------------------------------------
def field_data(contents: Contents) -> dict[str, Values]:
    """Name -> numbers that belong to the file as a whole."""
    legend = {
        # the number stands in the name too: a viewer's list shows names before values
        f"member_{number}_{re.sub(r'[^A-Za-z0-9]+', '_', name)}": np.array([number])
        for name, number in contents.members.items()
    }
    hertz = {
        f"mode_{k + 1}_Hz": np.array([value])
        for k, value in enumerate([] if contents.modes is None else contents.modes.frequencies_hz)
    }
    text = json.dumps(_about(contents), ensure_ascii=False, allow_nan=False)
    # bytes as numbers: strings in field data are read by some viewers only
    return {**legend, **hertz, TEXT_FIELD: np.frombuffer(text.encode("utf-8"), dtype=np.uint8)}


def _about(contents: Contents) -> dict[str, Any]:
    model = contents.model
    cases = {
        label: {
            "name": case,
            "title": r.case.title,
            "loads and supports": r.case.notes,
            "source": r.case.source,
            "residual": r.residual,
            "force_balance": r.force_balance,
            "moment_balance": r.moment_balance,
        }
        for case, label in contents.labels.items()
        for r in (contents.results[case],)
    }
    # every table carries the same caution
    caution = next((table.caution for table in contents.stresses.values()), "")
    return {
        "nodes": list(model.nodes),
        "elements": [e.id for e in model.elements],
        "members": list(contents.members),
        "load_cases": cases,
        # named only where there is stress, else it would warn of what is not there
        **({"stress_caution": caution} if caution else {}),
        "units": "mm, N, MPa, rad, t"
        if contents.units
        else "as in the model file, any consistent set",
        **contents.about,
    }


def _add_fields(path: Path, fields: Mapping[str, Values]) -> None:
    """Put field arrays into a VTU file; meshio reads them but does not write them."""
    from xml.etree import ElementTree

    tree = ElementTree.parse(path)
    grid = tree.getroot().find("UnstructuredGrid")
    assert grid is not None
    holder = ElementTree.Element("FieldData")
    for name, values in fields.items():
        # what is neither float nor byte is an integer here
        kind = {"f": "Float64", "u": "UInt8"}.get(values.dtype.kind, "Int64")
        array = ElementTree.SubElement(
            holder,
            "DataArray",
            type=kind,
            Name=name,
            NumberOfTuples=str(len(values)),
            format="ascii",
        )
        # repr gives the shortest text that reads back as the same number
        array.text = " ".join(map(repr, values.tolist()))
    # before the pieces, where VTK itself writes it
    grid.insert(0, holder)
    tree.write(path, encoding="utf-8", xml_declaration=True)
