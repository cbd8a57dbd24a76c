"""What arrays and points are called in signatures, once for every layer."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Xyz = tuple[float, float, float]  # a point in space, mm


def crossed(a: Array, b: Array) -> Array:
    """Cross product along the last axis; numpy's own takes longer to look at its arguments than to multiply."""
    x = a[..., 1] * b[..., 2] - a[..., 2] * b[..., 1]
    out = np.empty((*x.shape, 3))
    out[..., 0] = x
    out[..., 1] = a[..., 2] * b[..., 0] - a[..., 0] * b[..., 2]
    out[..., 2] = a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]
    return out


def run_of(path: Array) -> Array:
    """(..., k) arc length at every point of paths (..., k, 2) or (..., k, 3)."""
    steps = np.linalg.norm(np.diff(path, axis=-2), axis=-1)
    return np.concatenate([np.zeros_like(steps[..., :1]), np.cumsum(steps, axis=-1)], axis=-1)


@cache
def lower_places(size: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Rows and columns on and below the diagonal of a symmetric matrix; read only, as all of one size share them."""
    rows, columns = np.tril_indices(size)
    rows.flags.writeable = False
    columns.flags.writeable = False
    return rows, columns
