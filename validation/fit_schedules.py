"""Fit the contact set on the schedule rows marked ``fit``: ``python -m validation.fit_schedules``.

Both contact laws of the model are tried, with one film for all interfaces and rows of both materials;
strength at the rate of a pulse comes from the materials and is not fitted. The criterion is the one
that the rows are judged by: smallest median of the absolute errors among sets that keep every row
within `ROW_TOLERANCE`. Every set that was tried is kept in ``data/contact_fit.csv``.
"""

from __future__ import annotations

import csv
import math
import sys
from concurrent.futures import ProcessPoolExecutor

from nugget.errors import NuggetError
from nugget.outcome.weld import run_weld
from validation.readers import DATA
from validation.schedule import ContactSet, Row, schedule, setup_of

FILMS_OHM_M2 = {"asperity": (1e-10, 1.5e-10), "metallic": (1e-12, 1e-11)}
TRIALS = [ContactSet(law, film) for law, films in FILMS_OHM_M2.items() for film in films]
WORKERS = 2


def _error(row: Row, contact: ContactSet) -> float:
    """Relative error of the fused diameter; not a number where the march stops."""
    try:
        weld = run_weld(setup_of(row, contact))
    except NuggetError as failure:
        print(f"{row.name}, {contact.name}: {failure}", file=sys.stderr)
        return math.nan
    return weld.figures["nugget_diameter_m"] / row.fused_m - 1.0


def main() -> int:
    """Try every set and write what came of it."""
    chosen = [row for row in schedule() if row.use == "fit"]
    with ProcessPoolExecutor(WORKERS) as pool:
        rows = [row for _ in TRIALS for row in chosen]
        sets = [contact for contact in TRIALS for _ in chosen]
        errors = list(pool.map(_error, rows, sets))
    path = DATA / "contact_fit.csv"
    with path.open("w", encoding="utf-8", newline="") as handle:
        handle.write(
            "# Relative error of the fused diameter of the rows marked fit, under every set tried.\n"
        )
        table = csv.writer(handle, lineterminator="\n")
        table.writerow(["law", "film_ohm_m2", *(row.name for row in chosen)])
        for n, contact in enumerate(TRIALS):
            here = errors[n * len(chosen) : (n + 1) * len(chosen)]
            table.writerow([contact.law, f"{contact.film_ohm_m2:g}", *(f"{e:.4f}" for e in here)])
    return 0


if __name__ == "__main__":
    sys.exit(main())
