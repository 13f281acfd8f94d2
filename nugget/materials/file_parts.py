"""The parts of a material file as curves, numbers and citations, in SI units."""

from __future__ import annotations

import math
import typing
from collections.abc import Sequence

import numpy as np

from nugget.errors import InputError
from nugget.materials.curve import Citation, Confidence, Curve, Stretch
from nugget.materials.document import Scalar, Sourced, Table
from nugget.materials.measures import to_si

_WORST_LAST: tuple[Confidence, ...] = typing.get_args(Confidence)

LARGEST = 1e15
"""No property of matter comes near it in SI units; products of larger numbers leave the range of a float."""


def cite(parts: Sequence[Sourced]) -> Citation:
    """One citation for a table in parts: all works, the weakest confidence."""
    works = dict.fromkeys(part.source for part in parts)
    notes = dict.fromkeys(part.note for part in parts if part.note)
    weakest = max((part.confidence for part in parts), key=_WORST_LAST.index)
    return Citation("; ".join(works), weakest, "; ".join(notes))


def to_curve(
    quantity: str,
    parts: Sequence[Table],
    where: str,
    problems: list[InputError],
    si: str = "",
    positive: bool = True,
) -> Curve | None:
    """Join the parts of one table in SI units, or note what is wrong and return None.

    Parameters
    ----------
    quantity : str
        Key of the table, for errors.
    parts : sequence of Table
        In order of temperature.
    where : str
        The file, for errors.
    problems : list of InputError
        What is wrong is added here.
    si : str
        Quantity that the unit must measure, when it is not called `quantity`.
    positive : bool
        Whether every value must be above zero.
    """
    if not parts:
        return None
    temperatures, values, stretches = [], [], []
    before = len(problems)
    last = -math.inf
    for i, part in enumerate(parts):
        key = f"{where}: {quantity}[{i + 1}]"
        rows = np.array(part.rows, dtype=np.float64)
        try:
            temperature = to_si(rows[:, 0], part.temperature, "temperature", f"{key}.temperature")
            value = to_si(rows[:, 1], part.unit, si or quantity, f"{key}.unit")
        except InputError as problem:
            problems.append(problem)
            continue
        start = last if i else float(temperature[0])
        for j, (t, v) in enumerate(zip(temperature, value, strict=True)):
            row = f"{key}.rows[{j + 1}]"
            if t <= 0.0:
                problems.append(InputError(row, part.rows[j][0], "a temperature above absolute zero"))
            elif t <= last:
                problems.append(
                    InputError(row, part.rows[j][0], "a temperature above that of the row before")
                )
            if positive and v <= 0.0:
                problems.append(InputError(row, part.rows[j][1], "a value above zero"))
            if abs(v) > LARGEST or t > LARGEST:
                problems.append(InputError(row, list(part.rows[j]), f"at most {LARGEST:g} in SI units"))
            last = float(t)
        temperatures.append(temperature)
        values.append(value)
        stretches.append(Stretch(start, last, cite([part])))
    if len(problems) > before:
        return None
    return Curve(np.concatenate(temperatures), np.concatenate(values), cite(parts), tuple(stretches))


def to_number(
    quantity: str, given: Scalar | None, where: str, problems: list[InputError], si: str = ""
) -> float | None:
    """One positive number in SI units, or None."""
    if given is None:
        return None
    try:
        value = float(to_si(given.value, given.unit, si or quantity, f"{where}: {quantity}.unit"))
    except InputError as problem:
        problems.append(problem)
        return None
    if not 0.0 < value <= LARGEST:
        wanted = "a value above zero" if value <= 0.0 else f"at most {LARGEST:g} in SI units"
        problems.append(InputError(f"{where}: {quantity}.value", given.value, wanted))
    return value
