"""Layers too thin to carry a contact."""

from __future__ import annotations

from nugget.grid.layout import LayerRows
from nugget.grid.stack import Grid

SQUEEZED_M = 20e-6
"""A layer thinner than this carries nothing of its own [m] (assumption). Molten it is squeezed out from
between the solids; solid it is indented through, as a print is many times deeper, and hardness is that
of what lies behind from about a tenth of the depth on (common practice in hardness testing)."""


def bearing_row(grid: Grid, row: int, outwards: int) -> int:
    """The row nearest to `row` whose layer carries the contact.

    Parameters
    ----------
    grid : Grid
    row : int
        Row at the interface.
    outwards : {+1, -1}
        Way from the interface into the solid.
    """
    layer = _layer_of(grid, row)
    while grid.z_faces[layer.end] - grid.z_faces[layer.start] < SQUEEZED_M:
        beyond = layer.end if outwards > 0 else layer.start - 1
        if not 0 <= beyond < grid.shape[0]:
            break
        behind = _layer_of(grid, beyond)
        if behind.role != layer.role:
            break
        layer, row = behind, beyond
    return row


def _layer_of(grid: Grid, row: int) -> LayerRows:
    return next(layer for layer in grid.layer_rows if layer.start <= row < layer.end)
