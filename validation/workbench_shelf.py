"""The shelf: kept bicycles as fit sheets in a plain folder, opened again and put side by side on the served page.

Every file is an ordinary fit sheet that any spreadsheet opens; there is no list beside them. Nothing on the shelf is
ever overwritten or deleted from the page.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ..converters.analysis import case_maker
from ..converters.files.fitsheet.endings import SHEET_ENDINGS
from ..converters.files.writing import write_bytes
from ..converters.inputs import read_input
from ..converters.showing.choice.side_table import side_tables
from ..converters.showing.report.beside import beside_figure
from ..converters.showing.report.page import render_part
from ..model.choice.side_by_side import SideBicycle, side_by_side
from ..model.errors import InputError
from .workbench import MAX_SHEET, Bench, Upload, sheet_file

MOST = 4  # side by side on a page, the bench included
LETTERS = 60  # of a name
ON_THE_BENCH = "on the bench"
MODES_BESIDE = 6  # natural frequencies put side by side


@dataclass(frozen=True)
class Shelf:
    """A folder of kept sheets; None where the page was started without one."""

    folder: Path | None

    def names(self) -> list[str]:
        """The sheets on it, by name."""
        if self.folder is None:
            return []
        try:
            found = [path for path in self.folder.iterdir() if _is_sheet(path)]
        except OSError as error:
            raise InputError(f"{self.folder}: {error.strerror or error}") from error
        return sorted((path.name for path in found), key=str.casefold)

    def keep(self, bench: Bench, name: str) -> str:
        """Put the bicycle on the bench on the shelf; returns the file's name.

        Raises InputError where a sheet of that name is there already, or the folder cannot be written.
        """
        data = sheet_file(bench)
        ending = ".csv"
        # The bench keeps the kind of sheet it came in; these are the first bytes of an .xlsx.
        if data.startswith(b"PK\x03\x04"):
            ending = ".xlsx"
        plain = _plain(name)
        if not plain:
            raise InputError("give the kept bicycle a name of letters and digits")
        path = self._folder() / f"{plain}{ending}"
        if path.exists():
            raise InputError(f"there is a {path.name} on the shelf already; choose another name")
        write_bytes(path, data)
        return path.name

    def opened(self, name: str) -> Upload:
        """A kept sheet. Raises InputError for a name that is not on the shelf."""
        path = self._path(name)
        try:
            # Before it is read into memory.
            if path.stat().st_size > MAX_SHEET:
                raise InputError(f"{name}: larger than a fit sheet is")
            return Upload(path.name, path.read_bytes())
        except OSError as error:
            raise InputError(f"{name}: {error.strerror or error}") from error

    def beside(self, bench: Bench, names: Sequence[str]) -> str:
        """The bench and kept bicycles side by side, as mark-up: tables, and the frames drawn over one another."""
        if not 1 <= len(names) < MOST:
            raise InputError(
                f"tick one to {MOST - 1} kept bicycles to put beside the one on the bench"
            )
        readings = [read_input(self._path(name)) for name in names]
        # The bench last: the last one's change against the first is told in percent.
        labels = [*names, ON_THE_BENCH]
        every = [*readings, bench.reading]
        bicycles = [
            SideBicycle(label, one.dimensions, one.bicycle, case_maker(one, ()))
            for label, one in zip(labels, every, strict=True)
        ]
        tables = side_tables(labels, side_by_side(bicycles, count=MODES_BESIDE))
        frames = [(one.name, one.dimensions, one.bicycle) for one in bicycles]
        drawn = beside_figure(frames, "bottom_bracket")
        # with its title each: "saddle, downwards" stands in more than one of them
        return drawn + "".join(render_part("titled", table) for table in tables)

    def page(self) -> dict[str, Any]:
        """What the page shows of it."""
        if self.folder is None:
            return {"folder": None, "names": []}
        return {"folder": str(self.folder), "names": self.names()}

    def _folder(self) -> Path:
        if self.folder is None:
            raise InputError(
                "the page was started without a shelf; start it with: droptrail serve --shelf FOLDER"
            )
        return self.folder

    def _path(self, name: str) -> Path:
        """Only what `names` lists can be opened: no path, no other folder."""
        if name not in self.names():
            raise InputError(f"'{name[:LETTERS]}' is not on the shelf")
        return self._folder() / name


def _is_sheet(path: Path) -> bool:
    # Dot files are what systems and programs leave beside a sheet.
    return path.suffix.lower() in SHEET_ENDINGS and not path.name.startswith(".") and path.is_file()


def _plain(name: str) -> str:
    kept = "".join(c if c.isalnum() or c in " -_." else "-" for c in name)
    return " ".join(kept.split()).strip(" .-")[:LETTERS]


NO_SHELF = Shelf(None)
