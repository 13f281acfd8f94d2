"""What one march answers for calibration: sizes on both sides of fusing, growth curve, signals."""

from __future__ import annotations

from itertools import pairwise

import pytest

from nugget.errors import SolverError
from nugget.setup import Setup, default_setup
from nugget.study.calibration import condition as march
from nugget.study.calibration.condition import Answer, Ask, answer, answer_from

DURATIONS = (0.1e-3, 1.5e-3, 4e-3)
TIMES = (0.0, 0.2e-3, 2e-3)


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup(["cell.kind=empty can", "numerics.refinement=0.3", "numerics.tolerance=10 K"])


@pytest.fixture(scope="module")
def said(setup: Setup) -> Answer:
    return answer(Ask(setup, DURATIONS, (4e-3,), TIMES))


def test_sizes_rise_with_the_pulse_and_go_on_below_fusing(said: Answer) -> None:
    assert all(a < b for a, b in pairwise(said.size_m))
    assert said.size_m[0] < 0.0 < said.size_m[-1]
    assert said.size_m[0] > -0.6e-3
    assert all(a <= b + 1e-12 for a, b in pairwise(said.grid_m))
    assert len(said.grid_m) == march.GRID


def test_current_and_tip_voltage_follow_the_circuit(setup: Setup, said: Answer) -> None:
    assert said.current_A[0] == 0.0
    assert said.current_A[1] < said.current_A[2]
    circuit = setup.circuit
    steady = said.voltage_V[2] + said.current_A[2] * circuit.series_ohm
    assert steady == pytest.approx(circuit.source.value(0.0), rel=0.02)


def test_the_inner_face_is_hotter_when_it_was_followed(setup: Setup, said: Answer) -> None:
    short = answer(Ask(setup, DURATIONS, (), TIMES))
    assert said.inner_K[2] >= short.inner_K[2]
    assert said.inner_K[2] > 600.0
    assert short.size_m == pytest.approx(said.size_m, rel=1e-6)


def test_an_answer_survives_json(said: Answer) -> None:
    import json
    from dataclasses import asdict

    assert answer_from(json.loads(json.dumps(asdict(said)))) == said


def test_a_march_that_stops_says_why(setup: Setup, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise SolverError(1e-3, "it stopped")

    monkeypatch.setattr(march, "_Trunk", stop)
    failed = answer(Ask(setup, (1e-3,), (), ()))
    assert "it stopped" in failed.failed
    assert failed.size_m == ()
