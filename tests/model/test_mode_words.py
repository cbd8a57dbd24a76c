"""Words for modes: made to fit known shapes, checked on models built so that the answer is plain."""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Loads
from droptrail.model.frame.parts import PARTS
from droptrail.model.mechanics.frame_model import Element, FrameModel, NodeMass, Spring
from droptrail.model.tubes.materials import find_material
from droptrail.model.tubes.sections import Section, oval_tube
from droptrail.model.vibration.mode_words import PLACES, describe
from droptrail.model.vibration.modes import modes
from droptrail.model.vibration.setup import Supports, VibrationParts, vibration_model
from helpers_bicycle import STEEL, grown, tourer
from helpers_frames import chain

BARE = tourer(loads=Loads(rider_mass=0.0))


def words_of(
    supports: Supports = "rigid", parts: VibrationParts | None = None, bicycle=BARE, count: int = 15
):
    model, case = vibration_model(bicycle, supports, parts)
    return describe(modes(model, case.supports, case.springs, count))


def test_planes_split_the_modes_of_a_symmetric_frame_cleanly() -> None:
    """Every mode of a frame that is its own mirror image lies in the plane or across it, none is mixed."""
    for supports in ("rigid", "tyres"):
        words = words_of(supports, bicycle=tourer())
        assert {w.plane for w in words} == {"in plane", "sideways"}


def test_soft_tyres_bounce_pitch_and_sway() -> None:
    titles = [
        w.title
        for w in words_of("tyres", VibrationParts(tyre_vertical=2.0, tyre_sideways=2.0), count=4)
    ]
    assert set(titles) == {
        "bounce on the tyres",
        "pitch on the tyres",
        "swaying sideways on the tyres",
    }


def test_a_soft_part_is_the_one_that_is_named() -> None:
    """Make one tube a thousand times softer: the first mode must put most energy there and say its place."""
    for parts, word in (
        (("seat_post",), "saddle"),
        (("fork_blade",), "fork"),
        (("bar",), "bars"),
        (("chainstay", "seatstay"), "rear triangle"),
    ):
        model, case = vibration_model(BARE, "rigid")
        soft = replace(find_material("4130"), E=205.0, G=80.0)
        model = replace(
            model,
            elements=tuple(
                replace(e, material=soft) if e.member.startswith(parts) else e
                for e in model.elements
            ),
        )
        main = describe(modes(model, case.supports, case.springs, 4))[0]
        assert sum(main.members[part] for part in parts) > 0.9
        assert word in main.title


def test_front_wheel_twisting_in_the_fork() -> None:
    """A flywheel's inertia on the front axle makes the lowest mode a twist of the fork about the steering axis."""
    model, _ = vibration_model(BARE, "free")
    big = replace(model, masses=(*model.masses, NodeMass("front_axle", 0.0, (0.0, 5e4, 0.0))))
    lock = Spring(
        "lock", "steerer_upper", "head_tube_top", (0, 0, 0, 1e9, 0, 0), (-0.31, 0.95, 0), (0, 0, 1)
    )
    word = next(w for w in describe(modes(big, springs=(lock,), count=9)) if w.hz > 0)
    assert word.plane == "sideways"
    assert word.members["fork_blade"] > 0.3


def test_frame_torsion_and_front_end_sideways() -> None:
    """Free and bare, the lowest elastic mode twists the frame; held at the axles it moves the front end sideways."""
    free, held = words_of("free"), words_of("rigid")
    assert next(w for w in free if w.hz > 0).title.startswith("frame torsion")
    assert held[0].title == "front end sideways"
    assert held[0].moving["sideways"] > 0.4


def test_shares_add_up() -> None:
    for w in words_of("tyres", bicycle=tourer()):
        assert sum(w.members.values()) == pytest.approx(1, abs=1e-4)
        assert sum(w.kinds.values()) == pytest.approx(1, abs=1e-4)
        assert sum(w.moving.values()) == pytest.approx(1, abs=1e-6)
        assert list(w.members.values()) == sorted(w.members.values(), reverse=True)
        assert next(iter(w.members)).replace("_", " ") in w.sentence
    assert [w.number for w in words_of()] == list(range(1, 16))


def test_rigid_motions_bend_nothing() -> None:
    words = words_of("free")
    assert [w.title for w in words[:7]] == ["rigid motion, nothing bends"] * 7
    assert words[0].sentence == words[0].title
    assert words[0].members == {}


def test_kinds_of_a_plain_rod() -> None:
    """A cantilever of unequal second moments: first mode bends, its twist and stretch modes say so."""
    section = Section(100.0, 1000.0, 4000.0, 60.0, Ip=5000.0)
    nodes = {f"{k}": (30.0 * k, 0.0, 0.0) for k in range(11)}
    steel = find_material("4130")
    model = FrameModel(
        nodes,
        tuple(
            Element(f"e{k}", f"{k}", f"{k + 1}", section, steel, (0, 1, 0), "rod")
            for k in range(10)
        ),
    )
    words = describe(modes(model, {"0": (1,) * 6}, count=20))
    assert words[0].title == "bending of rod, moving sideways"
    assert words[0].kinds["bending"] > 0.99
    assert any(w.title.startswith("torsion of rod") for w in words)
    assert any(w.title == "axial of rod, moving fore-aft" for w in words)
    assert {w.plane for w in words if w.title.startswith("bending")} == {"in plane", "sideways"}


def test_a_lopsided_frame_is_mixed() -> None:
    """A heavy lump on one bar end ties both kinds of motion together: no mirror, so a mixed mode appears."""
    model, case = vibration_model(BARE, "rigid")
    model = replace(
        model,
        masses=(
            *model.masses,
            NodeMass("rear_dropout_right", 0.02, (1e3, 1e3, 1e3)),
            NodeMass("bar_right", 0.02),
        ),
    )
    planes = {w.plane for w in describe(modes(model, case.supports, case.springs, 10))}
    assert "mixed" in planes


def test_a_frame_that_is_not_its_own_mirror_image_is_named_by_its_directions() -> None:
    """A rod beside the plane z = 0: the share in the plane is that of ux, uy and rz; lone nodes have no twin."""
    flat = chain(
        [(0, 0, 30.0), (200.0, 100.0, 30.0), (400.0, 200.0, 30.0)],
        oval_tube(12.0, 24.0, 1.0, 0.3),
        STEEL,
    )
    words = describe(modes(flat, {"0": (1,) * 6}, count=4))
    assert {w.plane for w in words} == {"in plane", "sideways"}


def test_every_member_of_the_mesh_has_a_place() -> None:
    model, _ = vibration_model(grown(BARE, "top_tube", diameter=1.0))
    placed = {name for names in PLACES.values() for name in names}
    members = {e.member.removesuffix("_left").removesuffix("_right") for e in model.elements}
    assert members - {"steerer"} <= placed
    assert set(PARTS) <= placed | {"bridge"}
    assert np.all([bool(m) for m in members])
