"""A finding: something noticed on the way that the builder should know, with a stable code."""

from dataclasses import asdict, dataclass
from typing import Literal

from .errors import one_line

Severity = Literal["info", "warning", "error"]


@dataclass(frozen=True)
class Finding:
    """One thing noticed.

    code : stable lower-case key such as ``closure-stack``; listed in the error catalogue.
    severity : ``info`` (for the record), ``warning`` (look at it), ``error`` (the result must not be used).
    message : one sentence with the item, its value, the expected range and what to do.
    where : file, row/column, entity handle, layer or node; empty where there is no place.
    """

    code: str
    severity: Severity
    message: str
    where: str = ""

    def __post_init__(self) -> None:
        for name in ("message", "where"):
            object.__setattr__(self, name, one_line(getattr(self, name)))

    def as_dict(self) -> dict[str, str]:
        return asdict(self)
