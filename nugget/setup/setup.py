"""The setup: a checked document, what its names mean, and the SI description that follows."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pydantic import BaseModel, ValidationError

from nugget import plugins
from nugget.materials.byvalue import same
from nugget.materials.layered import Layered
from nugget.materials.material import Material
from nugget.setup.build import build, look_in
from nugget.setup.changes import planted
from nugget.setup.consistency import check
from nugget.setup.description import Description
from nugget.setup.fill import Where, fill
from nugget.setup.held import COMPLETE, ENCLOSED, Held, check_given, enclosed, plugin_words
from nugget.setup.limits import NONE, check_off, declared, spelt
from nugget.setup.numeric_fields import QuantityField, find_field, quantity_fields, value_of
from nugget.setup.overlay import Tree, lay
from nugget.setup.quantity import SI
from nugget.setup.refusals import as_input_error
from nugget.setup.schema import SetupFile
from nugget.setup.setup_html import setup_html
from nugget.setup.sources import SOURCE_RESISTANCE
from nugget.setup.toml import toml_text


class Setup(Description):
    """One weld as a setup file says it, checked however it is made, never changed.

    A setup is made by `default_setup`, `load_setup` or `preset`, and another one from it by
    `with_`. Its truth is `file`, the checked document, with the materials and the plugins' limits
    held by value; everything else, such as ``force_N``, is worked out from that once.

    Attributes
    ----------
    file : SetupFile
        The sections of the setup file, every default filled in. A quantity keeps its exact SI
        value beside the text that it is written as.

    Examples
    --------
    >>> import nugget
    >>> setup = nugget.default_setup().with_({"electrode.force": "60 N"})
    >>> setup.force_N, setup.with_(electrode__force=45.0).get("electrode.force")
    (60.0, 45.0)
    """

    file: SetupFile

    def __init__(
        self,
        file: SetupFile,
        held: Held | None = None,
        where: Where = lambda path: path,
        told: Mapping[str, Tree] | None = None,
    ) -> None:
        check(file, where)
        described, held = build(file, where, held or Held(), told or {})
        super().__init__(**described)
        object.__setattr__(self, "file", file)
        object.__setattr__(self, "_held", held)

    if TYPE_CHECKING:
        _held: Held

    @classmethod
    def from_document(cls, tree: Mapping[str, Any]) -> Setup:
        """Return the setup that a document describes, such as `document` returns."""
        from nugget.setup.read import setup_from_dict

        return setup_from_dict(tree)

    @property
    def si(self) -> Description:
        """The SI description alone, for `dataclasses.replace` by what no setup file can say.

        It marches as the setup does; being no document, it cannot be written or read back.
        """
        return Description(**{one.name: getattr(self, one.name) for one in dataclasses.fields(Description)})

    @property
    def held_materials(self) -> Mapping[str, Material | Layered]:
        """Materials and layered products by the name that the document calls them."""
        return MappingProxyType(dict(self._held.materials))

    def with_(self, changes: Mapping[str, Any] | None = None, /, **keywords: Any) -> Setup:
        """Return another setup with some fields changed; what follows from them follows.

        Parameters
        ----------
        changes : mapping, optional
            By the path that a setup file gives a field, such as ``{"electrode.force": "60 N"}``.
            A value is text as in the file, a number in SI units, a pint quantity, a `Material`
            for the name of one, a list of pulses, or a table of keys.
        **keywords
            The same with ``__`` for the dot: ``electrode__force=60.0``.

        Raises
        ------
        InputError
            One line: which field, what was given, what would do.
        """
        tree, given = planted({**(changes or {}), **_dotted(keywords)})
        return self.changed(tree, lambda path: path, given)

    def with_source_resistance(self, ohm: float) -> Setup:
        """Return the setup with another resistance [ohm] in its source.

        That of a plugin's source has no field: the leads take the difference.
        """
        path = SOURCE_RESISTANCE.get(self.file.source.kind)
        if path is not None:
            return self.with_({path: ohm})
        extra = ohm - self.circuit.source.resistance_ohm
        return self.with_({"leads.resistance": self.circuit.lead_ohm + extra})

    def changed(
        self,
        tree: Tree,
        where: Where,
        given: Mapping[str, Material | Layered] | None = None,
        si: bool = True,
    ) -> Setup:
        """Return this setup with `tree` laid over it; only sections that become others are checked again."""
        given = given or {}
        sections = {key: getattr(self.file, key) for key in SetupFile.model_fields}
        # A trace may be long, and nothing else decides what a source is.
        read = {key: tree_of(one) for key, one in sections.items() if key != "source" or key in tree}
        check_off(tree, read, where)
        laid = fill(lay(read, tree), where, Path())
        if "limits" in tree and si:
            laid["limits"] = {id: spelt(id, table) for id, table in laid["limits"].items()}
        others = {key: one for key, one in laid.items() if key in tree or one != read.get(key)}
        file = validated(sections | others, where, si)
        old = self._held
        if "materials" in tree:
            look_in(file, where)
        held = Held(
            {**old.materials, **{one.name: one for one in given.values()}},
            {path: one for path, one in old.made.items() if _at(file, path) == _at(self.file, path)},
        )
        found = Setup(file, held, where)
        check_given(given, old, found._held)
        return found

    def get(self, path: str) -> float | None:
        """Return the number [SI] of a field, such as ``get("electrode.force")``.

        Parameters
        ----------
        path : str
            As in a setup file; its end will do where only one field ends so.

        Returns
        -------
        float or None
            None where the setup says nothing and nothing follows.

        Raises
        ------
        InputError
            When no field of the name holds a number.
        """
        return value_of(self, find_field(self, path).path)

    @cached_property
    def fields(self) -> Mapping[str, QuantityField]:
        """Every field that holds or may hold a number, by its path."""
        return MappingProxyType(quantity_fields(self))

    def document(self, whole: bool = False) -> Tree:
        """Return the setup as a file would write it: a view, to be written or changed at will.

        Parameters
        ----------
        whole : bool
            Enclose the data of all materials, also of the built-in ones. Those that are not
            built in are enclosed in any case.
        """
        tree = self.file.model_dump(mode="json", exclude_none=True)
        tree["limits"] = dict.fromkeys(declared(), NONE) | tree["limits"]
        values = enclosed(self._held, {path: self._plugin(path) for path in self._held.made}, whole)
        return {COMPLETE: True, **tree, **({ENCLOSED: values} if values else {})}

    def to_toml(self) -> str:
        """Return the setup as the text of a setup file, which loads as the same setup."""
        return toml_text(self.document())

    def _plugin(self, path: str) -> str:
        section = _at(self.file, path)
        if path == "source":
            return plugin_words(plugins.SOURCES, section.plugin)
        if path.startswith("contact."):
            return plugin_words(plugins.CONTACT_LAWS, section.law)
        return plugin_words(plugins.DAMAGE_LIMITS, section.plugin)

    def __getstate__(self) -> dict[str, Any]:
        # `fields` is a view that cannot travel to a worker process; it is worked out again there.
        return {key: value for key, value in self.__dict__.items() if key != "fields"}

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Setup):
            return NotImplemented
        mine, theirs = self._held.materials, other._held.materials
        return (
            self.file == other.file
            and (self.limits, self.kinetics) == (other.limits, other.kinetics)
            and mine.keys() == theirs.keys()
            and all(same(mine[name], theirs[name]) for name in mine)
        )

    def __hash__(self) -> int:
        return hash(self.file)

    def _repr_html_(self) -> str:
        return setup_html(self.title, self.document(), self.limits)

    def __repr__(self) -> str:
        strip = " + ".join(f"{layer.material.name} {layer.thickness_m * 1e3:.4g} mm" for layer in self.strip)
        pulses = ", ".join(f"{pulse.duration_s * 1e3:.4g} ms" for pulse in self.train)
        return (
            f"<Setup {self.title!r}: {strip} on {self.file.cell.kind}, {self.force_N:.4g} N,"
            f" {self.file.source.kind}, {pulses}>"
        )


def validated(tree: Mapping[str, Any], where: Where, si: bool) -> SetupFile:
    """Return the checked document; `si` lets bare numbers stand for quantities."""
    try:
        return SetupFile.model_validate(tree, context={SI: si})
    except ValidationError as error:
        raise as_input_error(error, SetupFile, where) from error


def tree_of(value: Any) -> Any:
    """Return a section as a tree whose quantities are exact; what is None is left out."""
    if isinstance(value, BaseModel):
        items = ((key, getattr(value, key)) for key in type(value).model_fields)
        return {
            key: dict(item) if key == "options" else tree_of(item) for key, item in items if item is not None
        }
    if isinstance(value, tuple):
        return [tree_of(item) for item in value]
    if isinstance(value, Mapping):
        return {key: tree_of(item) for key, item in value.items()}
    return value


def _at(model: Any, path: str) -> Any:
    """Return what stands at a key path of the document; None where there is nothing."""
    for key in path.split("."):
        if isinstance(model, tuple):
            model = model[int(key)] if int(key) < len(model) else None
        elif isinstance(model, Mapping):
            model = model.get(key)
        else:
            model = getattr(model, key, None)
    return model


def _dotted(keywords: Mapping[str, Any]) -> dict[str, Any]:
    return {key.replace("__", "."): value for key, value in keywords.items()}
