"""Every error droptrail raises on purpose. Each message is one line in workshop language."""


class FrameError(Exception):
    """Root of the family: catch this to catch everything droptrail refuses."""


class ModelError(FrameError, ValueError):
    """A value, section, tube or model that cannot be; the message names item, value and limit."""


class MechanismError(ModelError):
    """The model can move without resistance; the message names the free motion."""


class InputError(FrameError, ValueError):
    """A file that cannot be read or does not hold what is needed."""
