"""The Python API: what ``import nugget`` offers, with figures attached to results."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nugget.outcome import weld as outcome
from nugget.outcome.verdict import Judgement, judge
from nugget.outcome.weld import watch
from nugget.setup import Setup, default_setup, load_setup, preset

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "Judgement",
    "Weld",
    "default_setup",
    "judge",
    "load_setup",
    "load_weld",
    "preset",
    "simulate",
    "watch",
]


class Weld(outcome.Weld):
    """A simulated weld that draws itself; see `nugget.outcome.weld.Weld` for what it holds."""

    @classmethod
    def of(cls, weld: outcome.Weld) -> Weld:
        """The same weld, able to draw."""
        return cls(**{f.name: getattr(weld, f.name) for f in fields(outcome.Weld)})

    def plot_section(self) -> Figure:
        """Temperature field at the hottest moment and at the interior peak (matplotlib Figure)."""
        from nugget.plot.section import section_figure

        return section_figure(self)

    def plot_histories(self) -> Figure:
        """Current, resistance, growth curve and interior temperatures against time."""
        from nugget.plot.histories import histories_figure

        return histories_figure(self)


def simulate(setup: Setup, **options: Any) -> Weld:
    """Run one march of `setup` and return the weld.

    Parameters
    ----------
    setup : Setup
        From `default_setup`, `load_setup` or `preset`.
    **options
        ``on_step``: called with every `nugget.weld.march.WeldState`.

    Raises
    ------
    MarchError
        If the march cannot converge; it says at which time and why.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.default_setup(["pulse.0.duration=1 ms", "numerics.refinement=0.3"])
    >>> weld = nugget.simulate(setup)
    >>> weld.peak_current_A > 1000.0
    True
    """
    return Weld.of(outcome.march_weld(setup, **options))


def load_weld(path: str | Path) -> Weld:
    """Read a weld back that `Weld.save` wrote; `InputError` if the file is not one of ours."""
    return Weld.of(outcome.load_weld(path))
