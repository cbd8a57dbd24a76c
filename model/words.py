"""How a builder says it: names that the program writes with underscores, numbers to sensible digits, loads."""

from math import isfinite

DASH = "-"  # stands where there is no value
ROUNDING = 1e-9  # of any unit shown here: below it a value is nought
# Directions of a node in the bicycle's axes: movements, and turns about them.
DOF_WORDS = {
    "ux": "fore-aft",
    "uy": "up-down",
    "uz": "sideways",
    "rx": "lean",
    "ry": "yaw",
    "rz": "pitch",
}

_SAID = {
    "bb_shell": "bottom bracket shell",
    "seat_tube_top_tube_node": "joint of seat and top tube",
    "seat_tube_seatstay_node": "joint of seat tube and seatstays",
    "top_tube_head_node": "joint of top and head tube",
    "down_tube_head_node": "joint of down and head tube",
}


def spoken(key: str) -> str:
    """``down_tube_head_node`` becomes ``joint of down and head tube``, ``seat_tube`` becomes ``seat tube``."""
    return _SAID.get(key) or key.replace("_", " ")


def number(value: float | None) -> str:
    """Four significant digits, at least whole units, never an exponent for workshop sizes; a dash for none.

    Below 1e-9 of any unit shown here a value is rounding and printed as nought.
    """
    if value is None or not isfinite(value):
        return DASH
    if abs(value) < ROUNDING:
        return "0.000"
    digits = decimals(value)
    if digits is None:
        return f"{value:.1e}"
    # + 0.0: what rounds to nought has no sign
    return f"{round(value, digits) + 0.0:.{digits}f}"


def signed(value: float | None, digits: int = 2) -> str:
    """A difference with its sign and fixed decimals, ``+8.2``; nought has no direction: ``0.0``; a dash for none."""
    if value is None or not isfinite(value):
        return DASH
    # + 0.0 turns -0.0 into 0.0
    rounded = round(value, digits) + 0.0
    if rounded == 0:
        return f"{rounded:.{digits}f}"
    return f"{rounded:+.{digits}f}"


def give_or_take(value: float, digits: int) -> str:
    """How far something may be off, ``± 0.02``; what would round to nought is told as less: ``± less than 0.01``."""
    least = 10.0**-digits
    if value < least / 2:
        return f"± less than {least:.{digits}f}"
    return f"± {value:.{digits}f}"


def tenths(value: float) -> str:
    """A change to one decimal with its sign."""
    return signed(value, 1)


def decimals(value: float) -> int | None:
    """How many decimals `number` shows; None where it needs an exponent."""
    size = abs(value)
    if size < ROUNDING:
        return 3
    if size < 1e-4 or size >= 1e7:
        return None
    if size >= 1000:
        return 0
    if size >= 100:
        return 1
    if size >= 10:
        return 2
    return 3


def given(value: float | None) -> str:
    """A number that somebody set, not a result of so many digits: ``200``, ``0.5``, ``442.4``."""
    shown = number(value)
    if "." in shown and "e" not in shown:
        shown = shown.rstrip("0").rstrip(".")
    return shown


def load_words(size: float | None, turning: bool = False, units: bool = True) -> str:
    """A force (N) or, when `turning`, a moment (N*mm) as ``442 N`` or ``150 N·m``, without its sign; a dash for none.

    As exact as the words of a load case: whole from a hundred up, three digits below. What a rider weighs is not known
    to a tenth of a newton.

    units : False for a model file, which may be in any consistent set: the number as it stands there.
    """
    if size is None:
        return DASH
    if not units:
        return given(abs(size))
    if turning:
        return f"{given(rounded_load(abs(size) / 1000))} N·m"
    return f"{given(rounded_load(abs(size)))} N"


def rounded_load(size: float) -> float:
    """A load in N or N·m as it is said, without idle digits."""
    if size >= 100.0:
        return float(round(size))
    return float(f"{size:.3g}")
