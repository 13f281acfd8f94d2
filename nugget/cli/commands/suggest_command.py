"""``nugget suggest``: the pulse train with the widest margin, and a plan of trial welds."""

from __future__ import annotations

import argparse
import json
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.in_force import in_force
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

    from nugget.cli.outputs import Outputs
    from nugget.study.suggestion.candidate import Suggestion
    from nugget.study.suggestion.trial_plan import Step

    Found = tuple[Suggestion, tuple[Step, ...]]
    Look = Callable[[Executor | None, Callable[[int, int], None]], Found]


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``suggest`` is and takes."""
    parser.description = (
        "Search single pulses, a preheat pulse before the main one, and two equal pulses, and"
        " what you allow to change, for a weld of which `nugget pulse` says that it is in the window. Says"
        " when none was found and which change to the bench, the cheapest first, would make one."
    )
    parser.epilog = "example: nugget suggest mine.toml --allow 'electrode.force=15 N:50 N'"
    add_setup_options(parser)
    parser.add_argument(
        "--allow",
        action="append",
        default=[],
        metavar="FIELD=LOW:HIGH",
        help="let the search change this field, such as 'electrode.force=15 N:50 N'; may be repeated",
    )
    add_tolerance_option(parser)
    parser.add_argument(
        "--max-duration", metavar="TIME", help="longest pulse searched (default: 3 times yours)"
    )
    add_folder_options(parser, "setting, plan, JSON and figure")
    add_marching_options(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Search, plan, print and write; return the exit code."""
    from nugget.study.charting import duration_chart as chart
    from nugget.study.inputs.uncertain import inputs_of
    from nugget.study.statement import samples as welds
    from nugget.study.suggestion.candidate import read_free
    from nugget.study.suggestion.setting_search import suggest
    from nugget.study.suggestion.trial_plan import plan

    setup = chosen_setup(args)
    check_least("--workers", args.workers, 1)
    free = [read_free(setup, text) for text in args.allow]
    inputs_of(setup, args.tolerance)  # what is wrong with it is said before anything is computed
    longest_s = longest_of(args)
    folder, start = place(args)
    check_folder(folder)
    stores = [folder / f"{start}suggest.{name}.finished.jsonl" for name in ("edges", "welds")]
    edges, welded = chart.kept(stores[0], args.resume), welds.kept(stores[1], args.resume)

    def look(executor: Executor | None, count: Callable[[int, int], None]) -> Found:
        suggestion = suggest(setup, free, args.tolerance, longest_s, executor, edges, welded, count)
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

    suggestion, steps = found
    text = json.dumps(suggestion_record(suggestion, steps), indent=2, allow_nan=False)
    laid = _without(args, suggestion)
    if args.json:
        print(text)
    else:
        from nugget.cli.suggest_text import print_suggestion

        print_suggestion(suggestion, steps, in_force(args, "suggest"), in_force(args, "calibrate"))
    outputs = Outputs(folder, start)
    if args.out is not None:
        outputs.text("suggest.json", text + "\n")
    setting = None
    if steps and (args.out is not None or not args.json):
        setting = _write_plan(laid, found, outputs)
    if not args.no_plots and (args.out is not None or not args.json):
        from nugget.plot.suggestion_figure import suggestion_figure

        outputs.figure("suggest.png", suggestion_figure(suggestion))
    if not args.json:
        outputs.say()
        if suggestion.safe and setting is not None:
            laid.machine = [*laid.machine, setting]
            print(f"The same statement with all figures: {in_force(laid, 'pulse')}")
            print(f"A card for the wall: {in_force(laid, 'card', tolerance=False)}")


def _write_plan(laid: argparse.Namespace, found: Found, outputs: Outputs) -> Path:
    """Write the setting and the table of trials; what was filled into that stays in it."""
    from nugget.study.suggestion.trial_merging import merged
    from nugget.study.suggestion.trial_plan import plan_csv, setting_toml, written_values

    suggestion, steps = found
    name = "suggested.toml" if suggestion.safe else "coupons-only.toml"
    setting = outputs.text(name, setting_toml(suggestion))
    table = outputs.place("trials.csv")
    laid = argparse.Namespace(**vars(laid))
    if suggestion.tried.train.kind != "single":  # the rows of a table say nothing of a pulse before the last
        laid.machine = [*laid.machine, setting]
    command = in_force(laid, "calibrate").replace("TRIALS.csv", str(table))
    own = {path: _cell(suggestion, path) for path in written_values(suggestion)}
    plan = plan_csv(suggestion, steps, command)
    outputs.merged("trials.csv", plan, lambda old: merged(old, plan, own))
    return setting


def _cell(suggestion: Suggestion, path: str) -> str:
    """What the setup itself has in a field that the plan changes; empty where it has nothing."""
    field, own = suggestion.setup.fields[path], suggestion.setup.get(path)
    return "" if own is None else str(field.write(own))


def _without(args: argparse.Namespace, suggestion: Suggestion) -> argparse.Namespace:
    """The options in force but for what the setting replaces, as ``--set`` goes over ``--machine``."""
    changed = ("pulse.", *(path for path, _ in suggestion.tried.values))
    kept = [text for text in args.overrides if not text.strip().startswith(changed)]
    return argparse.Namespace(**{**vars(args), "overrides": kept, "machine": list(args.machine)})
