"""Imports all kernels, so that they are compiled or loaded together."""

from nugget.compiled import conducting, elimination, growing, heating, lookup, measuring

__all__ = ["conducting", "elimination", "growing", "heating", "lookup", "measuring"]
