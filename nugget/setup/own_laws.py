"""The contact laws of our own, by the name that a setup file gives them: one entry each."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from nugget.contact.laws import AsperityContact, ContactLaw, MetallicContact, TableContact
from nugget.setup.schema import Interface


@dataclass(frozen=True)
class OwnLaw:
    """A law of our own.

    Attributes
    ----------
    needs : tuple of str
        Keys of ``[contact.tip]`` or ``[contact.faying]`` that it needs; it takes no other.
    make : callable
        From the section and whether the tip is rounded to the law.
    """

    needs: tuple[str, ...]
    make: Callable[[Interface, bool], ContactLaw]


def _metallic(interface: Interface, rounded: bool) -> ContactLaw:
    assert interface.film is not None
    return MetallicContact(interface.film.si, _by_lattice(interface))


def _asperity(interface: Interface, rounded: bool) -> ContactLaw:
    assert interface.film is not None
    assert interface.contact_spot_density is not None
    return AsperityContact(interface.contact_spot_density.si, interface.film.si, _by_lattice(interface))


def _by_lattice(interface: Interface) -> float:
    """Heat conductance of the film beside that of its electrons [W/(m2 K)]."""
    assert interface.film_heat_conductance is not None
    return interface.film_heat_conductance.si


def _table(interface: Interface, rounded: bool) -> ContactLaw:
    rows = interface.table or ()
    temperature_K = np.array([row.temperature.si for row in rows])
    return TableContact(temperature_K, np.array([row.resistance.si for row in rows]), grows=rounded)


OWN_LAWS = {
    "metallic": OwnLaw(("film", "film_heat_conductance"), _metallic),
    "asperity": OwnLaw(("film", "film_heat_conductance", "contact_spot_density"), _asperity),
    "table": OwnLaw(("table",), _table),
}
