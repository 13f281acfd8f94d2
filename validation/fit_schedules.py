"""Fit the contact set on the schedule rows marked ``fit``: ``python -m validation.fit_schedules``.

Both contact laws of the model are tried, with one film and one hardness factor for all rows of both
materials. The hardness factor stands for strain rate: hot hardness of the built-in steels falls as
yield does in slow (fire) tests, while hot working at some 10 per second needs up to three times the
stress (from memory), so it stays at three or less. The criterion is the one that the rows are judged
by: smallest median of the absolute errors among sets that keep every row within `ROW_TOLERANCE`. Every set
that was tried is kept in ``data/contact_fit.csv``.
"""

from __future__ import annotations

import csv
import math
import sys

from nugget.errors import NuggetError
from nugget.outcome.weld import march_weld
from validation.readers import DATA
from validation.schedule import ContactSet, Row, schedule, setup_of

TRIALS = (
    *(
        ContactSet("asperity", film)
        for film in (1e-12, 3e-11, 5e-11, 7e-11, 8.5e-11, 1e-10, 1.5e-10, 2e-10, 3e-10, 4e-10, 6e-10)
    ),
    *(
        ContactSet("metallic", film, factor)
        for film in (1e-12, 3e-12, 1e-11, 2e-11, 3e-11)
        for factor in (1.0, 1.5, 2.0, 3.0)
    ),
)


def _error(row: Row, contact: ContactSet) -> float:
    """Relative error of the fused diameter; not a number where the march stops."""
    try:
        weld = march_weld(setup_of(row, contact))
    except NuggetError as failure:
        print(f"{row.name}, {contact.name}: {failure}", file=sys.stderr)
        return math.nan
    return weld.figures["nugget_diameter_m"] / row.fused_m - 1.0


def main() -> int:
    """Try every set and write what came of it."""
    chosen = [row for row in schedule() if row.use == "fit"]
    path = DATA / "contact_fit.csv"
    with path.open("w", encoding="utf-8", newline="") as handle:
        handle.write(
            "# Relative error of the fused diameter of the rows marked fit, under every set tried.\n"
        )
        table = csv.writer(handle, lineterminator="\n")
        table.writerow(["law", "film_ohm_m2", "hardness_factor", *(row.name for row in chosen)])
        for contact in TRIALS:
            errors = [_error(row, contact) for row in chosen]
            line = [contact.law, f"{contact.film_ohm_m2:g}", f"{contact.hardness_factor:g}"]
            table.writerow([*line, *(f"{e:.4f}" for e in errors)])
            handle.flush()
            print(f"{contact.name}: {[f'{e:+.3f}' for e in errors]}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
