"""Head and fork flexibility out of the beam model, and what it does to the wobble."""

from dataclasses import replace
from math import inf, pi, radians

import numpy as np
import pytest
from droptrail.model.cases.library import steering_lock
from droptrail.model.errors import ModelError
from droptrail.model.frame.bicycle import Bicycle, Loads
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase
from droptrail.model.mechanics.solve import solve
from droptrail.model.stability.hands import SetUp
from droptrail.model.stability.shimmy_flex import fork_give, frame_give, head_flex
from droptrail.model.stability.shimmy_setup import HANDS_OFF
from droptrail.model.stability.speed_map import SpeedMap, shimmy_study, speed_map
from helpers_bicycle import grown, tourer

SPEEDS = np.arange(4.0, 16.1, 3.0)


def hands_off(bicycle: Bicycle) -> SpeedMap:
    return speed_map(SetUp.of(bicycle).model({}, HANDS_OFF), SPEEDS)


def test_head_flex_against_its_definition() -> None:
    """A turning moment square to the steering axis, given as a moment at the head's middle in the beam model."""
    bicycle = tourer()
    layout = lay_out(bicycle)
    flex = head_flex(bicycle)
    tilt = pi / 2 - radians(bicycle.dimensions.head_angle)
    axis = np.array([np.cos(tilt), np.sin(tilt), 0.0])
    base = mesh(bicycle)
    middle = np.mean([layout.joints["head_tube_top"], layout.joints["head_tube_bottom"]], axis=0)
    on_tube = {node for e in base.elements if e.member == "head_tube" for node in (e.i, e.j)}
    nearest = min(on_tube, key=lambda n: float(np.linalg.norm(np.subtract(base.nodes[n], middle))))
    moment = LoadCase(
        "m",
        {nearest: (0.0, 0.0, 0.0, *(1000.0 * axis))},
        supports={"rear_axle": (1,) * 6},
        springs=(steering_lock(bicycle, layout),),
    )
    turned = float(axis @ solve(base, [moment])["m"].displacement(nearest)[3:])
    assert flex.turn == pytest.approx(
        turned, rel=0.03
    )  # head tube a little elastic, node not quite in the middle


def test_flexibility_is_reciprocal_and_in_a_usual_range() -> None:
    """PLAUSIBILITY: head torsion 60-120 N·m/degree, fork sideways 35-60 N/mm (both from memory, low confidence)."""
    head, fork = head_flex(tourer()), fork_give(tourer())
    assert 40 < head.turn_stiffness * pi / 180 < 150
    assert 25 < 1 / fork.flexibility[0, 0] / 1000 < 100
    assert head.coupling**2 < head.turn * head.sideways


def test_seen_from_the_rear_axle_the_head_gives_what_it_gives_with_the_axle_clamped() -> None:
    """Two condensations of one frame: held at the saddle and taken relative to the rear axle; held at the rear axle.

    A moment or force pair at the head, balanced at the rear axle, is the same state whatever holds the frame.
    """
    bicycle = tourer()
    give, clamped = frame_give(bicycle), head_flex(bicycle)
    joints = {joint.name: joint for joint in give.joints}
    head, axle = joints["head turn"], joints["rear yaw"]
    dx, dz = (a - b for a, b in zip(head.point, axle.point, strict=True))
    assert head.axis is not None
    across = np.array([head.axis[0], head.axis[1]])
    # What a rigid motion of the rear axle (slide, yaw, lean) does at the head: sideways, and about `across`.
    carried = np.array([[1.0, dx, -dz], [0.0, across[1], across[0]]])
    relative = np.zeros((2, 8))
    relative[:, :3] = -carried
    relative[:, 6:] = np.eye(2)
    seen = relative @ give.flexibility @ relative.T
    expected = np.array([[clamped.sideways, clamped.coupling], [clamped.coupling, clamped.turn]])
    np.testing.assert_allclose(seen, expected, rtol=1e-7)


def test_fork_gives_what_its_definition_says() -> None:
    """A moment about each axis at the front axle of the beam model, head tube clamped, and the turn it makes."""
    bicycle = tourer()
    layout = lay_out(bicycle)
    tilt = pi / 2 - radians(bicycle.dimensions.head_angle)
    held = {layout.node(f"head_tube_{end}"): (1,) * 6 for end in ("top", "bottom")}
    give = fork_give(bicycle)
    for number, axis in ((1, (np.cos(tilt), np.sin(tilt))), (2, (np.sin(tilt), -np.cos(tilt)))):
        moment = LoadCase(
            "m",
            {"front_axle": (0.0, 0.0, 0.0, 1000.0 * axis[0], 1000.0 * axis[1], 0.0)},
            supports=held,
            springs=(steering_lock(bicycle, layout),),
        )
        turned = solve(mesh(bicycle), [moment])["m"].displacement("front_axle")
        assert give.flexibility[number, number] == pytest.approx(
            float(np.dot(axis, turned[3:5])), rel=1e-9
        )
    # Twist and bending are apart: the blades' own torsion turns the wheel, it does not lean it.
    assert give.flexibility[2, 2] > 3 * give.flexibility[1, 1]


def test_a_stiff_frame_gives_nothing() -> None:
    bicycle = tourer()
    base = mesh(bicycle)
    stiff = replace(
        base,
        elements=tuple(
            replace(e, material=replace(e.material, E=e.material.E * 1e4, G=e.material.G * 1e4))
            for e in base.elements
        ),
    )
    soft, hard = head_flex(bicycle, base), head_flex(bicycle, stiff)
    assert hard.turn == pytest.approx(soft.turn / 1e4, rel=1e-6)
    assert hard.sideways == pytest.approx(soft.sideways / 1e4, rel=1e-6)
    whole = frame_give(bicycle, base).flexibility
    np.testing.assert_allclose(frame_give(bicycle, stiff).flexibility, whole / 1e4, rtol=1e-6)


def test_mesh_does_not_matter() -> None:
    """Exact beam elements: a finer mesh changes the tapered tubes only, by well under a percent."""
    bicycle = tourer()
    fine = mesh(bicycle, MeshOptions().refined(3))
    assert head_flex(bicycle, fine).turn == pytest.approx(head_flex(bicycle).turn, rel=5e-3)


def test_tubes_move_the_head_stiffness_and_the_wobble() -> None:
    """PLAUSIBILITY: larger top or down tube, or a shear-rigid model, stiffen the head; the wobble is damped more."""
    base = tourer()
    before = head_flex(base)
    seen = hands_off(base)
    for tube in ("top_tube", "down_tube"):
        thick = grown(base, tube, diameter=6.4)
        assert head_flex(thick).turn < before.turn
        assert hands_off(thick).least_damped[1] > seen.least_damped[1]
    plain = mesh(base)
    no_shear = replace(
        plain,
        elements=tuple(
            replace(e, section=replace(e.section, Asy=inf, Asz=inf)) for e in plain.elements
        ),
    )
    assert head_flex(base, no_shear).turn < before.turn


def test_whole_study_of_a_bicycle() -> None:
    """PLAUSIBILITY: wobble of the sample tourer inside the published 4-10 Hz, hands off, at every speed."""
    bicycle = tourer(loads=Loads(front_luggage=5.0))
    model = SetUp.of(bicycle).model({}, HANDS_OFF)
    rows = shimmy_study(model, SPEEDS).rows()
    assert 4 < float(rows[0]["frequency_hz"] or 0) < 10
    assert len(rows) >= 9
    assert len(model.assumed) >= 5


def test_a_foreign_model_is_refused() -> None:
    base = mesh(tourer())
    other = FrameModel(
        {"a": (0.0, 0.0, 0.0), "b": (1.0, 0.0, 0.0)}, (replace(base.elements[0], i="a", j="b"),)
    )
    with pytest.raises(ModelError, match="has no node rear_axle"):
        head_flex(tourer(), other)
