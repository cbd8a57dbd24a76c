"""Front triangles as beams, with rigid joints and with the law's, beside their shells; worked out on the spot."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from .beams import head_flexibility_of_beams
from .front_triangle import Triangle, quantities, seat_held
from .invented_triangles import DRAWN, INVENTED, each_once
from .results import REFERENCE

PAIRS = (*INVENTED, *DRAWN)
SUPPORTS = ("A", "B")
# What a builder chooses by: sideways at both ends of the head tube, twist of the head, down at the front.
CHOSEN_BY = (
    "Fz_top__uz_top_mm",
    "Fz_bot__uz_bot_mm",
    "Mx__rx_mean_rad",
    "couple__rel_uz_over_L_rad",
    "Fy_bot__uy_bot_mm",
)
Movements = dict[tuple[str, str], float]  # (support, quantity) -> mm or rad


@dataclass(frozen=True)
class ShellsAndBeams:
    """One triangle: its movements in shells, as beams with rigid joints, as beams with the law's bare joints."""

    name: str
    shells: Movements
    rigid: Movements
    giving: Movements

    def errors(self, giving: bool) -> list[float]:
        """Percent by which each movement of the beams is off the shells'."""
        ours = self.giving if giving else self.rigid
        return [100.0 * (ours[key] / value - 1.0) for key, value in self.shells.items()]


@dataclass(frozen=True)
class TubeGain:
    """What another tube brings, percent of a stiffness: in shells, as beams rigid and giving."""

    name: str
    support: str
    quantity: str
    shells: float
    rigid: float
    giving: float


def _movements(triangle: Triangle, head_tube: float, give: bool) -> Movements:
    held = head_flexibility_of_beams(triangle, give)
    return {
        (support, quantity): value
        for support, matrix in zip(SUPPORTS, (held, seat_held(held)), strict=True)
        for quantity, value in quantities(matrix, head_tube).items()
    }


def _beside(name: str, triangle: Triangle, head_tube: float, shells: Movements) -> ShellsAndBeams:
    rigid = _movements(triangle, head_tube, give=False)
    giving = _movements(triangle, head_tube, give=True)
    return ShellsAndBeams(name, shells, rigid, giving)


def published_beside() -> list[ShellsAndBeams]:
    """The published geometries, ends of the head tube round."""
    data = json.loads(REFERENCE.read_text(encoding="utf-8"))
    found = []
    for name, entry in data["geometries"].items():
        # The beams are worked out with ends held round; shells with free ends would not compare.
        cases = [
            case
            for case in data["cases"]
            if case["geometry"] == name and case["head_rings"] == "rigid"
        ]
        shells = {(case["support"], case["quantity"]): case["shell"] for case in cases}
        triangle = Triangle.from_data(entry)
        found.append(_beside(name, triangle, entry["head_tube_length_mm"], shells))
    return found


def invented_beside(kept: Iterable[Mapping[str, Any]]) -> list[ShellsAndBeams]:
    """The invented triangles and those drawn at random, from the movements that `results` kept."""
    shells: dict[str, Movements] = {}
    for row in kept:
        place = row["support"], row["quantity"]
        shells.setdefault(row["triangle"], {})[place] = row["shell"]
    return [
        _beside(one.name, one.triangle, one.head_tube, shells[one.name]) for one in each_once(PAIRS)
    ]


def changes(found: Iterable[ShellsAndBeams]) -> list[TubeGain]:
    """What the changed tube of each invented pair brings."""
    by_name = {one.name: one for one in found}
    told = []
    for before, after in PAIRS:
        first = by_name[before.name]
        second = by_name[after.name]
        for support in SUPPORTS:
            for quantity in CHOSEN_BY:
                key = support, quantity
                gains = [
                    # Stiffness is the inverse of a movement: the one before over the one after.
                    100.0 * (a[key] / b[key] - 1.0)
                    for a, b in (
                        (first.shells, second.shells),
                        (first.rigid, second.rigid),
                        (first.giving, second.giving),
                    )
                ]
                told.append(TubeGain(after.name, support, quantity, *gains))
    return told
