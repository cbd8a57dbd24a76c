"""The workshop's rule for bends: an arc's radius in closed form against what is told, and blades left alone."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.choice.workshop_rules import Rules, frame_faults
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.centre_lines import tightest_bend
from droptrail.model.frame.layout import lay_out
from droptrail.model.tubes.bends import Bend
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.places import read_place
from droptrail.model.tubes.plan import TubeRole
from droptrail.model.tubes.tube import Tube
from helpers_bicycle import STEEL, tourer
from helpers_plans import BICYCLES


def with_gusset(sagitta: float, od: float = 19.0) -> Bicycle:
    """The tourer with a short bent tube behind the head tube."""
    bicycle = tourer()
    names = bicycle.plan.names
    ends = tuple(
        read_place(text, names) for text in ("top_tube 80 mm from end", "down_tube 110 mm from end")
    )
    role = TubeRole("gusset", ends, bend=Bend(sagitta=sagitta))
    tubes = {**bicycle.tubes, "gusset": Tube(STEEL, od, od, (0.9,))}
    return replace(bicycle, plan=bicycle.plan.with_roles(role), tubes=tubes)


def told(bicycle: Bicycle, rules: Rules | None = None) -> list[str]:
    faults = frame_faults(rules or Rules(), bicycle)
    return [fault.message for fault in faults if fault.code == "rule-bend-radius"]


def radius_of(bicycle: Bicycle, sagitta: float) -> float:
    """r = (c^2 + 4 s^2) / 8 s, any handbook of geometry."""
    path = np.array(next(m for m in lay_out(bicycle).members if m.name == "gusset").path)
    chord = np.linalg.norm(path[-1] - path[0])
    return float((chord**2 + 4 * sagitta**2) / (8 * sagitta))


@pytest.mark.parametrize("sagitta", [12.0, 20.0, 30.0])
def test_an_arc_is_told_as_soon_as_its_radius_is_less_than_three_diameters(sagitta: float) -> None:
    plain = with_gusset(sagitta)
    radius = radius_of(plain, sagitta)
    path = np.array(next(m for m in lay_out(plain).members if m.name == "gusset").path)
    assert tightest_bend(path)[0] == pytest.approx(radius, rel=1e-6)
    assert told(with_gusset(sagitta, od=radius / 3 * 0.99)) == []
    (message,) = told(with_gusset(sagitta, od=radius / 3 * 1.01))
    assert f"a radius of {radius:.0f} mm" in message
    # a workshop with a better bender sets its own
    assert told(with_gusset(sagitta, od=radius / 3 * 1.01), Rules(least_bend=2.0)) == []


def test_a_straight_line_has_no_bend() -> None:
    assert tightest_bend(np.array([[0.0, 0, 0], [10, 0, 0], [25, 0, 0]]))[0] == np.inf


@pytest.mark.parametrize("plan", PLANS)
def test_no_starter_is_bent_too_tight_and_blades_are_bought_bent(plan: str) -> None:
    assert told(BICYCLES[plan]) == []


def test_a_bend_of_nought_is_a_straight_tube():
    straight = np.array([[0.0, 0.0, 0.0], [100.0, 50.0, 0.0]])
    assert tightest_bend(straight)[0] == np.inf
