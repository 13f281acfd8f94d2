"""What a user's own program looks like to a type checker; read by mypy, never run."""

from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import nugget
from nugget.supply.kinds import ConstantCurrent


def weld_twice(folder: Path) -> float:
    setup: nugget.Setup = nugget.default_setup(["pulse.0.duration=5 ms"])
    weld: nugget.Weld = nugget.simulate(setup, on_step=lambda state: print(state.time_s))
    again: nugget.Weld = nugget.load_weld(weld.save(folder / "weld.npz"))
    assessment: nugget.Assessment = nugget.judge(setup)
    assessment.weld.plot_section().savefig(folder / "section.png")
    words: str = assessment.verdict + assessment.reason
    print(words, again.figures["nugget_diameter_m"])
    return float(again.history["time_s"][-1])


def sweep(setup: nugget.Setup) -> nugget.Sweep:
    with ProcessPoolExecutor() as executor:
        return nugget.sweep(setup, {"electrode.force": ["20 N", 40.0]}, executor=executor)


def metal() -> nugget.Material:
    try:
        plain = nugget.Material.constant("plain", resistivity=1e-7, density="8.9 g/cm3", melting=1700.0)
    except nugget.InputError as error:
        print(error.where, error.given, error.expected)
        raise
    return plain.replace(hardness="90 HV")


def points_and_files(setup: nugget.Setup, folder: Path) -> float:
    other = setup.with_({"electrode.force": "40 N"}, strip__material=metal())
    weld = nugget.simulate(other, keep=[1e-3, 2e-3])
    dims: tuple[object, ...] = weld.to_xarray()["temperature_K"].dims
    written: list[Path] = weld.to_vtk(folder / "weld.vtu", t=1e-3, segments=36)
    print(dims, written, weld.to_dataframe().index.name)
    return float(weld.at(0.0, [1e-5, -1e-5], 1e-3, method="nearest").max())


def studies(setup: nugget.Setup) -> None:
    chart = nugget.chart(setup, "electrode.force=20 N:40 N:3", longest_s=5e-3)
    good = [sample.good for sample in nugget.scatter(setup, {"electrode.force": "10 %"}).samples]
    fit = nugget.calibrate(setup, Path("trials.csv"), fit=["contact.radius_factor"])
    best = nugget.suggest(setup, {"electrode.force": ("15 N", "50 N")})
    print(chart.panels[0].columns[0].value, sum(good), fit.overrides, best.candidates[0].duration_s)


@nugget.register_source("even-current")
def even_current(current_A: float = 900.0) -> ConstantCurrent:
    return ConstantCurrent(current_A)


@nugget.register_limit("own-limit")
def own_limit() -> nugget.Limit:
    return nugget.Limit("own", "can_penetration", "at most", 0.1, "the team's own")
