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
from validation.ten_benches import BENCHES

QUICK = ("numerics.refinement=0.5", "numerics.tolerance=4 K")


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
