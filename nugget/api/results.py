"""Results with everything a user asks of them: pictures, points, tables and files."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from nugget.outcome import verdict as outcome_verdict
from nugget.outcome import weld as outcome

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Weld(outcome.Weld):
    """A simulated weld; its figures of merit read as attributes, such as ``weld.fused_diameter_m``.

    `nugget.outcome.weld.Weld` says what it holds.
    """

    @classmethod
    def of(cls, weld: outcome.Weld) -> Weld:
        """The same weld, able to draw."""
        return cls(**{f.name: getattr(weld, f.name) for f in fields(outcome.Weld)})

    def __dir__(self) -> list[str]:
        """Names of attributes and of figures, for completion."""
        return sorted({*super().__dir__(), *self.figures})

    def plot_section(self) -> Figure:
        """Temperature field at the hottest moment and at the interior peak (matplotlib Figure)."""
        from nugget.plot.section import section_figure

        return section_figure(self)

    def plot_histories(self) -> Figure:
        """Current, resistance, growth curve and interior temperatures against time."""
        from nugget.plot.histories import histories_figure

        return histories_figure(self)

    def _repr_html_(self) -> str:
        from nugget.api.html import weld_html

        return weld_html(self)


class Judgement(outcome_verdict.Judgement):
    """A weld judged at all contact radii; `nugget.outcome.verdict.Judgement` says what it holds."""

    weld: Weld

    @classmethod
    def of(cls, judgement: outcome_verdict.Judgement) -> Judgement:
        """The same judgement, whose weld is able to draw."""
        held: dict[str, Any] = {f.name: getattr(judgement, f.name) for f in fields(outcome_verdict.Judgement)}
        return cls(**held | {"weld": Weld.of(judgement.weld)})

    def _repr_html_(self) -> str:
        from nugget.api.html import judgement_html

        return judgement_html(self)
