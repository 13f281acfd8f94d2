"""Twice as large, in four times the time, with twice the current and four times the force: the same weld.

Heat conduction, Joule heat and the balance of forces have no length of their own. What has one is scaled
with the rest: films by their resistance and conductance per area, the outer air, and the rates of strain at
which metal is harder, which fall as times grow.
"""

from __future__ import annotations

import pytest

from nugget.contact import growth, laws
from nugget.outcome.weld import Weld, run_weld
from nugget.setup import default_setup
from nugget.weld import interface_model, stage, stepper

POWERS = {
    "strip.thickness": (0.12, 1, "mm"),
    "strip.width": (8.0, 1, "mm"),
    "strip.end_distance": (5.0, 1, "mm"),
    "electrode.face_diameter": (1.5, 1, "mm"),
    "electrode.dome_radius": (3.0, 1, "mm"),
    "electrode.tip_length": (3.0, 1, "mm"),
    "electrode.shank_diameter": (3.0, 1, "mm"),
    "electrode.shank_length": (12.0, 1, "mm"),
    "electrode.force": (30.0, 2, "N"),
    "arrangement.spacing": (5.0, 1, "mm"),
    "contact.stand_off": (5.0, 1, "um"),
    "contact.tip.film": (1e-12, 1, "ohm m2"),
    "contact.faying.film": (1e-11, 1, "ohm m2"),
    "contact.tip.film_heat_conductance": (3e7, -1, "W/(m2 K)"),
    "contact.faying.film_heat_conductance": (3e7, -1, "W/(m2 K)"),
    "cell.wall": (0.3, 1, "mm"),
    "cell.radius": (9.1, 1, "mm"),
    "ambient.heat_transfer_coefficient": (10.0, -1, "W/(m2 K)"),
    "source.current": (900.0, 1, "A"),
    "pulse.0.duration": (0.8, 2, "ms"),
    "hold_time": (1.0, 2, "ms"),
}
"""Value at the scale of 1, the power of the scale by which it goes, unit."""
WORDS = (
    *("cell.kind=coupon", "source.kind=constant current", "strip.slots=[]"),
    *("numerics.refinement=0.25", "numerics.tolerance=20 K", "numerics.melt_conductivity_factor=1"),
)


def weld(scale: float, arrangement: str, monkeypatch: pytest.MonkeyPatch) -> Weld:
    time, gain, rates = scale**2, interface_model.gain, interface_model.RATES_1_S
    values = (f"{path}={value * scale**power!r} {unit}" for path, (value, power, unit) in POWERS.items())
    setup = default_setup([*WORDS, f"arrangement.kind={arrangement}", *values])
    with monkeypatch.context() as scaled:
        scaled.setattr(interface_model, "RATES_1_S", rates / time)
        scaled.setattr(interface_model, "gain", lambda at: gain(at * time))
        scaled.setattr(growth, "SINKING_1_S", growth.SINKING_1_S / time)
        scaled.setattr(laws, "FLOOR_OHM_M2", laws.FLOOR_OHM_M2 * scale)
        scaled.setattr(stepper, "LEAST_LEAPING_S", stepper.LEAST_LEAPING_S * time)
        scaled.setattr(stage, "SHORT_S", stage.SHORT_S * time)
        return run_weld(setup)


@pytest.mark.parametrize("arrangement", ["series along", "opposed"])
def test_a_weld_of_all_lengths_scaled_is_the_same_weld(
    arrangement: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    one = weld(1.0, arrangement, monkeypatch)
    assert one.figures["hottest_K"] > 1500.0
    for scale in (2.0, 0.5):
        other = weld(scale, arrangement, monkeypatch)
        assert other.figures["steps"] == one.figures["steps"]
        for name in ("hottest_K", "can_inner_peak_K", "strip_penetration"):
            assert other.figures[name] == pytest.approx(one.figures[name], rel=1e-8)
        for name in ("nugget_diameter_m", "bonded_diameter_m", "contact_diameter_m"):
            assert other.figures[name] / scale == pytest.approx(one.figures[name], rel=1e-8)
        assert other.figures["end_time_s"] / scale**2 == pytest.approx(one.figures["end_time_s"], rel=1e-8)
