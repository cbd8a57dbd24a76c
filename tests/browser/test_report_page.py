"""The report in a real browser, opened from a file: nothing fetched, nothing complained of, the picture alive."""

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from droptrail.cli.check import check_json
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.report.page import render_report
from droptrail.converters.showing.result_json import result_json
from droptrail.converters.showing.words import number, signed
from droptrail.model.assumption import Assumed
from droptrail.validation.check import check
from droptrail.validation.report.facts import report_facts
from droptrail.validation.report.wobble import SPEEDS, Wobble
from helpers_browser import Watched, browser, differ

SAMPLE = ("sample_drawings/disagree_tourer.dxf", "sample_drawings/disagree_tourer.csv")
HOSTILE = '</script><img src=x onerror="window.hacked=1"><b>bold</b>{{7*7}}'


@pytest.fixture(scope="module")
def chromium():
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def checked(request):
    return check(read_input(*(request.config.rootpath / name for name in SAMPLE)))


@pytest.fixture(scope="module")
def report(tmp_path_factory, request):
    """Written by the command itself, as a user would."""
    path = tmp_path_factory.mktemp("report") / "frame.html"
    source, sheet = (str(request.config.rootpath / name) for name in SAMPLE)
    wanted = ["report", source, "--sheet", sheet, "-o", str(path), "--modes", "4", "--no-audit"]
    assert main(wanted) == 1  # drawing and sheet disagree
    return path


@pytest.fixture(scope="module")
def opened(chromium, report):
    with Watched(chromium, width=1000) as watched:
        watched.page.goto(report.as_uri())
        watched.page.locator("#view canvas").first.wait_for(timeout=15000)
        watched.page.wait_for_timeout(400)
        yield watched


def settle(watched):
    watched.page.wait_for_timeout(350)
    return watched.picture("#view")


def test_opens_without_network_and_without_complaint(opened, report):
    assert report.stat().st_size < 6e6
    assert {url for url in opened.requests if not url.startswith(("data:", "blob:"))} == {
        report.as_uri()
    }
    assert opened.errors == []
    assert opened.page.locator(".verdict strong").inner_text() == "Do not cut yet"


def test_the_picture_is_not_blank_and_follows_the_slider(opened):
    page = opened.page
    drawn = settle(opened)
    assert (
        np.abs(drawn - drawn[2, 2]).max(axis=2) > 40
    ).mean() > 0.01  # tubes, wheels and arrows stand out
    page.locator("#magnify").fill("0")
    still = settle(opened)
    assert page.locator("#magnified").inner_text() == "not at all"
    page.locator("#magnify").fill("8")
    far = settle(opened)
    assert re.fullmatch(r"\d+ times larger", page.locator("#magnified").inner_text())
    assert differ(still, far) > 0.003
    assert differ(drawn, still) > 0.001


def test_case_colour_and_view_menus(opened):
    page = opened.page
    before = settle(opened)
    page.select_option("#shape", label="Sideways push at the head tube")
    pushed = settle(opened)
    assert "to the right at the top of the head tube" in page.locator("#case-notes").inner_text()
    assert differ(before, pushed) > 0.003
    page.select_option("#colour", "energy")
    by_energy = settle(opened)
    assert page.locator("#legend-title").inner_text() == "strain energy of the whole tube"
    assert page.locator("#legend-high").inner_text().endswith("% of the total")
    assert differ(pushed, by_energy) > 0.003
    page.select_option("#seen", "front")
    assert differ(by_energy, settle(opened)) > 0.01
    page.select_option("#seen", "corner")


def test_the_keyboard_turns_the_frame(opened):
    opened.page.locator("#view").focus()
    before = settle(opened)  # with the ring of the focus round it
    for _ in range(3):
        opened.page.keyboard.press("ArrowLeft")
    assert differ(before, settle(opened)) > 0.005


def test_a_mode_moves(opened):
    page = opened.page
    page.select_option("#shape", "mode:0")
    assert "Hz" in page.locator("#case-notes").inner_text()
    page.locator("#play").click()
    assert page.locator("#play").inner_text() == "Stop"
    first, second = opened.picture("#view"), settle(opened)
    page.locator("#play").click()
    assert page.locator("#play").inner_text() == "Move"
    assert differ(first, second) > 0.001
    assert opened.errors == []


def test_tables_carry_the_numbers_of_the_json(opened, checked):
    """Every dimension, difference and stiffness that `check --json` and `solve --json` give stands in the page."""
    page, facts = opened.page, json.loads(json.dumps(check_json(checked)))
    rows = page.locator("#drawing table").first.locator("tbody tr").all_inner_texts()
    assert len(rows) == len(facts["dimensions"])
    for row, item in zip(rows, facts["dimensions"], strict=True):
        cells = row.split("\t")
        assert cells[1:4] == [
            f"{item['drawing']:.2f}",
            f"{item['sheet']:.2f}",
            signed(item["difference"]),
        ]
        assert cells[-1].strip("✓✗ ") == ("yes" if item["ok"] else "NO")
    solved = {name: result_json(result) for name, result in checked.analysis.results.items()}
    page.click("nav a[href='#stiffness']")  # the link unfolds it
    stiffness = page.locator("#stiffness").inner_text()
    for case in solved.values():
        for name, held in case["stiffness"].items():
            if held["value"] is not None:
                assert f"{number(held['value'])} {held['unit']}" in stiffness
                assert (
                    f"{number(case['measured'][name]['value'])} {case['measured'][name]['unit']}"
                    in stiffness
                )
    for reason in facts["reasons"]:
        assert reason in page.locator("#verdict").inner_text()


def test_a_phone_shows_it_without_sideways_scrolling_by_day_and_night(opened):
    page = opened.page
    page.set_viewport_size({"width": 390, "height": 800})
    # at once: the pictures follow a turned phone later, and none of them may hold the page wide meanwhile
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
    settle(opened)
    for scheme in ("dark", "light"):
        page.emulate_media(color_scheme=scheme)
        assert page.evaluate("() => document.documentElement.scrollWidth") <= 390
        assert (opened.picture("#verdict").mean() < 128) == (scheme == "dark")
        drawn = settle(opened)
        assert (np.abs(drawn - drawn[2, 2]).max(axis=2) > 40).mean() > 0.01
    page.set_viewport_size({"width": 1000, "height": 900})
    assert opened.errors == []


def test_the_answer_comes_first_and_the_evidence_is_folded_behind_it(opened):
    page = opened.page
    page.goto(page.url.partition("#")[0])
    first = page.locator("#verdict").inner_text()
    for words in ("Do not cut yet", "Cause: ", "wanted 67.05", "N/mm", "frame 1550 g"):
        assert words in first
    # of the parts only what is off stands open
    assert page.locator(".fold[open] > summary").all_inner_texts() == [
        "Drawing against sheet 7 of 22 off"
    ]
    table = page.locator("#stiffness table").first
    assert not table.is_visible()
    page.click("#stiffness summary")
    assert table.is_visible()
    page.click("#stiffness summary")
    assert not table.is_visible()


def test_paper_unfolds_everything_and_bears_name_and_page_numbers(opened):
    page = opened.page
    page.emulate_media(media="print")
    assert page.locator("#stiffness table").first.is_visible()
    assert page.locator("#assumed table").first.is_visible()
    assert not page.get_by_text("How every line was taken").is_visible()  # as long as three sheets
    page.emulate_media(media="screen")
    margins = page.evaluate(
        "[...document.styleSheets].flatMap((s) => [...s.cssRules]).filter((r) => r instanceof CSSPageRule)"
        ".map((r) => r.cssText).join(' ')"
    )
    assert "counter(page)" in margins
    assert "counter(pages)" in margins
    assert "Lindenhof tourer 700C · disagree_tourer.dxf + disagree_tourer.csv" in margins


def test_paper_gets_the_still_pictures(opened):
    page = opened.page
    assert not page.locator("#stills").is_visible()
    page.emulate_media(media="print")
    assert page.locator("#stills svg").first.is_visible()
    assert not page.locator("#view").is_visible()
    assert len(page.pdf(format="A4")) > 50_000
    page.emulate_media(media="screen")


def test_hostile_texts_are_inert(chromium, checked, tmp_path):
    """Names, notes and layers come from files; none of them may run or become mark-up."""
    bicycle = replace(checked.reading.bicycle, name=HOSTILE)
    labels = tuple(
        replace(label, layer=HOSTILE, how=HOSTILE) for label in checked.reading.view.labels
    )
    view = replace(checked.reading.view, labels=labels)
    reading = replace(
        checked.reading,
        bicycle=bicycle,
        view=view,
        source=HOSTILE,
        assumed=(Assumed(HOSTILE, "", HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
    )
    results = {
        name: replace(result, case=replace(result.case, title=HOSTILE, notes=HOSTILE))
        for name, result in checked.analysis.results.items()
    }
    analysis = replace(
        checked.analysis,
        results=results,
        assumed=(Assumed(HOSTILE, "", HOSTILE, HOSTILE, HOSTILE, HOSTILE),),
    )
    facts = report_facts(replace(checked, reading=reading, analysis=analysis))
    facts.cases[0]["labels"][0]["words"] = (
        HOSTILE  # the plotting library understands tags of its own
    )
    path = tmp_path / "hostile.html"
    path.write_text(render_report(facts), encoding="utf-8")
    with Watched(chromium, width=500) as watched:
        watched.page.goto(path.as_uri())
        watched.page.locator("#view canvas").first.wait_for(timeout=15000)
        assert watched.page.evaluate("() => window.hacked === undefined")
        assert watched.page.locator("img").count() == 0
        assert watched.page.locator("h1").inner_text() == HOSTILE
        assert watched.page.locator("#shape option").first.inner_text() == HOSTILE
        assert HOSTILE in watched.page.locator("#view .annotation-text").all_text_contents()
        assert watched.errors == []


def test_scripts_put_into_the_page_do_not_run_and_without_3d_the_stills_stand_in(
    chromium, report, tmp_path
):
    """The page's own policy: even mark-up that slipped in could not act. Breaks the page on purpose to see it."""
    attack = "<main><img src='x' onerror='window.hacked=1'><script>window.hacked=2</script>"
    broken = tmp_path / "broken.html"
    broken.write_text(
        report.read_text(encoding="utf-8").replace("<main>", attack), encoding="utf-8"
    )
    with Watched(chromium, script="HTMLCanvasElement.prototype.getContext = () => null") as old:
        old.page.goto(broken.as_uri())
        assert old.page.evaluate("() => window.hacked === undefined")
        assert old.errors
        assert all("Content Security Policy" in error for error in old.errors)
        assert old.page.locator("#stills svg").first.is_visible()
        assert old.page.locator("#no-view").is_visible()
        assert not old.page.locator("#view").is_visible()


WOBBLE_MARK = """() => { const trace = document.querySelector("#locus").data.at(-1);
    const n = trace.marker.size.indexOf(Math.max(...trace.marker.size));
    return [trace.x[n], trace.y[n]]; }"""


def test_the_wobble_is_in_the_report_too(opened, checked):
    """Words, marker and table at two speeds and both ways of holding, against the roots worked out here again."""
    page = opened.page
    expected = Wobble.of(checked.reading.need_bicycle())
    assert [float(page.get_attribute("#speed", end)) for end in ("min", "max")] == [
        0,
        len(SPEEDS) - 1,
    ]
    for k in (20, 2):
        page.locator("#speed").fill(str(k))
        assert page.input_value("#shape").startswith("wobble:")
        for number_, (name, seen) in enumerate(expected.maps.items()):
            page.select_option("#shape", f"wobble:{number_}")
            assert page.locator("#wobble-words").inner_text() == expected.words(name, k)
            growth, hz = page.evaluate(WOBBLE_MARK)
            assert growth == pytest.approx(float(seen.wobble[k].real), abs=2e-4)
            assert hz == pytest.approx(float(seen.frequency_hz[k]), abs=2e-4)
    # text and not what is seen: the table is folded until it is asked for
    rows = page.evaluate(
        """() => [...document.querySelectorAll("#modes table")]
        .filter((t) => t.textContent.includes("wobble, hands off"))
        .flatMap((t) => [...t.querySelectorAll("tbody tr")])
        .map((row) => [...row.querySelectorAll("td, th")].map((cell) => cell.textContent.trim()))"""
    )
    assert len(rows) == len(range(2, len(SPEEDS), 4))
    for row, k in zip(rows, range(2, len(SPEEDS), 4), strict=True):
        off, on = expected.maps.values()
        assert float(row[0]) == SPEEDS[k]
        assert float(row[3]) == pytest.approx(float(off.frequency_hz[k]), abs=0.006)
        for cell, held in zip(row[4:6], (off, on), strict=True):
            shown = float(cell.replace("\N{MINUS SIGN}", "-"))
            assert shown == pytest.approx(float(held.damping_ratio[k]), abs=6e-4)
    # back to where the other tests of this page begin
    page.select_option("#shape", "case:0")
    assert opened.errors == []
