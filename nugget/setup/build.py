"""Turn a checked setup file into the SI description that the solver reads."""

from __future__ import annotations

import difflib
import itertools
import math
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import numpy as np

from nugget import plugins
from nugget.contact.dome import FACES_PER_DOME_RADIUS
from nugget.contact.laws import AsperityContact, ContactLaw, MetallicContact, TableContact, understood
from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.material import Material
from nugget.merit.limit import Limit
from nugget.setup.consistency import duration_s, thickness_m
from nugget.setup.description import (
    Circuit,
    Contact,
    Electrode,
    Joint,
    Kinetics,
    Layer,
    Numerics,
    Pulse,
    Setup,
)
from nugget.setup.fill import Where
from nugget.setup.limits import applies, limits_of, told_apart
from nugget.setup.schema import DamageLimit, Interface, SetupFile
from nugget.supply.kinds import Source

SHEET_FROM_M = 0.5e-3
"""Thickness [m] from which the rule ``auto`` takes 4 sqrt(t / mm) mm: thinner strip is judged
by the button it tears (common practice, no source; ISO 14373 starts at 0.4 mm)."""


def build(file: SetupFile, resolved: dict[str, Any], where: Where) -> Setup:
    """Return the SI description of `file`, which `checks.check` has passed."""
    electrode, arrangement = file.electrode, file.arrangement
    _look_in(file, where)
    tip = Electrode(
        material=_metal(file, electrode.material, where("electrode.material"), melts=False),
        form=electrode.form,
        face_diameter_m=electrode.face_diameter.si,
        tip_length_m=electrode.tip_length.si,
        shank_diameter_m=electrode.shank_diameter.si,
        shank_length_m=electrode.shank_length.si,
        holder_temperature_K=electrode.holder_temperature.si,
        dome_radius_m=_dome_radius_m(file),
        worn_flat_m=electrode.worn_flat.si if electrode.worn_flat is not None else 0.0,
    )
    base = _base(file, where)
    has_roll = base[-1].role == "roll"
    brought = [
        _damage_limit(limit, where(f"damage_limits.{i}")) for i, limit in enumerate(file.damage_limits)
    ]
    kinetics = next((made for made in brought if isinstance(made, Kinetics)), _kinetics(file))
    return Setup(
        title=file.title,
        arrangement=arrangement.kind,
        strip=_strip(file, where),
        base=base,
        strip_width_m=file.strip.width.si,
        shunt_fraction=file.strip.shunt_fraction,
        electrode=tip,
        spacing_m=arrangement.spacing.si,
        force_N=electrode.force.si,
        return_ohm=arrangement.return_resistance.si if arrangement.kind == "indirect" else 0.0,
        contact=_contact(file, where),
        ambient_K=file.ambient.temperature.si,
        film_W_m2K=file.ambient.film_coefficient.si,
        stirring=file.numerics.stirring_factor,
        circuit=_circuit(file, where),
        train=tuple(
            Pulse(duration_s(file, pulse), pulse.level, pulse.upslope.si, pulse.downslope.si, pulse.gap.si)
            for pulse in file.pulse
        ),
        hold_s=file.hold_time.si,
        limits=_limits(file, brought, {layer.role for layer in base}, where),
        kinetics=kinetics if has_roll else None,
        joint=_joint(file),
        numerics=Numerics(file.numerics.refinement, file.numerics.tolerance.si, file.numerics.longest.si),
        resolved=resolved,
    )


def _dome_radius_m(file: SetupFile) -> float:
    electrode = file.electrode
    if electrode.form == "flat":
        return math.inf
    given = electrode.dome_radius
    return FACES_PER_DOME_RADIUS * electrode.face_diameter.si if given is None else given.si


def _look_in(file: SetupFile, where: Where) -> None:
    """Raise InputError when a place that the setup names for materials is not there."""
    try:
        library.names(file.materials)
    except InputError as error:
        raise InputError(where("materials"), error.given, error.expected) from error


@contextmanager
def _at(where: str) -> Iterator[None]:
    """Let an error of a plugin name the key of the setup file too."""
    try:
        yield
    except InputError as error:
        raise InputError(f"{where}: {error.where}", error.given, error.expected) from error


@contextmanager
def _naming(file: SetupFile, where: str, name: str) -> Iterator[None]:
    """Let an error of the material library name the key of the setup file."""
    try:
        yield
    except InputError as error:
        known = library.names(file.materials)
        if name in known:  # the file of this material is broken, or there are two of the name
            raise InputError(f"{where}: {error.where}", error.given, error.expected) from error
        close = difflib.get_close_matches(name, known, n=1, cutoff=0.5)
        if close and close[0] != name:  # shorter than the whole list
            raise InputError(where, name, f"a known material; the nearest is {close[0]}") from error
        raise InputError(where, error.given, error.expected) from error


def _material(file: SetupFile, name: str, where: str) -> Material:
    with _naming(file, where, name):
        return library.get(name, file.materials)


def _metal(file: SetupFile, name: str, where: str, melts: bool = True) -> Material:
    material = _material(file, name, where)
    if material.resistivity is None or material.hardness is None or (melts and material.melting_K is None):
        raise InputError(where, name, "a metal that conducts, with hardness and melting range")
    return material


def _expanded(file: SetupFile, name: str, thickness: float, where: str) -> tuple[tuple[str, float], ...]:
    with _naming(file, where, name):
        return library.expand(name, thickness, file.materials)


def _strip(file: SetupFile, where: Where) -> tuple[Layer, ...]:
    strip = file.strip
    if strip.layers is not None:
        rows = [
            (layer.material, layer.temper, layer.thickness.si, f"strip.layers.{index}")
            for index, layer in enumerate(strip.layers)
        ]
    else:
        rows = [(str(strip.material), strip.temper, thickness_m(file), "strip")]
    radius = 0.5 * strip.width.si
    layers = []
    for name, temper, thickness, key in rows:
        parts = _expanded(file, name, thickness, where(f"{key}.material"))
        metals = [_metal(file, part, where(f"{key}.material")) for part, _ in parts]
        if temper is not None:
            metals = _tempered(metals, temper, where(f"{key}.temper"))
        layers += [
            Layer("strip", metal, part_m, radius) for metal, (_, part_m) in zip(metals, parts, strict=True)
        ]
    return tuple(layers)


def _tempered(metals: list[Material], temper: str, where: str) -> list[Material]:
    """Return `metals` with those that offer tempers in `temper`; the plating of a strip offers none."""
    rolled = [metal for metal in metals if metal.tempers] or metals[:1]
    try:
        changed = {metal.name: metal.with_temper(temper) for metal in rolled}
    except InputError as error:
        raise InputError(where, error.given, error.expected) from error
    return [changed.get(metal.name, metal) for metal in metals]


def _base(file: SetupFile, where: Where) -> tuple[Layer, ...]:
    cell, key = file.cell, where("cell.wall_material")
    parts = _expanded(file, cell.wall_material, cell.wall.si, key)
    below = cell.conductance_below.si if cell.conductance_below is not None else None
    wall = [
        Layer(
            "can", _metal(file, part, key), part_m, cell.radius.si, below if index == len(parts) - 1 else None
        )
        for index, (part, part_m) in enumerate(parts)
    ]
    interior = [
        Layer(
            layer.role,
            _material(file, layer.material, where(f"cell.interior.{index}.material")),
            layer.thickness.si,
            layer.radius.si,
            layer.conductance_below.si if layer.conductance_below is not None else None,
        )
        for index, layer in enumerate(cell.interior)
    ]
    return (*wall, *interior)


def _contact(file: SetupFile, where: Where) -> Contact:
    contact = file.contact
    return Contact(
        tip=_law(contact.tip, file.electrode.form == "rounded", where("contact.tip")),
        faying=_law(contact.faying, file.electrode.form == "rounded", where("contact.faying")),
        gas=_material(file, contact.gas, where("contact.gas")),
        radius_factor=contact.radius_factor,
        hardness_factor=contact.hardness_factor,
        spread_m=contact.spread.si,
        gap_m=contact.gap.si,
    )


def _law(interface: Interface, rounded: bool, where: str) -> ContactLaw:
    if interface.table is not None:
        return TableContact(
            np.array([row.temperature.si for row in interface.table]),
            np.array([row.resistance.si for row in interface.table]),
            grows=rounded,
        )
    if interface.law in plugins.names(plugins.CONTACT_LAWS):
        with _at(where):
            # mypy takes a protocol for abstract; make() only checks that the result works as one.
            law = plugins.make(plugins.CONTACT_LAWS, interface.law, ContactLaw, interface.options)  # type: ignore[type-abstract]
            return understood(law)
    film = interface.film.si if interface.film is not None else 0.0
    return MetallicContact(film) if interface.spots is None else AsperityContact(interface.spots.si, film)


def _source(file: SetupFile, where: Where) -> Source:
    with _at(where("source")):
        return file.source.build()


def _circuit(file: SetupFile, where: Where) -> Circuit:
    leads = file.leads
    length = leads.length.si if leads.length is not None else 0.0
    area = leads.cross_section.si if leads.cross_section is not None else 0.0
    if leads.resistance is not None:
        ohm = leads.resistance.si
    else:
        copper = library.get("copper").resistivity
        assert copper is not None
        ohm = float(copper(file.ambient.temperature.si)) * length / area
    return Circuit(
        source=_source(file, where),
        lead_ohm=ohm,
        lead_H=leads.inductance.si,
        switch_device_ohm=file.switch.on_resistance.si,
        switch_devices=file.switch.devices,
        lead_length_m=length,
        lead_area_m2=area,
    )


def _limits(
    file: SetupFile, brought: Sequence[Limit | Kinetics], roles: set[str], where: Where
) -> tuple[Limit, ...]:
    """Limits of the file, then those of plugins; each keeps an id of its own."""
    own = [made for made in brought if isinstance(made, Limit) and applies(made, roles)]
    return tuple(
        told_apart(itertools.chain(limits_of(file.limits, roles, file.ambient.temperature, where), own))
    )


def _damage_limit(limit: DamageLimit, where: str) -> Limit | Kinetics:
    """Let a plugin make its limit or kinetics."""
    with _at(where):
        made: object = plugins.make(plugins.DAMAGE_LIMITS, limit.plugin, object, limit.options)
    if isinstance(made, Limit | Kinetics):
        return made
    raise InputError(f"{where}: plugin {limit.plugin}", type(made).__name__, "a Limit or a Kinetics")


def _kinetics(file: SetupFile) -> Kinetics:
    one = file.kinetics
    return Kinetics(one.title, one.frequency_factor.si, one.activation_energy.si, one.source)


def _joint(file: SetupFile) -> Joint:
    joint = file.joint
    thinner = min(thickness_m(file), file.cell.wall.si)
    if joint.diameter is not None:
        return Joint("diameter", joint.diameter.si, joint.bond_fraction)
    if joint.rule == "button" or (joint.rule == "auto" and thinner < SHEET_FROM_M):
        return Joint("button", 4.0 * thinner, joint.bond_fraction)
    return Joint("sheet", 4e-3 * math.sqrt(thinner * 1e3), joint.bond_fraction)
