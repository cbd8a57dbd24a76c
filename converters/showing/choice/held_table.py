"""Held how, as tables and JSON: a figure under every way to hold its case, and what becomes of the ranking."""

from collections.abc import Sequence
from math import isfinite, nan
from typing import Any

from ....model.choice.held import BY, Held
from ....model.choice.held_tubes import BEST, HeldRanking
from ....model.postprocess.sensitivity import Sensitivity
from ....model.words import signed, spoken, tenths
from ..table import Amount, Cell, Column, Kind, Row, Table

BESIDE = 4  # variants beside one another; JSON holds all
_WAY = Column("way", "held how")


def held_table(held: Held) -> Table:
    """Rows are ways to hold it; the figure as the bicycle stands, then each variant's change and what 10 g buy."""
    figure = held.figure
    shown = _shown(held)
    measure = spoken(figure.key.rpartition(".")[2])
    columns = [_WAY, Column("reference", measure, Kind.NUMBER, figure.unit)]
    for row in shown:
        columns.append(Column(f"variant_{row}", held.contenders[row].name))
    rows: list[Row] = []
    for number, way in enumerate(held.ways):
        cells: list[Cell] = [way.short, held.values[0][number]]
        cells += [_cell(held, row, number) for row in shown]
        rows.append(cells)
    title = f"Held how: {figure.title}"
    return Table("held", title, columns, rows, _notes(held, shown))


_AUDIT = (
    Column("figure", "figure", missing=""),
    _WAY,
    Column("value", "value", Kind.NUMBER, varying=True),
    Column("against_told", "against as told", Kind.NUMBER, "%", digits=1, signed=True),
)


def held_audit_table(studied: Sequence[Held]) -> Table:
    """The figure as the bicycle stands under every way to hold each case, against the way the case tells."""
    rows: list[Row] = []
    for held in studied:
        for number, way in enumerate(held.ways):
            value = Amount(held.values[0][number], held.figure.unit)
            against = None if number == 0 else held.against_told(0, number)
            rows.append((held.figure.title if number == 0 else "", way.short, value, against))
    notes = (
        "A figure is for its supports: beside these differences every error bar above is small. What each way holds: "
        "droptrail cases NAME."
    )
    return Table("held", "Held how: the same load, otherwise held", _AUDIT, rows, notes)


def _shown(held: Held) -> list[int]:
    """The variants in their order; of many the stiffest as told."""
    rows = range(1, len(held.contenders))
    best = sorted(rows, key=lambda row: -held.gain(row, 0))[:BESIDE]
    # chosen by stiffness, shown in their own order, as in the other tables
    return sorted(best)


def _cell(held: Held, row: int, way: int) -> str:
    """``+8.2 (+2.4)``: the change in percent, in brackets what 10 g buy."""
    change = held.change(row, way)
    # a frame that could not be solved under this way has no change
    if not isfinite(change):
        return ""
    grams = held.contenders[row].grams - held.contenders[0].grams
    # a variant without more grams has no price
    if not isfinite(held.gain(row, way, "per_10_g")):
        return tenths(change)
    return f"{tenths(change)} ({tenths(10 * change / grams)})"


def _notes(held: Held, shown: Sequence[int]) -> str:
    told = []
    if shown:
        told.append("Changes in %, in brackets for 10 g more")
    if len(held.contenders) - 1 > len(shown):
        told.append(f"the {len(shown)} stiffest as told of {len(held.contenders) - 1}")
    # the first way is the one the case tells, and is explained there
    words = [f"{way.short}: {way.words}" for way in held.ways[1:]]
    ranking = "".join(f" {sentence[0].upper()}{sentence[1:]}." for sentence in held.sentences())
    lead = "; ".join(told)
    return f"{f'{lead}.' if lead else ''}{ranking} {'; '.join(words)}.".strip()


def held_lines(studied: Sequence[Held]) -> list[list[str | float]]:
    """For a worksheet: every figure, way and variant with its value, then the ranking in words."""
    lines: list[list[str | float]] = [["figure", "unit", "held how", "variant", "value"]]
    for held in studied:
        for number, way in enumerate(held.ways):
            for row, one in enumerate(held.contenders):
                key = held.figure.key
                lines.append([key, held.figure.unit, way.short, one.name, held.values[row][number]])
        lines += [[sentence] for sentence in held.sentences()]
    return lines


def held_json(studied: Sequence[Held]) -> list[dict[str, Any]]:
    """Every figure, way and variant, with the changes of the ranking in words."""
    return [_one_json(held) for held in studied]


def _one_json(held: Held) -> dict[str, Any]:
    ways = [_way_json(held, number) for number in range(len(held.ways))]
    undecided = [by for by in BY if by in held.undecided()]
    return {
        "case": held.case,
        "figure": held.figure.key,
        "unit": held.figure.unit,
        "ways": ways,
        "ranking": list(held.sentences()),
        "depends_on_holding": undecided,
    }


def _way_json(held: Held, number: int) -> dict[str, Any]:
    way = held.ways[number]
    rows = range(len(held.contenders))
    return {
        "name": way.name,
        "words": way.words,
        "variants": [_variant_json(held, row, number) for row in rows],
    }


def _variant_json(held: Held, row: int, way: int) -> dict[str, Any]:
    """NaN (printed as null) where nothing is to be compared: the bicycle as it stands, a variant without more grams."""
    # the bicycle as it stands is what the others are compared with
    change = nan
    price = nan
    if row:
        change = held.change(row, way)
        price = held.gain(row, way, "per_10_g")
    return {
        "name": held.contenders[row].name,
        "value": held.values[row][way],
        "change_percent": change,
        "stiffer_percent_per_10_g": price,
    }


# --- tubes ----------------------------------------------------------------------------------------------------------
_PLACES = ("first", "second", "third")


def held_rankings_table(held: HeldRanking) -> Table:
    """The best uses of 10 g under every way to hold the case."""
    columns = [_WAY, *(Column(place, place) for place in _PLACES[:BEST])]
    rows: list[Row] = []
    for way, best in zip(held.ways, held.best, strict=True):
        said = [_use(row) for row in best]
        # padded: fewer than three tubes may be worth anything
        rows.append((way.short, *said, *[""] * (BEST - len(said))))
    title = f"Held how: stiffness for 10 g more, {held.figure.title}"
    sentence = held.sentence
    return Table("held", title, columns, rows, f"{sentence[0].upper()}{sentence[1:]}.")


def _use(row: Sensitivity) -> str:
    return f"{spoken(row.tube)} {row.parameter} {signed(row.percent_per_10g, 2)} %"


def held_rankings_json(studied: Sequence[HeldRanking]) -> list[dict[str, Any]]:
    """Every case and way with the best uses of 10 g."""
    return [_ranking_json(held) for held in studied]


def _ranking_json(held: HeldRanking) -> dict[str, Any]:
    ways = []
    for way, best in zip(held.ways, held.best, strict=True):
        uses = [_use_json(row) for row in best]
        ways.append({"name": way.name, "words": way.words, "best": uses})
    return {
        "case": held.case,
        "figure": held.figure.key,
        "ways": ways,
        "ranking": held.sentence,
    }


def _use_json(row: Sensitivity) -> dict[str, Any]:
    return {
        "tube": row.tube,
        "parameter": row.parameter,
        "percent_per_10g": row.percent_per_10g,
    }
