"""A ladder of closed forms, solved on the spot with the same solver: each rung has a formula anybody can check.

Sources: Roark's Formulas for Stress and Strain, 7th ed. 2002 (cantilever Table 8.1, ring Table 9.2, torsion ch. 10);
Castigliano for the right-angle bent; Kleinlogel, Rigid Frame Formulas, 1958, for the portal. From memory, as
tests/data/frame_cases.json states them.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import cos, pi, radians, sin

from ..model.arrays import Xyz
from ..model.cases.tools import CLAMPED
from ..model.mechanics.frame_model import Element, FrameModel, LoadCase
from ..model.mechanics.result import Result
from ..model.mechanics.solve import solve
from ..model.tubes.materials import Material
from ..model.tubes.sections import Section, round_tube

STEEL = Material("steel", 205e3, 80e3, 7.85e-9)
TUBE = round_tube(28.6, 0.9, 0.28)


@dataclass(frozen=True)
class Rung:
    """One closed form beside our number. `tolerance` is relative; `why` explains one above rounding."""

    name: str
    formula: str
    expected: float
    got: float
    unit: str
    tolerance: float
    why: str = ""

    @property
    def error(self) -> float:
        """Relative error."""
        return abs(self.got / self.expected - 1)

    @property
    def ok(self) -> bool:
        return self.error <= self.tolerance


def ladder() -> tuple[Rung, ...]:
    """All rungs, the simplest first."""
    return (*_cantilever(), _bent(), _ring(), _portal())


def _solve(
    nodes: dict[str, Xyz],
    pairs: list[tuple[str, str]],
    section: Section,
    load: dict[str, tuple[float, ...]],
    supports: dict[str, tuple[int, ...]],
    vxy: Callable[[str, str], Xyz] | None = None,
) -> Result:
    elements = tuple(
        # Models lie in x-y: z is parallel to none of their elements.
        Element(f"e{k}", i, j, section, STEEL, (0.0, 0.0, 1.0) if vxy is None else vxy(i, j))
        for k, (i, j) in enumerate(pairs)
    )
    return solve(FrameModel(nodes, elements), [LoadCase("ladder", load, supports=supports)])[
        "ladder"
    ]


def _cantilever() -> tuple[Rung, ...]:
    """Tip load with shear, and tip torque, on 600 mm of tube."""
    length = 600.0
    force = 100.0
    torque = 1e4
    nodes = {"a": (0.0, 0.0, 0.0), "b": (length, 0.0, 0.0)}
    bend = _solve(nodes, [("a", "b")], TUBE, {"b": (0, force, 0, 0, 0, 0)}, {"a": CLAMPED})
    turn = _solve(nodes, [("a", "b")], TUBE, {"b": (0, 0, 0, torque, 0, 0)}, {"a": CLAMPED})
    # with shear (Timoshenko 1921): without it the rung would pass a solver that forgot it
    sink = force * length**3 / (3 * STEEL.E * TUBE.Iz) + force * length / (STEEL.G * TUBE.Asy)
    return (
        Rung(
            "cantilever, tip load",
            "F L³/3EI + F L/GAs",
            sink,
            float(bend.displacement("b")[1]),
            "mm",
            1e-9,
        ),
        Rung(
            "cantilever, tip torque",
            "T L/GJ",
            torque * length / (STEEL.G * TUBE.J),
            float(turn.displacement("b")[3]),
            "rad",
            1e-9,
        ),
    )


def _bent() -> Rung:
    """Right-angle bent in a plane, loaded across it: bending of both legs and torsion of the first."""
    a = 400.0
    b = 300.0
    force = 100.0
    result = _solve(
        {"o": (0, 0, 0), "c": (a, 0, 0), "t": (a, b, 0)},
        [("o", "c"), ("c", "t")],
        TUBE,
        {"t": (0, 0, force, 0, 0, 0)},
        {"o": CLAMPED},
    )
    ei = STEEL.E * TUBE.Iz
    gj = STEEL.G * TUBE.J
    gas = STEEL.G * TUBE.Asy
    # bending of both legs, torsion of the first, shear of both (Castigliano's theorem)
    expected = force * ((a**3 + b**3) / (3 * ei) + a * b**2 / gj + (a + b) / gas)
    return Rung(
        "right-angle bent, load across",
        "F (a³+b³)/3EI + F a b²/GJ + F (a+b)/GAs",
        expected,
        float(result.displacement("t")[2]),
        "mm",
        1e-9,
    )


def _ring() -> Rung:
    """Thin ring squeezed by two forces: change of diameter, quarter by symmetry."""
    radius = 300.0
    force = 100.0
    pieces = 72
    # thin against the radius, as the formula wants it
    section = round_tube(6.0, 3.0, 0.28)
    nodes = {
        f"n{k}": (
            radius * cos(radians(90 * k / pieces)),
            radius * sin(radians(90 * k / pieces)),
            0.0,
        )
        for k in range(pieces + 1)
    }
    pairs = [(f"n{k}", f"n{k + 1}") for k in range(pieces)]
    # on the axes of symmetry: free along them, neither turning nor leaving them
    slide_x = (0, 1, 1, 1, 1, 1)
    slide_y = (1, 0, 1, 1, 1, 1)
    result = _solve(
        nodes,
        pairs,
        section,
        # half the force, because the other quarter takes the other half
        {f"n{pieces}": (0, -force / 2, 0, 0, 0, 0)},
        {"n0": slide_x, f"n{pieces}": slide_y},
    )
    expected = force * radius**3 / (STEEL.E * section.Iz) * (pi / 4 - 2 / pi)
    return Rung(
        "thin ring, two forces",
        "F R³/EI (π/4 - 2/π)",
        expected,
        # both ends of the diameter move, the quarter shows one of them
        -2 * float(result.displacement(f"n{pieces}")[1]),
        "mm",
        1e-3,
        "the formula leaves out hoop stretch and shear, and the ring is 72 straight pieces a quarter",
    )


def _portal() -> Rung:
    """Clamped portal pushed sideways; legs and beam alike, areas so large that nothing stretches."""
    height = 4000.0
    width = 6000.0
    force = 1e4
    # the formula leaves out stretch and shear: an area without end leaves them out here too
    section = Section(1e9, 4e7, 4e7, 1e6)
    nodes = {
        "1": (0.0, 0.0, 0.0),
        "2": (0.0, height, 0.0),
        "3": (width, height, 0.0),
        "4": (width, 0.0, 0.0),
    }
    result = _solve(
        nodes,
        [("1", "2"), ("2", "3"), ("4", "3")],
        section,
        {"2": (force, 0, 0, 0, 0, 0)},
        {"1": CLAMPED, "4": CLAMPED},
    )
    k = height / width
    return Rung(
        "clamped portal, sideways",
        "foot moment F h/2 (3k+1)/(6k+1)",
        # From N mm to N·m, here and below.
        force * height / 2000 * (3 * k + 1) / (6 * k + 1),
        float(result.reactions["1"][5]) / 1000,
        "N·m",
        1e-4,
        "the formula holds for members that do not stretch; the areas here are only very large",
    )
