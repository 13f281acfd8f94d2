"""Setup files: TOML with units in, a checked and frozen description of one weld out."""

from nugget.setup.cited import fact_sources
from nugget.setup.numeric_fields import QuantityField, find_field, quantity_fields
from nugget.setup.plausibility import remarks
from nugget.setup.presets import preset_names, presets
from nugget.setup.read import default_setup, load_setup, preset, setup_from_dict
from nugget.setup.setup import Setup
from nugget.setup.starter import starter_text

__all__ = [
    "QuantityField",
    "Setup",
    "default_setup",
    "fact_sources",
    "find_field",
    "load_setup",
    "preset",
    "preset_names",
    "presets",
    "quantity_fields",
    "remarks",
    "setup_from_dict",
    "starter_text",
]
