"""Words in a note that say how a number was measured: between which points, along what, how a diameter is meant.

A note is free text; only these words are heeded. Each item has some that agree with it (`AGREES`); any other one means
that a different thing was measured.
"""

import re
from collections.abc import Iterator, Mapping

from .values import plain

# Convention -> how it is written in the five languages of the names.
_WRITTEN = {
    "horizontal": r"\bhorizontal\w*|\borizzontal\w*|\bwaage?recht\w*|\blevel\b|\balong the ground\b",
    "from the vertical": r"\bfrom (?:the )?vertical\b|\bzur senkrechten\b",
    "vertical": r"\bvertical\w*|\bverticale?\b|\bsenkrecht\w*|\bverticaal\b",
    "effective": r"\beffective\b|\beff\b|\bvirtual\b|\beffekti\w+|\bvirtuell?\w*|\beffettiv\w+|\bvirtuale\b"
    r"|\beffectie\w+",
    "straight": r"\bstraight\b|\bdirect\b|\bdirekt\b|\bgerade\b|\bdiretto\b|\bdirecte?\b",
    "along axis": r"\balong (?:the )?(?:steering )?axis\b|\b(?:entlang|längs) der (?:lenk|steuer)?achse\b",
    "actual": r"\bactual\b|\btatsächlich\w*|\bréele?\b|\breale\b",
    "centre to centre": r"\bcent(?:re|er) to cent(?:re|er)\b(?!-line)|\bc-c\b|\bmitte[- ]mitte\b|\bm-m\b|\baxe-axe\b"
    r"|\bcentro-centro\b|\bhart-hart\b",
    "centre to top": r"\bcent(?:re|er) to (?:the )?top\b(?! (?:of the )?(?:top )?tube)|\bc-t\b|\bmitte[- ]oberkante\b",
    "radius": r"\bradius\b|\bhalbmesser\b|\brayon\b|\braggio\b",
    "diameter": r"\bdiameter\b|\bdurchmesser\b|\bdiamètre\b|\bdiametro\b",
    "inside": r"\binside dia\w*|\binner dia\w*|\binternal dia\w*|\bi\.?d\.?(?![\w.])|\binnen-?ø|\binnendurchmesser\b"
    r"|\bdiamètre intérieur\b|\bdiametro interno\b|\bbinnendiameter\b",
}
_PATTERNS = {name: re.compile(pattern) for name, pattern in _WRITTEN.items()}

# Item -> the conventions that say of it what it is anyway.
AGREES: Mapping[str, tuple[str, ...]] = {
    "reach": ("horizontal",),
    "stack": ("vertical",),
    "head_angle": ("horizontal", "actual"),
    "seat_angle": ("horizontal", "actual"),
    "bb_drop": ("vertical",),
    "bb_height": ("vertical",),
    "chainstay": ("straight", "centre to centre", "actual"),
    "head_tube": ("straight", "along axis", "actual"),
    "lower_stack": ("along axis", "straight"),
    "fork_length": ("along axis",),
    "axle_to_crown_straight": ("straight", "actual", "centre to centre"),
    "fork_offset": ("straight",),
    "trail": ("horizontal",),
    "wheelbase": ("horizontal", "straight", "centre to centre"),
    "front_center": ("straight", "centre to centre", "actual"),
    "front_center_horizontal": ("horizontal",),
    "effective_top_tube": ("horizontal", "effective"),
    "chainstay_horizontal": ("horizontal",),
    "seat_tube": ("centre to top", "straight", "actual"),
    "top_tube_on_seat_tube": ("centre to centre", "straight"),
    "top_tube_slope_deg": ("horizontal", "actual"),
    "top_tube_cc": ("centre to centre", "actual", "straight"),
    "top_tube_below_head_top": ("along axis", "straight"),
    "down_tube_above_head_bottom": ("along axis", "straight"),
    "down_tube_cc": ("centre to centre", "actual", "straight"),
    "seatstay_cc": ("centre to centre", "actual", "straight"),
    "standover": ("vertical",),
    "bead_seat": ("diameter",),
    "wheel_radius": ("radius",),
    "wheel_diameter": ("diameter",),
}


def conventions(note: str) -> Iterator[str]:
    """The conventions a note names, in the order of the table."""
    # lower case and single blanks, so that the patterns need not know how people write
    text = " ".join(plain(note).lower().split())
    for name, pattern in _PATTERNS.items():
        if pattern.search(text):
            yield name


def other_conventions(item: str, note: str) -> tuple[str, ...]:
    """Those named in the note that do not agree with the item; () for items that have no convention."""
    agrees = AGREES.get(item)
    if agrees is None:
        return ()
    named = tuple(conventions(note))
    return tuple(name for name in named if name not in agrees)
