"""Side views whose numbers were worked out outside this project, and strategies for random ones."""

import json
from pathlib import Path

from droptrail.model.geometry.dimensions import FrameDimensions
from droptrail.model.geometry.statements import CORE
from hypothesis import strategies as st

# Eleven invented frames; `derived` was written by the program that made the sample drawings, not by droptrail.
TRUTH = json.loads((Path(__file__).parent / "data" / "side_view_truth.json").read_text())
_NAMES = {
    "st_top": "seat_tube",
    "tt_on_st": "top_tube_on_seat_tube",
    "tt_below_ht_top": "top_tube_below_head_top",
    "dt_above_ht_bottom": "down_tube_above_head_bottom",
    "ss_below_tt": "seatstay_below_top_tube",
}


def truth_statements(key: str) -> dict[str, float]:
    """Every number of one truth set, by droptrail's names."""
    entry = TRUTH[key]
    params = {_NAMES.get(k, k): float(v) for k, v in entry["params"].items() if k != "name"}
    return params | {
        k: float(v) for k, v in entry["derived"].items() if k not in ("reach", "ground_y")
    }


def truth_dimensions(key: str) -> FrameDimensions:
    statements = truth_statements(key)
    return FrameDimensions(**{k: statements[k] for k in (*CORE, *_NAMES.values())})


def _between(low: float, high: float) -> st.SearchStrategy[float]:
    return st.floats(low, high, allow_nan=False, width=64)


# Ordinary frames, from a small 24-inch one to a tall tourer; the top tube always meets the head tube.
frames = st.builds(
    FrameDimensions,
    reach=_between(320, 480),
    head_angle=_between(66, 75),
    seat_angle=_between(69, 77),
    bb_drop=_between(20, 85),
    chainstay=_between(400, 480),
    head_tube=_between(95, 240),
    lower_stack=_between(0.5, 20),
    fork_length=_between(340, 460),
    fork_offset=_between(35, 70),
    wheel_radius_front=_between(280, 370),
    wheel_radius_rear=_between(280, 370),
    seat_tube=_between(500, 600),
    top_tube_on_seat_tube=_between(380, 490),
    top_tube_below_head_top=_between(20, 40),
    down_tube_above_head_bottom=_between(20, 45),
    seatstay_below_top_tube=_between(0, 40),
)
