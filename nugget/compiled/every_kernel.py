"""Imports all kernels, so that they are compiled or loaded together."""

from nugget.compiled import conducting, elimination, growing, heating, lookup, melt_readings

__all__ = ["conducting", "elimination", "growing", "heating", "lookup", "melt_readings"]
