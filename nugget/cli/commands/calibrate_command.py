"""``nugget calibrate``: fit the uncertain inputs to trial welds and scope traces of one machine."""

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
    from nugget.study.calibration.bench import Bench
    from nugget.study.calibration.condition import Answer
    from nugget.study.calibration.fit import Calibration
    from nugget.study.calibration.observation import Judging
    from nugget.study.tasks import Finished


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``calibrate`` is and takes."""
    parser.description = (
        "Estimate source, lead and contact inputs from trial welds and oscilloscope traces, and"
        " write a file that every command takes as --machine. Inputs that the data do not identify are"
        " listed, with the most informative next trial."
    )
    parser.epilog = "example: nugget calibrate mine.toml trials.csv --trace scope.csv"
    add_setup_options(parser)
    parser.add_argument(
        "trials",
        nargs="?",
        type=Path,
        metavar="TRIALS.csv",
        help="trial welds, one row each; may be left out where there is a --trace",
    )
    parser.add_argument(
        "--trace",
        type=Path,
        action="append",
        default=[],
        metavar="SCOPE.csv",
        help="current and tip voltage against time of a weld with the setup as it is; may be repeated",
    )
    parser.add_argument(
        "--fit",
        action="append",
        default=[],
        metavar="FIELD",
        help="fit this field, such as contact.hardness_factor, and hold all others; may be repeated"
        " (default: all that `nugget inputs` lists)",
    )
    add_tolerance_option(parser)
    parser.add_argument(
        "--weld-spread",
        metavar="SHARE",
        help="weld-to-weld spread of the joint's diameter, of the minimum weld diameter (default: 0.12)",
    )
    parser.add_argument(
        "--hand-peel-share",
        metavar="SHARE",
        help="share of the minimum weld diameter from which a joint survives a hand peel (default: 0.5)",
    )
    add_folder_options(parser, "machine file, JSON and figure")
    add_marching_options(parser, cluster=False)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Read, fit, print and write; return the exit code."""
    from nugget.study.calibration.marcher import kept

    _sort_out(args)
    setup = chosen_setup(args)
    bench = _bench(args, setup)
    check_least("--workers", args.workers, 1)
    folder, start = place(args)
    check_folder(folder)
    finished = kept(folder / f"{start}calibrate.finished.jsonl", args.resume)
    with keeping(args, finished):
        calibration = _compute(args, bench, finished)
        _answer(args, calibration, folder, start)
    return 0 if calibration.state == "fitted" else 1


def _bench(args: argparse.Namespace, setup: Setup) -> Bench:
    from nugget.study.calibration.bench import gather
    from nugget.study.calibration.trial_table import read_trials

    trials = read_trials(args.trials, setup) if args.trials is not None else ()
    folder = args.trials.parent if args.trials is not None else Path()
    return gather(trials, setup, folder, args.trace, _judging(args))


def _sort_out(args: argparse.Namespace) -> None:
    """Tell a lone table of trials from a lone setup file by its name.

    Raises
    ------
    InputError
        When there is neither a table nor a trace.
    """
    from nugget.errors import InputError

    if args.trials is None and args.setup is not None and not str(args.setup).endswith(".toml"):
        args.setup, args.trials = None, Path(args.setup)
    if args.trials is None and not args.trace:
        raise InputError("TRIALS.csv", "nothing", "a table of trials, or a --trace of one weld")


def _judging(args: argparse.Namespace) -> Judging:
    from nugget.errors import InputError
    from nugget.study.calibration.observation import Judging

    given = {
        "spread_share": ("--weld-spread", args.weld_spread),
        "holds_share": ("--hand-peel-share", args.hand_peel_share),
    }
    values = {}
    for name, (option, text) in given.items():
        if text is None:
            continue
        try:
            value = float(text)
        except ValueError:
            value = 0.0
        if not 0.01 <= value <= 0.95:
            raise InputError(option, text, "a share between 0.01 and 0.95")
        values[name] = value
    return Judging(**values)


def _compute(args: argparse.Namespace, bench: Bench, finished: Finished[Answer]) -> Calibration:
    from nugget.cli.workers import progress, with_workers
    from nugget.study.calibration.fit import calibrate

    with progress("Marching", 1) as done:

        def count(finished: int, asked: int) -> None:
            done(str(finished), asked)

        def job(executor: Executor | None) -> Calibration:
            return calibrate(bench, args.tolerance, args.fit, executor, finished, count)

        return with_workers(job, 64, args.workers)


def _answer(args: argparse.Namespace, calibration: Calibration, folder: Path, start: str) -> None:
    """Print and write; only a fit that holds makes a machine file."""
    from nugget.cli.outputs import Outputs
    from nugget.study.calibration.fit_record import calibration_record, machine_toml

    text = json.dumps(calibration_record(calibration), indent=2, allow_nan=False)
    if args.json:
        print(text)
    else:
        from nugget.cli.calibrate_text import print_calibration

        print_calibration(calibration)
    outputs = Outputs(folder, start)
    if args.out is not None:
        outputs.text("calibration.json", text + "\n")
    if calibration.state == "fitted":
        outputs.text(
            "machine.toml",
            machine_toml(calibration, args.trials.name if args.trials is not None else args.trace[0].name),
        )
        if not args.no_plots and (args.out is not None or not args.json):
            from nugget.plot.fit_figure import calibration_figure

            outputs.figure("calibration.png", calibration_figure(calibration))
    if not args.json:
        outputs.say()
