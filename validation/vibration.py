"""From a reading to its natural modes, held against OpenSees and against the rider's cadence."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from ..converters.analysis import vibrating
from ..converters.inputs import Reading
from ..model.errors import InputError
from ..model.findings import Finding
from ..model.frame.layout import lay_out
from ..model.mechanics.frame_model import FrameModel, LoadCase
from ..model.vibration.bare import Ring, bare_model, rings
from ..model.vibration.cadence import FrequencyGap, Pedalled, gaps, pedalled
from ..model.vibration.loose import loose_parts
from ..model.vibration.mode_words import ModeWords, describe
from ..model.vibration.modes import Dynamics, Modes
from ..model.vibration.setup import Supports
from ..model.vibration.transmissibility import Transmissibility, transmissibility
from .opensees import OpenSeesError, available, modes_opensees

MODE_TOLERANCE = 1e-6
FREE_MOTIONS = 7  # six of the whole and the steering, which nothing locks


@dataclass(frozen=True)
class Vibration:
    """Natural modes with words, the gap of each to the pushes of pedalling, and the second opinion.

    difference : largest relative difference of the frequencies to OpenSees, None with the reason in `not_crossed`.
    """

    reading: Reading
    model: FrameModel
    case: LoadCase
    modes: Modes
    words: tuple[ModeWords, ...]
    gaps: tuple[FrequencyGap, ...]
    response: Pedalled | None
    shaken: Mapping[str, Transmissibility]
    difference: float | None
    not_crossed: str | None
    findings: tuple[Finding, ...]


def vibrate(
    reading: Reading,
    supports: Supports = "tyres",
    count: int = 12,
    cadence: tuple[float, float] = (60.0, 110.0),
    case: str | None = None,
) -> Vibration:
    """Modes of a bicycle on rigid axles, on its tyres or free - or of a model file under its own supports.

    Raises InputError or ModelError as reading, meshing and solving do.
    """
    if case and reading.model is None:
        raise InputError(
            f"--case {case}: only a model file is held by a load case when it vibrates; a bicycle is "
            "held as --supports says"
        )
    model, held = vibrating(reading, supports, (case,) if case else ())
    dynamics = Dynamics.of(model, held.supports, held.springs)
    modes = dynamics.modes(count)
    words = describe(modes)
    difference, reason = _second_opinion(model, held, modes)
    # Nobody pedals a frame that hangs free.
    response = None
    if reading.bicycle is not None and supports != "free":
        speeds = np.linspace(*cadence, 26)
        response = pedalled(reading.bicycle, lay_out(reading.bicycle), dynamics, speeds, modes)
    shaken: Mapping[str, Transmissibility] = {}
    if reading.bicycle is not None and supports == "tyres" and reading.bicycle.ridden:
        shaken = transmissibility(reading.bicycle)
    if reading.bicycle is not None:
        close = gaps(words, cadence)
    else:
        close = ()
    return Vibration(
        reading,
        model,
        held,
        modes,
        words,
        close,
        response,
        shaken,
        difference,
        reason,
        (*reading.findings, *_findings(close, difference), *_loose(modes, reading)),
    )


def _loose(modes: Modes, reading: Reading) -> tuple[Finding, ...]:
    """What moves in parts while nothing bends. A bicycle's steering may; a frame of tables should not."""
    parts = loose_parts(modes)
    if not parts:
        return ()
    said = (
        f"{len(parts)} of the {modes.rigid} motions at 0 Hz move parts against each other while nothing bends: "
        f"{'; '.join(parts)}"
    )
    if reading.bicycle is not None:
        return (Finding("parts-loose", "info", said),)
    return (
        Finding(
            "parts-loose",
            "warning",
            f"{said}. If that is not meant, join the ends rigidly, add a member or hold it",
        ),
    )


@dataclass(frozen=True)
class Tapped:
    """Free-free modes of bare pieces of a bicycle, where each rings, and the second opinion.

    difference, not_crossed : as in `Vibration`. mass : of the pieces, kg.
    """

    reading: Reading
    model: FrameModel
    pieces: tuple[str, ...]
    mass: float
    modes: Modes
    words: tuple[ModeWords, ...]
    rings: tuple[Ring, ...]
    difference: float | None
    not_crossed: str | None
    findings: tuple[Finding, ...]


def tap(reading: Reading, pieces: tuple[str, ...], count: int = 8) -> Tapped:
    """The `count` lowest modes that bend something of the named pieces, hung on strings.

    Raises InputError or ModelError as reading, meshing and solving do.
    """
    bicycle = reading.need_bicycle()
    model = bare_model(bicycle, pieces)
    # Rigid motions make no sound, so they do not count among the modes asked for.
    modes = Dynamics.of(model).modes(count + FREE_MOTIONS)
    held = LoadCase("bare")
    difference, reason = _second_opinion(model, held, modes)
    return Tapped(
        reading,
        model,
        pieces,
        # Tonnes to kg.
        1000 * float(modes.total_mass[0]),
        modes,
        describe(modes)[modes.rigid : modes.rigid + count],
        tuple(ring for ring in rings(modes) if ring.mode <= modes.rigid + count),
        difference,
        reason,
        (*reading.findings, *_findings((), difference), *_loose(modes, reading)),
    )


def _second_opinion(
    model: FrameModel, held: LoadCase, modes: Modes
) -> tuple[float | None, str | None]:
    reason = available()
    if reason is not None:
        return None, reason
    try:
        # As many as ours, rigid motions among them, so that both lists run side by side.
        theirs = modes_opensees(model, held.supports, len(modes), held.springs)
    except OpenSeesError as error:
        return None, str(error)
    # Rigid motions are rounding in both solvers: nothing to take a relative difference of.
    elastic = slice(modes.rigid, len(modes))
    ours = modes.frequencies_hz[elastic]
    if not ours.size:
        return None, "all modes asked for are rigid motions; ask for more with --count"
    return float(np.max(np.abs(theirs[elastic] / ours - 1))), None


def _findings(close: tuple[FrequencyGap, ...], difference: float | None) -> tuple[Finding, ...]:
    found = [
        Finding(
            "mode-in-cadence",
            "info",
            f"mode {gap.mode} ({gap.hz:.2f} Hz) meets the {gap.push} push of "
            f"pedalling at {gap.meets_rpm:.0f} rpm",
        )
        for gap in close
        if gap.percent == 0
    ]
    if difference is not None and not difference <= MODE_TOLERANCE:
        found.append(
            Finding(
                "modes-disagree",
                "error",
                f"frequencies differ from OpenSees by {difference:.1e}, at "
                f"most {MODE_TOLERANCE:.0e} is accepted; do not use them",
            )
        )
    return tuple(found)
