"""The ``[source]`` section: one model per kind of power source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, ClassVar, Literal

import numpy as np
from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from nugget.errors import steers
from nugget.setup.quantity import (
    Capacitance,
    Current,
    FiringAngle,
    Frequency,
    Inductance,
    Resistance,
    Voltage,
)
from nugget.setup.trace import MOST_SAMPLES
from nugget.supply.kinds import (
    Battery,
    CapacitorBank,
    ConstantCurrent,
    ConstantVoltage,
    SineCurrent,
    Source,
    Trace,
    Transformer,
)

SOURCE_RESISTANCE = {
    "battery": "source.internal_resistance",
    "capacitor bank": "source.series_resistance",
    "transformer": "source.winding_resistance",
}
"""Field of the resistance inside each kind of source that has one."""


class Section(BaseModel):
    """A table of the setup file: unknown keys are errors, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


def legible(text: str) -> str:
    """Refuse what could steer a terminal or forge a line, wherever the text is shown."""
    if any(map(steers, text)):
        raise ValueError("text on one line, without control characters")
    return text


def _pairs(given: Any) -> Any:
    if isinstance(given, Mapping):
        return tuple((key, given[key]) for key in sorted(given, key=str))
    return given if isinstance(given, tuple) else str(given)


Options = Annotated[
    tuple[tuple[Annotated[str, Field(strict=True)], Annotated[float, Field(strict=True)]], ...],
    BeforeValidator(_pairs),
    PlainSerializer(dict),
]
"""What a plugin is given, by keyword: numbers in SI units, as the plugin names them."""


def _whole(given: object) -> object:
    return int(given) if isinstance(given, float) and given.is_integer() else given


Count = Annotated[int, BeforeValidator(_whole), Field(ge=1, le=10000, strict=True)]


class ConstantCurrentSection(Section):
    kind: Literal["constant current"]
    current: Current

    def build(self) -> Source:
        return ConstantCurrent(self.current.si)


class SineCurrentSection(Section):
    kind: Literal["sine current"]
    current_rms: Current
    frequency: Frequency

    def build(self) -> Source:
        return SineCurrent(self.current_rms.si, self.frequency.si)


class ConstantVoltageSection(Section):
    kind: Literal["constant voltage"]
    voltage: Voltage

    def build(self) -> Source:
        return ConstantVoltage(self.voltage.si)


class CellsSection(Section):
    """A source that is made of equal cells in series and in parallel, as far as that is said.

    `BY_CELL` pairs each value of the whole source with that of one cell: either may be given.
    """

    BY_CELL: ClassVar[dict[str, str]] = {}
    cell_resistance: Resistance | None = None
    cells_in_series: Count | None = None
    cells_in_parallel: Count | None = None

    @property
    def by_cell(self) -> tuple[str, ...]:
        """Which values of single cells are given."""
        return tuple(key for key in self.BY_CELL.values() if getattr(self, key) is not None)

    def whole_si(self, key: str) -> float:
        """The value of the whole source [SI] behind one of `BY_CELL`."""
        given = getattr(self, key)
        if given is not None:
            return float(given.si)
        series, parallel = self.cells_in_series or 1, self.cells_in_parallel or 1
        scale = {
            "cell_voltage": series,
            "cell_resistance": series / parallel,
            "cell_capacitance": parallel / series,
        }
        cell = self.BY_CELL[key]
        return float(getattr(self, cell).si) * scale[cell]


class BatterySection(CellsSection):
    kind: Literal["battery"]
    open_circuit_voltage: Voltage | None = None
    internal_resistance: Resistance | None = None
    cell_voltage: Voltage | None = None
    BY_CELL = {"open_circuit_voltage": "cell_voltage", "internal_resistance": "cell_resistance"}

    def build(self) -> Source:
        return Battery(self.whole_si("open_circuit_voltage"), self.whole_si("internal_resistance"))


class CapacitorBankSection(CellsSection):
    kind: Literal["capacitor bank"]
    capacitance: Capacitance | None = None
    start_voltage: Voltage
    series_resistance: Resistance | None = None
    cell_capacitance: Capacitance | None = None
    BY_CELL = {"capacitance": "cell_capacitance", "series_resistance": "cell_resistance"}

    def build(self) -> Source:
        ohm = self.whole_si("series_resistance")
        return CapacitorBank(self.whole_si("capacitance"), self.start_voltage.si, ohm)


class TransformerSection(Section):
    kind: Literal["transformer"]
    open_circuit_voltage_rms: Voltage
    frequency: Frequency
    winding_resistance: Resistance
    leakage_inductance: Inductance
    firing_angle: FiringAngle

    def build(self) -> Source:
        return Transformer(
            self.open_circuit_voltage_rms.si,
            self.frequency.si,
            self.winding_resistance.si,
            self.leakage_inductance.si,
            self.firing_angle.si,
        )


class TraceSection(Section):
    """`file` names the record; its samples stand here too, so that the setup is whole."""

    kind: Literal["trace"]
    quantity: Literal["current", "voltage"]
    file: str
    time_s: Annotated[tuple[Annotated[float, Field(ge=0, le=1e4)], ...], Field(max_length=MOST_SAMPLES)]
    samples: Annotated[tuple[Annotated[float, Field(ge=-1e6, le=1e6)], ...], Field(max_length=MOST_SAMPLES)]

    def build(self) -> Source:
        return Trace(np.array(self.time_s), np.array(self.samples), self.quantity)


class PluginSection(Section):
    """A source that a plugin brings; `options` are numbers in SI units, as the plugin names them."""

    kind: Literal["plugin"]
    plugin: Annotated[str, Field(min_length=1, max_length=200, strict=True), AfterValidator(legible)]
    options: Options = ()


SourceSection = Annotated[
    ConstantCurrentSection
    | SineCurrentSection
    | ConstantVoltageSection
    | BatterySection
    | CapacitorBankSection
    | TransformerSection
    | TraceSection
    | PluginSection,
    Field(discriminator="kind"),
]
