"""The Python API: what ``import nugget`` offers, in one flat list."""

from nugget.api.registration import register_law, register_limit, register_source
from nugget.api.results import Judgement, Weld
from nugget.api.studies import calibrate, chart, scatter, suggest
from nugget.api.welds import judge, load_weld, simulate
from nugget.crosscheck.check import CrossCheck, CrossCheckError, cross_check
from nugget.errors import InputError, MarchError, NuggetError
from nugget.materials.material import Material
from nugget.merit.figure import Figure, register_figure
from nugget.merit.limit import Limit
from nugget.outcome.weld import watch
from nugget.setup import Setup, default_setup, load_setup, preset
from nugget.study.sweep import Sweep, sweep

__all__ = [
    "CrossCheck",
    "CrossCheckError",
    "Figure",
    "InputError",
    "Judgement",
    "Limit",
    "MarchError",
    "Material",
    "NuggetError",
    "Setup",
    "Sweep",
    "Weld",
    "calibrate",
    "chart",
    "cross_check",
    "default_setup",
    "judge",
    "load_setup",
    "load_weld",
    "preset",
    "register_figure",
    "register_law",
    "register_limit",
    "register_source",
    "scatter",
    "simulate",
    "suggest",
    "sweep",
    "watch",
]
