"""Consistent mass of the beam elements, and the lumped masses at nodes.

Bending with the shape functions of the shear-flexible beam: Friedman & Kosmatka 1993, "An improved two-node
Timoshenko beam finite element", Computers & Structures 47, 473-481 (matrices from memory, checked against
integrated shape functions in the tests); with infinite shear area these are the Hermite cubics of
Przemieniecki 1968, eq. 11.27. Torsional mass is rho Ip, the polar second moment, not rho J.
"""

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..mechanics.assembly import assemble
from ..mechanics.beam import Beams, shear_parameter, to_global
from ..mechanics.frame_model import FrameModel


def local_mass(p: dict[str, Array], length: Array, rotary: bool) -> Array:
    """(m, 12, 12) consistent mass in local axes from the arrays of `FrameModel.properties`.

    rotary : add the rotary inertia of the section in bending.
    """
    # Stretching and twisting: a rod with linear shapes, mass ρA and ρIp.
    m = np.zeros((len(length), 12, 12))
    _fill_rod(m, 0, p["rho"] * p["A"] * length)
    _fill_rod(m, 3, p["rho"] * p["Ip"] * length)
    for dofs, sign, second, shear in (
        ((1, 5, 7, 11), 1.0, "Iz", "Asy"),
        ((2, 4, 8, 10), -1.0, "Iy", "Asz"),
    ):
        # The same Φ as in the stiffness: mass must follow the shapes the element really takes.
        phi = shear_parameter(p["E"] * p[second], p["G"] * p[shear], length)
        if rotary:
            inertia = p["rho"] * p[second]
        else:
            inertia = np.zeros_like(length)
        _fill_bending(m, dofs, sign, p["rho"] * p["A"], inertia, phi, length)
    return m


def _fill_rod(m: Array, dof: int, total: Array) -> None:
    m[:, dof, dof] = m[:, dof + 6, dof + 6] = total / 3
    m[:, dof, dof + 6] = m[:, dof + 6, dof] = total / 6


def _fill_bending(
    m: Array,
    dofs: tuple[int, int, int, int],
    sign: float,
    line: Array,
    inertia: Array,
    phi: Array,
    length: Array,
) -> None:
    """One bending plane: `line` mass and `inertia` rotary inertia per length. `sign` as in `beam`."""
    v1, r1, v2, r2 = dofs
    a = line * length / (1 + phi) ** 2
    b = inertia / (length * (1 + phi) ** 2)
    lever = sign * length
    square = length**2
    for row, column, value in (
        (v1, v1, a * (13 / 35 + phi * (7 / 10 + phi / 3)) + 6 / 5 * b),
        (v1, v2, a * (9 / 70 + phi * (3 / 10 + phi / 6)) - 6 / 5 * b),
        (v1, r1, (a * (11 / 210 + phi * (11 / 120 + phi / 24)) + b * (1 / 10 - phi / 2)) * lever),
        (v1, r2, (-a * (13 / 420 + phi * (3 / 40 + phi / 24)) + b * (1 / 10 - phi / 2)) * lever),
        (
            r1,
            r1,
            (a * (1 / 105 + phi * (1 / 60 + phi / 120)) + b * (2 / 15 + phi * (1 / 6 + phi / 3)))
            * square,
        ),
        (
            r1,
            r2,
            (-a * (1 / 140 + phi * (1 / 60 + phi / 120)) + b * (-1 / 30 + phi * (phi / 6 - 1 / 6)))
            * square,
        ),
    ):
        m[:, row, column] = m[:, column, row] = value
    for row, column, twin in (
        (v2, v2, (v1, v1)),
        (r2, r2, (r1, r1)),
        (v2, r2, (v1, r1)),
        (v2, r1, (v1, r2)),
    ):
        value = m[:, twin[0], twin[1]] * (-1 if (row == v2) != (column == v2) else 1)
        m[:, row, column] = m[:, column, row] = value


def mass_matrix(beams: Beams) -> sparse.csr_matrix:
    """(6n, 6n) mass of all elements and lumped masses, global axes.

    Elements with end releases follow their released shape: their mass is condensed with their stiffness.
    """
    model = beams.model
    local = local_mass(model.properties, beams.length, model.rotary)
    for number, dofs in beams.released.items():
        # Released ends follow the others, as in the stiffness.
        follow = np.eye(12)
        follow[list(dofs)] -= beams.release_matrix(number)
        local[number] = follow.T @ local[number] @ follow
    total = assemble(beams.dofs, to_global(local, beams.rotation), model.dofs)
    if model.masses:
        return total + sparse.diags(lumped(model)).tocsr()
    return total


def lumped(model: FrameModel) -> Array:
    """(6n,) lumped mass m, m, m, Jx, Jy, Jz at every node, added up."""
    total = np.zeros((len(model.nodes), 6))
    for mass in model.masses:
        total[model.node_index[mass.node]] += (*(mass.m,) * 3, *mass.J)
    return total.ravel()
