"""Stiffness of flat shell triangles, many at once: membrane with drilling rotations, plate without shear.

Membrane: the optimal triangle with drilling freedoms (C. A. Felippa, "A study of optimal membrane
triangles with drilling freedoms", Comput. Methods Appl. Mech. Engrg. 192 (2003) 2125-2168).
Plate: the discrete Kirchhoff triangle (J.-L. Batoz, K.-J. Bathe, L.-W. Ho, "A study of three-node
triangular plate bending elements", Int. J. Numer. Meth. Engng 15 (1980) 1771-1812).
Both are written from memory; tests/validation/test_joint_shells.py holds them to rigid motions,
constant strain, closed forms of a tube and the usual obstacle cases.

Axes of a triangle: x along its side 1-2, z its normal. Freedoms of a node: u, v, w, and the rotations
about x, y, z by the right hand.
"""

from __future__ import annotations

import numpy as np

from ...model.arrays import Array

# Free parameters of the membrane template that bend a rectangle of two triangles exactly (Felippa 2003, "OPT").
_BETA = (1.0, 2.0, 1.0, 0.0, 1.0, -1.0, -1.0, -1.0, -2.0)
_ALPHA_B = 1.5
_LEAST_BETA_0 = 0.01

_MEMBRANE = (0, 1, 5, 6, 7, 11, 12, 13, 17)  # u, v, rz of the three nodes among the 18 freedoms
_PLATE = (2, 3, 4, 8, 9, 10, 14, 15, 16)  # w, rx, ry


def triangle_axes(corners: Array) -> Array:
    """Rows x, y, z of each triangle's own axes, (n, 3, 3), from its corners (n, 3 nodes, 3)."""
    side = corners[:, 1] - corners[:, 0]
    along = side / np.linalg.norm(side, axis=1, keepdims=True)
    normal = np.cross(side, corners[:, 2] - corners[:, 0])
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    return np.stack([along, np.cross(normal, along), normal], axis=1)


def shell_stiffness(corners: Array, wall: Array, modulus: float, poisson: float) -> Array:
    """Stiffness of each triangle in global axes.

    Parameters
    ----------
    corners : (n, 3, 3) array, mm
        Corners of the triangles.
    wall : (n,) array, mm
        Wall thickness of each.
    modulus, poisson : float
        Young's modulus in MPa and Poisson's ratio.

    Returns
    -------
    (n, 18, 18) array
        Six freedoms a node, in N/mm, N and N mm.
    """
    axes = triangle_axes(corners)
    # Measured from the first corner in its own axes a triangle has no z.
    flat = np.einsum("nij,nkj->nki", axes, corners - corners[:, :1])[:, :, :2]
    plane_stress = (modulus / (1.0 - poisson**2)) * np.array(
        [[1.0, poisson, 0.0], [poisson, 1.0, 0.0], [0.0, 0.0, (1.0 - poisson) / 2.0]]
    )
    local = np.zeros((len(corners), 18, 18))
    local[np.ix_(range(len(corners)), _MEMBRANE, _MEMBRANE)] = membrane_stiffness(
        flat, wall, plane_stress, poisson
    )
    local[np.ix_(range(len(corners)), _PLATE, _PLATE)] = plate_stiffness(flat, wall, plane_stress)
    # Six triples a triangle, movements and rotations in turn: both are vectors, turned alike.
    blocks = local.reshape(-1, 6, 3, 6, 3)
    half = np.einsum("nij,naibk->najbk", axes, blocks, optimize=True)
    turned = np.einsum("najbk,nkl->najbl", half, axes, optimize=True)
    return np.asarray(turned).reshape(-1, 18, 18)


def _sides(flat: Array) -> tuple[Array, Array, Array]:
    """x_i - x_j, y_i - y_j and squared length for every pair of corners, each (n, 3, 3)."""
    x = flat[:, :, None, 0] - flat[:, None, :, 0]
    y = flat[:, :, None, 1] - flat[:, None, :, 1]
    return x, y, x**2 + y**2


def _area(flat: Array) -> Array:
    first = flat[:, 1] - flat[:, 0]
    second = flat[:, 2] - flat[:, 0]
    return np.asarray(0.5 * (first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]))


def membrane_stiffness(flat: Array, wall: Array, plane_stress: Array, poisson: float) -> Array:
    """(n, 9, 9) stiffness for u, v and the drilling rotation of each corner (Felippa 2003)."""
    x, y, _ = _sides(flat)
    area = _area(flat)
    lumping = _force_lumping(x, y)
    basic = lumping @ plane_stress @ lumping.transpose(0, 2, 1)
    basic *= (wall / area)[:, None, None]
    higher = _drilling_stiffness(flat, plane_stress)
    # The rule falls to 0 at a Poisson's ratio of 0.5 and would leave the drilling unheld.
    beta_0 = max(0.5 * (1.0 - 4.0 * poisson**2), _LEAST_BETA_0)
    higher *= (0.75 * beta_0 * area * wall)[:, None, None]
    corner_turn = _turn_over_mean(x, y, area)
    return basic + corner_turn.transpose(0, 2, 1) @ higher @ corner_turn


def _force_lumping(x: Array, y: Array) -> Array:
    """The matrix L/h that lumps a constant stress to the corners, (n, 9, 3)."""
    lumped = np.zeros((len(x), 9, 3))
    for i in range(3):
        j = (i + 1) % 3
        k = (i + 2) % 3
        row = 3 * i
        lumped[:, row, 0] = y[:, j, k]
        lumped[:, row, 2] = x[:, k, j]
        lumped[:, row + 1, 1] = x[:, k, j]
        lumped[:, row + 1, 2] = y[:, j, k]
        before = y[:, i, k]
        after = y[:, j, i]
        lumped[:, row + 2, 0] = _ALPHA_B / 6.0 * y[:, j, k] * (before - after)
        lumped[:, row + 2, 1] = _ALPHA_B / 6.0 * x[:, k, j] * (x[:, k, i] - x[:, i, j])
        lumped[:, row + 2, 2] = _ALPHA_B / 3.0 * (x[:, k, i] * before - x[:, i, j] * after)
    return 0.5 * lumped


def _drilling_stiffness(flat: Array, plane_stress: Array) -> Array:
    """Sum of Q' E_natural Q over the middles of the sides, (n, 3, 3)."""
    x, y, squared = _sides(flat)
    area = _area(flat)
    natural = np.zeros((len(flat), 3, 3))
    lengths = np.stack([squared[:, 1, 0], squared[:, 2, 1], squared[:, 0, 2]], axis=1)
    for i in range(3):
        j = (i + 1) % 3
        k = (i + 2) % 3
        natural[:, 0, i] = y[:, j, k] * y[:, i, k]
        natural[:, 1, i] = x[:, j, k] * x[:, i, k]
        natural[:, 2, i] = y[:, j, k] * x[:, k, i] + x[:, k, j] * y[:, i, k]
    natural *= (lengths / (4.0 * area[:, None] ** 2))[:, None, :]
    elastic = natural.transpose(0, 2, 1) @ plane_stress @ natural
    scale = (2.0 * area[:, None] / 3.0 / lengths)[:, :, None]
    corners = [scale * np.array(_corner_pattern(corner)) for corner in range(3)]
    total = np.zeros_like(natural)
    for corner in range(3):
        middle = 0.5 * (corners[corner] + corners[(corner + 1) % 3])
        total += middle.transpose(0, 2, 1) @ elastic @ middle
    return total


def _corner_pattern(corner: int) -> list[list[float]]:
    """Where the nine parameters stand in the matrix Q of one corner."""
    b1, b2, b3, b4, b5, b6, b7, b8, b9 = _BETA
    patterns = (
        [[b1, b2, b3], [b4, b5, b6], [b7, b8, b9]],
        [[b9, b7, b8], [b3, b1, b2], [b6, b4, b5]],
        [[b5, b6, b4], [b8, b9, b7], [b2, b3, b1]],
    )
    return patterns[corner]


def _turn_over_mean(x: Array, y: Array, area: Array) -> Array:
    """Rotation of each corner over the triangle's own mean rotation, (n, 3, 9)."""
    turn = np.zeros((len(x), 3, 9))
    for i in range(3):
        j = (i + 1) % 3
        k = (i + 2) % 3
        turn[:, :, 3 * i] = (x[:, k, j] / (4.0 * area))[:, None]
        turn[:, :, 3 * i + 1] = (y[:, k, j] / (4.0 * area))[:, None]
        turn[:, i, 3 * i + 2] = 1.0
    return turn


def plate_stiffness(flat: Array, wall: Array, plane_stress: Array) -> Array:
    """(n, 9, 9) bending stiffness for w, rx and ry of each corner (Batoz, Bathe and Ho 1980)."""
    x, y, squared = _sides(flat)
    area = _area(flat)
    bending = plane_stress[None] * (wall**3 / 12.0)[:, None, None]
    stiffness = np.zeros((len(flat), 9, 9))
    for xi, eta in ((0.5, 0.0), (0.5, 0.5), (0.0, 0.5)):
        curvature = _plate_curvature(x, y, squared, area, xi, eta)
        stiffness += curvature.transpose(0, 2, 1) @ bending @ curvature
    return stiffness * (area / 3.0)[:, None, None]


def _plate_curvature(
    x: Array, y: Array, squared: Array, area: Array, xi: float, eta: float
) -> Array:
    """Curvatures from the nine freedoms at one point, (n, 3, 9); the paper's equations (30) to (32)."""
    p = {}
    q = {}
    t = {}
    r = {}
    for side, (i, j) in {4: (1, 2), 5: (2, 0), 6: (0, 1)}.items():
        p[side] = -6.0 * x[:, i, j] / squared[:, i, j]
        q[side] = 3.0 * x[:, i, j] * y[:, i, j] / squared[:, i, j]
        t[side] = -6.0 * y[:, i, j] / squared[:, i, j]
        r[side] = 3.0 * y[:, i, j] ** 2 / squared[:, i, j]
    a = 1.0 - 2.0 * xi
    b = 1.0 - 2.0 * eta
    c = -4.0 + 6.0 * (xi + eta)
    hx_xi = [
        p[6] * a + (p[5] - p[6]) * eta,
        q[6] * a - (q[5] + q[6]) * eta,
        c + r[6] * a - eta * (r[5] + r[6]),
        -p[6] * a + eta * (p[4] + p[6]),
        q[6] * a - eta * (q[6] - q[4]),
        -2.0 + 6.0 * xi + r[6] * a + eta * (r[4] - r[6]),
        -eta * (p[5] + p[4]),
        eta * (q[4] - q[5]),
        -eta * (r[5] - r[4]),
    ]
    hy_xi = [
        t[6] * a + eta * (t[5] - t[6]),
        1.0 + r[6] * a - eta * (r[5] + r[6]),
        -q[6] * a + eta * (q[5] + q[6]),
        -t[6] * a + eta * (t[4] + t[6]),
        -1.0 + r[6] * a + eta * (r[4] - r[6]),
        -q[6] * a - eta * (q[4] - q[6]),
        -eta * (t[4] + t[5]),
        eta * (r[4] - r[5]),
        -eta * (q[4] - q[5]),
    ]
    hx_eta = [
        -p[5] * b - xi * (p[6] - p[5]),
        q[5] * b - xi * (q[5] + q[6]),
        c + r[5] * b - xi * (r[5] + r[6]),
        xi * (p[4] + p[6]),
        xi * (q[4] - q[6]),
        -xi * (r[6] - r[4]),
        p[5] * b - xi * (p[4] + p[5]),
        q[5] * b + xi * (q[4] - q[5]),
        -2.0 + 6.0 * eta + r[5] * b + xi * (r[4] - r[5]),
    ]
    hy_eta = [
        -t[5] * b - xi * (t[6] - t[5]),
        1.0 + r[5] * b - xi * (r[5] + r[6]),
        -q[5] * b + xi * (q[5] + q[6]),
        xi * (t[4] + t[6]),
        xi * (r[4] - r[6]),
        -xi * (q[4] - q[6]),
        t[5] * b - xi * (t[4] + t[5]),
        -1.0 + r[5] * b + xi * (r[4] - r[5]),
        -q[5] * b - xi * (q[4] - q[5]),
    ]
    gx_xi = np.stack(hx_xi, axis=1)
    gy_xi = np.stack(hy_xi, axis=1)
    gx_eta = np.stack(hx_eta, axis=1)
    gy_eta = np.stack(hy_eta, axis=1)
    x31 = x[:, 2, 0, None]
    x12 = x[:, 0, 1, None]
    y31 = y[:, 2, 0, None]
    y12 = y[:, 0, 1, None]
    rows = [
        y31 * gx_xi + y12 * gx_eta,
        -x31 * gy_xi - x12 * gy_eta,
        -x31 * gx_xi - x12 * gx_eta + y31 * gy_xi + y12 * gy_eta,
    ]
    return np.stack(rows, axis=1) / (2.0 * area)[:, None, None]
