"""What a notebook may add, for this process: contact laws, power sources, limits.

The same rules hold as for an installed plugin. A setup that uses one of them names it, and keeps
the object itself; when it is loaded where nobody has registered the name, an error says which.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeVar

from nugget import plugins
from nugget.contact.laws import ContactLaw
from nugget.merit.limit import Limit
from nugget.setup.description import Kinetics
from nugget.supply.kinds import Source

Law = TypeVar("Law", bound=Callable[..., ContactLaw])
Supply = TypeVar("Supply", bound=Callable[..., Source])
Bound = TypeVar("Bound", bound=Callable[..., Limit | Kinetics])


def register_law(name: str) -> Callable[[Law], Law]:
    """Let a contact law be used by setups of this process, as ``contact.faying.law``.

    Used as a decorator of a class or function that takes options by keyword (numbers in SI units)
    and returns a `nugget.contact.laws.ContactLaw`.

    Parameters
    ----------
    name : str
        What setups call it: small letters, digits, ``-``, ``_`` and ``.``.

    Raises
    ------
    InputError
        When the name cannot be used or is taken.

    Examples
    --------
    >>> import nugget
    >>> from nugget.contact.laws import MetallicContact
    >>> @nugget.register_law("thick-film")
    ... def thick_film(film_ohm_m2=5e-12):
    ...     return MetallicContact(film_ohm_m2)
    >>> setup = nugget.default_setup(["contact.faying={ law = 'thick-film' }"])
    >>> setup.contact.faying.film_ohm_m2
    5e-12
    """

    def keep(factory: Law) -> Law:
        from nugget.setup.own_laws import OWN_LAWS  # pydantic: only when a law is registered

        plugins.register(plugins.CONTACT_LAWS, name, factory, tuple(OWN_LAWS))
        return factory

    return keep


def register_source(name: str) -> Callable[[Supply], Supply]:
    """Let a power source be used by setups of this process, as ``source.plugin``.

    Used as a decorator of a class or function that takes options by keyword (numbers in SI units)
    and returns a `nugget.supply.kinds.Source`.

    Parameters
    ----------
    name : str
        What setups call it.

    Raises
    ------
    InputError
        When the name cannot be used or is taken.

    Examples
    --------
    >>> import nugget
    >>> from nugget.supply.kinds import ConstantCurrent
    >>> @nugget.register_source("even-current")
    ... def even_current(current_A=900.0):
    ...     return ConstantCurrent(current_A)
    >>> setup = nugget.default_setup(["source={ kind = 'plugin', plugin = 'even-current' }"])
    >>> setup.circuit.source.value(0.0)
    900.0
    """

    def keep(factory: Supply) -> Supply:
        plugins.register(plugins.SOURCES, name, factory)
        return factory

    return keep


def register_limit(name: str) -> Callable[[Bound], Bound]:
    """Let a limit, or a kinetics, be used by setups of this process, in ``damage_limits``.

    Used as a decorator of a class or function that takes options by keyword (numbers in SI units)
    and returns a `Limit` or a `nugget.setup.description.Kinetics`.

    Parameters
    ----------
    name : str
        What setups call it.

    Raises
    ------
    InputError
        When the name cannot be used or is taken.

    Examples
    --------
    >>> import nugget
    >>> @nugget.register_limit("cooler-wall")
    ... def cooler_wall(temperature_K=500.0):
    ...     return nugget.Limit(
    ...         "cooler-wall", "can_inner_peak_K", "at most", temperature_K, "the team's own", severity="harm"
    ...     )
    >>> setup = nugget.default_setup(["damage_limits=[{ plugin = 'cooler-wall' }]"])
    >>> [limit.value for limit in setup.limits if limit.id == "cooler-wall"]
    [500.0]
    """

    def keep(factory: Bound) -> Bound:
        plugins.register(plugins.DAMAGE_LIMITS, name, factory)
        return factory

    return keep
