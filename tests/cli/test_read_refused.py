"""`droptrail read` of a drawing that is refused: its lines are listed and drawn all the same."""

from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.drawings.labelling.doubt import InDoubtError
from droptrail.converters.drawings.sideview.read import read_side_view
from helpers_habits import Habit, draw, place, random_drawn_frame


def two_bicycles(folder: Path) -> Path:
    rng = np.random.default_rng(3)
    frame = random_drawn_frame(rng)
    sheet = draw(frame, Habit(), rng)
    by = 3000.0
    for item in list(sheet.items):
        points = tuple((x + by, y) for x, y in item.points)
        sheet.items.append(type(item)(item.kind, points, item.part, item.radius))
    place(sheet).dxf("R2000").write(folder / "two.dxf")
    return folder / "two.dxf"


def test_lines_are_listed_and_drawn_although_the_drawing_is_refused(capsys, tmp_path):
    picture = tmp_path / "two.png"
    code = main(["read", str(two_bicycles(tmp_path)), "-o", str(picture)])
    told = capsys.readouterr()
    assert code == 3
    assert "two bicycles" in told.err
    assert "Lines of two.dxf" in told.out
    assert "yes" in told.out  # the wheels to pick from are marked
    assert picture.stat().st_size > 10_000


def test_what_is_no_drawing_is_only_refused(capsys, tmp_path):
    file = tmp_path / "no.dxf"
    file.write_text("no drawing at all")
    assert main(["read", str(file)]) == 3
    assert "Lines of" not in capsys.readouterr().out


def marked(told: str) -> set[str]:
    """Handles of the rows that say yes under "in doubt"."""
    return {row.split()[0] for row in told.splitlines() if row.rstrip().endswith(" yes")}


def test_the_lines_in_doubt_are_carried_by_the_refusal_and_not_read_out_of_its_words(
    capsys, tmp_path
):
    drawing = two_bicycles(tmp_path)
    with pytest.raises(InDoubtError) as refused:
        read_side_view(drawing)
    named = {
        h for p in refused.value.proposals for held in p.picks.values() for h in held.split(",")
    }
    assert main(["read", str(drawing)]) == 3
    assert marked(capsys.readouterr().out) == refused.value.lines
    assert refused.value.lines >= named
    assert named


def test_a_word_of_the_file_is_no_line_in_doubt(capsys, tmp_path):
    """A file's own name may look like a refusal's words: 'handle 31 on layer 0'."""
    drawing = two_bicycles(tmp_path)
    assert main(["read", str(drawing)]) == 3
    rows = capsys.readouterr().out
    plain = marked(rows)
    other = next(row.split()[0] for row in rows.splitlines() if " line " in row)
    renamed = drawing.rename(tmp_path / f"handle {other} on layer 0.dxf")
    assert main(["read", str(renamed)]) == 3
    told = capsys.readouterr()
    assert f"handle {other}" in told.err
    assert marked(told.out) == plain
    assert other not in plain
