"""What ``nugget inputs`` prints, and the same list under a scatter."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from nugget.cli.text_tables import WIDTH, table
from nugget.study.inputs.uncertain import Inputs, measurements


def print_inputs(inputs: Inputs) -> None:
    """Print the uncertain inputs to stdout."""
    print(inputs.setup.title)
    for line in [*input_lines(inputs), "", *_measuring(inputs)]:
        print(line)


def input_lines(inputs: Inputs) -> Iterator[str]:
    """A line for each input, and its reason under it."""
    rows = [["Uncertain, 95 % within", "", ""]]
    rows += [[f"  {one.path}", one.axis.text(one.own), one.text] for one in inputs.items]
    reasons = ["", *(one.source for one in inputs.items)]
    for line, reason in zip(table(rows), reasons, strict=True):
        yield line
        if reason:
            yield textwrap.fill(reason, WIDTH, initial_indent=" " * 6, subsequent_indent=" " * 6)
    if inputs.either_spot:
        yield "  each weld is one of the two spots of its pair, of either polarity"


def _measuring(inputs: Inputs) -> Iterator[str]:
    known = measurements()
    rows = [["Measurement that narrows it", "minutes", "then within", "of"]]
    for key in sorted(
        {one.measure for one in inputs.items if one.measure}, key=lambda k: known[k]["minutes"]
    ):
        of = ", ".join(one.title for one in inputs.items if one.measure == key)
        rows.append([f"  {known[key]['title']}", str(known[key]["minutes"]), known[key]["after"], of])
    yield from table(rows)
