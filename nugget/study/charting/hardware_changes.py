"""Where a setup has no window: which changes would open one, found by trying them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from nugget.errors import InputError
from nugget.setup import Setup
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import Window, window_of
from nugget.study.inputs.variation import Axis, strength_path, thickness_path

SLOT, FACE, SOURCE = "a slot between the tips", "a smaller tip face", "a stronger source and a shorter pulse"
SHUNT = "strip.shunt_fraction"
"""What a slot leaves of the strip's own path; follows from the outline where that is stated."""
TOGETHER = "slot, smaller face and stronger source at once"


@dataclass(frozen=True)
class Change:
    """One change to a setup.

    Attributes
    ----------
    what : str
        In words, such as ``"smaller tip face"``.
    detail : str
        The new value and the one it replaces.
    values : dict of str to float
        New value [SI] by field.
    setup : Setup
    """

    what: str
    detail: str
    values: dict[str, float]
    setup: Setup


@dataclass(frozen=True)
class Tried:
    """A change and the window that the model finds with it at nominal contact."""

    change: Change
    window: Window
    largest_m: float
    target_m: float

    @property
    def sentence(self) -> str:
        """What the change does, in words."""
        start = f"{self.change.what}, {self.change.detail}"
        w = self.window
        if w.open and w.from_s is not None:
            return f"{start}: {w.from_s * 1e3:.3g} to {w.until_s * 1e3:.3g} ms"
        limit = w.binding.title.lower() if w.binding is not None else w.why
        if w.from_s is None:
            return f"{start}: {self.largest_m * 1e3:.3f} of {self.target_m * 1e3:.3f} mm fused at most"
        return f"{start}: {limit} at {w.until_s * 1e3:.3g} ms, target at {w.from_s * 1e3:.3g} ms"


def changes(setup: Setup) -> list[Change]:
    """Return the changes worth trying, each in a moderate and in a strong form.

    A change that the setup cannot take, such as a slot with opposed tips, is left out.
    """
    shunted = setup.arrangement in ("series along", "series across")
    plans = [
        (SLOT, SHUNT, (0.3, 0.0) if shunted else ()),
        (FACE, "electrode.face_diameter", (0.8, 0.6)),
        ("more force", "electrode.force", (1.5, 2.5)),
        (SOURCE, strength_path(setup), (1.25, 1.6)),
        ("thinner strip", thickness_path(setup), (0.75, 0.5)),
    ]
    found = [_change(setup, what, {path: factor}) for what, path, factors in plans for factor in factors]
    strongest = {
        path: factors[-1] for what, path, factors in plans if factors and what in (SLOT, FACE, SOURCE)
    }
    found.append(_change(setup, TOGETHER, strongest))
    return [change for change in found if change is not None]


def _change(setup: Setup, what: str, factors: dict[str, float]) -> Change | None:
    """Multiply fields of `setup`; None where one of them is not there, or the result cannot be."""
    fields, values, details = setup.fields, {}, []
    for path, factor in factors.items():
        now = setup.shunt_fraction if path == SHUNT else setup.get(path)
        if path not in fields or now is None or now == 0.0:
            return None
        values[path] = float(f"{now * factor:.3g}")
        axis = Axis(fields[path], (), now)
        name = "" if axis.unit else f"{axis.title} "
        details.append(f"{name}{axis.text(values[path])} instead of {axis.text(now)}")
    try:
        changed = setup.with_({path: fields[path].exact(value) for path, value in values.items()})
    except InputError:
        return None
    return Change(what, ", ".join(details), values, changed)


def judge_changes(tried: Sequence[Change], growths: Sequence[Growth]) -> list[Tried]:
    """Return what each change does: the weakest form that opens a window, or else the strongest.

    Parameters
    ----------
    tried : sequence of Change
        As `changes` returns them, the moderate form of each first.
    growths : sequence of Growth
        Of their setups, at nominal contact.
    """
    best: dict[str, Tried] = {}
    for change, growth in zip(tried, growths, strict=True):
        trial = Tried(
            change, window_of(growth), max(growth.fused_m, default=0.0), growth.edge("target").threshold
        )
        kept = best.get(change.what)
        if kept is None or not kept.window.open:
            best[change.what] = trial
    return sorted(best.values(), key=lambda trial: not trial.window.open)
