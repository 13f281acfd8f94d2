"""Every example in the docstrings of what users call runs and prints what it says."""

from __future__ import annotations

import doctest
import importlib
from collections.abc import Iterator

import pytest

from nugget import plugins

MODULES = (
    "nugget",
    "nugget.api",
    "nugget.api.registration",
    "nugget.api.results",
    "nugget.api.studies",
    "nugget.api.welds",
    "nugget.materials.material",
    "nugget.outcome.naming",
    "nugget.outcome.weld",
    "nugget.setup.setup",
    "nugget.study.sweep",
)


@pytest.fixture(autouse=True)
def forgotten() -> Iterator[None]:
    before = dict(plugins._REGISTERED)
    yield
    plugins._REGISTERED.clear()
    plugins._REGISTERED.update(before)


@pytest.mark.parametrize("name", MODULES)
def test_the_examples_of_a_module_run(name: str) -> None:
    failed, tried = doctest.testmod(importlib.import_module(name), optionflags=doctest.ELLIPSIS)
    assert tried > 0
    assert failed == 0
