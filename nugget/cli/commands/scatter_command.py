"""``nugget scatter``: how the result spreads when force, thickness, contact and source vary."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.options import (
    add_folder_options,
    add_marching_options,
    add_setup_options,
    add_tolerance_option,
    check_folder,
    check_least,
    chosen_setup,
    keeping,
    place,
)

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from nugget.setup import Setup
    from nugget.study.inputs.uncertain import Inputs
    from nugget.study.statement.samples import Sample
    from nugget.study.statement.statement import Statement
    from nugget.study.tasks import Finished


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``scatter`` is and takes."""
    parser.description = (
        "The statement of `nugget pulse` from many more welds: the probability that the"
        " joint reaches its minimum diameter and that each limit is exceeded, with smaller errors; spreads;"
        " and which input matters most."
    )
    parser.epilog = "example: nugget scatter mine.toml --tolerance 'electrode.force=10 %' --samples 200"
    add_setup_options(parser)
    add_tolerance_option(parser)
    parser.add_argument("--samples", type=int, default=256, metavar="N", help="welds (default: %(default)s)")
    parser.add_argument("--seed", type=int, default=1, metavar="N", help="draws other welds (default: 1)")
    add_folder_options(parser, "table, JSON and figure")
    add_marching_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Draw, march, print and write; return the exit code."""
    from nugget.study.inputs.uncertain import check_samples, inputs_of
    from nugget.study.statement.samples import kept

    setup = chosen_setup(args)
    check_least("--workers", args.workers, 1)
    check_least("--seed", args.seed, 0)
    check_samples(args.samples)
    inputs = inputs_of(setup, args.tolerance)
    folder, start = place(args)
    check_folder(folder)
    finished = kept(folder / f"{start}scatter.finished.jsonl", args.resume)
    with keeping(args, finished):
        _answer(args, _compute(args, setup, inputs, finished), folder, start)
    return 0


def _compute(
    args: argparse.Namespace,
    setup: Setup,
    inputs: Inputs,
    finished: Finished[Sample],
) -> Statement:
    from nugget.cli.cluster import with_cluster
    from nugget.cli.workers import progress, with_workers
    from nugget.study.statement.statement import state

    with progress("Marching", args.samples) as done:

        def job(executor: Executor | None) -> Statement:
            return state(setup, inputs, (args.samples,), args.seed, executor, finished, done)

        if args.cluster is not None:
            return with_cluster(args.cluster, job)
        return with_workers(job, args.samples, args.workers)


def _answer(args: argparse.Namespace, scatter: Statement, folder: Path, start: str) -> None:
    """Print and write."""
    from nugget.cli.outputs import Outputs
    from nugget.study.scattering.scatter_record import scatter_csv, scatter_record

    text = json.dumps(scatter_record(scatter), indent=2, allow_nan=False)
    if args.json:
        print(text)
    else:
        from nugget.cli.scatter_text import print_scatter

        print_scatter(scatter)
    outputs = Outputs(folder, start)
    if args.out is not None:
        outputs.text("scatter.json", text + "\n")
    if args.out is not None or not args.json:
        outputs.text("scatter.csv", scatter_csv(scatter))
    if not args.no_plots and (args.out is not None or not args.json):
        from nugget.plot.scatter_figure import scatter_figure

        outputs.figure("scatter.png", scatter_figure(scatter))
    if not args.json:
        outputs.say()
