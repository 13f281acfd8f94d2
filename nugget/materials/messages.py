"""Say what is wrong with the shape of a material file: pydantic's findings as our errors."""

from __future__ import annotations

import difflib
import typing
from collections.abc import Iterable, Sequence

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from nugget.errors import InputError
from nugget.materials.document import Part


def nearest(given: str, names: Iterable[str]) -> str:
    """Return words that offer the nearest of `names` to `given`."""
    known = sorted(names)
    close = difflib.get_close_matches(given, known, n=1, cutoff=0.5)
    return f"one of {', '.join(known)}" + (f" (nearest: {close[0]})" if close else "")


def shape_problems(error: ValidationError, shape: type[BaseModel], where: str) -> list[InputError]:
    """Return all findings, unknown keys first: beside a missing key, the misspelt one tells what happened."""
    details = sorted(error.errors(), key=lambda detail: detail["type"] != "extra_forbidden")
    return [_problem(detail, shape, where) for detail in details]


def _problem(detail: ErrorDetails, shape: type[BaseModel], where: str) -> InputError:
    """Turn one of pydantic's errors into ours."""
    loc = list(detail["loc"])
    path = _path(loc)
    if detail["type"] == "extra_forbidden":
        return InputError(
            f"{where}: {path}", "an unknown key", nearest(str(loc[-1]), _keys_at(shape, loc[:-1]))
        )
    if detail["type"] == "missing":
        return InputError(f"{where}: {path}", "nothing", "this required key")
    given, context = detail["input"], detail.get("ctx", {})
    expected = detail["msg"].removeprefix("Input should be ").removeprefix("Value error, ")
    if detail["type"] == "too_long":
        expected = f"at most {context['max_length']} values"
    elif detail["type"] == "too_short":
        expected = f"at least {context['min_length']} of them"
    shown = given if isinstance(given, str | int | float | bool) else _short(given)
    return InputError(f"{where}: {path}", shown, expected)


def _short(given: object) -> str:
    """Write out what fits, and name the kind of what does not."""
    return str(given) if len(str(given)) < 40 else f"a {type(given).__name__}"


def _path(loc: Sequence[str | int]) -> str:
    """Key path for people: parts and rows are counted from 1."""
    text = ""
    for part in loc:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def _keys_at(shape: type[BaseModel], loc: Sequence[str | int]) -> list[str]:
    """Return the keys that `shape` allows at `loc`."""
    for part in loc:
        if isinstance(part, str) and part in shape.model_fields:
            inner = _part_in(shape.model_fields[part].annotation)
            shape = inner or shape
    return list(shape.model_fields)


def _part_in(annotation: object) -> type[Part] | None:
    """Return the `Part` inside an annotation such as ``list[Table]`` or ``Scalar | None``."""
    if isinstance(annotation, type) and issubclass(annotation, Part):
        return annotation
    inner = (_part_in(argument) for argument in typing.get_args(annotation))
    return next((part for part in inner if part is not None), None)
