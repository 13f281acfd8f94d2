"""Save and load give the same weld back, to the last bit, whatever it was made of."""

from __future__ import annotations

import dataclasses
import json
import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from statements import SAMPLE, fake
from test_setup_read import CHANGES
from test_setup_with import bronze

from nugget import plugins
from nugget.contact.laws import MetallicContact
from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.byvalue import decode, digest, encode
from nugget.materials.layered import Layered
from nugget.materials.material import Material
from nugget.merit.limit import Limit
from nugget.outcome.loading import load_weld
from nugget.outcome.weld import run_weld
from nugget.setup import Setup, default_setup, load_setup
from nugget.study.statement.assessment import judge, record

QUICK = {
    "numerics.refinement": 0.3,
    "numerics.tolerance": 20.0,
    "pulse.0.duration": 1e-3,
    "hold_time": 1e-3,
    "numerics.max_time": 5e-3,
}
PYTHON: dict[str, Any] = {
    "electrode.force": 61.3,
    "strip.material": bronze(),
    "contact.radius_factor": 1.0 / 3.0,
    "limits.interior_temperature": 400.123,
    "limits.expulsion": True,
}


@settings(max_examples=40)
@given(st.fixed_dictionaries({}, optional=CHANGES), st.floats(1.0, 500.0), st.booleans(), st.booleans())
def test_every_view_reads_back_as_the_setup(
    changes: dict[str, Any], force_N: float, own: bool, whole: bool
) -> None:
    setup = default_setup().with_(changes).with_({"electrode.force": force_N})
    if own:
        setup = setup.with_({"electrode.material": bronze()})
    tree = setup.document(whole)
    for again in (
        Setup.from_document(tree),
        Setup.from_document(json.loads(json.dumps(tree, allow_nan=False))),
        Setup.from_document(tomllib.loads(setup.to_toml())),
    ):
        assert again == setup
        assert again.document(whole) == tree
        assert again.limits == setup.limits


@pytest.mark.parametrize(
    "changes",
    [
        {},
        PYTHON,
        {"strip.temper": "hard", "cell.wall_material": "nickel-200", "source.open_circuit_voltage": 8.1},
    ],
    ids=["default", "made in Python", "two tempers of one metal"],
)
def test_a_weld_read_back_is_the_weld(changes: dict[str, Any], tmp_path: Path) -> None:
    weld = run_weld(default_setup().with_(QUICK).with_(changes))
    again = load_weld(weld.save(tmp_path / "weld.npz"))
    assert again.setup == weld.setup
    assert run_weld(again.setup).figures == again.figures == weld.figures
    (tmp_path / "weld.toml").write_text(weld.setup.to_toml(), encoding="utf-8")
    assert run_weld(load_setup(tmp_path / "weld.toml")).figures == weld.figures


def test_the_record_of_a_changed_setup_is_of_that_setup(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(SAMPLE, fake)
    setup = default_setup().with_(QUICK).with_(PYTHON)
    tree = json.loads(json.dumps(record(judge(setup)), allow_nan=False))
    assert Setup.from_document(tree["setup"]) == setup
    assert any(one["item"].startswith("bronze: ") for one in tree["data_sources"])


def test_saved_data_outlive_a_change_of_the_built_in_ones(monkeypatch: pytest.MonkeyPatch) -> None:
    setup = default_setup()
    whole, names = setup.document(whole=True), setup.document()
    find: Callable[..., Material | Layered] = library.find

    def changed(name: str, paths: Any = ()) -> Material | Layered:
        found = find(name, paths)
        return dataclasses.replace(found, density_kg_m3=1e3) if isinstance(found, Material) else found

    monkeypatch.setattr(library, "find", changed)
    assert Setup.from_document(whole) == setup
    assert Setup.from_document(names) != setup


def test_a_material_file_may_be_gone(tmp_path: Path) -> None:
    from nugget.materials import template

    own = tmp_path / "own-strip.toml"
    own.write_text(template.from_material("nickel-201", "own-strip"), "utf-8")
    setup = default_setup({"materials": [str(own)], "strip.material": "own-strip"})
    tree = setup.document()
    own.unlink()
    assert Setup.from_document(tree) == setup
    assert setup.with_({"electrode.material": "copper"}).strip == setup.strip


def test_damaged_data_are_one_line() -> None:
    tree = default_setup().with_({"strip.material": bronze()}).document()
    entry = tree["enclosed"]["materials"]["bronze"]
    for broken in ({**entry, "sha256": "0"}, {**entry, "data": {}}, {**entry, "kind": "Setup"}, 3, {}):
        tree["enclosed"]["materials"]["bronze"] = broken
        with pytest.raises(InputError, match=r"enclosed.materials.bronze: got .*data as they were saved"):
            Setup.from_document(tree)
    for odd in (3, {"materials": 3}, {"other": {}}):
        with pytest.raises(InputError, match="enclosed"):
            Setup.from_document({**tree, "enclosed": odd})


@pytest.mark.parametrize("name", library.names())
def test_every_material_keeps_its_data_and_hash(name: str) -> None:
    one = library.find(name)
    again = decode(type(one), json.loads(json.dumps(encode(one), allow_nan=False)))
    assert digest(again) == digest(one)
    if isinstance(one, Material) and isinstance(again, Material):
        assert (again.conductivity_z is again.conductivity_r) == (one.conductivity_z is one.conductivity_r)


def test_what_plugins_made_is_saved_with_the_setup() -> None:
    limit = Limit("separator", "interior_peak_K", "at most", 390.0, "a test")
    plugins.register(plugins.DAMAGE_LIMITS, "saved-limit", lambda: limit)
    plugins.register(plugins.CONTACT_LAWS, "saved-law", lambda: MetallicContact(3e-12))
    try:
        setup = default_setup(
            {"damage_limits": [{"plugin": "saved-limit"}], "contact.faying": {"law": "saved-law"}}
        )
        tree = json.loads(json.dumps(setup.document()))
        assert Setup.from_document(tree) == setup
        plugins.unregister(plugins.DAMAGE_LIMITS, "saved-limit")
        again = Setup.from_document(tree)
        assert again.limits == setup.limits, "held by value: the plugin may be gone"
        plugins.register(plugins.CONTACT_LAWS, "saved-law", lambda: MetallicContact(9e-12))
        with pytest.raises(InputError, match=r"contact.faying: got 'MetallicContact of another state"):
            Setup.from_document(tree)
        assert again.with_({"electrode.force": 40.0}).contact.faying.made == MetallicContact(3e-12)  # type: ignore[attr-defined]
    finally:
        for group, name in ((plugins.DAMAGE_LIMITS, "saved-limit"), (plugins.CONTACT_LAWS, "saved-law")):
            plugins.unregister(group, name)


def test_what_a_setup_does_not_have_does_not_come_back() -> None:
    """Slots go when the tips move, though the default setup has some."""
    turned = default_setup().with_({"arrangement.kind": "series along"})
    back = turned.with_({"arrangement.kind": "series across"})
    assert back.file.strip.slots is None
    assert Setup.from_document(back.document()) == back
