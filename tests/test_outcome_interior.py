"""What the inside of the cell feels, and when a run may end."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from small import coarse

from nugget.constants import GAS_CONSTANT_J_MOL_K
from nugget.outcome.interior import PeakDetector, ProbeReader, crossing_time, dose, peak, time_above
from nugget.setup.description import Kinetics
from nugget.weld.model import WeldModel

KINETICS = Kinetics("made up", 1e15, 135e3, "made up")


@given(
    top=st.floats(0.2, 0.8),
    height=st.floats(300.0, 900.0),
    bend=st.floats(10.0, 1e4),
    seed=st.integers(0, 99),
)
def test_the_peak_of_a_parabola_is_found_between_samples(
    top: float, height: float, bend: float, seed: int
) -> None:
    t = np.sort(np.concatenate([[0.0, 1.0], np.random.default_rng(seed).random(30)]))
    when, found = peak(t, height - bend * (t - top) ** 2, math.inf)
    assert when == pytest.approx(top, abs=1e-6)
    assert found == pytest.approx(height, rel=1e-9)


@pytest.mark.parametrize(
    ("values", "expected"), [([3.0, 2.0, 1.0], (0.0, 3.0)), ([1.0, 2.0, 3.0], (2.0, 3.0))]
)
def test_a_peak_at_an_end_is_that_sample(values: list[float], expected: tuple[float, float]) -> None:
    assert peak(np.arange(3.0), np.array(values), math.inf) == expected


@given(
    values=st.lists(st.floats(250.0, 4000.0), min_size=1, max_size=40),
    steps=st.lists(st.floats(1e-9, 1e-2), min_size=40, max_size=40),
    tolerance=st.floats(0.01, 5.0),
)
def test_no_history_peaks_higher_than_a_step_may_err(
    values: list[float], steps: list[float], tolerance: float
) -> None:
    """Whatever the kinks and however uneven the steps."""
    t, value = np.cumsum(steps[: len(values)]), np.array(values)
    when, found = peak(t, value, tolerance)
    assert value.max() <= found <= value.max() + tolerance
    assert t[0] <= when <= t[-1]


def test_a_kink_is_no_peak_beyond_its_sample() -> None:
    """Where the current stops the curve breaks off; the parabola's vertex would lie at 3024.6."""
    t, value = np.array([0.0, 1.0, 1.001]), np.array([300.0, 600.0, 590.0])
    assert peak(t, value, 1.5) == (1.0, 600.0)
    assert peak(t, value, math.inf)[1] == pytest.approx(3024.6, abs=0.1)


def test_a_flat_top_is_no_peak_above_itself() -> None:
    assert peak(np.arange(4.0), np.array([1.0, 2.0, 2.0, 1.0]), math.inf)[1] >= 2.0
    assert peak(np.arange(3.0), np.array([2.0, 2.0, 2.0]), math.inf) == (0.0, 2.0)


@pytest.mark.parametrize(("limit", "expected"), [(2.0, 1.0), (1.0, 2.0), (0.0, 3.0), (3.0, 0.0), (2.5, 0.5)])
def test_time_above_a_limit_is_counted_between_samples(limit: float, expected: float) -> None:
    """Up from 1 to 3 in one second, down to 1 in the next; then still."""
    value = np.array([1.0, 3.0, 1.0, 1.0 - 1e-12])
    assert time_above(np.arange(4.0), value, limit) == pytest.approx(expected, abs=1e-9)


@given(T=st.floats(300.0, 700.0), seconds=st.floats(1e-3, 10.0))
def test_the_dose_at_constant_temperature(T: float, seconds: float) -> None:
    t = np.linspace(0.0, seconds, 5)
    rate = 1e15 * math.exp(-135e3 / (GAS_CONSTANT_J_MOL_K * T))
    assert dose(t, np.full(5, T), KINETICS) == pytest.approx(rate * seconds, rel=1e-9)


def test_the_dose_of_a_steep_rise_needs_few_samples() -> None:
    def total(samples: int) -> float:
        t = np.linspace(0.0, 1.0, samples)
        return dose(t, 300.0 + 300.0 * t, KINETICS)

    assert total(8) == pytest.approx(total(4000), rel=0.05)
    assert total(40) == pytest.approx(total(4000), rel=2e-3)


def settled(values: list[float], times: list[float] | None = None, patience_s: float = 0.0) -> bool:
    peak_detector = PeakDetector(300.0, patience_s)
    for time_s, value in zip(times or range(1, len(values) + 1), values, strict=True):
        peak_detector.add(float(time_s), {"roll": value})
    return peak_detector.done()


@given(
    steps=st.lists(st.floats(1e-3, 5.0), min_size=2, max_size=60),
    values=st.lists(st.floats(300.0, 301.0), min_size=60, max_size=60),
    patience_s=st.floats(0.0, 20.0),
)
def test_each_step_is_judged_as_if_all_were_read_again(
    steps: list[float], values: list[float], patience_s: float
) -> None:
    detector, times = PeakDetector(300.0, patience_s), np.cumsum(steps)
    for k, time_s in enumerate(times):
        detector.add(float(time_s), {"roll": values[k]})
        so_far = values[: k + 1]
        late = [v for t, v in zip(times, so_far, strict=False) if t >= 0.5 * time_s]
        fell = values[k] <= max(so_far) - 0.05 * (max(so_far) - 300.0) and max(so_far) > 300.0
        stood = time_s > patience_s and max(late) - min(late) < 0.1
        assert detector.done() == (fell or stood)


def test_a_run_ends_when_a_probe_has_fallen_by_a_twentieth_of_its_rise() -> None:
    assert not settled([300.0, 400.0, 395.1])
    assert settled([300.0, 400.0, 394.9])


def test_a_rising_probe_keeps_the_run_going() -> None:
    assert not settled([300.0, 310.0, 320.0])


def test_a_probe_that_stands_still_while_time_doubles_ends_the_run() -> None:
    times = [1.0, 4.0, 5.0, 8.0]
    assert settled([300.0, 350.0, 350.05, 350.09], times)
    assert not settled([300.0, 350.0, 350.05, 350.2], times)


def test_a_probe_that_has_not_felt_the_weld_yet_does_not_count_as_still() -> None:
    values, times = [300.0, 300.0, 300.0], [1.0, 4.0, 8.0]
    assert settled(values, times, patience_s=7.0)
    assert not settled(values, times, patience_s=9.0)


def test_all_probes_must_have_passed() -> None:
    peak_detector = PeakDetector(300.0, 0.0)
    for time_s, (can, roll) in enumerate([(300.0, 300.0), (500.0, 310.0), (400.0, 320.0)], 1):
        peak_detector.add(float(time_s), {"can_inner": can, "roll": roll})
    assert not peak_detector.done()
    peak_detector.add(4.0, {"can_inner": 400.0, "roll": 318.0})
    assert peak_detector.done()


CELL = WeldModel(coarse("cell.conductance_below=1e4 W/(m2 K)", name="default"))
CAP = WeldModel(coarse(name="18650-positive"))


def test_each_end_of_a_cell_has_its_probes() -> None:
    even = np.full(CELL.grid.shape, 300.0)
    assert list(ProbeReader(CELL).read(even)) == ["can_inner", "disc", "separator", "roll"]
    even = np.full(CAP.grid.shape, 300.0)
    assert list(ProbeReader(CAP).read(even)) == ["can_inner", "gap", "disc", "separator", "roll"]
    coupon = WeldModel(coarse())
    assert list(ProbeReader(coupon).read(np.full(coupon.grid.shape, 300.0))) == ["can_inner"]


def test_an_even_field_reads_the_same_everywhere() -> None:
    found = ProbeReader(CELL).read(np.full(CELL.grid.shape, 321.0))
    assert list(found.values()) == pytest.approx([321.0] * 4)


def test_faces_are_read_by_their_flux_not_by_cell_centres() -> None:
    """Can at 400 K, disc at 300 K: half cells and the conductance between them share the fall."""
    grid = CELL.grid
    can, disc = grid.rows("can"), grid.rows("disc")
    T = np.full(grid.shape, 300.0)
    T[can.start :] = 400.0
    found = ProbeReader(CELL).read(T)
    k = [
        float(CELL.tables.materials[grid.material[row, 0]].conductivity_z(T[row, 0]))
        for row in (can.start, disc.stop - 1)
    ]
    above, below = 0.5 * grid.dz[can.start] / k[0], 0.5 * grid.dz[disc.stop - 1] / k[1]
    flux = 100.0 / (above + 1e-4 + below)
    assert found["can_inner"] == pytest.approx(400.0 - flux * above, rel=1e-4)
    assert found["disc"] == pytest.approx(300.0 + flux * below, rel=1e-4)
    assert found["roll"] == pytest.approx(300.0)


def test_the_hottest_place_over_the_radius_counts() -> None:
    T = np.full(CELL.grid.shape, 300.0)
    T[CELL.grid.rows("roll").stop - 1, 3] = 350.0
    assert 300.0 < ProbeReader(CELL).read(T)["roll"] <= 350.0


def test_the_time_that_heat_needs_adds_up_by_its_root() -> None:
    """Root of L^2 / alpha, layer by layer; the roll itself does not count."""
    setup = CELL.setup
    doubled = setup.with_({"cell.interior.0.thickness": 0.3e-3})
    disc = setup.base[1].material
    alpha = float(disc.conductivity_z(298.15)) / (disc.density_kg_m3 * float(disc.heat_capacity(298.15)))
    rise = math.sqrt(crossing_time(WeldModel(doubled))) - math.sqrt(crossing_time(CELL))
    assert rise == pytest.approx(0.2e-3 / math.sqrt(alpha))
