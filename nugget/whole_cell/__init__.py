"""Heat in the whole cell after its welds: from tenths of a second to an hour, all spots included."""

from nugget.whole_cell.cell_rings import Part, WholeCell
from nugget.whole_cell.response import Response, Spot, respond

__all__ = ["Part", "Response", "Spot", "WholeCell", "respond"]
