"""How thick an element looks: its outer fibre distances, or the thin round tube of the same stiffness without them."""

import numpy as np

from ...model.arrays import Array
from ...model.findings import Finding
from ...model.mechanics.frame_model import FrameModel


def half_sizes(model: FrameModel) -> Array:
    """(m, 2) outside half height (along local y) and half width (along local z) of every element, mm.

    A section without outer fibre distances is shown as the thin round tube with its area and mean second moment:
    I = A r^2 / 2.
    """
    # thin tube: I = A r²/2, so r² = 2 I / A, and twice the mean of Iy and Iz is their sum
    p = model.properties
    thin = np.sqrt((p["Iy"] + p["Iz"]) / p["A"])
    # reshaped so that a model without elements keeps two columns
    given = np.array([(e.section.cy, e.section.cz) for e in model.elements], dtype=float).reshape(
        -1, 2
    )
    # a section may state one of the two and not the other
    return np.where(given > 0, given, thin[:, None])


def size_findings(model: FrameModel) -> tuple[Finding, ...]:
    """Says so when thicknesses had to be guessed."""
    # zero means not stated, as None does
    guessed = [e.id for e in model.elements if not (e.section.cy and e.section.cz)]
    if not guessed:
        return ()
    words = (
        f"{len(guessed)} of {len(model.elements)} elements state no outside size (cy, cz); they are shown as thin "
        "round tubes with the area and stiffness stated"
    )
    return (Finding("outside-size-guessed", "info", words, guessed[0]),)
