"""One line of what `nugget material check` says."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Result = Literal["ok", "warning", "fail"]


@dataclass(frozen=True)
class Verdict:
    """One line of a check.

    Attributes
    ----------
    topic : str
        What was looked at.
    result : {"ok", "warning", "fail"}
        A remark does not stand in the way of use.
    text : str
        What was found.
    """

    topic: str
    result: Result
    text: str
