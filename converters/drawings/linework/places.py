"""Where each of many curves begins, passes half its vertices and ends: looked up together, as a drawing may hold
thousands."""

from collections.abc import Sequence

import numpy as np

from ....model.arrays import Array
from ..drawing import Curve


def places(curves: Sequence[Curve]) -> Array:
    """First, middle and last vertex of every curve, (n, 3, 2), drawing units."""
    if not curves:
        return np.zeros((0, 3, 2))
    vertices = np.concatenate([curve.points for curve in curves])
    count = np.array([len(curve.points) for curve in curves])
    first = np.cumsum(count) - count
    found: Array = vertices[np.stack((first, first + count // 2, first + count - 1), axis=1)]
    return found
