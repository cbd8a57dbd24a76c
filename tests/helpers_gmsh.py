"""Whether the mesher of the joint study works here: it comes with the developer's packages but loads libGLU."""

import pytest


def _missing() -> str:
    try:
        import gmsh  # noqa: F401
    except (ImportError, OSError) as reason:
        return f"the mesher does not load: {reason}"
    return ""


_REASON = _missing()
needs_gmsh = pytest.mark.skipif(bool(_REASON), reason=_REASON or "-")
