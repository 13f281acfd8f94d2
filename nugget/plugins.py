"""Plugins: what other installed packages add through entry points.

A package adds to nugget by an entry point in one of the groups below; nothing of ours changes.
Finding them reads package metadata only; a plugin is imported when something by its name is
asked for. Whatever it does wrong becomes an `InputError` that names plugin and distribution, and
no broken plugin stops another one.

Material plugins are data and are never imported. The other groups run code: installing such a
package is trusting it with everything that your account may do.

The same can be done from Python without a package, by `register`: for this process only.
"""

from __future__ import annotations

import importlib.util
import re
from collections.abc import Callable, Collection, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from importlib.metadata import Distribution, EntryPoint, distributions
from pathlib import Path
from typing import Any, TypeVar

from nugget.errors import InputError

MATERIALS = "nugget.materials.v1"
"""The entry point names a package; the ``.toml`` files in its folder are materials."""

CONTACT_LAWS = "nugget.contact_laws.v1"
"""The entry point is a callable that takes options by keyword and returns a contact law."""

SOURCES = "nugget.sources.v1"
"""The entry point is a callable that takes options by keyword and returns a power source."""

DAMAGE_LIMITS = "nugget.damage_limits.v1"
"""The entry point is a callable that takes options by keyword and returns a limit or a kinetics."""

FIGURES = "nugget.figures.v1"
"""The entry point is a callable that returns a figure of merit, or several."""

_OURS = re.compile(r"nugget\.\w+\.v\d+")

T = TypeVar("T")

HERE = "this Python session"
"""Where a plugin comes from that no package brings."""


@dataclass(frozen=True)
class Plugin:
    """One entry point of an installed package.

    Attributes
    ----------
    name : str
        Name of the entry point.
    distribution : str
        Name and version of the package that registers it.
    target : str
        What it points at, ``module`` or ``module:attribute``.
    factory : callable or None
        What was registered in this process; None for an entry point.
    """

    name: str
    distribution: str
    target: str
    group: str
    factory: Callable[..., Any] | None = None

    @property
    def where(self) -> str:
        """Words that name this plugin in an error."""
        return f"plugin {self.name} of {self.distribution}"


_REGISTERED: dict[tuple[str, str], Plugin] = {}
"""By group and name, what was registered in this process."""


def register(group: str, name: str, factory: Callable[..., Any], reserved: Collection[str] = ()) -> None:
    """Let `factory` be known in `group` as `name`, in this process, as if a package brought it.

    A second call with the same name takes the place of the first, so that a cell of a notebook
    can be run again.

    Parameters
    ----------
    group : str
        One of the groups that run code.
    name : str
        What setups call it: small letters, digits, ``-``, ``_`` and ``.``.
    factory : callable
        Takes options by keyword, numbers in SI units.
    reserved : collection of str
        Names that are taken by what nugget has itself.

    Raises
    ------
    InputError
        When the name cannot be used or is taken, or when `factory` cannot be called.
    """
    if not re.fullmatch(r"[a-z0-9][a-z0-9._-]*", name):
        raise InputError(f"name in {group}", name, "small letters, digits, '-', '_' and '.'")
    taken = [plugin.distribution for plugin in installed(group) if plugin.name == name]
    if name in reserved or taken:
        owner = f"from {taken[0]}" if taken else "of nugget's own"
        raise InputError(f"name in {group}", name, f"another name: there is one {owner}")
    if not callable(factory):
        raise InputError(
            f"{name} of {group}", type(factory).__name__, "something that can be called, such as a class"
        )
    target = getattr(factory, "__qualname__", type(factory).__name__)
    _REGISTERED[group, name] = Plugin(name, HERE, target, group, factory)


def unregister(group: str, name: str) -> None:
    """Forget what `register` was told; nothing happens when there is no such name."""
    _REGISTERED.pop((group, name), None)


def known(group: str) -> tuple[Plugin, ...]:
    """Return the plugins of `group` that packages bring, and those of this process."""
    own = (plugin for (where, _), plugin in sorted(_REGISTERED.items()) if where == group)
    return (*installed(group), *own)


@lru_cache(maxsize=16)
def installed(group: str) -> tuple[Plugin, ...]:
    """Return the plugins of `group`, in alphabetical order; none of them is imported.

    Read once in a process: packages that are installed later are not seen.
    """
    found = {
        Plugin(entry.name, distribution, entry.value, group)
        for distribution, entry in _entries()[0]
        if entry.group == group
    }
    return tuple(sorted(found, key=lambda plugin: (plugin.name, plugin.distribution)))


def broken_packages() -> tuple[InputError, ...]:
    """Return what is wrong with installed packages whose entry points cannot be read.

    They are passed over everywhere else: what they bring is not ours in most cases.
    """
    return _entries()[1]


@lru_cache(maxsize=1)
def _entries() -> tuple[tuple[tuple[str, EntryPoint], ...], tuple[InputError, ...]]:
    """Entry points of all installed packages, each with name and version of its package."""
    found: list[tuple[str, EntryPoint]] = []
    broken: list[InputError] = []
    seen: set[str] = set()
    for distribution in distributions():
        try:
            text = distribution.read_text("entry_points.txt") or ""
        except Exception as error:  # a stranger's metadata may be anything
            text, words = "", _distribution_words(distribution)
            broken.append(InputError(f"package {words}", _words(error), "readable entry points"))
        if not _OURS.search(text):  # most packages; what else is in their metadata takes long to read
            continue
        words = _distribution_words(distribution)
        if words.rpartition(" ")[0] in seen:  # an earlier place on the path goes first
            continue
        seen.add(words.rpartition(" ")[0])
        try:
            entries = [entry for entry in distribution.entry_points if _OURS.fullmatch(entry.group)]
            if not entries:
                raise ValueError("none of them can be made out")
            found += [(words, entry) for entry in entries]
        except Exception as error:
            broken.append(InputError(f"package {words}", _words(error), "entry points that can be read"))
    return tuple(found), tuple(broken)


def look_again() -> None:
    """Forget which packages are installed: they are looked for afresh when next asked for."""
    _entries.cache_clear()
    installed.cache_clear()


def _distribution_words(distribution: Distribution) -> str:
    try:
        return f"{distribution.metadata['Name']} {distribution.version}"
    except Exception:
        return f"{getattr(distribution, '_path', 'an unnamed package')} of unknown version"


def names(group: str) -> list[str]:
    """Return the names that the plugins of `group` add."""
    return sorted({plugin.name for plugin in known(group)})


def problems(group: str) -> list[InputError]:
    """Load every plugin of a group that runs code, and return what is wrong, one error for each name."""
    found: list[InputError] = []
    for name in names(group):
        try:
            _load(_only(group, name))
        except InputError as problem:
            found.append(problem)
    return found


def make(group: str, name: str, kind: type[T], options: Mapping[str, Any] | None = None) -> T:
    """Load one plugin, call it with `options` and return what it makes.

    Parameters
    ----------
    group : str
        One of the groups that run code.
    name : str
    kind : type
        Type or runtime-checkable protocol that the result must have.
    options : mapping of str to object
        Passed by keyword, numbers in SI units.

    Raises
    ------
    InputError
        When there is no such plugin, when two packages add it, or when it fails.
    """
    plugin = _only(group, name)
    factory = _load(plugin)
    with at_work(plugin.where, f"options that {plugin.target} accepts"):
        made = factory(**(options or {}))
        if isinstance(made, kind):  # asks a protocol's properties, which are the plugin's own
            return made
    raise InputError(plugin.where, type(made).__name__, f"an object that works as {kind.__name__}")


@contextmanager
def at_work(where: str, expected: str) -> Iterator[None]:
    """Turn whatever a plugin raises in the body into an `InputError` that names it.

    Asking the program to exit is an error too: it would look as if all were well.
    """
    import numpy as np

    try:
        # Its own divisions are its own affair, as long as its answer is finite.
        with np.errstate(divide="ignore", over="ignore", invalid="ignore"):
            yield
    except KeyboardInterrupt:  # the user's, as far as anyone can tell
        raise
    except InputError as error:
        raise InputError(f"{where}: {error.where}", error.given, error.expected) from error
    except BaseException as error:
        raise InputError(where, _words(error), expected) from error


@dataclass(frozen=True)
class Cover:
    """What a plugin made, whatever is asked of it in a calculation: what it does wrong is said in its name.

    A kind of cover checks the answers that a calculation rests on; everything else is passed on as it is.

    Attributes
    ----------
    made : object
    where : str
        Words that name the plugin in an error.
    """

    made: Any
    where: str

    def __getattr__(self, name: str) -> Any:
        if name.startswith("__") or "made" not in self.__dict__:  # as while it is copied or unpickled
            raise AttributeError(name)
        return getattr(self.made, name)

    def flag(self, name: str) -> bool:
        """An attribute that is true or false."""
        with at_work(self.where, f"{name}, true or false"):
            return bool(getattr(self.made, name))


def folder(plugin: Plugin) -> Path:
    """Return the folder of a data plugin, without running any of its code.

    Raises
    ------
    InputError
        When the entry point does not name an installed package.
    """
    top, *inner = plugin.target.split(".")
    if ":" in plugin.target:
        raise InputError(
            plugin.where, plugin.target, "the name of a package with material files, without ':'"
        )
    try:
        spec = importlib.util.find_spec(top)
        places = list(spec.submodule_search_locations or ()) if spec else []
    except Exception as error:  # what is loaded already may have no such record, or a broken one
        expected = "the name of an installed package with material files"
        raise InputError(plugin.where, _words(error), expected) from error
    for place in places:
        if (path := Path(place, *inner)).is_dir():
            return path
    raise InputError(plugin.where, plugin.target, "the name of an installed package with material files")


def _only(group: str, name: str) -> Plugin:
    """Return the one plugin called `name`."""
    found = [plugin for plugin in known(group) if plugin.name == name]
    if not found:
        have = ", ".join(names(group)) or "none: none is installed"
        raise InputError(
            f"plugin of {group}", name, f"one of {have}; what Python made has to be registered there first"
        )
    if len(found) > 1:
        both = " and ".join(plugin.distribution for plugin in found)
        raise InputError(
            f"plugin {name} of {group}", f"two of that name, from {both}", "one: uninstall the other"
        )
    return found[0]


def _load(plugin: Plugin) -> Any:
    """Import what `plugin` points at and check that it can be called."""
    if plugin.factory is not None:
        return plugin.factory
    with at_work(plugin.where, f"{plugin.target} to import without an error"):
        loaded = EntryPoint(plugin.name, plugin.target, plugin.group).load()
    if not callable(loaded):
        raise InputError(plugin.where, type(loaded).__name__, "something that can be called, such as a class")
    return loaded


def _words(error: BaseException) -> str:
    """One line that says which error it was."""
    try:
        return f"{type(error).__name__}: {error}".splitlines()[0].rstrip(": ")
    except Exception:  # not even the error of a stranger has to be fit to be shown
        return type(error).__name__
