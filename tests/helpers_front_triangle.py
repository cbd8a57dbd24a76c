"""The front triangle that was computed in shells (tests/data/front_triangle_shells.json), as beams with or without
joints: head, top, down and seat tube and the shell, held at the shell's ends."""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from droptrail.model.joints.law import joint_compliance
from droptrail.model.joints.shape import JointShape
from droptrail.model.mechanics.frame_model import (
    Element,
    FrameModel,
    LoadCase,
    RigidLink,
    Spring,
    soft_joint,
)
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import round_tube

SHELLS = json.loads(
    (Path(__file__).parent / "data" / "front_triangle_shells.json").read_text(encoding="utf-8")
)
STEEL = Material("steel", 205000.0, 205000.0 / 2.6, 7.85e-9)
# joint -> (node, its chord's tube, the chord's near end, branch's tube, branch's far end)
PLACES = {
    "TT_HT": ("tt", "HT", "top", "TT", "stt"),
    "DT_HT": ("dt", "HT", "bot", "DT", "o"),
    "TT_ST": ("stt", "ST", "sttop", "TT", "tt"),
}
# node -> the chord's far end, and what holds it before: another branch
BEYOND = {"tt": ("bot", "dt"), "dt": ("top", "tt"), "stt": ("o", "o")}
CHAINS = (
    ("BB", ["bl", "o", "br"]),
    ("HT", ["top", "tt", "dt", "bot"]),
    ("ST", ["o", "stt", "sttop"]),
)
MOVES = ("ux", "uy", "uz", "rx", "ry", "rz")


@dataclass(frozen=True)
class Place:
    """Where a joint of the triangle stands: its name, geometry and axes."""

    geometry: str
    name: str
    e1: np.ndarray
    e2: np.ndarray
    sine: float
    shape: JointShape


Law = Callable[[Place], np.ndarray]


def place(geometry: str, name: str, ring: bool = True, alone: bool = False) -> Place:
    """alone : without the other branch on its chord, as single joints were published."""
    held = SHELLS["geometries"][geometry]
    points = {key: np.array(at) for key, at in held["points_mm"].items()}
    node, chord, near, branch, far = PLACES[name]
    along = points[near] - points[node]
    e1 = along / np.linalg.norm(along)
    axis = (points[far] - points[node]) / np.linalg.norm(points[far] - points[node])
    across = np.cross(e1, axis)
    sine = float(np.linalg.norm(across))
    shape = JointShape(
        *held["tubes_od_wall_mm"][branch],
        *held["tubes_od_wall_mm"][chord],
        float(np.degrees(np.arccos(e1 @ axis))),
        float(np.linalg.norm(along)),
        ring=ring and chord == "HT",
        to_far_end=float(np.linalg.norm(points[BEYOND[node][not alone]] - points[node])),
    )
    return Place(geometry, name, e1, np.cross(across / sine, e1), sine, shape)


def fitted(joint: Place) -> np.ndarray:
    """What the walls give, by the product's law; the branch begins at the chord's wall."""
    return joint_compliance(joint.shape, STEEL).matrix


def beyond_lines(joint: Place) -> tuple[float, float]:
    """What the product's joint turns beyond beams that meet at their centre-lines, rad/(N mm): in plane, and across
    both tubes about the axis square to the branch. What the walls give, less the branch's bending inside the chord."""
    matrix = fitted(joint)
    lean = np.radians(joint.shape.angle_deg - 90)
    axis = np.array([np.cos(lean), np.sin(lean), 0.0])
    outer = joint.shape.branch_diameter
    inner = outer - 2 * joint.shape.branch_wall
    second = np.pi / 64 * (outer**4 - inner**4)
    radius = (joint.shape.chord_diameter - joint.shape.chord_wall) / 2
    covered = radius / joint.sine / (STEEL.E * second)
    return matrix[5, 5] - covered, axis @ matrix[3:, 3:] @ axis - covered


def published(joint: Place) -> np.ndarray:
    """Two springs, from single joints in shells: in plane about the sideways axis, across it about the chord's axis."""
    single = SHELLS["single_joint_extra_compliance"][joint.geometry][joint.name]
    about_chord = single["out_of_plane_rad_per_Nmm"] / joint.sine**2
    in_plane = single["in_plane_rad_per_Nmm"]
    stiff = 1e-3 * max(about_chord, in_plane)
    arm = joint.shape.chord_diameter
    return np.diag([stiff * arm**2] * 3 + [about_chord, stiff, in_plane])


def triangle(geometry: str, law: Law | None = None, from_the_wall: bool = False) -> FrameModel:
    """Beams of a geometry; with a law its springs. from_the_wall : each branch is rigid from the chord's axis to the
    middle of its wall."""
    held = SHELLS["geometries"][geometry]
    nodes = {key: tuple(at) for key, at in held["points_mm"].items()}
    branches = {"TT": ["stt", "tt"], "DT": ["o", "dt"]}
    springs: list[Spring] = []
    links: list[RigidLink] = []
    for name, (node, chord, _, branch, far) in PLACES.items():
        if law is None:
            continue
        joint = place(geometry, name)
        twin = f"{node}*"
        nodes[twin] = nodes[node]
        chain = branches[branch]
        chain[chain.index(node)] = twin
        if from_the_wall:
            wall = f"{node}:wall"
            branch_axis = np.subtract(held["points_mm"][far], nodes[node])
            chord_od, chord_wall = held["tubes_od_wall_mm"][chord]
            reach = (chord_od - chord_wall) / 2 / joint.sine
            nodes[wall] = tuple(nodes[node] + reach * branch_axis / np.linalg.norm(branch_axis))
            chain[chain.index(twin)] = wall
            links.append(RigidLink(twin, wall))
        springs.append(soft_joint(name, node, twin, law(joint), tuple(joint.e1), tuple(joint.e2)))
    elements = []
    for tube, chain in (*CHAINS, *branches.items()):
        section = round_tube(*held["tubes_od_wall_mm"][tube], 0.3)
        for a, b in pairwise(chain):
            axis = np.subtract(nodes[b], nodes[a])
            vxy = (0.0, 1.0, 0.0) if abs(axis[2]) > 1 else (-axis[1], axis[0], 0.0)
            elements.append(Element(f"{tube}.{a}", a, b, section, STEEL, vxy, tube))
    return FrameModel(nodes, tuple(elements), tuple(springs), rigid_links=tuple(links))


def figures(
    geometry: str, support: str, law: Law | None = None, from_the_wall: bool = False
) -> Mapping[str, float]:
    """Every quantity of the shells' table under one support set, by its name there."""
    model = triangle(geometry, law, from_the_wall)
    length = SHELLS["geometries"][geometry]["head_tube_length_mm"]
    supports = {"bl": (1,) * 6, "br": (1,) * 6}
    if support == "B":
        supports["sttop"] = (0, 0, 1, 0, 0, 0)
    pair = 100e3 / length
    loads = {
        "Fz_top": {"top": (0, 0, 200.0, 0, 0, 0)},
        "Mx": {"top": (0, 0, 0, 50e3, 0, 0), "bot": (0, 0, 0, 50e3, 0, 0)},
        "Fy_bot": {"bot": (0, -500.0, 0, 0, 0, 0)},
        "Fz_bot": {"bot": (0, 0, 200.0, 0, 0, 0)},
        "couple": {"top": (0, 0, pair, 0, 0, 0), "bot": (0, 0, -pair, 0, 0, 0)},
        "Fz_seat": {"sttop": (0, 0, 200.0, 0, 0, 0)},
    }
    results = solve(model, [LoadCase(key, load, supports=supports) for key, load in loads.items()])
    found = {}
    for name, result in results.items():
        top, bottom = result.displacement("top"), result.displacement("bot")
        for k, move in enumerate(MOVES):
            unit = "mm" if k < 3 else "rad"
            found[f"{name}__{move}_top_{unit}"] = top[k]
            found[f"{name}__{move}_bot_{unit}"] = bottom[k]
        found[f"{name}__rx_mean_rad"] = (top[3] + bottom[3]) / 2
        found[f"{name}__rel_uz_over_L_rad"] = (top[2] - bottom[2]) / length
        found[f"{name}__uz_seat_mm"] = result.displacement("sttop")[2]
    return found


def tables(
    law: Law | None = None, from_the_wall: bool = False
) -> dict[tuple[str, str], Mapping[str, float]]:
    """(geometry, support) -> figures."""
    return {
        (geometry, support): figures(geometry, support, law, from_the_wall)
        for geometry in SHELLS["geometries"]
        for support in "AB"
    }


def misses(
    held: Mapping[tuple[str, str], Mapping[str, float]], rings: str = "rigid"
) -> tuple[float, float]:
    """Largest error of a compliance, percent, and of a percent change of a stiffness, points, against the shells."""
    errors = [
        held[case["geometry"], case["support_set"]][case["quantity"]] / case["shell"] - 1
        for case in SHELLS["cases"]
        if case["head_rings"] == rings
    ]
    points = []
    for change in SHELLS["changes"]:
        if change["head_rings"] == rings:
            before, after = change["change"].split(" -> ")
            first = held[before, change["support_set"]][change["quantity"]]
            second = held[after, change["support_set"]][change["quantity"]]
            points.append(100 * (first / second - 1) - change["shell_percent"])
    return float(100 * np.abs(errors).max()), float(np.abs(points).max())
