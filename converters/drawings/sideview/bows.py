"""How far a tube's course bows from the straight line between its ends: measured anywhere along it, and in words."""

from collections.abc import Callable

import numpy as np

from ....model.arrays import Array

STRAIGHT = 3.0  # mm of bow that nobody calls a bend
MIDDLE = 0.5  # share of the chord where an arc bows most
NEAR_MIDDLE = 0.06  # share from the middle within which the greatest bow is an arc's
PLACES = 101  # along a tube where its bow is looked at

Bow = Callable[[float], float]


def bows_at(path: Array) -> Bow:
    """The bow of a course (k, 2) as a function of the share of its chord, mm: up, or forward where the tube stands."""
    chord = path[-1] - path[0]
    length = np.hypot(*chord)
    u = chord / length
    normal = np.array([-u[1], u[0]])
    stands = abs(u[1]) > abs(u[0])
    if normal[0 if stands else 1] < 0:
        normal = -normal
    rel = path - path[0]
    along = rel @ u / length
    order = np.argsort(along)
    across = rel @ normal
    return lambda share: float(np.interp(share, along[order], across[order]))


def greatest_bow(bow: Bow) -> float:
    """Share of the chord where a course bows most."""
    shares = np.linspace(0.0, 1.0, PLACES)
    off = np.array([abs(bow(share)) for share in shares.tolist()])
    return float(shares[int(off.argmax())])


def bow_words(bow: float, share: float, path: Array) -> str:
    """Such as ``bows 34.8 mm down at 0.50 of its length``; forward and back on a tube that stands."""
    dx, dy = np.abs(path[-1] - path[0])
    ways = ("forward", "back") if dy > dx else ("up", "down")
    way = ways[0] if bow >= 0 else ways[1]
    return f"{abs(bow):.1f} mm {way} at {share:.2f} of its length"


def bend_cell(bow: float, share: float) -> str:
    """What the column bend of a sheet would say."""
    if abs(share - MIDDLE) <= NEAR_MIDDLE:
        return f"sagitta {bow:.1f}"
    return f"via {share:.2f} up {bow:.1f}"
