"""Puts the tests' shared helpers on the path. The product itself is imported as it is installed (`make test`)."""

import os
import sys
from pathlib import Path

from hypothesis import HealthCheck, settings

# One thread per process: small matrices gain nothing from more, and threads that wait for a busy core spin.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# No test has a clock, those with random inputs neither: on a busy machine they would fail now and then.
settings.register_profile(
    "without a clock", deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("without a clock")

HERE = str(Path(__file__).parent)
if HERE not in sys.path:
    sys.path.insert(0, HERE)
