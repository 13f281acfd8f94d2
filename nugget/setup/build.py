"""Turn a checked setup file into the SI description that the solver reads."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import Any, TypeVar

import numpy as np

from nugget import plugins
from nugget.contact.dome import FACES_PER_DOME_RADIUS
from nugget.contact.laws import ContactLaw, understood
from nugget.contact.plugin_laws import brought as brought_law
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
)
from nugget.setup.fill import Where
from nugget.setup.held import Held, Lookup, check_told, plugin_words
from nugget.setup.layer_kinds import judged_as, kind_of
from nugget.setup.limits import applies, limits_of, told_apart
from nugget.setup.overlay import Tree
from nugget.setup.own_laws import OWN_LAWS
from nugget.setup.schema import DamageLimit, Interface, SetupFile
from nugget.setup.sources import PluginSection, SourceSection
from nugget.setup.strip_outline import shunt_fraction
from nugget.supply.kinds import Source
from nugget.supply.plugin_sources import brought as brought_source

T = TypeVar("T")

_OF_SWITCH = {"switch_device_current_A": "transistors", "relay_current_A": "relay"}
"""Figures that only one kind of switch has."""
SHEET_FROM_M = 0.5e-3
"""Thickness [m] from which the rule ``auto`` takes 4 sqrt(t / mm) mm: thinner strip is judged
by the button it tears (common practice, no source; ISO 14373 starts at 0.4 mm)."""

MELT_OVER_PART = 1.6
"""Thickest melt over the thinner part: a nugget through four fifths of both (common practice, no source)."""
STIRRED_M, STIRRING = (0.3e-3, 1.5e-3), (1.0, 5.0)
"""Thickness of melt [m] from which and to which stirring grows, and its factor on the conductivity there:
4 to 6 is usual in models of resistance welds of millimetres (from memory, no single source)."""
POLARITIES = {"mean": 0, "positive": 1, "negative": -1}
"""Sign of the current through the modelled tip; none for the mean of the two spots of a pair."""


def build(file: SetupFile, where: Where, held: Held, told: Mapping[str, Tree]) -> tuple[dict[str, Any], Held]:
    """Return the SI description of `file`, by attribute of `Description`, and what its names mean.

    Parameters
    ----------
    file : SetupFile
        Has passed `consistency.check`.
    where : callable
        Turns a key path into what an error shows.
    held : Held
        Looked at before the material library and the plugins are.
    told : mapping of str to dict
        What is known of laws and sources that have to be made again.
    """
    arrangement = file.arrangement
    lookup, workshop = Lookup(held.materials, file.materials, where), _Workshop(held.made, told, where)
    if not held.materials:
        look_in(file, where)
    base = _base(file, lookup)
    sealed = file.cell.kind == "cell" and file.cell.end == "positive"
    has_roll = kind_of(base[-1].role).innermost
    brought = [workshop.limit(limit, f"damage_limits.{i}") for i, limit in enumerate(file.damage_limits)]
    kinetics = next((made for made in brought if isinstance(made, Kinetics)), _kinetics(file))
    described = {
        "title": file.title,
        "arrangement": arrangement.kind,
        "strip": _strip(file, lookup),
        "base": base,
        "strip_width_m": file.strip.width.si,
        "shunt_fraction": shunt_fraction(file),
        "electrode": _electrode(file, lookup),
        "spacing_m": arrangement.spacing.si,
        "force_N": file.electrode.force.si,
        "polarity": POLARITIES[arrangement.polarity],
        "return_ohm": arrangement.return_resistance.si if arrangement.kind == "indirect" else 0.0,
        "contact": _contact(file, lookup, workshop),
        "ambient_K": file.ambient.temperature.si,
        "heat_transfer_W_m2K": file.ambient.heat_transfer_coefficient.si,
        "stirring": _stirring(file),
        "circuit": _circuit(file, lookup, workshop),
        "train": _train(file),
        "hold_s": file.hold_time.si,
        "limits": _limits(file, brought, _roles(base) | ({"gasket"} if sealed else set()), where),
        "sealed": sealed,
        "kinetics": kinetics if has_roll else None,
        "joint": _joint(file),
        "numerics": Numerics(file.numerics.refinement, file.numerics.tolerance.si, file.numerics.max_time.si),
    }
    return described, Held(lookup.used, workshop.used, tuple(lookup.uses))


def _electrode(file: SetupFile, lookup: Lookup) -> Electrode:
    given = file.electrode
    return Electrode(
        material=lookup.metal(given.material, "electrode.material", melts=False),
        tip_shape=given.tip_shape,
        face_diameter_m=given.face_diameter.si,
        tip_length_m=given.tip_length.si,
        shank_diameter_m=given.shank_diameter.si,
        shank_length_m=given.shank_length.si,
        holder_temperature_K=given.holder_temperature.si,
        dome_radius_m=_dome_radius_m(file),
        worn_flat_m=given.worn_flat.si if given.worn_flat is not None else 0.0,
    )


def _train(file: SetupFile) -> tuple[Pulse, ...]:
    return tuple(
        Pulse(
            duration_s(file, pulse),
            pulse.output_fraction,
            pulse.upslope.si,
            pulse.downslope.si,
            pulse.cool_time.si,
        )
        for pulse in file.pulse
    )


def _stirring(file: SetupFile) -> float:
    """Factor on the conductivity of melt: as given, or by how thick the melt can become."""
    if file.numerics.melt_conductivity_factor is not None:
        return file.numerics.melt_conductivity_factor
    melt_m = MELT_OVER_PART * min(thickness_m(file), file.cell.wall.si)
    return float(np.interp(melt_m, STIRRED_M, STIRRING))


def _dome_radius_m(file: SetupFile) -> float:
    electrode = file.electrode
    if electrode.tip_shape == "flat":
        return math.inf
    given = electrode.dome_radius
    return FACES_PER_DOME_RADIUS * electrode.face_diameter.si if given is None else given.si


def look_in(file: SetupFile, where: Where) -> None:
    """Raise InputError when a place that the setup names for materials is not there."""
    try:
        library.names(file.materials)
    except InputError as error:
        raise InputError(where("materials"), error.given, error.expected) from error


class _Workshop:
    """Makes what plugins bring, unless it is held already."""

    def __init__(self, made: Mapping[str, Any], told: Mapping[str, Tree], where: Where) -> None:
        self.made, self.told, self.where = made, told, where
        self.used: dict[str, Any] = {}

    def make(
        self, path: str, group: str, name: str, kind: type[T], options: Iterable[tuple[str, float]]
    ) -> T:
        """Return what the plugin makes for the section at `path`."""
        if path in self.made:
            found: T = self.made[path]
        else:
            with _at(self.where(path)):
                found = plugins.make(group, name, kind, dict(options))
            check_told(path, found, self.told, self.where)
        self.used[path] = found
        return found

    def limit(self, limit: DamageLimit, path: str) -> Limit | Kinetics:
        """Return the limit or kinetics of a plugin."""
        made = self.make(path, plugins.DAMAGE_LIMITS, limit.plugin, object, limit.options)
        where = f"{self.where(path)}: plugin {plugin_words(plugins.DAMAGE_LIMITS, limit.plugin)}"
        if isinstance(made, Kinetics):
            for name in ("frequency_1_s", "activation_J_mol"):
                number = getattr(made, name)
                if not isinstance(number, int | float) or not 0.0 < number < math.inf:
                    raise InputError(f"{where}: {name}", number, "a finite number above zero")
        elif not isinstance(made, Limit):
            raise InputError(where, type(made).__name__, "a Limit or a Kinetics")
        return made

    def law(self, interface: Interface, rounded: bool, path: str) -> ContactLaw:
        """Return the contact law of an interface."""
        if interface.law in OWN_LAWS:
            return OWN_LAWS[interface.law].make(interface, rounded)
        # mypy takes a protocol for abstract; make() only checks that the result works as one.
        options = interface.options or ()
        law = self.make(path, plugins.CONTACT_LAWS, interface.law, ContactLaw, options)  # type: ignore[type-abstract]
        where = f"plugin {plugin_words(plugins.CONTACT_LAWS, interface.law)}"
        with plugins.at_work(where, "a resistance() that takes one argument"):
            law = understood(law)
        return brought_law(law, where)

    def source(self, source: SourceSection) -> Source:
        """Return the power source."""
        if isinstance(source, PluginSection):
            made = self.make("source", plugins.SOURCES, source.plugin, Source, source.options)  # type: ignore[type-abstract]
            return brought_source(made, f"plugin {plugin_words(plugins.SOURCES, source.plugin)}")
        return source.build()


@contextmanager
def _at(where: str) -> Iterator[None]:
    """Let an error of a plugin name the key of the setup file too."""
    try:
        yield
    except InputError as error:
        raise InputError(f"{where}: {error.where}", error.given, error.expected) from error


def _strip(file: SetupFile, lookup: Lookup) -> tuple[Layer, ...]:
    strip = file.strip
    if strip.layers is not None:
        rows = [
            (layer.material, layer.temper, layer.thickness.si, f"strip.layers.{index}")
            for index, layer in enumerate(strip.layers)
        ]
    else:
        rows = [(str(strip.material), strip.temper, thickness_m(file), "strip")]
    radius = 0.5 * strip.width.si
    layers: list[Layer] = []
    for name, temper, thickness, path in rows:
        parts = lookup.layers(name, thickness, f"{path}.material")
        metals = [metal for metal, _ in parts]
        if temper is not None:
            metals = _tempered(metals, temper, lookup.where(f"{path}.temper"))
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


def _base(file: SetupFile, lookup: Lookup) -> tuple[Layer, ...]:
    cell = file.cell
    parts = lookup.layers(cell.wall_material, cell.wall.si, "cell.wall_material")
    below = cell.conductance_below.si if cell.conductance_below is not None else None
    wall = [
        Layer("can", part, part_m, cell.radius.si, below if index == len(parts) - 1 else None)
        for index, (part, part_m) in enumerate(parts)
    ]
    materials = [
        lookup.single(one.material, f"cell.interior.{i}.material") for i, one in enumerate(cell.interior)
    ]
    interior = [
        Layer(
            judged_as(layer.role, material.family, material.solidus_K is not None),
            material,
            layer.thickness.si,
            layer.radius.si,
            layer.conductance_below.si if layer.conductance_below is not None else None,
            layer.inner_radius.si if layer.inner_radius is not None else 0.0,
            lookup.single(layer.hole, f"cell.interior.{index}.hole")
            if layer.inner_radius is not None
            else None,
        )
        for index, (layer, material) in enumerate(zip(cell.interior, materials, strict=True))
    ]
    return (*wall, *interior)


def _roles(base: Iterable[Layer]) -> set[str]:
    """Roles of the layers and of what fills their holes."""
    return {role for layer in base for role in (layer.role, layer.hole_role) if role}


def _contact(file: SetupFile, lookup: Lookup, workshop: _Workshop) -> Contact:
    contact, rounded = file.contact, file.electrode.tip_shape == "rounded"
    return Contact(
        tip=workshop.law(contact.tip, rounded, "contact.tip"),
        faying=workshop.law(contact.faying, rounded, "contact.faying"),
        gas=lookup.single(contact.gas, "contact.gas"),
        radius_factor=contact.radius_factor,
        hardness_factor=contact.hardness_factor,
        melt_strength_factor=contact.melt_strength_factor,
        faying_radius_allowance_m=contact.faying_radius_allowance.si,
        stand_off_m=contact.stand_off.si,
    )


def _circuit(file: SetupFile, lookup: Lookup, workshop: _Workshop) -> Circuit:
    leads = file.leads
    length = leads.length.si if leads.length is not None else 0.0
    area = leads.cross_section.si if leads.cross_section is not None else 0.0
    if leads.resistance is not None:
        ohm = leads.resistance.si
    else:
        copper = lookup.built_in("copper").resistivity
        assert copper is not None
        ohm = float(copper(file.ambient.temperature.si)) * length / area
    return Circuit(
        source=workshop.source(file.source),
        lead_ohm=ohm,
        lead_H=leads.inductance.si,
        switch=file.switch.build(),
        lead_length_m=length,
        lead_area_m2=area,
    )


def _limits(
    file: SetupFile, brought: Sequence[Limit | Kinetics], roles: set[str], where: Where
) -> tuple[Limit, ...]:
    """Limits of the file, then those of plugins; each keeps an id of its own."""
    own = [made for made in brought if isinstance(made, Limit) and applies(made, roles)]
    found = itertools.chain(limits_of(file.limits, roles, file.ambient.temperature, where), own)
    return tuple(
        told_apart(one for one in found if _OF_SWITCH.get(one.figure, file.switch.kind) == file.switch.kind)
    )


def _kinetics(file: SetupFile) -> Kinetics:
    one = file.kinetics
    return Kinetics(one.title, one.frequency_factor.si, one.activation_energy.si, one.source)


def _joint(file: SetupFile) -> Joint:
    joint = file.joint
    thinner = min(thickness_m(file), file.cell.wall.si)
    if joint.minimum_diameter is not None:
        return Joint("diameter", joint.minimum_diameter.si, joint.bond_fraction)
    if joint.rule == "button" or (joint.rule == "auto" and thinner < SHEET_FROM_M):
        return Joint("button", 4.0 * thinner, joint.bond_fraction)
    return Joint("sheet", 4e-3 * math.sqrt(thinner * 1e3), joint.bond_fraction)
