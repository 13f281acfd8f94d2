"""What worker processes load before their first march: the solver, and its kernels where they serve."""

from __future__ import annotations

import logging

import nugget.study.statement.samples
from nugget.compiled.seam import serve

__all__ = ["nugget"]

# What there is to say of it the parent says, which loads the same.
logging.getLogger("nugget").addHandler(logging.NullHandler())
serve()
