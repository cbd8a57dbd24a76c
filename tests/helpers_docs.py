"""Output shown in the documents is produced by the commands above it, never typed.

A block to be generated looks like this in Markdown::

    <!-- run: droptrail geometry sample_drawings/tourer_700c.csv -->
    ```text
    ...
    ```

`| head 9`, `| tail 9` or `| lines 5-20` behind the command shows a part. A document with a line

    <!-- in a folder with: sample_drawings/tourer_700c.dxf sample_drawings/tourer_700c.csv -->

has its commands run one after another in an empty folder that holds copies of these files, so that they may write;
there each block begins with the command as one would type it.
`python tests/helpers_docs.py` writes all blocks anew; a test runs the commands and compares.
"""

import io
import re
import shlex
import shutil
import sys
from collections.abc import Iterator
from contextlib import chdir, contextmanager, redirect_stdout
from pathlib import Path
from tempfile import TemporaryDirectory

ROOT = Path(__file__).parent.parent
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))
BLOCK = re.compile(
    r"(<!-- run: (?P<command>droptrail .*?)(?: \| (?P<slice>head|tail|lines) (?P<count>[\d-]+))? -->\n"
    r"```text\n)(?P<shown>.*?)(?P<end>```)",
    re.S,
)
FOLDER = re.compile(r"<!-- in a folder with:(?P<files>.*?) -->", re.S)
TINY = re.compile(
    r"\d(?:\.\d)?e-(?:0[5-9]|[1-9]\d)|\b0e\+00"
)  # rounding noise, none included: differs from machine to machine


def run(command: str) -> str:
    """What a command prints, run in this process from the project's root; trailing spaces taken off."""
    return run_with_code(command)[1]


def run_with_code(command: str) -> tuple[int, str]:
    """Exit code and what is printed, as `run`."""
    from droptrail.cli.main import main

    out = io.StringIO()
    with redirect_stdout(out):
        code = main(shlex.split(command)[1:])
    return code, "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"


def sliced(text: str, match: re.Match) -> str:
    lines = text.splitlines()
    if match["slice"]:
        first, _, last = match["count"].partition("-")
        cut = {
            "head": slice(int(first)),
            "tail": slice(-int(first), None),
            "lines": slice(int(first) - 1, int(last or first)),
        }[match["slice"]]
        lines = lines[cut]
    return "\n".join(lines).strip("\n") + "\n"


@contextmanager
def place(text: str) -> Iterator[None]:
    """Where a document's commands run: the project's root, or a folder of its own with the files it names."""
    wanted = FOLDER.search(text)
    with chdir(ROOT), TemporaryDirectory() as folder:
        if wanted:
            for name in wanted["files"].split():
                shutil.copy(ROOT / name, folder)
        with chdir(folder if wanted else ROOT):
            yield


def typed(command: str, width: int = 100) -> str:
    """``$ droptrail ...``, long ones carried on with a backslash before an option."""
    lines = ["$"]
    for part in re.split(r" (?=-)", command):
        if len(lines[-1]) + len(part) > width:
            lines.append("   ")
        lines[-1] += f" {part}"
    return " \\\n".join(lines) + "\n"


def fresh(match: re.Match, story: bool) -> str:
    """What a block has to show."""
    shown = sliced(run(match["command"]), match)
    return f"{typed(match['command'])}\n{shown}" if story else shown


def blocks(document: Path) -> list[re.Match]:
    return list(BLOCK.finditer(document.read_text(encoding="utf-8")))


def documents() -> list[Path]:
    return [
        p
        for p in (*ROOT.glob("*.md"), *ROOT.glob("*/*.md"))
        if BLOCK.search(p.read_text(encoding="utf-8"))
    ]


def without_noise(text: str) -> str:
    return TINY.sub("~", text)


def rewrite(document: Path) -> None:
    text = document.read_text(encoding="utf-8")
    story = bool(FOLDER.search(text))
    with place(text):
        written = BLOCK.sub(lambda m: m[1] + fresh(m, story) + m["end"], text)
    document.write_text(written, encoding="utf-8")


if __name__ == "__main__":
    for path in documents():
        rewrite(path)
        print(path.relative_to(ROOT))
