"""Output shown in the documents is produced by the commands above it, never typed.

A block to be generated looks like this in Markdown::

    <!-- run: droptrail geometry sample_drawings/tourer_700c.csv -->
    ```text
    ...
    ```

`python tests/helpers_docs.py` writes all blocks anew; a test runs the commands and compares.
"""

import io
import re
import shlex
import sys
from contextlib import redirect_stdout
from pathlib import Path

ROOT = Path(__file__).parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))
BLOCK = re.compile(r"(<!-- run: (?P<command>droptrail .*?)(?: \| (?P<slice>head|tail) (?P<count>\d+))? -->\n```text\n)"
                   r"(?P<shown>.*?)(?P<end>```)", re.S)
TINY = re.compile(r"\d(?:\.\d)?e-(?:0[5-9]|[1-9]\d)")  # rounding noise: differs from machine to machine


def run(command: str) -> str:
    """What a command prints, run in this process from the project's root; trailing spaces taken off."""
    from cli.main import main

    out = io.StringIO()
    with redirect_stdout(out):
        main(shlex.split(command)[1:])
    return "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


def sliced(text: str, match: re.Match) -> str:
    lines = text.splitlines()
    if match["slice"]:
        count = int(match["count"])
        lines = lines[:count] if match["slice"] == "head" else lines[-count:]
    return "\n".join(lines).strip("\n") + "\n"


def blocks(document: Path) -> list[re.Match]:
    return list(BLOCK.finditer(document.read_text(encoding="utf-8")))


def documents() -> list[Path]:
    return [p for p in (*ROOT.glob("*.md"), *ROOT.glob("*/*.md")) if BLOCK.search(p.read_text(encoding="utf-8"))]


def without_noise(text: str) -> str:
    return TINY.sub("~", text)


def rewrite(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    document.write_text(BLOCK.sub(lambda m: m[1] + sliced(run(m["command"]), m) + m["end"], text), encoding="utf-8")


if __name__ == "__main__":
    import os

    os.chdir(ROOT)
    for path in documents():
        rewrite(path)
        print(path.relative_to(ROOT))
