"""Two or more setups side by side: what differs in the input, and what differs in the answer."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from nugget.merit import amounts
from nugget.merit.figure import FIGURES
from nugget.merit.limit import by_id, titles
from nugget.outcome.verdict import broken_limits, state_of
from nugget.outcome.weld import Weld
from nugget.setup import Setup
from nugget.study.statement import judged_rows
from nugget.study.statement.assessment import Assessment, judge
from nugget.study.statement.judged_rows import chance_words, limit_state

NOT_THERE = "-"
PASSED_OVER = ("complete", "title", "enclosed")
"""Keys of a document that are no input of the weld."""
AS_SAVED = "not judged over what is not known exactly"


@dataclass(frozen=True)
class Entry:
    """One of what is compared.

    Attributes
    ----------
    name : str
        What the user calls it.
    weld : Weld
    assessment : Assessment or None
        None for a weld that was saved: it is as it was, as set up alone.
    """

    name: str
    weld: Weld
    assessment: Assessment | None = None

    @property
    def verdict(self) -> str:
        """The verdict, or what the nominal run alone says and that it does."""
        if self.assessment is not None:
            return self.assessment.verdict
        return f"{state_of(self.weld.setup, self.weld.figures)} as set up, {AS_SAVED}"

    @property
    def reason(self) -> str:
        """Why."""
        if self.assessment is not None:
            return self.assessment.reason
        called = titles(self.weld.setup.limits)
        broken = [called[one.id].lower() for one in broken_limits(self.weld.setup, self.weld.figures)]
        return f"beyond the limit: {', '.join(broken)}" if broken else "no limit exceeded as set up"


@dataclass(frozen=True)
class Line:
    """One row of the table: what, and its value in each entry."""

    title: str
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether the entries do not all say the same."""
        return len(set(self.values)) > 1


@dataclass(frozen=True)
class Comparison:
    """The entries, and the rows in which they can be compared.

    Attributes
    ----------
    entries : tuple of Entry
    inputs : tuple of Line
        Fields of the setups that differ.
    answers : tuple of Line
        Verdict, reason, and every figure that a row of the report or a limit shows.
    limits : tuple of Line
        State of every limit that any entry has.
    """

    entries: tuple[Entry, ...]
    inputs: tuple[Line, ...]
    answers: tuple[Line, ...]
    limits: tuple[Line, ...]


def compare(
    given: Mapping[str, Setup | Weld],
    executor: Executor | None = None,
    on_done: Callable[[str], None] | None = None,
) -> Comparison:
    """Judge every setup, take every saved weld as it is, and put them side by side.

    Parameters
    ----------
    given : mapping of str to Setup or Weld
        By the name that the user calls each.
    executor : Executor, optional
        Runs the welds of each statement in parallel.
    on_done : callable, optional
        Called with a name for each run that is in.
    """
    entries = []
    for name, one in given.items():
        if isinstance(one, Weld):
            entries.append(Entry(name, one))
            continue

        def said(key: str, _: int, name: str = name) -> None:
            if on_done is not None:
                on_done(f"{name} {key}")

        assessment = judge(one, executor=executor, on_done=said)
        entries.append(Entry(name, assessment.weld, assessment))
    return side_by_side(entries)


def side_by_side(entries: Sequence[Entry]) -> Comparison:
    """Put entries side by side that are there already."""
    flat = [dict(_fields(one.weld.setup.document())) for one in entries]
    paths = list(dict.fromkeys(path for tree in flat for path in tree))
    inputs = [Line(path, tuple(str(tree.get(path, NOT_THERE)) for tree in flat)) for path in paths]
    answers = [
        Line("verdict", tuple(one.verdict for one in entries)),
        Line("reason", tuple(one.reason for one in entries)),
        *_figures(entries),
    ]
    differing = tuple(line for line in inputs if line.differs)
    return Comparison(tuple(entries), differing, tuple(answers), tuple(_limits(entries)))


def _figures(entries: Sequence[Entry]) -> Iterator[Line]:
    limited = {limit.figure for one in entries for limit in one.weld.setup.limits}
    for key, figure in FIGURES.items():
        if figure.weight != "plain" or key in limited:
            found = [one.weld.figures.get(key) for one in entries]
            if any(value is not None for value in found):
                yield Line(figure.title, tuple(amounts.figure(figure, value) for value in found))


def _limits(entries: Sequence[Entry]) -> Iterator[Line]:
    tables = [by_id(one.weld.setup.limits) for one in entries]
    for id in dict.fromkeys(id for table in tables for id in table):
        title, states = "", []
        for one, table in zip(entries, tables, strict=True):
            if id not in table:
                states.append("no such limit")
                continue
            title = titles(one.weld.setup.limits)[id]
            states.append(_state(one, id))
        yield Line(title, tuple(states))


def _state(one: Entry, id: str) -> str:
    limit = by_id(one.weld.setup.limits)[id]
    bound = "" if limit.sense == "never" else f", {limit.sense} {amounts.figure(limit.what, limit.bound)}"
    if one.assessment is None:
        return f"{limit_state(limit, limit.breaks(limit.value_in(one.weld.figures)))}{bound}"
    judged = next(judged for judged in one.assessment.limits if judged.limit.id == id)
    chance = one.assessment.chance(id)
    words = f"{limit_state(limit, judged.broken, judged_rows.too_often(one.assessment, limit))}{bound}"
    return words if chance is None else f"{words}; not met in {chance_words(chance)}"


def _fields(value: Any, path: str = "") -> Iterator[tuple[str, Any]]:
    """Leaves of a document by their paths."""
    if isinstance(value, Mapping):
        for key, item in value.items():
            if path or key not in PASSED_OVER:
                yield from _fields(item, f"{path}.{key}" if path else str(key))
    elif isinstance(value, list) and value and all(isinstance(item, Mapping) for item in value):
        for number, item in enumerate(value):
            yield from _fields(item, f"{path}.{number}")
    else:
        yield path, value
