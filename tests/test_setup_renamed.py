"""Keys of an old setup file: named in one line each, and rewritten without a change of the weld."""

from __future__ import annotations

from pathlib import Path

import pytest

from nugget.cli.main import main
from nugget.errors import InputError
from nugget.setup import default_setup, find_field, load_setup
from nugget.setup.numeric_fields import quantity_fields
from nugget.setup.renamed import RENAMED, converted, new_path

OLD = """# my pack
joint.diameter = "0.7 mm"

[electrode]
form = "flat" # bench head
force = "60 N"

[contact]
gap = "6 um" # shims
spread = "0.1 mm"
tip.spots = "3e8 1/m2"

[contact.faying]
spots = "2e8 1/m2"

[[pulse]]
duration = "2 ms"
gap = "5 ms"

[[pulse]]
duration = "4 ms"
# gap = "0 ms"

[ambient]
film_coefficient = "12 W/(m2 K)"

[numerics]
longest = "9 s"
stirring_factor = 2.0

[uncertainty.spread]
"contact.tip.spots" = "x2"
"""


@pytest.mark.parametrize("old", sorted(RENAMED))
def test_an_old_key_is_refused_with_its_new_name(old: str) -> None:
    path = old.replace("*", "0")
    new = new_path(path)
    with pytest.raises(InputError, match=f"expected {new}, which the key was renamed to"):
        default_setup([f"{path}=1"])
    with pytest.raises(InputError, match=f"expected {new}, which the key was renamed to"):
        find_field(default_setup(), path)


def test_every_new_name_is_a_key() -> None:
    names = {*quantity_fields(default_setup()), "electrode.tip_shape"}
    assert {new_path(old.replace("*", "0")) for old in RENAMED} <= names


def test_an_old_file_is_rewritten_with_its_comments(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "old.toml").write_text(OLD)
    with pytest.raises(InputError, match="was renamed to"):
        load_setup(tmp_path / "old.toml")
    assert main(["setup", "--convert", str(tmp_path / "old.toml")]) == 0
    (tmp_path / "new.toml").write_text(capsys.readouterr().out)
    setup = load_setup(tmp_path / "new.toml")
    assert setup.file.electrode.tip_shape == "flat"
    assert setup.get("contact.stand_off") == pytest.approx(6e-6)
    assert setup.get("contact.tip.contact_spot_density") == pytest.approx(3e8)
    assert [pulse.cool_time_s for pulse in setup.train] == [5e-3, 0.0]
    assert setup.file.uncertainty.spread == {"contact.tip.contact_spot_density": "x2"}
    text = (tmp_path / "new.toml").read_text()
    assert text.splitlines()[0] == "# my pack"
    assert 'stand_off = "6 um" # shims' in text
    assert '# cool_time = "0 ms"' in text


def test_tables_within_a_line_are_written_anew() -> None:
    text, kept = converted('contact = { gap = "6 um" }\npulse = [{ duration = "2 ms", gap = "1 ms" }]\n')
    assert not kept
    assert 'stand_off = "6 um"' in text
    assert 'cool_time = "1 ms"' in text


def test_a_file_without_old_keys_stays_as_it_is() -> None:
    text = '# mine\nstrip.thickness = "0.2 mm"\n'
    assert converted(text) == (text, True)
