"""Setups that use what plugins and the user's own material files bring."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from nugget import plugins
from nugget.errors import InputError
from nugget.materials import library, template
from nugget.setup import default_setup, load_setup, setup_from_dict

CODE = """
from nugget.contact.laws import MetallicContact
from nugget.merit.limit import Limit
from nugget.setup.description import Kinetics
from nugget.supply.kinds import ConstantCurrent

def law(film_ohm_m2=3e-12): return MetallicContact(film_ohm_m2)
def source(current_A=900.0): return ConstantCurrent(current_A)
def limit(temperature_K=400.0): return Limit("mine", "interior_peak_K", "at most", temperature_K, "a test")
def kinetics(): return Kinetics("another reaction", 1e10, 1e5, "a test")
def odd(): return 3
"""


@pytest.fixture(autouse=True)
def brought(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A package that brings one of everything, as an installer would leave it."""
    info = tmp_path / "demo_setup-1.0.dist-info"
    info.mkdir()
    (info / "METADATA").write_text("Metadata-Version: 2.1\nName: demo-setup\nVersion: 1.0\n")
    (info / "entry_points.txt").write_text(
        f"[{plugins.CONTACT_LAWS}]\ndemo-law = demo_setup:law\n"
        f"[{plugins.SOURCES}]\ndemo-source = demo_setup:source\n"
        f"[{plugins.DAMAGE_LIMITS}]\ndemo-limit = demo_setup:limit\ndemo-kinetics = demo_setup:kinetics\n"
        "demo-odd = demo_setup:odd\n"
    )
    (tmp_path / "demo_setup.py").write_text(CODE)
    monkeypatch.syspath_prepend(tmp_path)
    plugins.look_again()
    yield
    plugins.look_again()


def test_a_contact_law_of_a_plugin_is_made_with_its_options() -> None:
    setup = default_setup(["contact.faying={ law = 'demo-law', options = { film_ohm_m2 = 5e-12 } }"])
    assert setup.contact.faying.film_ohm_m2 == 5e-12  # type: ignore[attr-defined]
    assert setup_from_dict(setup.document()).contact.faying == setup.contact.faying


def test_a_source_of_a_plugin_is_made_with_its_options() -> None:
    setup = default_setup(
        ["source={ kind = 'plugin', plugin = 'demo-source', options = { current_A = 700 } }"]
    )
    assert setup.circuit.source.value(0.0) == 700.0


def test_a_damage_limit_is_added_and_a_kinetics_replaces_ours() -> None:
    setup = default_setup(["damage_limits=[{ plugin = 'demo-limit' }, { plugin = 'demo-kinetics' }]"])
    assert [limit.value for limit in setup.limits if limit.figure == "interior_peak_K"] == [403.15, 400.0]
    assert setup.kinetics is not None
    assert setup.kinetics.title == "another reaction"


def test_without_an_interior_its_limits_fall_away() -> None:
    setup = default_setup(["cell.kind=coupon", "damage_limits=[{ plugin = 'demo-limit' }]"])
    assert not [limit for limit in setup.limits if limit.figure.startswith("interior")]


@pytest.mark.parametrize(
    ("override", "message"),
    [
        (
            "contact.tip.law=rust",
            "override contact.tip.law: got 'rust', expected one of metallic, asperity, table, demo",
        ),
        (
            "contact.tip={ law = 'demo-law', film = '1e-12 ohm m2' }",
            "expected only options: the law is demo-law",
        ),
        ("contact.tip.options={ film_ohm_m2 = 1e-12 }", "expected no options: the law is metallic"),
        (
            "contact.tip={ law = 'demo-law', options = { size = 1 } }",
            'override contact.tip: plugin demo-law of demo-setup 1.0: got "TypeError: law() got an',
        ),
        (
            "damage_limits=[{ plugin = 'demo-odd' }]",
            "damage_limits.0: plugin demo-odd of demo-setup 1.0: got 'int', expected a Limit or",
        ),
        ("damage_limits=[{ plugin = 'absent' }]", "got 'absent', expected one of"),
        ("materials=['absent.toml']", "override materials: got "),
    ],
)
def test_what_a_plugin_cannot_do_is_one_line(override: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        default_setup([override])
    assert message in str(caught.value)


def test_a_setup_finds_the_materials_beside_it_wherever_it_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "own-strip.toml").write_text(template.from_material("nickel-201", "own-strip"), "utf-8")
    path = tmp_path / "mine.toml"
    path.write_text('materials = ["own-strip.toml"]\nstrip.material = "own-strip"\n', "utf-8")
    setup = load_setup(path)
    monkeypatch.chdir("/")
    assert setup.strip[0].material.name == "own-strip"
    assert setup.with_({"electrode.force": "20 N"}).strip[0].material.name == "own-strip"
    assert "own-strip" not in library.names()


def test_a_mistake_in_an_own_material_names_setup_file_and_row(tmp_path: Path) -> None:
    text = template.from_material("nickel-201", "own-strip").replace("[20, 8.5]", "[20, -8.5]")
    (tmp_path / "own-strip.toml").write_text(text, "utf-8")
    with pytest.raises(InputError) as caught:
        default_setup([f"materials=['{tmp_path}/own-strip.toml']", "strip.material=own-strip"])
    assert "override strip.material: " in str(caught.value)
    assert "own-strip.toml: resistivity[1].rows[1]: got -8.5" in str(caught.value)
