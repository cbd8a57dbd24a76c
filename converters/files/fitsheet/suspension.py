"""What a fit sheet may state of a suspension fork: names, ranges, and the words of its two rows of text.

Common practice, no source.
"""

from collections.abc import Mapping

from ....model.assumption import Assumed
from ....model.frame.suspension import SuspensionFork
from .table import SheetRow, bare

# What is stated of a suspension fork -> (kind, least, greatest, further names, note). Its key in the sheet begins with
# "suspension_"; the first name and the usual range are those of `model.frame.suspension.TYPICAL`.
SUSPENSION: Mapping[str, tuple[str, float, float, str, str]] = {
    "fore_aft": (
        "stiffness",
        5,
        1000,
        "fork stiffness fore-aft, suspension fore-aft, Federgabel Steifigkeit längs",
        "at the axle, held at the crown, square to the steering axis",
    ),
    "sideways": (
        "stiffness",
        5,
        1000,
        "fork stiffness sideways, suspension sideways, Federgabel Steifigkeit quer",
        "at the axle, held at the crown",
    ),
    "twist": (
        "twist stiffness",
        1,
        500,
        "fork twist stiffness, suspension twist, Federgabel Verdrehsteifigkeit",
        "at the axle about the steering axis, held at the crown",
    ),
    "mass": (
        "mass",
        0.3,
        6,
        "suspension fork weight, Federgabel Gewicht",
        "without its steerer",
    ),
    "sag": (
        "length",
        0,
        120,
        "sag, fork sag, Negativfederweg",
        "along the steering axis, rider aboard",
    ),
}

# The row "fork type", bare.
SPRUNG = (
    "suspension",
    "suspended",
    "sprung",
    "suspensionfork",
    "federgabel",
    "suspendue",
    "ammortizzata",
)
STIFF = ("rigid", "starr", "starrgabel", "rigide", "rigida")
# The row "dimensions hold", bare.
LADEN = ("atsag", "sag", "sagged", "rideraboard", "laden")
EXTENDED = ("extended", "forkextended", "unsagged", "withoutsag", "unladen", "static")


def suspension_fork(
    kind: SheetRow | None,
    state: SheetRow | None,
    stated: Mapping[str, float],
    assumed: list[Assumed],
) -> SuspensionFork | None:
    """The suspension fork: said by the row of the fork's type, or by any value that only such a fork has.

    state : the row that says when the dimensions hold. What is taken for granted is added to `assumed`.

    Raises
    ------
    InputError
        For a word that is not known, and for a rigid fork with values of a suspension fork.
    """
    values = {key.removeprefix("suspension_"): value for key, value in stated.items()}
    said = "" if kind is None else bare(kind["value"])
    if kind is not None and said not in (*SPRUNG, *STIFF):
        raise kind.refusal(f"fork type '{kind['value']}', expected rigid or suspension", "value")
    if kind is not None and said in STIFF and values:
        raise kind.refusal(
            f"the fork is '{kind['value']}' here, and other rows state a suspension fork; leave one out",
            "value",
        )
    if not values and said not in SPRUNG:
        return None
    fork = SuspensionFork(at_sag=_at_sag(state, assumed)).having(values)
    assumed.extend(fork.assumed())
    return fork


def _at_sag(state: SheetRow | None, assumed: list[Assumed]) -> bool:
    """Whether the sheet's dimensions hold with the rider aboard; assumed and told where it does not say."""
    if state is None:
        why = "the sheet does not say"
        held = "with the fork extended"
        assumed.append(Assumed("parts", "suspension_state", "dimensions hold", held, source=why))
        return False
    if bare(state["value"]) not in (*LADEN, *EXTENDED):
        raise state.refusal(
            f"dimensions hold '{state['value']}', expected 'at sag' or 'fork extended'", "value"
        )
    return bare(state["value"]) in LADEN
