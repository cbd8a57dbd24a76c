"""Puts the checkout's root and the tests' shared helpers on the path, so tests run without an install too."""

import sys
from pathlib import Path

HERE = Path(__file__).parent
for folder in (HERE.parent, HERE):
    if str(folder) not in sys.path:
        sys.path.insert(0, str(folder))
