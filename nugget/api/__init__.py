"""The Python API: what ``import nugget`` offers, in one flat list.

Results print in a few lines, draw themselves in a notebook, and complete by tab. Quantities are floats
in SI units, text with a unit, or pint quantities. Every call that runs many welds takes an executor of
`concurrent.futures`. Steps, rejections and contact radii are said by the standard logger
``nugget.weld`` at the level ``DEBUG``.

The examples run on a coarse grid, to be quick:

>>> import nugget
>>> coarse = {"numerics.refinement": 0.25, "numerics.tolerance": "40 K", "hold_time": "0.1 ms"}
>>> setup = nugget.preset("coupon", coarse).with_({"pulse.0.duration": "0.3 ms"})

What does force do? Every combination of values is one weld, labelled in what comes back; for many
of them, ``executor=concurrent.futures.ProcessPoolExecutor()`` uses all cores.

>>> found = nugget.sweep(setup, {"electrode.force": ["20 N", 30.0, 60.0]})
>>> data = found.to_xarray()
>>> wide = data["contact_diameter_m"]
>>> bool(wide.sel({"electrode.force": 60.0}) > wide.sel({"electrode.force": 20.0})), wide.attrs["units"]
(True, 'm')
>>> list(found.to_dataframe().index)
[20.0, 30.0, 60.0]

What would another metal do? A material made in Python is kept with the setup, and saved with the weld.

>>> bronze = nugget.Material.from_catalogue(
...     "tin-bronze", resistivity="13 uohm cm", density="8.8 g/cm3", melting="910 to 1040 degC"
... )
>>> weld = nugget.simulate(setup.with_(strip__material=bronze), every=1)
>>> weld.setup.strip[0].material.name
'tin-bronze'

How hot is it at a point? Heights count from the faying surface, the strip above it.

>>> weld.at(r=0.1e-3, z=[0.05e-3, -0.05e-3], t=0.3e-3).shape
(2,)
>>> float(weld.at(r=50e-3, z=0.05e-3))
nan

Pictures and files: a figure of matplotlib, netCDF by xarray, a mesh for ParaView by meshio.

>>> import tempfile, pathlib
>>> folder = tempfile.TemporaryDirectory()
>>> assessment = nugget.judge(setup)
>>> assessment.weld.plot_section().savefig(pathlib.Path(folder.name, "section.png"))
>>> _ = weld.to_xarray().to_netcdf(pathlib.Path(folder.name, "weld.nc"), engine="scipy")
>>> [path.name for path in weld.to_vtk(pathlib.Path(folder.name, "weld.vtu"), segments=36)]
['weld.vtu']
>>> folder.cleanup()

Studies are one call each, with arguments in words.

>>> chart = nugget.chart(setup, "electrode.force=20 N:40 N:2", spread=False, advice=False, longest_s=3e-4)
>>> [column.value for column in chart.panels[0].columns]
[20.0, 40.0]
>>> assessment.statement.chance("enough").share < 0.05
True
"""

from nugget.api.registration import register_law, register_limit, register_source
from nugget.api.results import Assessment, Weld
from nugget.api.studies import calibrate, chart, scatter, suggest
from nugget.api.welds import judge, load_weld, simulate
from nugget.crosscheck.check import CrossCheck, CrossCheckError, cross_check
from nugget.errors import InputError, NuggetError, SolverError
from nugget.materials.material import Material
from nugget.merit.figure import Figure, register_figure
from nugget.merit.limit import Limit
from nugget.outcome.weld import iter_steps
from nugget.setup import Setup, default_setup, load_setup, preset, preset_names
from nugget.study.sweep import Sweep, sweep

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
