"""How a builder says the name of a member, joint or dimension that the program writes with underscores."""

_JOINTS = {
    "seat_tube_top_tube_node": "joint of seat and top tube",
    "seat_tube_seatstay_node": "joint of seat tube and seatstays",
    "top_tube_head_node": "joint of top and head tube",
    "down_tube_head_node": "joint of down and head tube",
}


def spoken(key: str) -> str:
    """``down_tube_head_node`` becomes ``joint of down and head tube``, ``seat_tube`` becomes ``seat tube``."""
    return _JOINTS.get(key) or key.replace("_", " ")
