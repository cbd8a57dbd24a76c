"""How a builder says the name of a member, joint or dimension that the program writes with underscores."""

_SAID = {
    "front_center": "front centre", "front_center_horizontal": "front centre, horizontal",
    "top_tube_slope_deg": "top tube slope", "top_tube_cc": "top tube, centre to centre",
    "down_tube_cc": "down tube, centre to centre", "seatstay_cc": "seatstay, centre to centre",
    "bb_height": "BB height", "bb_drop": "BB drop", "bb_shell": "BB shell",
    "ground_y": "ground, from BB centre upwards",
    "standover": "standover, to the top tube's centre line",
    "seat_tube_top_tube_node": "joint of seat and top tube",
    "seat_tube_seatstay_node": "joint of seat tube and seatstays",
    "top_tube_head_node": "joint of top and head tube",
    "down_tube_head_node": "joint of down and head tube",
}


def spoken(key: str) -> str:
    """``down_tube_head_node`` becomes ``joint of down and head tube``, ``seat_tube`` becomes ``seat tube``."""
    return _SAID.get(key) or key.replace("_", " ")
