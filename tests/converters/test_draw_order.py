"""What an opaque area hides when objects are drawn in another order than they stand in the file (SORTENTSTABLE)."""

from pathlib import Path

import ezdxf
import pytest
from droptrail.converters.drawings.dxf.read_dxf import read_dxf

COVER = [(-5.0, -5.0), (50.0, -5.0), (50.0, 50.0), (-5.0, 50.0)]
BELOW, ABOVE = "1", "FFFF"


def drawn(path: Path, cover_first: bool, cover_by: str, sorting: int = 127, block: bool = False):
    """A line under or over an area, the area drawn by another handle; a second line far away."""
    doc = ezdxf.new("R2010")
    doc.header["$SORTENTS"] = sorting
    space = doc.blocks.new("PART") if block else doc.modelspace()
    if block:
        doc.modelspace().add_blockref("PART", (0, 0))
    cover = space.add_wipeout(COVER) if cover_first else None
    space.add_line((0, 0), (40, 40))
    cover = cover or space.add_wipeout(COVER)
    space.add_line((500, 0), (600, 0))
    if cover_by:
        table = doc.objects.new_entity(
            "SORTENTSTABLE",
            {"owner": space.block_record_handle, "block_record_handle": space.block_record_handle},
        )
        table.append(cover.dxf.handle, cover_by)
    doc.saveas(path)
    return [tuple(c.points.ravel().round(6).tolist()) for c in read_dxf(path).curves]


LINE, FAR = (0.0, 0.0, 40.0, 40.0), (500.0, 0.0, 600.0, 0.0)


@pytest.mark.parametrize("block", [False, True])
@pytest.mark.parametrize(
    ("cover_first", "cover_by", "shown"),
    [
        (True, "", [LINE, FAR]),
        (False, "", [FAR]),
        (True, ABOVE, [FAR]),
        (False, BELOW, [LINE, FAR]),
    ],
)
def test_the_table_says_what_lies_over_what(cover_first, cover_by, shown, block, tmp_path):
    """DXF reference: SORTENTSTABLE holds the handles that objects are drawn by."""
    assert drawn(tmp_path / "order.dxf", cover_first, cover_by, block=block) == shown


def test_a_drawing_that_sorts_nothing_is_drawn_as_it_stands(tmp_path):
    """DXF reference, $SORTENTS: bits 16 (regenerating) and 32 (plotting)."""
    assert drawn(tmp_path / "plain.dxf", False, BELOW, sorting=4) == [FAR]
    assert drawn(tmp_path / "plotted.dxf", False, BELOW, sorting=32) == [LINE, FAR]


def test_a_damaged_table_changes_nothing(tmp_path):
    path = tmp_path / "order.dxf"
    drawn(path, False, BELOW)
    head, _, tail = path.read_text().partition("SORTENTSTABLE")
    first, mark, rest = tail.partition("331\n")
    handle, _, rest = rest.partition("\n")
    path.write_text(f"{head}SORTENTSTABLE{first}{mark}nonsense\n{rest}")
    shown = [tuple(c.points.ravel().tolist()) for c in read_dxf(path).curves]
    assert handle
    assert shown == [FAR]
