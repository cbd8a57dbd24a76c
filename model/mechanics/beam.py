"""The straight prismatic beam element in space, all elements of a model at once.

Twelve end components per element, local axes: u v w θx θy θz at end i, then at end j. Forces in the same
order: N Vy Vz T My Mz. Bending with shear after Przemieniecki, Theory of Matrix Structural Analysis
(1968), eq. 5.116: Φy = 12 E Iz / (G Asy L²) goes with bending in the local x-y plane.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from math import prod

import numpy as np

from ..arrays import Array, crossed
from ..errors import ModelError
from .frame_model import FrameModel, MemberLoad

LARGEST = (
    1e100  # lengths, stiffnesses and loads beyond it overflow when they are squared or added up
)


def local_axes(axis: Array, vxy: Array, names: list[str]) -> tuple[Array, Array]:
    """Lengths (m,) and rotation matrices (m, 3, 3) whose rows are the local x, y, z in global axes.

    Raises
    ------
    ModelError
        For a zero-length element or an orientation vector parallel to it, naming the element.
    """
    length = np.linalg.norm(axis, axis=1)
    _refuse(length <= 0, names, "has no length")
    _refuse(
        ~(length < LARGEST),
        names,
        "is longer than any number that can be worked with; check the units",
    )
    # z before y: z = x × vxy is square to both whatever angle vxy makes with the axis.
    x = axis / length[:, None]
    z = crossed(x, vxy)
    # |x × vxy| is the sine of the angle between them: relative to |vxy|, so that its unit does not
    # matter.
    size = np.linalg.norm(z, axis=1)
    _refuse(
        ~(size > 1e-9 * np.linalg.norm(vxy, axis=1)),
        names,
        "has an orientation vector that is missing or parallel to it",
    )
    z /= size[:, None]
    return length, np.stack([x, crossed(z, x), z], axis=1)


def _refuse(bad: np.ndarray, names: list[str], what: str) -> None:
    if bad.any():
        raise ModelError(f"element {names[int(np.argmax(bad))]} {what}")


def local_stiffness(p: dict[str, Array], length: Array) -> Array:
    """(m, 12, 12) stiffness in local axes from the property arrays of `FrameModel.properties`."""
    # Stretching and twisting are the same rod with EA or GJ, three components apart.
    k = np.zeros((len(length), 12, 12))
    _fill_rod(k, 0, p["E"] * p["A"] / length)
    _fill_rod(k, 3, p["G"] * p["J"] / length)
    _fill_bending(k, (1, 5, 7, 11), 1.0, p["E"] * p["Iz"], p["G"] * p["Asy"], length)
    _fill_bending(k, (2, 4, 8, 10), -1.0, p["E"] * p["Iy"], p["G"] * p["Asz"], length)
    return k


def _fill_rod(k: Array, dof: int, stiffness: Array) -> None:
    k[:, dof, dof] = k[:, dof + 6, dof + 6] = stiffness
    k[:, dof, dof + 6] = k[:, dof + 6, dof] = -stiffness


def _fill_bending(
    k: Array, dofs: tuple[int, int, int, int], sign: float, ei: Array, gas: Array, length: Array
) -> None:
    """One bending plane. `sign` is -1 in the x-z plane, where a positive rotation about y gives negative slope."""
    phi = shear_parameter(ei, gas, length)
    common = ei / (length * (1 + phi))
    shear = 12 * common / length**2
    moment = sign * 6 * common / length
    near = (4 + phi) * common
    far = (2 - phi) * common
    fill_plane(k, dofs, shear, moment, near, far)


def fill_plane(
    k: Array, dofs: tuple[int, int, int, int], shear: Array, moment: Array, near: Array, far: Array
) -> None:
    """The symmetric pattern that every matrix of one bending plane has, filled into k (m, 12, 12) in place.

    dofs : deflection and rotation at either end, as component numbers. shear : of a deflection on itself; moment : of
    a deflection on a rotation; near, far : of a rotation on itself and on the other end's.
    """
    v1, r1, v2, r2 = dofs
    for row, column, value in (
        (v1, v1, shear),
        (v2, v2, shear),
        (v1, v2, -shear),
        (v1, r1, moment),
        (v1, r2, moment),
        (v2, r1, -moment),
        (v2, r2, -moment),
        (r1, r1, near),
        (r2, r2, near),
        (r1, r2, far),
    ):
        k[:, row, column] = k[:, column, row] = value


def shear_parameter(ei: Array, gas: Array, length: Array) -> Array:
    """Φ = 12 EI / (G As L²); zero where the shear area is infinite (Euler-Bernoulli)."""
    return 12 * ei / (gas * length**2)


def to_global(matrix: Array, rotation: Array) -> Array:
    """Turn symmetric (m, k, k) matrices from local to global axes, R^T K R as two products of 3-columns: k is 12 for
    elements, 6 for springs and far ends."""
    # R is block diagonal: two batched products with 3 × 3 blocks do a quarter of the work of 12 ×
    # 12 ones.
    shape = matrix.shape
    threes = (shape[0], shape[1] * shape[2] // 3, 3)
    half = (matrix.reshape(threes) @ rotation).reshape(shape)
    whole = (half.transpose(0, 2, 1).reshape(threes) @ rotation).reshape(shape)
    return np.asarray(whole)


def spd_inverse(matrix: Array) -> Array:
    """Inverse of symmetric positive definite matrices (..., n, n), scaled to unit diagonal first (mm and rad mixed)."""
    # Lengths and angles in one matrix: unscaled, the inverse loses half its digits.
    scale = 1 / np.sqrt(np.einsum("...ii->...i", matrix))
    outer = scale[..., :, None] * scale[..., None, :]
    inverse = np.linalg.inv(matrix * outer) * outer
    return np.asarray((inverse + np.swapaxes(inverse, -1, -2)) / 2)


def uniform_load_forces(w: Array, length: float) -> Array:
    """(12,) nodal forces, local axes, that replace a uniform load w = (wx, wy, wz) per length.

    Clamped-beam values wL/2 and wL²/12; shear flexibility does not change them for a prismatic element.
    """
    # The load across the element also turns the clamped ends; the one along it does not.
    end = np.concatenate([w * length / 2, np.zeros(3)])
    moment = np.array([0, 0, 0, 0, -w[2], w[1]]) * length**2 / 12
    return np.concatenate([end + moment, end - moment])


@dataclass(frozen=True)
class Beams:
    """The elements of one model as arrays, ready to assemble.

    length (m,), rotation (m, 3, 3), k_full (m, 12, 12) local without end releases.
    """

    model: FrameModel
    length: Array
    rotation: Array
    k_full: Array

    @classmethod
    def of(cls, model: FrameModel) -> "Beams":
        # All elements at once: a frame has a hundred, and Python would spend its time between them.
        axis = model.xyz[model.ends[:, 1]] - model.xyz[model.ends[:, 0]]
        vxy = np.array([e.vxy for e in model.elements], dtype=float).reshape(-1, 3)
        names = [e.id for e in model.elements]
        length, rotation = local_axes(axis, vxy, names)
        with np.errstate(
            over="ignore", invalid="ignore", divide="ignore"
        ):  # caught by name in the next line
            k = local_stiffness(model.properties, length)
        _refuse(
            ~(k.max(axis=(1, 2), initial=0.0) < LARGEST),
            names,
            "is stiffer than any number that can be worked with; check E, G, section and length and their units",
        )
        return cls(model, length, rotation, k)

    @cached_property
    def released(self) -> dict[int, tuple[int, ...]]:
        """Element number -> released end components, only the elements that have any."""
        return {k: e.releases for k, e in enumerate(self.model.elements) if e.releases}

    @cached_property
    def k_local(self) -> Array:
        """(m, 12, 12) local stiffness with released components condensed out."""
        if not self.released:
            return self.k_full
        # A released component carries nothing, so it follows the others: k - k_*r k_rr⁻¹ k_r*.
        k = self.k_full.copy()
        for number, dofs in self.released.items():
            k[number] -= k[number][:, dofs] @ self.release_matrix(number)
        return k

    def release_matrix(self, number: int) -> Array:
        """(r, 12) matrix k_rr^-1 k_r* of one element: what the released ends do when the others move."""
        dofs = list(self.released[number])
        k = self.k_full[number]
        try:
            return np.linalg.solve(k[np.ix_(dofs, dofs)], k[dofs])
        except np.linalg.LinAlgError as error:
            name = self.model.elements[number].id
            raise ModelError(
                f"element {name}: with these end releases it cannot carry anything"
            ) from error

    @cached_property
    def k_global(self) -> Array:
        return to_global(self.k_local, self.rotation)

    @cached_property
    def dofs(self) -> np.ndarray:
        """(m, 12) global dof numbers of the element ends."""
        nodes = self.model.ends
        return np.asarray((6 * nodes[:, :, None] + np.arange(6)).reshape(-1, 12))

    def load_forces(self, loads: tuple[MemberLoad, ...]) -> Array:
        """(m, 12) local nodal forces that replace the member loads, releases condensed."""
        forces = np.zeros((len(self.length), 12))
        for load in loads:
            number = self._number(load.element)
            # Loads may be stated in either frame; the element works in its own.
            w = np.asarray(load.w, dtype=float)
            if load.frame == "global":
                w = self.rotation[number] @ w
            forces[number] += uniform_load_forces(w, float(self.length[number]))
        for number, dofs in self.released.items():
            # What a released end cannot carry goes to the components that are left.
            forces[number] -= self.release_matrix(number).T @ forces[number][list(dofs)]
        return forces

    def _number(self, element: str) -> int:
        if element not in self.model.element_index:
            raise ModelError(f"a load names element '{element}', which the model does not have")
        return self.model.element_index[element]

    def turn(self, vectors: Array, to_local: bool) -> Array:
        """Turn (m, 12) or (m, 12, k) end vectors between global and local axes."""
        rotation = self.rotation[:, None]
        if not to_local:
            rotation = np.swapaxes(rotation, -1, -2)
        threes = vectors.reshape(len(vectors), 4, 3, prod(vectors.shape[2:]))
        return np.asarray(rotation @ threes).reshape(vectors.shape)


_POINTS, _WEIGHTS = np.polynomial.legendre.leggauss(2)


def stretch_flexibility(beams: Beams, numbers: Sequence[int], end: int, lengths: Array) -> Array:
    """(k, 6, 6) movement of one end of a chain of elements under loads there, held so far from it along the chain.

    numbers : the chain's elements from start to end. end : 0 its start, -1 its end. lengths : (k,) mm, from that end.
    Global axes; forces then moments. The unit-load integral of statics: its integrand is of the second degree in each
    element, so two Gauss points are exact.
    """
    model = beams.model
    if end == 0:
        chain = list(numbers)
        near, far = model.ends[chain].T
    else:
        chain = list(numbers)[::-1]
        far, near = model.ends[chain].T
    span = beams.length[chain]
    before = np.cumsum(span) - span
    # (k, m) what each length takes of each element, from the element's near end
    covered = np.clip(np.asarray(lengths)[:, None] - before, 0.0, span)
    stations = covered[..., None] * (_POINTS + 1) / 2
    weights = covered[..., None] * _WEIGHTS / 2
    along = (model.xyz[far] - model.xyz[near]) / span[:, None]
    places = model.xyz[near][:, None] + stations[..., None] * along[:, None]
    arms = model.xyz[near[0]] - places
    # a force at the end is a force at the station and a moment, arm x force
    to_section = np.zeros((*stations.shape, 6, 6))
    to_section[..., :3, :3] = to_section[..., 3:, 3:] = np.eye(3)
    to_section[..., 3:, :3] = np.swapaxes(np.cross(arms[..., None, :], np.eye(3)), -1, -2)
    turn = np.zeros((len(chain), 1, 6, 6))
    turn[:, 0, :3, :3] = turn[:, 0, 3:, 3:] = beams.rotation[chain]
    forces = turn @ to_section
    give = 1 / section_stiffnesses(model)[chain]
    return np.asarray(
        np.einsum("kmg,kmgai,ma,kmgaj->kij", weights, forces, give, forces, optimize=True)
    )


def section_stiffnesses(model: FrameModel) -> Array:
    """(m, 6) section stiffnesses EA, GAsy, GAsz, GJ, EIy, EIz; inf where shear flexibility is left out."""
    p = model.properties
    return np.column_stack(
        [
            p["E"] * p["A"],
            p["G"] * p["Asy"],
            p["G"] * p["Asz"],
            p["G"] * p["J"],
            p["E"] * p["Iy"],
            p["E"] * p["Iz"],
        ]
    )
