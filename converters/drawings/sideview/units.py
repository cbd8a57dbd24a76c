"""How many mm is one drawing unit? Evidence is weighed; when it cannot settle the matter, the builder is asked.

Every reading (a unit and a scale) is tried on the recognised wheels and chainstay. Readings that give no bicycle fall
out. Of the rest the one with the best support wins; two readings with equal support are a question, never a guess.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ....model.errors import InputError
from ....model.findings import Finding
from ..drawing import Drawing
from .unit_evidence import (
    ANGLE_SLACK,
    LENGTHS,
    UNITS,
    ScaleEvidence,
    TypedDimension,
    same,
    scale_name,
    typed_dimensions,
    unit_evidence,
    unit_name,
)

__all__ = ["ScaleDecision", "ScaleEvidence", "decide_scale", "unit_evidence"]

# A 12 inch child's wheel to 29 x 3 inch; a child's frame to a long cargo bicycle (common practice, no source).
WHEEL_MM = (290.0, 800.0)
CHAINSTAY_MM = (300.0, 620.0)
# What there is at all: a balance bicycle to 36 inch wheels and long-tails. A unit the file states is held to these.
HARD_WHEEL_MM = (230.0, 1000.0)
HARD_CHAINSTAY_MM = (180.0, 1000.0)
STANDARD_SCALES = (1.0, 2.0, 5.0, 10.0, 20.0)  # tried only to tell the builder what would fit
CLOSE = 0.05  # 1:25 in mm and 1:1 in inches differ by 1.6 %: no wheel or stay tells them apart
STRENGTH = {
    "typed": 4,
    "dimlfac": 4,
    "header": 1,
    "scale-note": 1,
    "unit-note": 1,
    "measured": 1,
    "odd-dimlfac": 0,
    "not-to-scale": 0,
}


@dataclass(frozen=True)
class UnitReading:
    """One way to read the drawing: unit in mm, scale 10 for 1:10."""

    unit: float
    scale: float

    @property
    def mm_per_unit(self) -> float:
        return self.unit * self.scale

    @property
    def name(self) -> str:
        return unit_name(self.unit) + ("" if self.scale == 1.0 else f" at {scale_name(self.scale)}")


@dataclass(frozen=True)
class ScaleDecision:
    """mm per drawing unit, the unit's name and scale it came from, and what the builder should know about it."""

    mm_per_unit: float
    unit: str
    scale: float
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True)
class Yardstick:
    """Recognised members in drawing units: wheel diameters (tyre outside) and the chainstay."""

    wheels: tuple[float, ...]
    chainstay: float | None

    @property
    def known(self) -> bool:
        return bool(self.wheels) or self.chainstay is not None

    def fits(self, mm_per_unit: float, stated: bool = False) -> bool:
        """Is this a bicycle? One of an unusual size only where the file states its unit."""
        wheel, stay = (HARD_WHEEL_MM, HARD_CHAINSTAY_MM) if stated else (WHEEL_MM, CHAINSTAY_MM)
        wheels = all(wheel[0] <= w * mm_per_unit <= wheel[1] for w in self.wheels)
        return wheels and (
            self.chainstay is None or stay[0] <= self.chainstay * mm_per_unit <= stay[1]
        )

    def says(self, reading: UnitReading) -> str:
        if self.wheels:
            parts = [f"wheel {max(self.wheels) * reading.mm_per_unit:,.5g} mm"]
        else:
            parts = []
        parts += (
            [f"chainstay {self.chainstay * reading.mm_per_unit:,.5g} mm"]
            if self.chainstay is not None
            else []
        )
        return f"{reading.name}: {', '.join(parts) or 'nothing to check it on'}"


def decide_scale(
    drawing: Drawing,
    wheel_diameters_units: Sequence[float],
    chainstay_units: float | None,
    units: str | None = None,
    scale: float | None = None,
) -> ScaleDecision:
    """mm per drawing unit.

    Parameters
    ----------
    wheel_diameters_units, chainstay_units : recognised sizes in drawing units; empty or None when there are none.
    units : "mm", "cm", "m" or "inch" if the builder stated it; wins over all evidence.
    scale : 10 for 1:10 if the builder stated it; wins over all evidence.

    Raises
    ------
    InputError
        when no reading gives a bicycle, or two do and the evidence does not settle it; the message lists the
        readings with the wheel and chainstay each would give, and asks for --units or --scale.
    """
    stick = Yardstick(tuple(wheel_diameters_units), chainstay_units)
    evidence = unit_evidence(drawing)
    stated = units is not None or scale is not None
    readings = _readings(drawing, evidence, None if units is None else _unit(units), scale)
    chosen = _named(_choose(readings, evidence, stick, stated), evidence, scale)
    findings = (*_about_choice(chosen, evidence, stick, stated), *_about_typed(drawing, chosen))
    return ScaleDecision(chosen.mm_per_unit, unit_name(chosen.unit), chosen.scale, findings)


def _unit(name: str) -> float:
    if name not in UNITS:
        raise InputError(f'unit "{name}" is not known; state --units {", ".join(UNITS)}')
    return UNITS[name]


# -- the readings ------------------------------------------------------------------------------------


def _readings(
    drawing: Drawing, evidence: Sequence[ScaleEvidence], unit: float | None, scale: float | None
) -> list[UnitReading]:
    """Stated, else every unit with every scale the evidence speaks of; readings of one size only once."""
    if drawing.header_unit is not None:
        header = [drawing.header_unit]
    else:
        header = []
    if unit is not None:
        units = [unit]
    else:
        units = [*header, *(u for u in UNITS.values() if u not in header)]
    if scale is not None:
        scales = [scale]
    else:
        scales = _scales(evidence)
    # full size in the header's unit comes first: of readings of one size the first names it
    found = [UnitReading(u, s) for s in scales for u in units]
    if unit is None and scale is None:
        # a typed length with its unit gives mm per drawing unit, whatever unit and scale make it up
        found += [UnitReading(1.0, e.mm_per_unit) for e in evidence if e.mm_per_unit is not None]
    kept: list[UnitReading] = []
    for reading in found:
        if not any(same(reading.mm_per_unit, other.mm_per_unit) for other in kept):
            kept.append(reading)
    return kept


def _scales(evidence: Sequence[ScaleEvidence]) -> list[float]:
    """1:1 first, so that 10 mm per unit is called cm before it is called 1:10."""
    return [1.0, *(e.scale for e in evidence if e.scale is not None)]


def _supports(evidence: ScaleEvidence, reading: UnitReading, scales: Sequence[float]) -> bool:
    """Does a piece of evidence agree with a reading? What it leaves open may be anything the drawing speaks of."""
    if evidence.mm_per_unit is not None:
        return same(evidence.mm_per_unit, reading.mm_per_unit)
    # a unit alone leaves the scale open
    if evidence.unit is not None:
        return any(same(evidence.unit * scale, reading.mm_per_unit) for scale in scales)
    # a scale alone leaves the unit open
    if evidence.scale is not None:
        return any(
            same(unit * evidence.scale, reading.mm_per_unit)
            for unit in {*UNITS.values(), reading.unit}
        )
    return False


def _strength(
    reading: UnitReading, evidence: Sequence[ScaleEvidence], others: Sequence[UnitReading]
) -> int:
    """Support for a reading by evidence that does not equally support all the others."""
    scales = _scales(evidence)
    telling = []
    for e in evidence:
        if not all(_supports(e, other, scales) for other in others):
            telling.append(e)
    return sum(STRENGTH[e.source] for e in telling if _supports(e, reading, scales))


def _choose(
    readings: Sequence[UnitReading],
    evidence: Sequence[ScaleEvidence],
    stick: Yardstick,
    stated: bool,
) -> UnitReading:
    fitting = [reading for reading in readings if stick.fits(reading.mm_per_unit)]
    header = [e for e in evidence if e.source == "header"]
    # a unit that the file states may belong to an unusual bicycle, so wider limits hold
    if not fitting and header:
        scales = [s for s in _scales(evidence) if s != 1.0] or [1.0]
        possible = [r for r in readings if stick.fits(r.mm_per_unit, True)]
        for reading in possible:
            if any(_supports(e, reading, scales) for e in header):
                fitting = [reading]
                break
    # the builder's word stands even against the sizes; a warning says so
    if not fitting and stated:
        return readings[0]
    if not fitting:
        raise InputError(_none_fits(readings, stick))
    ranked = sorted(fitting, key=lambda reading: -_strength(reading, evidence, fitting))
    # a lone reading is measured against no support at all
    best, second = [*(_strength(reading, evidence, fitting) for reading in ranked), 0][:2]
    if len(ranked) > 1 and not _settled(best, second, ranked):
        raise InputError(_undecided(ranked, evidence, stick))
    return ranked[0]


def _settled(best: int, second: int, ranked: Sequence[UnitReading]) -> bool:
    """Dimensions settle it; weaker evidence only alone, and not between sizes so close that both look right."""
    if best >= STRENGTH["typed"]:
        return second < STRENGTH["typed"]
    sizes = [reading.mm_per_unit for reading in ranked]
    close = any(abs(size - sizes[0]) < CLOSE * sizes[0] for size in sizes[1:])
    return best > second == 0 and not close


def _named(
    chosen: UnitReading, evidence: Sequence[ScaleEvidence], stated_scale: float | None
) -> UnitReading:
    """10 mm per unit is "cm" or "mm at 1:10": named by the scale the drawing speaks of."""
    for e in evidence if stated_scale is None else ():
        if (
            e.scale is not None
            and e.scale != 1.0
            and (e.scale.is_integer() or (1.0 / e.scale).is_integer())
        ):
            unit = next((u for u in UNITS.values() if same(u * e.scale, chosen.mm_per_unit)), None)
            if unit is not None:
                return UnitReading(unit, e.scale)
    return chosen


def _none_fits(readings: Sequence[UnitReading], stick: Yardstick) -> str:
    tried = "; ".join(stick.says(reading) for reading in readings)
    would = [UnitReading(unit, scale) for scale in STANDARD_SCALES for unit in UNITS.values()]
    fits = [f"{stick.says(reading)}" for reading in would if stick.fits(reading.mm_per_unit)]
    if fits:
        hint = f" It would fit {' or '.join(fits)}."
    else:
        hint = ""
    return (
        f"no unit makes this a bicycle ({tried}; expected are wheels of {_range(WHEEL_MM)} and a chainstay of "
        f"{_range(CHAINSTAY_MM)}).{hint} State --units mm|cm|m|inch and --scale 1:N, or correct the drawing."
    )


def _undecided(
    readings: Sequence[UnitReading], evidence: Sequence[ScaleEvidence], stick: Yardstick
) -> str:
    listed = "; ".join(stick.says(reading) for reading in readings)
    because = "; ".join(dict.fromkeys(e.says for e in evidence)) or "nothing in the file says which"
    return (
        f"the unit is in doubt: {listed} ({because}). State --units mm|cm|m|inch and --scale 1:N."
    )


def _range(limits: tuple[float, float]) -> str:
    return f"{limits[0]:g} to {limits[1]:g} mm"


# -- what the builder should know --------------------------------------------------------------------


def _about_choice(
    chosen: UnitReading, evidence: Sequence[ScaleEvidence], stick: Yardstick, stated: bool
) -> Iterator[Finding]:
    scales = [*_scales(evidence), *([chosen.scale] if stated else [])]
    against = [
        # such a remark speaks against no unit; it gets its own finding
        e
        for e in evidence
        if e.source != "not-to-scale" and not _supports(e, chosen, scales)
    ]
    favour = [e for e in evidence if STRENGTH[e.source] and e not in against]
    reasons = "; ".join(dict.fromkeys(e.says for e in favour))
    if stated and not stick.fits(chosen.mm_per_unit):
        text = f"as stated the drawing gives {stick.says(chosen)}; expected are wheels of {_range(WHEEL_MM)} and a "
        text += f"chainstay of {_range(CHAINSTAY_MM)}. Check --units and --scale."
        yield Finding("unit-stated-implausible", "warning", text)
    if not stated and not stick.known:
        text = f"no wheel and no chainstay to check the unit on; taken as {chosen.name}."
        yield Finding("unit-unchecked", "warning", text)
    elif not stated and not any(e.source == "header" for e in favour):
        yield _inferred(chosen, stick, reasons)
    elif not same(chosen.scale, 1.0):
        yield Finding(
            "drawn-to-scale", "info", f"taken as {stick.says(chosen)} ({reasons or 'as stated'})."
        )
    for piece in against:
        yield _contradicted(piece, chosen)
    for piece in evidence:
        if piece.source == "not-to-scale":
            text = f"{piece.says}: what the lines measure may not be what is meant. Check against the fit sheet."
            yield Finding("drawing-not-to-scale", "warning", text)


def _inferred(chosen: UnitReading, stick: Yardstick, reasons: str) -> Finding:
    """Most files are full size in mm; any other size may as well be that of a page the drawing was fitted to."""
    why = reasons or "the only unit that makes it a bicycle"
    text = f"the unit is inferred; taken as {stick.says(chosen)} ({why})."
    if reasons or same(chosen.mm_per_unit, 1.0):
        return Finding("unit-inferred", "info", text)
    text += " Nothing in the file says so, and a drawing fitted to a page looks the same at another size: check wheel "
    return Finding(
        "unit-inferred", "warning", text + "and chainstay, then state --units and --scale."
    )


def _contradicted(piece: ScaleEvidence, chosen: UnitReading) -> Finding:
    if piece.source == "scale-note":
        text = f"{piece.says}: taken as the scale of the print, because the lines themselves are {chosen.name}."
        return Finding("plot-scale-ignored", "info", text)
    text = f"{piece.says}, but the drawing was read as {chosen.name}. Check the unit, or state --units and --scale."
    return Finding("unit-contradicted", "warning", text)


def _about_typed(drawing: Drawing, chosen: UnitReading) -> Iterator[Finding]:
    """Typed dimension texts that do not agree with what is drawn: someone changed the number, not the drawing."""
    for typed in typed_dimensions(drawing):
        note = typed.note
        if note.kind == "angular":
            drawn = _nearest_angle(note.measured, typed.number)
            unit = "degree"
            slack = max(typed.slack, ANGLE_SLACK)
        elif note.kind in LENGTHS:
            printed = typed.unit or _printed_unit(typed, chosen)
            drawn = note.measured * chosen.mm_per_unit / printed
            slack = typed.slack
            unit = unit_name(printed)
        else:
            continue
        if abs(drawn - typed.number) > slack:
            words = " ".join(note.text.split())
            text = f'a dimension says "{words}" but {drawn:.5g} {unit} is drawn. The drawing counts; correct one.'
            yield Finding(
                "dimension-text-differs",
                "warning",
                text,
                f"handle {note.handle}" if note.handle else "",
            )


def _nearest_angle(measured: float, printed: float) -> float:
    """Two lines enclose an angle and its supplement; a dimension may print either."""
    return min(
        (measured, 180.0 - measured, 360.0 - measured), key=lambda angle: abs(angle - printed)
    )


def _printed_unit(typed: TypedDimension, chosen: UnitReading) -> float:
    """The unit in which a bare typed number comes closest to the drawing."""
    drawn = typed.note.measured * chosen.mm_per_unit
    return min(UNITS.values(), key=lambda unit: abs(drawn / unit - typed.number) / (drawn / unit))
