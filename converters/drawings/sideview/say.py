"""How the recognition words its findings: one code prefix, members by their trade names."""

from ....model.findings import Finding, Severity


def find(code: str, severity: Severity, message: str, where: str = "") -> Finding:
    """A finding of the side view; its code begins with `side-`."""
    return Finding(f"side-{code}", severity, message, where)
