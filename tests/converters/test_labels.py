"""No words on a picture of a load case cover others, and what they say is what the case puts on.

Widths are measured with DejaVu Sans, the widest of the fonts that pages are shown in, by the outlines of its letters.
"""

import re
import xml.etree.ElementTree as ET
from itertools import combinations
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import pytest
from droptrail.cli.main import main
from droptrail.converters.inputs import read_input
from droptrail.converters.showing.picture.rig import rig_picture
from droptrail.converters.showing.report.rig import rig
from droptrail.converters.showing.report.scene import case_json, scene_json
from droptrail.converters.showing.report.stills import CORNER, SIDE, still
from droptrail.model.cases.library import cases_of, load_cases
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.mechanics.solve import solve
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
SHEETS = sorted(
    path.name
    for path in SAMPLES.glob("*.csv")
    if not path.stem.endswith(("_nodes", "_readings")) and not path.stem.startswith("disagree")
)
PLANS = (
    "diamond",
    "mixte",
    "step through",
    "twin top tubes",
    "tandem",
    "mono stay + unicrown fork",
)
SIZE = 54  # mm, as the page's style sheet sets the words of a picture
FONTS = {
    "load-words": FontProperties(family="DejaVu Sans"),
    "held-words": FontProperties(family="DejaVu Sans", weight="bold"),
    "gauge-words": FontProperties(family="DejaVu Sans", weight="bold"),
}


@pytest.fixture(scope="module", params=[*SHEETS, *PLANS])
def bicycle(request, tmp_path_factory):
    path = SAMPLES / request.param
    if request.param in PLANS:
        path = tmp_path_factory.mktemp("plan") / "sheet.csv"
        assert main(["new", str(path), "--plan", request.param]) == 0
    return read_input(path).need_bicycle()


@pytest.fixture(scope="module")
def rigged(bicycle):
    """Model, scene, and every case of the library that this bicycle can be put under."""
    layout = lay_out(bicycle)
    model = mesh(bicycle, layout=layout)
    cases = [load_cases(bicycle, layout, (name,))[0] for name in cases_of(bicycle)]
    assert len(cases) >= 15
    return model, scene_json(model, bicycle.dimensions), cases


def boxes(svg):
    """(left, low, right, high) of the ink of every text, y upwards, with its words."""
    found = []
    for element in ET.fromstring(svg).iter("text"):
        path = TextPath((0, 0), element.text, size=SIZE, prop=FONTS[element.get("class")])
        ink = path.get_extents()
        x, y = float(element.get("x")), -float(element.get("y"))
        left = x - {"start": 0.0, "middle": ink.x1 / 2, "end": ink.x1}[element.get("text-anchor")]
        found.append((left + ink.x0, y + ink.y0, left + ink.x1, y + ink.y1, element.text))
    return found


def collisions(found):
    """Pairs of words whose boxes share some of the page."""
    return [
        (a[4], b[4])
        for a, b in combinations(found, 2)
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]
    ]


def test_no_words_of_a_rig_cover_others(rigged):
    model, scene, cases = rigged
    for case in cases:
        drawn = boxes(rig(model, case, scene).svg)
        assert drawn
        assert collisions(drawn) == [], case.name


def test_no_words_of_a_still_cover_others(rigged):
    model, scene, cases = rigged
    for result in solve(model, cases).values():
        told = case_json(result, {})
        for eye in (CORNER, SIDE):
            assert collisions(boxes(still(scene, told, eye))) == [], result.case.name


def test_words_of_loads_are_what_the_case_puts_on_and_stand_in_its_words(rigged):
    model, scene, cases = rigged
    for case in cases:
        if case.member_loads:
            continue
        made = rig(model, case, scene)
        labels = [
            e.text for e in ET.fromstring(made.svg).iter("text") if e.get("class") == "load-words"
        ]
        assert labels or case.name == "frame_torsion"
        sizes = [np.linalg.norm(six[:3]) for six in case.nodal.values()]
        turns = [np.linalg.norm(six[3:]) / 1000 for six in case.nodal.values()]
        for label in labels:
            value, unit = re.fullmatch(r"([\d.]+) (N|N·m)(?: in all)?", label).groups()
            known = np.array(turns if "·m" in unit else sizes) * (2 if label.endswith("all") else 1)
            # three digits, whole from a hundred up
            assert np.min(np.abs(known - float(value))) <= max(0.5, 0.006 * float(value)), label
            assert label in made.words, (case.name, label)
        # what the words of the case give to each place of the rider is what the picture gives
        for said in re.findall(
            r"(?:saddle|bars|pedals) (\d+ N)", case.notes.split("before braking")[0]
        ):
            assert {said, f"{said} in all"} & set(labels), (case.name, said, labels)


def test_no_words_of_a_sheet_with_a_rig_cover_others(rigged):
    model, _, cases = rigged
    for case in cases[:8]:
        figure = rig_picture(model, case, "T")
        figure.canvas.draw()
        found = []
        for text in [t for axes in figure.axes for t in axes.texts if t.get_text()] + figure.texts:
            box = text.get_window_extent()
            found.append((box.x0, box.y0, box.x1, box.y1, text.get_text()))
        assert len(found) > 5
        assert collisions(found) == [], case.name
        plt.close(figure)
