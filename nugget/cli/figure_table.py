"""The figures of merit as a table, for a terminal and for a manual."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.text_tables import WIDTH
from nugget.merit.figure import FIGURES, Figure
from nugget.outcome.registry import SECTIONS
from nugget.setup import default_setup


def sections() -> Iterator[tuple[str, list[Figure]]]:
    """Headings with their figures, in the order of the report."""
    found: dict[str, list[Figure]] = {name: [] for name in SECTIONS}
    for one in FIGURES.values():
        found.setdefault(one.section, []).append(one)
    for name, group in found.items():
        if group:
            yield SECTIONS.get(name, name.capitalize()), group


def limits_on() -> dict[str, list[str]]:
    """Limits of the default setup in words, by the figure that they bound."""
    found: dict[str, list[str]] = {}
    for limit in default_setup().limits:
        bound = "never" if limit.sense == "never" else f"{limit.sense} {limit.value:g} {limit.what.unit}"
        found.setdefault(limit.figure, []).append(f"{limit.id}: {bound}".replace(" share", ""))
    return found


def text_table() -> Iterator[str]:
    """Lines for a terminal."""
    limits = limits_on()
    for heading, group in sections():
        yield heading
        for one in group:
            yield f"  {one.key}  [{one.unit}, per {one.per}]"
            said = f"{one.title}. {one.help}."
            if one.key in limits:
                said += f" Limit {', '.join(limits[one.key])}."
            if one.origin:
                said += f" From {one.origin}."
            yield from textwrap.wrap(said, WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 6)
        yield ""


def markdown_table() -> Iterator[str]:
    """Lines of one Markdown table for each section."""
    limits = limits_on()
    for heading, group in sections():
        yield f"### {heading}"
        yield ""
        yield "| key | unit | per | meaning | limits of the default setup |"
        yield "| --- | --- | --- | --- | --- |"
        for one in group:
            said = ", ".join(limits.get(one.key, []))
            yield f"| `{one.key}` | {one.unit} | {one.per} | {one.title}: {one.help} | {said} |"
        yield ""
