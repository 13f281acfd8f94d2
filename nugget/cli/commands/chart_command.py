"""``nugget chart``: how long the pulse may be, against strip thickness or any other field."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.options import (
    PICTURES,
    add_marching_options,
    add_setup_options,
    add_tolerance_option,
    check_folder,
    check_least,
    chosen_setup,
    keeping,
    longest_of,
    origin_of,
    stem,
)

if TYPE_CHECKING:
    from nugget.setup import Setup
    from nugget.study.charting.duration_chart import Chart, Plan
    from nugget.study.charting.plotted_trials import PlottedTrial
    from nugget.study.durations.edges import Growth
    from nugget.study.inputs.variation import Axis
    from nugget.study.tasks import Finished

TABLES = (".csv", ".json", ".html")


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``chart`` is and takes."""
    parser.description = (
        "Draw the shortest pulse that makes the joint and the longest before each limit, against"
        " strip thickness or another field: as set up, and over everything that is not known exactly, as"
        " `nugget pulse` judges it: from when to when the statement is 'in window', and when 5 to 95 % of"
        " the welds pass each edge."
    )
    parser.epilog = "example: nugget chart mine.toml --vary 'electrode.force=10 N:60 N:11' --out force.pdf"
    add_setup_options(parser)
    parser.add_argument(
        "--vary",
        metavar="FIELD=FROM:TO:COUNT",
        help="field along the other axis (default: strip.thickness=0.05 mm:0.3 mm:11)",
    )
    parser.add_argument("--strips", metavar="A,B,C", help="strip materials, one panel each")
    parser.add_argument(
        "--lobe",
        action="store_true",
        help="weldability lobe: source current or voltage (or the field of --vary) against weld time",
    )
    parser.add_argument(
        "--max-duration", metavar="TIME", help="longest pulse searched (default: 3 times yours)"
    )
    parser.add_argument("--trials", type=Path, metavar="FILE.csv", help="trial welds to draw on the chart")
    parser.add_argument(
        "--out",
        type=Path,
        action="append",
        default=[],
        metavar="FILE",
        help="where to: .png, .svg, .pdf, .csv, .json, or .html to explore; may be repeated (default: PNG"
        " and CSV here)",
    )
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.add_argument(
        "--as-set-up", action="store_true", help="vary no inputs: faster, and no statement about safety"
    )
    parser.add_argument(
        "--welds", type=int, metavar="N", help="welds whose inputs vary, in each panel (default: 64)"
    )
    add_tolerance_option(parser)
    parser.add_argument("--no-advice", action="store_true", help="where no window exists, try no changes")
    add_marching_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Compute, print and write; return the exit code."""
    from nugget.study.charting.duration_chart import kept, plan_chart
    from nugget.study.charting.edge_spread import WELDS
    from nugget.study.inputs.uncertain import inputs_of

    setup = chosen_setup(args)
    files = _files(args)
    axis = _axis(args, setup)
    strips = _strips(args)
    inputs, welds = inputs_of(setup, args.tolerance), WELDS if args.welds is None else args.welds
    plan = plan_chart(setup, axis, strips, longest_of(args), not args.as_set_up, inputs, welds)
    trials = _trials(args, plan)
    store = files[0].with_suffix("") if files else Path(_stem(args))
    store = store.with_name(f"{store.name}.finished.jsonl")
    finished = kept(store, args.resume)
    with keeping(args, finished):
        _answer(args, _compute(args, plan, finished), trials, files)
    return 0


def _compute(args: argparse.Namespace, plan: Plan, finished: Finished[Growth]) -> Chart:
    from concurrent.futures import Executor

    from nugget.cli.cluster import with_cluster
    from nugget.cli.workers import progress, with_workers
    from nugget.study.charting.duration_chart import draw_up

    with progress("Marching", len(plan.tasks)) as done:

        def job(executor: Executor | None) -> Chart:
            return draw_up(plan, executor, finished, done, not args.no_advice)

        if args.cluster is not None:
            return with_cluster(args.cluster, job)
        return with_workers(job, len(plan.tasks), args.workers)


def _stem(args: argparse.Namespace) -> str:
    return f"nugget-{stem(args)}-{'lobe' if args.lobe else 'chart'}"


def _files(args: argparse.Namespace) -> list[Path]:
    """Where to write; InputError before any work is done when one of them cannot be."""
    from nugget.errors import InputError

    check_least("--workers", args.workers, 1)
    known = (*PICTURES, *TABLES)
    files = list(args.out)
    if not files and not args.json:
        files = [Path(f"{_stem(args)}{ending}") for ending in (".png", ".csv")]
    for file in files:
        if file.suffix.lower() not in known:
            raise InputError("--out", str(file), f"a name that ends in {', '.join(known)}")
        check_folder(file.parent)
    return files


def _strips(args: argparse.Namespace) -> list[str]:
    from nugget.errors import InputError

    names = [] if args.strips is None else [name.strip() for name in args.strips.split(",")]
    if not all(names):
        raise InputError("--strips", args.strips, "materials with a comma between them")
    return names


def _axis(args: argparse.Namespace, setup: Setup) -> Axis | None:
    from nugget.study.inputs.variation import lobe_axis, read_axis

    if args.vary is not None:
        return read_axis(setup, args.vary)
    return lobe_axis(setup) if args.lobe else None


def _trials(args: argparse.Namespace, plan: Plan) -> tuple[PlottedTrial, ...]:
    from nugget.study.charting.plotted_trials import read_trials

    return () if args.trials is None else read_trials(args.trials, plan.axis)


def _answer(
    args: argparse.Namespace, chart: Chart, trials: tuple[PlottedTrial, ...], files: list[Path]
) -> None:
    """Print and write."""
    from nugget.cli.in_force import in_force
    from nugget.cli.outputs import Outputs
    from nugget.study.charting.chart_record import chart_csv, chart_record

    commands = in_force(args, "chart"), in_force(args, "calibrate")
    text = json.dumps(chart_record(chart), indent=2, allow_nan=False)
    if args.json:
        print(text)
    else:
        from nugget.cli.chart_text import print_chart

        print_chart(chart, commands)
    outputs = Outputs(Path())
    for file in files:
        ending = file.suffix.lower()
        if ending in PICTURES:
            from nugget.plot.chart_figure import chart_figure

            outputs.figure(str(file), chart_figure(chart, trials, args.lobe, commands))
        elif ending == ".html":
            from nugget.pages.chart_page import chart_page

            outputs.text(str(file), chart_page(chart, trials, origin_of(args), commands))
        else:
            outputs.text(str(file), chart_csv(chart) if ending == ".csv" else text + "\n")
    if not args.json:
        outputs.say()
