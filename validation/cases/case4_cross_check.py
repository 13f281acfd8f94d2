"""Case 4c: the cross-check that users run, on welds that melt, boil and warm a roll, and on every preset."""

from __future__ import annotations

from dataclasses import dataclass

from nugget.crosscheck.check import ALLOWED, CrossCheck, CrossCheckError, cross_check
from nugget.setup import Setup, default_setup, preset, preset_names
from nugget.weld.state import WeldState
from validation.case import Case, Check, Outcome, at_least, scaled

COARSE = "numerics.refinement=0.3"
SHORT = [COARSE, "pulse.0.duration=0.5 ms", "leads.inductance=0 uH"]
"""Melts, and warms the roll; without inductance half the steps are enough."""
BOILS = [
    COARSE,
    "source.current_rms=30 kA",
    "pulse=[{half_cycles=1}]",
    "hold_time=1 ms",
    "numerics.max_time=11 ms",
]
"""Far too much current for two thin sheets, so that metal boils between them."""


@dataclass(frozen=True)
class Checked:
    """A weld, what its cross-check found, and its hottest moment [K]."""

    name: str
    found: CrossCheck
    hottest_K: float


def _checked(name: str, setup: Setup) -> Checked:
    hottest = [0.0]

    def look(state: WeldState) -> None:
        hottest.append(float(state.temperature.max()))

    try:
        found = cross_check(setup, look)
    except CrossCheckError as failure:
        found = failure.check
    return Checked(name, found, max(hottest))


def _judge(one: Checked) -> list[Check]:
    note = f"{one.found.steps} steps"
    checks = []
    for d in one.found.differences:
        apart = abs(d.ours - d.theirs)
        scale = apart / d.share if d.share else abs(d.ours) or 1.0
        name = f"{one.name}: {d.name}, at {d.time_s * 1e3:.4g} ms"
        checks.append(scaled(name, d.ours, d.theirs, scale, ALLOWED, d.unit, note))
    return checks


def run_short() -> Outcome:
    return Outcome(tuple(_judge(_checked("0.5 ms", default_setup(SHORT)))))


def run_boiling() -> Outcome:
    sheets = preset("sheets", BOILS)
    hot = _checked("boils", sheets)
    boiling = sheets.strip[0].material.boiling_K
    assert boiling is not None
    checks = _judge(hot)
    name = "boils: hottest point over the boiling point"
    checks.append(at_least(name, hot.hottest_K / boiling, 1.0 - 1e-3))
    return Outcome(tuple(checks))


def run_presets() -> Outcome:
    checks: list[Check] = []
    for name in preset_names():
        setup = default_setup() if name == "default" else preset(name)
        checks += _judge(_checked(name, setup))
    return Outcome(tuple(checks))


_TOLERANCE = (
    "1 % of the largest value of each quantity: half of the whole numerical error (theory: numerics)."
)
_SOURCE = (
    "nugget/crosscheck: every step repeated with FiPy's terms and solvers on the same grid and contacts; "
    "properties, assembly, Joule heat, circuit and losses written anew."
)
CASES = (
    Case(
        key="4-cross-check",
        title="Every step repeated with FiPy",
        claim="Charge, heat and circuit of a coarse default weld with its cool-down.",
        source=_SOURCE,
        tolerance=_TOLERANCE,
        run=run_short,
    ),
    Case(
        key="4-cross-check-boiling",
        title="Every step of a weld that boils repeated with FiPy",
        claim="Charge, heat and circuit of two thin sheets under far too much current.",
        source=_SOURCE,
        tolerance=_TOLERANCE,
        run=run_boiling,
    ),
    Case(
        key="4-cross-check-presets",
        title="Every step of every preset repeated with FiPy",
        claim="The same for every preset on its standard grid.",
        source=_SOURCE,
        tolerance=_TOLERANCE,
        run=run_presets,
        quick=False,
    ),
)
