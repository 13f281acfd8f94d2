"""Damage limits for the interior of a cell, each with its source."""

from __future__ import annotations

from nugget.merit.limit import Limit
from nugget.setup.description import Kinetics


def separator_shutdown(temperature_K: float = 403.15) -> Limit:
    """Polyethylene separator closes its pores near 130 degC: a soak value, strict for a brief spike."""
    source = "Arora and Zhang, Chem. Rev. 104 (2004) 4419: shutdown at 130 to 135 degC (from memory)"
    return Limit(
        "separator_shutdown", "interior_peak_K", "at most", temperature_K, source, confidence="memory"
    )


def negative_electrode() -> Kinetics:
    """Reaction of the negative electrode with the electrolyte, as first-order kinetics."""
    source = (
        "Kim, Pesaran and Spotnitz, J. Power Sources 170 (2007) 476, after Hatchard et al.,"
        " J. Electrochem. Soc. 148 (2001) A755 (found in a public repository); the factor for the growing"
        " film on the electrode is left out, so the dose is on the high side"
    )
    return Kinetics("negative electrode with electrolyte", 2.5e13, 135080.0, source)
