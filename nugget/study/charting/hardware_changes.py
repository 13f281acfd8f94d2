"""Where a setup has no window: which changes to the bench would open one, found by trying them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from nugget.errors import InputError
from nugget.setup import Setup
from nugget.study.durations.edges import Growth
from nugget.study.durations.window import Window, window_of
from nugget.study.inputs.variation import Axis, strength_path, thickness_path

SLOT, FACE, SOURCE = "a slot between the tips", "a smaller tip face", "a stronger source and a shorter pulse"
LESS, MORE, DRESSED, THINNER = "less force", "more force", "a freshly dressed tip", "thinner strip"
TIPS, STRIP = "tips of another metal", "strip of another metal"
TOGETHER = "slot, smaller face and stronger source at once"
SETTING, HANDWORK, TIP_COST, STRIP_COST, SOURCE_COST = range(5)
"""What a change costs its user, in this order: nothing, some minutes, new tips, new strip, a new source."""
COST_WORDS = ("free", "some minutes", "new tips", "new strip", "another source")
SHUNT = "strip.shunt_fraction"
"""What a slot leaves of the strip's own path; follows from the outline where that is stated."""
TIP_METALS = ("cucrzr", "molybdenum", "tungsten")
"""A tip that conducts, and two that make heat themselves and do not braze to copper; common practice."""
STRIP_METALS = ("nickel-200", "nickel-plated-steel")
"""What welds to steel and is sold for packs; common practice."""


@dataclass(frozen=True)
class Change:
    """One change to a setup.

    Attributes
    ----------
    what : str
        In words, such as ``"a smaller tip face"``.
    detail : str
        The new value and the one it replaces.
    values : dict of str to float or str
        New value [SI] or name by field.
    setup : Setup
    cost : int
        From `SETTING` to `SOURCE_COST`.
    """

    what: str
    detail: str
    values: dict[str, float | str]
    setup: Setup
    cost: int


@dataclass(frozen=True)
class Tried:
    """A change and the window that the model finds with it as set up."""

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
            return f"{start}: {self.largest_m * 1e3:.2f} of {self.target_m * 1e3:.2f} mm fused at most"
        return (
            f"{start}: {limit} at {w.until_s * 1e3:.3g} ms, minimum weld diameter at {w.from_s * 1e3:.3g} ms"
        )


def changes(setup: Setup) -> list[Change]:
    """Return the changes worth trying, the cheapest first, each in a moderate and in a strong form.

    A change that the setup cannot take, such as a slot with opposed tips, is left out.
    """
    shunted = setup.arrangement in ("series along", "series across")
    slot = (0.3, 0.0) if shunted else ()
    plans = [
        (LESS, SETTING, "electrode.force", (0.7, 0.5)),
        (MORE, SETTING, "electrode.force", (1.5, 2.5)),
        (DRESSED, HANDWORK, "electrode.worn_flat", (0.25,)),
        (SLOT, HANDWORK, SHUNT, slot),
        (FACE, HANDWORK, "electrode.face_diameter", (0.8, 0.6)),
        (THINNER, STRIP_COST, thickness_path(setup), (0.75, 0.5)),
        (SOURCE, SOURCE_COST, strength_path(setup), (1.25, 1.6)),
    ]
    found = [_scaled(setup, what, cost, {path: factor}) for what, cost, path, few in plans for factor in few]
    found += [*_tips(setup), *_strips(setup)]
    strongest = {path: few[-1] for what, _, path, few in plans if few and what in (SLOT, FACE, SOURCE)}
    found.append(_scaled(setup, TOGETHER, SOURCE_COST, strongest))
    return sorted((change for change in found if change is not None), key=lambda change: change.cost)


def _scaled(setup: Setup, what: str, cost: int, factors: Mapping[str, float]) -> Change | None:
    """Multiply fields of `setup`; None where one of them is not there, or the result cannot be."""
    fields = setup.fields
    values: dict[str, float | str] = {}
    details = []
    for path, factor in factors.items():
        now = setup.shunt_fraction if path == SHUNT else setup.get(path)
        if path not in fields or now is None or now == 0.0:
            return None
        value = float(f"{now * factor:.3g}")
        values[path] = value
        axis = Axis(fields[path], (), now)
        name = "" if axis.unit else f"{axis.title} "
        details.append(f"{name}{axis.text(value)} instead of {axis.text(now)}")
    return _changed(setup, what, cost, values, ", ".join(details))


def _tips(setup: Setup) -> Iterator[Change | None]:
    own = setup.electrode.material.name
    for name in TIP_METALS:
        if name != own:
            yield _changed(setup, TIPS, TIP_COST, {"electrode.material": name}, f"{name} instead of {own}")


def _strips(setup: Setup) -> Iterator[Change | None]:
    own = setup.file.strip.material or "layers"
    whole_m = sum(layer.thickness_m for layer in setup.strip)
    for name in STRIP_METALS:
        if name != own:
            values: dict[str, float | str] = {"strip.material": name, "strip.thickness": whole_m}
            yield _changed(setup, STRIP, STRIP_COST, values, f"{name} instead of {own}")


def _changed(
    setup: Setup, what: str, cost: int, values: dict[str, float | str], detail: str
) -> Change | None:
    fields = setup.fields
    written = {
        path: value if isinstance(value, str) or path not in fields else fields[path].exact(value)
        for path, value in values.items()
    }
    try:
        return Change(what, detail, values, setup.with_(written), cost)
    except InputError:
        return None


def judge_changes(tried: Sequence[Change], growths: Sequence[Growth]) -> list[Tried]:
    """Return what each change does: the weakest form that opens a window, or else the strongest.

    Parameters
    ----------
    tried : sequence of Change
        As `changes` returns them, the moderate form of each first.
    growths : sequence of Growth
        Of their setups, as set up.

    Returns
    -------
    list of Tried
        Those that open a window first, the cheapest of them first.
    """
    best: dict[str, Tried] = {}
    for change, growth in zip(tried, growths, strict=True):
        trial = Tried(
            change,
            window_of(growth),
            max(growth.fused_m, default=0.0),
            growth.edge("minimum_diameter").threshold,
        )
        kept = best.get(change.what)
        if kept is None or not kept.window.open:
            best[change.what] = trial
    return sorted(best.values(), key=lambda trial: (not trial.window.open, trial.change.cost))
