"""Results with everything a user asks of them: pictures, points, tables and files."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any, overload

from nugget.outcome import weld as outcome
from nugget.study.statement import assessment as plain

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure


class Weld(outcome.Weld):
    """A simulated weld; its figures of merit read as attributes, such as ``weld.nugget_diameter_m``.

    `nugget.outcome.weld.Weld` says what it holds.
    """

    @classmethod
    def of(cls, weld: outcome.Weld) -> Weld:
        """The same weld, able to draw."""
        return cls(**{f.name: getattr(weld, f.name) for f in fields(outcome.Weld)})

    def __dir__(self) -> list[str]:
        """Names of attributes and of figures, for completion."""
        return sorted({*super().__dir__(), *self.figures})

    @overload
    def plot_section(self) -> Figure: ...

    @overload
    def plot_section(self, *, ax: Axes) -> Axes: ...

    def plot_section(self, *, ax: Axes | None = None) -> Figure | Axes:
        """Draw the temperature field at the hottest moment.

        Parameters
        ----------
        ax : matplotlib Axes, optional
            Where to draw; a figure with the interior at its peak beside it by default.

        Returns
        -------
        Figure or Axes
        """
        from nugget.plot.section import draw_section, section_figure

        return section_figure(self) if ax is None else draw_section(ax, self)

    def plot_histories(self) -> Figure:
        """Current, resistance, growth curve and interior temperatures against time."""
        from nugget.plot.histories import histories_figure

        return histories_figure(self)

    def to_xarray(self) -> xr.Dataset:
        """Return fields and histories as labelled arrays, units in the attributes.

        Fields have the dimensions ``time``, ``z`` and ``r``: those that `simulate` was asked to
        keep, else the temperature at the hottest moment and at the interior peak. Histories are
        called ``history_...`` and run along ``step_time``. The figures of merit stand in the
        attribute ``figures`` as JSON. ``to_xarray().to_netcdf(path)`` writes a file.

        Examples
        --------
        >>> import nugget
        >>> setup = nugget.preset("coupon", ["pulse.0.duration=0.1 ms", "numerics.refinement=0.25"])
        >>> data = nugget.simulate(setup, every=5).to_xarray()
        >>> data["temperature_K"].dims, data["temperature_K"].attrs["units"]
        (('time', 'z', 'r'), 'K')
        """
        from nugget.export.dataset import weld_dataset

        return weld_dataset(self)

    def to_dataframe(self) -> pd.DataFrame:
        """Return the histories as a table, one row a step, with time [s] as its index.

        ``attrs["units"]`` holds the unit of every column.
        """
        from nugget.export.dataset import weld_dataframe

        return weld_dataframe(self)

    def to_vtk(self, path: str | Path, *, t: float | None = None, segments: int | None = None) -> list[Path]:
        """Write the cells as a mesh that ParaView opens, with every field that was kept.

        Needs meshio, from the extra ``nugget[fields]``. The axis of the weld is z; in a section the
        radius is x.

        Parameters
        ----------
        path : str or Path
            ``.vtu``: one instant. ``.pvd``: every instant that was kept, each in a ``.vtu`` beside it.
        t : float, optional
            Instant [s], the nearest that was kept; the hottest moment by default.
        segments : int, optional
            Turn the section about the axis in so many steps; a plane section by default.

        Returns
        -------
        list of Path
            What was written, the file at `path` first.

        Raises
        ------
        InputError
            For another suffix, an instant that was not kept, or without meshio.
        """
        from nugget.export.vtk import write_vtk

        return write_vtk(self, Path(path), t, segments)

    def _repr_html_(self) -> str:
        from nugget.api.html import weld_html

        return weld_html(self)


class Assessment(plain.Assessment):
    """A judged weld; `nugget.study.statement.assessment.Assessment` says what it holds."""

    weld: Weld

    @classmethod
    def of(cls, assessment: plain.Assessment) -> Assessment:
        """The same assessment, whose weld is able to draw."""
        held: dict[str, Any] = {f.name: getattr(assessment, f.name) for f in fields(plain.Assessment)}
        return cls(**held | {"weld": Weld.of(assessment.weld)})

    def to_html(self, path: str | Path) -> Path:
        """Write the weld record: one page of HTML that needs nothing beside itself.

        Parameters
        ----------
        path : str or Path
            A file of this name is replaced. With ``nugget.judge(setup, frames=16)`` the record
            shows the section in time.

        Raises
        ------
        InputError
            If the file cannot be written.
        """
        from nugget.outcome.writing import write_text
        from nugget.pages.weld_record import record_page

        return write_text(Path(path), record_page(self))

    def _repr_html_(self) -> str:
        from nugget.api.html import assessment_html

        return assessment_html(self)
