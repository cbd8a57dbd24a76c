"""Every error droptrail raises on purpose. Each message is one line in workshop language."""

from collections.abc import Iterable

LONGEST = 1_500  # characters of a message; what is beyond comes out of a file, not out of droptrail


class FrameError(Exception):
    """Root of the family: catch this to catch everything droptrail refuses. Its text is always one printable line."""

    def __str__(self) -> str:
        return one_line(self.text())

    def text(self) -> str:
        """What is said, before it is made fit for a terminal."""
        return super().__str__()


def one_line(text: str) -> str:
    """The text fit for a terminal and a report: what a file holds can bring line ends, escapes, endless numbers."""
    line = "".join(
        c if c.isprintable() else " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text
    )
    if len(line) <= LONGEST:
        return line
    return f"{line[: LONGEST // 2]} ... {line[-LONGEST // 2 :]}"


class ModelError(FrameError, ValueError):
    """A value, section, tube or model that cannot be; the message names item, value and limit.

    value : the text as written that the message quotes first, where it quotes one.
    """

    def __init__(self, said: str = "", *, value: str = "") -> None:
        super().__init__(said)
        self.value = value


class MechanismError(ModelError):
    """The model can move without resistance; the message names the free motion."""


class InputError(FrameError, ValueError):
    """A file that cannot be read or does not hold what is needed.

    reason : what is wrong and what to do. source, row, item, column : the place, where there is one; rows count from 1,
    `item` is what the row is about. value : the text as written that `reason` is about. lines : handles of the lines of
    a drawing that it is about. option : the option of the command line that `reason` names as the way out. The message
    is put together of them and never read back.
    """

    def __init__(
        self,
        reason: str,
        *,
        source: str = "",
        row: int = 0,
        item: str = "",
        column: str = "",
        value: str = "",
        lines: Iterable[str] = (),
        option: str = "",
    ) -> None:
        super().__init__(reason)
        self.reason = reason
        self.source = source
        self.row = row
        self.item = item
        self.column = column
        self.value = value
        self.lines = frozenset(lines)
        self.option = option

    def text(self) -> str:
        # only what is known: an option of the command line has no file and no row
        place = [self.source] if self.source else []
        if self.row:
            place.append(f"row {self.row}")
        if self.item:
            place.append(self.item)
        if self.column:
            place.append(f"column {self.column.replace('_', ' ')}")
        if not place:
            return self.reason
        return f"{', '.join(place)}: {self.reason}"


class UnknownNameError(InputError, ModelError):
    """A name that somebody typed and that nothing has; the message lists the known ones."""
