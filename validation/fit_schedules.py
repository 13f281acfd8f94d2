"""Fit the contact film on the schedule rows marked ``fit``: ``python -m validation.fit_schedules``.

One number for all rows of both materials. Spots per area and spread stay at their values from
physics: the first hardly matters beside a film, the second only enlarges welds that are too large
already. The median of the absolute relative errors is minimised: it is what the predicted rows are
judged by, and one odd row cannot rule it. Every film that was tried is kept in
``data/contact_fit.csv``.
"""

from __future__ import annotations

import csv
import sys
from dataclasses import replace
from statistics import median

from nugget.outcome.weld import march_weld
from validation.schedule import FROM_PHYSICS, schedule, setup_of
from validation.tables import DATA

FILMS_OHM_M2 = (1e-12, 3e-11, 5e-11, 7e-11, 8.5e-11, 1e-10, 1.2e-10, 1.5e-10, 2e-10, 3e-10, 4e-10, 6e-10)


def main() -> int:
    """Try every film and write what came of it."""
    chosen = [row for row in schedule() if row.use == "fit"]
    path = DATA / "contact_fit.csv"
    with path.open("w", encoding="utf-8", newline="") as handle:
        handle.write(
            "# Relative error of the fused diameter of the rows marked fit, by film; smallest median wins.\n"
        )
        table = csv.writer(handle, lineterminator="\n")
        table.writerow(["film_ohm_m2", "median_error", *(row.name for row in chosen)])
        for film in FILMS_OHM_M2:
            contact = replace(FROM_PHYSICS, film_ohm_m2=film)
            errors = [
                march_weld(setup_of(row, contact)).figures["fused_diameter_m"] / row.fused_m - 1.0
                for row in chosen
            ]
            table.writerow([f"{film:g}", f"{median(map(abs, errors)):.4f}", *(f"{e:.4f}" for e in errors)])
            print(f"{film:g}: {median(map(abs, errors)):.3f}", file=sys.stderr)
    return 0


if __name__ == "__main__":
    sys.exit(main())
