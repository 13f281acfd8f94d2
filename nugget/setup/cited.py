"""Which built-in facts a setup uses, each with its source."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from nugget.setup.facts import cell_facts, law_facts
from nugget.setup.setup import Setup


def fact_sources(setup: Setup) -> dict[str, str]:
    """Return where the built-in facts that `setup` uses come from, by their path in the file."""
    tree = setup.document()
    cell, contact = tree["cell"], tree["contact"]
    found = dict(_sources(cell_facts(cell["kind"], cell.get("size", ""), cell.get("end", "")), cell, "cell"))
    for name in ("tip", "faying"):
        found |= _sources(law_facts(contact[name]["law"]), contact[name], f"contact.{name}")
    return found


def _sources(known: Any, used: Any, path: str) -> Iterator[tuple[str, str]]:
    if isinstance(known, dict) and known.keys() == {"value", "source"}:
        if known["value"] == used:
            yield path, known["source"]
    elif isinstance(known, dict) and isinstance(used, dict):
        for key in (one for one in known if one in used):  # in the order of the file, whatever the hash seed
            yield from _sources(known[key], used[key], f"{path}.{key}")
    elif isinstance(known, list) and isinstance(used, list):
        for index, (one, other) in enumerate(zip(known, used, strict=False)):
            yield from _sources(one, other, f"{path}.{index}")
