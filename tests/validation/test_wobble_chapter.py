"""The chapter of the wobble model: every check met, and each seen to fail when the model is broken on purpose."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.stability import hands, lateral, shimmy
from droptrail.validation import wobble
from droptrail.validation.wobble import lines
from droptrail.validation.wobble_tables import (
    STUDIES,
    rack_row,
    sample_figures,
    study_rows,
    trade_row,
)

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
NAMES = ("tourer_700c", "gravel_700c", "small_650b", "trekking_26")


def sample(name: str) -> Any:
    return read_input(SAMPLES / f"{name}.csv").need_bicycle()


def test_every_check_of_the_chapter_is_met() -> None:
    for line in lines(sample("tourer_700c")):
        assert line.ok, line


def gyroscopic(patch: pytest.MonkeyPatch) -> None:
    right = lateral.LateralModel.gyroscopic.func
    patch.setattr(lateral.LateralModel, "gyroscopic", property(lambda self: -right(self)))


def turning_axes(patch: pytest.MonkeyPatch) -> None:
    nothing = property(lambda self: np.zeros((len(self.joints),) * 2))
    patch.setattr(lateral.LateralModel, "heading", nothing)


def carcass_loss(patch: pytest.MonkeyPatch) -> None:
    """Forgotten in the state matrix alone."""
    right = lateral.LateralModel.tyre_states

    def wrong(self: Any, speeds: Any, tyres: Any) -> Any:
        return right(self, speeds, [replace(tyre, loss_factor=0.0) for tyre in tyres])

    patch.setattr(lateral.LateralModel, "tyre_states", wrong)


def trail_of_the_slip_force(patch: pytest.MonkeyPatch) -> None:
    right = lateral.LateralModel.tyre_states

    def wrong(self: Any, speeds: Any, tyres: Any) -> Any:
        return right(self, speeds, [replace(tyre, pneumatic_trail=0.0) for tyre in tyres])

    patch.setattr(lateral.LateralModel, "tyre_states", wrong)


def arms_on_the_wrong_joint(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(
        shimmy.ShimmyBicycle, "_arms_turn", property(lambda self: {"steer": 1.0, "lean": 0.5})
    )


def hip_on_the_wrong_joint(patch: pytest.MonkeyPatch) -> None:
    right = shimmy.ShimmyBicycle._springs.fget

    def wrong(self: Any) -> Any:
        stiffness, damping = right(self)
        stiffness["lean", "lean"] = stiffness.pop(("rider lean", "rider lean"), 0.0)
        return stiffness, damping

    patch.setattr(shimmy.ShimmyBicycle, "_springs", property(wrong))


def need_off_by_a_hundredth(patch: pytest.MonkeyPatch) -> None:
    right = hands._real_crossings

    def wrong(*given: Any) -> Any:
        damping, hz = right(*given)
        return 1.01 * damping, hz

    patch.setattr(hands, "_real_crossings", wrong)


def frequency_off_by_a_hundredth(patch: pytest.MonkeyPatch) -> None:
    right = hands._real_crossings

    def wrong(*given: Any) -> Any:
        damping, hz = right(*given)
        return damping, 1.01 * hz

    patch.setattr(hands, "_real_crossings", wrong)


def a_damper_that_does_no_work(patch: pytest.MonkeyPatch) -> None:
    """In the chapter's own account of energy."""
    right = wobble._power

    def wrong(bicycle: Any, v: float, x: Any, rate: Any) -> float:
        model = bicycle.model
        u = x[len(model.joints) - 2 : 2 * len(model.joints) - 2]
        return float(right(bicycle, v, x, rate) + u @ model.dampers @ u)

    patch.setattr(wobble, "_power", wrong)


@pytest.mark.parametrize(
    ("broken", "seen"),
    [
        (gyroscopic, "all stiff"),
        (turning_axes, "root from the decay"),
        (carcass_loss, "root from the decay"),
        (trail_of_the_slip_force, "no tyre lag"),
        (arms_on_the_wrong_joint, "hands that hold fast"),
        (hip_on_the_wrong_joint, "rider's hip locked"),
        (need_off_by_a_hundredth, "caster"),
        (need_off_by_a_hundredth, "growth of the whole system"),
        (frequency_off_by_a_hundredth, "frequency asked for"),
        (a_damper_that_does_no_work, "energy over one period"),
    ],
)
def test_each_check_is_seen_to_fail(
    broken: Callable[[pytest.MonkeyPatch], None], seen: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    broken(monkeypatch)
    found = [line for line in lines(sample("tourer_700c")) if line.what.startswith(seen)]
    assert found
    assert not all(line.ok for line in found)


def test_what_the_trade_says_on_every_sample() -> None:
    """Soft head and light hands make it worse; a load low in front on a soft rack, and not on a firm one."""
    for name in NAMES:
        row = trade_row(name, sample(name))
        given, softer, none, firm, soft, on, light, off = map(float, row[1:])
        assert softer > given + 0.2
        assert firm < none < soft
        assert on > light > off


@pytest.mark.parametrize("name", NAMES)
def test_the_table_of_racks_says_from_where_on_bags_harm(name: str) -> None:
    row = rack_row(name, sample(name))
    none, *needs = map(float, row[1:-1])
    assert needs[0] < none < needs[-1]
    assert needs == sorted(needs)
    assert 5 < float(row[-1]) < 20


def test_each_study_stands_beside_a_figure_of_each_sample() -> None:
    figures = [sample_figures(sample(name)) for name in NAMES]
    rows = study_rows(figures)
    assert len(rows) == len(STUDIES)
    assert all(len(row) == 3 + len(NAMES) for row in rows)
    assert all("read" in row[1] for row in rows)
    # 4 to 10 Hz is met by every sample
    for figure in figures:
        low, _, high = figure["hands off"].split(" Hz")[0].partition(" to ")
        assert 4 < float(low) < float(high) < 10
