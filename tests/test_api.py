"""What ``import nugget`` offers."""

from __future__ import annotations

import ast
import copy
import pickle
import re
from pathlib import Path

import pytest
from small import COARSE, coarse

import nugget
from nugget.errors import InputError
from nugget.setup import Setup

QUICK = coarse("pulse.0.duration=0.1 ms", until_ms=0.3)


@pytest.fixture(scope="module")
def quick() -> nugget.Weld:
    return nugget.simulate(QUICK)


def test_every_public_name_is_there() -> None:
    for name in nugget.__all__:
        assert getattr(nugget, name) is not None
    assert re.fullmatch(r"\d+\.\d+\.\d+.*", nugget.__version__)


def test_another_name_is_an_attribute_error() -> None:
    with pytest.raises(AttributeError, match="module 'nugget' has no attribute 'weldd'"):
        _ = nugget.weldd


def test_a_setup_comes_from_the_default_a_preset_or_a_file(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    path.write_text('[[pulse]]\nduration = "3 ms"\n', encoding="utf-8")
    setups = nugget.default_setup(["pulse.0.duration=3 ms"]), nugget.load_setup(path)
    assert all(isinstance(setup, Setup) for setup in setups)
    assert setups[0].train == setups[1].train
    assert nugget.preset("coupon").base[-1].role == "can"
    with pytest.raises(InputError, match="presett"):
        nugget.preset("presett")


def test_simulate_tells_every_step() -> None:
    steps: list[int] = []
    weld = nugget.simulate(QUICK, on_step=lambda state: steps.append(state.step))
    assert steps == list(range(weld.steps + 1))


def test_the_same_setup_gives_the_same_weld(quick: nugget.Weld) -> None:
    again = nugget.simulate(QUICK)
    assert again.figures == quick.figures


def test_figures_read_as_attributes(quick: nugget.Weld) -> None:
    assert quick.figures
    for name, value in quick.figures.items():
        assert getattr(quick, name) == value
    assert quick.peak_current_A > 100.0


def test_an_unknown_figure_is_an_attribute_error(quick: nugget.Weld) -> None:
    with pytest.raises(AttributeError, match="Weld has no figure 'nugget_diameter_mm'"):
        _ = quick.nugget_diameter_mm
    assert not hasattr(quick, "__len__")


def test_a_weld_travels_and_is_copied(quick: nugget.Weld) -> None:
    for again in (pickle.loads(pickle.dumps(quick)), copy.deepcopy(quick), copy.copy(quick)):
        assert again.figures == quick.figures
        assert again.steps == quick.steps


def test_a_weld_is_saved_and_read_back_able_to_draw(quick: nugget.Weld, tmp_path: Path) -> None:
    again = nugget.load_weld(quick.save(tmp_path / "weld.npz"))
    assert isinstance(again, nugget.Weld)
    assert again.figures == quick.figures


def test_watching_yields_fields_step_by_step(quick: nugget.Weld) -> None:
    states = nugget.iter_steps(QUICK)
    first = next(states)
    assert first.time_s == 0.0
    assert first.temperature.shape == quick.active.shape
    second = next(states)
    assert second.time_s > 0.0
    assert second.temperature[quick.active].max() > first.temperature[quick.active].max()
    states.close()


def test_overrides_reach_the_weld() -> None:
    other = nugget.preset("coupon", [*COARSE, "electrode.force=60 N"])
    assert other.force_N == 60.0
    assert QUICK.force_N == 30.0


def test_a_setup_travels_after_its_fields_were_asked_for() -> None:
    assert "electrode.force" in QUICK.fields
    for again in (pickle.loads(pickle.dumps(QUICK)), copy.deepcopy(QUICK)):
        assert again == QUICK
        assert again.fields.keys() == QUICK.fields.keys()


def test_a_setup_shows_itself_in_a_line_and_in_a_table() -> None:
    setup = nugget.default_setup({"title": "pack <4>"})
    assert len(repr(setup)) < 300
    html = setup._repr_html_()
    assert "pack &lt;4&gt;" in html
    assert "<4>" not in html
    assert "force 30 N" in html
    assert "interior temperature at most 130 °C" in html


def option_words(source: str) -> list[str]:
    """What the errors raised in a module say that looks like an option."""
    calls = [
        node
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") in ("InputError", "SolverError")
    ]
    texts = [n.value for call in calls for n in ast.walk(call) if isinstance(n, ast.Constant)]
    return [text for text in texts if isinstance(text, str) and re.search(r"--[a-z]", text)]


def test_errors_below_the_command_line_do_not_speak_of_its_options() -> None:
    """Whoever calls from Python has arguments, no options."""
    package = Path(nugget.__file__).parent
    told, said = [], []
    for path in package.rglob("*.py"):
        words = option_words(path.read_text(encoding="utf-8"))
        (said if "cli" in path.relative_to(package).parts else told).extend(words)
    assert told == []
    assert said
