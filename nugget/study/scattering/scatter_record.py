"""What a scatter is kept as: a table of every weld, and one JSON object."""

from __future__ import annotations

import csv
import io
from dataclasses import asdict
from typing import Any

from nugget.outcome.record import CAUTIONS, data_sources
from nugget.study.scattering.statistics import QUANTILES, chances, influences, quantiles
from nugget.study.scattering.welds import Scatter, kept_figures


def scatter_csv(scatter: Scatter) -> str:
    """One row for each weld: its inputs and figures, SI, the unit in each name."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    inputs = [f"{t.field.path} [{t.field.unit or '1'}]" for t in scatter.tolerances]
    figures = [name for name in kept_figures() if scatter.column(name) is not None]
    table.writerow([*inputs, *figures, "enough", "broken_limits"])
    for row, one in zip(scatter.deviations, scatter.samples, strict=True):
        values = [t.value(d) for t, d in zip(scatter.tolerances, row, strict=True)]
        table.writerow(
            [*values, *(one.figures[name] for name in figures), int(one.enough), " ".join(one.broken)]
        )
    return out.getvalue()


def scatter_record(scatter: Scatter) -> dict[str, Any]:
    """Everything about a scatter but the single welds, JSON-ready."""
    from nugget.constants import VERSION

    return {
        "samples": len(scatter.samples),
        "failed": list(scatter.failed),
        "seed": scatter.seed,
        "tolerances": [
            {"field": t.field.path, "own": t.own, "kind": t.kind, "width": t.width, "source": t.source}
            for t in scatter.tolerances
        ],
        "chances": [{**asdict(one), "share": one.share} for one in chances(scatter)],
        "quantiles": {
            name: dict(zip((str(q) for q in QUANTILES), values, strict=True))
            for name, values in quantiles(scatter).items()
        },
        "rank_correlations": [asdict(one) for one in influences(scatter)],
        "setup": scatter.setup.document(whole=True),
        "data_sources": data_sources(scatter.setup),
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }
