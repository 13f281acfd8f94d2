"""Whatever a plugin does while a command uses it is one line that names plugin and package."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from nugget import plugins
from nugget.cli.main import main
from nugget.errors import InputError
from nugget.setup import default_setup

HEAD = """
import sys, numpy as np
from nugget.merit.figure import Figure
from nugget.merit.limit import Limit
from nugget.setup.description import Kinetics
from nugget.supply.kinds import ConstantCurrent
from nugget.contact.laws import MetallicContact

class Own(BaseException): pass
class Unspeakable(Exception):
    def __str__(self): raise RuntimeError("not even that")
def throw(error): raise error
"""
LAW = """
class Law:
    grows = True
    def resistance(self, contact):
        columns = contact.real_fraction
        BODY
"""
SOURCE = """
class Source(ConstantCurrent):
    def __init__(self): super().__init__(900.0)
    BODY
"""
QUICK = ["cell.kind=coupon", "pulse.0.duration=0.1 ms", "numerics.refinement=0.25", "leads.inductance=0 uH"]


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str, str], None]]:
    """Installs a package that adds ``own`` to a group."""

    def install(
        group: str, code: str, name: str = "own", entries: str | None = None, target: str = ""
    ) -> None:
        info = tmp_path / "press_room-1.0.dist-info"
        info.mkdir()
        (info / "METADATA").write_text("Metadata-Version: 2.1\nName: press-room\nVersion: 1.0\n")
        line = f"[{group}]\n{name} = {target or 'press_room:made'}\n" if entries is None else entries
        (info / "entry_points.txt").write_text(line)
        (tmp_path / "press_room.py").write_text(HEAD + code)
        plugins.look_again()

    run = tmp_path / "run"
    run.mkdir()
    monkeypatch.chdir(run)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr("nugget.cli.workers.cores", lambda: 1)
    yield install
    import sys

    sys.modules.pop("press_room", None)
    plugins.look_again()


def answer(*overrides: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str, str]:
    words = [word for one in (*QUICK, *overrides) for word in ("--set", one)]
    code = main(["pulse", "--no-plots", *words])
    out, said = capsys.readouterr()
    return code, out, said


LAWS = {
    "exits": "sys.exit()",
    "exits as if well": "sys.exit(0)",
    "raises": "raise ValueError('no')",
    "raises an own error": "raise Own('no')",
    "ends a generator": "raise GeneratorExit",
    "raises what cannot be shown": "raise Unspeakable",
    "returns text": "return 'much'",
    "returns nothing": "return None",
    "returns one number": "return 1e-12",
    "returns one too few": "return np.full(len(columns) - 1, 1e-12)",
    "returns a table": "return np.full((2, len(columns)), 1e-12)",
    "returns no number": "return np.full(len(columns), np.nan)",
    "returns below zero": "return np.full(len(columns), -1e-12)",
    "returns no end": "return np.full(len(columns), np.inf)",
}
SOURCES = {
    "exits": "def value(self, t): sys.exit()",
    "raises": "def value(self, t): raise ValueError('no')",
    "raises an own error": "def value(self, t): raise Own",
    "returns text": "def value(self, t): return 'much'",
    "returns nothing": "def value(self, t): return None",
    "returns no number": "def value(self, t): return float('nan')",
    "drives by magic": "drive = 'magic'",
    "resists below zero": "resistance_ohm = -1.0",
    "resists in words": "resistance_ohm = 'much'",
    "exits when asked": "turns_off_at_zero = property(lambda self: sys.exit())",
    "kinks that are no numbers": "def instants(self, t): return ['a']",
    "kinks after the end": "def instants(self, t): return (2 * t,)",
    "no kinks": "def instants(self, t): return None",
}
FACTORIES = {
    "exits": "def made(): sys.exit()",
    "exits as if well": "def made(): sys.exit(0)",
    "raises an own error": "def made(): raise Own('no')",
    "ends a generator": "def made(): raise GeneratorExit",
    "raises what cannot be shown": "def made(): raise Unspeakable",
    "is no kind of it": "def made(): return 3",
}
LIMITS = {
    "an unknown figure": "def made(): return Limit('mine', 'nope', 'at most', 1.0, 'a test')",
    "no number": "def made(): return Limit('mine', 'hottest_K', 'at most', float('nan'), 'a test')",
    "no source": "def made(): return Limit('mine', 'hottest_K', 'at most', 900.0)",
    "kinetics of no number": "def made(): return Kinetics('a', float('nan'), 1e5, 'a test')",
    "kinetics of text": "def made(): return Kinetics('a', 1e10, 'much', 'a test')",
}


def is_one_line(code: int, out: str, said: str) -> bool:
    named = "plugin own of press-room 1.0" in said
    return code in (1, 2) and out == "" and said.count("\n") == 1 and named and "unexpected" not in said


@pytest.mark.parametrize("what", LAWS)
def test_a_law_that_fails_in_use(
    what: str, site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(plugins.CONTACT_LAWS, LAW.replace("BODY", LAWS[what]) + "made = Law\n")
    assert is_one_line(*answer("contact.tip={ law = 'own' }", capsys=capsys))


@pytest.mark.parametrize("what", SOURCES)
def test_a_source_that_fails_in_use(
    what: str, site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(plugins.SOURCES, SOURCE.replace("BODY", SOURCES[what]) + "made = Source\n")
    assert is_one_line(*answer("source={ kind = 'plugin', plugin = 'own' }", capsys=capsys))


@pytest.mark.parametrize("what", FACTORIES)
@pytest.mark.parametrize(
    ("group", "override"),
    [
        (plugins.CONTACT_LAWS, "contact.tip={ law = 'own' }"),
        (plugins.SOURCES, "source={ kind = 'plugin', plugin = 'own' }"),
        (plugins.DAMAGE_LIMITS, "damage_limits=[{ plugin = 'own' }]"),
    ],
)
def test_a_factory_that_fails(
    what: str, group: str, override: str, site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(group, FACTORIES[what])
    assert is_one_line(*answer(override, capsys=capsys))


@pytest.mark.parametrize("what", LIMITS)
def test_a_limit_that_makes_no_sense(
    what: str, site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(plugins.DAMAGE_LIMITS, LIMITS[what])
    assert is_one_line(*answer("damage_limits=[{ plugin = 'own' }]", capsys=capsys))


@pytest.mark.parametrize(
    "read", ["lambda reading: sys.exit()", "lambda reading: 'much'", "lambda reading: throw(Own())"]
)
def test_a_figure_that_fails(
    read: str, site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(
        plugins.FIGURES,
        f"made = lambda: Figure('own_m', 'Own', 'm', 'weld', 'joint', 'A test', read={read})\n",
    )
    assert is_one_line(*answer(capsys=capsys))


def test_a_law_and_a_source_that_do_as_they_promise_are_used(
    site: Callable[..., None], capsys: pytest.CaptureFixture[str]
) -> None:
    site(plugins.CONTACT_LAWS, LAW.replace("BODY", "return np.full(len(columns), 1e-12)") + "made = Law\n")
    assert answer("contact.tip={ law = 'own' }", capsys=capsys)[0] == 0


@pytest.mark.parametrize(
    ("name", "target", "entries"),
    [
        ("__main__", "__main__", None),
        ("own", "__main__", None),
        ("own", "press_room.absent", None),
        ("own", "sys", None),
        ("own", "press_room:made", None),
        ("own", "", "[nugget.materials.v1]\nthis is no entry\n"),
        ("own", "", "[nugget.materials.v1\nown = press_room\n"),
        ("own", "", "own = press_room nugget.materials.v1\n"),
    ],
)
def test_a_broken_package_stops_no_command_and_is_found_by_the_check(
    name: str,
    target: str,
    entries: str | None,
    site: Callable[..., None],
    capsys: pytest.CaptureFixture[str],
) -> None:
    site(plugins.MATERIALS, "", name, entries, target)
    assert default_setup().force_N > 0.0
    assert main(["material", "show", "copper", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["name"] == "copper"
    assert main(["material", "check"]) == 2
    assert "press-room 1.0" in capsys.readouterr().out


def test_a_plugin_that_asks_to_exit_while_a_command_runs_is_never_a_success(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Even where nobody stands between it and the command."""

    def leave(*_: object) -> None:
        raise SystemExit(0)

    monkeypatch.setattr("nugget.cli.commands.setup_command.run", leave)
    assert main(["setup"]) == 1
    assert capsys.readouterr().err.startswith("nugget: unexpected SystemExit: 0")


def test_an_error_of_a_plugin_can_travel(site: Callable[..., None]) -> None:
    import pickle

    with pytest.raises(InputError) as caught, plugins.at_work("plugin own of press-room 1.0", "better"):
        raise SystemExit(3)
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)


def test_what_a_plugin_divides_by_on_its_way_is_its_own_affair() -> None:
    with np.errstate(divide="raise"), plugins.at_work("plugin own", "an answer"):
        assert np.isinf(1.0 / np.zeros(1)).all()
