"""Calibrating: source and contact of a bench from trial welds (the table is invented)."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import as_file, files
from pathlib import Path

import nugget


def main(fit: Sequence[str] = (), trials: Path | None = None, **changes: object) -> nugget.Setup:
    """Fit the logger pack's setup to trials, print what they tell; return the fitted setup."""
    setup = nugget.default_setup().with_(**changes)
    with as_file(files("nugget.examples") / "trials_logger.csv") as invented:
        found = nugget.calibrate(setup, trials or invented, fit=list(fit), advice=False)
    print(f"{found.state} {found.why}".rstrip())
    for one in found.fitted:
        print(f"{one.item.path}: {one.value:.4g}, 95 % from {one.low:.4g} to {one.high:.4g} (SI units)")
    for two in found.unidentified:
        print(f"not to be told: {two.item.path}")
    return setup.with_(found.overrides)


if __name__ == "__main__":
    main()
