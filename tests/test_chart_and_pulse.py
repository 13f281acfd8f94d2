"""The chart and `nugget pulse` say the same of the same weld, over ten benches of different kinds."""

from __future__ import annotations

import pytest
from chart_and_statement import assert_same

from nugget.setup import default_setup
from nugget.study.charting.duration_chart import draw_up, plan_chart
from nugget.study.inputs.variation import read_axis
from nugget.study.statement.safe_range import IN_WINDOW, safe_range
from nugget.study.statement.samples import kept
from nugget.study.statement.statement import state

QUICK = ("numerics.refinement=0.5", "numerics.tolerance=4 K")
BANK = 'source={kind="capacitor bank", capacitance="1 F", start_voltage="14 V", series_resistance="3 mohm"}'
MAINS = (
    'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="50 Hz",'
    ' winding_resistance="0.5 mohm", leakage_inductance="1 uH"}'
)
BENCHES: dict[str, tuple[str, ...]] = {
    "as it comes": (),
    "shorter": ("pulse.0.duration=1.5 ms",),
    "longer": ("pulse.0.duration=4 ms",),
    "thin strip": ("strip.thickness=0.1 mm", "pulse.0.duration=0.8 ms"),
    "thick strip": ("strip.thickness=0.2 mm", "pulse.0.duration=5 ms"),
    "more force": ("electrode.force=45 N",),
    "plated steel": ("strip.material=nickel-plated-steel",),
    "capacitor bank": (BANK, "pulse.0.duration=3 ms"),
    "mains": (MAINS, "pulse=[{half_cycles=1}]"),
    "films known": ("uncertainty.spread={'contact.tip.film'='x1.3', 'contact.faying.film'='x1.3'}",),
}


@pytest.mark.full
@pytest.mark.parametrize("name", BENCHES)
def test_chart_pulse_and_card_agree(name: str) -> None:
    setup = default_setup([*BENCHES[name], *QUICK])
    force_N = setup.force_N
    axis = read_axis(setup, f"electrode.force={0.8 * force_N}:{1.2 * force_N} N:3")
    (panel,) = draw_up(plan_chart(setup, axis, welds=32), advice=False).panels
    finished = kept()
    found = state(setup, finished=finished)
    assert_same(panel, found, force_N)
    assert safe_range(setup, finished=finished).safe == (found.verdict == IN_WINDOW)
