"""What a scatter is kept as: a table of every weld, and one JSON object."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any

from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.scattering.statistics import QUANTILES, column, influences, quantiles
from nugget.study.statement.samples import kept_figures
from nugget.study.statement.statement import Statement


def scatter_csv(statement: Statement) -> str:
    """One row for each weld: its inputs and figures, SI, the unit in each name."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    inputs = [f"{one.path} [{one.field.unit or '1'}]" for one in statement.inputs.items]
    spot = ["polarity"] if statement.inputs.either_spot else []
    figures = [name for name in kept_figures() if column(statement, name) is not None]
    table.writerow([*inputs, *spot, *figures, "enough", "broken_limits"])
    for row, one in zip(statement.deviations, statement.samples, strict=True):
        values = [*statement.inputs.values(row), *([1 if row[-1] > 0.0 else -1] if spot else [])]
        table.writerow(
            [*values, *(one.figures[name] for name in figures), int(one.enough), " ".join(one.broken)]
        )
    return out.getvalue()


def scatter_record(statement: Statement) -> dict[str, Any]:
    """Everything about many welds but the single welds, JSON-ready."""
    from nugget.constants import VERSION

    return {
        **statement.record(),
        "seed": statement.seed,
        "quantiles": {
            name: dict(zip((str(q) for q in QUANTILES), values, strict=True))
            for name, values in quantiles(statement).items()
        },
        "rank_correlations": [asdict(one) for one in influences(statement)],
        "setup": statement.setup.document(whole=True),
        "data_sources": data_sources(statement.setup),
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }
