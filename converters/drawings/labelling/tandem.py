"""A tandem told from a single bicycle: two seat tubes one behind the other, their feet joined by a tube.

All limits are in wheel radii, because the rough scale of a pose is taken from the wheelbase of a single bicycle.
"""

import numpy as np
from numpy.typing import NDArray

from ..linework.pose import Site
from ..linework.view import View

LEAN = (93.0, 128.0)  # degrees of a seat tube upwards from forward
# a seat tube's and the joining tube's least length; a chainstay is some 1.3
LEAST_SEAT = 0.7
LEAST_BOOM = 1.5
FOOT = 0.12  # the joining tube's end to the seat tube's foot
AXLE_HEIGHT = 0.55  # a foot's height above or below the rear axle
OFF_AXLE = 0.25  # a foot nearer to an axle is a fork's or stay's
# degrees
LEVEL = 25.0
PARALLEL = 12.0
MOST = 60  # lines of each kind looked at, longest first


def two_seat_tubes(v: View, front: Site) -> tuple[int, int, int] | None:
    """Strokes of (rear seat tube, front seat tube, tube between their feet); None for a single bicycle."""
    radius = front.tyre.radius * v.pose.scale
    low = np.where((v.ends[:, 1] <= v.ends[:, 3])[:, None], v.ends[:, :2], v.ends[:, 2:])
    high = v.ends[:, :2] + v.ends[:, 2:] - low
    angle = np.degrees(np.arctan2(high[:, 1] - low[:, 1], high[:, 0] - low[:, 0]))
    from_axle = np.minimum(np.hypot(*low.T), np.hypot(*(low - np.array(v.front)).T))
    seats = _longest(
        v,
        (angle >= LEAN[0])
        & (angle <= LEAN[1])
        & (v.length >= LEAST_SEAT * radius)
        & (from_axle >= OFF_AXLE * radius)
        & (np.abs(low[:, 1]) <= AXLE_HEIGHT * radius),
    )
    flat = np.minimum(angle, 180.0 - angle)
    for boom in _longest(v, (flat <= LEVEL) & (v.length >= LEAST_BOOM * radius)).tolist():
        ends = v.ends[boom].reshape(2, 2)
        back, fore = ends[np.argsort(ends[:, 0])]
        at_back = seats[np.hypot(*(low[seats] - back).T) <= FOOT * radius]
        at_fore = seats[np.hypot(*(low[seats] - fore).T) <= FOOT * radius]
        for one in at_back.tolist():
            for other in at_fore.tolist():
                if abs(angle[one] - angle[other]) <= PARALLEL:
                    return one, other, boom
    return None


def _longest(v: View, which: NDArray[np.bool_]) -> NDArray[np.int64]:
    index = np.flatnonzero(which)
    return index[np.argsort(-v.length[index])][:MOST]
