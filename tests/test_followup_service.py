"""The joint in service: local field by exact limits, images by the equation they solve."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from statements import SAMPLE, fake

from nugget.cli.main import main
from nugget.followup import service
from nugget.followup.service import NoJoint, local_resistance, serve
from nugget.setup import Setup, default_setup

SPOT = {"nugget_outer_diameter_m": 0.64e-3, "nugget_inner_diameter_m": 0.0}
QUICK = ["numerics.refinement=0.25", "numerics.tolerance=20 K", "leads.inductance=0 uH"]


@pytest.fixture(scope="module")
def setup() -> Setup:
    return default_setup()


def resistivities(setup: Setup) -> tuple[float, float]:
    found = [float(s.material.resistivity(setup.ambient_K)) for s in (setup.strip[0], setup.base[0])]  # type: ignore[misc]
    return found[0], found[1]


def test_the_local_field_has_converged(setup: Setup) -> None:
    normal, fine = (local_resistance(setup, (0.0, 0.32e-3), n)[0] for n in (1.0, 3.0))
    assert normal == pytest.approx(fine, rel=5e-3)


def test_thick_sheets_resist_as_holms_disc() -> None:
    thick = default_setup(["strip.thickness=2.4 mm", "cell.wall=2.4 mm"])
    radius_m = 0.06e-3
    found, ring_m = local_resistance(thick, (0.0, radius_m))
    assert ring_m > 50.0 * radius_m
    assert found == pytest.approx(sum(resistivities(thick)) / (4.0 * radius_m), rel=0.03)


def test_thin_sheets_resist_as_planar_rings() -> None:
    thin = default_setup(["strip.thickness=0.005 mm", "cell.wall=0.005 mm"])
    radius_m = 1e-3
    found, ring_m = local_resistance(thin, (0.0, radius_m))
    # Current passes from sheet to sheet within about a thickness of the edge.
    sheets = sum(resistivities(thin)) / 0.005e-3
    planar = sheets / (2.0 * math.pi) * math.log(ring_m / radius_m)
    edge = sheets / (2.0 * math.pi) * 0.005e-3 / radius_m
    assert planar < found < planar + edge


def test_a_ring_conducts_less_than_a_full_spot(setup: Setup) -> None:
    full = local_resistance(setup, (0.0, 0.32e-3))[0]
    ring = local_resistance(setup, (0.25e-3, 0.32e-3))[0]
    assert full < ring < 1.3 * full


@given(st.floats(-0.9, 0.9), st.floats(0.1, 0.9))
def test_images_keep_the_edges_of_the_strip_insulated(x: float, y: float) -> None:
    width, step = 8.0, 1e-3
    for edge, inwards in ((0.0, 1.0), (width, -1.0)):
        near, far = (
            service._strip_images(np.array([0.0, x]), np.array([y * width, edge + inwards * d]), width, 0.1)[
                1, 0
            ]
            for d in (step, 2.0 * step)
        )
        assert near == pytest.approx(far, abs=2e-5)


def test_images_feed_the_strip_from_one_side_only() -> None:
    def drop(x: float) -> float:
        return float(service._strip_images(np.array([0.0, x]), np.array([3.0, 5.0]), 8.0, 0.1)[1, 0])

    assert drop(60.0) == pytest.approx(drop(50.0), abs=1e-6)  # dead end
    assert drop(-60.0) - drop(-50.0) == pytest.approx(-2.0 * math.pi * 10.0 / 8.0, abs=1e-6)  # 2 pi / w


@given(st.floats(0.0, 2.0 * math.pi), st.floats(0.0, 0.8))
def test_images_keep_the_rim_of_the_can_at_one_potential(angle: float, share: float) -> None:
    places = np.array([[share * 9.0, 0.0], [9.0 * math.cos(angle), 9.0 * math.sin(angle)]])
    if np.hypot(*(places[1] - places[0])) > 0.1:
        with np.errstate(divide="ignore"):  # a spot right on the rim has no drop of its own
            assert service._disc_images(places, 9.0, 0.1)[1, 0] == pytest.approx(0.0, abs=1e-9)


def test_one_spot_is_its_parts_in_series() -> None:
    alone = default_setup(["arrangement.kind=indirect"])
    found = serve(alone, SPOT, 10.0).joint
    local, ring_m = local_resistance(alone, (0.0, 0.32e-3))
    strip, can = (rho / t for rho, t in zip(resistivities(alone), (0.12e-3, 0.3e-3), strict=True))
    planar = strip * math.log(8e-3 / (2.0 * math.pi * ring_m)) + can * math.log(9.1e-3 / ring_m)
    assert found.resistance_ohm == pytest.approx(local + planar / (2.0 * math.pi), rel=1e-6)
    assert found.shares == (1.0,)


def test_the_pair_shares_evenly_across_and_the_nearer_spot_takes_more_along() -> None:
    across = serve(default_setup(), SPOT, 10.0).joint
    along = serve(default_setup(["arrangement.kind=series along"]), SPOT, 10.0).joint
    assert across.shares == pytest.approx((0.5, 0.5))
    assert along.shares[0] > 0.55
    assert sum(along.shares) == pytest.approx(1.0)


def test_more_welds_resist_less(setup: Setup) -> None:
    little = serve(setup, SPOT, 30.0, allowed_W=0.15)
    assert little.joint.heat_W(30.0) > 0.15
    assert little.needed is not None
    assert little.needed.welds > 1
    assert little.needed.heat_W(30.0) <= 0.15
    assert little.needed.resistance_ohm > little.joint.resistance_ohm / little.needed.welds
    none = serve(setup, SPOT, 1000.0, allowed_W=0.1)
    assert none.needed is None
    assert none.fits >= 3


def test_a_larger_spot_resists_less_and_heat_goes_with_the_square(setup: Setup) -> None:
    larger = {**SPOT, "nugget_outer_diameter_m": 0.9e-3}
    assert serve(setup, larger, 10.0).joint.resistance_ohm < serve(setup, SPOT, 10.0).joint.resistance_ohm
    joint = serve(setup, SPOT, 10.0).joint
    assert joint.heat_W(20.0) == pytest.approx(4.0 * joint.heat_W(10.0))


def test_where_nothing_fused_or_fits_there_is_no_joint(setup: Setup) -> None:
    with pytest.raises(NoJoint, match="nothing fused, so there is no joint"):
        serve(setup, {**SPOT, "nugget_outer_diameter_m": 0.0}, 10.0)
    with pytest.raises(NoJoint, match="other tip spacing"):
        serve(setup, {**SPOT, "nugget_outer_diameter_m": 9e-3}, 10.0)


def test_pulse_says_so_and_still_predicts_the_weld(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    monkeypatch.setattr(SAMPLE, fake)
    quick = [part for text in (*QUICK, "pulse.0.duration=0.05 ms") for part in ("--set", text)]
    argv = ["pulse", *quick, "--preset", "coupon", "--service", "10 A", "--no-plots"]
    assert main(argv) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "nothing fused, so there is no joint to carry a current; nor would it with a pulse three" in said
    assert main([*argv, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["service"]["joint"] is None


def test_pulse_prints_and_records_both(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    monkeypatch.setattr(SAMPLE, fake)
    quick = [part for text in (*QUICK, "pulse.0.duration=3 ms") for part in ("--set", text)]
    argv = ["pulse", *quick, "--spots", "6", "--rest", "2 s", "--service", "10 A"]
    assert main([*argv, "--no-plots"]) == 0
    printed = " ".join(capsys.readouterr().out.split())
    for words in (
        "3 welds of a pair",
        "Heat of all earlier spots",
        "In service",
        "mm of the strip",
        "Only the fused zone",
    ):
        assert words in printed
    assert main([*argv, "--json"]) == 0
    record = json.loads(capsys.readouterr().out)
    assert len(record["repeated_welds"]["wall_K"]) == 4
    assert record["service"]["joint"]["spots"] == 2
    assert record["service"]["joint"]["heat_W"] > 0.0
