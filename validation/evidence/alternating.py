"""A transformer weld against steps many times finer, and its cost against a battery weld."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from nugget.weld import stepper
from nugget.weld.march import March
from validation.bench import bench
from validation.case import Check, Outcome, at_most
from validation.evidence.piece import Piece

SHARE, TIMES, FINER = 5e-3, 3.0, 30.0
FINE_GRID, COARSE_GRID = 1.0, 0.3
"""Cost on the standard grid; accuracy in time on a coarse one, as it is not the grid that is asked about."""
COMMON: dict[str, Any] = {"hold_time": "1 ms", "leads.resistance": "1 mohm", "numerics.max_time": "22 ms"}
TRANSFORMER: dict[str, Any] = {
    "source": {
        "kind": "transformer",
        "open_circuit_voltage_rms": "3 V",
        "frequency": "50 Hz",
        "winding_resistance": "0.6 mohm",
        "leakage_inductance": "1 uH",
    },
    "pulse": [{"half_cycles": 2}],
}
BATTERY: dict[str, Any] = {
    "source": {"kind": "battery", "open_circuit_voltage": "6 V", "internal_resistance": "4 mohm"},
    "pulse": [{"duration": "20 ms"}],
}


@contextmanager
def finer(times: float) -> Iterator[None]:
    """Bounds on the errors of the circuit that many times smaller."""
    with pytest.MonkeyPatch.context() as patch:
        for bound in ("CURRENT_TOLERANCE", "CIRCUIT_TOLERANCE"):
            patch.setattr(stepper, bound, getattr(stepper, bound) / times)
        yield


def marched(changes: dict[str, Any], refinement: float, times: float = 1.0) -> tuple[dict[str, float], int]:
    """Figures of one weld, with temperatures too that many times finer in time, and its stages."""
    setup = bench().with_({**COMMON, **changes, "numerics.refinement": refinement})
    setup = setup.with_({"numerics.tolerance": setup.numerics.tolerance_K / times})
    march, hottest_K = March(setup), 0.0
    with finer(times):
        for last in march:
            hottest_K = max(hottest_K, float(last.temperature.max()))
    return {
        "effective current": (last.energy.action_A2s / setup.train_s) ** 0.5,
        "energy into the weld": last.energy.returned_J,
        "contact radius": last.contacts[-1].radius_m,
        "hottest metal": hottest_K - setup.ambient_K,
    }, march.model.stage_count


def run(workers: int) -> Outcome:
    checks: list[Check] = []
    for angle in ("0 deg", "60 deg"):
        weld = {**TRANSFORMER, "source": {**TRANSFORMER["source"], "firing_angle": angle}}
        (usual, _), (fine, _) = marched(weld, COARSE_GRID), marched(weld, COARSE_GRID, FINER)
        for name, value in usual.items():
            checks.append(at_most(f"fired at {angle}: {name}", abs(value / fine[name] - 1.0), SHARE))
    (_, fired), (_, switched) = marched(TRANSFORMER, FINE_GRID), marched(BATTERY, FINE_GRID)
    note = f"{fired} iterations against {switched}"
    checks.append(at_most("cost over that of a battery weld", fired / switched, TIMES, "", note))
    return Outcome(tuple(checks))


PIECE = Piece(
    name="alternating",
    title="Alternating current: accuracy in time and cost",
    what="Two half cycles of a transformer, fired at voltage zero and at 60 degrees, against the same weld "
    "with every bound on the error of a step 30 times smaller: within 0.5 %. Cost: iterations of a "
    "transformer weld over those of a battery weld that lasts as long, at most three.",
    run=run,
)
