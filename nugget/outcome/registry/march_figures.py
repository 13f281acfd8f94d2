"""Figures of the march itself, by which its numbers can be trusted or not."""

from __future__ import annotations

from nugget.merit.figure import Figure
from nugget.outcome.reading import Reading

WELD = (
    Figure(
        "title",
        "Title",
        "text",
        "weld",
        "weld",
        "What the setup is called",
        read=lambda reading: reading.setup.title,
        source="setup",
    ),
    Figure(
        "arrangement",
        "Arrangement",
        "text",
        "weld",
        "weld",
        "Where the two tips stand",
        read=lambda reading: reading.setup.arrangement,
        source="setup",
    ),
)


def _energy_residual(reading: Reading) -> float:
    energy = reading.energy
    return energy.worst_J / energy.load_J if energy.load_J > 0.0 else 0.0


def _circuit_residual(reading: Reading) -> float:
    energy, drawn = reading.energy, reading.energy.drawn_J
    spent = energy.action_A2s * reading.setup.circuit.series_ohm + energy.returned_J + energy.clamp_J
    return abs(drawn - spent) / abs(drawn) if drawn else 0.0


MARCH = (
    Figure(
        "energy_residual",
        "Energy residual",
        "1",
        "weld",
        "numerics",
        "Largest imbalance of heat, over the heat made",
        read=_energy_residual,
        source="state",
        digits=1,
    ),
    Figure(
        "circuit_residual",
        "Circuit residual",
        "1",
        "weld",
        "numerics",
        "Energy drawn less what circuit and load took, over the energy drawn",
        read=_circuit_residual,
        source="state",
        digits=1,
    ),
    Figure(
        "peak_reached",
        "Interior peak passed",
        "yes/no",
        "weld",
        "numerics",
        "Whether every face that is followed passed its peak before the run ended",
        read=lambda reading: reading.peak_reached,
        source="state",
    ),
    Figure(
        "end_time_s",
        "End of the run",
        "s",
        "weld",
        "numerics",
        "Time at which the run ended",
        read=lambda reading: reading.end_time_s,
        source="state",
    ),
    Figure(
        "cells",
        "Cells",
        "count",
        "weld",
        "numerics",
        "Cells of the grid that hold matter",
        read=lambda reading: reading.cells,
        source="state",
    ),
    Figure(
        "steps",
        "Steps",
        "count",
        "weld",
        "numerics",
        "Accepted steps",
        read=lambda reading: reading.steps,
        source="state",
    ),
    Figure(
        "rejected_steps",
        "Rejected steps",
        "count",
        "weld",
        "numerics",
        "Steps that were tried again, shorter",
        read=lambda reading: reading.rejected_steps,
        source="state",
    ),
    Figure(
        "held_past_table",
        "Beyond their property tables",
        "table",
        "weld",
        "numerics",
        "Materials that became hotter than their property tables reach; their last values were used",
        read=lambda reading: reading.held_past_table,
        source="state",
    ),
)
