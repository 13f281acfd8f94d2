"""The strength of a material from its file: rates, hot flow, tempers, composition.

A metal whose file is silent about rates gets the stated estimates, marked so.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import groupby

import numpy as np

from nugget.constants import ROOM_K
from nugget.errors import InputError
from nugget.materials import strength
from nugget.materials.curve import Citation, Curve
from nugget.materials.document import Creep, HotWorking, MaterialFile, StressTable, Table
from nugget.materials.file_parts import cite, to_curve, to_number
from nugget.materials.measures import to_si
from nugget.materials.strength import CreepLaw, HotLaw, SinhLaw, Strength, StressRows
from nugget.materials.temper import Temper

_EXPONENT_RULE = Citation("exponent 0.01 of the rate, as metals have it below 0.4 of melting", "estimated")
_HOT_RULE = Citation(
    "slow hardness times (rate / slow rate)^m, m 0.01 up to 0.4 of melting, 0.12 at 0.6, 0.18 at 1",
    "estimated",
)

STRAINS = (0.02, 0.3)
"""Strains at which flow stress may stand for that of an indentation: within about 30 % of it, as flow
stress grows with strain to the power 0.2 (Misaka and Yoshimoto 1967)."""


def read_strength(
    file: MaterialFile,
    hardness: Curve | None,
    melting_K: float | None,
    where: str,
    problems: list[InputError],
) -> tuple[Strength, dict[str, Citation]]:
    """Return how hardness depends on the rate, and where that comes from.

    Parameters
    ----------
    file : MaterialFile
    hardness : Curve or None
        Slow hardness [Pa].
    melting_K : float or None
        Melting point [K].
    where : str
        The file, for errors.
    problems : list of InputError
        What is wrong is added here.
    """
    hot = _hot(file, melting_K, where, problems)
    if hardness is None or melting_K is None or file.family != "metal":
        if hot is not None:
            problems.append(
                InputError(f"{where}: flow_stress", "given", "a hardness table and a melting range beside it")
            )
        return Strength(), {}
    exponent, slow_rate = strength.COLD_EXPONENT, strength.SLOW_1_S
    cited = {"rate_exponent": _EXPONENT_RULE}
    if file.rate_exponent is not None:
        key = f"{where}: rate_exponent"
        exponent = file.rate_exponent.value
        slow_rate = _number(file.rate_exponent.table_rate, "rate", f"{key}.table_rate", problems)
        cited = {"rate_exponent": cite([file.rate_exponent])}
        if not 0.0 <= exponent <= 0.5:
            problems.append(InputError(f"{key}.value", exponent, "an exponent from 0 to 0.5"))
        if exponent == 0.0 and hot is None:
            return Strength(slow_rate_1_s=slow_rate), cited
    if hot is None:
        return (
            Strength(exponent, slow_rate, estimated=True),
            cited | {"flow_stress": _HOT_RULE},
        )
    if not problems:
        _can_be_used(hot, melting_K, file, where, problems)
    sources = [part for part in (*file.flow_stress, file.creep, file.hot_working) if part is not None]
    return Strength(exponent, slow_rate, hot), cited | {"flow_stress": cite(sources)}


def _can_be_used(
    hot: HotLaw, melting_K: float, file: MaterialFile, where: str, problems: list[InputError]
) -> None:
    """Note it when the law gives no positive stress somewhere up to melting."""
    with np.errstate(all="ignore"):
        stress = hot.stress_Pa(np.linspace(ROOM_K, melting_K, 50)[:, None], np.array([1e-3, 1.0, 1e5]))
    if not np.all(np.isfinite(stress) & (stress > 0.0)):
        key = "creep" if file.creep else "hot_working" if file.hot_working else "flow_stress"
        asked = "constants that give a flow stress above zero from room temperature to melting"
        problems.append(InputError(f"{where}: {key}", "a stress that is zero or no number", asked))


def _hot(
    file: MaterialFile, melting_K: float | None, where: str, problems: list[InputError]
) -> HotLaw | None:
    """Hot flow stress as the file gives it, or None."""
    given = [key for key in ("flow_stress", "creep", "hot_working") if getattr(file, key)]
    if len(given) > 1:
        asked = "one of them: rows of flow_stress, or the constants of creep or of hot_working"
        problems.append(InputError(f"{where}: {given[1]}", " and ".join(given), asked))
        return None
    if file.creep is not None:
        return _creep(file.creep, f"{where}: creep", problems)
    if file.hot_working is not None:
        return _hot_working(file.hot_working, f"{where}: hot_working", problems)
    return _rows(file.flow_stress, file.flow_exponent, melting_K, where, problems)


def _creep(given: Creep, where: str, problems: list[InputError]) -> CreepLaw:
    def si(key: str, quantity: str) -> float:
        return _number(getattr(given, key), quantity, f"{where}.{key}", problems)

    for key in ("factor", "exponent", "breakdown"):
        _above_zero(getattr(given, key), f"{where}.{key}", problems)
    if not 0.0 <= given.modulus_fall < 1.0:
        problems.append(InputError(f"{where}.modulus_fall", given.modulus_fall, "a share from 0 to below 1"))
    return CreepLaw(
        factor=given.factor,
        exponent=given.exponent,
        diffusivity_m2_s=si("diffusivity", "diffusivity"),
        activation_J_mol=si("activation_energy", "activation_energy"),
        modulus_Pa=si("modulus", "flow_stress"),
        modulus_fall=given.modulus_fall,
        melting_K=si("melting", "temperature"),
        burgers_m=si("burgers", "thickness"),
        breakdown=given.breakdown,
    )


def _hot_working(given: HotWorking, where: str, problems: list[InputError]) -> SinhLaw:
    _above_zero(given.exponent, f"{where}.exponent", problems)
    return SinhLaw(
        factor_1_s=_number(given.factor, "rate", f"{where}.factor", problems),
        exponent=given.exponent,
        activation_J_mol=_number(
            given.activation_energy, "activation_energy", f"{where}.activation_energy", problems
        ),
        inverse_stress_1_Pa=_number(
            given.inverse_stress, "inverse_stress", f"{where}.inverse_stress", problems
        ),
    )


def _rows(
    parts: list[StressTable],
    exponents: list[Table],
    melting_K: float | None,
    where: str,
    problems: list[InputError],
) -> StressRows | None:
    """Join the parts by rate; parts of one rate follow each other in order of temperature."""
    if not parts:
        return None
    rates: list[float] = []
    stresses: list[Curve] = []
    for text, group in groupby(parts, key=lambda part: part.rate):
        tables = list(group)
        rate = _number(text, "rate", f"{where}: flow_stress.rate", problems)
        for part in tables:
            if not STRAINS[0] <= part.strain <= STRAINS[1]:
                asked = f"{STRAINS[0]:g} to {STRAINS[1]:g}, as an indentation strains by {strength.STRAIN:g}"
                problems.append(InputError(f"{where}: flow_stress.strain", part.strain, asked))
        if rates and rate <= rates[-1]:
            problems.append(InputError(f"{where}: flow_stress.rate", text, "rates in rising order"))
        stress = to_curve("flow_stress", tables, where, problems)
        if stress is not None:
            rates.append(rate)
            stresses.append(stress)
    exponent = to_curve("flow_exponent", exponents, where, problems, "exponent")
    if problems or not stresses:
        return None
    if exponent is None and len(rates) == 1:
        T = stresses[0].temperature_K
        rule = strength.estimated_exponent(T / (melting_K or T[-1]))
        exponent = Curve(T, rule, _HOT_RULE)
    return StressRows(tuple(rates), tuple(stresses), exponent)


def read_tempers(
    file: MaterialFile, hardness: Curve | None, where: str, problems: list[InputError]
) -> tuple[Temper, ...]:
    """Return the tempers that the file offers."""
    found = []
    for i, part in enumerate(file.tempers):
        key = f"tempers[{i + 1}]"
        value = to_number(key, part, where, problems, "hardness")
        tensile = part.tensile and _number(
            part.tensile, "tensile_strength", f"{where}: {key}.tensile", problems
        )
        found.append(Temper(part.name, value or 0.0, tensile or None, cite([part])))
    names = [temper.name for temper in found]
    for name in names:
        if names.count(name) > 1:
            problems.append(InputError(f"{where}: tempers", name, "each name once"))
            break
    if file.temper is not None and file.temper not in names:
        asked = f"one of its tempers: {', '.join(names) or 'there are none'}"
        problems.append(InputError(f"{where}: temper", file.temper, asked))
    if found and hardness is None:
        problems.append(InputError(f"{where}: tempers", "given", "a hardness table beside them"))
    return tuple(found)


def read_composition(file: MaterialFile, where: str, problems: list[InputError]) -> Mapping[str, float]:
    """Return mass fractions that add up to 1; empty when the file has none."""
    if file.composition is None:
        return {}
    shares = file.composition.mass_percent
    total = sum(shares.values())
    if not 98.0 <= total <= 102.0 or min(shares.values(), default=0.0) < 0.0:
        asked = "mass percents, none below zero, that add up to 98 to 102"
        problems.append(InputError(f"{where}: composition.mass_percent", f"{total:g} in all", asked))
        return {}
    return {element: share / total for element, share in shares.items()}


def _number(text: str, quantity: str, where: str, problems: list[InputError]) -> float:
    """SI value of text such as ``"100 1/s"``; 1 when it is wrong, which `problems` then holds."""
    try:
        value = float(to_si(1.0, text, quantity, where))
    except InputError as problem:
        problems.append(problem)
        return 1.0
    _above_zero(value, where, problems)
    return value


def _above_zero(value: float, where: str, problems: list[InputError]) -> None:
    if value <= 0.0:
        problems.append(InputError(where, value, "a value above zero"))
