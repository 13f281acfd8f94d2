"""Contact laws that plugins bring: whatever they do wrong while a weld marches is said in their name."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from nugget.arrays import FloatArray
from nugget.contact.laws import ContactConditions, ContactLaw, RememberingLaw
from nugget.errors import InputError
from nugget.plugins import Cover, at_work


@dataclass(frozen=True)
class BroughtLaw(Cover):
    """A law of a plugin whose answers are checked."""

    @property
    def grows(self) -> bool:
        return self.flag("grows")

    def resistance(self, contact: ContactConditions) -> FloatArray:
        columns = contact.real_fraction.shape
        expected = f"resistance(), {len(contact.real_fraction)} finite numbers above zero"
        with at_work(self.where, expected):
            found = np.asarray(self.made.resistance(contact), dtype=np.float64)
        if found.shape != columns or not (np.isfinite(found) & (found > 0.0)).all():
            raise InputError(self.where, _shown(found, columns), expected)
        return found


@dataclass(frozen=True)
class BroughtRememberingLaw(BroughtLaw):
    """The same for a law with a state of its own."""

    def first_memory(self, columns: int) -> FloatArray:
        expected = f"first_memory(), finite numbers whose last axis has {columns} entries"
        with at_work(self.where, expected):
            found = np.asarray(self.made.first_memory(columns), dtype=np.float64)
        if found.shape[-1:] != (columns,) or not np.isfinite(found).all():
            raise InputError(self.where, _shown(found, (columns,)), expected)
        return found

    def remember(self, contact: ContactConditions) -> FloatArray:
        assert contact.memory is not None
        before = contact.memory.shape
        expected = f"remember(), finite numbers of the shape {before}"
        with at_work(self.where, expected):
            found = np.asarray(self.made.remember(contact), dtype=np.float64)
        if found.shape != before or not np.isfinite(found).all():
            raise InputError(self.where, _shown(found, before), expected)
        return found


def brought(law: ContactLaw, where: str) -> ContactLaw:
    """Return `law` under a cover that checks it."""
    cover = BroughtRememberingLaw if isinstance(law, RememberingLaw) else BroughtLaw
    return cover(law, where)


def _shown(found: FloatArray, wanted: tuple[int, ...]) -> str:
    if found.shape != wanted:
        return f"numbers of the shape {found.shape}"
    worst = found[~np.isfinite(found)] if not np.isfinite(found).all() else found[found <= 0.0]
    return f"{float(worst.flat[0])!r}"
