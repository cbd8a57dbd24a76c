"""What a solve gives back: complete, checked, and carrying its own evidence."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays import Array
from ..decide import first_largest
from .frame_model import FrameModel, LoadCase, Measure

ROUNDING = 1e-9  # of the largest movement; the solver's own error is smaller still


@dataclass(frozen=True)
class Result:
    """One load case solved. It exists only after residual, finiteness and balance have been checked.

    u : (n, 6) displacements and rotations, global, in the order of `model.nodes`.
    reactions : node -> (6,) force and moment of the support on the structure, supported dofs only.
    end_forces : (m, 12) forces and moments on the element ends, local axes: N Vy Vz T My Mz at i, then j.
    residual : |K u - f| / (|K| |u| + |f|). force_balance, moment_balance : the sum of loads, reactions and
    ground springs, relative to the largest of them (moments about the centroid of the nodes).
    """

    model: FrameModel
    case: LoadCase
    u: Array
    reactions: Mapping[str, Array]
    end_forces: Array
    residual: float
    force_balance: float
    moment_balance: float
    condition: float

    def displacement(self, node: str) -> Array:
        """(6,) displacement of a node."""
        return np.asarray(self.u[self.model.node_index[node]])

    @cached_property
    def largest_movement(self) -> tuple[str, float]:
        """The node that moves farthest, and how far."""
        size = np.linalg.norm(self.u[:, :3], axis=1)
        k = int(first_largest(size))
        return list(self.model.nodes)[k], float(size[k])

    @property
    def leading(self) -> Measure | None:
        """The first measure that has a stiffness: the figure a case is known by; None where all are movements."""
        for measure in self.case.measures:
            if self.stiffness[measure.name] is not None:
                return measure
        return None

    @cached_property
    def measured(self) -> dict[str, float]:
        """Measure name -> value in its unit (mm or degrees)."""
        values = {}
        for measure in self.case.measures:
            total = sum(float(np.dot(w, self.displacement(node))) for node, w in measure.weights)
            if measure.unit == "deg":
                values[measure.name] = float(np.degrees(total))
            else:
                values[measure.name] = total
        return values

    @cached_property
    def stiffness(self) -> dict[str, float | None]:
        """Measure name -> stiffness, N/mm or N·m/degree; None where the measure has no reference load."""
        out: dict[str, float | None] = {}
        for measure in self.case.measures:
            value = self.measured[measure.name]
            if measure.reference is None or self._is_rounding(value, measure.unit):
                out[measure.name] = None
            else:
                out[measure.name] = (
                    measure.reference / value / (1000.0 if measure.unit == "deg" else 1.0)
                )
        return out

    def _is_rounding(self, value: float, unit: str) -> bool:
        """Whether a movement is nothing but rounding beside the largest of its kind: no stiffness follows from it."""
        largest = float(
            np.abs(self.u[:, :3] if unit == "mm" else np.degrees(self.u[:, 3:])).max(initial=0.0)
        )
        return abs(value) <= ROUNDING * largest
