"""Files as other systems write them, and everyday notation: read, or answered with the way to write it."""

from __future__ import annotations

from pathlib import Path

import pytest

from nugget.errors import InputError
from nugget.files import MOST_KEYS, MOST_NESTED, parse_toml
from nugget.setup import default_setup, load_setup

TEXT = '# größer\nelectrode.force = "41 N"\n[strip]\nwidth = "7 mm"\n'


@pytest.mark.parametrize(
    "data",
    [
        TEXT.encode(),
        b"\xef\xbb\xbf" + TEXT.encode(),
        TEXT.encode("utf-16"),
        b"\xfe\xff" + TEXT.encode("utf-16-be"),
        TEXT.replace("\n", "\r\n").encode(),
        b"\xef\xbb\xbf" + TEXT.replace("\n", "\r\n").encode(),
        TEXT.replace("\n", "\r\n").encode("utf-16"),
    ],
    ids=["plain", "mark", "utf-16", "utf-16, big end first", "crlf", "mark and crlf", "utf-16 and crlf"],
)
def test_a_file_of_another_system_is_read(data: bytes, tmp_path: Path) -> None:
    (tmp_path / "mine.toml").write_bytes(data)
    setup = load_setup(tmp_path / "mine.toml")
    assert (setup.force_N, setup.strip_width_m) == (41.0, 7e-3)


@pytest.mark.parametrize(
    ("line", "way"),
    [
        ("thickness = 0.15 mm", 'a quantity in quotes: thickness = "0.15 mm"'),
        ("thickness = 0,15 mm", 'a quantity in quotes: thickness = "0.15 mm"'),
        ("thickness=0.15mm # nickel", 'a quantity in quotes: thickness = "0.15 mm"'),
    ],
)
def test_a_quantity_without_quotes_is_answered_with_them(line: str, way: str, tmp_path: Path) -> None:
    for ends in ("\n", "\r\n"):
        (tmp_path / "mine.toml").write_bytes(f"[strip]\n{line}\n".replace("\n", ends).encode())
        with pytest.raises(InputError) as caught:
            load_setup(tmp_path / "mine.toml")
        assert str(caught.value).endswith(f"expected {way}")


@pytest.mark.parametrize(
    ("override", "message"),
    [
        ("electrode.force=3 kg", "kg is a mass, which presses with '29.42 N'"),
        ("electrode.force=500 g", "g is a mass, which presses with '4.903 N'"),
        ("pulse.duration=3 ms", "pulse.0.duration for the first one"),
        (
            "source.capacitance=1 F",
            "no such key for the kind battery, which has cell_resistance, cells_in_series,"
            " cells_in_parallel, open_circuit_voltage, internal_resistance, cell_voltage: it belongs to the"
            " kind capacitor bank",
        ),
        ("limits.nonsense=none", "limits.nonsense: got 'none', expected a known key"),
        ("limits.interior_temprature=none", "the nearest is limits.interior_temperature"),
    ],
)
def test_everyday_notation_is_answered_with_the_way_to_write_it(override: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        default_setup([override])
    assert message in str(caught.value)


@pytest.mark.parametrize("text", ["7 mOhm", "0.007 Ohm", "7 mΩ", "7 mohm", "7mOhm", "7000 µΩ"])
def test_everyday_units_are_read(text: str) -> None:
    setup = default_setup([f"source.internal_resistance={text}"])
    assert setup.get("source.internal_resistance") == pytest.approx(7e-3, rel=1e-12)


def test_a_limit_of_ones_own_can_be_switched_off_and_a_misspelt_one_cannot() -> None:
    own = "limits.own={ figure = 'hottest_K', sense = 'at most', value = '900 K' }"
    setup = default_setup([own])
    assert "own" in {limit.id for limit in setup.limits}
    assert "own" not in {limit.id for limit in setup.with_({"limits.own": "none"}).limits}
    with pytest.raises(InputError, match="a known key"):
        setup.with_({"limits.owm": "none"})


def test_trees_are_bounded() -> None:
    def nested(depth: int) -> str:
        return "a = " + "[" * depth + "]" * depth

    assert parse_toml(nested(MOST_NESTED - 2), "a.toml", "TOML")
    with pytest.raises(InputError, match="too deeply"):
        parse_toml(nested(MOST_NESTED + 1), "a.toml", "TOML")
    keys = "\n".join(f"a{k} = 1" for k in range(MOST_KEYS + 1))
    with pytest.raises(InputError, match=f"a table of {MOST_KEYS + 1} keys"):
        parse_toml(keys, "a.toml", "TOML")
