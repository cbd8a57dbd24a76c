"""Cross-sections of tubes: area, second moments, torsion constant, effective shear areas.

Local axes of a section: y and z, the member runs along x. `Iz` is the second moment about z, the one
that resists bending in the local x-y plane. Units mm, mm^2, mm^4.
"""

from dataclasses import dataclass
from math import inf, isfinite, pi, sqrt

from .errors import ModelError


@dataclass(frozen=True)
class Section:
    """Section properties. `Asy`, `Asz` are effective shear areas (inf: no shear flexibility); `Ip` the
    polar second moment used for torsional mass; `cy`, `cz` the outer fibre distances used for stress."""

    A: float
    Iy: float
    Iz: float
    J: float
    Asy: float = inf
    Asz: float = inf
    Ip: float | None = None
    cy: float = 0.0
    cz: float = 0.0

    def __post_init__(self) -> None:
        for field in ("A", "Iy", "Iz", "J"):
            value = getattr(self, field)
            if not (isfinite(value) and value > 0):
                raise ModelError(f"section: {field} is {value}, it must be a positive number")
        for field in ("Asy", "Asz"):
            if not getattr(self, field) > 0:
                raise ModelError(f"section: {field} is {getattr(self, field)}, it must be positive")

    @property
    def polar(self) -> float:
        """Polar second moment for torsional mass, mm^4."""
        return self.Iy + self.Iz if self.Ip is None else self.Ip


def cowper_round(nu: float, inner_to_outer: float) -> float:
    """Shear coefficient of a hollow circle (Cowper 1966, J. Appl. Mech. 33, Table 1), 0 for solid, 1 for thin."""
    m2 = inner_to_outer**2
    return 6 * (1 + nu) * (1 + m2) ** 2 / ((7 + 6 * nu) * (1 + m2) ** 2 + (20 + 12 * nu) * m2)


def _checked_wall(od: float, wall: float, what: str) -> None:
    if not (isfinite(od) and od > 0):
        raise ModelError(f"{what} {od} mm: an outside diameter must be positive")
    if not (isfinite(wall) and 0 < wall <= od / 2):
        raise ModelError(f"wall {wall} mm on {what} {od} mm: it must lie above 0 and not exceed half the diameter")


def round_tube(od: float, wall: float, nu: float) -> Section:
    """Exact properties of a round tube (solid bar when wall = od/2), shear areas after Cowper 1966."""
    _checked_wall(od, wall, "outside diameter")
    inner = od - 2 * wall
    area = pi / 4 * (od**2 - inner**2)
    second = pi / 64 * (od**4 - inner**4)
    shear = cowper_round(nu, inner / od) * area
    return Section(area, second, second, 2 * second, shear, shear, 2 * second, od / 2, od / 2)


def oval_tube(width: float, height: float, wall: float, nu: float) -> Section:
    """An elliptical tube, outside `height` along local y and `width` along local z.

    The inner ellipse has semi-axes smaller by the wall (the usual drawing convention; the true wall is
    a little thinner off the axes). J by Bredt for closed thin tubes, J = 4 Am^2 t / s, with the mid-line
    perimeter after Ramanujan (1914). Shear areas: the round thin-tube coefficient on the area share of
    each direction, an engineering estimate, exact for width = height.
    """
    _checked_wall(min(width, height), wall, "smaller outside diameter")
    if abs(width - height) < 1e-12:
        return round_tube(width, wall, nu)
    a, b = height / 2, width / 2  # along y, along z
    ai, bi = a - wall, b - wall
    area = pi * (a * b - ai * bi)
    iz = pi / 4 * (a**3 * b - ai**3 * bi)
    iy = pi / 4 * (b**3 * a - bi**3 * ai)
    am, bm = a - wall / 2, b - wall / 2
    perimeter = pi * (3 * (am + bm) - sqrt((3 * am + bm) * (am + 3 * bm)))
    torsion = 4 * (pi * am * bm) ** 2 * wall / perimeter
    kappa = cowper_round(nu, ai / a)
    return Section(area, iy, iz, torsion, kappa * area * 2 * a / (a + b), kappa * area * 2 * b / (a + b),
                   iy + iz, a, b)
