"""The bench card: one page for the wall that says how this machine welds this strip, and when to stop."""

from __future__ import annotations

from dataclasses import dataclass

from nugget.merit import amounts
from nugget.outcome import lab_sheet
from nugget.pages.render import Origin, input_hash, render
from nugget.setup import Setup
from nugget.study.charting.duration_chart import BAND
from nugget.study.durations.window import Window

KIND = "Bench card"
BAND_WORDS = f"at every contact radius x {BAND[0]:g} to {BAND[-1]:g} and at both spots of a pair"
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
        Whether the pulse of the setup lies in a range that keeps every limit over all contact radii.
    knob, span : str
        The duration to set, and from where to where it may be; empty when nothing is safe.
    why : str
        What ends the range, or why there is none.
    rest : str
        Between two spots of a cell.
    """

    setup: Setup
    safe: bool
    knob: str
    span: str
    why: str
    rest: str

    @property
    def headline(self) -> str:
        """The answer in words."""
        if not self.safe:
            return "NO SAFE SETTING: do not weld cells"
        return f"Set {self.knob}"

    @property
    def rows(self) -> list[tuple[str, str]]:
        """Everything to be set, in the words of the lab sheet."""
        rows = dict(lab_sheet.setting_rows(self.setup))
        found = [("Safe range", f"{self.span} {BAND_WORDS}; then {self.why}")] if self.safe else []
        kept = ("Tips", "Tip lifts", "Strip", "Welded to", "Arrangement", "Source", "In series")
        pulses = [("Pulse train", rows["Pulse"])] if self.safe and len(self.setup.train) > 1 else []
        found += [*pulses, ("Force", f"{amounts.newton(self.setup.force_N)} on each tip")]
        return [*found, *((key, rows[key]) for key in kept), ("Rest between spots", self.rest)]

    @property
    def lists(self) -> list[tuple[str, list[str]]]:
        """What a good weld looks like, what a bad one, and when to stop."""
        facts = {
            "target": amounts.length(self.setup.joint.target_diameter_m),
            "face": f"{self.setup.electrode.face_diameter_m * 1e3:.3g} mm {self.setup.electrode.tip_shape}",
        }
        named = (("A good weld", GOOD), ("Not a good weld", BAD), ("Stop at once when", STOP))
        return [(title, [line.format(**facts) for line in lines]) for title, lines in named]


def bench_card(setup: Setup, window: Window, rest: str = "") -> BenchCard:
    """Return the card of a setup.

    Parameters
    ----------
    setup : Setup
        Its own last pulse is what the card sets, if that is safe.
    window : Window
        That every contact radius, and both spots of a pair, share; no other one is safe.
    rest : str
        Between two spots of a cell, in words; said to be unknown by default.
    """
    rest = rest or "not worked out: until the cell's end is at room temperature again"
    last_s, ends = setup.train[-1].duration_s, window.binding.title.lower() if window.binding else window.why
    if not window.open or window.from_s is None:
        known = "it is not known whether any" if window.unknown else "no"
        why = f"{known} duration reaches the target and keeps every limit {BAND_WORDS}: {ends}"
        return BenchCard(setup, False, "", "", why, rest)
    span = f"{amounts.time(window.from_s)} to {amounts.time(window.until_s)}"
    if not window.from_s <= last_s <= window.until_s:
        why = f"the pulse of {amounts.time(last_s)} lies outside {span}, which is safe {BAND_WORDS}"
        return BenchCard(setup, False, "", "", why, rest)
    return BenchCard(setup, True, amounts.time(last_s), span, ends, rest)


def card_page(card: BenchCard, origin: Origin | None = None) -> str:
    """Return the card as one page of HTML, which prints to one side of A4."""
    return render(
        "card.html",
        kind=KIND,
        title=card.setup.title,
        card=card,
        band=BAND_WORDS,
        origin=origin or Origin(),
        hash=input_hash(card.setup),
    )
