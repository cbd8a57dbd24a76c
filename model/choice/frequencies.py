"""Natural frequencies as figures of a comparison: the reference's modes, followed through every variant.

A mode keeps its number in the reference; in a variant it is found again by its shape (MAC), not by its rank, so
that two modes that change places are not compared with one another.
"""

import numpy as np

from ..frame.bicycle import Bicycle
from ..frame.mesh import MeshOptions
from ..vibration.mode_words import describe
from ..vibration.modes import Modes, follow, modes
from ..vibration.setup import Supports, vibration_model
from .compare import Extra
from .figures import Figure

SPARE = 4  # further modes worked out, in which a followed mode may have gone


HELD = {
    "tyres": "on tyre springs, steering locked by the hands",
    "rigid": "axles held, steering locked by the hands",
    "free": "nothing held",
}


def frequencies(
    bicycle: Bicycle, count: int, supports: Supports = "tyres", options: MeshOptions | None = None
) -> Extra:
    """`count` elastic modes of the bicycle as figures ``mode_1`` ... in Hz; nan where a variant has none alike.

    Raises
    ------
    ModelError
        When the modes cannot be found or verified; see `modes`.
    """
    # Rigid motions come first; the spare ones catch a mode that changed its rank.
    reference = _modes(bicycle, count + SPARE + 6, supports, options)
    words = describe(reference)
    picked = np.arange(reference.rigid, min(reference.rigid + count, len(reference)))
    figures = tuple(
        Figure(
            f"mode_{k - reference.rigid + 1}",
            f"mode {k - reference.rigid + 1}: {words[k].title}",
            "Hz",
            "rider, wheels, luggage and parts as masses",
            HELD[supports],
        )
        for k in picked
    )

    def values(variant: Bicycle) -> list[float]:
        # The reference is followed to itself without another solve.
        if variant is bicycle:
            found = reference
        else:
            found = _modes(variant, count + SPARE + 6, supports, options)
        rows = follow(reference, found)[picked]
        # Below 0: the variant has no mode of that shape.
        return [float(found.frequencies_hz[row]) if row >= 0 else float("nan") for row in rows]

    return Extra(figures, values)


def _modes(bicycle: Bicycle, count: int, supports: Supports, options: MeshOptions | None) -> Modes:
    model, case = vibration_model(bicycle, supports, options=options)
    return modes(model, case.supports, case.springs, count)
