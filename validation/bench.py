"""The bench that cases and evidence speak of: 0.15 mm nickel for 2.2 ms, all else as in the default setup."""

from __future__ import annotations

from collections.abc import Sequence

from nugget.setup import Setup, default_setup

OWN = ("strip.thickness=0.15 mm", "pulse.0.duration=2.2 ms")
"""Strip and pulse of the trade's rules of thumb; its window is narrower than that of the default setup."""


def bench(overrides: Sequence[str] = ()) -> Setup:
    """That setup, with further `overrides` as on the command line."""
    return default_setup([*OWN, *overrides])
