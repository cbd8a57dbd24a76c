"""Puts the tests' shared helpers on the path. The product itself is imported as it is installed (`make test`)."""

import os
import sys
from pathlib import Path

# One thread per process: small matrices gain nothing from more, and threads that wait for a busy core spin.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

HERE = Path(__file__).parent
for folder in (HERE,):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
