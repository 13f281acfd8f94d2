"""The law and the limits of this package take part in a weld prediction."""

from __future__ import annotations

from pathlib import Path

import nugget

SETUP = """
title = "Strip from the damp shed"
damage_limits = [
    { plugin = "separator-shutdown", options = { temperature_K = 400.0 } },
    { plugin = "negative-electrode" },
]

[contact.faying]
law = "tarnish"
options = { film_ohm_m2 = FILM, fading_K = 2000.0 }

[numerics]
refinement = 0.25
tolerance = "20 K"
max_time = "0.05 s"

[[pulse]]
duration = "1 ms"
"""


def predict(folder: Path, film: str) -> nugget.Weld:
    path = folder / "shed.toml"
    path.write_text(SETUP.replace("FILM", film), encoding="utf-8")
    return nugget.simulate(nugget.load_setup(path))


def test_a_tarnished_strip_takes_less_current_and_is_judged_by_both_limits(tmp_path: Path) -> None:
    clean, tarnished = predict(tmp_path, "0.0"), predict(tmp_path, "2e-11")
    assert tarnished.peak_current_A < clean.peak_current_A
    limits = [one for one in tarnished.setup.limits if one.figure == "interior_peak_K"]
    assert [one.bound for one in limits] == [403.15, 400.0]
