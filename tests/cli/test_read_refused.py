"""`droptrail read` of a drawing that is refused: its lines are listed and drawn all the same."""

from pathlib import Path

import numpy as np
from droptrail.cli.main import main
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
