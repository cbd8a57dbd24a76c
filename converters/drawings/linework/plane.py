"""What a point or direction of the flat drawing is called in signatures."""

Vec = tuple[float, float]
