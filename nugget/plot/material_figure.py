"""A material's tables against temperature, as one figure."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from matplotlib.figure import Figure

from nugget.constants import ROOM_K, ZERO_CELSIUS_K
from nugget.materials.checks import curves
from nugget.materials.material import Curve, Material

if TYPE_CHECKING:
    from matplotlib.axes import Axes

PANELS = (
    ("resistivity", "resistivity [µΩ m]", 1e6),
    ("conductivity", "thermal conductivity [W/(m K)]", 1.0),
    ("heat_capacity", "heat capacity [J/(kg K)]", 1.0),
    ("hardness", "hardness [MPa]", 1e-6),
)
BLUE, ORANGE, GREY = "#0072B2", "#D55E00", "0.6"
"""Blue and vermilion are told apart with any colour vision, and in grey print by their dashes."""


def material_figure(material: Material, other: Material | None = None) -> Figure:
    """Return a figure of four panels.

    Parameters
    ----------
    material : Material
        Drawn solid; what a rule supplied is dashed, rows are dots, melting is shaded.
    other : Material, optional
        Drawn thin and grey beside it.
    """
    figure = Figure(figsize=(9.0, 6.5), dpi=150, layout="constrained")
    axes = figure.subplots(2, 2)
    mine, theirs = curves(material), curves(other) if other is not None else {}
    for axis, (key, label, factor) in zip(axes.flat, PANELS, strict=True):
        axis.set_xlabel("temperature [°C]")
        axis.set_ylabel(label)
        if key in theirs:
            _line(axis, theirs[key], factor, color=GREY, linewidth=1.0)
        if key in mine:
            _stretches(axis, mine[key], factor, BLUE)
        else:
            axis.text(0.5, 0.5, "no table", transform=axis.transAxes, ha="center", color="0.4")
        if key == "hardness":
            _at_rate(axis, material, factor)
        if key == "conductivity" and "conductivity_z" in mine:
            _stretches(axis, mine["conductivity_z"], factor, ORANGE)
            axis.set_title("blue along r, orange along z", fontsize="small")
        if material.solidus_K is not None and material.liquidus_K is not None:
            axis.axvspan(
                material.solidus_K - ZERO_CELSIUS_K, material.liquidus_K - ZERO_CELSIUS_K, color="0.9"
            )
        axis.set_ylim(bottom=0.0)
        axis.margins(x=0.02)
    beside = f", grey: {other.name}" if other is not None else ""
    figure.suptitle(
        f"{material.title} (dashed: supplied by a rule, shaded: melting{beside})", fontsize="medium"
    )
    return figure


def _at_rate(axis: Axes, material: Material, factor: float) -> None:
    """Draw hardness at the rates of a pulse over that under slow load."""
    if material.hardness is None or material.solidus_K is None:
        return
    T = np.linspace(ROOM_K, material.solidus_K, 200)
    for rate, style in ((1.0, ":"), (100.0, "-"), (1000.0, "-.")):
        hardness = material.hardness_at(T, rate) * factor
        axis.plot(T - ZERO_CELSIUS_K, hardness, color=ORANGE, linestyle=style, label=f"at {rate:g} 1/s")
    axis.legend(fontsize="small", title="blue: slow load", title_fontsize="small")


def _line(axis: Axes, curve: Curve, factor: float, **style: Any) -> None:
    axis.plot(curve.temperature_K - ZERO_CELSIUS_K, curve.value * factor, **style)


def _stretches(axis: Axes, curve: Curve, factor: float, color: str) -> None:
    """Draw each stretch by its own confidence, and every row as a dot."""
    for stretch in curve.stretches:
        rows = curve.temperature_K
        t = np.concatenate([[stretch.first_K], rows[(rows > stretch.first_K) & (rows <= stretch.last_K)]])
        guess = stretch.citation.confidence == "estimated"
        axis.plot(t - ZERO_CELSIUS_K, curve(t) * factor, color=color, linestyle="--" if guess else "-")
    _line(axis, curve, factor, color=color, linestyle="none", marker=".", markersize=3.0)
