"""Every error droptrail raises on purpose. Each message is one line in workshop language."""

LONGEST = 1_500  # characters of a message; what is beyond comes out of a file, not out of droptrail


class FrameError(Exception):
    """Root of the family: catch this to catch everything droptrail refuses. Its text is always one printable line."""

    def __str__(self) -> str:
        return one_line(super().__str__())


def one_line(text: str) -> str:
    """The text fit for a terminal and a report: what a file holds can bring line ends, escapes, endless numbers."""
    line = "".join(
        c if c.isprintable() else " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text
    )
    if len(line) <= LONGEST:
        return line
    return f"{line[: LONGEST // 2]} ... {line[-LONGEST // 2 :]}"


class ModelError(FrameError, ValueError):
    """A value, section, tube or model that cannot be; the message names item, value and limit."""


class MechanismError(ModelError):
    """The model can move without resistance; the message names the free motion."""


class InputError(FrameError, ValueError):
    """A file that cannot be read or does not hold what is needed."""


class UnknownNameError(InputError, ModelError):
    """A name that somebody typed and that nothing has; the message lists the known ones."""
