"""What the page is given of the wobble: numbers as the commands tell them, places that move, words that fit."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.riding import settled_riding
from droptrail.model.stability.hands import SetUp, hands_need
from droptrail.model.stability.shimmy_setup import HANDS_OFF
from droptrail.validation.check import check
from droptrail.validation.report.beside import wobbling
from droptrail.validation.report.wobble import SPEEDS, Wobble, wobble_scene, wobble_table

SAMPLES = Path(__file__).parents[2] / "sample_drawings"


@pytest.fixture(scope="module")
def wobble() -> Wobble:
    return Wobble.of(read_input(SAMPLES / "tourer_700c.csv").need_bicycle())


@pytest.fixture(scope="module")
def scene(wobble: Wobble) -> dict:
    return wobble_scene(wobble, mesh(wobble.bicycle))


def test_the_slider_starts_at_a_speed_and_every_speed_has_its_shape(scene: dict) -> None:
    assert scene["speeds"][scene["start"]] == 8.0
    json.dumps(scene, allow_nan=False)
    for hold in scene["holds"]:
        for of in ("followed", "roots", "shapes", "words"):
            assert len(hold[of]) == len(SPEEDS)
        assert all(len(shape) == len(scene["by"]) for shape in hold["shapes"])


def test_roots_are_those_of_the_whole_system(wobble: Wobble, scene: dict) -> None:
    usual = SetUp.of(wobble.bicycle)
    off = usual.model(settled_riding({}), HANDS_OFF)
    k = SPEEDS.index(8.0)
    growth, hz = scene["holds"][0]["followed"][k]
    values = off.eigenvalues(8.0)
    assert np.min(np.abs(values - complex(growth, 2 * np.pi * hz))) < 1e-3
    assert [growth, hz] in scene["holds"][0]["roots"][k]


def test_the_pictures_shape_moves_the_contacts_as_the_model_does(
    wobble: Wobble, scene: dict
) -> None:
    """Front contact from the page's own sums, in mm for 1 rad of steering."""
    model = mesh(wobble.bicycle)
    k = SPEEDS.index(8.0)
    shape = np.array(scene["holds"][0]["shapes"][k]) @ [1, 1j]
    by = np.array(scene["by"]).reshape(len(shape), -1, 3)
    node = model.node_index["front_contact"]
    made = wobble.made
    skip = [j for j, name in enumerate(made.model.names) if name.endswith("tilt")]
    rows = made.model.contact_rows(made.model.wheels[1]).s
    rows[skip] = 0.0
    assert by[:, node, 2] @ shape == pytest.approx(1000 * (rows @ shape), abs=0.5)


def test_words_say_whether_it_grows_and_how_fast(wobble: Wobble) -> None:
    off, on = wobble.maps
    k = SPEEDS.index(8.0)
    assert wobble.words(off, k).startswith("8 m/s (29 km/h), hands off the bar: ")
    growth = float(wobble.maps[off].wobble[k].real)
    assert growth < 0
    assert f"it dies, to half its size in {-np.log(2) / growth:.1f} s" in wobble.words(off, k)
    assert "it dies, to half its size in" in wobble.words(on, k)
    roots = wobble.maps[off].wobble.copy()
    roots[k] = 0.35 + 40j
    growing = replace(wobble, maps={off: replace(wobble.maps[off], wobble=roots)})
    assert "it grows, to twice its size in 2.0 s" in growing.words(off, k)
    need = hands_need(SetUp.of(wobble.bicycle).model(settled_riding({})), (8.0,)).damping[0]
    assert f"must supply {need:+.2f} N·m·s/rad" in wobble.words(off, k)
    none = replace(wobble, need=None)
    assert "must supply" not in none.words(off, k)
    still = replace(
        wobble, maps={off: replace(wobble.maps[off], wobble=np.full(len(SPEEDS), np.nan + 0j))}
    )
    assert "no wobble" in still.words(off, k)


def test_arms_are_drawn_where_hands_are_on_the_bar(scene: dict) -> None:
    assert [hold["arms"] for hold in scene["holds"]] == [False, True]
    kinds = [line["kind"] for line in scene["lines"]]
    assert kinds.count("wheel") == kinds.count("arm") == 2
    assert "rider" in kinds


def test_the_table_says_the_same_numbers(wobble: Wobble) -> None:
    table = wobble_table(wobble)
    row = next(row for row in table.rows if row[0] == 8.0)
    k = SPEEDS.index(8.0)
    off, on = wobble.maps.values()
    assert wobble.need is not None
    assert row[1:] == (
        28.8,
        wobble.need.damping[k],
        off.frequency_hz[k],
        off.damping_ratio[k],
        on.damping_ratio[k],
    )
    assert "no promise" in table.notes
    assert "6 to 9 Hz hands off" in table.notes
    assert "twists on its spine" in table.notes
    unknown = wobble_table(replace(wobble, need=None))
    assert all(row[2] is None for row in unknown.rows)


def test_nobody_aboard_no_wobble() -> None:
    reading = read_input(SAMPLES / "gravel_700c.csv")
    done = check(reading)
    assert wobbling(done, True) is not None
    assert wobbling(done, False) is None
    bicycle = reading.need_bicycle()
    alone = replace(bicycle, loads=replace(bicycle.loads, rider_mass=0.0))
    assert wobbling(replace(done, reading=replace(reading, bicycle=alone)), True) is None
