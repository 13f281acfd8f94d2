"""Melt through the strip and what freezes to the tip: how far the standard grid and a finer one differ."""

from __future__ import annotations

from typing import Any

from validation.case import Check, Drawing, Outcome, at_most, reported
from validation.evidence.piece import Piece
from validation.evidence.plated import drawn
from validation.evidence.runs import Changes, Run, march_all
from validation.readers import markdown

COUNT, SEED = 48, 21
STRIPS = ("nickel-200", "nickel-plated-steel")
WIDTH, FACTOR = 1.2, 2.0
"""Strip thicknesses, and a factor: what ten of 48 setups that scattered most had been apart by."""
BROKEN = 1.0
"""Limit of both figures in `nugget/setup/data/limits.toml`."""
FROZEN = 0.1
"""Share of the tip force below which what freezes is not compared: nothing is decided there."""


def run(workers: int) -> Outcome:
    setups = [{**one, "strip.material": STRIPS[n % len(STRIPS)]} for n, one in enumerate(drawn(COUNT, SEED))]
    many: list[Changes] = [{**one, "numerics.refinement": finer} for finer in (1.0, 2.0) for one in setups]
    found = march_all(many, workers)
    pairs = list(zip(found[:COUNT], found[COUNT:], strict=True))
    drawing = Drawing("widths", "Width of the melt through the strip on both grids.", lambda: _draw(pairs))
    return Outcome((*_widths(pairs), *_frozen(pairs)), (drawing,), _table(pairs))


def _widths(pairs: list[tuple[Run, Run]]) -> list[Check]:
    widths = _read(pairs, "strip_through_ratio")
    apart = [abs(here - there) for here, there in widths]
    melted = sum(max(one) > 0.0 for one in widths)
    worst = max(range(len(apart)), key=apart.__getitem__)
    here, there = widths[worst]
    note = f"setup {worst + 1}: {here:.3f} and {there:.3f}; {melted} of {len(widths)} melt through"
    low = max((there - here for here, there in widths), default=0.0)
    return [
        at_most("width of melt through the strip, thicknesses apart at most", apart[worst], WIDTH, "", note),
        reported("the same, root mean square", (sum(a**2 for a in apart) / len(apart)) ** 0.5),
        reported("the same, by how much the standard grid reads it too low at most", max(low, 0.0)),
        *_sides("width of melt through the strip", widths),
    ]


def _frozen(pairs: list[tuple[Run, Run]]) -> list[Check]:
    frozen = _read(pairs, "tip_sticking_ratio")
    factors = [max(one) / max(min(one), FROZEN) if max(one) > FROZEN else 1.0 for one in frozen]
    worst = max(range(len(factors)), key=factors.__getitem__)
    here, there = frozen[worst]
    note = f"setup {worst + 1}: {here:.3f} and {there:.3f} of the tip force; below {FROZEN:g} counts as that"
    return [
        at_most("what freezes to the tip, factor apart at most", factors[worst], FACTOR, "", note),
        *_sides("what freezes to the tip", frozen),
    ]


def _sides(name: str, values: list[tuple[float, float]]) -> list[Check]:
    """How often the limit breaks on one grid and is kept on the other."""
    missed = sum(here <= BROKEN < there for here, there in values)
    feigned = sum(there <= BROKEN < here for here, there in values)
    both = sum(min(one) > BROKEN for one in values)
    return [
        reported(f"{name}: limit broken on the finer grid alone", missed, "", f"on both: {both}"),
        reported(f"{name}: limit broken on the standard grid alone", feigned),
    ]


def _read(pairs: list[tuple[Run, Run]], key: str) -> list[tuple[float, float]]:
    return [(float(here[key]), float(there[key])) for here, there in pairs]


def _table(pairs: list[tuple[Run, Run]]) -> str:
    head = ("setup", "strip", "molten through, thicknesses", "frozen to the tip, tip forces")
    keys = ("strip_through_ratio", "tip_sticking_ratio")
    body = [
        (str(n + 1), STRIPS[n % len(STRIPS)], *(f"{here[k]:.3f} and {there[k]:.3f}" for k in keys))
        for n, (here, there) in enumerate(pairs)
    ]
    return "Standard grid and half its spacing:\n\n" + markdown(head, body)


def _draw(pairs: list[tuple[Run, Run]]) -> Any:
    from validation.drawing import axes

    figure, ax = axes("width over thickness, standard grid", "width over thickness, half the spacing")
    widths = _read(pairs, "strip_through_ratio")
    ax.plot(*zip(*widths, strict=True), "o")
    ends = [0.0, max(map(max, widths))]
    ax.plot(ends, ends, "k-", lw=0.8)
    return figure


PIECE = Piece(
    name="strip_melt",
    title="Melt through the strip between grids",
    what=f"{COUNT} random setups, every other one of plated steel, else of nickel: standard grid and half "
    "its spacing. Melt through the strip lasts for a moment under a hot tip and is known less well than "
    f"joint, wall and winding: {WIDTH:g} strip thicknesses for its width, a factor of {FACTOR:g} for what "
    f"freezes to the tip, counted from {FROZEN:g} of the tip force up. Both decide damage to strip or tip "
    "only; how often the two grids decide it differently is told.",
    run=run,
)
