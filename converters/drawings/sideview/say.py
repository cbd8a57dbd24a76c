"""How the recognition words its findings: one code prefix, members by their trade names."""

from ....model.findings import Finding, Severity

LOWER_RACE = "crown"  # where a doubt lies that a line across below the race brings up


def find(code: str, severity: Severity, message: str, where: str = "") -> Finding:
    """A finding of the side view; its code begins with `side-`."""
    return Finding(f"side-{code}", severity, message, where)
