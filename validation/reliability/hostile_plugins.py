"""Plugins that break their promises."""

from __future__ import annotations

from validation.case import Outcome
from validation.evidence.piece import Piece
from validation.reliability.counting import trials


def run(_: int) -> Outcome:
    return trials(
        {
            "plugins that exit, raise or answer nonsense in use": "test_plugins_in_use.py",
            "plugins that cannot be found, imported or made": "test_plugins.py",
        }
    )


PIECE = Piece(
    name="plugins",
    title="Plugins",
    what="Whatever a plugin does is one line that names plugin and package, never a success without an"
    " answer; a broken package stops no other command.",
    run=run,
)
