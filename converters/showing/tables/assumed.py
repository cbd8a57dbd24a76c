"""What the input does not say, as a table for page and spreadsheet, and as lines of a terminal."""

from collections.abc import Iterable, Iterator, Sequence

from ....model.assumption import COMMON_PRACTICE, Assumed
from ..table import Column, Kind, Table

ASSUMED = "Assumed, because the input does not say"


def assumed_table(assumed: Sequence[Assumed]) -> Table:
    """Every assumed value with its unit and source."""
    columns = (
        Column("subject", "concerns"),
        Column("item", "item"),
        Column("value", "value", Kind.FACT),
        Column("unit", "unit", missing=""),
        Column("source", "source", missing=""),
    )
    rows = [(one.subject, one.item, one.value, one.unit, one.source) for one in assumed]
    return Table("assumed", ASSUMED, columns, rows)


def assumed_lines(assumed: Iterable[Assumed]) -> Iterator[str]:
    """One line for each subject; a source stands behind its value where it is not common practice."""
    subjects: dict[str, list[str]] = {}
    for one in assumed:
        # the heading says already that the rest is common practice
        if one.source == COMMON_PRACTICE:
            said = one.short
        else:
            said = str(one)
        subjects.setdefault(one.subject, []).append(said)
    for subject, values in subjects.items():
        yield f"{subject}: {'; '.join(values)}"
