"""Text and lines stand out from what is behind them, by day and by night, measured on the colours as computed.

WCAG 2.1, success criteria 1.4.3 (text 4.5 to 1) and 1.4.11 (lines and edges of controls 3 to 1); the formula of
relative luminance is that of its glossary (both from memory).
"""

import json
import re
import subprocess
import sys

import pytest
from droptrail.cli.main import main
from droptrail.converters.showing.report.scene import SCALE
from helpers_browser import Watched, browser

TEXT = 4.5
LINE = 3.0
# Every visible piece of text, every line of a drawing, every edge of a control: [kind, what, contrast].
MEASURE = """() => {
  const parse = (c) => { const [r, g, b, a = 1] = c.match(/[0-9.]+/g).map(Number); return [r, g, b, a]; };
  const linear = (v) => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
  const luminance = ([r, g, b]) => 0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b);
  const over = (top, below) => top.slice(0, 3).map((v, k) => v * top[3] + below[k] * (1 - top[3]));
  const behind = (element) => {
    const layers = [];
    for (let e = element; e; e = e.parentElement) {
      const colour = parse(getComputedStyle(e).backgroundColor);
      if (colour[3]) layers.push(colour);
      if (colour[3] === 1) break;
    }
    return layers.reverse().reduce((below, top) => over(top, below), [255, 255, 255]);
  };
  const contrast = (colour, element) => {
    const below = behind(element), a = luminance(over(parse(colour), below)), b = luminance(below);
    return (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  };
  const how = { opacityProperty: true, visibilityProperty: true, contentVisibilityAuto: true };
  const seen = (e) => e.checkVisibility(how);
  const kind = (e) => `${e.tagName.toLowerCase()}.${e.getAttribute("class") ?? ""}`;
  const name = (e) => `${kind(e)}#${e.closest("[id]")?.id ?? ""}`, out = [];
  const skipped = "script, style, noscript, option, :disabled, #view, .js-plotly-plot, .stale";
  const other = ":disabled, [type=range], [type=checkbox], [type=radio], [type=file], th button";
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walker.nextNode()) {
    const e = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !seen(e) || e.closest(skipped)) continue;
    const style = getComputedStyle(e), colour = e.closest("svg") ? style.fill : style.color;
    out.push(["text", `${name(e)} ${walker.currentNode.data.trim().slice(0, 30)}`, contrast(colour, e)]);
  }
  for (const e of document.querySelectorAll("[placeholder]")) {
    const { color } = getComputedStyle(e, "::placeholder");
    if (e.placeholder && seen(e)) out.push(["text", `placeholder ${name(e)}`, contrast(color, e)]);
  }
  for (const e of document.querySelectorAll("svg path, svg circle")) {
    if (e.closest(".js-plotly-plot, #js-plotly-tester") || !seen(e)) continue;
    const style = getComputedStyle(e), box = e.closest("svg").parentElement;
    // what has an edge of its own is seen by that
    const both = [style.stroke, style.fill].filter((colour) => colour !== "none");
    if (both.length) out.push(["line", name(e), ...both.map((colour) => contrast(colour, box))]);
  }
  for (const e of document.querySelectorAll("input, select, textarea, button, .button, .bar span, .key span")) {
    if (!seen(e) || e.matches(other)) continue;
    const style = getComputedStyle(e);
    const colour = e.tagName === "SPAN" ? style.backgroundColor : style.borderTopColor;
    out.push(["line", name(e), contrast(colour, e.parentElement)]);
  }
  return out;
}"""


def faint(measured):
    """What does not stand out enough; a line does by its stroke or by its fill."""
    found = []
    for kind, what, *values in measured:
        wanted = TEXT if kind == "text" else LINE
        if max(values) < wanted:
            found.append(f"{kind} {what}: {max(values):.2f}")
    return sorted(set(found))


@pytest.fixture(scope="module")
def chromium():
    with browser() as started:
        yield started


@pytest.fixture(scope="module")
def report(request, tmp_path_factory):
    path = tmp_path_factory.mktemp("report") / "frame.html"
    samples = request.config.rootpath / "sample_drawings"
    drawing = str(samples / "disagree_tourer.dxf")
    sheet = str(samples / "disagree_tourer.csv")
    assert main(["report", drawing, "--sheet", sheet, "-o", str(path), "--no-audit"]) == 1
    return path


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_report_stands_out(chromium, report, scheme):
    with Watched(chromium, scheme=scheme) as watched:
        watched.page.goto(report.as_uri())
        watched.page.evaluate(
            "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
        )
        measured = watched.page.evaluate(MEASURE)
    kinds = [kind for kind, *_ in measured]
    # nothing is skipped in silence: hundreds of texts, the drawing, six rigs, the bars
    assert kinds.count("text") > 600
    assert kinds.count("line") > 300
    assert faint(measured) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_served_page_stands_out(chromium, request, scheme):
    root = request.config.rootpath
    with subprocess.Popen(
        [sys.executable, "-m", "droptrail.cli.main", "serve", "--port", "0"],
        cwd=root,
        stdout=subprocess.PIPE,
        text=True,
    ) as server:
        try:
            address = re.search(r"http://127\.0\.0\.1:\d+/", server.stdout.readline()).group()
            with Watched(chromium, scheme=scheme) as watched:
                page = watched.page
                page.goto(address)
                page.set_input_files("#sheet", root / "sample_drawings" / "tourer_700c.csv")
                page.locator("#at-verdict", has_text="The numbers hold together").first.wait_for()
                page.evaluate(
                    "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
                )
                page.fill('[name="top_tube.outside_diameter"]', "31.8")
                page.locator("#at-verdict", has_text="As changed").first.wait_for()
                page.wait_for_timeout(1500)
                measured = page.evaluate(MEASURE)
        finally:
            server.terminate()
    assert [kind for kind, *_ in measured].count("text") > 300
    assert sum(what.startswith("placeholder") for _, what, *_ in measured) >= 2
    assert faint(measured) == []


def test_the_colours_of_movement_have_one_order_and_stand_out_by_day_and_night(chromium, report):
    """The 3-D view and its legend run from the first colour of the scale to its last in both."""
    strips = {}
    for scheme in ("light", "dark"):
        with Watched(chromium, scheme=scheme) as watched:
            watched.page.goto(report.as_uri())
            watched.page.locator("#view canvas").first.wait_for(timeout=15000)
            watched.page.wait_for_timeout(400)
            strips[scheme] = watched.page.evaluate(
                "document.getElementById('legend-bar').style.background"
            )
            shown = watched.page.evaluate(
                "document.getElementById('view')._fullData.find((t) => t.type === 'mesh3d').colorscale.map((c) => c[1])"
            )
            assert shown == list(SCALE)
            card = watched.page.evaluate(
                "getComputedStyle(document.getElementById('space')).backgroundColor"
            )
            assert min(ratio(colour, card) for colour in SCALE) >= LINE
    assert strips["light"] == strips["dark"]


def ratio(one, other):
    """Contrast of two colours, ``#rrggbb`` or ``rgb(...)``."""
    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def luminance(colour):
    if colour.startswith("#"):
        parts = [int(colour[k : k + 2], 16) for k in (1, 3, 5)]
    else:
        parts = json.loads(f"[{re.sub('[^0-9,]', '', colour)}]")
    shares = [v / 255 for v in parts]
    r, g, b = (v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in shares)
    return 0.2126 * r + 0.7152 * g + 0.0722 * b
