"""Where a weld leaves no joint: the first change of pulse or source that makes one, found by trying."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from nugget.errors import InputError, NuggetError
from nugget.outcome.verdict import state_of
from nugget.setup import Setup
from nugget.study.inputs.variation import Axis, strength_path

LONGER, STRONGER = (1.5, 2.0, 3.0), (1.25, 1.6)
"""How much longer a pulse and how much stronger a source is tried, the cheaper change first."""


@dataclass(frozen=True)
class Remedy:
    """A change that makes a joint of the minimum diameter.

    Attributes
    ----------
    what : str
        New value and old, in words.
    override : str
        As ``--set`` takes it.
    diameter_m : float
        Nugget diameter with it.
    state : str
        Verdict of that single weld.
    """

    what: str
    override: str
    diameter_m: float
    state: str


def remedy(setup: Setup, run: Callable[[Setup], Mapping[str, Any]]) -> Remedy | None:
    """The first change whose weld is in its window as set up, else the first that makes the joint at all.

    Parameters
    ----------
    setup : Setup
        Of a weld that leaves nothing.
    run : callable
        Figures of the weld of a setup.
    """
    found: list[Remedy] = []
    for what, override, changed in _changes(setup):
        try:
            figures = dict(run(changed))
        except (NuggetError, ArithmeticError):
            continue
        if figures["nugget_diameter_m"] < setup.joint.minimum_diameter_m:
            continue
        one = Remedy(what, override, float(figures["nugget_diameter_m"]), state_of(changed, figures))
        if one.state == "in window":
            return one
        found.append(one)
    return found[0] if found else None


def _changes(setup: Setup) -> Iterator[tuple[str, str, Setup]]:
    last = len(setup.train) - 1
    waves = setup.file.pulse[last].half_cycles
    for factor in LONGER:
        if waves is None:
            yield from _scaled(setup, f"pulse.{last}.duration", factor)
        else:
            more, path = round(factor * waves), f"pulse.{last}.half_cycles"
            yield from _written(setup, path, more, f"{more} half cycles instead of {waves}", f"{path}={more}")
    if setup.file.source.kind != "plugin":
        for factor in STRONGER:
            yield from _scaled(setup, strength_path(setup), factor)


def _scaled(setup: Setup, path: str, factor: float) -> Iterator[tuple[str, str, Setup]]:
    now, field = setup.get(path), setup.fields[path]
    if now:
        value, axis = float(f"{now * factor:.3g}"), Axis(field, (), now)
        what = f"{axis.title} {axis.text(value)} instead of {axis.text(now)}"
        override = f"{path}={axis.shown(value):.6g} {axis.unit}".strip()
        yield from _written(setup, path, field.exact(value), what, override)


def _written(
    setup: Setup, path: str, value: float, what: str, override: str
) -> Iterator[tuple[str, str, Setup]]:
    """The change, unless the setup cannot take it."""
    try:
        yield what, override, setup.with_({path: value})
    except InputError:
        return
