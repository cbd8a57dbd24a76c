"""How what is drawn along the steering axis is shared out: head tube, rings, headset and crown, from made-up stages.

Distances are mm along the axis, upwards; the head tube is 44 mm wide unless said otherwise.
"""

from types import SimpleNamespace

import pytest
from droptrail.converters.drawings.labelling import steering
from droptrail.converters.drawings.labelling.profile import Cap, Profile, Wall
from droptrail.converters.drawings.labelling.steering import _ends, _Shares, settle_ends
from droptrail.converters.drawings.linework.lines import Candidate

BODY = (400.0, 560.0)
LAYERS = ("head", "head", "fork", "plain", "plain", "plain", "plain")


def stage(low: float, high: float, half: float, owner: int) -> list[Wall]:
    """Both walls of a stage."""
    return [Wall(low, high, side, half, owner) for side in (1, -1)]


def faces(*at: float, half: float = 22.0, owner: int = 6) -> list[Cap]:
    return [Cap(t, half, owner) for t in at]


def profile(walls: list[list[Wall]], caps: list[Cap], layers=("0",) * 7) -> Profile:
    return Profile(tuple(caps), tuple(w for pair in walls for w in pair), layers)


def shared(drawn: Profile, blades: float, reach=(440.0, 520.0)):
    """The ends, where the blades come up to `blades` and the main tubes join within `reach`."""
    view = SimpleNamespace(curves_of=lambda strokes: [2])
    lab = SimpleNamespace(
        members={"head_tube": SimpleNamespace(tube=object())},
        reading=SimpleNamespace(view=view),
        fork=SimpleNamespace(kind="edges", strokes=(7,), bents=()),
    )
    middle = sum(reach) / 2
    uppers = _ends(drawn, middle, 22.0, True)
    lowers = [t for t in _ends(drawn, middle, 22.0, False) if t >= blades - 1.5]
    return _Shares(lab, drawn, 22.0, uppers, lowers, reach, blades, None).best()


def test_ends_are_found_nearest_first_until_nothing_goes_on():
    drawn = profile(
        [stage(*BODY, 22.0, 0), stage(388.0, 400.0, 26.0, 3), stage(300.0, 350.0, 30.0, 4)],
        faces(*BODY, 388.0, 300.0, 350.0),
    )
    assert _ends(drawn, 480.0, 22.0, up=False) == [400.0, 388.0]
    assert _ends(drawn, 480.0, 22.0, up=True) == [560.0]
    # what a wall runs past is no end, whatever line crosses it there
    crossed = profile([stage(*BODY, 22.0, 0)], faces(*BODY, 450.0))
    assert _ends(crossed, 480.0, 22.0, up=False) == [400.0]


def test_without_anything_beside_it_the_body_is_the_head_tube():
    ends = shared(profile([stage(*BODY, 22.0, 0)], faces(*BODY)), blades=400.0)
    assert (ends.low, ends.high, ends.crown) == (400.0, 560.0, 400.0)
    assert ends.parts == ()
    assert ends.doubts == ()


def test_a_wider_cup_below_is_the_headset_s():
    drawn = profile(
        [stage(*BODY, 22.0, 0), stage(388.0, 400.0, 26.0, 3)], faces(*BODY, 388.0), LAYERS
    )
    ends = shared(drawn, blades=388.0)
    assert (ends.low, ends.high, ends.crown) == (400.0, 560.0, 388.0)
    assert [part for _, part in ends.parts] == ["headset"]
    assert ends.doubts == ()


def test_a_box_on_the_blades_is_the_crown_and_the_race_its_upper_face():
    drawn = profile(
        [stage(*BODY, 22.0, 0), stage(376.0, 400.0, 25.0, 2)],
        faces(*BODY) + faces(376.0, half=25.0, owner=2),
        LAYERS,
    )
    ends = shared(drawn, blades=376.0)
    assert (ends.low, ends.crown) == (400.0, 400.0)
    assert ends.crown_height == pytest.approx(24.0)
    assert ends.doubts == ()


def test_a_part_that_hangs_below_a_gap_is_the_crown():
    drawn = profile(
        [stage(*BODY, 22.0, 0), stage(366.0, 388.0, 25.0, 3)], faces(*BODY, 366.0, 388.0)
    )
    ends = shared(drawn, blades=366.0)
    assert (ends.low, ends.crown) == (400.0, 388.0)
    assert ends.crown_height == pytest.approx(22.0)
    # even a low one, which alone would pass for a spacer
    low = profile([stage(*BODY, 22.0, 0), stage(390.0, 395.0, 25.0, 3)], faces(*BODY, 390.0, 395.0))
    assert shared(low, blades=390.0).crown == 395.0


@pytest.mark.parametrize(
    ("lower", "paired"), [(10.0, True), (10.4, True), (10.6, False), (14.0, False)]
)
def test_rings_of_one_height_at_both_ends_belong_to_the_head_tube(lower, paired):
    """Within a twentieth of their height: rings are turned in pairs (common practice, no source)."""
    drawn = profile(
        [
            stage(*BODY, 22.0, 0),
            stage(560.0, 570.0, 25.0, 3),
            stage(400.0 - lower, 400.0, 25.0, 4),
            stage(400.0 - lower - 12.0, 400.0 - lower, 27.0, 5),
        ],
        faces(*BODY, 570.0, 400.0 - lower, 400.0 - lower - 12.0, half=25.0),
    )
    ends = shared(drawn, blades=400.0 - lower - 12.0)
    parts = [part for _, part in ends.parts]
    assert parts.count("head_tube") == (2 if paired else 0)
    taken = (ends.low, ends.high)
    assert (taken == pytest.approx((400.0 - lower, 570.0))) is paired


def test_no_end_is_taken_that_a_tube_joins_beyond():
    """A down tube that joins below the body's lower face: the head tube goes on."""
    drawn = profile([stage(*BODY, 22.0, 0), stage(380.0, 400.0, 25.0, 3)], faces(*BODY, 380.0))
    ends = shared(drawn, blades=380.0, reach=(392.0, 520.0))
    assert ends.low == 380.0


def test_a_line_across_that_nothing_joins_to_the_blades_is_hardly_a_race():
    drawn = profile([stage(*BODY, 22.0, 0)], faces(*BODY, 388.0))
    ends = shared(drawn, blades=376.0)
    told = " ".join(doubt.said for doubt in ends.doubts)
    assert ends.crown in (376.0, 388.0)
    assert "12 mm" in told


def test_a_line_across_on_the_fork_s_layer_is_the_race_and_its_part_is_drawn_by_it():
    drawn = profile([stage(*BODY, 22.0, 0)], faces(*BODY) + faces(388.0, owner=2), LAYERS)
    ends = shared(drawn, blades=376.0)
    assert ends.crown == 388.0
    (crown,) = [part for part, name in ends.parts if name == "fork"]
    assert crown.owners == (2,)


@pytest.mark.parametrize("nodes", [(440.0, 520.0), (520.0, 440.0), (480.0,), (), (90.0, 900.0)])
def test_ends_are_looked_for_from_where_the_main_tubes_join(nodes, monkeypatch):
    """Below the lower tube and above the upper one; from the middle where none joins the head tube."""
    body = [stage(*BODY, 22.0, 0), stage(388.0, 400.0, 26.0, 3), stage(560.0, 575.0, 27.0, 4)]
    drawn = profile(body, faces(*BODY, 388.0, 575.0), LAYERS)
    monkeypatch.setattr(steering, "profile_of", lambda *_: drawn)
    evidence = SimpleNamespace(named=lambda _: set(), claimed=lambda _: False)
    view = SimpleNamespace(curves_of=lambda strokes: [2], evidence=evidence)
    tube = Candidate((0.0, 400.0), (0.0, 560.0), (0, 1), diameter=44.0)
    lab = SimpleNamespace(
        members={"head_tube": SimpleNamespace(tube=tube, line=tube)},
        reading=SimpleNamespace(view=view),
        fork=SimpleNamespace(kind="edges", strokes=(7,), bents=()),
    )
    monkeypatch.setattr(steering, "_centre_line", lambda *_: None)
    axis = Candidate((0.0, 0.0), (0.0, 800.0))
    ends = settle_ends(lab, axis, 403.0, 556.0, 388.0, nodes)
    assert (ends.low, ends.high, ends.crown) == (400.0, 560.0, 388.0)
    # a picked head tube ends where its lines do
    evidence.claimed = lambda name: name == "head_tube"
    picked = settle_ends(lab, axis, 405.0, 555.0, 388.0, nodes)
    assert (picked.low, picked.high) == (405.0, 555.0)


@pytest.mark.parametrize(("apart", "stations"), [(0.6, 2), (1.0, 3)])
def test_faces_nearer_than_a_slip_are_one_station(apart, stations):
    """A tube's face and the next part's, drawn by eye at one place; from 1 mm on they are two."""
    caps = [*faces(0.0, apart), *faces(-13.0, half=25.0)]
    drawn = profile([stage(apart, 100.0, 22.0, 0), stage(-13.0, 0.0, 25.0, 1)], caps)
    assert len(_ends(drawn, 50.0, 22.0, up=False)) == stations
