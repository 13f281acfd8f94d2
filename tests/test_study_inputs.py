"""What nobody knows exactly: by how much, why, and what a user or a fit says instead."""

from __future__ import annotations

import numpy as np
import pytest

from nugget.cli.main import main
from nugget.errors import InputError
from nugget.setup import Setup, default_setup, preset, preset_names
from nugget.study.inputs.sobol import sobol
from nugget.study.inputs.uncertain import FARTHEST, Inputs, declared, inputs_of, measurements

SETUP = default_setup()
FITTED = {
    "fields": ["contact.radius_factor", "source.internal_resistance"],
    "deviations": [0.02, 0.03],
    "correlations": [[1.0, -0.6], [-0.6, 1.0]],
}


def _one(inputs: Inputs, path: str) -> object:
    return next(one for one in inputs.items if one.path == path)


def test_every_entry_has_a_reason_and_a_measurement_that_exists() -> None:
    for name, entry in declared().items():
        assert entry["source"], name
        assert entry["measure"] in {"", *measurements()}, name
    for name, entry in measurements().items():
        assert entry["minutes"] > 0, name
        assert "{c" in entry["use"], name


@pytest.mark.parametrize("name", preset_names())
def test_the_farthest_corners_of_every_preset_can_be_built(name: str) -> None:
    inputs = inputs_of(preset(name))
    for sign in (-1.0, 1.0):
        changed = inputs.setup_at(np.full(len(inputs), sign * FARTHEST))
        assert changed.force_N == pytest.approx(inputs.setup.force_N * (1.0 + 0.3 * sign))
    alternating = np.where(np.arange(len(inputs)) % 2, FARTHEST, -FARTHEST)
    assert isinstance(inputs.setup_at(alternating), Setup)


def test_a_relay_whose_time_scatters_never_makes_a_pulse_of_no_length() -> None:
    relay = SETUP.with_({"switch": {"kind": "relay"}, "pulse.0.duration": "11 ms"})
    inputs = inputs_of(relay)
    low = np.full(len(inputs), -FARTHEST)
    spread_s = relay.circuit.switch.spread_s
    assert inputs.setup_at(low).train[0].duration_s == pytest.approx(max(11e-3 - 3 * spread_s, 0.55e-3))


def test_a_range_is_as_likely_in_every_decade() -> None:
    film = next(one for one in inputs_of(SETUP).items if one.path == "contact.faying.film")
    assert film.value(0.0) == pytest.approx(1e-11)
    assert film.value(-9.0) == pytest.approx(1e-12)
    assert film.value(9.0) == pytest.approx(1e-10)
    for deviation in (-1.2, 0.3, 2.0):
        assert film.spread.deviation(film.own, film.value(deviation)) == pytest.approx(deviation)


def test_a_value_outside_a_range_widens_it() -> None:
    setup = SETUP.with_({"contact.faying.film": 1e-9})
    film = next(one for one in inputs_of(setup).items if one.path == "contact.faying.film")
    assert film.value(9.0) == pytest.approx(1e-9)


def test_the_contact_below_the_wall_varies_only_where_a_setup_has_given_up_the_hottest() -> None:
    """Perfect contact is the bound for disc and winding; a spread around it would only cool them."""
    path = "cell.conductance_below"
    assert path not in [one.path for one in inputs_of(SETUP).items]
    measured = _one(inputs_of(SETUP.with_({path: "670 W/(m2 K)"})), path)
    assert (measured.value(-9.0), measured.value(9.0)) == pytest.approx((400.0, 1e5))  # type: ignore[attr-defined]


@pytest.mark.parametrize(("dimensions", "points", "seed"), [(1, 5, 3), (18, 100, 1), (128, 16, 2)])
def test_the_points_of_a_draw_are_those_of_scipy(dimensions: int, points: int, seed: int) -> None:
    from scipy.stats import qmc

    theirs = qmc.Sobol(dimensions, seed=np.random.default_rng(seed)).random_base2(7)[:points]
    np.testing.assert_array_equal(sobol(dimensions, points, seed), theirs)


def test_more_inputs_than_direction_numbers_are_refused() -> None:
    with pytest.raises(ValueError, match="128"):
        sobol(129, 8, 1)


def test_draws_hold_what_they_say() -> None:
    inputs = inputs_of(SETUP)
    force = [inputs.setup_at(row).force_N for row in inputs.drawn(256, 1)]
    assert np.mean(np.abs(np.array(force) - 30.0) < 6.0) == pytest.approx(0.955, abs=0.02)


def test_who_says_what_in_which_order() -> None:
    fitted = {"uncertainty.fitted": FITTED}
    stated = SETUP.with_(fitted).with_({"uncertainty.spread": {"electrode.force": "7 %", "cell.wall": "1 %"}})
    inputs = inputs_of(stated, ["electrode.force=5 N", "leads.resistance=none"])
    assert _one(inputs, "electrode.force").text == "±5 N"  # type: ignore[attr-defined]
    assert _one(inputs, "cell.wall").text == "±1 %"  # type: ignore[attr-defined]
    paths = [one.path for one in inputs.items]
    assert "leads.resistance" not in paths
    assert "contact.radius_factor" in paths
    assert "contact.hardness_factor" not in paths, "the fit says the same thing in another way"


def test_a_fit_keeps_its_correlation() -> None:
    inputs = inputs_of(SETUP.with_({"uncertainty.fitted": FITTED}))
    rows = np.array([inputs.values(row) for row in inputs.drawn(1024, 2)])
    paths = [one.path for one in inputs.items]
    two = np.log(rows[:, [paths.index(path) for path in FITTED["fields"]]])
    assert np.std(two, axis=0) == pytest.approx([0.02, 0.03], rel=0.05)
    assert np.corrcoef(two.T)[0, 1] == pytest.approx(-0.6, abs=0.05)


def test_a_pair_has_two_spots_and_a_single_spot_has_not() -> None:
    inputs = inputs_of(SETUP)
    assert inputs.either_spot
    row = np.zeros(len(inputs))
    row[-1] = -1.0
    assert inputs.setup_at(row).polarity == -1
    assert not inputs_of(SETUP.with_({"arrangement.polarity": "positive"})).either_spot


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("electrode.force", "FIELD=WIDTH"),
        ("electrode.force=70 %", "at most 60 %"),
        ("electrode.force=x0.5", "a factor above 1"),
        ("electrode.force=2 mm", "tolerance electrode.force"),
        ("electrode.force=5 N to 2 N", "the lower one first"),
        ("electrode.worn_flat=5 %", "a field that the setup gives a value"),
        ("electrode.farce=5 %", "electrode.force"),
    ],
)
def test_what_makes_no_sense_is_refused_by_name(text: str, said: str) -> None:
    with pytest.raises(InputError, match="tolerance") as caught:
        inputs_of(SETUP, [text])
    assert said in str(caught.value)


def test_a_setup_keeps_what_it_says_about_its_inputs() -> None:
    stated = SETUP.with_({"uncertainty": {"harm": 0.999, "spread": {"electrode.force": "5 %"}}})
    assert Setup.from_document(stated.document()) == stated
    assert default_setup(["uncertainty.spread.electrode.force=5 %"]).file.uncertainty.spread == {
        "electrode.force": "5 %"
    }
    assert stated != SETUP


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"deviations": [0.02]}, "deviations"),
        ({"correlations": [[1.0, 0.2], [0.1, 1.0]]}, "correlations"),
        ({"correlations": [[1.0, 1.0], [1.0, 1.0]]}, "correlations"),
        ({"correlations": [[1.0]]}, "correlations"),
    ],
)
def test_a_fit_that_cannot_be_is_refused(wrong: dict[str, object], field: str) -> None:
    with pytest.raises(InputError, match=f"uncertainty.fitted.{field}"):
        SETUP.with_({"uncertainty.fitted": FITTED | wrong})


def test_the_command_prints_all_of_it(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["inputs", "--tolerance", "electrode.force=5 %"]) == 0
    page = capsys.readouterr().out
    for one in inputs_of(SETUP).items:
        assert one.path in page
    assert "±5 %" in page
    assert "four-wire" in page
