"""Say what is wrong with a setup file: pydantic's first finding as one clear line."""

from __future__ import annotations

import difflib
from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic.fields import FieldInfo

from nugget.errors import InputError
from nugget.setup.fill import Where
from nugget.setup.quantity import spec_of
from nugget.setup.renamed import new_path
from nugget.units import DIMENSIONS, article

_SHOWN = 60


def as_input_error(error: ValidationError, model: type[BaseModel], where: Where) -> InputError:
    """Return the finding of `error` that explains most; a misspelt key comes first."""
    findings = sorted(error.errors(), key=lambda finding: finding["type"] != "extra_forbidden")
    finding = findings[0]
    kind, given, context = finding["type"], finding.get("input"), finding.get("ctx", {})
    tags, last = _tags(model), len(finding["loc"]) - 1
    # A key may be called as a kind is; only what is wrong with a kind as a whole ends in its tag.
    path = [
        str(key)
        for place, key in enumerate(finding["loc"])
        if key not in tags or (place == last and kind != "value_error")
    ]
    if kind == "extra_forbidden":
        if new := new_path(".".join(path)):
            return InputError(where(".".join(path)), _shown(given), f"{new}, which the key was renamed to")
        if ".".join(path) in _NO_INPUT:
            return InputError(where(".".join(path)), _shown(given), _NO_INPUT[".".join(path)])
        known = list(_model_at(model, path[:-1], finding["loc"]).model_fields)
        other = _of_another_kind(model, path, finding["loc"])
        return InputError(where(".".join(path)), _shown(given), other or _nearest(path, known))
    if path == ["pulse"] and isinstance(given, dict):
        return InputError(where("pulse"), _shown(given), _PULSES)
    expected = _EXPECTED.get(kind, finding["msg"][:1].lower() + finding["msg"][1:])
    if kind == "value_error":
        expected = str(context["error"])
    elif kind == "missing":
        info = _model_at(model, path[:-1], finding["loc"]).model_fields[path[-1]]
        given, expected = "nothing", _wanted(info)
    elif kind in ("union_tag_invalid", "union_tag_not_found"):
        given = given.get("kind", "nothing") if isinstance(given, dict) else given
        expected = "one of " + ", ".join(_kinds(model, path[-1]))
        path.append("kind")
    elif kind == "literal_error":
        expected = "one of " + str(context["expected"]).replace(" or ", ", ").replace("'", "")
    elif context:
        expected = expected.format(**context)
    return InputError(where(".".join(path)), _shown(given), expected)


_NO_INPUT = {
    "electrode.imprint": "no such key: a print is what comes out, give it to calibrate in column print"
    " (the tip's shape goes in as dome_radius and worn_flat)"
}
"""What looks like an input and is an outcome."""

_PULSES = "a list of pulses: [[pulse]] in a file, pulse.0.duration for the first one elsewhere"

_EXPECTED = {
    "float_type": "a number",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "string_type": "text",
    "tuple_type": "a list",
    "model_type": "a table of keys",
    "model_attributes_type": "a table of keys",
    "dict_type": "a table of keys",
    "greater_than": "a number above {gt:g}",
    "greater_than_equal": "a number from {ge:g} up",
    "less_than": "a number below {lt:g}",
    "less_than_equal": "a number up to {le:g}",
    "too_short": "at least {min_length} entry",
    "too_long": "at most {max_length} entries",
    "string_too_short": "some text",
    "string_too_long": "text of at most {max_length} characters",
    "finite_number": "a finite number",
}


def _shown(given: object) -> object:
    """Shorten what would not fit on a line."""
    if isinstance(given, dict | list | tuple):
        return f"{'a' if given else 'an empty'} {'table' if isinstance(given, dict) else 'list'}"
    if isinstance(given, str) and len(given) > _SHOWN:
        return given[: _SHOWN - 3] + "..."
    return given


def _nearest(path: list[str], known: list[str]) -> str:
    close = difflib.get_close_matches(path[-1], known, n=1, cutoff=0.5)
    if close:
        return f"a known key; the nearest is {'.'.join([*path[:-1], close[0]])}"
    return f"one of the keys {', '.join(known)}"


def _of_another_kind(model: type[BaseModel], path: list[str], loc: tuple[int | str, ...]) -> str:
    """Say which kinds of the same section have the key; nothing when none has."""
    if len(path) < 2:
        return ""
    above = _model_at(model, path[:-2], loc)
    if path[-2] not in above.model_fields:
        return ""
    kinds = _models(above.model_fields[path[-2]].annotation)
    have = [tag for one in kinds if path[-1] in one.model_fields and (tag := _tag(one)) is not None]
    own = next((tag for one in kinds if (tag := _tag(one)) in loc), "")
    if not have or not own:
        return ""
    known = ", ".join(key for key in _model_at(model, path[:-1], loc).model_fields if key != "kind")
    return f"no such key for the kind {own}, which has {known}: it belongs to the kind {' or '.join(have)}"


def _model_at(model: type[BaseModel], path: list[str], loc: tuple[int | str, ...]) -> type[BaseModel]:
    """Return the model of the table at `path`; `loc` tells which kind of source."""
    for key in path:
        if not key.isdecimal() and key in model.model_fields:  # the ids of limits are keys too
            models = _models(model.model_fields[key].annotation)
            model = next((found for found in models if _tag(found) in loc), models[0])
    return model


def _wanted(info: FieldInfo) -> str:
    spec = spec_of(info)
    if spec is None:
        return "a value"
    return f"{article(spec.dimension)} such as {DIMENSIONS[spec.dimension][1]!r}"


def _models(annotation: Any) -> list[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [model for part in get_args(annotation) for model in _models(part)]


def _tag(model: type[BaseModel]) -> str | None:
    field = model.model_fields.get("kind")
    tags = get_args(field.annotation) if field is not None else ()
    return str(tags[0]) if len(tags) == 1 else None


def _kinds(model: type[BaseModel], section: str) -> list[str]:
    """Return what tells the models of a section apart."""
    found = _models(model.model_fields[section].annotation)
    return [tag for one in found if (tag := _tag(one)) is not None]


def _tags(model: type[BaseModel]) -> list[str]:
    """Return what pydantic puts into the place of a finding and no setup file has for a key there."""
    return [*_kinds(model, "source"), *_kinds(model, "switch")]
