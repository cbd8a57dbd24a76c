"""Tables of the frame itself: what its tubes weigh, whether there is room, what a sheet says twice."""

from collections.abc import Sequence

from ....model.frame.clearance import Clearance
from ....model.frame.suspension import MEMBER, SuspensionFork, extended_and_sunk
from ....model.frame.tube_mass import MASS_WORDS, MassTable
from ....model.geometry.closure import ClosureRow
from ....model.geometry.dimensions import FrameDimensions
from ....model.geometry.statements import label, quantities, unit
from ....model.words import spoken
from ..table import Column, Kind, Row, Table

GRAMS = 1000.0  # of a kg

_ROOM = (
    Column("between", "between"),
    Column("gap", "gap", Kind.NUMBER, "mm", digits=1),
    Column("wanted", "wanted", Kind.GIVEN, "mm"),
    # a verdict, so that a page can colour it and a file can count it
    Column("enough", "enough", Kind.VERDICT),
)


def room_table(room: Sequence[Clearance]) -> Table:
    """Gaps for tyres, steerer and feet."""
    return Table(
        "room",
        "Room for tyres, steerer and feet",
        _ROOM,
        [(gap.name, gap.gap, gap.wanted, gap.enough) for gap in room],
        "Straight, round stays and blades are taken; a dimple or a bend makes room. The toe gap is not "
        "asked where the foot is held to the pedal.",
    )


_SAG_ITEMS = (
    "trail",
    "bb_drop",
    "head_angle",
    "seat_angle",
    "stack",
    "reach",
    "fork_length",
    "bb_height",
    "wheelbase",
    "front_center_horizontal",
)
_SAG = (
    Column("item", "item"),
    Column("extended", "fork extended", Kind.NUMBER, digits=2),
    Column("aboard", "rider aboard", Kind.NUMBER, digits=2),
    Column("difference", "difference", Kind.NUMBER, digits=2, signed=True),
    Column("unit", "unit"),
)


def sag_table(fork: SuspensionFork, dimensions: FrameDimensions) -> Table:
    """The side view with the suspension fork extended and with the rider aboard."""
    free, laden = (quantities(d) for d in extended_and_sunk(fork, dimensions))
    rows: list[Row] = []
    for name in _SAG_ITEMS:
        before = free[name]
        after = laden[name]
        # these follow from every complete side view
        assert before is not None
        assert after is not None
        rows.append((label(name), before, after, after - before, unit(name)))
    return Table(
        "sag",
        f"Fork extended, and sunk {fork.sag:g} mm along its axis with the rider aboard",
        _SAG,
        rows,
        "The whole bicycle turns about the rear axle, nose down; the frame's own tubes and joints stay as they are.",
    )


_CLOSURE = (
    Column("item", "item"),
    Column("stated", "stated", Kind.NUMBER, digits=2),
    Column("implied", "implied by the rest", Kind.NUMBER, digits=2),
    # the sign says which of the two is larger
    Column("difference", "difference", Kind.NUMBER, digits=2, signed=True),
    Column("tolerance", "tolerance", Kind.GIVEN),
    Column("unit", "unit"),
    Column("within", "within", Kind.VERDICT),
)


def closure_table(rows: Sequence[ClosureRow]) -> Table:
    """What a sheet says twice."""
    return Table(
        "closure",
        "What the sheet says twice",
        _CLOSURE,
        [
            (label(r.item), r.stated, r.implied, r.difference, r.tolerance, r.unit, r.ok)
            for r in rows
        ],
    )


def mass_words(masses: MassTable) -> str:
    """``frame 1550 g, fork 532 g``, or with a given fork ``frame 1550 g, steerer 77 g, suspension fork 1900 g``"""
    # whole grams: walls of drawn tube are a few per cent off
    grams = Column("mass", "mass", Kind.NUMBER, digits=0)
    frame = grams.text(GRAMS * masses.frame.kg)
    fork = grams.text(GRAMS * masses.fork.kg)
    said = f"frame {frame} g, fork {fork} g"
    given = masses.members.get(MEMBER)
    if given is not None:
        part = grams.text(GRAMS * given.kg)
        said = f"frame {frame} g, steerer {fork} g, suspension fork {part} g"
    if masses.racks.kg:
        said += f", racks {grams.text(GRAMS * masses.racks.kg)} g"
    return said


_TUBE_MASS = (Column("tube", "tube"), Column("mass", "mass", Kind.NUMBER, "g", digits=0))


def tube_mass_table(masses: MassTable) -> Table:
    """What each tube weighs, left and right of a pair together, and the sums of frame and fork."""
    # left and right together, as a tube is bought
    rows: list[Row] = [(spoken(tube), GRAMS * mass.kg) for tube, mass in masses.by_tube.items()]
    rows.append(("all frame tubes", GRAMS * masses.frame.kg))
    rows.append(("all fork tubes", GRAMS * masses.fork.kg))
    if masses.racks.kg:
        rows.append(("all rack tubes", GRAMS * masses.racks.kg))
    notes = f"{MASS_WORDS[0].upper()}{MASS_WORDS[1:]}."
    return Table("tube masses", "Mass of the tubes", _TUBE_MASS, rows, notes)
