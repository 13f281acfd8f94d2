"""Templates to text: every value from outside is escaped, styles and script stand in the page."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import TYPE_CHECKING, Any

from nugget.constants import VERSION
from nugget.outcome.record import CAUTIONS
from nugget.setup import Setup

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

LETTERS_OF_HASH = 16


@dataclass(frozen=True)
class Origin:
    """Where the inputs of a page came from, as the user gave them.

    Attributes
    ----------
    name : str
        File or preset; empty when the setup was made in Python.
    text : str
        What the file says; empty when there is none.
    changes : tuple of str
        Such as ``pulse.0.duration=12 ms``, in the order in which they were laid over it.
    """

    name: str = ""
    text: str = ""
    changes: tuple[str, ...] = ()


@cache
def environment() -> Environment:
    """The templates of this room; a name that a template does not get is an error."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    made = Environment(
        loader=PackageLoader("nugget.pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["code"] = _code
    return made


def _code(text: str) -> Markup:
    """Escape `text`, and set what stands between backticks as code."""
    from markupsafe import Markup, escape

    parts = escape(text).split("`")
    return Markup("").join(
        Markup("<code>{}</code>").format(part) if k % 2 and k + 1 < len(parts) else part
        for k, part in enumerate(parts)
    )


def render(template: str, **values: Any) -> str:
    """Return a page.

    Parameters
    ----------
    template : str
        A file of ``nugget/pages/templates``.
    **values
        What the template names. Version, date and cautions are added.
    """
    made = datetime.now().astimezone()
    common = {"version": VERSION, "made": f"{made:%Y-%m-%d %H:%M %Z}", "cautions": CAUTIONS}
    return environment().get_template(template).render(common | values)


def input_hash(setup: Setup) -> str:
    """The SHA-256 of a setup with the data of all its materials, shortened: equal inputs, equal hash."""
    text = json.dumps(setup.document(whole=True), sort_keys=True, ensure_ascii=False)
    return hashlib.sha256(text.encode("utf-8")).hexdigest()[:LETTERS_OF_HASH]
