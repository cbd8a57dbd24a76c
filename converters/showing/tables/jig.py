"""The jig sheet as tables: what is set, what is measured, what is sawn."""

from ....model.frame.jig import JigSheet
from ....model.words import spoken
from ..table import Column, Kind, Table


def _mm(key: str, heading: str) -> Column:
    # a jig is set to a tenth at best (common practice)
    return Column(key, heading, Kind.NUMBER, "mm", digits=1)


def _degrees(key: str, heading: str) -> Column:
    # 0.06 degree is a millimetre at one metre
    return Column(key, heading, Kind.NUMBER, "deg", digits=2)


_SETTINGS = (
    Column("point", "point"),
    _mm("x", "forward"),
    _mm("y", "up"),
    # the straight distance as well: it is what a rule measures
    _mm("distance", "straight"),
    _mm("height", "over ground"),
)
_SLOPES = (
    Column("tube", "tube"),
    _degrees("angle", "from horizontal"),
    Column("rises", "rises"),
    _degrees("splay", "out of the plane"),
)
_MEETINGS = (
    Column("tube", "tube"),
    Column("neighbour", "meets"),
    _degrees("angle", "angle"),
    _mm("offset", "axes beside"),
)
_ON_TUBES = (
    Column("tube", "tube"),
    Column("joint", "joint"),
    _mm("distance", "along the tube"),
    Column("measured_from", "from"),
)
_WIDTHS = (Column("place", "place"), _mm("width", "width"))
_CUTS = (
    Column("tube", "tube"),
    # between the joints; the long points are what is sawn to
    _mm("centre_to_centre", "centre to centre"),
    _mm("longest", "long points"),
    _mm("shortest", "throats"),
)
_SQUARE = (Column("tube", "tube"), _mm("length", "sawn square"))


def jig_tables(sheet: JigSheet) -> tuple[Table, ...]:
    """Every table of the jig sheet, in the order in which a frame is built."""
    settings = [(spoken(s.point), s.x, s.y, s.distance, s.height) for s in sheet.settings]
    slopes = [(spoken(s.tube), s.angle, s.rises, s.splay) for s in sheet.slopes]
    meetings = [(spoken(m.tube), spoken(m.neighbour), m.angle, m.offset) for m in sheet.meetings]
    on_tubes = [
        (spoken(o.tube), spoken(o.joint), o.distance, spoken(o.measured_from))
        for o in sheet.on_tubes
    ]
    cuts = [(spoken(c.member), c.centre_to_centre, c.longest, c.shortest) for c in sheet.cuts]
    square = [(spoken(tube), length) for tube, length in sheet.square]
    return (
        Table(
            "settings",
            "From the bottom bracket's centre",
            _SETTINGS,
            settings,
            # the loaded radius is drawn, so a wheel off its load stands higher
            "Centre-lines; unloaded wheels stand a little higher.",
        ),
        Table(
            "slopes",
            "Tubes from the horizontal",
            _SLOPES,
            slopes,
        ),
        Table(
            "meetings",
            "Tube to tube",
            _MEETINGS,
            meetings,
        ),
        Table(
            "on tubes",
            "Joints along the tubes",
            _ON_TUBES,
            on_tubes,
        ),
        Table("widths", "Across the frame", _WIDTHS, list(sheet.widths)),
        Table(
            "cut lengths",
            "Cut lengths of mitred tubes",
            _CUTS,
            cuts,
            "Stays run to the axles' centres: take off what the dropouts replace.",
        ),
        Table(
            "square lengths",
            "Sawn square",
            _SQUARE,
            square,
        ),
    )
