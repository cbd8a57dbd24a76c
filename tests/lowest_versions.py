"""Prints the lowest version that pyproject.toml allows of every library droptrail itself needs, as pip constraints.

    make test-lowest

Tools of the developer (pytest, ruff ...) stay at the tested versions: nobody who uses droptrail meets those.
"""

import tomllib
from pathlib import Path

from packaging.requirements import Requirement

# What the oldest matplotlib was released beside: newer ones warn of names that it still uses.
BESIDE = ("pyparsing<3.2",)
PYPROJECT = Path(__file__).parent.parent / "pyproject.toml"


def lowest(text: str) -> str | None:
    """`numpy>=1.26,<3` -> `numpy==1.26`, with its marker; None where no lower bound is stated."""
    need = Requirement(text)
    floors = [part.version for part in need.specifier if part.operator in (">=", "==")]
    if not floors:
        return None
    pinned = f"{need.name}=={floors[0]}"
    if need.marker is None:
        return pinned
    return f"{pinned}; {need.marker}"


def constraints() -> list[str]:
    """One line for every run-time dependency and for the extra `search`."""
    project = tomllib.loads(PYPROJECT.read_text(encoding="utf-8"))["project"]
    needs = [*project["dependencies"], *project["optional-dependencies"]["search"]]
    pinned = [lowest(need) for need in needs]
    return [*(line for line in pinned if line is not None), *BESIDE]


if __name__ == "__main__":
    print("\n".join(constraints()))
