"""Plain pytest runs the quick cases; ``-m full`` runs all of them."""

from __future__ import annotations

import os

import pytest

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(name, "1")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    if "full" in (config.option.markexpr or ""):
        return
    slow = [item for item in items if not _quick(item)]
    if slow:
        config.hook.pytest_deselected(items=slow)
        items[:] = [item for item in items if item not in slow]


def _quick(item: pytest.Item) -> bool:
    case = getattr(item, "callspec", None) and item.callspec.params.get("case")  # type: ignore[attr-defined]
    return case is None or case.quick
