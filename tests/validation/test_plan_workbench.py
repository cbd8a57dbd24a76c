"""The served page's bench with a frame that is no diamond: its items are knobs, its own tubes are tried and saved."""

from pathlib import Path

import pytest
from droptrail.validation.workbench import Upload, open_files, sheet_file, tube_texts, with_changes
from droptrail.validation.workbench_knobs import Knobs, knobs_of

FOLDER = Path(__file__).parent.parent.parent / "sample_drawings"


@pytest.mark.parametrize(
    ("name", "tube", "cells", "item", "value", "rows"),
    [
        (
            "mixte_700c",
            "lateral",
            {"outside_diameter": "19"},
            "lateral_spacing",
            "50",
            ("lateral spacing at the head tube,50,mm", "lateral,19,0.8"),
        ),
        (
            "step_through_26",
            "brace",
            {"outside_diameter": "22.2"},
            "top_tube_sagitta",
            "-30",
            ("top tube sagitta,-30,mm", "brace,top tube 0.5,down tube 0.52,,22.2,0.9"),
        ),
        (
            "tandem_700c",
            "boom_tube",
            {"outside_diameter": "44.5"},
            "boom_length",
            "720",
            ("boom length,720,mm", "wheelbase,1775,mm", "boom tube,44.5,1.2"),
        ),
    ],
)
def test_a_plans_item_and_tube_are_tried_and_saved(
    name: str, tube: str, cells: dict[str, str], item: str, value: str, rows: tuple[str, ...]
) -> None:
    data = (FOLDER / f"{name}.csv").read_bytes()
    bench = open_files(None, Upload(f"{name}.csv", data))
    bicycle = bench.reading.need_bicycle()
    shown = {knob.name: knob.group for knob in knobs_of(bicycle)}
    assert shown[item] == "Where the plan's tubes meet"
    # a diamond has none of them
    assert "Where the plan's tubes meet" not in {
        knob.group for knob in knobs_of(open_files(None, diamond()).reading.need_bicycle())
    }
    texts = {tube: {**tube_texts(bicycle)[tube], **cells}}
    changed = with_changes(bench, texts, Knobs({item: value}))
    before = data.decode().splitlines()
    after = sheet_file(changed).decode("utf-8-sig").splitlines()
    new = [b for a, b in zip(before, after, strict=True) if a != b]
    assert len(new) == len(rows)
    for row, line in zip(rows, new, strict=True):
        assert line.startswith(row)


def diamond() -> Upload:
    return Upload("tourer_700c.csv", (FOLDER / "tourer_700c.csv").read_bytes())
