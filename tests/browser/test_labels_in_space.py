"""In the 3-D view no label of a load covers another, whatever the frame, the load case, the side and the screen."""

from itertools import combinations

import pytest
from droptrail.cli.main import main
from helpers_browser import Watched, browser

VIEWS = ("corner", "side", "front", "top", "rear")
# every label as it stands on the screen, with its words
BOXES = """() => [...document.querySelectorAll("#view .annotation-text-g")].map((g) => {
  const box = g.querySelector("rect").getBoundingClientRect();
  return [box.left, box.top, box.right, box.bottom, g.textContent];
})"""


@pytest.fixture(scope="module")
def chromium():
    with browser() as started:
        yield started


@pytest.fixture(scope="module", params=["laden_700c.csv", "mixte_700c.csv", "tandem"])
def page_of(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp("report")
    sheet = request.config.rootpath / "sample_drawings" / request.param
    if not sheet.exists():
        sheet = folder / "sheet.csv"
        assert main(["new", str(sheet), "--plan", request.param]) == 0
    path = folder / "frame.html"
    assert main(["report", str(sheet), "-o", str(path), "--no-audit", "--modes", "0"]) in (0, 1, 4)
    return path


@pytest.mark.parametrize("width", [390, 1000])
def test_labels_keep_off_one_another(chromium, page_of, width):
    with Watched(chromium, width=width) as watched:
        page = watched.page
        page.goto(page_of.as_uri())
        page.locator("#view canvas").first.wait_for(timeout=20000)
        cases = page.locator("#shape option").evaluate_all(
            "all => all.map((o) => o.value).filter((v) => v.startsWith('case:'))"
        )
        assert len(cases) >= 5
        seen = 0
        for case in cases:
            page.select_option("#shape", case)
            for view in VIEWS:
                page.select_option("#seen", view)
                page.wait_for_timeout(120)
                boxes = page.evaluate(BOXES)
                seen += len(boxes)
                assert meeting(boxes) == [], (case, view)
        assert seen > 5 * len(cases)
        # and after a turn by hand, which draws the labels anew
        page.select_option("#shape", "case:1")
        page.locator("#view").focus()
        for _ in range(6):
            page.keyboard.press("ArrowLeft")
            page.wait_for_timeout(150)
            assert meeting(page.evaluate(BOXES)) == []
        assert watched.errors == []


def meeting(boxes):
    """Pairs of words that share more than a pixel."""
    return [
        (a[4], b[4])
        for a, b in combinations(boxes, 2)
        if min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
    ]
