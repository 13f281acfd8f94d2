"""What a setup file may not say: one broken file per failure mode, one clear line each."""

from __future__ import annotations

from pathlib import Path

import pytest

from nugget.errors import InputError
from nugget.setup import default_setup, load_setup, preset

BAD = Path(__file__).parent / "data" / "bad"

TOML_ERRORS = {"malformed": "line 1", "key_twice": "line 3"}  # the words are Python's own
NAMES = sorted(path.stem.removeprefix("setup_") for path in BAD.glob("setup_*.toml"))


@pytest.mark.parametrize("name", [name for name in NAMES if name not in TOML_ERRORS])
def test_a_broken_file_gives_the_one_line_that_stands_at_its_top(name: str) -> None:
    path = BAD / f"setup_{name}.toml"
    with pytest.raises(InputError) as refusal:
        load_setup(path)
    expected = path.read_bytes().split(b"\n", 1)[0].decode()
    assert f"# {refusal.value}" == expected
    assert str(refusal.value).startswith((f"{path.name}: ", f"{name}.csv: "))


@pytest.mark.parametrize("name", sorted(TOML_ERRORS))
def test_broken_toml_names_its_line(name: str) -> None:
    with pytest.raises(InputError) as refusal:
        load_setup(BAD / f"setup_{name}.toml")
    message = str(refusal.value)
    assert message.startswith(f"setup_{name}.toml: got ")
    assert TOML_ERRORS[name] in message
    assert message.endswith("expected TOML, as `nugget setup` prints it")


def test_the_broken_files_are_there() -> None:
    assert len(NAMES) >= 60


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputError) as refusal:
        load_setup(tmp_path / "mine.toml")
    assert str(refusal.value) == "mine.toml: got 'no such file or directory', expected a readable setup file"


def test_a_folder_is_not_a_setup_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="a folder"):
        load_setup(tmp_path)


def test_an_error_from_an_override_says_so() -> None:
    with pytest.raises(InputError) as refusal:
        default_setup(["pulse.0.duration=0 ms"])
    assert str(refusal.value) == (
        "override pulse.0.duration: got '0 ms', expected a time between 0.01 ms and 10000 ms"
    )


def test_an_error_beside_an_override_names_where_the_value_stands() -> None:
    with pytest.raises(InputError) as refusal:
        default_setup(["strip.width=1 mm"])
    assert str(refusal.value) == (
        "default setup: electrode.face_diameter: got '1.5 mm', expected at most the strip width, 1 mm"
    )


@pytest.mark.parametrize(
    ("override", "message"),
    [
        ("pulse", "override: got 'pulse', expected FIELD=VALUE, such as 'pulse.0.duration=12 ms'"),
        ("pulse..duration=1 ms", "override: got 'pulse..duration=1 ms', expected FIELD=VALUE, such as"),
        ("pulse.3.duration=1 ms", "override pulse: got 3, expected an index from 0 to 1, the last one"),
        (
            "strip.widht=8 mm",
            "override strip.widht: got '8 mm', expected a known key; the nearest is strip.width",
        ),
        (
            "contact.faying={law='plugin', plugin='x'}",
            "override contact.faying.plugin: got 'x', expected one of the keys",
        ),
        ("source={kind='plugin', plugin=5}", "override source.plugin: got 5, expected text"),
        ("switch={kind='relay', relay=3}", "override switch.relay: got 3, expected one of the keys"),
    ],
)
def test_a_broken_override_gives_one_clear_line(override: str, message: str) -> None:
    with pytest.raises(InputError) as refusal:
        default_setup([override])
    assert str(refusal.value).startswith(message)


def test_an_unknown_preset_offers_the_nearest() -> None:
    with pytest.raises(InputError) as refusal:
        preset("18650-negativ")
    assert str(refusal.value) == (
        "preset: got '18650-negativ', expected one of default, 18650-negative, 18650-positive, "
        "21700-negative, 21700-positive, 26650-negative, 26650-positive, 32700-negative, "
        "32700-positive, coupon, empty-can, 18650-disc-hole, 18650-inner-tab, 18650-film, sheets; "
        "the nearest is 18650-negative"
    )
