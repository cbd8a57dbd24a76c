"""What every tube of every plan weighs and where: an integral of its own along the centre-line as drawn.

The ring of a tube's wall is pi (d - t) t (any handbook). Diameter and wall are read here from the sizes of the tube
table, straight lines between the places where they change; the centre-line is a smooth curve through the points of the
layout, so nothing of the mesh's pieces is used.
"""

from dataclasses import replace

import numpy as np
import pytest
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.layout import Member, lay_out
from droptrail.model.frame.mesh import mesh
from droptrail.model.frame.tube_mass import mass_table
from droptrail.model.tubes.tube import Tube
from helpers_plans import samples_and_plans
from scipy.integrate import quad_vec
from scipy.interpolate import CubicSpline

pytestmark = pytest.mark.slow

FRAMES = samples_and_plans()


def breaks(tube: Tube, length: float) -> tuple[list[float], list[float]]:
    """Where the wall changes, and how thick it is there."""
    if not tube.butts:
        return [0.0, length], [tube.walls[0]] * 2
    tapers = tube.tapers or (1e-6,) * len(tube.butts)
    at = [0.0, tube.butts[0], tube.butts[0] + tapers[0]]
    wall = [tube.walls[0], tube.walls[0], tube.walls[1]]
    if len(tube.butts) == 2:
        at += [length - tube.butts[1] - tapers[1], length - tube.butts[1]]
        wall += [tube.walls[1], tube.walls[2]]
    return [*at, length], [*wall, wall[-1]]


def by_integral(tube: Tube, member: Member) -> np.ndarray:
    """(mass in kg, mass times x, y, z) of one tube."""
    path = np.array(member.path)
    if len(path) == 2:
        along = np.array([0.0, 1.0])
        line = CubicSpline(along, path, bc_type="natural")
    else:
        along = np.linspace(0.0, 1.0, len(path))
        line = CubicSpline(along, path)
    # arc length over the curve's own parameter, finely
    fine = np.linspace(0.0, 1.0, 4001)
    speed = np.linalg.norm(line(fine, 1), axis=1)
    run = np.concatenate([[0.0], np.cumsum((speed[1:] + speed[:-1]) / 2 * np.diff(fine))])
    length = float(run[-1])
    at, walls = breaks(tube, length)
    first, last = tube.straight

    def per_mm(s: float) -> np.ndarray:
        share = np.clip((s - first) / (length - first - last), 0.0, 1.0)
        d = tube.od_start + (tube.od_end - tube.od_start) * share
        t = np.interp(s, at, walls)
        kg = 1000 * tube.material.rho * np.pi * (d - t) * t
        place = line(np.interp(s, run, fine))
        return kg * np.array([1.0, *place])

    places = sorted({*at, first, length - last})
    return quad_vec(per_mm, 0.0, length, points=places, epsabs=1e-10, epsrel=1e-9)[0]


def round_ones(bicycle: Bicycle) -> list[str]:
    return [name for name, tube in bicycle.tubes.items() if tube.oval_width is None]


@pytest.mark.parametrize("name", FRAMES)
def test_every_tube_weighs_its_integral_and_where_it_says(name: str) -> None:
    bicycle = replace(FRAMES[name], parts={})
    layout = lay_out(bicycle)
    found = mass_table(mesh(bicycle, layout=layout), layout).by_tube
    seen = 0
    for tube in round_ones(bicycle):
        members = [member for member in layout.members if member.tube == tube]
        kg, *moment = sum(by_integral(bicycle.tubes[tube], member) for member in members)
        # chords of the drawn curve are a little shorter than it; walls that taper are cut in four
        assert found[tube].kg == pytest.approx(kg, rel=3e-4), tube
        assert found[tube].centre == pytest.approx(np.array(moment) / kg, abs=0.15), tube
        seen += 1
    assert seen >= 7
