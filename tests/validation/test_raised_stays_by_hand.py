"""Raised chainstays and a curved low tube against what is not droptrail's own.

The raised frame is set up a second time in PyNite, a general frame library: coordinates by trigonometry from the
numbers of the starter sheet, tubes as their own cylinders, none of it through layout or mesh. The curved tube is held
at one end and pushed at the other: Castigliano's theorem on a ring segment (Timoshenko, Strength of Materials, part I;
from memory), integrated here by Gauss's rule.
"""

from dataclasses import replace
from math import asin, cos

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions
from droptrail.model.mechanics.frame_model import FrameModel, LoadCase
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.tube import Tube
from droptrail.model.vibration.bare import bare_model
from helpers_by_hand import (
    SIDES,
    SIDEWAYS,
    STEEL,
    HandFrame,
    Starter,
    assert_moves_as,
    our_push,
    ring,
)
from Pynite import FEModel3D

# Outside diameter and wall, mm, of plain tubes, and how the tube table calls them.
TUBES = {
    "head_tube": (36.0, 1.1),
    "top_tube": (28.6, 0.8),
    "down_tube": (31.8, 0.8),
    "seat_tube": (28.6, 0.8),
    "chainstay": (19.0, 0.8),
    "seatstay": (16.0, 0.8),
}
RAISED = 140.0  # mm up the seat tube
APART = 30.0


def ours() -> FrameModel:
    starter = plan_starter(PLANS["raised_chainstays"])
    plain = {name: Tube(STEEL, od, od, (wall,)) for name, (od, wall) in TUBES.items()}
    placing = {
        "chainstay_on_seat_tube": RAISED,
        "raised_stay_spacing": APART,
        "raised_stay_bow": 0.0,
    }
    bicycle = replace(starter, tubes={**starter.tubes, **plain}, placing=placing)
    return bare_model(bicycle, ("frame",), MeshOptions(shear=False, bridges=False))


def by_hand() -> FEModel3D:
    typed = Starter.typed()
    top = typed.top
    places = {
        "top": top,
        "tt head": top - 35.0 * typed.up,
        "dt head": top - 120.0 * typed.up,
        "bottom": top - 160.0 * typed.up,
        "bb": np.zeros(3),
        "raised": RAISED * typed.seat_up,
        "stay": 515.0 * typed.seat_up,
        "tt seat": 530.0 * typed.seat_up,
        "seat top": 560.0 * typed.seat_up,
    }
    for side, sign in SIDES:
        places[f"raised{side}"] = places["raised"] + APART / 2 * sign * SIDEWAYS
        places[f"stay{side}"] = places["stay"] + 15.0 * sign * SIDEWAYS
        places[f"drop{side}"] = typed.axle() + 67.5 * sign * SIDEWAYS
    made = HandFrame(places, TUBES)
    made.bar("head_tube", "top", "tt head", "dt head", "bottom")
    made.bar("top_tube", "tt seat", "tt head")
    made.bar("down_tube", "bb", "dt head")
    made.bar("seat_tube", "bb", "raised", "stay", "tt seat", "seat top")
    for side in "RL":
        made.bar("arm", "raised", f"raised{side}")
        made.bar("arm", "stay", f"stay{side}")
        made.bar("chainstay", f"raised{side}", f"drop{side}")
        made.bar("seatstay", f"stay{side}", f"drop{side}")
    return made.pushed()


def test_a_frame_with_raised_stays_moves_as_the_one_made_by_hand() -> None:
    names = {
        "top": "head_tube_top",
        "bb": "bottom_bracket",
        "seat top": "seat_tube_top",
        "raised": "chainstay_on_seat_tube",
    }
    # stiffer arms lose more to rounding in the other program than these give
    assert_moves_as(our_push(ours()), by_hand(), names, share=2e-6)


# --- a curved low tube -------------------------------------------------------------------------------------------
SAGITTA = -60.0


def ring_end(
    chord: float, sagitta: float, section: tuple[float, ...], force: np.ndarray
) -> np.ndarray:
    """How the free end of an arc moves in its own plane (along the chord, square to it) under a force there, the other
    end held: bending and stretch of every piece of the arc."""
    area, inertia = section[:2]
    radius = (chord**2 / 4 + sagitta**2) / (2 * abs(sagitta))
    half = asin(chord / (2 * radius))
    at, weight = np.polynomial.legendre.leggauss(40)
    angle = half * at
    side = np.sign(sagitta)
    place = np.column_stack(
        [chord / 2 + radius * np.sin(angle), side * radius * (np.cos(angle) - cos(half))]
    )
    tangent = np.column_stack([np.cos(angle), -side * np.sin(angle)])
    arm = np.array([chord, 0.0]) - place
    give = np.zeros((2, 2))
    for k in range(len(at)):
        # moment and pull of a unit force along and across
        moment = np.array([-arm[k, 1], arm[k, 0]])
        give += (
            weight[k]
            * half
            * radius
            * (
                np.outer(moment, moment) / (STEEL.E * inertia)
                + np.outer(tangent[k], tangent[k]) / (STEEL.E * area)
            )
        )
    return np.asarray(give @ force)


def test_a_curved_low_tube_gives_as_a_ring_segment() -> None:
    starter = plan_starter(PLANS["step_through"])
    od, wall = 31.8, 0.9
    bicycle = replace(
        starter,
        tubes={**starter.tubes, "top_tube": Tube(STEEL, od, od, (wall,))},
        placing={**starter.placing, "top_tube_sagitta": SAGITTA},
    )
    whole = bare_model(bicycle, ("frame",), MeshOptions(shear=False, element_length=5.0))
    (member,) = [m for m in lay_out(bicycle).members if m.name == "top_tube"]
    elements = tuple(e for e in whole.elements if e.id.startswith("top_tube"))
    joined = {node for e in elements for node in (e.i, e.j)}
    alone = FrameModel({n: xyz for n, xyz in whole.nodes.items() if n in joined}, elements)
    start, end = (np.array(member.path[k]) for k in (0, -1))
    chord = float(np.hypot(*(end - start)[:2]))
    u = (end - start)[:2] / chord
    normal = np.array([-u[1], u[0]])
    force = np.array([80.0, -200.0])
    push = force[0] * u + force[1] * normal
    case = LoadCase(
        "end",
        {member.end: (push[0], push[1], 0.0, 0.0, 0.0, 0.0)},
        supports={member.start: (1,) * 6},
    )
    moved = np.array(solve(alone, [case])["end"].displacement(member.end)[:2])
    # the normal points up, and the tube bows down
    expected = ring_end(chord, SAGITTA, ring(od, wall), force)
    found = np.array([moved @ u, moved @ normal])
    # chords inside the arc: 3e-5 short, 0.2 % of the give at most
    assert found == pytest.approx(expected, rel=2e-3)
    straight = force[1] * chord**3 / (3 * STEEL.E * ring(od, wall)[1])
    assert abs(expected[1] - straight) > 0.01 * abs(straight)
