"""The ways in for material files: built-in, the user's own folder, given paths, installed plugins.

Every way is a folder of files, each called after its material, so that names are known before
any file is read. `nugget.materials.material_file` then treats all files alike.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable
from pathlib import Path

from nugget import plugins
from nugget.errors import InputError

BUILT_IN = "built-in"
SUFFIX = ".toml"


@dataclass(frozen=True)
class Entry:
    """One material file: its name, which way it came, and the file."""

    name: str
    origin: str
    file: Path | Traversable


@dataclass(frozen=True)
class Catalogue:
    """All material files in reach.

    Attributes
    ----------
    entries : tuple of Entry
        In alphabetical order; a name occurs twice when two ways bring it.
    problems : tuple of InputError
        Plugins that bring nothing, and why.
    """

    entries: tuple[Entry, ...]
    problems: tuple[InputError, ...]

    def names(self) -> list[str]:
        """Return every name once, in alphabetical order."""
        return sorted({entry.name for entry in self.entries})

    def entry(self, name: str) -> Entry:
        """Return the one entry called `name`.

        Raises
        ------
        InputError
            When there is none, or more than one.
        """
        found = [entry for entry in self.entries if entry.name == name]
        if not found:
            from nugget.materials.messages import nearest

            raise InputError("material", name, nearest(name, self.names()))
        if len(found) > 1:
            both = " and ".join(entry.origin for entry in found)
            raise InputError(
                f"material {name}", f"two of that name, from {both}", "one: rename or remove the other"
            )
        return found[0]


def user_folder() -> Path | None:
    """Return the folder for the user's own materials: ``$NUGGET_MATERIALS``, or one under ``~/.config``.

    None for a user without a home.
    """
    given = os.environ.get("NUGGET_MATERIALS")
    try:
        return Path(given) if given else Path.home() / ".config" / "nugget" / "materials"
    except RuntimeError:
        return None


def catalogue(paths: Sequence[str | Path] = ()) -> Catalogue:
    """List every material file in reach.

    Parameters
    ----------
    paths : sequence of str or Path
        Files or folders besides the built-in ones, the user's folder and the plugins.

    Raises
    ------
    InputError
        When one of `paths` is neither a folder nor a material file.
    """
    found = list(_files((files("nugget.materials") / "data").iterdir(), BUILT_IN))
    own = user_folder()
    problems = list(plugins.broken_packages())
    try:
        if own is not None and own.is_dir():
            found += _files(own.iterdir())
    except OSError as failure:  # nobody has to have one
        problems.append(InputError(str(own), failure.strerror or str(failure), "a folder that can be read"))
    for path in map(Path, paths):
        try:
            if path.is_dir():
                found += _files(path.iterdir())
            elif path.is_file() and path.suffix == SUFFIX:
                found += _files([path])
            else:
                raise InputError("materials", str(path), "a folder or a .toml file that exists")
        except (OSError, ValueError) as failure:
            reason = getattr(failure, "strerror", None) or str(failure)
            given = f"{path}, {reason.lower()}"
            raise InputError("materials", given, "a folder or a .toml file that can be read") from failure
    for plugin in plugins.installed(plugins.MATERIALS):
        try:
            found += _files(plugins.folder(plugin).iterdir(), plugin.where)
        except InputError as problem:
            problems.append(problem)
        except OSError as failure:
            reason = failure.strerror or str(failure)
            problems.append(InputError(plugin.where, reason, "a folder that can be read"))
    unique = {(entry.name, str(entry.file)): entry for entry in found}
    return Catalogue(
        tuple(sorted(unique.values(), key=lambda entry: (entry.name, entry.origin))), tuple(problems)
    )


def _files(items: Iterable[Path | Traversable], origin: str | None = None) -> Iterable[Entry]:
    for item in items:
        if item.name.endswith(SUFFIX) and item.is_file():
            yield Entry(item.name.removesuffix(SUFFIX), origin or str(item), item)
