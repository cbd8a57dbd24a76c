"""`droptrail shimmy`: the wobble mode against speed, and what moves it."""

from pathlib import Path
from typing import Any

import click

from . import show
from .options import input_argument, json_option, read, reading_options


@click.command("shimmy")
@input_argument
@click.option(
    "--speeds", default="3-20", show_default=True, metavar="M/S-M/S", help="Speed range, m/s."
)
@reading_options
@json_option
def command(source: Path, speeds: str, as_json: bool, **how: Any) -> int:
    """Frequency and damping of the wobble of INPUT, hands off, over speed - to compare set-ups, not a promise."""
    import numpy as np

    from ..converters.showing.result_json import stamped
    from ..model.stability.shimmy import shimmy_study
    from ..model.stability.shimmy_flex import fork_flex, head_flex
    from ..model.stability.shimmy_setup import bicycle_parameters

    reading = read(source, **how)
    bicycle = reading.need_bicycle()
    rider = bicycle_parameters(bicycle, head=head_flex(bicycle), fork=fork_flex(bicycle))
    study = shimmy_study(rider, np.linspace(*_range(speeds), 35))
    seen = study.reference
    if rider.head is not None:
        stiffness = rider.head.turn_stiffness * np.pi / 180
    else:
        stiffness = None
    if as_json:
        show.print_json(
            stamped(
                reading,
                {
                    "source": reading.source,
                    "input_sha256": reading.sha256,
                    "caution": study.caution,
                    "head_stiffness": {"value": stiffness, "unit": "N·m/deg"},
                    "speeds_m_s": seen.speeds,
                    "frequency_hz": seen.frequency_hz,
                    "damping_ratio": seen.damping_ratio,
                    "eigenvalues": [[[v.real, v.imag] for v in row] for row in seen.eigenvalues],
                    "variants": study.rows(),
                },
                reading.findings,
                rider.assumed,
            )
        )
        return int(show.serious(reading.findings))
    show.table(
        f"Wobble of {reading.source}, hands off",
        ("speed m/s", "frequency Hz", "damping ratio"),
        [
            (f"{v:.1f}", f"{f:.2f}", f"{d:+.3f}")
            for v, f, d in list(
                zip(seen.speeds, seen.frequency_hz, seen.damping_ratio, strict=True)
            )[::4]
        ],
    )
    show.table(
        "What moves it: least damping over the speed range",
        ("set-up", "frequency Hz", "damping ratio", "change", "at m/s", "grows from m/s", "to m/s"),
        [_row(row) for row in study.rows()],
    )
    if stiffness is not None:
        show.paragraph(
            f"Head against rear axle, condensed from the frame: {stiffness:.0f} N·m/degree."
        )
    show.paragraph("Negative damping: a disturbance grows. " + study.caution)
    show.findings(reading.findings)
    show.assumed(rider.assumed)
    return int(show.serious(reading.findings))


def _row(row: dict[str, Any]) -> tuple[object, ...]:
    return (
        row["variant"],
        f"{row['frequency_hz']:.2f}",
        show.signed(row["damping_ratio"], 3),
        show.signed(row["damping_change"], 3),
        *(
            "-" if row[key] is None else f"{row[key]:.1f}"
            for key in ("at_speed_m_s", "grows_from_m_s", "grows_to_m_s")
        ),
    )


def _range(text: str) -> tuple[float, float]:
    low, _, high = text.partition("-")
    try:
        first = float(low)
        last = float(high)
    except ValueError as error:
        raise click.UsageError(f"--speeds {text}: give two speeds in m/s, such as 3-20") from error
    if not 0 < first < last <= 60:
        raise click.UsageError(f"--speeds {text}: give two rising speeds between 0 and 60 m/s")
    return first, last
