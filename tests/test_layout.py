"""How the package is laid out: a module is found by its name, and what it imports is declared."""

from __future__ import annotations

import ast
import importlib.util
import re
import sys
from collections import Counter
from collections.abc import Collection, Iterator
from graphlib import TopologicalSorter
from importlib.metadata import packages_distributions, requires, version
from importlib.resources import files
from pathlib import Path

import pytest
from packaging.requirements import Requirement

import nugget
from nugget import manual

ROOT = Path(str(files("nugget")))
EXTRAS = {"distributed": "cluster", "meshio": "fields", "mkdocs": "manual", "numba": "fast"}
"""What only an extra brings: the commands that need it say so."""
TOGETHER = {"pydantic_core": "pydantic", "pandas": "xarray", "markupsafe": "jinja2", "llvmlite": "numba"}
"""What another declared one is built upon and shows in its own interface."""

WORKS = (
    "CRC Handbook of Chemistry and Physics",
    "Carslaw and Jaeger",
    "Hairer and Wanner",
    "Hairer, Norsett and Wanner",
)
"""Books whose sections are cited."""


def modules() -> list[Path]:
    found = [path for path in ROOT.rglob("*.py") if not path.name.startswith("__")]
    assert len(found) > 100
    return found


def written() -> dict[Path, str]:
    """Every source file of the checkout, this one left out, and every data file of the package."""
    top = Path(__file__).parents[1]
    paths = [*ROOT.rglob("*.toml"), *ROOT.rglob("*.py")]
    for folder in ("tests", "validation", "plugins"):
        paths += (top / folder).rglob("*.py")
    return {path: path.read_text(encoding="utf-8") for path in paths if path != Path(__file__)}


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


def test_nothing_is_defined_that_nobody_uses() -> None:
    """Each name at the top of a module stands somewhere besides; dead data are believed to count."""
    words = Counter(word for text in written().values() for word in re.findall(r"[A-Za-z_]\w*", text))
    for path in modules():
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            named = [node.name] if isinstance(node, ast.FunctionDef | ast.ClassDef) else []
            if isinstance(node, ast.Assign | ast.AnnAssign):
                targets = node.targets if isinstance(node, ast.Assign) else [node.target]
                named = [target.id for target in targets if isinstance(target, ast.Name)]
            assert [name for name in named if words[name] < 2] == [], path.name


def test_what_the_sources_refer_to_can_be_read() -> None:
    """A page of the manual that is there, or a section of a published work that is named beside it."""
    for path, text in written().items():
        for page in re.findall(r"\(manual, ([\w-]+)|manual: (theory-[\w-]+)", text):
            assert "".join(page) in manual.names(), f"{path}: {page}"
        for found in re.finditer(r"\bsection [IVX\d][\w.]*", text):
            before = text[max(0, found.start() - 150) : found.start()]
            assert any(work in before for work in WORKS), f"{path}: {found[0]} of what?"


def imported(path: Path, known: Collection[str]) -> Iterator[str]:
    """Modules that a module needs as soon as it is imported, and not for its types alone."""
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.Import):
            yield from (one.name for one in node.names if one.name in known)
        elif isinstance(node, ast.ImportFrom):
            whole = [f"{node.module}.{one.name}" for one in node.names]
            yield from {name if name in known else str(node.module) for name in whole} & set(known)


@pytest.mark.parametrize("package", ["nugget", "validation"])
def test_no_imports_run_in_a_circle(package: str) -> None:
    top = ROOT if package == "nugget" else Path(__file__).parents[1] / package
    names = {
        ".".join((package, *path.relative_to(top).with_suffix("").parts)).removesuffix(".__init__"): path
        for path in top.rglob("*.py")
    }
    graph = {name: {*imported(path, names.keys())} - {name} for name, path in names.items()}
    assert sum(map(len, graph.values())) > 100
    TopologicalSorter(graph).prepare()


def test_the_version_is_told_once() -> None:
    assert nugget.__version__ == version("nugget")


def test_what_developers_are_told_is_there() -> None:
    """Places, tests and commands that DEVELOPERS.md names."""
    root = Path(__file__).parents[1]
    text = (root / "DEVELOPERS.md").read_text(encoding="utf-8")
    written = [path for folder in ("tests", "validation") for path in (root / folder).rglob("*.py")]
    tests = "\n".join(path.read_text(encoding="utf-8") for path in written)
    places = (ROOT, root / "validation", root / "tests")
    bases = (root, ROOT.parent, ROOT)  # the package may stand elsewhere, as when a wheel is tested
    named = {path.name for place in places for path in place.rglob("*")}
    for one in re.findall(r"`([\w./-]+)`", text):
        if one.startswith("test_"):
            assert f"def {one}(" in tests, one
        elif re.search(r"\w\.(py|toml|md)$", one) and "NAME" not in one:
            found = any((base / one).exists() for base in bases)
            assert found or ("/" not in one and one in named), one
        elif one.endswith("/"):
            assert any((base / one).is_dir() for base in bases), one
    for module in re.findall(r"python -m ([\w.]+)", text):
        assert module == "pytest" or importlib.util.find_spec(module), module


def test_adding_a_thing_takes_as_many_files_as_developers_are_told() -> None:
    """The last number of the column is how many places the row names; one of your own where it names none."""
    text = (Path(__file__).parents[1] / "DEVELOPERS.md").read_text(encoding="utf-8")
    table = text.partition("## How to add things")[2].partition("\n## ")[0]
    rows = [
        [cell.strip() for cell in line.strip("|").split("|")]
        for line in table.splitlines()
        if line[:1] == "|"
    ]
    assert rows[0][1] == "files"
    for thing, count, where, _ in rows[2:]:
        named = set(re.findall(r"`([\w./]+/(?:\w+\.\w+)?)`", where))
        assert int(count.split()[-1]) == max(len(named), 1), (thing, named)
