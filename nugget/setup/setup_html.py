"""A setup as a notebook shows it: its document as a table, every text escaped."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from nugget.merit import amounts
from nugget.merit.limit import Limit

HIDDEN = ("complete", "enclosed", "materials", "title", "numerics", "kinetics", "limits", "damage_limits")
"""Sections that say nothing about the weld at hand."""
TABLE = (
    "<h4>{{ title }}</h4><table>"
    "{% for key, text in rows %}<tr><th>{{ key }}</th><td>{{ text }}</td></tr>{% endfor %}"
    "</table>"
)


def setup_html(title: str, document: Mapping[str, Any], limits: Iterable[Limit]) -> str:
    """Return the document of a setup as a table: a row for each section.

    Parameters
    ----------
    title : str
    document : mapping
        As `Setup.document` gives it.
    limits : iterable of Limit
        As they are judged.
    """
    from jinja2 import Environment

    sections = {
        key.replace("_", " "): "; ".join(_words(value))
        for key, value in document.items()
        if key not in HIDDEN and value not in ({}, [])
    }
    sections["limits"] = "; ".join(map(_limit, limits))
    return Environment(autoescape=True).from_string(TABLE).render(title=title, rows=sections.items())


def _limit(limit: Limit) -> str:
    bound = "" if limit.sense == "never" else f" {amounts.figure(limit.what, limit.bound)}"
    return f"{limit.id.replace('_', ' ')} {limit.sense}{bound}"


def _words(value: Any, path: str = "") -> Iterator[str]:
    """Key paths with their values, in words."""
    if isinstance(value, Mapping):
        for key, item in value.items():
            yield from _words(item, f"{path} {key}".strip().replace("_", " "))
    elif isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value):
        for number, item in enumerate(value, start=1):
            yield from _words(item, f"{path} {number}".strip() if len(value) > 1 else path)
    else:
        yield f"{path} {value}".strip()
