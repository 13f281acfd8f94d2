"""Setup files: TOML with units in, a checked and frozen description of one weld out."""

from nugget.setup.description import Setup
from nugget.setup.presets import preset_names, presets
from nugget.setup.read import default_setup, load_setup, preset, setup_from_dict, with_overrides

__all__ = [
    "Setup",
    "default_setup",
    "load_setup",
    "preset",
    "preset_names",
    "presets",
    "setup_from_dict",
    "with_overrides",
]
