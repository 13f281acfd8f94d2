"""What a trial weld can be made on and what can be seen of it: the words of every table of trials."""

from __future__ import annotations

RESULTS = {
    "loose": "nothing joined",
    "stuck": "came off by hand",
    "peeled": "gave way to a tool and tore no button",
    "held": "held as far as it was pulled: at least",
    "button": "tore a button out of the strip",
    "expulsion": "melt thrown out",
    "pierced": "the can is open",
}
INSIDES = {
    "clean": "no trace of the weld",
    "tinted": "heat tint",
    "dented": "a dent or bulge",
    "pierced": "melted through",
}
"""Seen at the can's inner face."""
CELLS = ("coupon", "empty can", "cell")
