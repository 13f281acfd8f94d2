"""nugget: predict a resistance spot weld on a lithium cell before a cell is touched.

>>> import nugget
>>> setup = nugget.default_setup()
>>> weld = nugget.simulate(setup)          # one march, seconds
>>> weld.nugget_diameter_m                  # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from nugget.constants import VERSION as __version__

if TYPE_CHECKING:
    from nugget.api import (
        Assessment,
        CrossCheck,
        CrossCheckError,
        Figure,
        InputError,
        Limit,
        Material,
        NuggetError,
        Setup,
        SolverError,
        Sweep,
        Weld,
        calibrate,
        chart,
        cross_check,
        default_setup,
        iter_steps,
        judge,
        load_setup,
        load_weld,
        preset,
        preset_names,
        register_figure,
        register_law,
        register_limit,
        register_source,
        scatter,
        simulate,
        suggest,
        sweep,
    )

__all__ = [
    "Assessment",
    "CrossCheck",
    "CrossCheckError",
    "Figure",
    "InputError",
    "Limit",
    "Material",
    "NuggetError",
    "Setup",
    "SolverError",
    "Sweep",
    "Weld",
    "__version__",
    "calibrate",
    "chart",
    "cross_check",
    "default_setup",
    "iter_steps",
    "judge",
    "load_setup",
    "load_weld",
    "preset",
    "preset_names",
    "register_figure",
    "register_law",
    "register_limit",
    "register_source",
    "scatter",
    "simulate",
    "suggest",
    "sweep",
]


def __getattr__(name: str) -> Any:
    """Load the public names on first use, so that ``import nugget`` stays light."""
    if name not in __all__:
        raise AttributeError(f"module 'nugget' has no attribute {name!r}")
    from nugget import api

    return getattr(api, name)


def __dir__() -> list[str]:
    """The public names, for completion."""
    return sorted(__all__)
