"""``nugget inputs``: what nobody knows exactly, by how much and why, and what would tell more."""

from __future__ import annotations

import argparse
import json

from nugget.cli.options import add_setup_options, add_tolerance_option, chosen_setup


def fill(parser: argparse.ArgumentParser) -> None:
    """Say what ``inputs`` is and takes."""
    parser.description = (
        "List what nobody knows exactly about a weld: by how much each input may be off, where"
        " that number comes from, and which measurement would tell more. Every verdict is a statement"
        " about these."
    )
    parser.epilog = "example: nugget inputs mine.toml --tolerance 'electrode.force=5 %'"
    add_setup_options(parser)
    add_tolerance_option(parser)
    parser.add_argument("--json", action="store_true", help="print one JSON object and nothing else")
    parser.set_defaults(run=run)


def run(args: argparse.Namespace) -> int:
    """Print the list; return the exit code."""
    from nugget.study.inputs.uncertain import inputs_of

    inputs = inputs_of(chosen_setup(args), args.tolerance)
    if args.json:
        print(json.dumps({"inputs": inputs.record()}, indent=2, allow_nan=False))
    else:
        from nugget.cli.inputs_text import print_inputs

        print_inputs(inputs)
    return 0
