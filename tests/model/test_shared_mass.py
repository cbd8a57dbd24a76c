"""Where the tubes' mass moves: against the mass table, halves by hand, and point masses, on every plan."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.inputs import read_input
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.riding import settled_riding
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.stability import shared_mass
from droptrail.model.stability.axes import road_axes
from droptrail.model.stability.hands import SetUp
from droptrail.model.stability.shared_mass import FORK_PARTS, tube_pieces
from helpers_bicycle import tourer

SAMPLES = Path(__file__).parents[2] / "sample_drawings"
NAMES = sorted(path.stem for path in SAMPLES.glob("*.dxf"))
LUMPED = (
    "seat_post",
    "bar",
    "stem",
    "front_hub",
    "rear_hub",
)  # weighed with saddle, bar and wheels


def sample(name: str):
    return read_input(SAMPLES / f"{name}.csv").need_bicycle()


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("joints", ["rigid", "bare"])
def test_together_they_weigh_and_lie_as_the_mass_table_says(name: str, joints: str) -> None:
    bicycle = sample(name).joined(joints)
    layout = lay_out(bicycle)
    table = mass_table(mesh(bicycle, layout=layout), layout)
    apart = (*bicycle.plan.parts_like(LUMPED), *FORK_PARTS)
    parts = [mass for part, mass in table.parts.items() if part not in apart]
    fork = [mass for part, mass in table.parts.items() if part in FORK_PARTS]
    pieces = tube_pieces(bicycle)
    behind = [place for rider in bicycle.plan.followers for place in (rider.saddle, rider.bracket)]
    groups = {
        ("saddle", "pedals", "rear", "head", *behind): [table.frame, *parts],
        ("steer", "fork"): [table.fork, *fork],
    }
    if bicycle.suspension is not None:
        del groups["steer", "fork"]
    for places, expected in groups.items():
        mine = [body for place, body in pieces if place in places]
        kilograms = sum(mass.kg for mass in expected)
        assert sum(body.mass for body in mine) == pytest.approx(kilograms, rel=1e-9)
        x, y = (sum(m.kg * m.centre[k] for m in expected) / kilograms for k in (0, 1))
        at = road_axes(bicycle.dimensions, x, y)
        for k, way in enumerate(("x", "z")):
            got = sum(body.mass * getattr(body, way) for body in mine) / kilograms
            assert got == pytest.approx(at[k], abs=1e-6)
    assert {place for place, _ in pieces} == {place for places in groups for place in places}


def test_tubes_of_a_diamond_are_cut_in_their_middle() -> None:
    """One tube of ten times the density, the rest of next to nothing: half of it with each of its ends, by hand."""
    bicycle = tourer()
    layout = lay_out(bicycle)
    model = mesh(bicycle, layout=layout)
    ends = {
        "down_tube": {"head", "pedals"},
        "top_tube": {"head", "saddle"},
        "seat_tube": {"saddle", "pedals"},
        "chainstay_left": {"pedals", "rear"},
        "seatstay_right": {"saddle", "rear"},
    }
    for member, places in ends.items():
        elements = []
        for element in model.elements:
            light = replace(element.material, rho=element.material.rho * 1e-9)
            if element.member == member:
                elements.append(element)
            else:
                elements.append(replace(element, material=light))
        alone = replace(model, elements=tuple(elements))
        whole = sum(body.mass for _, body in tube_pieces(bicycle, alone))
        shares = {place: body.mass / whole for place, body in tube_pieces(bicycle, alone)}
        heavy = {place for place, share in shares.items() if share > 0.01}
        assert heavy == places, member
        # not quite halves: tubes are butted, and run past the place where the next one begins
        assert all(0.3 < shares[place] < 0.7 for place in places), member


def test_a_mixtes_laterals_swing_with_head_and_rear_axle() -> None:
    """What no diamond has: a thicker wall of the laterals weighs on head and rear axle, and not on the pedals."""
    bicycle = sample("mixte_700c")
    lateral = bicycle.tubes["lateral"]
    doubled = replace(bicycle, tubes={**bicycle.tubes, "lateral": lateral.scaled(0.0, 1.0)})
    more = {}
    for place, body in tube_pieces(doubled):
        more[place] = body.mass - dict(tube_pieces(bicycle))[place].mass
    assert more["head"] > 0.05
    assert more["rear"] > 0.05
    assert more["pedals"] == pytest.approx(0.0, abs=1e-9)


def test_inertia_is_that_of_point_masses_in_space() -> None:
    """Every element of the fork blades and stays as ninety points, out of the middle plane as they are."""
    bicycle = sample("gravel_700c")
    model = mesh(bicycle)
    pieces = dict(tube_pieces(bicycle, model))
    body = pieces["rear"]
    nearest = shared_mass._nearest
    layout = lay_out(bicycle)
    mine = np.flatnonzero(
        ~shared_mass._of_fork(model, layout) & ~shared_mass._beside(model, layout)
    )
    places = shared_mass._frame_places(layout)
    found = nearest(model, mine, list(places.values()), shared_mass.APART)
    own = mine[found == list(places).index("rear")]
    steps = (np.arange(90) + 0.5) / 90
    points = []
    masses = []
    for k in own:
        one, other = model.xyz[model.ends[k]]
        kilograms = 1000 * float(shared_mass.element_masses(model)[0][k])
        for step in steps:
            x, y, z = one + step * (other - one)
            points.append((*road_axes(bicycle.dimensions, x, y), z / 1000))
            masses.append(kilograms / 90)
    at = np.array(points)
    m = np.array(masses)
    centre = m @ at / m.sum()
    x, z, aside = (at - centre * np.array([1, 1, 0])).T
    assert body.Ixx == pytest.approx(m @ (z**2 + aside**2), rel=1e-3)
    assert body.Izz == pytest.approx(m @ (x**2 + aside**2), rel=1e-3)
    assert body.Ixz == pytest.approx(-(m @ (x * z)), rel=1e-3)
    assert m @ aside**2 > 0.1 * body.Izz


def test_the_wobble_weighs_a_frame_of_heavier_tubes_more() -> None:
    bicycle = tourer()
    thick = replace(
        bicycle, tubes={**bicycle.tubes, "down_tube": bicycle.tubes["down_tube"].scaled(0.0, 1.0)}
    )
    weights = []
    for one in (bicycle, thick):
        model = SetUp.of(one).model({**settled_riding({})}).model
        weights.append(sum(body.mass for body in model.bodies))
    more = (mass_table(mesh(thick), lay_out(thick)).frame.kg) - (
        mass_table(mesh(bicycle), lay_out(bicycle)).frame.kg
    )
    assert weights[1] - weights[0] == pytest.approx(more, rel=1e-6)
    assert more > 0.2
