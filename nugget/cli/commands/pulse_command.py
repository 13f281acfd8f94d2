"""``nugget pulse``: predict one weld, print the answer, draw the figures."""

from __future__ import annotations

import argparse
import functools
import json
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from nugget.cli.followup_text import (
    add_afterwards_options,
    afterwards_record,
    print_afterwards,
    repeated_of,
    service_of,
    wanted,
)
from nugget.cli.in_force import in_force
from nugget.cli.options import (
    add_setup_options,
    add_tolerance_option,
    check_folder,
    check_least,
    chosen_setup,
    origin_of,
    place,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from nugget.cli.outputs import Outputs
    from nugget.outcome.weld import Weld
    from nugget.study.statement.assessment import Assessment


FRAMES = 16
"""At least so many instants of a weld are kept for its record, and fewer than twice as many."""


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``pulse`` is and takes."""
    parser.description = (
        "Predict one weld and judge it over everything that is not known exactly, see `nugget"
        " inputs`. Prints verdict, reason and next step on one page, and draws two figures into the current"
        " folder."
    )
    parser.epilog = "example: nugget pulse mine.toml --set 'pulse.0.duration=12 ms' --out results"
    add_setup_options(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument(
        "--out",
        type=Path,
        metavar="DIR",
        help="write the weld record (record.html), summary.json, weld.npz and the figures into DIR",
    )
    parser.add_argument(
        "--tables",
        action="store_true",
        help="write histories.csv, figures.csv and weld.nc (netCDF: fields and histories) too",
    )
    parser.add_argument("--no-plots", action="store_true", help="draw no figures and write no record")
    parser.add_argument(
        "--in-full",
        action="store_true",
        help="print the whole report: every figure, the sources of the limits, all cautions",
    )
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one for each core)")
    parser.add_argument(
        "--cross-check",
        action="store_true",
        help="repeat every step of the nominal weld with FiPy's terms and solvers on the same grid, steps and"
        " contacts (some ten seconds), print the differences, and fail if any exceeds 1 %%; the contacts, the"
        " fineness of the grid and the data of the materials are not checked by it",
    )
    add_tolerance_option(parser)
    add_afterwards_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Predict, print and write; return the exit code."""
    from nugget.cli.workers import make_ready, progress, with_workers

    setup = chosen_setup(args)
    check_least("--workers", args.workers, 1)
    make_ready(args.workers)
    from nugget.study.inputs.uncertain import inputs_of
    from nugget.study.statement.assessment import judge
    from nugget.study.statement.statement import WELDS

    inputs = inputs_of(setup, args.tolerance)
    rest_s, current_A, heat_W = wanted(args, setup)
    plots = not args.no_plots and (args.out is not None or not args.json)
    if args.out is not None or plots or args.tables:
        check_folder(args.out or Path())
    total = WELDS[0]
    frames = FRAMES if plots and args.out is not None else None
    as_set_up: list[Weld] = []
    drawn: dict[str, bytes] = {}

    def on_weld(weld: Weld) -> None:
        as_set_up.append(weld)
        if not args.json:
            _at_once(weld)

    def on_done(name: str, total: int) -> None:
        if plots and as_set_up and not drawn:  # all others are on their way to the workers by now
            drawn.update(_drawn(as_set_up[0]))
        done(name, total)

    def job(executor: Executor | None) -> Assessment:
        return judge(setup, inputs, executor, on_done, on_weld, frames=frames)

    with progress("Marching", total) as done:
        assessment = with_workers(job, total, args.workers)
    repeated = repeated_of(args, assessment.weld, rest_s)
    service = service_of(assessment.weld, current_A, heat_W)
    more = afterwards_record(repeated, service) | _cross_checked(args, assessment)
    text = _json(assessment, more) if args.json or args.out is not None else ""
    if args.json:
        print(text)
    else:
        from nugget.cli.summary import print_summary

        print_summary(assessment, args.in_full, (in_force(args, "pulse"), in_force(args, "calibrate")))
        print_afterwards(assessment.weld, repeated, service)
    outputs = _write(args, assessment, text, (drawn or _drawn(assessment.weld)) if plots else {})
    if not args.json:
        outputs.say()
    return 0


def _cross_checked(args: argparse.Namespace, assessment: Assessment) -> dict[str, Any]:
    """What the weld repeated with FiPy says, for the record; nothing when it was not asked for."""
    if not args.cross_check:
        return {}
    from nugget.cli.cross_check_text import checked

    steps = len(assessment.weld.history["time_s"]) - 1
    return {"cross_check": checked(assessment.weld.setup, steps, quiet=args.json).record()}


def _at_once(weld: Weld) -> None:
    """Say what the weld comes to as set up, while the welds for its verdict are still to come."""
    from nugget.outcome.verdict import state_of
    from nugget.study.statement.statement import WELDS

    size, target = weld.figures["nugget_diameter_m"] * 1e3, weld.setup.joint.minimum_diameter_m * 1e3
    said = f"As set up: {state_of(weld.setup, weld.figures)}, nugget {size:.2f} mm, minimum {target:.2f} mm."
    print(f"{said} {WELDS[0]} welds whose inputs vary follow.", file=sys.stderr, flush=True)


def _drawn(weld: Weld) -> dict[str, bytes]:
    """The figures of a weld by their file names: drawn while workers simulate the others."""
    from nugget.plot.histories import histories_figure
    from nugget.plot.section import section_figure
    from nugget.plot.style import picture

    return {
        f"{kind}.png": picture(draw(weld), "png")
        for kind, draw in (("section", section_figure), ("histories", histories_figure))
    }


def _put(picture: bytes, path: Path) -> None:
    path.write_bytes(picture)


def _json(assessment: Assessment, more: dict[str, Any]) -> str:
    from nugget.study.statement.assessment import record

    return json.dumps(record(assessment) | more, indent=2, allow_nan=False)


def _write(
    args: argparse.Namespace, assessment: Assessment, text: str, drawn: Mapping[str, bytes]
) -> Outputs:
    """Write the files that were asked for; `drawn` are the figures by their names, none for no plots."""
    from nugget.cli.outputs import Outputs

    outputs = Outputs(*place(args))
    if args.out is not None:
        outputs.text("summary.json", text + "\n")
        outputs.add("weld.npz", assessment.weld.save)
    if args.tables:
        from nugget.export.csv_text import figures_csv, histories_csv
        from nugget.export.dataset import weld_dataset

        outputs.text("histories.csv", histories_csv(assessment.weld))
        outputs.text("figures.csv", figures_csv(assessment.weld))
        dataset = weld_dataset(assessment.weld)
        outputs.add("weld.nc", lambda path: dataset.to_netcdf(path, engine="scipy"))
    for name, picture in drawn.items():
        outputs.add(name, functools.partial(_put, picture))
    if drawn and args.out is not None:
        from nugget.pages.weld_record import record_page

        outputs.text("record.html", record_page(assessment, origin_of(args)))
    return outputs
