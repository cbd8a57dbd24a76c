"""Every item a fit sheet may state: its names in the trade, its kind of unit, its believable range.

Add an item by adding one line to the table it belongs to; its names in other languages and rarer ones stand in
`names.py`. Names are compared bare (`table.bare`): case, blanks and punctuation do not count. A name joined with the
note is tried first, so ``fork length`` with the note ``straight`` is the straight fork length.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from ....model.frame.riding import RIDING
from ....model.frame.suspension import TYPICAL
from ....model.geometry.quantities import STATED
from ....model.geometry.statements import label
from ....model.tubes.known_plans import PLANS
from ....model.tubes.racks import RACKS
from ....model.words import spoken
from .names import ITEM_NAMES, LOOSE, LOOSE_NAMES, SIDES, TEXT_NAMES, WHEEL_NAMES, split_names
from .suspension import SUSPENSION
from .values import BASE_UNIT
from .wheels import WHEEL_ITEMS

Group = Literal[
    "geometry", "fittings", "loads", "riding", "suspension", "wheel", "text", "part", "placing"
]


@dataclass(frozen=True)
class SheetItem:
    """One item. `names` are its names; `loose` those that leave a convention open, then taken as `taken` says."""

    key: str
    group: Group
    kind: str
    limits: tuple[float, float]
    names: tuple[str, ...]
    note: str = ""
    loose: tuple[str, ...] = ()
    taken: str = ""

    @property
    def label(self) -> str:
        """Name in messages."""
        if self.group in ("wheel", "suspension", "placing"):
            return self.names[0]
        return label(self.key)

    @property
    def unit(self) -> str:
        """The unit its value is held in, '' for a share or a number; a wheel or tyre counts in mm."""
        return BASE_UNIT.get(self.kind, "mm")


# Statement -> (names, note for the starter sheet). Ranges are those of the statements.
_GEOMETRY = {
    "reach": ("reach", "bottom bracket centre to the centre of the head tube's top, horizontal"),
    "stack": (
        "stack, Stapelhöhe",
        "bottom bracket centre to the centre of the head tube's top, vertical",
    ),
    "head_angle": (
        "head angle, HTA, HA, head tube angle, steering angle, steerer angle, Steuerrohrwinkel, "
        "Lenkwinkel, Steuerwinkel, Lenkkopfwinkel",
        "from the horizontal, measured at the rear",
    ),
    "seat_angle": (
        "seat angle, STA, SA, seat tube angle, Sitzwinkel, Sitzrohrwinkel",
        "from the horizontal",
    ),
    "bb_drop": (
        "bottom bracket drop, BB drop, BBD, drop, Tretlagerabsenkung, BB Absenkung",
        "bottom bracket centre below the rear axle",
    ),
    "bb_height": (
        "bottom bracket height, BB height, BBH, Tretlagerhöhe",
        "bottom bracket centre above the ground",
    ),
    "chainstay": (
        "chainstay, chainstays, chainstay length, chain stay, chain stay length, CS, CSL, rear centre, "
        "rear center, Kettenstrebe, Kettenstrebenlänge, Hinterbaulänge",
        "bottom bracket centre to rear axle, straight; behind several riders from the rear bracket",
    ),
    "head_tube": (
        "head tube, head tube length, HT, HTL, Steuerrohr, Steuerrohrlänge",
        "end to end",
    ),
    "lower_stack": (
        "lower headset stack, lower stack, lower headset, lower headset height, headset lower stack, "
        "Steuersatz unten, untere Steuersatzhöhe",
        "lower end of the head tube to the crown race",
    ),
    "fork_length": (
        "fork length along axis, fork length along the axis, fork length along steering axis, "
        "fork length along the steering axis, axle to crown along axis, A-C along axis",
        "crown race to the foot of the perpendicular from the axle",
    ),
    "axle_to_crown_straight": (
        "axle to crown, axle-crown, A-C, A2C, AC, A to C, ATC, Einbaulänge, "
        "fork length straight, straight fork length, fork length straight axle to crown, axle to crown straight, "
        "fork length straight axle to crown race, A-C straight, fork length direct, Gabellänge direkt",
        "front axle to crown race in a straight line",
    ),
    "fork_offset": (
        "fork offset, offset, rake, fork rake, Gabelvorbiegung, Vorbiegung, Gabelversatz, Gabeloffset",
        "steering axis to front axle, square to the axis",
    ),
    "trail": ("trail, ground trail, Nachlauf", "on the ground"),
    "mechanical_trail": (
        "mechanical trail, normal trail, true trail",
        "square to the steering axis",
    ),
    "wheel_flop": ("wheel flop, flop, wheel flop factor", "trail x sin x cos of the head angle"),
    "wheelbase": ("wheelbase, wheel base, WB, Radstand", "axle to axle, horizontal"),
    "front_center": (
        "front centre direct, front center direct, FC direct, front centre straight",
        "bottom bracket centre to front axle, straight",
    ),
    "front_center_horizontal": (
        "horizontal front centre, horizontal front center, front centre horizontal, "
        "front center horizontal, FC horizontal",
        "bottom bracket centre to front axle, horizontal",
    ),
    "effective_top_tube": (
        "effective top tube, effective top tube length, ETT, horizontal top tube, TT effective, "
        "top tube effective, top tube horizontal, top tube length effective, "
        "top tube length horizontal, virtual top tube, Oberrohrlänge horizontal, "
        "effektive Oberrohrlänge, Oberrohr horizontal",
        "horizontal from the head tube's top centre to the seat tube axis",
    ),
    "chainstay_horizontal": (
        "horizontal chainstay, chainstay horizontal, horizontal chainstay length",
        "bottom bracket to rear axle, horizontal",
    ),
    "seat_tube": (
        "seat tube centre to top, seat tube center to top, seat tube length centre to top, "
        "seat tube length center to top, seat tube c-t, ST c-t, seat tube length c-t, "
        "Sitzrohrlänge Mitte Oberkante",
        "bottom bracket centre to the top of the seat tube",
    ),
    "top_tube_on_seat_tube": (
        "top tube on seat tube, seat tube centre to centre, seat tube center to center, seat tube c-c, ST c-c, "
        "seat tube length centre to centre, seat tube length center to center, seat tube length c-c, "
        "top tube height on seat tube, Sitzrohrlänge Mitte Mitte",
        "bottom bracket centre to the top tube's centre-line, along the seat tube",
    ),
    "seat_tube_extension": (
        "seat tube extension, seat tube top above top tube, seat tube above top tube",
        "top tube's centre-line to the top of the seat tube",
    ),
    "top_tube_slope_deg": (
        "top tube slope, slope, TT slope, top tube angle, Oberrohrneigung, sloping",
        "rising to the front is positive; degrees or %",
    ),
    "top_tube_cc": (
        "top tube centre to centre, top tube center to center, top tube c-c, TT c-c, "
        "top tube length c-c, top tube length centre to centre, top tube actual",
        "joint to joint",
    ),
    "top_tube_below_head_top": (
        "top tube below head tube top, top tube below head top, top tube from head tube top, "
        "top tube below top of head tube, Oberrohr unter Steuerrohroberkante",
        "centre-line, along the head tube",
    ),
    "down_tube_above_head_bottom": (
        "down tube above head tube bottom, down tube above head bottom, down tube from head tube bottom, "
        "down tube above bottom of head tube, Unterrohr über Steuerrohrunterkante",
        "centre-line, along the head tube",
    ),
    "seatstay_below_top_tube": (
        "seatstay below top tube, seat stay below top tube, seatstays below top tube, "
        "Sitzstrebe unter Oberrohr",
        "centre-lines, along the seat tube",
    ),
    "down_tube_cc": (
        "down tube centre to centre, down tube center to center, down tube c-c, DT c-c, down tube length",
        "joint to joint",
    ),
    "seatstay_cc": (
        "seatstay centre to centre, seatstay c-c, SS c-c, seatstay length, seat stay length",
        "rear axle to the joint on the seat tube",
    ),
    "standover": (
        "standover at the middle of the top tube",
        "ground to the upper side of the top tube at its middle",
    ),
}

# Fitting -> (least, greatest mm, names, note).
_FITTINGS = {
    "rear_hub_spacing": (
        90,
        220,
        "rear hub spacing, rear hub, rear spacing, rear OLN, OLN rear, rear OLD, "
        "rear dropout spacing, dropout spacing rear, Einbaubreite hinten, Nabenbreite hinten",
        "over locknuts",
    ),
    "front_hub_spacing": (
        60,
        160,
        "front hub spacing, front hub, front spacing, front OLN, OLN front, front OLD, "
        "front dropout spacing, dropout spacing front, Einbaubreite vorn, Nabenbreite vorn",
        "over locknuts",
    ),
    "bb_shell_width": (
        50,
        140,
        "bottom bracket shell width, bottom bracket shell, BB shell, BB shell width, BB width, "
        "shell width, Tretlagerbreite, Tretlagergehäusebreite",
        "",
    ),
    "chainstay_spacing": (
        20,
        140,
        "chainstay spacing, chainstay spacing at the shell, chainstay spacing at shell, "
        "chainstay spacing at bottom bracket, CS spacing, Kettenstrebenabstand",
        "between the stays' centre-lines at the shell",
    ),
    "seatstay_spacing": (
        5,
        120,
        "seatstay spacing, seatstay spacing at the seat tube, SS spacing, Sitzstrebenabstand",
        "between the stays' centre-lines at the seat tube",
    ),
    "blade_spacing": (
        30,
        150,
        "blade spacing, fork blade spacing, fork crown spacing, crown spacing, Scheidenabstand",
        "between the blades' centre-lines at the crown",
    ),
    "blade_straight": (
        0,
        600,
        "blade straight, straight blade length, blade straight length, fork blade straight, "
        "straight part of blade",
        "straight part of a curved blade below the crown; 0: straight blade",
    ),
    "stay_curve": (
        0,
        100,
        "stay curve, seatstay curve, stay bow, seatstay sagitta, curved stay",
        "bow of curved seatstays outwards; 0: straight",
    ),
    "seat_post_insertion": (0, 500, "seat post insertion, insertion", "inside the seat tube"),
    "saddle_height": (
        300,
        1100,
        "saddle height, saddle, Sattelhöhe, Sitzhöhe",
        "bottom bracket centre to the saddle clamp, along the seat tube",
    ),
    "upper_stack": (
        0,
        200,
        "upper stack, upper stack to stem, stem height, headset and spacers, stem above head tube, "
        "Vorbauhöhe",
        "top of the head tube to the stem's centre",
    ),
    "stem_length": (0, 200, "stem length, stem, Vorbau, Vorbaulänge", ""),
    "bar_width": (
        250,
        1000,
        "bar width, handlebar width, handlebar, bar, Lenkerbreite",
        "between the hands",
    ),
    "crank_length": (100, 220, "crank length, crank, cranks, Kurbellänge", ""),
    "pedal_offset": (
        60,
        300,
        "pedal offset, pedal centre offset, half Q, pedal centre from the middle, Pedalabstand",
        "frame's middle plane to the pedal's centre",
    ),
    "chainline": (
        25,
        100,
        "chainline, chain line, Kettenlinie",
        "frame's middle plane to the chain",
    ),
    "chainring_radius": (
        20,
        160,
        "chainring radius, chain ring radius, Kettenblattradius",
        "pitch radius",
    ),
    "sprocket_radius": (15, 120, "sprocket radius, cog radius, Ritzelradius", "pitch radius"),
}

# Load -> (kind, least, greatest, names, note).
_LOADS = {
    "rider_mass": (
        "mass",
        10,
        300,
        "rider mass, rider weight, rider, body weight, Fahrergewicht, Fahrer",
        "",
    ),
    "saddle_share": (
        "share",
        0,
        1,
        "saddle share, share on saddle",
        "of the rider's weight; the three add up to 1",
    ),
    "bar_share": ("share", 0, 1, "bar share, handlebar share, share on bars", ""),
    "pedal_share": ("share", 0, 1, "pedal share, share on pedals", ""),
    "side_push": (
        "force",
        10,
        5000,
        "side push, sideways push, lateral push, side load, Seitenkraft",
        "at the top of the head tube",
    ),
    "pedal_force": (
        "force",
        50,
        6000,
        "pedal force, pedalling force, pedal load, Pedalkraft",
        "on one pedal, climbing out of the saddle",
    ),
    "bar_pull": (
        "force",
        0,
        3000,
        "bar pull, handlebar pull, arm pull, Lenkerzug",
        "on one end of the bar, climbing",
    ),
    "crank_angle": (
        "angle",
        0,
        360,
        "crank angle, Kurbelwinkel",
        "crank below the horizontal, forward",
    ),
    "front_luggage": ("mass", 0, 100, "front luggage, luggage front, front load, Gepäck vorn", ""),
    "rear_luggage": ("mass", 0, 150, "rear luggage, luggage rear, rear load, Gepäck hinten", ""),
    "wheel_mass_front": (
        "mass",
        0.2,
        15,
        "front wheel mass, wheel mass front, front wheel weight",
        "with tyre",
    ),
    "wheel_mass_rear": (
        "mass",
        0.2,
        15,
        "rear wheel mass, wheel mass rear, rear wheel weight",
        "with tyre",
    ),
    "tyre_stiffness": (
        "stiffness",
        5,
        2000,
        "tyre stiffness, tire stiffness, vertical tyre stiffness, tyre spring, Reifensteifigkeit",
        "one tyre, up and down; used where wheels stand as springs",
    ),
    "tyre_side_stiffness": (
        "stiffness",
        5,
        2000,
        "tyre side stiffness, tire side stiffness, lateral tyre stiffness, Reifenseitensteifigkeit",
        "one tyre, sideways at the road",
    ),
    "wheel_side_stiffness": (
        "stiffness",
        5,
        2000,
        "wheel side stiffness, lateral wheel stiffness, Laufradseitensteifigkeit",
        "rim against hub, sideways",
    ),
}


def _named(key: str, first: str) -> tuple[str, ...]:
    return split_names(first) + split_names(ITEM_NAMES.get(key, ""))


def _all_items() -> Iterator[SheetItem]:
    for key, names in TEXT_NAMES.items():
        yield SheetItem(key, "text", "text", (0, 0), _named(key, names))
    for key, (names, note) in _GEOMETRY.items():
        loose, taken = LOOSE.get(key, ("", ""))
        if key == "top_tube_slope_deg":
            kind = "slope"
        # a slope may be stated in per cent, so it is a kind of its own
        elif STATED[key].is_angle:
            kind = "angle"
        else:
            kind = "length"
        yield SheetItem(
            key,
            "geometry",
            kind,
            STATED[key].believable,
            _named(key, names),
            note,
            split_names(loose) + split_names(LOOSE_NAMES.get(key, "")),
            taken,
        )
    for plan in (*PLANS.values(), *RACKS.values()):
        for placed in plan.items:
            usual = f"usual {placed.usual:g}"
            called = (placed.label, spoken(placed.key))
            kind = {"mm": "length", "kg": "mass"}[placed.unit]
            yield SheetItem(placed.key, "placing", kind, placed.limits, called, usual)
    for key, (low, high, names, note) in _FITTINGS.items():
        yield SheetItem(key, "fittings", "length", (low, high), _named(key, names), note)
    for key, (kind, least, most, names, note) in _LOADS.items():
        yield SheetItem(key, "loads", kind, (least, most), _named(key, names), note)
    for value in RIDING.values():
        # wide on purpose: it is to find a slipped point, not an unusual rider
        limit = 5 * value.high
        if value.kind == "share":
            limit = 1.0
        spelled = split_names(f"{value.words.replace(',', '')}, {spoken(value.key)}")
        usual = f"usual {value.usual:g}, {value.low:g} to {value.high:g}"
        yield SheetItem(value.key, "riding", value.kind, (value.low / 10, limit), spelled, usual)
    for key, (kind, lowest, highest, names, note) in SUSPENSION.items():
        spelled = (TYPICAL[key].label, *split_names(names))
        yield SheetItem(f"suspension_{key}", "suspension", kind, (lowest, highest), spelled, note)
    for key, (kind, least, most, names, note) in WHEEL_ITEMS.items():
        plain = split_names(names) + split_names(WHEEL_NAMES[key])
        for side, words in SIDES.items():
            # "front tyre" and "tyre front": both orders are written
            sided = ", ".join(
                f"{a} {b}".strip()
                for name in plain
                for w in words
                for a, b in ((w, name), (name, w))
            )
            yield SheetItem(
                f"{key}_{side}", "wheel", kind, (least, most), _named(f"{key}_{side}", sided), note
            )


ITEMS = {item.key: item for item in _all_items()}
