"""`droptrail audit`: how far each figure can be trusted, in one table a sceptic would accept."""

from dataclasses import asdict
from math import isnan
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from . import show
from .options import case_options, input_argument, json_option, read, reading_options

if TYPE_CHECKING:
    from ..validation.audit import Audit
    from ..validation.audit_wobble import WobbleAudit


@click.command("audit")
@input_argument
@reading_options
@case_options
@json_option
def command(source: Path, as_json: bool, names: tuple[str, ...], **how: Any) -> int:
    """Audit INPUT: mesh error, second solver, equilibrium, theory, drawing tolerance, closed forms, wobble index."""
    from ..converters.analysis import assumptions, case_maker, model_and_cases
    from ..converters.showing.result_json import stamped
    from ..validation.audit import audit
    from ..validation.audit_model import audit_model
    from ..validation.audit_wobble import audit_wobble

    reading = read(source, **how)
    if reading.model is not None:
        # no tubes to mesh anew: the pieces it has are halved
        done = audit_model(*model_and_cases(reading, names))
    else:
        done = audit(reading.need_bicycle(), case_maker(reading, names))
    # a wobble needs tyres, a rider and a bicycle
    wobble = None
    if reading.model is None:
        wobble = audit_wobble(reading.need_bicycle())
    found = (*reading.findings, *done.findings)
    assumed = assumptions(reading)
    if as_json:
        fields = {**audit_json(reading.source, done), "wobble": _wobble_json(wobble)}
        show.print_json(stamped(reading, fields, found, assumed))
    else:
        _print(reading.source, done)
        if wobble is not None:
            from ..validation.audit_wobble import wobble_audit_tables

            show.noted(wobble_audit_tables(wobble))
        # findings and assumptions last, next to the verdict, so that they are not scrolled away
        show.findings(found)
        show.assumed(assumed)
        show.caution()
        print(f"\nVerdict: {_verdict_words(done)}")
    return show.exit_code(found, not done.ok, done.crossed)


def _verdict_words(done: "Audit") -> str:
    if not done.ok:
        return "FAIL"
    # passing without the second solver is a pass with that said, never a plain one
    if not done.crossed:
        return f"PASS; {show.ONLY_UNCROSSED}"
    return "PASS"


def audit_json(source: str, done: "Audit") -> dict[str, Any]:
    """The audit as one object with stable keys."""
    from ..converters.showing.choice.held_table import held_json

    figures = [asdict(row) for row in done.figures]
    evidence = [asdict(row) for row in done.evidence]
    # the two properties are not fields, so asdict leaves them out
    ladder = [{**asdict(rung), "error": rung.error, "ok": rung.ok} for rung in done.rungs]
    return {
        "source": source,
        "verdict": "pass" if done.ok else "fail",
        "elements": done.elements,
        "lots": done.lots,
        "figures": figures,
        "evidence": evidence,
        "held_how": held_json(done.held),
        "ladder": ladder,
    }


def _wobble_json(wobble: "WobbleAudit | None") -> dict[str, Any] | None:
    if wobble is None:
        return None
    low, middle, high = wobble.band_error
    return {
        "most": wobble.need,
        "at_speed_m_s": wobble.at,
        "mesh_bar": wobble.mesh_bar,
        "choices": list(map(asdict, wobble.choices)),
        "deciders": list(map(asdict, wobble.deciders)),
        "band_error": {"low": low, "middle": middle, "high": high},
        "share_error": wobble.share_error,
    }


def _print(source: str, done: "Audit") -> None:
    from ..converters.showing.choice.held_table import held_audit_table
    from ..validation.tables import ORDERLY, joint_table, mesh_words, order_words

    show.table(
        f"How far to trust the figures of {source}, {done.elements} elements; all changes in percent",
        (
            "case",
            "measured",
            "value",
            "unit",
            "mesh ±",
            "order",
            "without shear",
            "rigid zones",
            # no lots drawn: a dash, which is not a spread of zero
            "drawing ±",
            "by lots ±",
        ),
        [
            (
                row.case,
                row.title,
                row.value,
                row.unit,
                mesh_words(row),
                order_words(row),
                show.signed(row.without_shear),
                show.signed(row.rigid_zones),
                "-" if isnan(row.drawing_linear) else f"{row.drawing_linear:.2f}",
                "-" if row.drawing_lots is None else f"{row.drawing_lots:.2f}",
            )
            for row in done.figures
        ],
    )
    words = (
        "mesh ±: Richardson's error bar from the mesh halved twice; order: how fast it falls, 2 expected, "
        f"not told below {ORDERLY:g} %. without shear, rigid zones: the change when that assumption is "
        "swapped. "
    )
    if done.drawn:
        words += (
            "drawing ±: 95 % of frames drawn within ±0.5 mm and ±0.1 degree "
            f"lie within this, by linear propagation and by {done.lots} lots drawn on a coarser mesh."
        )
    else:
        words += (
            "The pieces are halved as they are, so steps in a taper stay steps; rigid zones, joints and the drawing's "
            "tolerance need a bicycle and are left open."
        )
    show.paragraph(words)
    print()
    if done.held:
        show.noted([held_audit_table(done.held)])
    show.table(
        "Evidence of each solve",
        (
            "case",
            "residual",
            # why there is no comparison stands where its number would, not as an empty cell
            "force balance",
            "moment balance",
            "condition",
            "reciprocity",
            "OpenSees, same mesh",
        ),
        [
            (
                e.case,
                f"{e.residual:.0e}",
                f"{e.force_balance:.0e}",
                f"{e.moment_balance:.0e}",
                f"{e.condition:.0e}",
                f"{e.reciprocity:.0e}",
                f"{e.opensees:.0e}" if e.opensees is not None else e.opensees_reason,
            )
            for e in done.evidence
        ],
    )
    # joints after the solver's own evidence: they are the frame's matter, not the numbers'
    if done.drawn:
        show.shown(joint_table(done))
        show.paragraph(
            "Changes with all tubes joined in one way (METHODS.md, section 25), and the three sizes that stiffen most "
            "for their weight then. Where they differ, the kind of joint decides what to buy."
        )
        print()
    show.table(
        "Closed forms solved on the spot",
        ("case", "formula", "expected", "got", "unit", "error", "within"),
        [
            (r.name, r.formula, r.expected, r.got, r.unit, f"{r.error:.0e}", r.ok)
            for r in done.rungs
        ],
    )
    for rung in done.rungs:
        if rung.why:
            show.paragraph(f"{rung.name}: {rung.why}.")
