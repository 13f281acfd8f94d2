"""What the parts of a description refuse: numbers out of their ranges."""

from __future__ import annotations

import math

from nugget.errors import InputError
from nugget.setup.quantity import Spec


def within(part: object, **ranges: Spec) -> None:
    """Raise InputError unless each attribute of `part` [SI] is None or lies in its range."""
    for name, spec in ranges.items():
        value = getattr(part, name)
        if value is not None and not spec.fits(value):
            raise InputError(_where(part, name), value, f"{spec.wanted}, here in {spec.unit_si}")


def above_zero(part: object, *names: str) -> None:
    """Raise InputError unless each attribute of `part` is a finite number above zero."""
    for name in names:
        value = getattr(part, name)
        if not 0.0 < value < math.inf:
            raise InputError(_where(part, name), value, "a finite number above zero")


def not_below_zero(part: object, *names: str) -> None:
    """Raise InputError unless each attribute of `part` is None or a finite number from zero up."""
    for name in names:
        value = getattr(part, name)
        if value is not None and not 0.0 <= value < math.inf:
            raise InputError(_where(part, name), value, "a finite number from zero up")


def _where(part: object, name: str) -> str:
    return f"{type(part).__name__.lower()} {name}"
