"""The served page in a real browser: from drop to verdict, a corrected tube, a saved sheet, refusals said plainly."""

import base64
import re
import subprocess
import sys

import numpy as np
import pytest
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.fitsheet.bicycle import read_fit_sheet
from helpers_browser import Watched, browser
from helpers_habits import Habit, draw, place, random_drawn_frame

EDITED = '[name="top_tube.outside_diameter"]'


@pytest.fixture(scope="module")
def address(request, tmp_path_factory):
    """A real `droptrail serve` in a process of its own."""
    shelf = str(tmp_path_factory.mktemp("shelf"))
    with subprocess.Popen(
        [sys.executable, "-m", "droptrail.cli.main", "serve", "--port", "0", "--shelf", shelf],
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


def test_the_verdict_comes_first_and_the_files_fold_away(served, request):
    page = served.page
    samples = request.config.rootpath / "sample_drawings"
    assert page.locator("#drop").is_visible()
    for width, height in ((390, 800), (768, 900), (1440, 800)):
        page.set_viewport_size({"width": width, "height": height})
        drop(page, samples / "tourer_700c.csv")
        page.locator("#verdict .tiles").wait_for(timeout=20000)
        assert not page.locator("#drop").is_visible()
        # trail, drop and the stiffnesses without scrolling
        box = page.locator("#verdict .tiles").bounding_box()
        assert box["y"] + box["height"] <= height
        tops = [
            page.locator(at).bounding_box()["y"]
            for at in ("#verdict", "#bench", "#several", "#shelf", "#space")
        ]
        assert tops == sorted(tops)
    page.locator("#files-fold > summary").click()
    assert page.locator("#drop").is_visible()
    assert page.locator("#sheet-name").inner_text() == "tourer_700c.csv"
    assert served.errors == []


def test_a_sheet_picked_while_its_drawing_is_still_read_goes_with_it(served, request):
    samples = request.config.rootpath / "sample_drawings"
    page = served.page
    # the drawing's answer takes its time
    page.route("**/api/read", lambda route: (page.wait_for_timeout(700), route.continue_()))
    page.set_input_files("#drawing", samples / "tourer_700c.dxf")
    page.set_input_files("#sheet", samples / "tourer_700c.csv")
    reached(page, "#at-verdict", "The drawing gives the sheet's numbers")
    assert page.locator("#drawing-name").text_content() == "tourer_700c.dxf"
    assert "tourer_700c.dxf + tourer_700c.csv" in page.locator("#source").inner_text()


def test_on_a_phone_field_and_result_stand_on_one_screen(bench):
    page = bench.page
    page.set_viewport_size({"width": 390, "height": 700})
    page.locator(EDITED).scroll_into_view_if_needed()
    page.fill(EDITED, "31.8")
    reached(page, "#brief", "head tube top, sideways")
    assert "%" in page.locator("#brief").inner_text()
    for selector in (EDITED, "#brief"):
        box = page.locator(selector).bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= 700
    # and of the table beside it no column is cut off
    assert page.locator("#changes .wide").evaluate_all(
        "all => all.every((e) => e.scrollWidth <= e.clientWidth + 1)"
    )
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


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
        corrected.page.locator("#save-sheet").click()
    assert download.value.suggested_filename == "tourer_700c.csv"
    download.value.save_as(tmp_path / "saved.csv")
    sheet = read_fit_sheet(tmp_path / "saved.csv")
    assert sheet.tubes["top_tube"].od_start == 31.8
    assert sheet.tubes["seat_tube"].od_start == 28.6
    assert corrected.errors == []


def test_a_saved_sheet_differs_in_the_edited_cell_and_in_nothing_else(corrected, tmp_path, request):
    with corrected.page.expect_download() as download:
        corrected.page.locator("#save-sheet").click()
    download.value.save_as(tmp_path / "saved.csv")
    own = (request.config.rootpath / "sample_drawings" / "tourer_700c.csv").read_bytes()
    wanted = own.replace(b"top tube,28.6,", b"top tube,31.8,")
    assert wanted != own
    assert (tmp_path / "saved.csv").read_bytes() == wanted


def test_where_drawing_and_sheet_differ_each_item_is_asked(served, tmp_path, request):
    page = served.page
    samples = request.config.rootpath / "sample_drawings"
    drop(page, samples / "disagree_tourer.dxf", samples / "disagree_tourer.csv")
    page.locator("#results").wait_for(timeout=20000)
    page.locator("#save-sheet").click()
    asked = page.locator("#which fieldset legend").all_inner_texts()
    assert asked == ["bottom bracket drop", "fork offset", "trail"]
    page.locator('#which input[name="fork_offset"][value="drawing"]').check()
    with page.expect_download() as download:
        page.locator("#which-save").click()
    download.value.save_as(tmp_path / "saved.csv")
    own = (samples / "disagree_tourer.csv").read_bytes()
    wanted = own.replace(b"fork offset,45,", b"fork offset,50,")
    assert wanted != own
    assert (tmp_path / "saved.csv").read_bytes() == wanted
    page.locator("#save-sheet").click()
    page.locator("#which-not").click()  # nothing is written
    assert not page.locator("#which").is_visible()
    assert served.errors == []


def test_undo_and_redo_go_through_the_edits(corrected):
    page = corrected.page
    wall = '[name="seat_tube.wall"]'
    own = page.locator(wall).input_value()
    page.fill(wall, "1.0/0.7")
    page.locator("#undo").click()
    assert page.locator(wall).input_value() == own
    assert page.locator(EDITED).input_value() == "31.8"
    page.keyboard.press("Control+z")
    assert page.locator(EDITED).input_value() == "28.6"
    assert page.locator("#undo").is_disabled()
    assert page.locator("#unsaved").inner_text() == ""
    page.keyboard.press("Control+Shift+z")
    page.locator("#redo").click()
    assert page.locator(EDITED).input_value() == "31.8"
    assert page.locator(wall).input_value() == "1.0/0.7"
    assert page.locator("#redo").is_disabled()


def test_a_knob_moves_what_hangs_on_it_and_is_saved(bench, tmp_path, request):
    page = bench.page
    page.locator("#knobs summary").click()
    trail = float(page.input_value('[name="knob.trail"]'))
    page.fill('[name="knob.fork_offset"]', "55")
    reached(page, "#changes", "Side view")
    page.wait_for_function(
        f"""() => Math.abs(document.querySelector('[name="knob.trail"]').value - {trail}) > 1"""
    )
    assert float(page.input_value('[name="knob.trail"]')) == pytest.approx(trail - 5.26, abs=0.05)
    assert "fork offset 55 mm" in page.locator("#source").inner_text()
    page.click("#undo")
    reached(page, "#source", "tourer_700c.csv")
    page.wait_for_function(
        f"""() => Math.abs(document.querySelector('[name="knob.trail"]').value - {trail}) < 0.01"""
    )
    assert page.input_value('[name="knob.fork_offset"]') == "50"
    page.click("#redo")
    page.wait_for_function(
        """() => document.querySelector('[name="knob.fork_offset"]').value === "55" """
    )
    with page.expect_download() as coming:
        page.click("#save-sheet")
    coming.value.save_as(tmp_path / "saved.csv")
    held = read_fit_sheet(tmp_path / "saved.csv")
    said = {statement.item: statement.value for statement in held.statements}
    assert said["fork_offset"] == 55
    assert bench.errors == []


def test_a_knob_that_cannot_be_is_named_where_it_stands(bench):
    page = bench.page
    page.locator("#knobs summary").click()
    page.fill('[name="knob.head_angle"]', "7")
    page.locator("#knob-problem", has_text="head angle").wait_for(timeout=10000)
    assert page.get_attribute('[name="knob.head_angle"]', "aria-invalid") == "true"
    page.fill('[name="knob.head_angle"]', "72.3")
    page.locator("#knob-problem").wait_for(state="hidden", timeout=10000)
    assert page.get_attribute('[name="knob.head_angle"]', "aria-invalid") == "false"


def test_what_is_to_stay_is_kept(bench):
    page = bench.page
    page.locator("#knobs summary").click()
    trail = page.input_value('[name="knob.trail"]')
    page.select_option("#keep", "trail")
    page.fill('[name="knob.head_angle"]', "72.8")
    page.wait_for_function(
        """() => document.querySelector('[name="knob.fork_offset"]').value !== "50" """
    )
    assert page.input_value('[name="knob.trail"]') == trail


def test_several_are_compared_sorted_and_one_put_on_the_bench(bench):
    page = bench.page
    page.fill("#lines", "top tube: 25.4, 31.8\nfork offset: 45")
    page.click("#compare")
    page.locator("#tried-words", has_text="5 variants").wait_for(timeout=60000)
    names = page.locator("#tried-table tbody td:first-child")
    assert names.count() == 6
    page.locator("#tried-table th button", has_text="head tube top, sideways").click()
    figures = [
        float(text.split()[0])
        for text in page.locator("#tried-table tbody td:nth-child(3)").all_inner_texts()
    ]
    assert figures == sorted(figures, reverse=True)
    page.locator("#tried-table tbody tr", has_text="fork offset 45 mm, top tube 31.8").click()
    reached(page, "#source", "fork offset 45 mm")
    assert page.input_value(EDITED) == "31.8"
    page.click("#undo")
    page.wait_for_function(f"""() => document.querySelector('{EDITED}').value === "28.6" """)
    assert page.locator("#tried-plot svg .point").count() == 6
    # the same under other ways to hold it stands folded behind, and opens
    held = page.locator("#tried-findings details.fold", has_text="Held how: Sideways push")
    assert not held.locator("table").is_visible()
    held.locator("summary").click()
    assert held.locator("table").is_visible()
    assert bench.errors == []


def test_on_a_phone_no_unit_of_a_knob_is_cut_off(bench):
    page = bench.page
    page.set_viewport_size({"width": 390, "height": 800})
    page.locator("#knobs summary").click()
    units = page.locator("#knob-rows small")
    assert "N·m·s/rad" in units.all_inner_texts()
    assert units.evaluate_all(
        "all => all.every((e) => e.scrollWidth <= e.clientWidth + 1"
        " && e.getBoundingClientRect().right <= e.closest('details').getBoundingClientRect().right + 1)"
    )


def test_a_search_shows_its_front_and_a_point_can_be_clicked(bench):
    page = bench.page
    page.fill("#lines", "down tube: catalogue 28.6-34.9")
    page.click("#search")
    page.locator("#tried-words", has_text="of the front").wait_for(timeout=60000)
    plot = page.locator("#tried-plot .nsewdrag")
    box = page.locator("#tried-plot .point").nth(1).bounding_box()
    corner = plot.bounding_box()
    at = {
        "x": box["x"] + box["width"] / 2 - corner["x"],
        "y": box["y"] + box["height"] / 2 - corner["y"],
    }
    plot.hover(position=at)
    page.locator("#tried-plot .hoverlayer .hovertext").wait_for(timeout=10000)
    plot.click(position=at)
    reached(page, "#source", "changed on the page: down tube")
    page.fill("#lines", "fork offset: 45, 50")
    page.click("#search")
    page.locator("#try-problem", has_text="a search exchanges tubes").wait_for(timeout=20000)
    assert [e for e in bench.errors if "422" not in e] == []  # the browser notes a refusal itself


def test_bicycles_are_kept_on_the_shelf_opened_and_put_beside_the_bench(bench):
    page = bench.page
    page.fill("#keep-name", "as drawn")
    page.click("#keep-it")
    page.locator("#shelf-list", has_text="as drawn.csv").wait_for(timeout=20000)
    page.fill(EDITED, "31.8")
    reached(page, "#at-verdict", "it follows")
    page.locator("#shelf-list input").first.check()
    page.click("#beside")
    page.locator("#beside-them td", has_text="trail").first.wait_for(timeout=60000)
    named = page.locator("td", has_text=re.compile("^top tube$"))
    row = page.locator("#beside-them tr", has=named).first.inner_text()
    titles = page.locator("#beside-them h3").all_inner_texts()
    assert {"Geometry", "Fit", "Room", "Tubes", "Modes on tyre springs"} <= set(titles)
    assert len(titles) == len(set(titles)) == page.locator("#beside-them table").count()
    assert "28.6" in row
    assert "31.8" in row
    page.fill("#keep-name", "as drawn")
    page.click("#keep-it")
    page.locator("#shelf-problem", has_text="choose another name").wait_for(timeout=20000)
    page.fill("#keep-name", "wider")
    page.click("#keep-it")
    page.locator("#shelf-list", has_text="wider.csv").wait_for(timeout=20000)
    page.get_by_label("Open as drawn.csv").click()
    page.wait_for_function(f"""() => document.querySelector('{EDITED}').value === "28.6" """)
    assert "as drawn.csv" in page.locator("#source").inner_text()
    assert [e for e in bench.errors if "422" not in e] == []  # the browser notes a refusal itself


@pytest.fixture
def in_doubt(tmp_path):
    """A drawing with a second top tube, 20 mm farther down on both tubes that it joins."""
    frame = random_drawn_frame(np.random.default_rng(3))
    sheet = draw(frame, Habit(), np.random.default_rng(1))
    d = frame.dimensions
    low = d.seat_tube_top_tube_node.along(d.seat_up, -20.0)
    sheet.line(low, d.top_tube_head_node.along(d.axis_up, -20.0), "top_tube")
    path = tmp_path / "doubt.dxf"
    place(sheet).dxf().write(path)
    return path


def test_a_drawing_in_doubt_is_settled_by_a_click_on_a_line(served, in_doubt):
    page = served.page
    drop(page, in_doubt)
    page.locator("#doubt-options li").nth(1).wait_for(timeout=20000)
    said = page.locator("#doubt-options code").all_inner_texts()
    assert all(text.startswith("--pick top_tube=") for text in said)
    assert "trail" in page.locator("#doubt-options button").first.inner_text()
    # the second line itself, where no other runs
    line = page.locator("#doubt-picture .option").nth(1)
    line.scroll_into_view_if_needed()
    line.locator(".line").first.dispatch_event("click")
    reached(page, "#settled", said[1])
    assert page.locator("#at-drawing svg").count() == 1
    assert page.locator("#doubt").is_hidden()
    second = read_side_view(in_doubt, pick={"top_tube": said[1].partition("=")[2]})
    shown = page.locator("#at-drawing").inner_text()
    assert f"{second.dimensions.top_tube_on_seat_tube:.1f}" in shown
    assert [e for e in served.errors if "422" not in e] == []  # the browser notes a refusal itself


def test_the_other_choice_by_its_button_gives_the_other_bicycle(served, in_doubt):
    page = served.page
    drop(page, in_doubt)
    page.locator("#doubt-options button").first.wait_for(timeout=20000)
    said = page.locator("#doubt-options code").first.inner_text()
    page.locator("#doubt-options button").first.click()
    reached(page, "#settled", said)
    first = read_side_view(in_doubt, pick={"top_tube": said.partition("=")[2]})
    assert (
        f"{first.dimensions.top_tube_on_seat_tube:.1f}" in page.locator("#at-drawing").inner_text()
    )


def test_a_reload_comes_back_to_the_same_state_and_asks_before_changes_are_lost(corrected):
    page = corrected.page
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    page.reload()
    assert asked == ["beforeunload"]
    reached(page, "#source", "changed on the page: top tube")
    assert page.locator(EDITED).input_value() == "31.8"
    assert page.locator("#sheet-name").text_content() == "tourer_700c.csv"
    page.locator("#undo").click()
    assert page.locator(EDITED).input_value() == "28.6"
    page.reload()  # nothing is unsaved any more
    assert asked == ["beforeunload"]


def test_a_page_that_comes_back_to_a_busy_program_asks_again(corrected):
    page = corrected.page
    page.on("dialog", lambda dialog: dialog.accept())
    refused = []

    def busy_twice(route):
        if len(refused) == 2:
            return route.continue_()
        refused.append(route.request.url)
        return route.fulfill(status=503, json={"error": "still busy with earlier requests"})

    page.route("**/api/again", busy_twice)
    page.reload()
    reached(page, "#source", "changed on the page: top tube")
    assert len(refused) == 2
    assert page.locator("#problem").is_hidden()


def wobble_mark(page):
    """Where the page draws the marker of the wobble: growth, Hz of the way of holding that is shown."""
    return page.evaluate(
        """() => { const trace = document.querySelector("#locus").data.at(-1);
        const n = trace.marker.size.indexOf(Math.max(...trace.marker.size));
        return [trace.x[n], trace.y[n]]; }"""
    )


def test_the_speed_slider_moves_the_marker_over_the_roots_and_the_words(bench):
    page = bench.page
    page.locator("#wobble").wait_for(timeout=20000)
    assert page.locator("#speed-words").inner_text() == "8 m/s, 29 km/h"
    page.fill("#speed", "4")
    page.wait_for_function("""() => document.querySelector("#shape").value === "wobble:0" """)
    slow = wobble_mark(page)
    assert page.locator("#speed-words").inner_text() == "5 m/s, 18 km/h"
    said = page.locator("#wobble-words").inner_text()
    assert said.startswith("5 m/s (18 km/h), hands off the bar: ")
    assert f"{slow[1]:.1f} Hz" in said
    assert ("it grows" in said) == (slow[0] > 0)
    # near its least steady speed
    page.fill("#speed", "14")
    fast = wobble_mark(page)
    assert page.locator("#speed-words").inner_text() == "10 m/s, 36 km/h"
    assert abs(fast[0] - slow[0]) > 0.02
    assert abs(fast[1] - slow[1]) > 0.05
    # hands on the bar: the other path, and it dies
    page.select_option("#shape", "wobble:1")
    held = wobble_mark(page)
    assert held[0] < 0
    assert "resting on the bar" in page.locator("#wobble-words").inner_text()
    assert bench.errors == []


def test_the_wobble_moves_in_space_at_its_speed(bench):
    page = bench.page
    page.locator("#wobble").wait_for(timeout=20000)
    page.select_option("#shape", "wobble:0")

    def seen():
        return page.evaluate(
            """() => { const [, tubes, wheels, rider] = document.querySelector("#view").data;
            return [tubes, wheels, rider].map((trace) => trace.z.filter((v) => v !== null)); }"""
        )

    page.wait_for_function("""() => document.querySelector("#view").data.length === 4""")
    before = seen()
    page.click("#play")
    # While it moves: stopping draws everything anew. At several moments: at any one of them the swing may be back
    # where it began.
    moments = []
    for _ in range(6):
        page.wait_for_timeout(230)
        moments.append(seen())
    page.click("#play")
    for then, *swung in zip(before, *moments, strict=True):
        for now in swung:
            assert len(then) == len(now)
        moved = [max(abs(a - b) for a, b in zip(then, now, strict=True)) for now in swung]
        assert max(moved) > 3.0
    # another speed is another shape, drawn at the same moment of its swing
    after = seen()
    page.fill("#speed", "0")
    other = seen()
    assert max(abs(a - b) for a, b in zip(after[0], other[0], strict=True)) > 0.5
    # arms are drawn where the hands are on the bar
    page.select_option("#shape", "wobble:1")
    assert len(seen()[2]) > len(other[2])
    assert "steering" in page.locator("#magnified").inner_text()
    page.fill("#magnify", "0")
    straight = seen()
    assert max(map(abs, straight[1])) < 1e-6
    assert bench.errors == []


def test_modes_are_chosen_and_move(bench):
    page = bench.page
    page.locator("#shape option[value='mode:2']").wait_for(state="attached", timeout=20000)
    page.select_option("#shape", "mode:2")
    assert "Hz:" in page.locator("#case-notes").inner_text()
    moved = """() => ["x", "y", "z"].flatMap((way) => [...document.querySelector("#view").data[1][way]])"""
    page.click("#play")
    page.wait_for_timeout(500)
    # twice while it moves: a mode that stands still is drawn straight from then on
    before = page.evaluate(moved)
    page.wait_for_timeout(500)
    after = page.evaluate(moved)
    page.click("#play")
    assert max(abs(a - b) for a, b in zip(before, after, strict=True)) > 1.0


def test_a_corrected_tube_moves_the_wobble_too(bench):
    page = bench.page
    page.locator("#wobble").wait_for(timeout=20000)
    page.select_option("#shape", "wobble:0")
    page.fill("#speed", "10")
    before = wobble_mark(page)
    wheels = """() => document.querySelector("#view").data[2].z.filter((v) => v !== null)"""
    swung = page.evaluate(wheels)
    page.fill(EDITED, "31.8")
    reached(page, "#at-verdict", "it follows")
    # the roots follow with the modes, and what was chosen stays chosen
    page.wait_for_function(
        f"""() => {{ const held = document.querySelector("#locus").data?.at(-1);
        return held && Math.abs(held.x[0] - {before[0]}) > 0.01; }}""",
        timeout=30000,
    )
    assert page.input_value("#shape") == "wobble:0"
    assert page.input_value("#speed") == "10"
    assert wobble_mark(page)[0] < before[0]
    # and the shape is the new one, not the one that was drawn before
    now = page.evaluate(wheels)
    assert max(abs(a - b) for a, b in zip(swung, now, strict=True)) > 0.05


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_wobble_fits_a_telephone(chromium, address, request, scheme):
    samples = request.config.rootpath / "sample_drawings"
    with Watched(chromium, width=390, scheme=scheme) as watched:
        page = watched.page
        page.goto(address)
        drop(page, samples / "tourer_700c.csv")
        page.locator("#wobble").wait_for(timeout=40000)
        page.fill("#speed", "12")
        page.wait_for_timeout(600)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        box = page.locator("#locus .main-svg").first.bounding_box()
        assert box["x"] + box["width"] <= 390
        drawn = watched.picture("#locus")
        assert (np.abs(drawn - drawn[2, 2]).max(axis=2) > 40).mean() > 0.01
        assert (drawn[2, 2].mean() < 80) == (scheme == "dark")
        assert watched.errors == []


def test_other_files_are_not_taken_over_changes_unless_the_builder_says_so(corrected, request):
    page = corrected.page
    samples = request.config.rootpath / "sample_drawings"
    asked = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    drop(page, samples / "small_650b.csv")
    # nothing is read without an answer, so there is nothing to wait for
    assert asked == ["confirm"]
    page.wait_for_timeout(800)
    assert page.locator(EDITED).input_value() == "31.8"
    assert page.locator("#sheet-name").text_content() == "tourer_700c.csv"


def test_a_wrong_file_dropped_clears_nothing(bench, tmp_path):
    page = bench.page
    (tmp_path / "wrong.dxf").write_text("this is no drawing")
    drop(page, tmp_path / "wrong.dxf")
    reached(page, "#problem", "wrong.dxf: is not a DXF")
    assert "unchanged" in page.locator("#problem").inner_text()
    assert page.locator("#results").is_visible()
    assert page.locator(EDITED).input_value() == "28.6"
    assert page.locator("#drawing-name").text_content() == "tourer_700c.dxf"
    page.fill(EDITED, "31.8")
    reached(page, "#at-verdict", "it follows")


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
