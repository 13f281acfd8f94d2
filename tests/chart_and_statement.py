"""Whether a chart and a statement say the same of one weld."""

from __future__ import annotations

import math

from nugget.study.charting.duration_chart import Panel
from nugget.study.statement.statement import Statement

ROOM = 1.5
"""Intervals of 95 % on both sides: three standard errors of their difference."""


def assert_same(panel: Panel, found: Statement, own: float) -> None:
    """Assert that the chances of both agree within their errors, and that no verdicts contradict.

    Parameters
    ----------
    panel : Panel
    found : Statement
        Of the chart's own setup.
    own : float
        The setup's own value of the axis field [SI].
    """
    assert panel.said is not None
    own_s = found.setup.train[-1].duration_s
    known = next(c.known for c in panel.columns if math.isclose(c.value, own))
    assert known is not None
    at = min(range(len(known.durations_s)), key=lambda k: abs(known.durations_s[k] - own_s))
    for key in ("enough", "harm", "damage", "hardware"):
        plain, charted = found.chance(key), known.chances.get(key)
        if plain is None or charted is None:
            assert plain is None or plain.high < 0.05, key
            continue
        one = charted[at]
        apart = abs(one.share - plain.share)
        room = math.hypot(one.high - one.low, plain.high - plain.low) / 2.0
        assert apart <= max(ROOM * room, 0.02), f"{key}: {one} against {plain}"
    said = {panel.said.verdict, found.verdict} - {"uncertain"}
    assert len(said) <= 1, said
