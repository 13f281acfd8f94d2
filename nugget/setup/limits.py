"""The ``[limits]`` section: built-in limits from their data file, and limits of the user's own."""

from __future__ import annotations

import difflib
import functools
import tomllib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from importlib.resources import files
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from nugget.errors import InputError
from nugget.merit.figure import FIGURES
from nugget.merit.limit import Limit
from nugget.setup.quantity import Current, Force, LongSpan, Quantity, Thickness, Voltage, Warmth
from nugget.setup.sources import Section, legible
from nugget.units import DIMENSIONS, from_pint, to_text

Tree = dict[str, Any]
Where = Callable[[str], str]

STATED = "stated in the setup"
NONE = "none"
"""Written for a limit that is not judged."""
IDENTITY = ("figure", "sense", "severity")
"""What a built-in limit keeps when a setup gives it another value."""
QUANTITIES = {"K": Warmth, "A": Current, "m": Thickness, "N": Force, "s": LongSpan, "V": Voltage}
"""How values are written, by the unit of the figure; all others are plain SI numbers."""

Name = Annotated[str, Field(min_length=1, max_length=2000, strict=True), AfterValidator(legible)]


def _number_or_text(given: object) -> object:
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        raise ValueError("a number, or text with a unit")
    return given


class LimitSection(Section):
    """One limit; `value` for a number, `allowed` for what is true or false."""

    figure: Name
    sense: Literal["at most", "at least", "never"]
    value: Annotated[float | str | None, BeforeValidator(_number_or_text)] = None
    allowed: Annotated[bool, Field(strict=True)] | None = None
    severity: Literal["harm", "damage", "hardware"] = "harm"
    confidence: Name = "stated"
    source: Name


@functools.cache
def declared() -> dict[str, Tree]:
    """The data file of the built-in limits; not to be changed."""
    return tomllib.loads((files("nugget.setup") / "data" / "limits.toml").read_text(encoding="utf-8"))


def default_limits() -> Tree:
    """The section as the default setup has it: a table for each limit, or ``none``."""
    found: Tree = {}
    for id, one in declared().items():
        table = {key: value for key, value in one.items() if key not in ("help", "off")}
        if one["sense"] == "never":
            table["allowed"] = False
        found[id] = NONE if one.get("off") else table
    return found


def brief(limits: Mapping[str, Any]) -> Tree:
    """The section without what follows from the ids of built-in limits."""
    found: Tree = dict(limits)
    for id, table in limits.items():
        if isinstance(table, dict):
            known = {key: declared().get(id, {}).get(key) for key in IDENTITY}
            said = {key: value for key, value in table.items() if value != known.get(key)}
            found[id] = dict(sorted(said.items(), key=lambda item: item[0] not in ("value", "allowed")))
    return found


def starter_lines(limits: Mapping[str, Any], line: Callable[[str, object, str], str]) -> Iterator[str]:
    """Lines of a commented setup file: `line` joins key, value and comment."""
    for id, table in brief(limits).items():
        yield line(id, table, declared().get(id, {}).get("help", ""))


def complete(id: str, given: object, where: Where) -> object:
    """Fill in what follows from the id of a limit and where a new value comes from.

    Raises
    ------
    InputError
        When the id is not known and the limit does not say which figure it bounds.
    """
    if _off(given):
        return NONE
    known = {key: value for key, value in declared().get(id, {}).items() if key in IDENTITY}
    if not known and not (isinstance(given, dict) and "figure" in given):
        raise _unknown(id, given, where)
    key = "allowed" if known.get("sense") == "never" else "value"
    return {**known, "source": STATED, **(given if isinstance(given, dict) else {key: given})}


def check_off(upper: Mapping[str, Any], lower: Mapping[str, Any], where: Where) -> None:
    """Refuse to switch off a limit that there is not: a misspelt one would stay on in silence.

    Parameters
    ----------
    upper, lower : mapping
        A setup, and what it is laid over.
    """
    limits, known = upper.get("limits"), lower.get("limits")
    for id, given in limits.items() if isinstance(limits, Mapping) else ():
        if _off(given) and id not in declared() and not (isinstance(known, Mapping) and id in known):
            raise _unknown(id, given, where)


def _off(given: object) -> bool:
    return given is None or (isinstance(given, str) and given == NONE)


def _unknown(id: str, given: object, where: Where) -> InputError:
    close = difflib.get_close_matches(id, declared(), n=1, cutoff=0.5)
    choice = f"the nearest is limits.{close[0]}" if close else f"they are {', '.join(declared())}"
    shown = "a table" if isinstance(given, dict) else given
    expected = f"a known key, or a table with figure and sense; {choice}"
    return InputError(where(f"limits.{id}"), shown, expected)


def spelt(id: str, table: object) -> object:
    """Return a limit whose value is a number [SI] with that value as text that reads back to it."""
    dimension, value = dimension_of(id, table), table.get("value") if isinstance(table, dict) else None
    if dimension not in DIMENSIONS or isinstance(value, bool | str | None):
        return table
    number = from_pint(value, dimension) if hasattr(value, "magnitude") else value
    return {**table, "value": to_text(float(number), dimension)}  # type: ignore[dict-item]


def judged(given: object) -> object:
    """Return the section without the limits that are not judged, the built-in ones first."""
    if not isinstance(given, Mapping):
        return given
    order = [*(id for id in declared() if id in given), *(id for id in given if id not in declared())]
    return {id: given[id] for id in order if not isinstance(given[id], str) or given[id] != NONE}


class Fixed(dict[str, Any]):
    """A dict that stays as it was made, so that a document can be shared and hashed."""

    def _refuse(self, *_: Any, **__: Any) -> Any:
        raise TypeError("a setup never changes: make another one by with_()")

    __setitem__ = __delitem__ = update = setdefault = pop = popitem = clear = __ior__ = _refuse

    def __hash__(self) -> int:  # type: ignore[override]
        return hash(tuple(self.items()))

    def __reduce__(self) -> tuple[type, tuple[dict[str, Any]]]:
        return Fixed, (dict(self),)


def dimension_of(id: str, table: object) -> str | None:
    """Dimension of a limit's value as `nugget.units` calls it, ``number`` without one, None for a flag."""
    figure = (table if isinstance(table, dict) else declared().get(id, {})).get("figure", "")
    if figure not in FIGURES or not FIGURES[figure].is_number:
        return None
    kind = QUANTITIES.get(FIGURES[figure].unit)
    return "number" if kind is None else str(kind.__metadata__[0].dimension)  # type: ignore[attr-defined]


def limits_of(
    sections: Mapping[str, LimitSection], roles: set[str], ambient: Quantity, where: Where
) -> Iterator[Limit]:
    """The limits that are judged; those of layers that are not there fall away.

    Raises
    ------
    InputError
        When a figure is not known or a value does not fit it.
    """
    for id, one in sections.items():
        path = f"limits.{id}"
        if one.sense == "never" and one.allowed is None:
            raise InputError(where(f"{path}.allowed"), "nothing", "true or false")
        if one.sense != "never" and one.value is None:
            raise InputError(where(f"{path}.value"), "nothing", "a value")
        if one.allowed and one.sense == "never":
            continue
        try:
            limit = Limit(id, one.figure, one.sense, 0.0, one.source, one.confidence, one.severity)
            value = 0.0 if one.sense == "never" else _value(one.value, limit)
        except InputError as error:
            raise InputError(f"{where(path)}: {error.where}", error.given, error.expected) from error
        except ValueError as error:
            raise InputError(where(f"{path}.value"), one.value, str(error)) from error
        if not applies(limit, roles):
            continue
        if limit.what.unit == "K" and one.sense == "at most" and value <= ambient.si:
            raise InputError(where(path), one.value, f"more than the ambient, {ambient.text}")
        yield Limit(id, one.figure, one.sense, value, one.source, one.confidence, one.severity)


def _value(given: float | str | None, limit: Limit) -> float:
    """The SI value of what a setup file says; ValueError says what would do."""
    kind = QUANTITIES.get(limit.what.unit)
    if kind is not None:
        return float(kind.__metadata__[0].check(given).si)  # type: ignore[attr-defined]
    share = limit.what.unit == "share"
    wanted = "a number above 0 and up to 1" if share else f"a number in {limit.what.unit}, without a unit"
    if isinstance(given, str) or given is None or (share and not 0.0 < given <= 1.0):
        raise ValueError(wanted)
    return float(given)


def applies(limit: Limit, roles: set[str]) -> bool:
    """Whether the stack has the layer that the limit's figure speaks of."""
    return not limit.what.layer or limit.what.layer in roles


def told_apart(limits: Iterator[Limit]) -> Iterator[Limit]:
    """Number the ids that come more than once, as when a plugin brings one limit twice."""
    seen: dict[str, int] = {}
    for limit in limits:
        seen[limit.id] = count = seen.get(limit.id, 0) + 1
        yield limit if count == 1 else replace(limit, id=f"{limit.id}-{count}")
