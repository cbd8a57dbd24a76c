"""A search on disk: a folder that can be stopped at any moment and taken up again.

``manifest.json`` says which search it is; ``part-*.parquet`` (or ``.csv``) hold the variants within the limits, one
file per finished chunk; ``chunk-*.npz`` hold each chunk's summary and are written last: a chunk counts as done
when its summary is there. Every file is written beside itself and renamed, so a stop leaves no half of one.
"""

import csv
import json
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Literal
from zipfile import BadZipFile

import numpy as np

from ....model.choice.search import ChunkResult, Search
from ....model.choice.search_chunk import Summary, Variants
from ....model.choice.variants import described
from ....model.errors import InputError
from ....model.version import VERSION
from ..fitsheet.table import guard
from ..writing import new_file, write_text

Format = Literal["parquet", "csv"]
# six digits and more: names sort in the order of the chunks up to a million of them
_CHUNK = re.compile(r"chunk-(\d{6,})\.npz")


@dataclass(frozen=True)
class Store:
    """An open folder. `done` chunks were there when it was opened."""

    folder: Path
    search: Search
    format: Format
    done: frozenset[int]

    def add(self, result: ChunkResult) -> None:
        """Write one finished chunk: its variants first, then its summary."""
        # most chunks of a narrow search hold nothing within the limits: no file for those
        if len(result.within):
            # force: a chunk may be there from a run that was stopped before its summary
            with new_file(
                self.folder / f"part-{result.number:06d}.{self.format}", force=True
            ) as path:
                _WRITERS[self.format](path, self._columns(result.within))
        with new_file(self.folder / f"chunk-{result.number:06d}.npz", force=True) as path:
            np.savez(path, **_packed(result.summary))

    def summary(self) -> Summary:
        """Everything that is done so far, merged."""
        total = self.search.kernel.nothing
        # in the order of the chunks, so that ties are settled as in a run that was not stopped
        for number in sorted(self.done):
            total = self.search.kernel.merged(
                total, self._read(self.folder / f"chunk-{number:06d}.npz")
            )
        return total

    def _read(self, path: Path) -> Summary:
        try:
            # no pickles: a folder that was passed on must not be able to run code
            with np.load(path, allow_pickle=False) as held:
                return _unpacked(held)
        except (OSError, ValueError, KeyError, EOFError, BadZipFile, zlib.error) as error:
            raise InputError(
                f"{path}: this summary is damaged ({error}); delete the file and resume, that chunk is "
                "then worked out again"
            ) from error

    def _columns(self, variants: Variants) -> dict[str, Any]:
        """Column name -> values: variant number, one text per tube, one number per figure."""
        picks = self.search.kernel.grid.choices(variants.numbers)
        columns: dict[str, Any] = {"variant": variants.numbers}
        for tube, options, k in zip(self.search.tubes, self.search.options, picks.T, strict=True):
            # the texts once and a number per variant: a grid repeats each of them a million times
            columns[tube] = (np.array([described(option) for option in options]), k)
        return columns | {
            f.key: column for f, column in zip(self.search.figures, variants.figures.T, strict=True)
        }


def open_store(
    folder: str | Path,
    search: Search,
    chunk: int,
    file_format: Format | None = None,
    resume: bool = False,
) -> Store:
    """Begin a new folder, or take up an old one with `resume`. Without a format: Parquet where pyarrow is installed.

    Raises
    ------
    InputError
        When the folder holds a search already and `resume` is not given, or holds one with other inputs, or
        Parquet is asked for without its library.
    """
    folder = Path(folder)
    if file_format is None:
        # looked for and not imported: it is slow to load and may not be needed
        if find_spec("pyarrow") is None:
            file_format = "csv"
        else:
            file_format = "parquet"
    elif file_format == "parquet":
        _need_pyarrow()
    manifest = folder / "manifest.json"
    if manifest.exists():
        if not resume:
            raise InputError(
                f"{folder} holds a search already; add --resume to go on with it, or choose another "
                "folder"
            )
        # other inputs would mix two searches in one folder, each half right
        _check_same(manifest, search, chunk, file_format)
        return Store(folder, search, file_format, _finished(folder))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        used = any(folder.iterdir())
    except OSError as error:
        raise InputError(f"{folder}: {error.strerror or error}") from error
    # a folder of somebody's own files is no place for thousands of chunks
    if used:
        raise InputError(f"{folder} is not empty and holds no search; choose a new folder")
    # the manifest first: from then on the folder is known as a search
    write_text(manifest, json.dumps(_manifest(search, chunk, file_format), indent=1))
    return Store(folder, search, file_format, frozenset())


def _manifest(search: Search, chunk: int, file_format: Format) -> dict[str, Any]:
    tubes = {}
    for tube, options in zip(search.tubes, search.options, strict=True):
        tubes[tube] = list(map(described, options))
    return {
        "format": file_format,
        # the fingerprint is what is compared; the rest is for people who look into the folder
        "input": search.fingerprint(chunk),
        "version": VERSION,
        "variants": search.size,
        "chunk": chunk,
        "limits": list(search.limit_texts),
        "objectives": list(search.objective_texts),
        "tubes": tubes,
        "figures": [figure.as_dict() for figure in search.figures],
    }


def _check_same(manifest: Path, search: Search, chunk: int, file_format: Format) -> None:
    try:
        held = json.loads(manifest.read_text(encoding="utf-8"))
        same = held["input"] == search.fingerprint(chunk) and held["format"] == file_format
    # the file may have been edited, so anything in it can be missing or of another kind
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise InputError(
            f"{manifest}: not the manifest of a search ({error}); choose another folder"
        ) from error
    if not same:
        raise InputError(
            f"{manifest.parent} holds a search with other inputs (frame, tubes, limits, objectives, mesh, "
            "chunk size, file format or version); resume it with the same ones, or choose a new folder"
        )


def _finished(folder: Path) -> frozenset[int]:
    return frozenset(
        # what is being written still has another name, and so does not count
        int(match[1])
        for path in folder.iterdir()
        if (match := _CHUNK.fullmatch(path.name))
    )


# --- summaries ------------------------------------------------------------------------------------------------
def _packed(summary: Summary) -> dict[str, Any]:
    # limits without any variant are left out, and their numbers told apart
    without = [(k, one) for k, one in enumerate(summary.without) if len(one)]
    joined = Variants.joined(
        # all in one array: npz keeps an array a name, and the number of limits varies
        [one for _, one in without] or [summary.best.pick(np.zeros(0, dtype=int))]
    )
    return {
        "counts": np.array([summary.seen, summary.within]),
        "broken": summary.broken,
        "alone": summary.alone,
        "without_limit": np.array([k for k, _ in without], dtype=np.int64),
        "without_numbers": joined.numbers,
        "without_figures": joined.figures,
        "best_numbers": summary.best.numbers,
        "best_figures": summary.best.figures,
        "front_numbers": summary.front.numbers,
        "front_figures": summary.front.figures,
    }


def _unpacked(held: Any) -> Summary:
    parts = {
        name: Variants(held[f"{name}_numbers"], held[f"{name}_figures"])
        for name in ("without", "best", "front")
    }
    limits = held["without_limit"]
    without = tuple(
        # every limit gets its part back, also those that were empty
        parts["without"].pick(np.flatnonzero(limits == k))
        for k in range(len(held["broken"]))
    )
    return Summary(
        # plain integers, as in a summary that never was on disk
        int(held["counts"][0]),
        int(held["counts"][1]),
        held["broken"],
        held["alone"],
        without,
        parts["best"],
        parts["front"],
    )


# --- files ----------------------------------------------------------------------------------------------------
def _need_pyarrow() -> None:
    if find_spec("pyarrow") is None:
        raise InputError(
            "Parquet needs the library pyarrow: pip install pyarrow, or choose --format csv"
        )


def _write_parquet(path: Path, columns: dict[str, Any]) -> None:
    pa: Any = import_module("pyarrow")
    arrays = {
        # 32 bits are ample for the options of one tube
        name: pa.DictionaryArray.from_arrays(held[1].astype(np.int32), held[0].tolist())
        if isinstance(held, tuple)
        else pa.array(held)
        for name, held in columns.items()
    }
    import_module("pyarrow.parquet").write_table(pa.table(arrays), path, compression="zstd")


def _write_csv(path: Path, columns: dict[str, Any]) -> None:
    cells: list[Sequence[object]] = []
    for held in columns.values():
        if isinstance(held, tuple):
            names, numbers = held
            # guarded: a spreadsheet would run a text that begins like a formula
            cells.append([guard(names[k]) for k in numbers])
        else:
            cells.append(held.tolist())
    with path.open("w", encoding="utf-8", newline="") as file:
        write = csv.writer(file, lineterminator="\n")
        write.writerow(columns)
        write.writerows(zip(*cells, strict=True))


_WRITERS = {"parquet": _write_parquet, "csv": _write_csv}
