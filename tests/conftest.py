"""Puts the checkout's root and the tests' shared helpers on the path, so tests run without an install too."""

import os
import sys
from pathlib import Path

# One thread per process: small matrices gain nothing from more, and threads that wait for a busy core spin.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

HERE = Path(__file__).parent
for folder in (HERE.parent, HERE):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
