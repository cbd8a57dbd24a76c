"""A reading worked out, also under other assumptions: each assumption is one number that is 0 as the sheet has it.

A lever changes the model and not the result, so that it acts on every rig as it would on the bench. What it may usually
be is common practice unless said otherwise.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, log

import numpy as np

from ..arrays import Array
from ..errors import ModelError
from ..frame.bicycle import Bicycle
from ..frame.layout import lay_out
from ..frame.mesh import mesh
from ..frame.tube_mass import MassTable, mass_table
from ..mechanics.frame_model import Element, FrameModel, LoadCase, Measure, Spring
from ..mechanics.solve import solve
from ..reanalysis.fast_options import CaseMaker
from ..tubes.tube import Tube
from ..vibration.bare import bare_model, pieces_of
from ..vibration.modes import Dynamics
from ..words import spoken
from .readings import BenchReading

HUBS = ("rear_hub", "front_hub")
CLAMP_TORQUE = 1e5  # N*mm, the 100 N*m that a clamp's give is spoken of under
# What hangs free on a cord has these before its first tone.
FREE_MOTIONS = 7  # six of what hangs, and the steering
_STIFF_JOINT = 1e-3  # share of the bare joint's give that counts as none


@dataclass(frozen=True)
class Lever:
    """One assumption. usual : where it may well be, limits : how far it is ever looked at; 0 is as the sheet has it."""

    key: str
    usual: tuple[float, float]
    limits: tuple[float, float]
    step: float
    source: str

    def words(self, value: float) -> str:
        """The value in workshop language."""
        return _WORDS[self.key](value)

    def is_usual(self, value: float) -> bool:
        low, high = self.usual
        return low - 1e-9 <= value <= high + 1e-9


def _more(value: float) -> str:
    return "more" if value > 0 else "less"


_WORDS: Mapping[str, Callable[[float], str]] = {
    "walls": lambda x: (
        f"all walls {abs(100 * x):.1f} % {'thicker' if x > 0 else 'thinner'} than stated"
    ),
    "material": lambda x: (
        f"a material {abs(100 * x):.1f} % {'stiffer' if x > 0 else 'softer'} (E and G) than stated"
    ),
    "hub": lambda x: (
        f"hub axles {exp(abs(x)):.2g} times as {'stiff' if x > 0 else 'soft'} as assumed"
    ),
    "restraint": lambda x: f"clamps that turn by {x:.2f} degrees under 100 N·m, each",
    "joints": lambda x: f"joints that give {100 * x:.0f} % of what bare welds give",
    "own_joints": lambda x: f"joints that give {abs(100 * x):.0f} % {_more(x)} than theirs",
}
_COMMON = (
    Lever(
        "walls",
        (-0.10, 0.10),
        (-0.5, 0.5),
        0.02,
        "walls within ±10 % (from memory: usual for drawn tube)",
    ),
    Lever("material", (-0.02, 0.02), (-0.3, 0.3), 0.02, "E within ±2 % (from memory)"),
    Lever(
        "hub",
        (-log(2), log(2)),
        (-log(50), log(50)),
        0.2,
        "hubs half to twice as stiff (common practice, no source)",
    ),
    Lever(
        "restraint",
        (0.0, 0.1),
        (0.0, 5.0),
        0.05,
        "clamps that turn up to 0.1 degrees (common practice, no source)",
    ),
)
_RIGID_JOINTS = Lever(
    "joints", (0.0, 1.0), (0.0, 5.0), 0.2, "joints from rigid to bare welds (METHODS, section 25)"
)
_OWN_JOINTS = Lever(
    "own_joints", (-0.5, 0.5), (-0.99, 5.0), 0.2, "joints within half of it (METHODS, section 25)"
)


def has_rigid_joints(bicycle: Bicycle) -> bool:
    """Whether every tube is joined rigidly."""
    return all(kind == "rigid" for kind in bicycle.joints.values())


def levers(bicycle: Bicycle) -> tuple[Lever, ...]:
    """The assumptions that are looked at: walls, material, hubs, restraint, joints."""
    if has_rigid_joints(bicycle):
        return (*_COMMON, _RIGID_JOINTS)
    return (*_COMMON, _OWN_JOINTS)


def _frame_welded(bicycle: Bicycle) -> Bicycle:
    """The frame's tubes joined by bare welds. At a crown a blade begins lower down, which is no give to be scaled."""
    frame = [role.name for role in bicycle.roles if not role.in_fork]
    return replace(bicycle, joints=dict.fromkeys(frame, "bare"))


@dataclass(frozen=True)
class World:
    """The bicycle with one or more assumptions changed."""

    bicycle: Bicycle
    cases_of: Callable[[str], CaseMaker]
    changed: Mapping[str, float]

    def of(self, key: str) -> float:
        return self.changed.get(key, 0.0)

    def predicted(self, readings: Sequence[BenchReading]) -> Array:
        """(n,) each reading worked out, in its unit."""
        made = self._with_walls()
        tones = self._tones(made, [one for one in readings if one.kind == "tap"])
        values = np.empty(len(readings))
        for k, one in enumerate(readings):
            if one.kind == "deflection":
                values[k] = self._deflection(made, one)
            elif one.kind == "tap":
                values[k] = _tone(one, tones[one.rig])
            else:
                values[k] = _weighed(made, one)
        return values

    def named(self, one: BenchReading) -> tuple[BenchReading, str]:
        """The reading with its measure's stable name, and its unit. Raises ModelError for what the rig cannot read."""
        if one.kind == "deflection":
            (case,) = self.cases_of(one.rig)(self.bicycle, lay_out(self.bicycle))
            measure = _measure(case, one)
            return replace(one, place=measure.name), measure.unit
        if one.kind == "tap":
            return replace(one, place=str(_mode_number(one))), "Hz"
        return replace(one, place=one.place.strip().lower().replace(" ", "_")), "g"

    def _with_walls(self) -> Bicycle:
        factor = 1 + self.of("walls")
        # In the tubes themselves, so that masses and tones follow.
        tubes = {name: _thicker(tube, factor) for name, tube in self.bicycle.tubes.items()}
        made = replace(self.bicycle, tubes=tubes)
        # Bare joints first: rigid ones have no give that could be scaled.
        if self.of("joints"):
            made = _frame_welded(made)
        return made

    def _changed(self, model: FrameModel) -> FrameModel:
        """The mesh with hubs, material and joints as the levers have them."""
        material = 1 + self.of("material")
        # By ratios: half and twice as stiff are the same distance from what is assumed.
        hub = exp(self.of("hub"))
        elements = tuple(
            _stiffer(element, hub if element.member in HUBS else material)
            for element in model.elements
        )
        springs = model.springs
        # Rigid joints were made bare above: then the lever is a share of that give.
        give = self.of("joints") or 1 + self.of("own_joints")
        if give != 1:
            springs = tuple(_softer(spring, give) for spring in model.springs)
        return replace(model, elements=elements, springs=springs)

    def _deflection(self, made: Bicycle, one: BenchReading) -> float:
        layout = lay_out(made)
        (case,) = self.cases_of(one.rig)(made, layout)
        measure = _measure(case, one)
        _check_units(one, measure)
        held = self._giving(case)
        model = self._changed(mesh(made, layout=layout))
        # Always the full solver: a lever moves the whole model.
        found = solve(model, [held])[held.name].measured[measure.name]
        if one.load is None:
            return float(found)
        if measure.reference is None:
            raise ModelError(
                f"{one.where}: {spoken(one.rig)} has several loads at once, so {spoken(one.place)} does not scale with "
                "one of them; leave the load empty and load the frame as the case says"
            )
        # Linear: a figure under another load of the same kind is that share of it.
        return float(found) * one.load / measure.reference

    def _giving(self, case: LoadCase) -> LoadCase:
        """The case with every turn that a clamp holds held by a spring instead."""
        give = self.of("restraint")
        if not give:
            return case
        # Turning springs only: a clamp that slides would be another assumption.
        stiff = CLAMP_TORQUE / np.radians(give)
        supports = {}
        springs = list(case.springs)
        for node, flags in case.supports.items():
            # Movements stay held; only turns give.
            supports[node] = (*flags[:3], 0, 0, 0)
            turns = tuple(stiff * flag for flag in flags[3:])
            if any(turns):
                springs.append(Spring(f"clamp_{node}", node, None, (0.0, 0.0, 0.0, *turns)))
        return replace(case, supports=supports, springs=tuple(springs))

    def _tones(self, made: Bicycle, taps: Sequence[BenchReading]) -> dict[str, Array]:
        """Rig -> its tones from the lowest, Hz, as many as are asked for: one solution for all readings of a piece."""
        tones = {}
        for rig in dict.fromkeys(one.rig for one in taps):
            most = max(_mode_number(one) for one in taps if one.rig == rig)
            model = self._changed(bare_model(made, pieces_of(rig.removeprefix("tap").strip())))
            modes = Dynamics.of(model).modes(most + FREE_MOTIONS)
            # Rigid motions come first and are no tones.
            tones[rig] = modes.frequencies_hz[modes.rigid :]
        return tones


def _tone(one: BenchReading, tones: Array) -> float:
    number = _mode_number(one)
    if number > len(tones):
        raise ModelError(f"{one.where}: mode {number} was not found; name a lower one")
    return float(tones[number - 1])


def _measure(case: LoadCase, one: BenchReading) -> Measure:
    """The measure by its name or how its words begin; the only one where none is named."""
    # A rig with one measure needs no name for it.
    if not one.place and len(case.measures) == 1:
        return case.measures[0]
    # As a builder writes it: spaces and capitals do not matter.
    wanted = one.place.strip().lower().replace(" ", "_")
    for measure in case.measures:
        title = (measure.title or measure.name).lower().replace(" ", "_")
        if wanted == measure.name or (wanted and title.startswith(wanted)):
            return measure
    known = "; ".join(f"{m.name} ({m.title})" for m in case.measures)
    raise ModelError(
        f"{one.where}: {spoken(case.name)} measures no '{one.place}'; it measures: {known}"
    )


def _check_units(one: BenchReading, measure: Measure) -> None:
    """A force for a turn, or mm for degrees, would be off by a thousand and explained as soft clamps."""
    if one.unit and one.unit != measure.unit:
        raise ModelError(
            f"{one.where}: {measure.title or measure.name} is read in {measure.unit}, not in {one.unit}; "
            "convert the reading"
        )
    if one.turning is None or measure.reference is None:
        return
    turns = measure.unit == "deg"
    if one.turning != turns:
        wanted = "a force in N or kg"
        example = "200 N"
        if turns:
            wanted = "a turn in N·m, force times arm"
            example = "100 N·m"
        raise ModelError(
            f"{one.where}: what moves the {measure.title or measure.name} is {wanted}; write the load such as {example}"
        )


def _mode_number(one: BenchReading) -> int:
    if not (one.place.isdigit() and int(one.place)):
        raise ModelError(
            f"{one.where}: '{one.place}' is no number of a mode; count the tones from the lowest, 1, 2, 3 (a tone is "
            "never matched to the nearest mode, because that would hide what differs)"
        )
    return int(one.place)


def _weighed(made: Bicycle, one: BenchReading) -> float:
    layout = lay_out(made)
    table = mass_table(mesh(made, layout=layout), layout)
    known = weighable(table)
    place = one.place.strip().lower().replace(" ", "_")
    if place not in known:
        raise ModelError(
            f"{one.where}: '{one.place}' cannot be weighed here; known: {', '.join(known)}"
        )
    return known[place]


def weighable(table: MassTable) -> dict[str, float]:
    """What the model can be weighed of, g: frame and fork (tubes alone), and every tube, both of a pair."""
    return {"frame": 1000 * table.frame.kg, "fork": 1000 * table.fork.kg, **table.grams}


def _thicker(tube: Tube, factor: float) -> Tube:
    walls = tuple(wall * factor for wall in tube.walls)
    return replace(tube, walls=walls)


def _stiffer(element: Element, factor: float) -> Element:
    # E and G alike, so that bending and torsion follow one lever.
    material = replace(
        element.material, E=element.material.E * factor, G=element.material.G * factor
    )
    return replace(element, material=material)


def _softer(spring: Spring, share: float) -> Spring:
    """A joint that gives so much of what it gave; springs without a compliance are no joints."""
    if spring.compliance is None:
        return spring
    # A joint without any give has no stiffness that could be written down.
    share = max(share, _STIFF_JOINT)
    rows = []
    for row in spring.compliance:
        rows.append(tuple(value * share for value in row))
    # Stiffness and compliance are the two sides of one joint.
    return replace(spring, compliance=tuple(rows), k=tuple(k / share for k in spring.k))
