"""Whether the mesher of the joint study works here: it comes with the developer's packages but loads libGLU."""

import os

import pytest


def _missing() -> str:
    try:
        import gmsh  # noqa: F401
    except (ImportError, OSError) as reason:
        return f"the mesher does not load: {reason}"
    return ""


_REASON = _missing()
# Where all tests must run, one that cannot is a fault and not a skip.
needs_gmsh = pytest.mark.skipif(bool(_REASON) and not os.environ.get("CI"), reason=_REASON or "-")
