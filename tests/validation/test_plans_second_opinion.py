"""Every known plan, and tubes of a builder's own, solved by OpenSees from the exported model; and a mixte made by hand.

The mixte is set up a second time in PyNite, a general frame library: coordinates by trigonometry from the sizes of the
sheet, tubes as their own cylinders, none of it through layout or mesh.
"""

import json
from dataclasses import replace
from math import hypot
from pathlib import Path

import numpy as np
import pytest
from droptrail.converters.files.fitsheet.starter import plan_starter
from droptrail.converters.files.model_file.read_model import read_model
from droptrail.converters.files.model_file.write_model import write_model
from droptrail.model.cases.library import load_cases
from droptrail.model.frame.bicycle import Bicycle
from droptrail.model.frame.layout import lay_out
from droptrail.model.frame.mesh import MeshOptions, mesh
from droptrail.model.mechanics.solve import solve
from droptrail.model.tubes.known_plans import PLANS
from droptrail.model.tubes.tube import Tube
from droptrail.model.vibration.bare import bare_model
from droptrail.validation.opensees.agreement import cross_check
from helpers_by_hand import SIDES, SIDEWAYS, STEEL, HandFrame, Starter, assert_moves_as, our_push
from helpers_plans import BICYCLES
from Pynite import FEModel3D


@pytest.mark.parametrize("name", BICYCLES)
def test_the_exported_model_is_solved_alike_by_opensees(name: str, tmp_path: Path) -> None:
    bicycle = BICYCLES[name]
    layout = lay_out(bicycle)
    cases = load_cases(bicycle, layout)
    written = write_model(mesh(bicycle, layout=layout), cases)
    (tmp_path / "model.json").write_text(json.dumps(written), encoding="utf-8")
    results = solve(*read_model(tmp_path / "model.json"))
    assert len(results) == len(cases)
    for check in cross_check(results).values():
        assert check.largest is not None, check.reason
        assert check.largest < 1e-8


# --- the mixte by hand ------------------------------------------------------------------------------------------
OD = {
    "head": 36.0,
    "down": 31.8,
    "seat": 28.6,
    "chainstay": 19.0,
    "seatstay": 16.0,
    "lateral": 16.0,
    "cross": 16.0,
}
WALL = {"head": 1.1, "down": 0.8, "seat": 0.8, "chainstay": 0.8, "seatstay": 0.8, "lateral": 0.8}
ENTRY = {"head": "head_tube", "down": "down_tube", "seat": "seat_tube", "cross": "cross_piece"}


def tube(name: str) -> Tube:
    return Tube(STEEL, OD[name], OD[name], (WALL.get(name, 1.0),))


def mixte() -> Bicycle:
    starter = plan_starter(PLANS["mixte"])
    tubes = {ENTRY.get(name, name): tube(name) for name in OD}
    return replace(starter, tubes={**starter.tubes, **tubes})


def by_hand() -> FEModel3D:
    bicycle = mixte()
    assert bicycle.dimensions.wheel_radius_rear == bicycle.dimensions.wheel_radius_front
    typed = Starter.typed()
    top = typed.top
    n = {
        "top": top,
        "lat": top - 60.0 * typed.up,
        "down": top - 120.0 * typed.up,
        "bottom": top - 160.0 * typed.up,
        "bb": np.zeros(3),
        "stay": 520.0 * typed.seat_up,
        "seat top": 560.0 * typed.seat_up,
    }
    for side, sign in SIDES:
        n[f"lat{side}"] = n["lat"] + 20.0 * sign * SIDEWAYS
        n[f"stay{side}"] = n["stay"] + 15.0 * sign * SIDEWAYS
        n[f"shell{side}"] = 22.0 * sign * SIDEWAYS
        n[f"drop{side}"] = typed.axle() + 67.5 * sign * SIDEWAYS
    # where the line from head tube to dropout passes the seat tube in the side view
    way = n["dropR"] - n["latR"]
    share, far = np.linalg.solve(np.column_stack([way[:2], -typed.seat_up[:2]]), -n["latR"][:2])
    n["cross"] = far * typed.seat_up
    n["crossR"] = n["latR"] + share * way
    n["crossL"] = n["crossR"] * [1, 1, -1]
    made = HandFrame(n, {name: (od, WALL.get(name, 1.0)) for name, od in OD.items()})
    made.bar("head", "top", "lat", "down", "bottom")
    made.bar("down", "bb", "down")
    made.bar("seat", "bb", "cross", "stay", "seat top")
    made.bar("shell", "shellL", "bb", "shellR")
    for side in "RL":
        made.bar("arm", "lat", f"lat{side}")
        made.bar("arm", "stay", f"stay{side}")
        made.bar("lateral", f"lat{side}", f"cross{side}", f"drop{side}")
        made.bar("cross", "cross", f"cross{side}")
        made.bar("seatstay", f"stay{side}", f"drop{side}")
        made.bar("chainstay", f"shell{side}", f"drop{side}")
    return made.pushed()


def test_a_mixte_moves_as_the_one_made_by_hand() -> None:
    ours = bare_model(mixte(), ("frame",), MeshOptions(shear=False, bridges=False))
    names = {
        "top": "head_tube_top",
        "bb": "bottom_bracket",
        "seat top": "seat_tube_top",
        "crossR": "cross_piece_on_lateral_right",
        "crossL": "cross_piece_on_lateral_left",
    }
    # stiffer arms lose more to rounding in the other program than these give
    assert_moves_as(our_push(ours), by_hand(), names, share=1e-6)


# --- a tandem by hand -------------------------------------------------------------------------------------------
TANDEM = {
    "head_tube": (44.0, 1.5),
    "top_tube": (34.9, 0.9),
    "down_tube": (38.1, 0.9),
    "seat_tube": (34.9, 0.9),
    "boom_tube": (38.1, 1.2),
    "stoker_seat_tube": (31.8, 0.9),
    "stoker_top_tube": (31.8, 0.8),
    "lateral": (31.8, 0.8),
    "front_lateral": (28.6, 0.8),
    "chainstay": (20.0, 1.0),
    "seatstay": (16.0, 0.9),
}


def tandem() -> Bicycle:
    starter = plan_starter(PLANS["tandem"])
    # seatstays to the axis of their seat tube: the other program has no rigid arms
    starter = replace(starter, fittings=replace(starter.fittings, seatstay_spacing=0.0))
    tubes = {name: Tube(STEEL, od, od, (wall,)) for name, (od, wall) in TANDEM.items()}
    return replace(starter, tubes={**starter.tubes, **tubes})


def tandem_by_hand() -> FEModel3D:
    """Boom 690, chainstay 450 from the stoker's bracket."""
    typed = Starter.typed()
    top = typed.top
    stoker = np.array([-690.0, 0.0, 0.0])
    stoker_long = hypot(150.0, 477.0)
    stoker_up = np.array([-150.0, 477.0, 0.0]) / stoker_long
    n = {
        "top": top,
        "tt": top - 35.0 * typed.up,
        "dt": top - 120.0 * typed.up,
        "bottom": top - 160.0 * typed.up,
        "bb": np.zeros(3),
        "lat": 210.0 * typed.seat_up,
        "stt": 490.0 * typed.seat_up,
        "seat": 530.0 * typed.seat_up,
        "seat top": 560.0 * typed.seat_up,
        "S": stoker,
        "S stt": stoker + 460.0 * stoker_up,
        "stay": stoker + (stoker_long - 25.0) * stoker_up,
        "S top": stoker + stoker_long * stoker_up,
    }
    for side, sign in SIDES:
        n[f"foot{side}"] = stoker + 22.75 * sign * SIDEWAYS
        n[f"drop{side}"] = typed.axle(-690.0) + 72.5 * sign * SIDEWAYS
    made = HandFrame(n, TANDEM)
    made.bar("head_tube", "top", "tt", "dt", "bottom")
    made.bar("top_tube", "seat", "tt")
    made.bar("down_tube", "bb", "dt")
    made.bar("seat_tube", "bb", "lat", "stt", "seat", "seat top")
    made.bar("boom_tube", "bb", "S")
    made.bar("stoker_seat_tube", "S", "S stt", "stay", "S top")
    made.bar("stoker_top_tube", "S stt", "stt")
    made.bar("lateral", "S", "lat")
    made.bar("front_lateral", "lat", "dt")
    made.bar("shell", "footL", "S", "footR")
    for side in "RL":
        made.bar("seatstay", "stay", f"drop{side}")
        made.bar("chainstay", f"foot{side}", f"drop{side}")
    # both riders' feet
    return made.pushed(("bb", "FY", -500.0), ("S", "FY", -400.0), ("S", "MX", -60_000.0))


def test_a_tandem_moves_as_the_one_made_by_hand() -> None:
    ours = bare_model(tandem(), ("frame",), MeshOptions(shear=False, bridges=False))
    feet = {
        "bottom_bracket": (0.0, -500.0, 0.0, 0.0, 0.0, 0.0),
        "stoker_bracket": (0.0, -400.0, 0.0, -60_000.0, 0.0, 0.0),
    }
    names = {
        "top": "head_tube_top",
        "bb": "bottom_bracket",
        "S": "stoker_bracket",
        "footR": "stoker_stay_foot_right",
        "seat top": "seat_tube_top",
        "S top": "stoker_seat_top",
        "stay": "seat_tube_seatstay_node",
    }
    assert_moves_as(our_push(ours, feet), tandem_by_hand(), names, share=1e-9)
