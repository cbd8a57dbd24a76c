"""The lowest eigenpairs of K x = lambda M x for sparse symmetric K, M, and proof that none was missed.

K and M need only be semidefinite. K + s M is factored (s = 0 when K alone can be), so a free body gets its
rigid motions instead of garbage; scipy's shift-invert Lanczos (ARPACK) works on the banded factor; the number
of roots below the last one is counted by Sylvester's inertia (Sturm count) and must agree.
"""

import numpy as np
from scipy import sparse

from ..arrays import Array
from ..errors import MechanismError, ModelError
from ..mechanics.assembly import Factor

SPARE = 3  # further pairs asked for, so that a cluster of equal roots is not cut
FREE = 8  # pairs asked for at least when the body is free: six rigid motions, a loose steering, an elastic one
CLUSTER = 1e-6  # roots this close, relative, count as equal
DENSE = 120  # below this many unknowns LAPACK's dense solver is faster
DENSE_LIMIT = 3000  # up to here the dense solver is the fallback when the count disagrees
SHIFT = 1e-6  # shift over the median of K_ii / M_ii: far below the elastic roots' spread, far above rounding
LANCZOS = 1e-9  # relative tolerance of the Lanczos step; the block step after it squares this
RIGID = 1e-6  # a root this small against the shift is zero


def lowest_pairs(
    stiffness: sparse.csr_matrix, mass: sparse.csr_matrix, count: int
) -> tuple[Array, Array, int]:
    """Roots (k,) ascending, vectors (n, k) with x^T M x = 1, and how many are rigid (root set to 0).

    k is `count`, or less when the mass carries fewer roots.

    Raises
    ------
    MechanismError
        When a massless part can move freely (K + s M singular), without words for the motion.
    ModelError
        When the roots found do not pass the count.
    """
    factor, shift, shifted = _factor(stiffness, mass)
    size = stiffness.shape[0]
    found = None
    # Spare pairs show where the wanted ones end.
    wanted = max(count, FREE if shift else 0) + SPARE
    # Many equal roots may hide behind the spare ones: ask for more before the dense way.
    for more in (1, 2, 4):
        if size > DENSE and found is None and more * wanted <= size // 4:
            pairs = _lanczos(stiffness, mass, factor, more * wanted)
            if pairs is not None and _none_missed(stiffness, mass, pairs[0], count):
                found = pairs
            else:
                found = None
    # LAPACK on all unknowns: slow, and it misses nothing.
    if found is None:
        if size > DENSE_LIMIT:
            raise ModelError(
                f"the lowest {count} modes could not be verified on {size} unknowns; ask for "
                "fewer modes or a coarser mesh"
            )
        found = _dense(mass, shifted, shift, min(wanted, size))
    roots, vectors = found
    # What is this far below the shift is rounding on zero.
    rigid = int((np.abs(roots) <= RIGID * shift).sum())
    roots[:rigid] = 0.0
    return roots[:count], vectors[:, :count], min(rigid, count)


def _factor(
    stiffness: sparse.csr_matrix, mass: sparse.csr_matrix
) -> tuple[Factor, float, sparse.csr_matrix]:
    try:
        return Factor.of(stiffness), 0.0, stiffness
    except MechanismError:
        # Free or loose: shifted by a little mass, it can be factored all the same.
        k = stiffness.diagonal()
        m = mass.diagonal()
        ratios = k[m > 0] / m[m > 0]
        if not np.any(ratios > 0):
            raise
        shift = SHIFT * float(np.median(ratios[ratios > 0]))
        shifted = (stiffness + shift * mass).tocsr()
        return Factor.of(shifted), shift, shifted


def _dense(
    mass: sparse.csr_matrix, shifted: sparse.csr_matrix, shift: float, wanted: int
) -> tuple[Array, Array]:
    """All of it by LAPACK, as M x = mu (K + s M) x so that M may be singular; mu = 0 is not a mode."""
    from scipy.linalg import eigh

    size = mass.shape[0]
    # Unit diagonal, for the same reason as in the static factor.
    scale = 1 / np.sqrt(shifted.diagonal())
    with np.errstate(over="ignore"):
        m, b = (a.toarray() * scale[:, None] * scale[None, :] for a in (mass, shifted))
    try:
        mu, x = eigh(m, b, subset_by_index=[size - wanted, size - 1])
    except (
        np.linalg.LinAlgError,
        ValueError,
    ) as error:  # ValueError: numbers beyond what a double can hold
        raise ModelError(
            "stiffness and mass are too badly scaled for natural modes; check the units of sections, "
            "springs and masses"
        ) from error
    if size:
        # Massless directions have μ = 0: they carry no mode.
        real = mu > 1e-14 * mu.max()
    else:
        real = np.zeros(0, bool)
    mu = mu[real][::-1]
    x = x[:, real][:, ::-1]
    return 1 / mu - shift, scale[:, None] * x / np.sqrt(mu)


def _lanczos(
    stiffness: sparse.csr_matrix, mass: sparse.csr_matrix, factor: Factor, wanted: int
) -> tuple[Array, Array] | None:
    """ARPACK on the symmetric L^-1 M L^-T (K + s M = L L^T, banded, reordered, unit-scaled), then one block step.

    The start vector is fixed, so results repeat. The block step with its Rayleigh-Ritz projection squares the
    Lanczos error and makes equal roots' vectors orthogonal in the mass. None where it breaks down.
    """
    from scipy.linalg import eigh
    from scipy.linalg.lapack import dtbtrs
    from scipy.sparse.linalg import ArpackError, LinearOperator, eigsh

    size = stiffness.shape[0]
    scale = factor.scale[factor.order]
    inner = sparse.diags(scale) @ mass[factor.order][:, factor.order] @ sparse.diags(scale)

    def once(x: Array) -> Array:
        back = dtbtrs(factor.band, x, uplo="L", trans="T")[0].reshape(-1)
        return np.asarray(dtbtrs(factor.band, inner @ back, uplo="L")[0].reshape(-1))

    # Fixed, so that the same model gives the same last digits.
    start = np.random.default_rng(7).standard_normal(size)
    try:
        _, z = eigsh(
            LinearOperator((size, size), matvec=once, dtype=float),
            wanted,
            which="LM",
            v0=start,
            tol=LANCZOS,
        )
        x = np.empty_like(z)
        x[factor.order] = scale[:, None] * dtbtrs(factor.band, z, uplo="L", trans="T")[0]
        y = factor.solve(mass @ x)
        roots, mix = eigh(y.T @ (stiffness @ y), y.T @ (mass @ y))
    except (
        np.linalg.LinAlgError,
        ArpackError,
    ):  # units so mixed that the vectors lose their mass; the dense way next
        return None
    return roots, y @ mix


def _none_missed(
    stiffness: sparse.csr_matrix, mass: sparse.csr_matrix, roots: Array, count: int
) -> bool:
    """Count the roots below the widest gap behind the last wanted one; True when exactly that many were found.

    False too when all spare roots equal the last wanted one: then more of them may follow.
    """
    # The count is made in a gap, where no rounding can move a root across.
    gaps = np.diff(roots[count - 1 :])
    if not len(gaps) or gaps.max() <= CLUSTER * roots[-1]:
        return False
    k = count - 1 + int(np.argmax(gaps))
    return count_below(stiffness, mass, float(roots[k] + roots[k + 1]) / 2) == k + 1


def count_below(stiffness: sparse.csr_matrix, mass: sparse.csr_matrix, root: float) -> int:
    """Number of roots below a value: negative pivots of K - root M (Sylvester's law of inertia).

    Raises
    ------
    ModelError
        When the pivots cannot be had in their own order and the model is too large to be counted the dense way.
    """
    from scipy.sparse.linalg import splu

    # As many negative pivots as roots below: nothing of the search for the roots enters.
    matrix = stiffness - root * mass
    scale = sparse.diags(1 / np.sqrt(np.maximum(abs(matrix.diagonal()), 1e-300)))
    try:
        lu = splu(
            (scale @ matrix @ scale).tocsc(),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )
    except RuntimeError:  # exactly singular: the root itself was hit
        lu = None
    if lu is not None and np.array_equal(lu.perm_r, lu.perm_c):
        return int((lu.U.diagonal() < 0).sum())
    if matrix.shape[0] > DENSE_LIMIT:
        raise ModelError(
            f"the modes below root {root:.3g} could not be counted on {matrix.shape[0]} unknowns; use a "
            "coarser mesh"
        )
    # a zero pivot forced a row exchange
    return int((np.linalg.eigvalsh(matrix.toarray()) < 0).sum())
