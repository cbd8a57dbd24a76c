"""The report without a browser: its numbers, its pictures, its promises of size, speed and silence."""

import base64
import hashlib
import json
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.drawings.sideview.read import read_side_view
from droptrail.converters.files.model_file.write_model import save_model
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.picture.energy import by_tube
from droptrail.converters.showing.report.drawing import _turn, side_view_figure
from droptrail.converters.showing.report.page import (
    render_block,
    render_report,
    script_json,
)
from droptrail.converters.showing.report.scene import CORNER, case_json, mode_json, scene_json
from droptrail.converters.showing.report.stills import SIDE, still
from droptrail.converters.showing.table import Column, Table
from droptrail.converters.showing.tables.results import energy_table
from droptrail.converters.showing.words import number
from droptrail.model.findings import Finding
from droptrail.model.joints.law import studied_kinds
from droptrail.model.mechanics.energy import energy_shares
from droptrail.model.mechanics.frame_model import FrameModel
from droptrail.model.postprocess.sensitivity import ranking, sensitivities
from droptrail.model.words import spoken
from droptrail.validation.check import check
from droptrail.validation.report.audit import audit_blocks
from droptrail.validation.report.beside import compared, vibrating
from droptrail.validation.report.facts import Beside, report_facts
from hypothesis import given, settings
from hypothesis import strategies as st

ROOT = Path(__file__).parent.parent
SAMPLES = ROOT / "sample_drawings"
GOOD = sorted((ROOT / "tests" / "data" / "dxf_good").glob("*.dxf"))


@pytest.fixture(scope="module")
def done():
    return check(read_input(SAMPLES / "tourer_700c.dxf", SAMPLES / "tourer_700c.csv"))


@pytest.fixture(scope="module")
def facts(done):
    return report_facts(done)


@pytest.fixture(scope="module")
def page(facts):
    return render_report(facts)


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html))


# --- promises -------------------------------------------------------------------------------------------------
def test_a_sample_takes_less_than_six_megabytes(tmp_path):
    """Its time, below three seconds on a quiet machine, is in benchmarks/commands.py."""
    out = tmp_path / "frame.html"
    assert (
        main(
            [
                "report",
                str(SAMPLES / "tourer_700c.dxf"),
                "--sheet",
                str(SAMPLES / "tourer_700c.csv"),
                "-o",
                str(out),
            ]
        )
        == 0
    )
    assert out.stat().st_size < 6e6


def test_an_existing_file_is_left_alone(tmp_path, capsys):
    out = tmp_path / "frame.html"
    out.write_text("mine")
    wanted = [
        "report",
        str(SAMPLES / "small_650b.csv"),
        "-o",
        str(out),
        "--no-audit",
        "--modes",
        "0",
    ]
    assert main(wanted) == 3
    assert "--force" in capsys.readouterr().err
    assert out.read_text() == "mine"
    assert main([*wanted, "--force"]) == 0
    assert "Vibration" not in out.read_text(encoding="utf-8").partition("<footer>")[0]


def test_only_the_page_s_own_scripts_may_run_and_nothing_is_fetched(page):
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)[1].replace("&#39;", "'")
    scripts = re.findall(r"<script>(.*?)</script>", page, re.DOTALL)
    wanted = {base64.b64encode(hashlib.sha256(text.encode()).digest()).decode() for text in scripts}
    assert set(re.findall(r"'sha256-([^']+)'", policy)) == wanted
    assert len(wanted) == 2
    assert "unsafe-inline" not in policy.partition("script-src")[2].partition(";")[0]
    assert "unsafe-eval" not in policy
    own = re.sub(r"<script.*?</script>", "", page, flags=re.DOTALL)
    assert not re.search(r'(?:src|href)="(?!#|data:)', own)
    assert "http" not in own.replace("http-equiv", "")


@given(st.text())
@settings(deadline=None, max_examples=200)
def test_no_text_can_leave_its_script_element(text):
    held = script_json({"name": text})
    assert not set("<>&") & set(held)
    assert json.loads(held)["name"] == text


@given(st.text(), st.text())
@settings(deadline=None, max_examples=50)
def test_no_cell_becomes_mark_up(first, second):
    columns = (Column("a", "a"), Column("b", "b"))
    html = render_block(Table("t", "t", columns, [(first + "<i>", second + "\"'<b")]))
    assert "<i>" not in html
    assert "<b" not in html.replace("<body", "")


# --- numbers ----------------------------------------------------------------------------------------------------
def test_stiffness_tables_hold_every_measure(done, facts):
    for block, result in zip(facts.case_tables, done.analysis.results.values(), strict=True):
        shown = [" ".join(row) for row in block.table.texts()]
        for measure, row in zip(result.case.measures, shown, strict=True):
            value = result.stiffness[measure.name]
            if value is not None:
                assert f"{number(value)} {measure.stiffness_unit}" in row
                size = abs(measure.reference) / (1 if measure.unit == "mm" else 1000)
                # as the words of the load case have it: whole newtons
                assert f" {size:.0f} N" in row


def test_energy_bars_are_the_shares_of_the_energy(done, facts):
    for chart, result in zip(facts.energy, done.analysis.results.values(), strict=True):
        shares = {spoken(tube): 100 * share for tube, share in energy_shares(result).tubes.items()}
        for bar in chart.bars:
            assert bar.total == pytest.approx(shares[bar.member], abs=0.25)
        assert [bar.total for bar in chart.bars] == sorted(
            (bar.total for bar in chart.bars), reverse=True
        )


def test_the_best_use_of_weight_is_the_ranking(done, facts):
    rows = sensitivities(done.reading.bicycle, ("side_push",))
    best = ranking(rows, "side_push", "head_sideways")[0]
    push = [chart for chart in facts.energy if chart.title == "Sideways push at the head tube"]
    first = push[0].ranking.rows[0]
    assert first[0].startswith(f"{best.tube.replace('_', ' ')}, {best.parameter}")
    assert first[-1] == pytest.approx(best.percent_per_10g)


def test_page_picture_and_table_rank_the_same_tubes_with_pairs_together(done, facts):
    """Summed here by hand from the members: left and right of a pair are one tube to the builder."""
    for (name, result), chart in zip(done.analysis.results.items(), facts.energy, strict=True):
        energy = energy_shares(result)
        by_hand: dict[str, float] = {}
        for member, kinds in energy.shares.items():
            tube = spoken(member.replace("_left", "").replace("_right", ""))
            by_hand[tube] = by_hand.get(tube, 0.0) + sum(kinds.values())
        ranked = sorted(by_hand, key=by_hand.get, reverse=True)[:4]
        rows = {row[0]: row[-1] for row in energy_table(result, energy).rows}
        assert [bar.member for bar in chart.bars][:4] == ranked, name
        assert list(by_tube(energy))[:4] == ranked, name
        assert list(rows)[:4] == ranked, name
        for tube in ranked:
            assert rows[tube] == pytest.approx(by_hand[tube], rel=1e-12)
    assert "fork blade" in ranked  # two of them: apart each would stand lower


def test_what_was_assumed_is_a_table_of_values_and_nothing_is_lost(done, facts):
    assert len(done.analysis.assumed) > 20
    assert [tuple(row) for row in facts.assumed.rows] == [
        (one.subject, one.item, one.value, one.unit, one.source) for one in done.analysis.assumed
    ]
    values = {row[1]: row[2:] for row in facts.assumed.rows}
    assert values["bar width"] == (440.0, "mm", "common practice, no source")


def test_the_audit_covers_every_case_of_the_check(done):
    figures, held, joints, *wobble, ladder = audit_blocks(done)
    assert wobble
    kinds = dict.fromkeys(row[2] for row in joints.rows)
    assert list(kinds) == ["as it is", *(kind for kind in studied_kinds() if kind != "rigid")]
    assert len(joints.rows) == len(kinds) * len(figures.rows)
    assert len(figures.rows) == sum(len(case.measures) for case in done.analysis.cases)
    ways = {row[1] for row in held.rows}
    assert {"as told", "rear axle gripped", "as ridden", "on its wheels", "shell clamped"} <= ways
    assert all(ladder.verdict(row) for row in ladder.rows)


def test_a_warning_stands_beside_the_verdict(done):
    doubt = Finding("made-up", "warning", "two wheels of different size were read")
    page = render_report(report_facts(replace(done, findings=(*done.findings, doubt))))
    assert doubt.message in page.partition('id="verdict"')[2].partition("</section>")[0]


def test_variants_and_modes_stand_in_the_page(done):
    comparison, plot = compared(done, (), None, ("top_tube=25.4,31.8",))
    vibration, campbell = vibrating(done, 3)
    shown = report_facts(done, Beside(vibration, campbell, comparison, plot))
    text = text_of(render_report(shown))
    for row in comparison.rows:
        assert row.name in text
    for hz in vibration.modes.frequencies_hz:
        assert f"{hz:.1f}" in text
    assert shown.variant_plot.source.startswith("data:image/svg+xml;base64,")
    assert len(shown.modes) == 3


def test_a_model_file_is_shown_without_units_it_does_not_state(done, tmp_path):
    path = tmp_path / "model.json"
    save_model(path, done.analysis.model, done.analysis.cases)
    shown = report_facts(check(read_input(path)))
    assert shown.drawing is None
    assert shown.scene["length_unit"] == ""
    assert not any(
        re.search(r"\d N\b", label["words"]) for case in shown.cases for label in case["labels"]
    )
    assert not any("MPa" in head for table in shown.stress_tables for head in table.headings)
    assert len(render_report(shown)) > 4e6


# --- pictures ---------------------------------------------------------------------------------------------------
def test_arrows_touch_the_tube_and_point_as_the_load(done, facts):
    model = done.analysis.model
    for result, case in zip(done.analysis.results.values(), facts.cases, strict=True):
        forces = {
            node: np.array(load[:3]) for node, load in result.case.nodal.items() if any(load[:3])
        }
        drawn = [arrow for arrow in case["arrows"] if arrow["kind"] == "force"]
        assert len(drawn) == len(forces)
        for arrow in drawn:
            node = list(model.nodes)[arrow["node"]]
            way = np.subtract(arrow["tip"], arrow["tail"])
            assert way / np.linalg.norm(way) == pytest.approx(
                forces[node] / np.linalg.norm(forces[node]), abs=2e-3
            )
            near = min(
                np.linalg.norm(np.subtract(arrow[end], model.nodes[node]))
                for end in ("tip", "tail")
            )
            assert near < 30.0  # the tube's surface


def test_a_load_towards_the_reader_is_not_hidden_behind_the_frame(facts):
    side_push = next(case for case in facts.cases if case["name"] == "side_push")
    (arrow,) = side_push["arrows"]
    assert np.dot(CORNER, arrow["tip"]) > np.dot(CORNER, arrow["tail"])
    assert arrow["tail"][2] > 0  # leaves the tube on the reader's side


def test_equal_loads_left_and_right_share_a_label(facts):
    seated = next(case for case in facts.cases if case["name"] == "seated")
    words = [label["words"] for label in seated["labels"]]
    assert len(words) == 3
    assert "161 N in all" in words
    # the words of the load case name the same figures
    assert "saddle 442 N, bars 161 N, pedals 201 N" in seated["notes"]
    assert {"442 N", "201 N"} <= set(words)


def test_the_side_still_is_the_side_view(done, facts):
    """Seen from the drive side, forward is right and up is up, mm for mm."""
    svg = still(facts.scene, None, SIDE)
    drawn = {
        tuple(map(float, point.split()))
        for chain in re.findall(r'class="tube" d="M([^"]+)"', svg)
        for point in chain.split("L")
    }
    nodes = {
        (round(x, 1) + 0.0, round(-y, 1) + 0.0)
        for x, y, _ in np.array(facts.scene["nodes"])[
            sorted({end for element in facts.scene["elements"] for end in element[:2]})
        ]
    }
    assert len(nodes) > 50
    assert all(min(abs(x - a) + abs(y - b) for a, b in drawn) < 0.21 for x, y in nodes)
    assert len(drawn) <= len(nodes) + 60  # left and right of a pair lie upon one another


def test_a_mode_is_scaled_to_a_largest_movement_of_one():
    shape = np.array([[0.0, 0.0, 0.0], [0.0, 3.0, 4.0]])
    made = mode_json(2.0, "front end sideways", shape, {}, 1500.0)
    assert made["u"] == [[0.0, 0.0, 0.0], [0.0, 0.6, 0.8]]
    assert made["times"] == 50.0  # of 1, on a model of 1500: the round number below 5 % of it


def test_scene_keeps_every_node_and_tube(done):
    model: FrameModel = done.analysis.model
    scene = scene_json(model, done.reading.bicycle.dimensions)
    assert np.allclose(scene["nodes"], model.xyz, atol=0.006)
    assert len(scene["elements"]) == len(model.elements)
    top = scene["members"].index("top tube")
    assert {element[2] for element in scene["elements"] if element[7] == top} == {
        14.3
    }  # half of 28.6
    result = done.analysis.results["seated"]
    assert np.allclose(case_json(result, {})["u"], result.u[:, :3], atol=6e-6)


@pytest.mark.parametrize("path", GOOD, ids=lambda p: p.stem)
def test_the_drawing_is_shown_upright_with_its_joints_in_place(path):
    """Real exports, some turned, mirrored or scaled: the figure's axes are the bicycle's, whatever the sheet's."""
    view = read_side_view(path)
    turn = _turn(view, view.dimensions)
    points = {
        name: p
        for name, p in view.dimensions.points().items()
        if p is not None and name in view.points
    }
    shown = np.array([[*view.points[name], 1.0] for name in points]) @ turn
    assert np.allclose(shown, [[p.x, p.y] for p in points.values()], atol=1e-3)
    scale = np.sqrt(abs(np.linalg.det(turn[:2])))
    assert scale == pytest.approx(view.transform.mm_per_unit, rel=1e-6)
    figure = side_view_figure(view.dimensions, view, None)
    assert f"of {len(view.labels)} lines used" in figure.words
    assert figure.svg.count('class="drawn"') > 5


def test_a_line_of_doubt_is_marked(done):
    view = done.reading.view
    doubted = replace(view.labels[0], member="", how="second line 3 mm beside the seat tube")
    figure = side_view_figure(
        view.dimensions, replace(view, labels=(doubted, *view.labels[1:])), None
    )
    assert figure.svg.count('class="doubted"') == 1
    assert "1 left aside" in figure.words


def test_an_earlier_report_of_the_same_input_makes_room_and_nothing_else_does(tmp_path, capsys):
    out = tmp_path / "r.html"
    sheets = Path(__file__).parent.parent / "sample_drawings"
    quick = ["--modes", "0", "--no-audit", "-o", str(out)]
    assert main(["report", str(sheets / "tourer_700c.csv"), *quick]) == 0
    assert main(["report", str(sheets / "tourer_700c.csv"), *quick, "--case", "side_push"]) == 0
    assert main(["report", str(sheets / "gravel_700c.csv"), *quick]) == 3
    assert "exists already" in capsys.readouterr().err
    out.write_text("<!doctype html> the builder's own page", encoding="utf-8")
    assert main(["report", str(sheets / "tourer_700c.csv"), *quick]) == 3
    assert "the builder's own page" in out.read_text(encoding="utf-8")


def test_no_stroke_of_a_frame_with_racks_runs_nowhere(request, tmp_path):
    """A cross piece is seen end on from the side, and has no direction there."""
    sheet = request.config.rootpath / "sample_drawings" / "laden_700c.csv"
    drawn = side_view_figure(read_input(sheet).dimensions, None, read_input(sheet).need_bicycle())
    assert "nan" not in drawn.svg
    assert drawn.svg.count('class="outline"') > 20
