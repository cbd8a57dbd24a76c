"""The served page in a real browser: from drop to verdict, a corrected tube, a saved sheet, refusals said plainly."""

import base64
import re
import subprocess
import sys

import pytest
from droptrail.converters.files.fitsheet.bicycle import read_fit_sheet
from helpers_browser import Watched, browser

EDITED = '[name="top_tube.outside_diameter"]'


@pytest.fixture(scope="module")
def address(request):
    """A real `droptrail serve` in a process of its own."""
    with subprocess.Popen(
        [sys.executable, "-m", "droptrail.cli.main", "serve", "--port", "0"],
        cwd=request.config.rootpath,
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            yield re.search(r"http://127\.0\.0\.1:\d+/", server.stdout.readline()).group()
        finally:
            server.terminate()


@pytest.fixture(scope="module")
def chromium():
    with browser() as started:
        yield started


@pytest.fixture
def served(chromium, address):
    with Watched(chromium) as watched:
        watched.page.goto(address)
        yield watched


@pytest.fixture
def bench(served, request):
    """The sample drawing and its sheet dropped, down to the verdict."""
    samples = request.config.rootpath / "sample_drawings"
    drop(served.page, samples / "tourer_700c.dxf", samples / "tourer_700c.csv")
    reached(served.page, "#at-verdict", "The drawing gives the sheet's numbers")
    return served


@pytest.fixture
def corrected(bench):
    """The same with a wider top tube, solved again."""
    bench.page.fill(EDITED, "31.8")
    reached(bench.page, "#at-verdict", "it follows")
    return bench


def drop(page, *paths):
    """Files let go over the page, as a hand would."""
    files = [[path.name, base64.b64encode(path.read_bytes()).decode()] for path in paths]
    carried = page.evaluate_handle(
        """files => {
        const carried = new DataTransfer();
        for (const [name, text] of files)
            carried.items.add(new File([Uint8Array.from(atob(text), (c) => c.charCodeAt(0))], name));
        return carried;
    }""",
        files,
    )
    page.dispatch_event("#drop", "drop", {"dataTransfer": carried})


def reached(page, selector, words, timeout=20000):
    page.locator(selector, has_text=words).first.wait_for(timeout=timeout)


def test_from_drop_to_verdict(bench):
    page = bench.page
    assert (
        "Solved again by OpenSees" in page.locator("#at-verdict").inner_text()
        or "Not cross-checked" in page.locator("#at-verdict").inner_text()
    )
    assert page.locator("#at-drawing svg").count() == 1
    assert "12 of 12 lines used" in page.locator("#at-drawing").inner_text()
    assert page.locator("#tube-rows tr").count() == 8
    assert page.locator("#view canvas").count() > 0
    assert bench.errors == []


def test_a_corrected_tube_changes_the_numbers_at_once(bench):
    page = bench.page
    pushed = page.locator("#changes tbody tr", has_text="head tube top, sideways")
    before = pushed.inner_text().split("\t")
    assert before[1] == before[2]
    page.fill(EDITED, "31.8")
    reached(page, "#at-verdict", "it follows")  # solved, not yet cross-checked
    after = pushed.inner_text().split("\t")
    assert after[1] == before[1]
    assert float(after[2].split()[0]) > 1.03 * float(before[2].split()[0])
    assert "changed on the page: top tube" in page.locator("#source").inner_text()
    assert "changed" in page.locator(EDITED).get_attribute("class")
    page.locator("#at-verdict", has_text="Solved again").or_(
        page.locator("#at-verdict", has_text="is not installed")
    ).first.wait_for(timeout=15000)
    assert bench.errors == []


def test_the_sheet_is_saved_with_the_new_tube(corrected, tmp_path):
    with corrected.page.expect_download() as download:
        corrected.page.locator("#save-csv").click()
    assert download.value.suggested_filename == "lindenhof-tourer-700c.csv"
    download.value.save_as(tmp_path / "saved.csv")
    sheet = read_fit_sheet(tmp_path / "saved.csv")
    assert sheet.tubes["top_tube"].od_start == 31.8
    assert sheet.tubes["seat_tube"].od_start == 28.6
    assert corrected.errors == []


def test_the_report_of_the_bench_opens_by_itself(corrected, tmp_path):
    with corrected.page.expect_download() as download:
        corrected.page.locator("#save-report").click()
    download.value.save_as(tmp_path / "saved.html")
    text = (tmp_path / "saved.html").read_text(encoding="utf-8")
    assert "changed on the page: top tube" in text
    assert 4e6 < len(text) < 6e6


def test_a_tube_that_cannot_be_is_named_and_nothing_is_lost(corrected):
    page = corrected.page
    page.fill('[name="top_tube.wall"]', "thick")
    reached(page, "#tube-problem", "'thick' is not a number")
    assert page.locator('[name="top_tube.wall"]').get_attribute("aria-invalid") == "true"
    assert page.locator('[name="top_tube.butts"]').get_attribute("aria-invalid") == "false"
    assert page.locator("#changes").get_attribute("class") == "stale"
    page.locator("#back").click()
    page.locator("#tube-problem").wait_for(state="hidden")
    assert page.locator(EDITED).input_value() == "28.6"


def test_a_bad_file_gets_one_line(served, tmp_path):
    (tmp_path / "wrong.dxf").write_text("this is no drawing")
    drop(served.page, tmp_path / "wrong.dxf")
    reached(served.page, "#problem", "wrong.dxf: is not a DXF")
    assert not served.page.locator("#results").is_visible()
    (tmp_path / "holiday.jpg").write_bytes(b"x")
    drop(served.page, tmp_path / "holiday.jpg")
    reached(served.page, "#problem", "Only drawings (.dxf) and fit sheets")


def test_another_page_cannot_post_here(served, address):
    """From a page of another origin the browser may send, but the program refuses and nothing can be read."""
    with Watched(served.page.context.browser) as foreign:
        outcome = foreign.page.evaluate(
            """async (address) => {
            const ask = (options) => fetch(address + "api/read", { method: "POST", body: "{}", ...options })
                .then(() => "read", () => "blocked");
            return [await ask({}), await ask({ headers: { "content-type": "application/json" } })];
        }""",
            address,
        )
        assert outcome == ["blocked", "blocked"]
