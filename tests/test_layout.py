"""How the package is laid out: a module is found by its name, and what it imports is declared."""

from __future__ import annotations

import ast
import importlib.util
import re
import sys
from collections import Counter
from importlib.metadata import packages_distributions, requires, version
from importlib.resources import files
from pathlib import Path

from packaging.requirements import Requirement

import nugget

ROOT = Path(str(files("nugget")))
EXTRAS = {"distributed": "cluster", "meshio": "fields", "mkdocs": "manual"}
"""What only an extra brings: the commands that need it say so."""
TOGETHER = {"pydantic_core": "pydantic", "pandas": "xarray", "markupsafe": "jinja2"}
"""What another declared one is built upon and shows in its own interface."""


def modules() -> list[Path]:
    found = [path for path in ROOT.rglob("*.py") if not path.name.startswith("__")]
    assert len(found) > 100
    return found


def test_no_two_modules_share_a_name() -> None:
    names = Counter(path.name for path in modules())
    assert [name for name, count in names.items() if count > 1] == []


def test_whatever_is_imported_is_declared() -> None:
    """A library that another one happens to bring is missing on the day when that one drops it."""
    asked = [Requirement(text) for text in requires("nugget") or ()]
    declared = {one.name.lower() for one in asked if one.marker is None}
    extra = {one.name.lower() for one in asked if one.marker is not None}
    assert set(EXTRAS) <= extra
    brings = packages_distributions()
    for path in modules():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = [one.name for one in node.names] if isinstance(node, ast.Import) else []
            if isinstance(node, ast.ImportFrom) and node.module and not node.level:
                names = [node.module]
            for top in {name.split(".")[0] for name in names} - {"nugget", *sys.stdlib_module_names}:
                known = {one.lower() for one in brings.get(top, [])} | {TOGETHER.get(top, top)}
                assert known & (declared | set(EXTRAS)), f"{path.name} imports {top}"


def test_the_version_is_told_once() -> None:
    assert nugget.__version__ == version("nugget")


def test_what_developers_are_told_is_there() -> None:
    """Places, tests and commands that DEVELOPERS.md names."""
    root = Path(__file__).parents[1]
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    written = [path for folder in ("tests", "validation") for path in (root / folder).rglob("*.py")]
    tests = "\n".join(path.read_text(encoding="utf-8") for path in written)
    named = {path.name for part in ("nugget", "validation", "tests") for path in (root / part).rglob("*")}
    for one in re.findall(r"`([\w./-]+)`", text):
        if one.startswith("test_"):
            assert f"def {one}(" in tests, one
        elif re.search(r"\w\.(py|toml|md)$", one) and "NAME" not in one:
            found = any((base / one).exists() for base in (root, root / "nugget"))
            assert found or ("/" not in one and one in named), one
        elif one.endswith("/"):
            assert any((base / one).is_dir() for base in (root, root / "nugget")), one
    for module in re.findall(r"python -m ([\w.]+)", text):
        assert module == "pytest" or importlib.util.find_spec(module), module
