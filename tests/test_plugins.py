"""Plugins: finding, loading, and what is said about broken ones."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from nugget import plugins
from nugget.errors import InputError

GROUP = "nugget.tests.v1"
"""Nothing that is really installed adds to this group."""


class Thing:
    """What the plugins of these tests are asked to make."""

    def __init__(self, size: float = 1.0) -> None:
        self.size = size


@pytest.fixture
def site(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder on the import path, into which tests put distributions as an installer would."""
    monkeypatch.syspath_prepend(tmp_path)
    plugins.look_again()
    yield tmp_path
    plugins.look_again()
    for name in [name for name in sys.modules if name.startswith("demo_")]:
        del sys.modules[name]


def install(site: Path, distribution: str, group: str, entries: dict[str, str], code: str = "") -> None:
    info = site / f"{distribution.replace('-', '_')}-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 1.0\n")
    lines = "\n".join(f"{name} = {target}" for name, target in entries.items())
    (info / "entry_points.txt").write_text(f"[{group}]\n{lines}\n")
    package = site / distribution.replace("-", "_")
    package.mkdir()
    (package / "__init__.py").write_text(code)


def make(name: str, **options: Any) -> Thing:
    return plugins.make(GROUP, name, Thing, options)


def test_a_plugin_is_found_without_being_imported_and_made_with_its_options(site: Path) -> None:
    code = f"from {__name__} import Thing\n"
    install(site, "demo-good", GROUP, {"oxide": "demo_good:Thing"}, code)
    assert plugins.names(GROUP) == ["oxide"]
    assert "demo_good" not in sys.modules
    assert make("oxide", size=3.0).size == 3.0


@pytest.mark.parametrize(
    ("target", "code", "message"),
    [
        (
            "demo_bad:Thing",
            "raise RuntimeError('no licence')",
            "got 'RuntimeError: no licence', expected demo_bad:Th",
        ),
        ("demo_bad:Thing", "raise SystemExit(3)", "got 'SystemExit: 3'"),
        ("demo_bad:Thing", "", "got \"AttributeError: module 'demo_bad' has no attribute 'Thing'\""),
        ("demo_absent:Thing", "", "got \"ModuleNotFoundError: No module named 'demo_absent'\""),
        ("demo_bad:Thing", "Thing = 3", "got 'int', expected something that can be called"),
        ("demo_bad:Thing", "Thing = dict", "got 'dict', expected an object that works as Thing"),
        ("demo_bad:Thing", "def Thing(): pass", "got 'NoneType', expected an object that works as Thing"),
        (
            "demo_bad:Thing",
            "def Thing(): 1 / 0",
            "got 'ZeroDivisionError: division by zero', expected options that",
        ),
    ],
)
def test_a_broken_plugin_is_named_with_its_distribution_and_stops_no_other(
    site: Path, target: str, code: str, message: str
) -> None:
    install(site, "demo-bad", GROUP, {"bad": target}, code)
    install(
        site,
        "demo-good",
        GROUP,
        {"good": "demo_good:Thing"},
        f"from {__name__} import Thing\n",
    )
    with pytest.raises(InputError) as caught:
        make("bad")
    assert str(caught.value).startswith("plugin bad of demo-bad 1.0: ")
    assert message in str(caught.value)
    assert make("good").size == 1.0


def test_an_option_that_a_plugin_does_not_take_is_an_input_error(site: Path) -> None:
    install(
        site,
        "demo-good",
        GROUP,
        {"good": "demo_good:Thing"},
        f"from {__name__} import Thing\n",
    )
    with pytest.raises(
        InputError, match=r"unexpected keyword argument 'colour'.*expected options that demo_good:Thing"
    ):
        make("good", colour=1.0)


def test_two_plugins_of_one_name_are_an_error_that_names_both(site: Path) -> None:
    for name in ("demo-one", "demo-two"):
        target = f"{name.replace('-', '_')}:Thing"
        install(site, name, GROUP, {"same": target}, f"from {__name__} import Thing\n")
    with pytest.raises(InputError, match=r"two of that name, from demo-one 1\.0 and demo-two 1\.0"):
        make("same")


def test_an_unknown_name_is_answered_with_what_is_installed(site: Path) -> None:
    with pytest.raises(InputError, match="got 'rust', expected one of none: none is installed"):
        make("rust")


def test_problems_lists_every_broken_plugin_of_a_group(site: Path) -> None:
    install(site, "demo-bad", GROUP, {"a": "demo_bad:gone", "b": "demo_bad:len", "c": "demo_absent:x"})
    (site / "demo_bad" / "__init__.py").write_text("len = len\n")
    assert [problem.where for problem in plugins.problems(GROUP)] == [
        "plugin a of demo-bad 1.0",
        "plugin c of demo-bad 1.0",
    ]


def test_a_data_plugin_gives_its_folder_and_runs_no_code(site: Path) -> None:
    install(site, "demo-data", GROUP, {"alloys": "demo_data.alloys"}, "raise RuntimeError('ran')")
    (site / "demo_data" / "alloys").mkdir()
    (plugin,) = plugins.installed(GROUP)
    assert plugins.folder(plugin) == site / "demo_data" / "alloys"
    assert "demo_data" not in sys.modules


@pytest.mark.parametrize("target", ["demo_data:alloys", "demo_data.absent", "demo_absent"])
def test_a_data_plugin_without_a_folder_is_an_input_error(site: Path, target: str) -> None:
    install(site, "demo-data", GROUP, {"alloys": target})
    (plugin,) = plugins.installed(GROUP)
    with pytest.raises(InputError, match=r"plugin alloys of demo-data 1\.0: got"):
        plugins.folder(plugin)


def test_the_groups_are_versioned() -> None:
    groups = (plugins.MATERIALS, plugins.CONTACT_LAWS, plugins.SOURCES, plugins.DAMAGE_LIMITS)
    names = ("materials", "contact_laws", "sources", "damage_limits")
    assert groups == tuple(f"nugget.{name}.v1" for name in names)
