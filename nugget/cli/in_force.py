"""The next command for a user to type, with every option that is in force."""

from __future__ import annotations

import argparse
import shlex


def in_force(args: argparse.Namespace, command: str, tolerance: bool = True) -> str:
    """Return `command` on the same setup: file or preset, materials, machine files, overrides.

    Parameters
    ----------
    args : Namespace
        Of a command with the options of `nugget.cli.options.add_setup_options`.
    command : str
        Such as ``"pulse"``; ``"calibrate"`` gets the name of a table of trials.
    tolerance : bool
        Also how well inputs are known, where the command takes that.
    """
    words = ["nugget", command]
    if args.setup is not None:
        words.append(str(args.setup))
    if command == "calibrate":
        words.append("TRIALS.csv")
    words += ["--preset", args.preset] if args.preset is not None else []
    options = [("--materials", args.materials), ("--machine", args.machine), ("--set", args.overrides)]
    if tolerance and command != "calibrate":
        options.append(("--tolerance", getattr(args, "tolerance", [])))
    words += [word for option, values in options for value in values for word in (option, str(value))]
    return shlex.join(words)
