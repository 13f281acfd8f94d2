"""nugget: predict a resistance spot weld on a lithium cell before a cell is touched.

>>> import nugget
>>> setup = nugget.default_setup()
>>> weld = nugget.simulate(setup)          # one march, seconds
>>> weld.fused_diameter_m                  # doctest: +SKIP
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from nugget.outcome.verdict import judge
    from nugget.outcome.weld import Weld, load_weld, watch
    from nugget.outcome.weld import march_weld as simulate
    from nugget.setup import default_setup, load_setup, preset

__version__ = "0.1.0"

__all__ = ["Weld", "default_setup", "judge", "load_setup", "load_weld", "preset", "simulate", "watch"]

_HOMES = {
    "default_setup": ("nugget.setup", "default_setup"),
    "load_setup": ("nugget.setup", "load_setup"),
    "preset": ("nugget.setup", "preset"),
    "simulate": ("nugget.outcome.weld", "march_weld"),
    "watch": ("nugget.outcome.weld", "watch"),
    "load_weld": ("nugget.outcome.weld", "load_weld"),
    "Weld": ("nugget.outcome.weld", "Weld"),
    "judge": ("nugget.outcome.verdict", "judge"),
}


def __getattr__(name: str) -> Any:
    """Load the public names on first use, so that ``import nugget`` stays light."""
    if name not in _HOMES:
        raise AttributeError(f"module 'nugget' has no attribute {name!r}")
    import importlib

    module, attribute = _HOMES[name]
    return getattr(importlib.import_module(module), attribute)
