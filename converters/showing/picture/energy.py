"""Where the frame gives, as bars: strain energy of each tube by kind, percent of the whole."""

from typing import TYPE_CHECKING

import numpy as np

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
    # bars are drawn from below, so the largest comes last
    names = list(shares)[::-1]
    left = np.zeros(len(names))
    for kind, colour, hatch in zip(
        # hatched as well: the sheet may be printed in grey
        KINDS,
        (BLUE, ORANGE, GREEN, VERMILION),
        ("", "//", "..", "xx"),
        strict=True,
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
        # each kind begins where the one before ends, so that the bar is the tube's whole share
        left += width
    for y, total in enumerate(left):
        axes.text(total + 0.4, y, f"{total:.1f} %", va="center", fontsize=SMALL, color=INK)
    axes.set_xlabel("share of the strain energy, %", fontsize=NORMAL, color=INK)
    axes.tick_params(labelsize=NORMAL, colors=INK, length=0)
    axes.spines[["top", "right", "left"]].set_visible(False)
    axes.legend(fontsize=NORMAL, frameon=False, loc="lower right")
    return figure


def by_tube(table: EnergyTable) -> dict[str, dict[str, float]]:
    """Tube in words -> kind -> share, the largest first, small ones gathered at the end; springs are not in it."""
    large: dict[str, dict[str, float]] = {}
    rest = dict.fromkeys(KINDS, 0.0)
    for tube, kinds in table.kinds_of_tubes.items():
        if sum(kinds.values()) >= SMALLEST:
            # a member of a model file may have no name
            large[spoken(tube) or "no name"] = kinds
            continue
        for kind in KINDS:
            rest[kind] += kinds[kind]
    if any(rest.values()):
        large["the rest"] = rest
    return large
