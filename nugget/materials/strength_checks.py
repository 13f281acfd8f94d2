"""Can the strength of a material be trusted? Verdicts for `nugget material check`."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from nugget.constants import ROOM_K
from nugget.materials.check_findings import Verdict
from nugget.materials.material import Material
from nugget.materials.pairs import family

RATES_1_S = np.array([1e-3, 1.0, 10.0, 100.0, 1000.0, 1e4])
PULSE_1_S = 100.0
"""Rate of strain of a contact that grows within milliseconds."""
RISE = 1.1
"""Growth of hardness with temperature from which it is remarked; the phases of steel differ by more."""
AT_MELTING = 0.4
"""Largest share of the hardness at room temperature that metal keeps at its solidus at the rate of a
pulse: 0.03 to 0.3 by the laws of ten metals; hardly worked metal keeps the most (assumption)."""
AT_08 = (0.03, 0.75)
"""The same at 0.8 of the melting point."""
SEEBECK_V_K = 8e-5
"""Largest Seebeck coefficient of a metal: that of Cu-Ni 55/45 reaches 66 uV/K."""


def strength_verdicts(material: Material) -> Iterator[Verdict]:
    """Say what there is to say about hardness at rate, Seebeck coefficient and family of metals."""
    if material.hardness is not None and material.solidus_K is not None:
        yield from _with_rate(material, material.solidus_K)
        yield from _with_temperature(material, material.solidus_K)
    if material.seebeck is not None:
        largest = float(np.abs(material.seebeck.value).max())
        text = f"at most {largest * 1e6:.3g} uV/K"
        if largest > SEEBECK_V_K:
            yield Verdict("Seebeck coefficient", "fail", f"{text}: metals stay below 80; is the unit right?")
        else:
            yield Verdict("Seebeck coefficient", "ok", text)
    elif material.family == "metal":
        yield Verdict("gaps", "warning", "no Seebeck coefficient: its thermoelectric heat is left out")
    if material.family == "metal":
        found = family(material)
        text = f"{found}, by its composition"
        if found == "unknown":
            text = "unknown: give the composition; without a family both sides of a joint must melt"
        yield Verdict("family of metals", "warning" if found == "unknown" else "ok", text)


def _with_rate(material: Material, solidus_K: float) -> Iterator[Verdict]:
    T = np.linspace(ROOM_K, solidus_K, 200)[:, None]
    hardness = material.hardness_at(T, RATES_1_S)
    sound = bool(np.all(np.isfinite(hardness)) and np.all(hardness > 0.0))
    grows = sound and bool(np.all(np.diff(hardness, axis=1) >= 0.0))
    hot = material.strength.hot
    if hot is not None and material.hardness is not None:
        T_hot = T[0.7 * solidus_K <= T]
        below = 3.0 * hot.stress_Pa(T_hot, np.asarray(PULSE_1_S)) < material.hardness(T_hot)
        if below.any():
            text = f"hot flow stress at {PULSE_1_S:g} 1/s is below the slow table at {T_hot[below][0]:.4g} K"
            yield Verdict("hardness at rate", "warning", f"{text}, which then holds: are its units right?")
    raised = hardness[:, 3] / hardness[:, 0]
    text = f"grows from slow load to {PULSE_1_S:g} 1/s by up to {raised.max():.3g}"
    if material.strength.estimated:
        text += ", by the estimate for metals without hot data"
    if not grows:
        text = "falls with the rate, or is no number, somewhere between room temperature and the solidus"
    yield Verdict("hardness at rate", "ok" if grows else "fail", text)


def _with_temperature(material: Material, solidus_K: float) -> Iterator[Verdict]:
    T = np.linspace(ROOM_K, solidus_K, 200)
    hardness = material.hardness_at(T, PULSE_1_S)
    climb = hardness / np.minimum.accumulate(hardness)
    if climb.max() > RISE:
        at = T[int(np.argmax(climb))]
        text = f"at {PULSE_1_S:g} 1/s it rises by a factor of {climb.max():.3g} up to {at:.4g} K"
        yield Verdict("hardness at rate", "warning", f"{text}: right where a metal changes its phase")
    room, hot, last = material.hardness_at([ROOM_K, 0.8 * (material.melting_K or 0.0), solidus_K], PULSE_1_S)
    text = f"at {PULSE_1_S:g} 1/s {room / 1e6:.4g} MPa cold, {hot / 1e6:.4g} at 0.8 of melting,"
    text += f" {last / 1e6:.4g} at the solidus"
    if AT_08[0] <= hot / room <= AT_08[1] and last / room <= AT_MELTING:
        yield Verdict("hardness at rate", "ok", text)
    else:
        text += f"; metals keep {AT_08[0]:g} to {AT_08[1]:g} and at most {AT_MELTING:g} of the cold value"
        yield Verdict("hardness at rate", "warning", text)
