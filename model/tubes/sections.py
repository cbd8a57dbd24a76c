"""Cross-sections of tubes: area, second moments, torsion constant, effective shear areas.

Local axes of a section: y and z, the member runs along x. `Iz` is the second moment about z, the one
that resists bending in the local x-y plane. Units mm, mm^2, mm^4.
"""

from dataclasses import dataclass
from math import cos, inf, pi, sin
from typing import Any

from ..errors import ModelError


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
        sizes = (("A", self.A), ("Iy", self.Iy), ("Iz", self.Iz), ("J", self.J))
        for field, value in sizes:
            if not 0 < value < inf:
                raise ModelError(f"section: {field} is {value}, it must be a positive number")
        for field, value in (("Asy", self.Asy), ("Asz", self.Asz)):
            if not value > 0:
                raise ModelError(f"section: {field} is {value}, it must be positive")

    @property
    def polar(self) -> float:
        """Polar second moment for torsional mass, mm^4."""
        if self.Ip is None:
            # The sum of both is the polar moment of any shape.
            return self.Iy + self.Iz
        return self.Ip


def flat_bar(height: float, thickness: float) -> Section:
    """A solid rectangle, `height` along local y and `thickness` along local z, height not below thickness.

    Torsion J = h t^3 (1/3 - 0.21 t/h (1 - t^4 / 12 h^4)), within half a percent of the series (Roark's formulas, from
    memory); shear areas 5/6 A, the energy of a parabola (textbook).
    """
    long = max(height, thickness)
    short = min(height, thickness)
    area = height * thickness
    ratio = short / long
    torsion = long * short**3 * (1 / 3 - 0.21 * ratio * (1 - ratio**4 / 12))
    across = thickness**3 * height / 12
    upright = height**3 * thickness / 12
    shear = 5 / 6 * area
    return Section(
        area, across, upright, torsion, shear, shear, across + upright, height / 2, thickness / 2
    )


# A size or a property: one number, real or complex, or an array of them. The formulas below are written so that
# many sections can be had at once, and derivatives by a complex step (`section_values`).
Number = Any


def cowper_round(nu: float, inner_to_outer: Number) -> Number:
    """Shear coefficient of a hollow circle (Cowper 1966, J. Appl. Mech. 33, Table 1), 0 for solid, 1 for thin."""
    # of the radii, as Cowper's table has it; a solid bar has none
    m2 = inner_to_outer**2
    return 6 * (1 + nu) * (1 + m2) ** 2 / ((7 + 6 * nu) * (1 + m2) ** 2 + (20 + 12 * nu) * m2)


def _checked_wall(od: float, wall: float, what: str) -> None:
    if not 0 < od < inf:
        raise ModelError(f"{what} {od} mm: an outside diameter must be positive")
    if not 0 < wall <= od / 2:
        raise ModelError(
            f"wall {wall} mm on {what} {od} mm: it must lie above 0 and not exceed half the diameter"
        )


def round_tube(od: float, wall: float, nu: float) -> Section:
    """Exact properties of a round tube (solid bar when wall = od/2), shear areas after Cowper 1966."""
    _checked_wall(od, wall, "outside diameter")
    area, second, _, torsion, shear, _ = _round_values(od, wall, nu)
    return Section(area, second, second, torsion, shear, shear, 2 * second, od / 2, od / 2)


def section_values(
    width: Number, height: Number, wall: Number, nu: float, oval: bool, corner: float | None = None
) -> tuple[Number, ...]:
    """A, Iy, Iz, J, Asy, Asz of tubes whose sizes are known to be possible: numbers, arrays or complex steps.

    corner : outside corner radius of a rectangular tube, None for an oval or round one."""
    if corner is not None:
        return _box_values(width, height, wall, corner, nu)
    if oval:
        return _oval_values(width, height, wall, nu)
    return _round_values(height, wall, nu)


def _round_values(od: Number, wall: Number, nu: float) -> tuple[Number, ...]:
    # in this one place only, so that derivatives by a complex step run through it
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
    # As good as round: its closed forms are exact, the integrals round an ellipse are sums.
    if abs(width - height) < 1e-12:
        return round_tube(width, wall, nu)
    area, iy, iz, torsion, asy, asz = _oval_values(width, height, wall, nu)
    return Section(area, iy, iz, torsion, asy, asz, iy + iz, height / 2, width / 2)


def _oval_values(width: Number, height: Number, wall: Number, nu: float) -> tuple[Number, ...]:
    # along y, along z
    a = height / 2
    b = width / 2
    # the inner outline as drawn: semi-axes less the wall
    ai = a - wall
    bi = b - wall
    area = pi * (a * b - ai * bi)
    iz = pi / 4 * (a**3 * b - ai**3 * bi)
    iy = pi / 4 * (b**3 * a - bi**3 * ai)
    # on the mid-line, where Bredt puts the shear flow
    around, q_y = _ellipse_integrals(a - wall / 2, b - wall / 2, wall)
    _, q_z = _ellipse_integrals(b - wall / 2, a - wall / 2, wall)
    enclosed = (a - wall / 2) * (b - wall / 2)
    # of the second order in the wall; makes both exact for a round tube
    thick = 1 + wall**2 / (4 * enclosed)
    torsion = 4 * (pi * enclosed) ** 2 / around * thick
    # the round tube's own dependence on nu, at the same share of hollow
    poisson = 2 * cowper_round(nu, (ai * bi / (a * b)) ** 0.5) / thick**2
    return area, iy, iz, torsion, poisson * iz**2 / q_y, poisson * iy**2 / q_z


def _ellipse_integrals(
    a: Number, b: Number, wall: Number, points: int = 64
) -> tuple[Number, Number]:
    """∮ds/t and ∮Q²/t ds round a mid-line ellipse with semi-axes a, b; Q the first moment for shear along a.

    With y = a cos p, z = b sin p the wall across the line is t = wall (b cos² p + a sin² p) / (ds/dp). The
    trapezoidal rule is as good as exact for a smooth periodic integrand.
    """
    # plain sums, because the sizes may be complex numbers or arrays
    around = flow = 0.0
    for k in range(points):
        c = cos(2 * pi * k / points)
        s = sin(2 * pi * k / points)
        ds_over_t = (a * a * s * s + b * b * c * c) / (wall * (b * c * c + a * s * s))
        around += ds_over_t
        flow += (a * wall * (b * (s - s**3 / 3) + a * s**3 / 3)) ** 2 * ds_over_t
    return around * 2 * pi / points, flow * 2 * pi / points


def box_tube(width: float, height: float, wall: float, corner: float, nu: float) -> Section:
    """A rectangular tube with rounded corners, outside `height` along local y and `width` along local z.

    corner : outside corner radius, at least the wall. Area and second moments are exact; torsion and shear areas
    as for an oval, from the shear flow round the rounded mid-line. With corner = half of equal sides it is the
    round tube.

    Raises
    ------
    ModelError
        For a wall that does not fit the smaller side, or a corner outside its limits.
    """
    _checked_wall(min(width, height), wall, "smaller outside size")
    if not wall <= corner <= min(width, height) / 2:
        raise ModelError(
            f"corner radius {corner} mm on {height} x {width} mm with wall {wall} mm: it must lie between "
            "the wall and half the smaller side"
        )
    area, iy, iz, torsion, asy, asz = _box_values(width, height, wall, corner, nu)
    return Section(area, iy, iz, torsion, asy, asz, iy + iz, height / 2, width / 2)


def _box_values(
    width: Number, height: Number, wall: Number, corner: float, nu: float
) -> tuple[Number, ...]:
    # concentric corners: the wall is even all round, as a drawn tube's is
    inner = (width - 2 * wall, height - 2 * wall, corner - wall)
    middle = (width - wall, height - wall, corner - wall / 2)
    area = filled_area(width, height, corner) - filled_area(*inner)
    iz = filled_second(width, height, corner) - filled_second(*inner)
    iy = filled_second(height, width, corner) - filled_second(inner[1], inner[0], inner[2])
    enclosed = filled_area(*middle)
    thick = 1 + pi * wall**2 / (4 * enclosed)
    # an even wall's area is mid-line times wall, exactly
    torsion = 4 * enclosed**2 * wall / (area / wall) * thick
    poisson = (
        2
        * cowper_round(nu, (filled_area(*inner) / filled_area(width, height, corner)) ** 0.5)
        / thick**2
    )
    asy = poisson * iz**2 / _box_shear_flow(*middle, wall)
    return (
        area,
        iy,
        iz,
        torsion,
        asy,
        poisson * iy**2 / _box_shear_flow(middle[1], middle[0], middle[2], wall),
    )


def filled_area(width: Number, height: Number, radius: Number) -> Number:
    """Area of a rectangle with rounded corners."""
    return width * height - (4 - pi) * radius**2


def filled_second(width: Number, height: Number, radius: Number) -> Number:
    """Its second moment for bending along `height`: rectangle, less four corner squares, plus four quarter discs."""
    h = height / 2
    r = radius
    # the corner squares go, the quarter discs come: about the section's own centre
    squares = 4 * (r**4 / 12 + r**2 * (h - r / 2) ** 2)
    discs = 4 * ((pi / 16 - 4 / (9 * pi)) * r**4 + pi * r**2 / 4 * (h - r + 4 * r / (3 * pi)) ** 2)
    return width * height**3 / 12 - squares + discs


# three points on -1..1
_GAUSS = (
    (-0.7745966692414834, 5 / 9),
    (0.0, 8 / 9),
    (0.7745966692414834, 5 / 9),
)


def _box_shear_flow(
    width: Number, height: Number, radius: Number, wall: Number, pieces: int = 4
) -> Number:
    """∮Q²/t ds round a rounded rectangle, Q the first moment for shear along `height`, from the flange's middle on."""
    # from the flange's middle, where the shear flow of a symmetric section is nought
    flat = width / 2 - radius
    web = height / 2 - radius
    at_corner = wall * height / 2 * flat
    after = at_corner + wall * radius * (web * pi / 2 + radius)
    # the flange in closed form; corner and web by Gauss, whose integrands are smooth
    total: Number = at_corner**2 * flat / 3
    for piece in range(pieces):
        for x, weight in _GAUSS:
            share = (piece + (1 + x) / 2) / pieces
            angle = share * pi / 2
            depth = share * web
            total = total + weight / (2 * pieces) * (
                radius
                * pi
                / 2
                * (at_corner + wall * radius * (web * angle + radius * sin(angle))) ** 2
                + web * (after + wall * (web * depth - depth**2 / 2)) ** 2
            )
    return 4 * total / wall
