"""BenchReading against predicted: every lever against a closed form or its own recovery, corrections by hand."""

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from math import log, nan, radians, sqrt

import numpy as np
import pytest
from droptrail.model.cases.bench import BENCH_BELOW, BENCH_MASS
from droptrail.model.cases.library import load_cases
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.measured.explain import AGREE, compared
from droptrail.model.measured.predict import World, levers
from droptrail.model.measured.readings import BenchReading
from droptrail.model.measured.workshop import corrections
from droptrail.model.vibration.bare import bare_model
from droptrail.model.vibration.modes import modes
from helpers_bicycle import tourer

BICYCLE = tourer()
WEIGHT = BENCH_MASS * 9.81


def world(**changed: float) -> World:
    return World(BICYCLE, lambda name: partial(load_cases, names=(name,)), changed)


def bench(load: float | None = WEIGHT) -> BenchReading:
    return BenchReading("deflection", "bench_head", "weight_sinks", load, 8.0, 0.1, "r.csv, row 2")


READINGS = (
    bench(),
    BenchReading("deflection", "side_push", "head_sideways", 200.0, 10.0, 0.1),
    BenchReading("deflection", "rear_sideways", "", None, 1.0, 0.02),
    BenchReading("deflection", "frame_torsion", "frame_twist", None, 1.4, 0.02),
    BenchReading("tap", "tap frame", "1", None, 110.0, 0.5),
    BenchReading("weight", "", "frame", None, 1550.0, 5.0),
)


def test_published_rig_is_there_and_scales_with_its_weight() -> None:
    """21.6 kg hung 23 cm below the head tube, shell clamped: sheldonbrown.com/rinard/rinard_frametest.html."""
    assert (BENCH_MASS, BENCH_BELOW) == (21.6, 230.0)
    one, half, own = world().predicted([bench(), bench(WEIGHT / 2), bench(None)])
    assert half == pytest.approx(one / 2, rel=1e-12)
    assert own == pytest.approx(one, rel=1e-12)


def test_a_softer_material_is_what_hooke_and_the_square_root_say() -> None:
    """Deflection as 1 / E, frequency as its root, hub axles softened alike."""
    readings = [READINGS[0], READINGS[4], READINGS[5]]
    before = world().predicted(readings)
    after = world(material=-0.1, hub=log(0.9)).predicted(readings)
    np.testing.assert_allclose(after / before, [1 / 0.9, sqrt(0.9), 1.0], rtol=1e-7)


def test_a_clamp_that_gives_lets_the_weight_sink_by_arm_squared() -> None:
    """A sideways weight W at r from a clamp of turn compliance c: W r² c more, whatever the frame is (by hand)."""
    give = 0.3
    layout = lay_out(BICYCLE)
    bottom = np.array(layout.joints["head_tube_bottom"])
    hook = bottom - 230 * np.array([*BICYCLE.dimensions.axis_up, 0.0])
    arm = np.linalg.norm(hook - np.array(layout.joints["bottom_bracket"]))
    more = WEIGHT * arm**2 * radians(give) / 1e5
    before, after = (world(restraint=x).predicted([bench()])[0] for x in (0.0, give))
    assert after - before == pytest.approx(more, rel=1e-9)


def test_thinner_walls_weigh_less_and_give_more() -> None:
    """Mass of a tube: pi (D - t) t rho L, so walls x 0.9 weigh 0.9 (D - 0.9 t) / (D - t) of it; stiffness falls."""
    readings = [replace(READINGS[5], place="steerer"), bench()]
    before = world().predicted(readings)
    after = world(walls=-0.1).predicted(readings)
    d, t = 25.4, 1.6
    assert after[0] / before[0] == pytest.approx(0.9 * (d - 0.9 * t) / (d - t), rel=1e-9)
    assert 1.07 < after[1] / before[1] < 1.15


def test_softer_joints_and_hubs_act_where_they_are() -> None:
    before = world().predicted(READINGS)
    joints = world(joints=1.0).predicted(READINGS) / before
    hubs = world(hub=-1.0).predicted(READINGS) / before
    assert np.all(joints[:4] >= 1)
    assert joints[0] > 1.02
    assert joints[4] < 0.995
    assert joints[5] == pytest.approx(1, rel=1e-12)
    assert hubs[2] > 1.005
    assert hubs[[4, 5]] == pytest.approx(1.0, rel=1e-9)


@pytest.mark.parametrize(
    ("key", "value"),
    [("walls", -0.06), ("material", 0.05), ("restraint", 0.4), ("joints", 0.8), ("hub", -1.2)],
)
def test_what_was_hidden_in_the_readings_is_named_first(key: str, value: float) -> None:
    """Readings made with one assumption changed: that one explains them, at that value, and the prediction stays."""
    made = world(**{key: value}).predicted(READINGS)
    readings = [
        replace(one, value=float(v), doubt=1e-3 * abs(float(v)))
        for one, v in zip(READINGS, made, strict=True)
    ]
    found = compared(world(), readings)
    first = found.explanations[0]
    assert first.lever.key == key
    assert first.value == pytest.approx(value, rel=0.01)
    assert first.share > 0.999
    np.testing.assert_allclose(
        [row.predicted for row in found.rows], world().predicted(READINGS), rtol=1e-12
    )


def test_doubt_of_a_prediction_is_the_root_of_what_each_lever_does() -> None:
    found = compared(world(), [bench()])
    base = world().predicted([bench()])[0]
    moved = []
    for lever in levers(BICYCLE):
        ends = [world(**{lever.key: edge}).predicted([bench()])[0] for edge in lever.usual if edge]
        moved.append(max(abs(end - base) for end in ends))
    assert found.rows[0].doubt == pytest.approx(float(np.linalg.norm(moved)), rel=1e-9)
    assert len([size for size in moved if size > 1e-3 * base]) >= 4


def test_both_doubts_decide_whether_it_agrees() -> None:
    row = compared(world(), [bench()]).rows[0]
    joint = float(np.hypot(row.doubt, 0.1))
    for factor in (0.9, 1.1):
        reading = replace(bench(), value=row.predicted + factor * AGREE * joint)
        again = replace(row, reading=reading)
        assert again.agrees == (factor < 1)
        assert again.apart == pytest.approx(factor * AGREE, rel=1e-12)


def test_nothing_is_explained_where_all_agrees_or_nothing_explains() -> None:
    base = world().predicted(READINGS)
    same = [replace(one, value=float(v)) for one, v in zip(READINGS, base, strict=True)]
    assert compared(world(), same).best is None
    # one twice as soft, one twice as stiff: no single cause
    torn = [
        replace(same[0], value=same[0].value * 2, doubt=0.01),
        replace(same[1], value=same[1].value / 2, doubt=0.01),
    ]
    found = compared(world(), torn)
    assert not found.rows[0].agrees
    assert found.best is None


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"place": "elbow"}, "measures no 'elbow'; it measures: weight_sinks .where the weight"),
        ({"kind": "tap", "rig": "tap frame", "place": "low"}, "no number of a mode"),
        ({"kind": "tap", "rig": "tap saddle", "place": "1"}, "not a piece"),
        (
            {"kind": "weight", "rig": "", "place": "bell"},
            "cannot be weighed here; known: frame, fork",
        ),
        ({"rig": "seated", "place": "saddle_vertical", "load": 100.0}, "leave the load empty"),
        ({"rig": "bench_hed"}, "did you mean 'bench_head'"),
    ],
)
def test_readings_that_name_nothing_are_refused(change: dict[str, str], words: str) -> None:
    with pytest.raises(ModelError, match=words):
        compared(world(), [replace(bench(), **change)])  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: replace(bench(), value=0.0), "the reading is 0"),
        (lambda: replace(bench(), doubt=0.0), "say how far it may be off"),
        (lambda: replace(bench(), load=-1.0), "the load is -1"),
        (lambda: replace(bench(), value=nan), "the reading is nan"),
    ],
)
def test_numbers_that_cannot_be_are_refused(make: Callable[[], BenchReading], words: str) -> None:
    with pytest.raises(ModelError, match=words):
        make()


def test_correction_is_mean_and_spread_of_the_ratios() -> None:
    """Frames with ratios 0.9 and 1.1 (one frame read twice, 0.8 and 1.0): mean 1, spread sqrt(0.02) (by hand)."""
    row = compared(world(), [bench()]).rows[0]

    def read(ratio: float):  # type: ignore[no-untyped-def]
        return replace(row, reading=replace(row.reading, value=ratio * row.predicted))

    found = corrections([[read(0.8), read(1.0)], [read(1.1)]])
    assert len(found) == 1
    assert found[0].key == "bench_head.weight_sinks"
    assert found[0].frames == 2
    assert found[0].ratio == pytest.approx(1.0, rel=1e-12)
    assert found[0].spread == pytest.approx(sqrt(0.02), rel=1e-12)
    alone = corrections([[read(1.1)]])[0]
    assert np.isnan(alone.spread)
    assert "no spread is known" in alone.words


def test_a_bare_frame_rings_lower_with_joints_that_give() -> None:
    rigid, soft = (
        modes(bare_model(made, ("frame",)), count=9) for made in (BICYCLE, BICYCLE.joined("bare"))
    )
    first = [float(found.frequencies_hz[found.rigid]) for found in (rigid, soft)]
    assert rigid.rigid == soft.rigid == 6
    # a fork alone has none of the frame's joints hanging in the air
    springs = bare_model(BICYCLE.joined("bare"), ("fork",)).springs
    assert {spring.id.rpartition("_at_the_")[2] for spring in springs} == {"fork_crown_piece"}
    assert 0.8 < first[1] / first[0] < 0.999
