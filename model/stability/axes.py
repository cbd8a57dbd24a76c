"""From the frame's side view to the axes of `whipple`: mm with y up to m from the rear contact, z down."""

from ..geometry.dimensions import FrameDimensions


def road_axes(dimensions: FrameDimensions, x: float, y: float) -> tuple[float, float]:
    """A point of the side view, mm, in the axes of `whipple`: m from the rear contact, forward and down."""
    return (x - dimensions.rear_axle.x) / 1000, (dimensions.ground_y - y) / 1000
