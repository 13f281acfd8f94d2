"""Plain pytest runs the quick cases; ``-m full`` the others."""

from __future__ import annotations

import os

import pytest

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        case = getattr(item, "callspec", None) and item.callspec.params.get("case")  # type: ignore[attr-defined]
        if case is not None and not case.quick:
            item.add_marker("full")
