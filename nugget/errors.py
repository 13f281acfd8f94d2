"""The errors that nugget raises on purpose."""

from __future__ import annotations


class NuggetError(Exception):
    """Base class of every error that nugget raises on purpose."""


class InputError(NuggetError):
    """Something that the user wrote cannot be used.

    Parameters
    ----------
    where : str
        File and key path, for example ``"mine.toml: strip.width"``.
    given : object
        What was found there.
    expected : str
        What would have been accepted.
    """

    def __init__(self, where: str, given: object, expected: str) -> None:
        self.where, self.given, self.expected = where, given, expected
        super().__init__(f"{where}: got {given!r}, expected {expected}")

    def __reduce__(self) -> tuple[type, tuple[str, object, str]]:
        # The default would hand only the message to __init__, so an error raised in a
        # worker process could not travel home.
        return type(self), (self.where, self.given, self.expected)


class MarchError(NuggetError):
    """The march in time cannot go on.

    Parameters
    ----------
    time_s : float
        Time since the start of the first pulse [s].
    why : str
        The reason, in words.
    """

    def __init__(self, time_s: float, why: str) -> None:
        self.time_s, self.why = time_s, why
        super().__init__(f"the march stopped at {time_s * 1e3:.4g} ms: {why}")

    def __reduce__(self) -> tuple[type, tuple[float, str]]:
        return type(self), (self.time_s, self.why)
