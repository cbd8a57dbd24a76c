"""Where the frame gives, as bars: strain energy of each tube by kind, percent of the whole."""

from typing import TYPE_CHECKING

import numpy as np

from ....model.decide import settled
from ....model.mechanics.energy import KINDS, EnergyTable, energy_shares
from ....model.mechanics.result import Result
from ....model.words import spoken
from .style import BLUE, GREEN, INK, NORMAL, ORANGE, SMALL, VERMILION, new_figure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

SMALLEST = 0.005  # share below which tubes are gathered as `the rest`


def energy_picture(result: Result, title: str) -> "Figure":
    """Bars per tube, left and right added, the largest first."""
    table = energy_shares(result)
    figure = new_figure(
        title,
        f"where it gives: {result.case.title or result.case.name}",
        f"Share of the strain energy, left and right added. {result.case.notes}",
    )
    axes = figure.add_axes((0.17, 0.15, 0.77, 0.72))
    shares = by_tube(table)
    names = list(shares)[::-1]
    left = np.zeros(len(names))
    for kind, colour, hatch in zip(
        KINDS, (BLUE, ORANGE, GREEN, VERMILION), ("", "//", "..", "xx"), strict=True
    ):
        width = np.array([100 * shares[name][kind] for name in names])
        axes.barh(
            names,
            width,
            left=left,
            color=colour,
            hatch=hatch,
            edgecolor="white",
            linewidth=0,
            label=kind,
        )
        left += width
    for y, total in enumerate(left):
        axes.text(total + 0.4, y, f"{total:.1f} %", va="center", fontsize=SMALL, color=INK)
    axes.set_xlabel("share of the strain energy, %", fontsize=NORMAL, color=INK)
    axes.tick_params(labelsize=NORMAL, colors=INK, length=0)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.legend(fontsize=NORMAL, frameon=False, loc="lower right")
    return figure


def by_tube(table: EnergyTable) -> dict[str, dict[str, float]]:
    """Tube in words -> kind -> share, the largest first; springs are not in it."""
    sums: dict[str, dict[str, float]] = {}
    for member, row in table.shares.items():
        tube = member.removesuffix("_right").removesuffix("_left")
        if table.tubes[tube] >= SMALLEST:
            name = spoken(tube) or "no name"
        else:
            name = "the rest"
        held = sums.setdefault(name, dict.fromkeys(KINDS, 0.0))
        for kind in KINDS:
            held[kind] += row[kind]
    return dict(
        sorted(
            sums.items(), key=lambda item: (item[0] == "the rest", -settled(sum(item[1].values())))
        )
    )
