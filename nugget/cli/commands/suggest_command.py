"""``nugget suggest``: the pulse train with the widest margin, and a plan of trial welds."""

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
    longest_of,
    place,
)

if TYPE_CHECKING:
    from collections.abc import Callable
    from concurrent.futures import Executor

    from nugget.study.suggestion.candidate import Suggestion
    from nugget.study.suggestion.trial_plan import Step

    Found = tuple[Suggestion, tuple[Step, ...]]
    Look = Callable[[Executor | None, Callable[[int, int], None]], Found]
    Subparsers = argparse._SubParsersAction[argparse.ArgumentParser]


def add_parser(subparsers: Subparsers) -> None:
    """Add the ``suggest`` command."""
    parser = subparsers.add_parser(
        "suggest",
        help="search pulse trains for the widest margin, and plan the first trial welds",
        description="Search single pulses, a preheat pulse before the main one, and two equal pulses, and"
        " what you allow to change, for the widest margin to all limits at every contact radius. Says when"
        " no setting is safe and which change of hardware would make one.",
        epilog="example: nugget suggest mine.toml --allow 'electrode.force=15 N:50 N'",
    )
    parser.add_argument("setup", nargs="?", metavar="SETUP.toml", help="setup file (default: built-in)")
    add_setup_options(parser)
    parser.add_argument(
        "--allow",
        action="append",
        default=[],
        metavar="FIELD=LOW:HIGH",
        help="let the search change this field, such as 'electrode.force=15 N:50 N'; may be repeated",
    )
    parser.add_argument(
        "--band",
        type=float,
        default=1.25,
        metavar="FACTOR",
        help="contact radii from 1/FACTOR to FACTOR have to agree (default: %(default)s); smaller once"
        " calibrated",
    )
    add_tolerance_option(parser)
    parser.add_argument(
        "--samples", type=int, default=32, metavar="N", help="welds for each of them (default: %(default)s)"
    )
    parser.add_argument("--longest", metavar="TIME", help="longest pulse searched (default: 3 times yours)")
    add_folder_options(parser, "setting, plan, JSON and figure")
    add_marching_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Search, plan, print and write; return the exit code."""
    from nugget.errors import InputError
    from nugget.study.charting import duration_chart as chart
    from nugget.study.inputs.uncertain import check_samples, inputs_of
    from nugget.study.statement import samples as welds
    from nugget.study.suggestion.candidate import read_free
    from nugget.study.suggestion.setting_search import suggest
    from nugget.study.suggestion.trial_plan import plan

    setup = chosen_setup(args)
    check_least("--workers", args.workers, 1)
    if not 1.0 <= args.band <= 2.0:
        raise InputError("--band", args.band, "a factor from 1 to 2")
    check_samples(args.samples)
    free = [read_free(setup, text) for text in args.allow]
    inputs = inputs_of(setup, args.tolerance)
    longest_s = longest_of(args)
    folder, start = place(args)
    check_folder(folder)
    stores = [folder / f"{start}suggest.{name}.finished.jsonl" for name in ("edges", "welds")]
    edges, welded = chart.kept(stores[0], args.resume), welds.kept(stores[1], args.resume)

    def look(executor: Executor | None, count: Callable[[int, int], None]) -> Found:
        suggestion = suggest(
            setup, free, inputs, args.samples, args.band, longest_s, executor, edges, welded, count
        )
        return suggestion, plan(suggestion, executor)

    with keeping(args, edges, welded):
        _answer(args, _compute(args, look), folder, start)
    return 0


def _compute(args: argparse.Namespace, look: Look) -> Found:
    from nugget.cli.cluster import with_cluster
    from nugget.cli.workers import progress, with_workers

    with progress("Searching", 1) as done:

        def job(executor: Executor | None) -> Found:
            return look(executor, lambda finished, asked: done(str(finished), asked))

        if args.cluster is not None:
            return with_cluster(args.cluster, job)
        return with_workers(job, 64, args.workers)


def _answer(args: argparse.Namespace, found: Found, folder: Path, start: str) -> None:
    """Print and write."""
    from nugget.cli.outputs import Outputs
    from nugget.study.suggestion.suggestion_record import suggestion_record
    from nugget.study.suggestion.trial_plan import plan_csv, setting_toml

    suggestion, steps = found
    text = json.dumps(suggestion_record(suggestion, steps), indent=2, allow_nan=False)
    if args.json:
        print(text)
    else:
        from nugget.cli.suggest_text import print_suggestion

        print_suggestion(suggestion, steps)
    outputs = Outputs(folder, start)
    if args.out is not None:
        outputs.text("suggest.json", text + "\n")
    if args.out is not None or not args.json:
        name = "suggested.toml" if suggestion.safe else "coupons-only.toml"
        setting = outputs.text(name, setting_toml(suggestion))
        outputs.text("trials.csv", plan_csv(steps, setting.name))
    if not args.no_plots and (args.out is not None or not args.json):
        from nugget.plot.suggestion_figure import suggestion_figure

        outputs.figure("suggest.png", suggestion_figure(suggestion))
    if not args.json:
        outputs.say()
        if suggestion.safe:
            print(f"A card for the wall: nugget card {setting}")
