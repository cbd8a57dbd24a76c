"""The bare frame hung on strings: what is in the model, what rings where, and what is refused."""

import dataclasses
from itertools import pairwise

import numpy as np
import pytest
from droptrail.model.errors import ModelError
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.mechanics.frame_model import Element, FrameModel
from droptrail.model.tubes.materials import Material
from droptrail.model.tubes.sections import round_tube
from droptrail.model.vibration.bare import PIECES, bare_model, pieces_of, rings
from droptrail.model.vibration.modes import Dynamics
from helpers_bicycle import tourer as bicycle

STEEL = Material("steel", 205_000.0, 80_000.0, 7.85e-9, 0.29)
NODE = 0.224158  # of the length: where the first bending mode of a free bar stands still (Blevins 1979, table 8-1)


def free_tube() -> FrameModel:
    """The 28.6 x 0.9 tube of 550 mm, named so that a phone lies at its end and at the silent place."""
    section = dataclasses.replace(round_tube(28.6, 0.9, 0.29), Asy=float("inf"), Asz=float("inf"))
    stops = sorted({*np.linspace(0, 1, 41).tolist(), NODE})
    names = {0.0: "head_tube_top", NODE: "bottom_bracket"}
    nodes = {names.get(s, f"n{s:.4f}"): (550.0 * s, 0.0, 0.0) for s in stops}
    ends = list(nodes)
    elements = [
        Element(f"e{k}", a, b, section, STEEL, (0.0, 1.0, 0.0), "tube")
        for k, (a, b) in enumerate(pairwise(ends))
    ]
    return FrameModel(nodes, tuple(elements))


def test_a_free_tube_rings_at_its_ends_and_is_silent_at_its_nodes():
    """589.43 Hz (closed form, Blevins 1979: (4.73004)² / (2 pi L²) sqrt(EI / rho A))."""
    modes = Dynamics.of(free_tube()).modes(8)
    assert modes.rigid == 6
    # Two planes of a round tube: the pair may be turned in any way, so the loudest direction is left open.
    assert modes.frequencies_hz[6:8] == pytest.approx([589.43, 589.43], rel=2e-4)
    heard = {(ring.mode, ring.place): ring for ring in rings(modes)}
    assert max(heard[7, "head tube"].share, heard[8, "head tube"].share) == 1.0
    shape = modes.shapes[6]
    end = np.abs(shape[modes.model.node_index["head_tube_top"], :3]).max()
    silent = np.abs(shape[modes.model.node_index["bottom_bracket"], :3]).max()
    assert silent < 1e-3 * end


def test_the_bare_frame_is_its_tubes_and_nothing_else():
    made = bicycle()
    layout = lay_out(made)
    model = bare_model(made, ("frame",), layout=layout)
    members = {element.member for element in model.elements}
    assert members >= {"head_tube", "top_tube", "down_tube", "seat_tube", "bb_shell"}
    assert not members & {"rear_hub", "front_hub", "seat_post", "stem", "bar", "steerer"}
    assert not any("blade" in member for member in members)
    assert model.masses == ()
    whole = mass_table(mesh(made, layout=layout), layout)
    tubes = sum(
        mass.kg for tube, mass in whole.by_tube.items() if tube not in ("fork_blade", "steerer")
    )
    parts = sum(
        e.section.A
        * np.linalg.norm(np.subtract(model.nodes[e.j], model.nodes[e.i]))
        * e.material.rho
        for e in model.elements
        if e.member in ("bb_shell", "chainstay_bridge", "seatstay_bridge")
    )
    found = Dynamics.of(model).modes(8)
    assert 1000 * found.total_mass[0] == pytest.approx(tubes + 1000 * parts, rel=1e-9)


@pytest.mark.parametrize(("pieces", "rigid"), [("frame", 6), ("fork", 6), ("frame+fork", 7)])
def test_nothing_holds_it(pieces, rigid):
    """Six motions of the whole; a fork in its bearings turns besides."""
    assert Dynamics.of(bare_model(bicycle(), pieces_of(pieces))).modes(10).rigid == rigid


def test_a_post_in_the_frame_lowers_what_rings_there():
    bare = Dynamics.of(bare_model(bicycle(), ("frame",))).modes(12).frequencies_hz
    with_post = Dynamics.of(bare_model(bicycle(), ("frame", "seat_post"))).modes(12).frequencies_hz
    # Rayleigh: mass and a free length more, no stiffness between what was there: no frequency rises.
    assert np.all(with_post <= bare * (1 + 1e-9))
    assert with_post[6] < 0.9999 * bare[6]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("wheel", "'wheel' is not a piece"),
        ("frame+", "'' is not a piece"),
        ("bar", "name the frame, the fork or both"),
    ],
)
def test_pieces_that_are_none(text, words):
    with pytest.raises(ModelError, match=words):
        pieces_of(text)
    assert pieces_of("Fork + frame + fork") == ("fork", "frame")
    assert set(PIECES) >= {"frame", "fork", "seat_post"}


def test_a_piece_that_hangs_on_nothing_is_named():
    with pytest.raises(ModelError, match="the bar hangs on nothing in frame \\+ bar"):
        bare_model(bicycle(), ("frame", "bar"))


def test_every_mode_is_heard_somewhere_and_every_place_hears_one_loudest():
    modes = Dynamics.of(bare_model(bicycle(), ("frame", "fork"))).modes(14)
    found = rings(modes)
    places = {ring.place for ring in found}
    assert places == {"head tube", "bottom bracket", "seat cluster", "rear dropout", "fork tip"}
    for place in places:
        assert max(ring.share for ring in found if ring.place == place) == pytest.approx(1.0)
    assert {ring.mode for ring in found} == set(range(modes.rigid + 1, 15))
    assert {ring.words for ring in found} == {"loud", "clear", "hardly"}
