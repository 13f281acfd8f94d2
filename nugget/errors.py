"""The errors that nugget raises on purpose."""

from __future__ import annotations

import unicodedata

LONGEST = 290
"""Characters of a message: more would hide what is wrong on a terminal."""
_STEERING = frozenset(("Cc", "Cf", "Cs", "Zl", "Zp"))
"""Categories of Unicode that move a cursor, turn the direction of writing or begin a line."""


def steers(character: str) -> bool:
    """Whether a character could steer a terminal or forge a line."""
    return unicodedata.category(character) in _STEERING


def plain(text: str) -> str:
    """Return `text` on one line; what could steer a terminal, as in a name from a file, as a code."""
    return "".join(c.encode("unicode_escape").decode() if steers(c) else c for c in " ".join(text.split()))


def short(text: str, most: int) -> str:
    """Return `text` with its middle left out when it is longer than `most`: both ends tell more."""
    if len(text) <= most:
        return text
    head = (most - 5) // 2
    return f"{text[:head]} ... {text[-(most - 5 - head) :]}"


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
        super().__init__(_message(where, given, expected))

    def __reduce__(self) -> tuple[type, tuple[str, object, str]]:
        # The default would hand only the message to __init__, so an error raised in a
        # worker process could not travel home.
        return type(self), (self.where, self.given, self.expected)


def _message(where: str, given: object, expected: str) -> str:
    """One line of at most `LONGEST` characters, without what could steer a terminal."""
    # Shortened first: what is given may hold megabytes.
    given = short(given, 4 * LONGEST) if isinstance(given, str) else given
    where, shown, expected = (plain(short(text, 4 * LONGEST)) for text in (where, repr(given), expected))
    if len(where) + len(shown) + len(expected) > LONGEST - 20:
        where, shown = short(where, 110), short(shown, 70)
        expected = short(expected, LONGEST - 20 - len(where) - len(shown))
    return f"{where}: got {shown}, expected {expected}"


class SolverError(NuggetError):
    """The integration in time cannot go on.

    Parameters
    ----------
    time_s : float
        Time since the start of the first pulse [s].
    why : str
        The reason, in words.
    """

    def __init__(self, time_s: float, why: str) -> None:
        self.time_s, self.why = time_s, why
        super().__init__(f"the simulation stopped at {time_s * 1e3:.4g} ms: {why}")

    def __reduce__(self) -> tuple[type, tuple[float, str]]:
        return type(self), (self.time_s, self.why)
