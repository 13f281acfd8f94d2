"""The ways in for material files: where they are looked for, duplicates, broken plugins."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from nugget import plugins
from nugget.errors import InputError
from nugget.materials import library
from nugget.materials.discovery import catalogue

DATA = Path(library.__file__).parent / "data"


@pytest.fixture(autouse=True)
def own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """An empty folder as the user's own."""
    folder = tmp_path / "own"
    folder.mkdir()
    monkeypatch.setenv("NUGGET_MATERIALS", str(folder))
    plugins.look_again()
    yield folder
    plugins.look_again()


def put(folder: Path, name: str, like: str = "nickel-200") -> Path:
    path = folder / f"{name}.toml"
    path.write_text(
        (DATA / f"{like}.toml").read_text("utf-8").replace(f'name = "{like}"', f'name = "{name}"'), "utf-8"
    )
    return path


def test_a_file_in_the_users_folder_is_a_material(own: Path) -> None:
    path = put(own, "my-strip")
    assert "my-strip" in library.names()
    assert library.get("my-strip").origin == str(path)


def test_a_given_file_or_folder_is_looked_at_for_this_call_only(tmp_path: Path) -> None:
    path = put(tmp_path, "my-strip")
    assert library.get("my-strip", [path]).name == "my-strip"
    assert library.get("my-strip", [tmp_path]).name == "my-strip"
    with pytest.raises(InputError, match="got 'my-strip', expected one of"):
        library.get("my-strip")


def test_a_path_that_is_not_there_is_an_input_error(tmp_path: Path) -> None:
    with pytest.raises(
        InputError, match=r"materials: got .*absent.* expected a folder or a \.toml file that exists"
    ):
        library.names([tmp_path / "absent"])


def test_the_same_folder_given_twice_is_no_duplicate(own: Path) -> None:
    put(own, "my-strip")
    assert library.get("my-strip", [own, own]).name == "my-strip"


def test_a_duplicate_name_is_an_error_that_names_both_and_spares_the_others(own: Path) -> None:
    path = put(own, "nickel-200")
    with pytest.raises(InputError) as caught:
        library.get("nickel-200")
    assert f"two of that name, from {path} and built-in" in str(caught.value)
    assert library.get("nickel-201").name == "nickel-201"


def test_a_file_that_is_not_called_after_its_material_is_refused(own: Path) -> None:
    put(own, "my-strip").rename(own / "other.toml")
    with pytest.raises(
        InputError, match=r"name: got 'my-strip', expected other, as the file is called other\.toml"
    ):
        library.get("other")


def test_a_changed_file_is_read_afresh(own: Path) -> None:
    path = put(own, "my-strip")
    assert library.get("my-strip").density_kg_m3 == pytest.approx(8888.2, abs=0.1)
    path.write_text(path.read_text("utf-8").replace("[20, 8890]", "[20, 8900]"), "utf-8")
    assert library.get("my-strip").density_kg_m3 == pytest.approx(8897.6, abs=0.1)


def plugin(site: Path, distribution: str, target: str) -> None:
    info = site / f"{distribution.replace('-', '_')}-2.1.dist-info"
    info.mkdir()
    (info / "METADATA").write_text(f"Metadata-Version: 2.1\nName: {distribution}\nVersion: 2.1\n")
    (info / "entry_points.txt").write_text(f"[{plugins.MATERIALS}]\nalloys = {target}\n")


def test_a_plugins_materials_are_found_and_its_mistakes_named_by_plugin_field_and_row(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.syspath_prepend(tmp_path)
    plugin(tmp_path, "demo-alloys", "demo_alloys")
    plugin(tmp_path, "demo-broken", "demo_absent")
    (tmp_path / "demo_alloys").mkdir()
    put(tmp_path / "demo_alloys", "good-strip")
    bad = put(tmp_path / "demo_alloys", "bad-strip")
    bad.write_text(bad.read_text("utf-8").replace("[20, 9.6]", "[20, -9.6]"), "utf-8")
    plugins.look_again()

    assert library.get("good-strip").origin == "plugin alloys of demo-alloys 2.1"
    with pytest.raises(InputError) as caught:
        library.get("bad-strip")
    assert str(caught.value).startswith(
        "plugin alloys of demo-alloys 2.1, bad-strip.toml: resistivity[1].rows[2]: got -9.6"
    )
    (problem,) = catalogue().problems
    assert problem.where == "plugin alloys of demo-broken 2.1"
