"""The ``[switch]`` section: one model per kind of switch."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from nugget.setup.quantity import Resistance, SpanOrZero
from nugget.setup.sources import Count, Section
from nugget.supply.switches import Switch


class TransistorsSection(Section):
    kind: Literal["transistors"]
    devices: Count
    on_resistance: Resistance

    def build(self) -> Switch:
        return Switch("transistors", self.on_resistance.si, self.devices)


class RelaySection(Section):
    """A relay or contactor; `pulse` durations count while its contacts are closed."""

    kind: Literal["relay"]
    on_resistance: Resistance
    closing_bounce: SpanOrZero
    opening_delay: SpanOrZero
    opening_scatter: SpanOrZero

    def build(self) -> Switch:
        return Switch(
            "relay",
            self.on_resistance.si,
            bounce_s=self.closing_bounce.si,
            opening_s=self.opening_delay.si,
            scatter_s=self.opening_scatter.si,
        )


class NoSwitchSection(Section):
    """Nothing in series with the weld: the source switches by itself, or ahead of its transformer."""

    kind: Literal["none"]

    def build(self) -> Switch:
        return Switch()


SwitchSection = Annotated[TransistorsSection | RelaySection | NoSwitchSection, Field(discriminator="kind")]
