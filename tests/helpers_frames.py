"""Small frames for tests of the mechanics: a cantilever, a published bicycle space frame, random frames."""

from collections.abc import Iterable
from dataclasses import replace
from math import inf

import numpy as np
from droptrail.model.mechanics.frame_model import (
    Element,
    EqualDofs,
    FrameModel,
    LoadCase,
    Measure,
    RigidLink,
    Spring,
)
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import Section, round_tube

ALL_SIX = (1, 1, 1, 1, 1, 1)


def no_shear(section: Section) -> Section:
    return replace(section, Asy=inf, Asz=inf)


def tube_material(E: float, nu: float, rho: float = 0.0, **more: float) -> Material:
    return Material("test", E, E / (2 * (1 + nu)), rho, **more)


def chain(
    points: Iterable[tuple[float, float, float]],
    section: Section,
    material: Material,
    vxy: tuple[float, float, float] = (0.0, 1.0, 0.0),
    member: str = "beam",
) -> FrameModel:
    """Elements from point to point; nodes are called 0, 1, 2 ..."""
    nodes = {str(k): p for k, p in enumerate(points)}
    elements = tuple(
        Element(f"{member}.{k}", str(k - 1), str(k), section, material, vxy, member)
        for k in range(1, len(nodes))
    )
    return FrameModel(nodes, elements)


def cantilever(section: Section, material: Material, length: float, pieces: int = 1) -> FrameModel:
    return chain([(length * k / pieces, 0.0, 0.0) for k in range(pieces + 1)], section, material)


def tip(model: FrameModel) -> str:
    return list(model.nodes)[-1]


def tip_load(model: FrameModel, *load: float, measures: tuple[Measure, ...] = ()) -> LoadCase:
    """The first node clamped, six load components at the last."""
    return LoadCase("tip", {tip(model): load}, supports={"0": ALL_SIX}, measures=measures)


def space_frame_a() -> tuple[FrameModel, LoadCase]:
    """Bicycle space frame of the University of Alberta ANSYS tutorial (2001): tubes 25 x 2 and 12 x 1 mm.

    Geometry, sections and material as printed there; supports and the nodes of the loads from memory.
    """
    nodes = {
        "1": (0.0, 325.0, 0.0),
        "2": (0.0, 400.0, 0.0),
        "3": (500.0, 400.0, 0.0),
        "4": (500.0, 0.0, 0.0),
        "5": (825.0, 0.0, 50.0),
        "6": (825.0, 0.0, -50.0),
    }
    material = tube_material(70e3, 0.33, 2.7e-9)
    main, thin = (no_shear(round_tube(od, wall, 0.33)) for od, wall in ((25.0, 2.0), (12.0, 1.0)))
    pairs = (
        ("1", "2", main),
        ("2", "3", main),
        ("3", "4", main),
        ("4", "1", main),
        ("4", "6", main),
        ("4", "5", main),
        ("3", "5", thin),
        ("3", "6", thin),
    )
    elements = tuple(
        Element(f"{i}-{j}", i, j, s, material, (0.0, 0.1, 1.0), f"{i}-{j}") for i, j, s in pairs
    )
    case = LoadCase(
        "ride",
        {"3": (0.0, -600.0, 0, 0, 0, 0), "4": (0.0, -200.0, 0, 0, 0, 0)},
        supports={"1": (1, 1, 1, 0, 0, 0), "5": (0, 1, 1, 0, 0, 0), "6": (0, 1, 1, 0, 0, 0)},
    )
    return FrameModel(nodes, elements, name="space frame A"), case


def random_frame(seed: int, nodes: int = 7, links: bool = True) -> tuple[FrameModel, LoadCase]:
    """A connected space frame with random tubes, springs between coincident nodes, a rigid link and a hinge."""
    rng = np.random.default_rng(seed)
    xyz = {str(k): tuple(rng.uniform(-400, 400, 3)) for k in range(nodes)}
    materials = [
        tube_material(rng.uniform(6e4, 2.1e5), rng.uniform(0.2, 0.35), 7.85e-9) for _ in range(2)
    ]
    pairs = [(str(rng.integers(0, k)), str(k)) for k in range(1, nodes)]
    pairs += [(str(a), str(b)) for a, b in (rng.choice(nodes, 2, replace=False) for _ in range(4))]
    elements = [
        Element(
            f"e{k}",
            i,
            j,
            _random_section(rng),
            materials[k % 2],
            tuple(rng.normal(size=3)),
            f"m{k % 3}",
        )
        for k, (i, j) in enumerate(dict.fromkeys(pairs))
    ]
    more: dict[str, tuple] = {
        "springs": (
            Spring(
                "ground",
                "1",
                None,
                tuple(rng.uniform(1, 100, 6)),
                tuple(rng.normal(size=3)),
                tuple(rng.normal(size=3)),
            ),
        )
    }
    if links:
        last = str(nodes - 1)
        xyz |= {"arm": tuple(np.add(xyz[last], (10.0, 20.0, -15.0))), "pin": xyz[last]}
        elements.append(
            Element("pinned", "pin", "0", _random_section(rng), materials[0], (0.2, 1.0, 0.3), "m0")
        )
        more |= {
            "rigid_links": (RigidLink(last, "arm"),),
            "equal_dofs": (EqualDofs(last, "pin", (0, 1, 2)),),
        }
        more["springs"] += (
            Spring(
                "hinge",
                "pin",
                last,
                (0.0, 0.0, 0.0, 2e5, 1e5, 3e5),
                tuple(rng.normal(size=3)),
                tuple(rng.normal(size=3)),
            ),
        )
    loaded = ["arm" if links else str(nodes - 1), "2", "3"]
    case = LoadCase(
        "random",
        {n: tuple(rng.normal(size=6) * [100, 100, 100, 5e3, 5e3, 5e3]) for n in loaded},
        supports={"0": ALL_SIX, "1": (0, 1, 0, 0, 0, 1)},
    )
    return FrameModel(xyz, tuple(elements), **more), case


def _random_section(rng: np.random.Generator) -> Section:
    round_one = round_tube(rng.uniform(12, 40), rng.uniform(0.6, 2.5), 0.3)
    return replace(
        round_one,
        Iy=round_one.Iy * rng.uniform(0.5, 1.5),
        Asy=round_one.Asy * rng.uniform(0.8, 1.2),
    )
