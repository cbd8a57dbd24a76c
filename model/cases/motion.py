"""Loads that no support balances: the bicycle in motion, held by nothing but its own inertia."""

from dataclasses import replace

from ..frame.bicycle import Bicycle, PartMasses
from ..frame.carried import ridden_masses
from ..frame.layout import FrameLayout
from ..mechanics.frame_model import LoadCase
from ..mechanics.inertia import as_free
from . import bench

_PARTS = PartMasses()
INERTIA = (
    "nothing holds the bicycle: the push is balanced by the inertia of bicycle, rider and bags as they are pushed "
    "away together (inertia relief), and movement is counted against their mean motion; a quick push, before tyres "
    "and rider answer; rider rigid on saddle, bars and pedals, frame and fork taken as "
    f"{_PARTS.frame:g} and {_PARTS.fork:g} kg whatever their tubes; steering locked by the hands"
)


def as_ridden(case: LoadCase, bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The case with its loads balanced by the inertia of the ridden bicycle. Raises ModelError as `as_free` does."""
    return as_free(case, layout.joints, ridden_masses(bicycle, layout), "rear_axle")


def head_push_as_ridden(bicycle: Bicycle, layout: FrameLayout) -> LoadCase:
    """The sideways push at the head in motion: what the rider feels of a gust, a hole, a shimmy."""
    return replace(
        as_ridden(bench.side_push(bicycle, layout), bicycle, layout),
        name="head_push_as_ridden",
        title="Sideways push at the head tube, as ridden",
        notes=f"{bicycle.loads.side_push:.0f} N to the right at the top of the head tube; {INERTIA}",
        held=INERTIA,
    )
