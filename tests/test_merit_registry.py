"""Figures and limits: declared once, complete, told by a command, extended by a plugin."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import nugget
from nugget import plugins
from nugget.cli.main import main
from nugget.errors import InputError
from nugget.merit.figure import FIGURES, Figure, register_figure
from nugget.merit.limit import Limit, by_id, titles
from nugget.outcome.registry import SECTIONS
from nugget.outcome.verdict import broken_limits
from nugget.outcome.weld import run_weld
from nugget.setup import default_setup, setup_from_dict
from nugget.setup.layer_kinds import interior_names
from nugget.setup.limits import declared
from nugget.study.durations.edges import grow
from nugget.study.durations.window import window_of
from nugget.study.scattering.scatter_record import scatter_csv
from nugget.study.statement.statement import state

QUICK = (
    "numerics.refinement=0.3",
    "leads.inductance=0 uH",
    "numerics.tolerance=10 K",
    "strip.thickness=0.1 mm",
    "pulse.0.duration=2 ms",
    "source.open_circuit_voltage=16 V",
)
LONGEST_S = 3e-3
OURS = "cell.kind=coupon"  # no interior: nothing to follow for long

CODE = """
import numpy as np
from nugget.merit.figure import Figure
from nugget.merit.limit import Limit

def figures():
    return (
        Figure(
            "tip_pressure_Pa_s", "Pressure time of the tip", "1", "spot", "tooling",
            "Mean pressure under the tip over time",
            read=lambda reading: float((reading.setup.force_N / (np.pi * reading.history["tip_radius_m"] ** 2
                + 1e-12)).mean()),
            row="Tip pressure", weight="headline",
        ),
        Figure(
            "tip_print_m", "Print of the tip", "m", "spot", "tooling", "Diameter of what the tip leaves",
            read=lambda reading: 2.0 * float(reading.history["tip_radius_m"].max()),
            course=lambda history, setup: 2.0 * history["tip_radius_m"],
            row="Print", beyond="print too wide",
        ),
    )

def clash(): return Figure("nugget_diameter_m", "Another", "m", "spot", "joint", "x", column="time_s")
def broken(): raise RuntimeError("out of ink")
def limit(print_m=0.7e-3): return Limit("print", "tip_print_m", "at most", print_m, "the team's wish",
                                        severity="damage")
def slip(): return Limit("print", "tip_pront_m", "at most", 1e-3, "the team's wish")
def old(): return Limit("interior_peak_K", 400.0, "K", "a test")
def loose(): return Limit("loose", "can_penetration", "at most", 0.95, "a test")
"""


@pytest.fixture
def brought(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A package that brings figures and limits, as an installer would leave it."""
    info = tmp_path / "press_room-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: press-room\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(
        f"[{plugins.FIGURES}]\nprints = press_room:figures\nclash = press_room:clash\n"
        "broken = press_room:broken\n"
        f"[{plugins.DAMAGE_LIMITS}]\nprint = press_room:limit\nslip = press_room:slip\nold = press_room:old\n"
        "loose = press_room:loose\n"
    )
    (tmp_path / "press_room.py").write_text(CODE)
    monkeypatch.syspath_prepend(tmp_path)
    plugins.look_again()
    yield
    plugins.look_again()


def test_every_figure_says_what_it_is() -> None:
    assert len(FIGURES) > 50
    for key, one in FIGURES.items():
        assert key == one.key
        assert one.title
        assert len(one.help) > 10, key
        assert not one.help.endswith("."), key
        assert one.section in SECTIONS, key
        unit = {"m": "_m", "s": "_s", "K": "_K", "A": "_A", "V": "_V", "C": "_C", "J": "_J", "N": "_N"}
        if one.unit in unit:
            assert key.endswith(unit[one.unit]), key


def test_a_weld_has_all_figures_and_no_other() -> None:
    found = run_weld(default_setup([*QUICK, OURS])).figures
    assert list(found) == list(FIGURES)


def test_built_in_limits_refer_to_figures_and_have_all_they_need() -> None:
    setup = default_setup()
    stated = {id for id, one in declared().items() if "off" not in one}
    # The default is switched by transistors and has neither free electrolyte nor a gasket.
    elsewhere = {"relay_current", "film_temperature", "gasket_temperature"}
    assert {limit.id for limit in setup.limits} == stated - elsewhere
    roll = '{role="roll", material="jelly-roll-nmc", thickness="20 mm"}'
    film = f'{{role="film", material="electrolyte", thickness="50 um"}}, {roll}'
    for more, id in (
        (["switch.kind=relay", "pulse.0.duration=60 ms"], "relay_current"),
        (["cell.end=positive"], "gasket_temperature"),
        ([f"cell.interior=[{film}]"], "film_temperature"),
    ):
        assert id in {limit.id for limit in default_setup(more).limits}
    for id, one in declared().items():
        assert one["figure"] in FIGURES, id
        assert one["help"], id
    assert [limit.severity for limit in setup.limits if limit.figure == "burn_through"] == ["harm"]
    assert all(limit.confidence in ("memory", "assumption") for limit in setup.limits)


def test_no_limit_is_on_what_is_not_known() -> None:
    with pytest.raises(InputError) as caught:
        Limit("mine", "peak_currrent_A", "at most", 1.0, "a test")
    assert str(caught.value).startswith("limit mine: figure: got 'peak_currrent_A', expected a figure that")
    assert "the nearest is peak_current_A" in str(caught.value)


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (("mine", "peak_current_A", "never", 1.0, "x"), "mine: sense: got 'never', expected at most or"),
        (("mine", "expulsion", "at most", 0.0, "x"), "mine: sense: got 'at most', expected never"),
        (("mine", "peak_current_A", "below", 1.0, "x"), "mine: sense: got 'below', expected one of"),
        (("mine", "peak_current_A", "at most", float("nan"), "x"), "mine: value: got nan"),
        (("mine", "peak_current_A", "at most", 1.0, ""), "mine: source: got 'nothing'"),
        (("mine", "title", "at most", 1.0, "x"), "mine: figure: got 'title', expected a number, or"),
        (
            ("minimum_diameter", "peak_current_A", "at most", 1.0, "x"),
            "limit: got 'minimum_diameter', expected an id of its own",
        ),
    ],
)
def test_a_limit_that_makes_no_sense_is_refused(given: tuple[object, ...], said: str) -> None:
    with pytest.raises(InputError) as caught:
        Limit(*given)  # type: ignore[arg-type]
    assert said in str(caught.value)


@pytest.mark.parametrize(
    ("override", "said"),
    [
        (
            "limits.mine={ figure = 'hotest_K', sense = 'at most', value = '900 degC', source = 'x' }",
            "override limits.mine: limit mine: figure: got 'hotest_K', expected a figure that",
        ),
        ("limits.interior_temprature=120 degC", "the nearest is limits.interior_temperature"),
        ("limits.can_penetration=1.5", "limits.can_penetration.value: got 1.5, expected a number above 0"),
        ("limits.interior_temperature=0.5", "limits.interior_temperature.value: got 0.5, expected a temp"),
        ("limits.interior_temperature=10 degC", "got '10 degC', expected more than the ambient, 20 degC"),
        ("limits.expulsion=1.5", "limits.expulsion.allowed: got 1.5, expected true or false"),
    ],
)
def test_a_limit_of_a_setup_that_cannot_be_is_one_line(override: str, said: str) -> None:
    with pytest.raises(InputError) as caught:
        default_setup([override])
    assert said in str(caught.value)


def test_a_setup_adds_limits_of_its_own_and_keeps_them_when_it_is_saved() -> None:
    text = "limits.hot={ figure = 'hottest_K', sense = 'at most', value = '1500 degC', source = 'a test' }"
    setup = default_setup([text, "limits.can_penetration=0.3"])
    found = by_id(setup.limits)
    assert found["hot"] == Limit("hot", "hottest_K", "at most", 1773.15, "a test")
    assert (found["can_penetration"].confidence, found["can_penetration"].severity) == ("stated", "harm")
    assert setup_from_dict(setup.document(whole=True)).limits == setup.limits


def test_two_limits_on_one_figure_both_have_an_edge_and_the_first_ends_the_window() -> None:
    strict = "limits.strict={ figure = 'can_penetration', sense = 'at most', value = 0.1, source = 'a test' }"
    one = grow(
        (default_setup([*QUICK, OURS, "limits.tip_sticking=none", "limits.can_penetration=0.1"]), LONGEST_S)
    )
    for limits in ([strict, "limits.can_penetration=0.95"], ["limits.can_penetration=0.95", strict]):
        both = grow((default_setup([*QUICK, OURS, "limits.tip_sticking=none", *limits]), LONGEST_S))
        assert both.edge("strict").duration_s == one.edge("can_penetration").duration_s
        window, alone = window_of(both), window_of(one)
        assert window.until_s == alone.until_s
        assert window.binding is not None
        assert window.binding.key == "strict"
        assert window.binding.title == "Melted share of the can wall (strict)"


def test_the_looser_limit_of_a_plugin_erases_nothing(brought: None) -> None:
    alone = grow(
        (default_setup([*QUICK, OURS, "limits.tip_sticking=none", "limits.can_penetration=0.1"]), LONGEST_S)
    )
    loose = [
        *QUICK,
        OURS,
        "limits.tip_sticking=none",
        "limits.can_penetration=0.1",
        "damage_limits=[{ plugin = 'loose' }]",
    ]
    setup = default_setup(loose)
    assert window_of(grow((setup, LONGEST_S))).until_s == window_of(alone).until_s < LONGEST_S
    found = state(setup.with_({"pulse.0.duration": 0.2e-3}), welds=(8,))
    assert {"can_penetration", "loose"} <= {one.key for one in found.chances}


def test_what_must_be_reached_is_a_target_of_the_window() -> None:
    strong = (
        "limits.strong={ figure = 'nugget_diameter_m', sense = 'at least', value = '0.5 mm', source = 'x',"
        " severity = 'damage' }"
    )
    found = grow((default_setup([*QUICK, OURS, strong, "joint.minimum_diameter=0.3 mm"]), LONGEST_S))
    first, then = found.edge("minimum_diameter").duration_s, found.edge("strong").duration_s
    assert found.edge("strong").kind == "joint"
    assert first is not None
    assert then is not None
    assert first < then == window_of(found).from_s


def test_the_peak_of_every_kind_of_layer_inside_can_be_limited() -> None:
    for layer in interior_names():
        assert FIGURES[f"{layer}_peak_K"].layer == layer
    text = "limits.disc={ figure = 'disc_peak_K', sense = 'at most', value = '200 degC', source = 'a test' }"
    setup = default_setup([*QUICK, text])
    found = run_weld(setup).figures
    assert found["disc_peak_K"] == found["layer_peaks"]["disc"]["peak_K"] > 473.15
    assert found["gap_peak_K"] is None
    assert "disc" in {limit.id for limit in broken_limits(setup, found)}
    assert "disc" not in {limit.id for limit in default_setup([OURS, text]).limits}


def test_a_plugin_adds_a_figure_with_a_limit_everywhere(
    brought: None, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    sets = [
        part for text in (*QUICK, OURS, "damage_limits=[{ plugin = 'print' }]") for part in ("--set", text)
    ]
    assert main(["pulse", *sets, "--in-full", "--no-plots", "--out", str(tmp_path)]) == 0
    told = capsys.readouterr().out
    record = json.loads(next(tmp_path.glob("*.json")).read_text("utf-8"))
    limit = next(one for one in record["limits"] if one["id"] == "print")
    assert record["tip_print_m"] == limit["value"] > limit["limit"] == 0.7e-3
    assert limit["broken"] is True
    assert limit["chance_broken"]["share"] > 0.5
    assert re.search(rf"^  Print +{1e3 * record['tip_print_m']:.2f} mm$", told, re.MULTILINE)
    assert "\nTooling\n" in told
    exceeded = [line for line in told.splitlines() if line.endswith("EXCEEDED")]
    assert any(line.startswith("  Print of") for line in exceeded)


def test_a_plugins_limit_has_an_edge_and_a_chance(brought: None) -> None:
    setup = default_setup([*QUICK, OURS, "damage_limits=[{ plugin = 'print' }]"])
    edge = grow((setup, LONGEST_S)).edge("print")
    assert edge.duration_s is not None
    assert edge.duration_s < LONGEST_S
    assert edge.threshold == 0.7e-3
    found = state(setup.with_({"pulse.0.duration": 0.5e-3}), welds=(8,))
    chance = next(one for one in found.chances if one.key == "print")
    counted = sum(one.figures["tip_print_m"] > 0.7e-3 for one in found.samples) / len(found.samples)
    assert chance.title == "Print of the tip"
    assert chance.low - 0.1 <= counted <= chance.high + 0.1
    rows = list(csv.DictReader(io.StringIO(scatter_csv(found))))
    assert [float(row["tip_print_m"]) for row in rows] == [
        one.figures["tip_print_m"] for one in found.samples
    ]


def test_faults_of_plugins_are_told_and_harm_no_other(
    brought: None, capsys: pytest.CaptureFixture[str]
) -> None:
    assert "tip_print_m" in FIGURES
    assert FIGURES["nugget_diameter_m"].title == "Nugget diameter"
    assert main(["figures"]) == 1
    out, err = capsys.readouterr()
    assert "tip_print_m  [m, per spot]" in out
    assert "From plugin prints of press-room 1.0" in " ".join(out.split())
    assert "plugin clash of press-room 1.0: got 'nugget_diameter_m', expected the key of no other" in err
    assert "plugin broken of press-room 1.0: got 'RuntimeError: out of ink'" in err


@pytest.mark.parametrize("plugin", ["slip", "old"])
def test_a_plugins_limit_on_an_unknown_figure_is_an_error_when_the_setup_is_read(
    brought: None, plugin: str
) -> None:
    with pytest.raises(InputError) as caught:
        default_setup([f"damage_limits=[{{ plugin = '{plugin}' }}]"])
    said = str(caught.value)
    assert f"damage_limits.0: plugin {plugin} of press-room 1.0: " in said
    assert "\n" not in said
    assert ("tip_pront_m" if plugin == "slip" else "400.0") in said


def test_a_figure_of_this_session_is_read_and_its_faults_are_named() -> None:
    once = Figure(
        "half_J", "Half", "J", "weld", "numerics", "Half the energy", read=lambda r: r.energy.drawn_J / 2
    )
    bad = Figure("bad_J", "Bad", "J", "weld", "numerics", "No number", read=lambda _: float("nan"))
    assert (nugget.register_figure, nugget.Figure) == (register_figure, Figure)
    try:
        register_figure(once)
        register_figure(once)  # a cell of a notebook, run again
        found = run_weld(default_setup([*QUICK, OURS, "pulse.0.duration=0.1 ms"])).figures
        assert found["half_J"] == 0.5 * found["source_energy_J"]
        register_figure(bad)
        with pytest.raises(InputError, match=r"this Python session: figure bad_J: got .*nan"):
            run_weld(default_setup([*QUICK, OURS, "pulse.0.duration=0.1 ms"]))
        with pytest.raises(InputError, match="nugget_diameter_m"):
            register_figure(Figure("nugget_diameter_m", "Mine", "m", "spot", "joint", "x", column="time_s"))
    finally:
        FIGURES.remove("half_J")
        FIGURES.remove("bad_J")


def test_the_command_lists_every_figure(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["figures"]) == 0
    told = capsys.readouterr().out
    assert all(f"  {key}  [" in told for key in FIGURES)
    assert "can_penetration: at most 0.5" in told
    assert main(["figures", "--markdown"]) == 0
    told = capsys.readouterr().out
    assert all(f"| `{key}` |" in told for key in FIGURES)
    assert "| burn_through: never |" in told


def test_limits_on_one_figure_are_told_apart_by_their_ids() -> None:
    two = (
        Limit("strict", "can_penetration", "at most", 0.1, "a test"),
        Limit("loose", "can_penetration", "at most", 0.9, "a test"),
    )
    assert titles(two) == {
        "strict": "Melted share of the can wall (strict)",
        "loose": "Melted share of the can wall (loose)",
    }
