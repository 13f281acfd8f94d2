"""The pages of the manual: Markdown beside this file, read in a terminal or built to a site.

Pages called ``reference-...`` that have no file are made from the program itself by `nugget.cli.reference`,
so that they cannot fall behind it.
"""

from __future__ import annotations

from importlib.resources import files

PAGES = {
    "Start": ("index", "tutorial"),
    "How to": (
        "howto-weld",
        "howto-uncertain",
        "howto-suggest",
        "howto-calibrate",
        "howto-charts",
        "howto-spread",
        "howto-capacitor-bank",
        "howto-transformer",
        "howto-relay",
        "howto-plated-strip",
        "howto-copper",
        "howto-material",
        "howto-plugin",
        "howto-python",
        "howto-cluster",
    ),
    "Theory": (
        "theory-geometry",
        "theory-fields",
        "theory-interfaces",
        "theory-contact",
        "theory-joint",
        "theory-circuit",
        "theory-planar",
        "theory-interior",
        "theory-numerics",
        "theory-verdict",
        "theory-chances",
    ),
    "Reference": (
        "reference-commands",
        "reference-setup",
        "reference-figures",
        "reference-inputs",
        "reference-files",
        "reference-schemas",
        "reference-python",
        "glossary",
    ),
    "About": ("changelog", "cite"),
}
"""Names of all pages by part, in reading order."""


def names() -> tuple[str, ...]:
    """Names of all pages."""
    return tuple(name for part in PAGES.values() for name in part)


def written(name: str) -> str | None:
    """Markdown of a page; None for one that is made from the program."""
    page = files("nugget.manual") / "pages" / f"{name}.md"
    return page.read_text(encoding="utf-8") if page.is_file() else None
