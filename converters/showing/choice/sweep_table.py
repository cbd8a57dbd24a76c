"""A sweep as tables: a grid a figure for people, one long list for those who calculate on, and as JSON."""

from typing import Any

import numpy as np

from ....model.choice.figures import Figure
from ....model.choice.sweep import Sweep, SweptItem
from ....model.words import given
from ..table import Column, Kind, Row, Table


def sweep_tables(sweep: Sweep) -> list[Table]:
    """One table a figure: the item up the page in the rows, the item across in the columns."""
    tables = []
    for number, figure in enumerate(sweep.figures):
        columns = [
            Column("up", f"{_said(sweep.up)} / {sweep.across.words}"),
            *(
                Column(f"at_{k}", f"{given(round(x, 4))}", Kind.NUMBER)
                for k, x in enumerate(sweep.across.values)
            ),
        ]
        rows: list[Row] = []
        # from the top down, as the item rises up the page in the picture
        for y, values in zip(sweep.up.values[::-1], sweep.values[number][::-1], strict=True):
            rows.append((given(round(y, 4)), *(_cell(v) for v in values)))
        title = f"{figure.title} [{figure.unit}]"
        tables.append(Table(f"sweep {number + 1}", title, columns, rows, figure.load))
    return tables


def sweep_list(sweep: Sweep) -> Table:
    """Every place of the grid in a row."""
    columns = [_item_column(sweep.across), _item_column(sweep.up)]
    columns += [
        Column(f.key.replace(".", "_"), f.title, Kind.NUMBER, f.unit) for f in sweep.figures
    ]
    rows: list[Row] = []
    for k, y in enumerate(sweep.up.values):
        for j, x in enumerate(sweep.across.values):
            # rows are the item up the page, columns the item across: values[figure, up, across]
            rows.append((x, y, *(_cell(v) for v in sweep.values[:, k, j])))
    return Table("sweep", "Sweep", columns, rows)


def sweep_json(sweep: Sweep) -> dict[str, Any]:
    """Stable keys; `values` by figure, rows are the item up the page."""
    figures = [_figure_json(figure) for figure in sweep.figures]
    values = {figure.key: sweep.values[number] for number, figure in enumerate(sweep.figures)}
    return {
        "across": _item_json(sweep.across),
        "up": _item_json(sweep.up),
        "figures": figures,
        "values": values,
        "impossible": sweep.impossible,
    }


def _cell(value: float) -> float | None:
    # NaN is a place without a bicycle, and stays an empty cell
    if np.isnan(value):
        return None
    return float(value)


def _said(item: SweptItem) -> str:
    return f"{item.words} [{item.unit}]"


def _item_column(item: SweptItem) -> Column:
    return Column(item.name, item.words, Kind.NUMBER, item.unit)


def _item_json(item: SweptItem) -> dict[str, Any]:
    return {
        "item": item.name,
        "unit": item.unit,
        "values": list(item.values),
        "present": item.present,
    }


def _figure_json(figure: Figure) -> dict[str, Any]:
    return {"key": figure.key, "unit": figure.unit, "load": figure.load}
