"""The ``[source]`` section: one model per kind of power source."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

import numpy as np
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, PlainSerializer

from nugget.setup.quantity import (
    Capacitance,
    Current,
    FiringAngle,
    Frequency,
    Inductance,
    Resistance,
    Voltage,
)
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


class Section(BaseModel):
    """A table of the setup file: unknown keys are errors, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


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


class BatterySection(Section):
    kind: Literal["battery"]
    open_circuit_voltage: Voltage
    internal_resistance: Resistance

    def build(self) -> Source:
        return Battery(self.open_circuit_voltage.si, self.internal_resistance.si)


class CapacitorBankSection(Section):
    kind: Literal["capacitor bank"]
    capacitance: Capacitance
    start_voltage: Voltage
    series_resistance: Resistance

    def build(self) -> Source:
        return CapacitorBank(self.capacitance.si, self.start_voltage.si, self.series_resistance.si)


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
    time_s: tuple[float, ...]
    samples: tuple[float, ...]

    def build(self) -> Source:
        return Trace(np.array(self.time_s), np.array(self.samples), self.quantity)


class PluginSection(Section):
    """A source that a plugin brings; `options` are numbers in SI units, as the plugin names them."""

    kind: Literal["plugin"]
    plugin: Annotated[str, Field(min_length=1, strict=True)]
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
