"""What runs along the other axis of a chart: a field of the setup and its values."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from nugget.errors import InputError
from nugget.setup import QuantityField, Setup, find_field
from nugget.units import DIMENSIONS, in_unit

HANDY = {
    "length": "mm",
    "area": "mm2",
    "time": "ms",
    "force": "N",
    "temperature": "degC",
    "temperature difference": "K",
    "resistance": "mohm",
    "inductance": "uH",
    "capacitance": "F",
    "voltage": "V",
    "current": "A",
    "frequency": "Hz",
    "angle": "deg",
}
"""Unit that each dimension is shown in; others in SI."""

STRENGTH = {
    "constant current": "source.current",
    "sine current": "source.current_rms",
    "constant voltage": "source.voltage",
    "battery": "source.open_circuit_voltage",
    "capacitor bank": "source.start_voltage",
    "transformer": "source.open_circuit_voltage_rms",
    "trace": "pulse.{last}.output_fraction",
}
"""Field that makes each kind of source stronger."""

USUAL_STRIP_M = (0.05e-3, 0.30e-3)
"""Strip thickness of the trade; common practice, no source."""
USUAL_COUNT = 11
LOBE_SHARES = (0.6, 1.4)
MOST_COLUMNS = 200


@dataclass(frozen=True)
class Axis:
    """A field and the values it takes.

    Attributes
    ----------
    field : QuantityField
    values : tuple of float
        SI, rising.
    own : float or None
        The value in the setup itself.
    """

    field: QuantityField
    values: tuple[float, ...]
    own: float | None

    @property
    def unit(self) -> str:
        """Unit that values are shown in; empty without a dimension."""
        return HANDY.get(self.field.dimension, self.field.unit)

    @property
    def title(self) -> str:
        """The field in words, without its unit."""
        section, name = self.field.path.split(".")[0], self.field.path.split(".")[-1].replace("_", " ")
        return name if section in name or section in ("numerics", "arrangement") else f"{section} {name}"

    def shown(self, value: float) -> float:
        """A value [SI] in `unit`."""
        return (
            in_unit(value, self.field.dimension, self.unit) if self.field.dimension in DIMENSIONS else value
        )

    def text(self, value: float) -> str:
        """A value [SI] as people read it."""
        unit = {"degC": "°C", "mohm": "mΩ", "uH": "µH", "mm2": "mm²", "deg": "°"}.get(self.unit, self.unit)
        return f"{self.shown(value):.4g} {unit}".strip()

    def setup_at(self, setup: Setup, value: float) -> Setup:
        """Return `setup` with the field at `value` [SI]."""
        return setup.with_({self.field.path: self.field.exact(value)})


def thickness_path(setup: Setup) -> str:
    """The field of the strip's thickness: of the thickest layer where it has several."""
    layers = setup.file.strip.layers
    if layers is None:
        return "strip.thickness"
    paths = [f"strip.layers.{k}.thickness" for k in range(len(layers))]
    return max(paths, key=lambda path: setup.get(path) or 0.0)


def strength_path(setup: Setup) -> str:
    """The field that makes the source stronger."""
    return STRENGTH[setup.file.source.kind].format(last=len(setup.train) - 1)


def usual_axis(setup: Setup) -> Axis:
    """Strip thickness from 0.05 to 0.30 mm; around the setup's own where that lies outside."""
    field = setup.fields[thickness_path(setup)]
    own = setup.get(field.path) or 0.0
    low, high = USUAL_STRIP_M
    if not low <= own <= high:
        low, high = 0.5 * own, 1.5 * own
    return Axis(field, _spread(low, high, USUAL_COUNT, own), own)


def lobe_axis(setup: Setup) -> Axis:
    """Strength of the source, 40 % to both sides of the setup's own."""
    field = setup.fields[strength_path(setup)]
    own = setup.get(field.path) or 0.0
    high = LOBE_SHARES[1] * own if field.dimension in DIMENSIONS else 1.0
    return Axis(field, _spread(LOBE_SHARES[0] * own, high, USUAL_COUNT, own), own)


def read_axis(setup: Setup, text: str) -> Axis:
    """Read ``FIELD=FROM:TO:COUNT``, such as ``electrode.force=10 N:60 N:11``.

    A unit may be left out of FROM; it is then that of TO. The end of a field's path will do
    where only one field ends so.

    Raises
    ------
    InputError
    """
    where, example = "vary", "FIELD=FROM:TO:COUNT, such as 'electrode.force=10 N:60 N:11'"
    path, equals, span = text.partition("=")
    parts = [part.strip() for part in span.split(":")]
    if not equals or len(parts) != 3:
        raise InputError(where, text, example)
    field = _field(setup, path.strip(), where)
    low, high = parts[0], parts[1]
    unit = high.lstrip("+-0123456789.eE ")
    if unit and not low.lstrip("+-0123456789.eE "):
        low = f"{low} {unit}"
    try:
        ends = field.read(low), field.read(high)
    except ValueError as problem:
        raise InputError(f"{where} {field.path}", span, str(problem)) from problem
    if not parts[2].isdecimal() or len(parts[2]) > 9 or not 2 <= int(parts[2]) <= MOST_COLUMNS:
        raise InputError(f"{where} {field.path}", parts[2], f"a count from 2 to {MOST_COLUMNS}")
    if not (math.isfinite(ends[0]) and math.isfinite(ends[1]) and ends[0] < ends[1]):
        raise InputError(f"{where} {field.path}", span, "a lower value first, then a higher one")
    own = setup.get(field.path)
    values = _spread(*ends, int(parts[2]), own)
    if field.dimension == "count":
        values = tuple(sorted({float(round(v)) for v in values}))
    return Axis(field, values, own)


def _field(setup: Setup, path: str, where: str) -> QuantityField:
    field, last = find_field(setup, path, where), len(setup.train) - 1
    if field.path in (f"pulse.{last}.duration", f"pulse.{last}.half_cycles"):
        raise InputError(
            where, path, "another field: the duration of the last pulse is the chart's other axis"
        )
    return field


def _spread(low: float, high: float, count: int, own: float | None) -> tuple[float, ...]:
    """Evenly spaced values; one that only rounding keeps from the setup's own value is that value."""
    values = np.linspace(low, high, count)
    if own is not None:
        values[np.abs(values - own) <= 1e-9 * abs(own)] = own
    return tuple(float(value) for value in values)
