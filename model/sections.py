"""Cross-sections of tubes: area, second moments, torsion constant, effective shear areas.

Local axes of a section: y and z, the member runs along x. `Iz` is the second moment about z, the one
that resists bending in the local x-y plane. Units mm, mm^2, mm^4.
"""

from dataclasses import dataclass
from math import cos, inf, isfinite, pi, sin
from typing import Any

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


# A size or a property: one number, real or complex, or an array of them. The formulas below are written so that
# many sections can be had at once, and derivatives by a complex step (`section_values`).
Number = Any


def cowper_round(nu: float, inner_to_outer: Number) -> Number:
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
    area, second, _, torsion, shear, _ = _round_values(od, wall, nu)
    return Section(area, second, second, torsion, shear, shear, 2 * second, od / 2, od / 2)


def section_values(width: Number, height: Number, wall: Number, nu: float, oval: bool) -> tuple[Number, ...]:
    """A, Iy, Iz, J, Asy, Asz of tubes whose sizes are known to be possible: numbers, arrays or complex steps."""
    return _oval_values(width, height, wall, nu) if oval else _round_values(height, wall, nu)


def _round_values(od: Number, wall: Number, nu: float) -> tuple[Number, ...]:
    inner = od - 2 * wall
    area = pi / 4 * (od**2 - inner**2)
    second = pi / 64 * (od**4 - inner**4)
    shear = cowper_round(nu, inner / od) * area
    return area, second, second, 2 * second, shear, shear


def oval_tube(width: float, height: float, wall: float, nu: float) -> Section:
    """An elliptical tube, outside `height` along local y and `width` along local z.

    The inner ellipse has semi-axes smaller by the wall (the usual drawing convention), so that the true wall is
    thinner off the axes. Torsion by Bredt for a closed wall of varying thickness, J = 4 Am² / ∮ds/t; shear areas
    from the energy of the Bredt-Jourawski shear flow, As = I² / ∮Q²/t ds, which is the round tube's at nu = 0 and
    is given its dependence on nu after Cowper. Both turn into the round tube's exact values for width = height.
    """
    _checked_wall(min(width, height), wall, "smaller outside diameter")
    if abs(width - height) < 1e-12:
        return round_tube(width, wall, nu)
    area, iy, iz, torsion, asy, asz = _oval_values(width, height, wall, nu)
    return Section(area, iy, iz, torsion, asy, asz, iy + iz, height / 2, width / 2)


def _oval_values(width: Number, height: Number, wall: Number, nu: float) -> tuple[Number, ...]:
    a, b = height / 2, width / 2  # along y, along z
    ai, bi = a - wall, b - wall
    area = pi * (a * b - ai * bi)
    iz = pi / 4 * (a**3 * b - ai**3 * bi)
    iy = pi / 4 * (b**3 * a - bi**3 * ai)
    around, q_y = _ellipse_integrals(a - wall / 2, b - wall / 2, wall)
    _, q_z = _ellipse_integrals(b - wall / 2, a - wall / 2, wall)
    enclosed = (a - wall / 2) * (b - wall / 2)
    thick = 1 + wall**2 / (4 * enclosed)  # of the second order in the wall; makes both exact for a round tube
    torsion = 4 * (pi * enclosed) ** 2 / around * thick
    poisson = 2 * cowper_round(nu, (ai * bi / (a * b)) ** 0.5) / thick**2
    return area, iy, iz, torsion, poisson * iz**2 / q_y, poisson * iy**2 / q_z


def _ellipse_integrals(a: Number, b: Number, wall: Number, points: int = 64) -> tuple[Number, Number]:
    """∮ds/t and ∮Q²/t ds round a mid-line ellipse with semi-axes a, b; Q the first moment for shear along a.

    With y = a cos p, z = b sin p the wall across the line is t = wall (b cos² p + a sin² p) / (ds/dp). The
    trapezoidal rule is as good as exact for a smooth periodic integrand.
    """
    around = flow = 0.0
    for k in range(points):
        c, s = cos(2 * pi * k / points), sin(2 * pi * k / points)
        ds_over_t = (a * a * s * s + b * b * c * c) / (wall * (b * c * c + a * s * s))
        around += ds_over_t
        flow += (a * wall * (b * (s - s**3 / 3) + a * s**3 / 3)) ** 2 * ds_over_t
    return around * 2 * pi / points, flow * 2 * pi / points
