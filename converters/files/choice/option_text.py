"""Short texts of the command line: tubes and their options, limits, objectives.

A tube is written ``28.6x0.8``, butted ``28.6x0.8/0.5/0.8@75/75``, with tapers ``@75+30/75+30``, tapered
``22.2-14x0.8``, cylindrical at first ``24-13 after 180 x1``, oval ``30x16x0.9`` (height x width x wall), oval at
one end ``30x17-14x0.9``, with its material after a colon. What is left out -
``31.8``, ``x0.9``, ``:stainless`` - stays as the present tube has it.
"""

import re
from collections.abc import Callable, Sequence

from ....model.choice.figures import Figure, find_figure
from ....model.choice.search import Bound, Objective
from ....model.choice.variants import TubeChange
from ....model.errors import FrameError, InputError
from ....model.frame.bicycle import Bicycle
from ....model.tubes.known_plans import known_tubes
from ....model.tubes.materials import Material, find_material
from ....model.tubes.plan import FramePlan
from ....model.tubes.tube import Tube
from ....model.words import spoken
from ..fitsheet.table import bare
from ..fitsheet.tubes import member_named, nearest_member
from ..fitsheet.values import Outside, butts, outside, plain, series

_BOUND = re.compile(
    # both < and <= are read as "at most": equality of computed figures means nothing
    r"(?P<key>[\w.]+)\s*(?P<sign>>=|<=|≥|≤|>|<)\s*(?P<number>[+-]?\d+(?:\.\d+)?)\s*(?P<unit>.*)"
)
# both spellings of "maximise", since both are written
_OBJECTIVE = re.compile(r"(?P<way>max|min)(?:imise|imize)?\s+(?P<key>[\w.]+)", re.IGNORECASE)
Stock = Callable[[str, str, Tube], Sequence[Tube]]
"""(text, member, present tube) -> the catalogue's tubes that the text means; none where it means no such thing."""


def tube_name(text: str, plan: FramePlan | None = None) -> str:
    """Tube table entry of a name such as ``top tube`` or ``top_tube``, in this plan or the known ones. Raises
    InputError for any other."""
    member = member_named(text, plan)
    if member is None:
        near = nearest_member(text)
        if near:
            hint = f"did you mean {spoken(near)}? "
        else:
            hint = ""
        known = ", ".join(map(spoken, known_tubes() if plan is None else plan.names))
        # the value goes with the refusal, so that a table can name the cell
        raise InputError(f"'{text}' is not a tube; {hint}known: {known}", value=text)
    return member


def present_tube(bicycle: Bicycle, member: str) -> Tube:
    """The tube that is changed, or a refusal when the frame has none of that name."""
    if member not in bicycle.tubes:
        # a tube the frame does not have cannot be changed: there is no wall or length to keep
        raise InputError(f"the tube table has no {member.replace('_', ' ')} to change; add its row")
    return bicycle.tubes[member]


def tube_options(
    text: str, bicycle: Bicycle, stock: Stock | None = None
) -> tuple[str, tuple[Tube, ...]]:
    """(tube, options) of ``top_tube=25.4,28.6x0.8``; separated by commas, semicolons or `or`.

    `stock` is asked first for each part: it may know it as tubes of a catalogue. Raises InputError that names the
    option and what is expected.
    """
    name, sign, rest = text.partition("=")
    if not sign or not rest.strip():
        raise InputError(
            f"option '{text}': give it as TUBE=SIZE,SIZE such as top_tube=25.4,28.6x0.8"
        )
    member = tube_name(name, bicycle.plan)
    present = present_tube(bicycle, member)
    # semicolons free the comma for decimals, as in 28,6; 31,8
    parts = re.split(r"\s*;\s*|\s+or\s+" if ";" in rest else r"\s*,\s*|\s+or\s+", rest.strip())
    tubes: list[Tube] = []
    for part in (part for part in parts if part):
        if stock:
            known = stock(part, member, present)
        else:
            known = ()
        # the catalogue is asked first: its names may look like anything
        tubes += known or [_option(part, present, bicycle, f"{member.replace('_', ' ')} '{part}'")]
    # a repeated option would count twice in the grid
    return member, tuple(dict.fromkeys(tubes))


def _option(text: str, present: Tube, bicycle: Bicycle, where: str) -> Tube:
    try:
        return tube_change(text, bicycle).of(present)
    except FrameError as error:
        raise InputError(f"{where}: {error}") from error


def tube_change(text: str, bicycle: Bicycle | None = None) -> TubeChange:
    """What one tube text states; materials of the bicycle's own sheet are known by name."""
    body, colon, material = plain(text).partition(":")
    size, at, ends = body.partition("@")
    # "present" stands for the tube as it is, with another material or butts behind it
    if bare(size) == "present":
        size = ""
    # from the right: an oval's outside has an x of its own, 30x16x0.9
    od, cross, wall = size.lower().rpartition("x")
    # a bare number is a diameter, not a wall
    if not cross:
        od = wall
        wall = ""
    shape: Outside | None = None
    if od.strip():
        shape = outside(od.strip())
    if at:
        lengths, tapers = butts(ends.strip())
    else:
        lengths = None
        tapers = None
    return TubeChange(
        # None keeps what the present tube has
        None if shape is None else (shape.start, shape.end),
        series(wall.strip()) if wall.strip() else None,
        lengths,
        tapers or None,
        None if shape is None else shape.width,
        material_named(material, bicycle) if colon else None,
        None if shape is None else shape.width_end,
        (0.0, 0.0) if shape is None else shape.straight,
    )


def material_named(text: str, bicycle: Bicycle | None = None) -> Material:
    """A material of the bicycle's tubes by name, else one of the built-in table."""
    # own materials first: they may carry a built-in name with the builder's own values
    for tube in bicycle.tubes.values() if bicycle else ():
        if bare(tube.material.name) == bare(text):
            return tube.material
    return find_material(text)


def bound(text: str, known: Sequence[Figure]) -> Bound:
    """A limit such as ``side_push.head_sideways >= +10%`` or ``mass <= 1.9 kg``.

    Percent are changes against the bicycle as it stands. Raises InputError for an unknown figure or unit.
    """
    match = _BOUND.fullmatch(plain(text))
    if match is None:
        raise InputError(
            f"limit '{text}': give it as FIGURE >= VALUE or FIGURE <= VALUE, such as "
            "'side_push.head_sideways >= +10%' or 'mass <= 1900 g'"
        )
    figure = _figure(match["key"], known)
    unit = match["unit"].strip()
    value = float(match["number"])
    at_least = match["sign"] in (">=", ">", "≥")
    # a change against the bicycle as it stands, so no unit to convert
    if unit == "%":
        return Bound(figure.key, at_least, value, percent=True)
    return Bound(figure.key, at_least, value * _factor(unit, figure, text), unit=figure.unit)


def objective(text: str, known: Sequence[Figure]) -> Objective:
    """An objective such as ``max side_push.head_sideways`` or ``min mass``."""
    match = _OBJECTIVE.fullmatch(text.strip())
    if match is None:
        raise InputError(
            f"objective '{text}': give it as 'max FIGURE' or 'min FIGURE', such as 'min mass'"
        )
    return Objective(_figure(match["key"], known).key, match["way"].lower() == "max")


def _figure(key: str, known: Sequence[Figure]) -> Figure:
    try:
        return known[find_figure(known, key)]
    except FrameError as error:
        raise InputError(str(error)) from error


def _factor(unit: str, figure: Figure, text: str) -> float:
    if _unit(unit) in ("", _unit(figure.unit)):
        return 1.0
    # g inside, because tubes are told in g; frames are told in kg
    if figure.unit == "g" and _unit(unit) == "kg":
        return 1000.0
    raise InputError(
        f"limit '{text}': {figure.key} is measured in {figure.unit}, not in '{unit}'; give it in "
        f"{figure.unit} or in percent of the present bicycle"
    )


def _unit(text: str) -> str:
    # degree and deg are written for the same unit
    return bare(text.replace("degree", "deg"))
