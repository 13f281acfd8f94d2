"""What to change where a weld leaves no joint: tried, the cheapest first."""

from __future__ import annotations

from typing import Any

import pytest
from small import coarse

from nugget.outcome.weld import run_weld
from nugget.setup import Setup, default_setup, preset
from nugget.study.durations import joint_remedy
from nugget.study.durations.joint_remedy import remedy

LIMITED = {limit.figure for limit in default_setup().limits}


def grows(setup: Setup) -> dict[str, Any]:
    """A joint by voltage and time alone; a limit is broken by the stronger source."""
    source = setup.circuit.source.open_circuit_V  # type: ignore[attr-defined]
    enough = source**2 * setup.train_s > 0.7 * 12.0**2 * 1.4e-3 * 2.0
    return dict.fromkeys(LIMITED, 0.0) | {
        "nugget_diameter_m": 1e-3 * enough,
        "nugget_outer_diameter_m": 1e-3 * enough,
    }


def test_the_first_change_that_makes_the_joint_is_named_as_it_is_written() -> None:
    found = remedy(default_setup(), grows)
    assert found is not None
    assert found.what == "pulse duration 2.1 ms instead of 1.4 ms"
    assert found.override == "pulse.0.duration=2.1 ms"
    assert found.diameter_m == 1e-3


def test_where_nothing_helps_nothing_is_named() -> None:
    assert remedy(default_setup(), lambda setup: grows(setup) | {"nugget_diameter_m": 0.0}) is None


def test_a_weld_that_stops_is_no_remedy() -> None:
    def stops(setup: Setup) -> dict[str, Any]:
        raise ArithmeticError

    assert remedy(default_setup(), stops) is None


def test_the_sheets_weld_with_more_half_cycles(monkeypatch: pytest.MonkeyPatch) -> None:
    """The printed row leaves nothing between clean faces; three times its half cycles do weld."""
    monkeypatch.setattr(joint_remedy, "LONGER", (3.0,))
    setup = preset("sheets", ["numerics.refinement=0.25", "numerics.tolerance=20 K"])
    found = remedy(setup, lambda one: run_weld(one).figures)
    assert found is not None
    assert (found.what, found.override) == ("36 half cycles instead of 12", "pulse.0.half_cycles=36")
    assert found.diameter_m > setup.joint.minimum_diameter_m


def test_a_change_names_the_pulse_that_it_changes() -> None:
    two = coarse("pulse=[{duration='1 ms', cool_time='2 ms'},{duration='1 ms'}]", name="default")
    found = remedy(two, lambda one: grows(one) | {"nugget_diameter_m": 1e-3})
    assert found is not None
    assert found.override.startswith("pulse.1.duration=")
