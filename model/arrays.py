"""What arrays and points are called in signatures, once for every layer."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Xyz = tuple[float, float, float]  # a point in space, mm
