"""A module is found by its name: no two of the package share one."""

from collections import Counter
from importlib.resources import files
from pathlib import Path


def test_no_two_modules_of_the_package_share_a_name():
    root = Path(str(files("nugget")))
    names = Counter(path.name for path in root.rglob("*.py") if not path.name.startswith("__"))
    assert len(names) > 100
    assert [name for name, count in names.items() if count > 1] == []
