"""The bench card: one page for the wall that says how this machine welds this strip, and when to stop."""

from __future__ import annotations

from dataclasses import dataclass

from nugget.merit import amounts
from nugget.outcome import report_rows
from nugget.pages.render import Origin, input_hash, render
from nugget.setup import Setup
from nugget.study.statement import judged_rows
from nugget.study.statement.safe_range import SafeRange

KIND = "Bench card"
KEPT = {
    "harm": "no harm to the cell",
    "damage": "no damage to joint, strip or tip",
    "hardware": "no limit of the hardware exceeded",
}
"""What a severity of limits comes to when they hold."""
GOOD = (
    "A hand peel tears a button of at least {target} out of the strip at every spot.",
    "Prints are round, alike, and shallower than a quarter of the strip; heat tint stays a narrow ring.",
    "No spatter, no hole, and the tips come off by themselves.",
    "An empty can cut open shows no melt on its inner face.",
)
BAD = (
    "The strip lifts by hand: too cold, or force and tips are not as on this card.",
    "Spatter, a hole, a deep print, or strip that clings to a tip: too hot, or the tips are worn.",
    "A dent, a bulge or melt on the inner face of the can: never weld a cell so.",
)
STOP = (
    "The cell becomes warm to the hand, swells, hisses, smells or leaks.",
    "A tip sticks, pits, or its face differs from {face}.",
    "Two welds in a row look different; strip, lot of cells, leads or source have changed.",
    "The source's voltage at rest is not what it was when this card was made.",
)
"""What a bench looks for. Common practice, no source; the button and the print are limits of the setup."""


@dataclass(frozen=True)
class BenchCard:
    """What the card says.

    Attributes
    ----------
    setup : Setup
        With the pulse that is to be set.
    safe : bool
        Whether the statement of the setup's own pulse is *in window*.
    setting, span : str
        The duration to set, and from where to where it may be; empty when nothing is safe.
    sure : str
        How sure the statement is, in words.
    why : str
        What lies beyond the range, or what the statement says instead.
    step : str
        What to do when nothing is safe; empty otherwise.
    rest : str
        Between two spots of a cell.
    """

    setup: Setup
    safe: bool
    setting: str
    span: str
    sure: str
    why: str
    step: str
    rest: str

    @property
    def headline(self) -> str:
        """The answer in words."""
        return f"Set {self.setting}" if self.safe else "NO SAFE SETTING: do not weld cells"

    @property
    def below(self) -> list[str]:
        """What stands below the headline."""
        if self.safe:
            return [f"Safe range {self.span}: {self.sure}. {self.why}."]
        return [f"{self.why}.", f"What to do: {self.step}."]

    @property
    def rows(self) -> list[tuple[str, str]]:
        """Everything to be set, in the words of the report."""
        rows = dict(report_rows.setting_rows(self.setup))
        found = [("Safe range", self.span)] if self.safe else []
        kept = ("Tips", "Hold time", "Strip", "Welded to", "Arrangement", "Source", "In series")
        pulses = [("Pulse train", rows["Pulse"])] if self.safe and len(self.setup.train) > 1 else []
        found += [*pulses, ("Force", f"{amounts.newton(self.setup.force_N)} on each tip")]
        return [*found, *((key, rows[key]) for key in kept), ("Rest between spots", self.rest)]

    @property
    def lists(self) -> list[tuple[str, list[str]]]:
        """What a good weld looks like, what a bad one, and when to stop."""
        facts = {
            "target": amounts.length(self.setup.joint.minimum_diameter_m),
            "face": f"{self.setup.electrode.face_diameter_m * 1e3:.3g} mm {self.setup.electrode.tip_shape}",
        }
        named = (("A good weld", GOOD), ("Not a good weld", BAD), ("Stop at once when", STOP))
        return [(title, [line.format(**facts) for line in lines]) for title, lines in named]


def bench_card(
    found: SafeRange, rest: str = "", command: str = "nugget card", calibrate: str = "nugget calibrate"
) -> BenchCard:
    """Return the card of a setup: its own last pulse is what the card sets, if that is safe.

    Parameters
    ----------
    found : SafeRange
    rest : str
        Between two spots of a cell, in words; said to be unknown by default.
    command, calibrate : str
        The commands with all options in force, for what to do next.
    """
    setup = found.setup
    rest = rest or "not worked out: until the cell's end is at room temperature again"
    last = amounts.time(setup.train[-1].duration_s)
    if found.from_s is None or found.until_s is None:
        why = f"The statement for {last} is '{found.statement.verdict}': {found.statement.reason}"
        step = judged_rows.next_step(found.statement, command, calibrate)
        return BenchCard(setup, False, "", "", "", why, step, rest)
    ends = amounts.time(found.from_s), amounts.time(found.until_s)
    span = f"{ends[0]} to {ends[1]}" if found.from_s < found.until_s else f"{ends[0]} alone"
    beyond = [f"{where}: {said}" for where, said in (("Below", found.below), ("above", found.above)) if said]
    why = "; ".join(beyond) or "Nothing beyond it was looked at"
    return BenchCard(setup, True, last, span, _sure(setup), why[0].upper() + why[1:], "", rest)


def _sure(setup: Setup) -> str:
    """How sure a statement has to be for *in window*, in words."""
    asked = setup.file.uncertainty
    kept = ", ".join(f"{words} in {100.0 * getattr(asked, key):.4g} %" for key, words in KEPT.items())
    made = f"the joint is made in at least {100.0 * asked.joint:.4g} % of welds"
    return f"{made}, {kept}; all unknown inputs varied"


def card_page(card: BenchCard, origin: Origin | None = None) -> str:
    """Return the card as one page of HTML, which prints to one side of A4."""
    return render(
        "card.html",
        kind=KIND,
        title=card.setup.title,
        card=card,
        origin=origin or Origin(),
        hash=input_hash(card.setup),
    )
