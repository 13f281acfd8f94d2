"""Checks that look at more than one key of a setup file."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import chain, pairwise

import numpy as np

from nugget import plugins
from nugget.errors import InputError
from nugget.setup.fill import Where
from nugget.setup.own_laws import OWN_LAWS
from nugget.setup.quantity import Quantity
from nugget.setup.schema import PulseSection, SetupFile
from nugget.setup.sources import SOURCE_RESISTANCE, CellsSection, SineCurrentSection, TransformerSection
from nugget.setup.strip_outline import outline_of

Findings = Iterator[tuple[str, object, str]]
"""Key path, what stands there, what would do."""

THINNEST_M = 2e-6
"""Thinnest strip [m]: under thinner leaf the rows of the grid become too many to answer at all."""
FINEST_TIP_M = 10e-6
"""Smallest face of a tip [m], that of a needle: the current through a finer one heats it faster than can
be followed."""
_SLACK = 1e-9  # what rounding leaves of "5.5 mm" + "1.5 mm"


def check(file: SetupFile, where: Where) -> None:
    """Raise InputError for the first thing in `file` that cannot be."""
    opposed = file.arrangement.kind == "opposed"
    findings = chain(
        _alternatives(file),
        _leaf(file),
        _electrode(file),
        _opposed(file) if opposed else _side_by_side(file),
        _strip_outline(file),
        _interior(file),
        _contact(file),
        _train(file),
        _trace(file),
        _cells(file),
        _series_resistance(file),
        _relay(file),
        _fitted(file),
    )
    for path, given, expected in findings:
        raise InputError(where(path), given, expected)


def half_period_s(file: SetupFile) -> float | None:
    """Return half a period of an alternating source [s], None for any other."""
    source = file.source
    return 0.5 / source.frequency.si if isinstance(source, SineCurrentSection | TransformerSection) else None


def duration_s(file: SetupFile, pulse: PulseSection) -> float:
    """Return how long `pulse` lasts [s]; `check` has made sure that it says so."""
    half = half_period_s(file)
    if pulse.duration is None:
        assert pulse.half_cycles is not None
        assert half is not None
        return pulse.half_cycles * half
    if half is not None and isinstance(file.source, TransformerSection):
        return round(pulse.duration.si / half) * half
    return pulse.duration.si


def thickness_m(file: SetupFile) -> float:
    """Return the thickness of the whole strip [m]."""
    if file.strip.layers is not None:
        return sum(layer.thickness.si for layer in file.strip.layers)
    assert file.strip.thickness is not None
    return file.strip.thickness.si


def _alternatives(file: SetupFile) -> Findings:
    strip, leads = file.strip, file.leads
    if strip.layers is not None:
        if strip.material is not None or strip.thickness is not None:
            yield "strip.layers", "layers", "either layers or material and thickness, not both"
        elif strip.temper is not None:
            yield "strip.temper", strip.temper, "the temper beside the material of each layer"
    elif strip.material is None or strip.thickness is None:
        missing = "material" if strip.material is None else "thickness"
        yield f"strip.{missing}", "nothing", "both material and thickness, or layers"
    if leads.resistance is not None:
        if leads.length is not None or leads.cross_section is not None:
            given = leads.resistance.text
            yield "leads.resistance", given, "either a resistance or length and cross_section, not both"
    elif leads.length is None or leads.cross_section is None:
        missing = "length" if leads.length is None else "cross_section"
        yield f"leads.{missing}", "nothing", "both length and cross_section, or resistance"


def _leaf(file: SetupFile) -> Findings:
    whole = thickness_m(file)
    if whole < THINNEST_M:
        path = "strip.layers" if file.strip.thickness is None else "strip.thickness"
        least = f"{1e3 * THINNEST_M:g} mm"
        yield (
            path,
            f"{1e3 * whole:.4g} mm",
            f"at least {least}: a thinner leaf is no strip that could be welded",
        )


def _electrode(file: SetupFile) -> Findings:
    one = file.electrode
    if one.face_diameter.si < FINEST_TIP_M:
        least = f"at least {1e3 * FINEST_TIP_M:g} mm: a finer point is no tip that could press on a strip"
        yield "electrode.face_diameter", one.face_diameter.text, least
    yield from _at_most(
        "electrode.face_diameter", one.face_diameter, one.shank_diameter, "the shank diameter"
    )
    yield from _at_most("electrode.face_diameter", one.face_diameter, file.strip.width, "the strip width")
    if one.tip_shape == "flat":
        for key in ("dome_radius", "worn_flat"):
            given = getattr(one, key)
            if given is not None:
                yield f"electrode.{key}", given.text, "no such key: a flat tip has no dome"
    if one.dome_radius is not None and one.dome_radius.si < 0.5 * one.face_diameter.si * (1 - _SLACK):
        half = f"{500.0 * one.face_diameter.si:.4g} mm"
        yield "electrode.dome_radius", one.dome_radius.text, f"at least half the face diameter, {half}"
    if one.worn_flat is not None:
        yield from _at_most("electrode.worn_flat", one.worn_flat, one.face_diameter, "the face diameter")


def _opposed(file: SetupFile) -> Findings:
    cell, face = file.cell, file.electrode.face_diameter
    roles = ", ".join(layer.role for layer in cell.interior)
    if cell.kind != "coupon":
        yield "arrangement.kind", "opposed", "tips side by side; opposed tips need cell.kind = 'coupon'"
    if cell.interior:
        yield "cell.interior", roles, "no layers between opposed tips"
    if face.si >= 2.0 * cell.radius.si:
        yield "electrode.face_diameter", face.text, f"less than twice the coupon radius, {cell.radius.text}"


def _side_by_side(file: SetupFile) -> Findings:
    spacing, face = file.arrangement.spacing, file.electrode.face_diameter
    if spacing.si <= face.si * (1 + _SLACK):
        yield (
            "arrangement.spacing",
            spacing.text,
            f"more than the face diameter of a tip, {face.text}: the tips would touch",
        )
    layers = [
        (f"strip.layers.{index}.thickness", one.thickness)
        for index, one in enumerate(file.strip.layers or ())
    ]
    whole = [] if file.strip.thickness is None else [("strip.thickness", file.strip.thickness)]
    for path, thickness in (*whole, *layers, ("cell.wall", file.cell.wall)):
        if thickness.si > 0.5 * spacing.si:
            yield (
                path,
                thickness.text,
                f"at most half the spacing of the tips, {500.0 * spacing.si:.4g} mm: in thicker metal the"
                " current from tip to tip is not that of a sheet",
            )
    edges = {"the flat radius": file.cell.radius.si}
    if file.arrangement.kind == "series across":
        edges["half the strip width"] = 0.5 * file.strip.width.si
    for edge, edge_m in edges.items():
        if 0.5 * (spacing.si + face.si) >= edge_m * (1 - _SLACK):
            yield (
                "arrangement.spacing",
                spacing.text,
                f"less than {1e3 * (2.0 * edge_m - face.si):.4g} mm: half the spacing and the radius of "
                f"a tip must stay within {edge}, {1e3 * edge_m:.4g} mm",
            )


def _strip_outline(file: SetupFile) -> Findings:
    strip = file.strip
    if strip.shunt_fraction is not None and strip.slots is not None:
        yield "strip.shunt_fraction", strip.shunt_fraction, "either slots or the share they leave, not both"
    if strip.length is not None and strip.end_distance is None:
        yield "strip.end_distance", "nothing", "the distance of the tips from the end that length starts at"
        return
    try:
        outline_of(file)
    except InputError as error:
        yield error.where, error.given, error.expected


def _interior(file: SetupFile) -> Findings:
    roles = [layer.role for layer in file.cell.interior]
    given = ", ".join(roles) or "no layers"
    for index, layer in enumerate(file.cell.interior):
        if layer.inner_radius is not None and layer.inner_radius.si >= layer.radius.si * (1 - _SLACK):
            path = f"cell.interior.{index}.inner_radius"
            yield path, layer.inner_radius.text, f"less than the outer radius, {layer.radius.text}"
    if file.cell.kind == "cell" and "roll" not in roles:
        yield "cell.interior", given, "layers from the wall down, the last with role 'roll'"
    if "roll" in roles[:-1]:
        yield "cell.interior", given, "one layer with role 'roll', the last"


def _contact(file: SetupFile) -> Findings:
    for name, interface in (("tip", file.contact.tip), ("faying", file.contact.faying)):
        path, law = f"contact.{name}", interface.law
        own = plugins.names(plugins.CONTACT_LAWS)
        if law not in OWN_LAWS and law not in own:
            yield f"{path}.law", law, f"one of {', '.join([*OWN_LAWS, *own])}"
            continue
        needs = OWN_LAWS[law].needs if law in OWN_LAWS else ()
        if law in OWN_LAWS and interface.options is not None:
            yield f"{path}.options", "a table", f"no options: the law is {law}"
        for key in ("film", "film_heat_conductance", "contact_spot_density", "table"):
            given = getattr(interface, key)
            if key in needs and given is None:
                yield f"{path}.{key}", "nothing", f"a value: the law is {law}"
            if key not in needs and given is not None:
                given = given.text if isinstance(given, Quantity) else "a table"
                yield f"{path}.{key}", given, f"only {' and '.join(needs) or 'options'}: the law is {law}"
        for index, (one, other) in enumerate(pairwise(interface.table or ()), start=1):
            if other.temperature.si <= one.temperature.si:
                given = other.temperature.text
                yield (
                    f"{path}.table.{index}.temperature",
                    given,
                    "a higher temperature than in the row before",
                )


def _train(file: SetupFile) -> Findings:
    half, kind = half_period_s(file), file.source.kind
    for index, pulse in enumerate(file.pulse):
        path = f"pulse.{index}"
        if pulse.duration is None and pulse.half_cycles is None:
            yield f"{path}.duration", "nothing", "a duration, or half_cycles of an alternating source"
        if pulse.duration is not None and pulse.half_cycles is not None:
            yield f"{path}.half_cycles", pulse.half_cycles, "either a duration or half_cycles, not both"
        if pulse.half_cycles is not None and half is None:
            yield f"{path}.half_cycles", pulse.half_cycles, f"a duration: a {kind} has no half cycles"
        if pulse.duration is not None and half is not None and kind == "transformer":
            halves = pulse.duration.si / half
            if round(halves) < 1 or abs(halves - round(halves)) > 1e-4:
                given = pulse.duration.text
                yield f"{path}.duration", given, f"whole half cycles of {1e3 * half:.6g} ms, or half_cycles"
        if pulse.upslope.si + pulse.downslope.si > duration_s(file, pulse) * (1 + _SLACK):
            given = f"{pulse.upslope.text} up and {pulse.downslope.text} down"
            yield f"{path}.upslope", given, "slopes that fit into the duration"
        if kind in ("battery", "capacitor bank"):
            why = f"transistors behind a {kind} only switch on and off"
            if pulse.output_fraction != 1.0:
                yield f"{path}.output_fraction", pulse.output_fraction, f"1: {why}"
            for key, slope in (("upslope", pulse.upslope), ("downslope", pulse.downslope)):
                if slope.si > 0.0:
                    yield f"{path}.{key}", slope.text, f"'0 ms': {why}"


def _trace(file: SetupFile) -> Findings:
    source = file.source
    if source.kind == "trace":
        times, count = source.time_s, len(source.samples)
        if len(times) != count or count < 2:
            yield "source.samples", f"{count} samples", f"one for each of {len(times)} times, 2 or more"
        if times[0] != 0.0 or any(later <= time for time, later in pairwise(times)):
            yield "source.time_s", "these times", "times that start at 0 and increase"


def _cells(file: SetupFile) -> Findings:
    source = file.source
    if not isinstance(source, CellsSection):
        return
    for whole, cell in source.BY_CELL.items():
        given = getattr(source, whole)
        if given is None and getattr(source, cell) is None:
            yield (
                f"source.{whole}",
                "nothing",
                f"a value, or {cell} with cells_in_series and cells_in_parallel",
            )
        if given is not None and getattr(source, cell) is not None:
            yield f"source.{whole}", given.text, f"either this or {cell}, not both"
    for key in ("cells_in_series", "cells_in_parallel"):
        count = getattr(source, key)
        if count is not None and not source.by_cell:
            yield (
                f"source.{key}",
                count,
                f"a value of one cell beside it: {' or '.join(source.BY_CELL.values())}",
            )


def _relay(file: SetupFile) -> Findings:
    shortest = file.switch.build().shortest_s
    for index, pulse in enumerate(file.pulse):
        given_s = duration_s(file, pulse)
        if given_s < shortest * (1 - _SLACK):
            yield (
                f"pulse.{index}.duration",
                f"{1e3 * given_s:.4g} ms",
                f"at least {1e3 * shortest:.4g} ms, the shortest that the relay makes: its closing_bounce"
                " and its opening_delay",
            )


def _series_resistance(file: SetupFile) -> Findings:
    source, leads = file.source, file.leads
    if isinstance(source, CellsSection):
        key = SOURCE_RESISTANCE[source.kind]
        ohm = source.whole_si(key.removeprefix("source."))
    elif source.kind == "transformer":
        key, ohm = "source.winding_resistance", source.winding_resistance.si
    elif source.kind == "constant voltage" or (source.kind == "trace" and source.quantity == "voltage"):
        key, ohm = "leads.resistance", 0.0
    else:
        return
    lead = leads.length if leads.resistance is None else leads.resistance
    if ohm == 0.0 and file.switch.build().resistance_ohm == 0.0 and (lead is None or lead.si == 0.0):
        yield (
            key,
            "0 ohm in source, leads and switch together",
            "some resistance, or the current has no bounds",
        )


def _fitted(file: SetupFile) -> Findings:
    fitted = file.uncertainty.fitted
    if fitted is None:
        return
    count = len(fitted.fields)
    if len(fitted.deviations) != count:
        yield "uncertainty.fitted.deviations", len(fitted.deviations), f"{count} numbers, one for each field"
    rows = np.array(fitted.correlations if _square(fitted.correlations, count) else np.zeros((1, 1)))
    sound = np.allclose(np.diag(rows), 1.0) and np.allclose(rows, rows.T)
    if not sound or np.linalg.eigvalsh(rows).min() <= 0.0:
        yield (
            "uncertainty.fitted.correlations",
            "these rows",
            f"a correlation matrix of {count} fields: symmetric, ones on its diagonal, positive definite",
        )


def _square(rows: tuple[tuple[float, ...], ...], count: int) -> bool:
    return len(rows) == count and all(len(row) == count for row in rows)


def _at_most(path: str, given: Quantity, bound: Quantity, what: str) -> Findings:
    if given.si > bound.si:
        yield path, given.text, f"at most {what}, {bound.text}"
