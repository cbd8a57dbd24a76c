"""Figures from outside that are not whole frame models: bicycle dynamics, geometry, sections, mitres, drawings.

Each line names its source and whether that was read or is from memory; `tests` hold the same figures tighter where
they can. Drawings: real exports of general CAD programs with the truth their maker wrote down.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from math import cos, pi, radians, sqrt
from pathlib import Path

import numpy as np

from ..converters.drawings.sideview.read import read_side_view
from ..model.arrays import Array
from ..model.frame.mitre import mitre_line
from ..model.geometry.dimensions import FrameDimensions
from ..model.stability.whipple import BENCHMARK
from ..model.tubes.sections import cowper_round, round_tube

INCH = 25.4


@dataclass(frozen=True)
class Line:
    """One figure: what it is, where it comes from, its value, ours, and the absolute tolerance."""

    what: str
    source: str
    expected: float
    got: float
    tolerance: float

    @property
    def ok(self) -> bool:
        return abs(self.got - self.expected) <= self.tolerance


# --- bicycle dynamics and geometry --------------------------------------------------------------------------------
_ROWS = {  # lean and steer row of the state matrix over (lean, steer, lean rate, steer rate), by power of the speed
    0: (
        (9.48977444677355, -0.571523173729245, 0.0, 0.0),
        (11.7194768719633, 30.9087533932407, 0.0, 0.0),
    ),
    1: (
        (0.0, 0.0, -0.105522449805691, -0.330515398992311),
        (0.0, 0.0, 3.67680523332152, -3.08486552743311),
    ),
    2: ((0.0, -0.891197738059089, 0.0, 0.0), (0.0, -1.97171508499972, 0.0, 0.0)),
}
_STATE = "Meijaard et al. 2007 benchmark, as in SymPy's test_kane3.py (read)"
_FOLLOWS = "worked out from the same rows; agrees with the paper's table 2 (from memory)"


def bicycle_lines() -> Iterator[Line]:
    """Whipple benchmark: matrix, eigenvalues at 5 m/s, critical speeds, trail."""
    # The state matrix is quadratic in speed: three speeds give its three coefficients.
    before, still, after = (BENCHMARK.matrices.state_matrix(v)[2:] for v in (-1.0, 0.0, 1.0))
    ours = {0: still, 1: (after - before) / 2, 2: (after + before) / 2 - still}
    for power, rows in _ROWS.items():
        for row, values in zip(("lean", "steer"), rows, strict=True):
            for column, value in enumerate(values):
                # Zeros belong to the matrix's form and would prove nothing.
                if value:
                    name = ("lean", "steer", "lean rate", "steer rate")[column]
                    got = float(ours[power][("lean", "steer").index(row), column])
                    yield Line(
                        f"{row} acceleration per {name}, v^{power}", _STATE, value, got, 1e-11
                    )
    roots = BENCHMARK.eigenvalues(5.0)
    for what, expected, root in (
        ("castering", -14.07838969, roots[0].real),
        ("weave, real", -0.77534188, roots[1].real),
        ("weave, imaginary", 4.46486771, roots[2].imag),
        ("capsize", -0.32286643, roots[3].real),
    ):
        yield Line(f"eigenvalue at 5 m/s, {what}, 1/s", _FOLLOWS, expected, float(root), 1e-8)
    for what, expected, speed in (
        ("weave", 4.292382536, BENCHMARK.weave_speed),
        ("capsize", 6.024262015, BENCHMARK.capsize_speed),
    ):
        # NaN meets no tolerance: a speed that is not found fails.
        yield Line(f"{what} speed, m/s", _FOLLOWS, expected, speed or float("nan"), 5e-10)
    # Head angle, offset and front radius make trail; the rest only makes a whole frame.
    frame = FrameDimensions(
        reach=380,
        head_angle=72,
        seat_angle=73,
        bb_drop=50,
        chainstay=430,
        head_tube=140,
        lower_stack=10,
        fork_length=380,
        fork_offset=32.071427,
        wheel_radius_front=350,
        wheel_radius_rear=300,
    )
    yield Line(
        "trail of the benchmark bicycle, mm",
        "Meijaard et al. 2007 table 1 (read); offset by Moore 2012 (read)",
        80.0,
        frame.trail,
        1e-6,
    )


# --- sections -----------------------------------------------------------------------------------------------------
_HANDBOOK = (
    (1, 1 / 8, "1 x 1/8", 0.344, 0.034, 0.313, 0.067),
    (1, 1 / 4, "1 x 1/4", 0.589, 0.046, 0.280, 0.092),
    (1.5, 1 / 8, "1.5 x 1/8", 0.540, 0.129, 0.488, 0.172),
    (2, 1 / 8, "2 x 1/8", 0.736, 0.325, 0.664, 0.325),
    (2.5, 1 / 8, "2.5 x 1/8", 0.933, 0.660, 0.841, 0.528),
    (3, 3 / 8, "3 x 3/8", 3.093, 2.718, 0.938, 1.812),
)
# Outside and wall in mm, kg/m, half of the table's last digit.
_PIPES = (
    (17.2, 2.0, 0.75, 5e-3),
    (21.3, 2.0, 0.952, 5e-4),
    (26.9, 2.0, 1.23, 5e-3),
    (33.7, 2.3, 1.78, 5e-3),
)
_TABLE = "handbook table of round tubing, inch (read)"


def section_lines() -> Iterator[Line]:
    """Handbook tables of tubes and pipes; Cowper's limits."""
    for od, wall, size, area, second, gyration, modulus in _HANDBOOK:
        s = round_tube(od * INCH, wall * INCH, 0.3)
        # the table cuts the last digit
        yield Line(f"{size}: A, in²", _TABLE, area, s.A / INCH**2, 1.1e-3)
        yield Line(f"{size}: I, in⁴", _TABLE, second, s.Iz / INCH**4, 6e-4)
        yield Line(
            f"{size}: radius of gyration, in", _TABLE, gyration, sqrt(s.Iz / s.A) / INCH, 6e-4
        )
        yield Line(f"{size}: section modulus, in³", _TABLE, modulus, s.Iz / s.cy / INCH**3, 1.1e-3)
    for od, wall, mass, half_digit in _PIPES:
        yield Line(
            f"steel pipe {od:g} x {wall:g}, kg/m",
            "pipe mill's table at 7.85 kg/dm³ (read)",
            mass,
            round_tube(od, wall, 0.3).A * 7.85e-3,
            half_digit,
        )
    cowper = "Cowper 1966, table 1 (read as quoted in public code)"
    yield Line(
        "shear coefficient, thin round tube, nu 0.3",
        cowper,
        0.53,
        float(cowper_round(0.3, 1.0)),
        5e-3,
    )
    yield Line(
        "shear coefficient, solid bar, 6(1+nu)/(7+6nu), nu 0.3",
        cowper,
        7.8 / 8.8,
        float(cowper_round(0.3, 0.0)),
        1e-12,
    )


# --- mitres -------------------------------------------------------------------------------------------------------
def mitre_lines() -> Iterator[Line]:
    """Equal tubes are cut by planes; Archimedes' volume; the depth of a right-angled mitre."""
    plane = "two equal cylinders meet in plane ellipses (descriptive geometry)"
    for degrees in (0.0, 30.0, 45.0, 60.0):
        yield Line(
            f"equal tubes r 15 at 90°, generator at {degrees:g}°, mm",
            plane,
            15 * abs(cos(radians(degrees))),
            float(mitre_line(15.0, 15.0, 90.0, np.array([radians(degrees)]))[0]),
            1e-9,
        )
    ends = mitre_line(14.3, 18.0, 90.0, np.array([0.0, pi / 2]))
    yield Line(
        "depth of r 14.3 on R 18 at 90°, R - sqrt(R² - r²), mm",
        "plane geometry",
        18 - sqrt(18**2 - 14.3**2),
        float(ends[0] - ends[1]),
        1e-9,
    )
    yield Line(
        "volume up to the axis of an equal tube, R 3, 8 R³/3, mm³",
        "half of 16 R³/3 (Archimedes, Method, prop. 15)",
        72.0,
        _volume(3.0),
        72e-4,
    )


def _volume(radius: float) -> float:
    """Integral of r s(r, phi) over the circle."""
    # Gauss along the radius; equal steps round the circle, best for a periodic function.
    points, weights = np.polynomial.legendre.leggauss(60)
    phi = np.linspace(0, 2 * pi, 720, endpoint=False)
    rings: Array = np.array(
        [r * mitre_line(r, radius, 90.0, phi).mean() * 2 * pi for r in radius * (1 + points) / 2]
    )
    return float(weights @ rings * radius / 2)


# --- drawings -----------------------------------------------------------------------------------------------------
# mm, degrees: what their writer's program keeps
_TOLERANCE = {
    "13": (0.6, 0.1),
    "16": (0.5, 0.1),
    "23": (0.6, 0.1),
}
_USUAL = (0.05, 0.02)
# The maker of the truths has names of his own.
_NAMES = {
    "st_top": "seat_tube",
    "tt_on_st": "top_tube_on_seat_tube",
    "tt_below_ht_top": "top_tube_below_head_top",
    "dt_above_ht_bottom": "down_tube_above_head_bottom",
    "ss_below_tt": "seatstay_below_top_tube",
}


@dataclass(frozen=True)
class DrawingLine:
    """One drawing: the items compared and the largest difference from its truth, mm and degrees."""

    name: str
    written_by: str
    items: int
    mm: float
    degrees: float
    tolerance: tuple[float, float]

    @property
    def ok(self) -> bool:
        return self.mm <= self.tolerance[0] and self.degrees <= self.tolerance[1]


def drawing_lines(data: Path) -> Iterator[DrawingLine]:
    """Every drawing of `data`/dxf_good and `data`/dxf_programs against its truth."""
    yield from _good_drawings(data)
    programs = data / "dxf_programs" / "truth.json"
    if programs.exists():
        yield from _program_drawings(programs)


def _good_drawings(data: Path) -> Iterator[DrawingLine]:
    truths = json.loads((data / "side_view_truth.json").read_text(encoding="utf-8"))
    drawn = json.loads((data / "dxf_good" / "drawn.json").read_text(encoding="utf-8"))
    for path in sorted((data / "dxf_good").glob("*.dxf")):
        # The first two digits of a file's name number its truth.
        number = path.name[:2]
        off = _differences(read_side_view(path).dimensions, truths[number])
        yield _line(path.name, drawn[path.name]["written_by"], off, _TOLERANCE.get(number, _USUAL))


def _program_drawings(truths: Path) -> Iterator[DrawingLine]:
    """Those that can be read; why the others cannot be is tested where the reader is."""
    for name, truth in json.loads(truths.read_text(encoding="utf-8")).items():
        if "refused" not in truth:
            off = _differences(
                read_side_view(truths.parent / name, **truth["options"]).dimensions, truth
            )
            allowed = truth["tolerance"]["length_mm"], truth["tolerance"]["angle_deg"]
            yield _line(name, truth["written_by"], off, allowed)


def _line(
    name: str, written_by: str, off: dict[str, float], allowed: tuple[float, float]
) -> DrawingLine:
    lengths = [value for name, value in off.items() if not _is_angle(name)]
    angles = [value for name, value in off.items() if _is_angle(name)]
    sizes = [max(lengths, default=0.0), max(angles, default=0.0)]
    return DrawingLine(
        name, written_by.split(",")[0].split(" (")[0], len(off), sizes[0], sizes[1], allowed
    )


def _is_angle(name: str) -> bool:
    return "angle" in name or "deg" in name


def _differences(d: FrameDimensions, truth: dict[str, dict[str, object]]) -> dict[str, float]:
    """Item -> absolute difference, of all items that the truth states."""
    got = {**vars(d), **d.derived(), "stack": d.stack}
    pairs = {**truth["params"], **truth["derived"]}
    named = {
        _NAMES.get(name, name): value for name, value in pairs.items() if isinstance(value, float)
    }
    return {
        # An item that the reader did not find must not pass.
        name: float("inf") if got[name] is None else abs(float(got[name]) - value)
        for name, value in named.items()
        if name in got
    }
