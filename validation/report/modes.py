"""The report's part on vibration: modes to animate, in words, against the pushes of pedalling."""

from typing import Any

from ...converters.showing.report.scene import Colours, mode_json
from ...converters.showing.table import HZ_DIGITS, Column, Kind, Row, Table
from ...model.mechanics.frame_model import FrameModel
from ...model.words import spoken
from ..tables import gap_words, nearest_pushes, response_table
from ..vibration import Vibration


def mode_scene(done: Vibration, model: FrameModel) -> list[dict[str, Any]]:
    """Every elastic mode on the nodes of the static model, coloured by energy too."""
    # The page draws the static model's nodes; the vibrating model numbers its own.
    at = [done.model.node_index[node] for node in model.nodes]
    out = []
    # Rigid motions bend nothing.
    for k in range(done.modes.rigid, len(done.modes)):
        shape = done.modes.shapes[k][at][:, :3]
        words = done.words[k]
        colours = {"energy": _energy(done, k, model)}
        out.append(mode_json(words.hz, words.title, shape, colours, model.span))
    return out


def _energy(done: Vibration, k: int, model: FrameModel) -> Colours:
    # Kinds of energy together: the colour tells where, not how.
    per_element = done.modes.element_energy[k].sum(axis=1)
    members: dict[str, float] = {}
    for element, share in zip(done.model.elements, per_element, strict=True):
        # By member, as the two models need not be cut into the same elements.
        members[element.member] = members.get(element.member, 0.0) + float(share)
    return Colours(
        "strain energy of the whole tube",
        "% of the total",
        [100 * members.get(element.member, 0.0) for element in model.elements],
    )


def mode_blocks(done: Vibration) -> list[Table]:
    """Modes in words with the nearest push of pedalling; forced response of steady pedalling."""
    nearest = nearest_pushes(done.gaps)
    rows: list[Row] = [
        (
            f"{w.number}. {w.title}",
            w.hz,
            _members(w.members),
            *gap_words(nearest.get(w.number)),
        )
        for w in done.words[done.modes.rigid :]
    ]
    if done.case.notes:
        notes = f"Held and laden: {done.case.notes}."
    else:
        notes = ""
    tables = [Table("modes", "Natural modes", _MODES, rows, notes + _second_opinion(done))]
    if done.response is not None:
        tables.append(response_table(done.response))
    return tables


_MODES = (
    Column("mode", "mode"),
    Column("frequency", "frequency", Kind.NUMBER, "Hz", HZ_DIGITS),
    Column("where", "where it bends"),
    Column("push", "nearest push of pedalling"),
    Column("gap", "gap"),
)


def _members(members: dict[str, float]) -> str:
    return ", ".join(
        f"{spoken(name)} {100 * share:.0f} %" for name, share in list(members.items())[:3]
    )


def _second_opinion(done: Vibration) -> str:
    if done.difference is None:
        if done.not_crossed:
            return f" Frequencies not cross-checked: {done.not_crossed}."
        return ""
    return f" Frequencies found again by OpenSees: largest difference {done.difference:.0e}."
