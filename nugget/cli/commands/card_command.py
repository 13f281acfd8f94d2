"""``nugget card``: one page for the wall, for one machine and one strip."""

from __future__ import annotations

import argparse
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING

from nugget.cli.options import (
    add_setup_options,
    add_tolerance_option,
    check_folder,
    check_least,
    chosen_setup,
    origin_of,
    place,
)
from nugget.cli.text_tables import WIDTH

if TYPE_CHECKING:
    from nugget.setup import Setup

USUAL_REST_S = 2.0
"""Rest that the row of spots is worked out with; the shortest one does not depend on it."""


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``card`` is and takes."""
    parser.description = (
        "Make the statement of `nugget pulse` about this setup and, where it is 'in window',"
        " about longer and shorter pulses, and write a bench card for this machine and strip as HTML and PDF:"
        " its range holds durations whose own statement is 'in window'. Where the setup's own pulse is"
        " anything else, the card says that there is no safe setting, why, and what would settle it."
    )
    parser.epilog = "example: nugget card mine.toml --spots 6 --out wall"
    add_setup_options(parser)
    parser.add_argument("--spots", type=int, metavar="N", help="spots on one cell, to work out the rest")
    parser.add_argument("--out", type=Path, metavar="DIR", help="write card.html and card.pdf into DIR")
    parser.add_argument("--workers", type=int, metavar="N", help="processes (default: one for each core)")
    add_tolerance_option(parser)
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Compute, print and write; return the exit code."""
    from nugget.cli.card_files import write_card
    from nugget.cli.in_force import in_force
    from nugget.cli.outputs import Outputs
    from nugget.cli.workers import progress, with_workers
    from nugget.pages.bench_card import bench_card
    from nugget.study.inputs.uncertain import inputs_of
    from nugget.study.statement.safe_range import safe_range
    from nugget.study.statement.statement import WELDS

    setup = chosen_setup(args)
    inputs = inputs_of(setup, args.tolerance)
    check_least("--workers", args.workers, 1)
    check_least("--spots", args.spots, 2)
    folder, start = place(args)
    check_folder(folder)
    total = WELDS[0]
    with progress("Marching", total) as done:
        found = with_workers(
            lambda executor: safe_range(setup, inputs, executor, None, done), total, args.workers
        )
    card = bench_card(found, _rest(args, setup), in_force(args, "card"), in_force(args, "calibrate"))
    print(f"{setup.title}\n{card.headline}")
    for line in card.below:
        print(textwrap.fill(line, WIDTH))
    for label, value in card.rows if card.safe else []:
        print(f"  {label}: {value}")
    outputs = Outputs(folder, start)
    write_card(outputs, card, origin_of(args))
    outputs.say()
    return 0


def _rest(args: argparse.Namespace, setup: Setup) -> str:
    """The shortest rest between so many spots on one cell, in words."""
    if args.spots is None:
        return ""
    from nugget.cli.followup_text import welds_of
    from nugget.followup.repeated import repeat
    from nugget.merit import amounts
    from nugget.outcome.weld import run_weld

    figures, welds = run_weld(setup).figures, welds_of(args.spots, setup)
    found = repeat(setup, figures, welds, USUAL_REST_S, lambda one: run_weld(one).figures)
    if not found.bounds:
        return ""
    if found.shortest_rest_s is None:
        return f"no rest is long enough for {args.spots} spots on one cell"
    return f"at least {amounts.time(found.shortest_rest_s)}, for {args.spots} spots on one cell"
