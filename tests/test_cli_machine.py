"""``--machine``: a file laid over the setup, under ``--set``; its errors name the file."""

from __future__ import annotations

import argparse
from pathlib import Path

import pytest

from nugget.cli.commands.pulse_command import add_setup_options, chosen_setup
from nugget.errors import InputError
from nugget.setup import Setup

MACHINE = """
[contact]
radius_factor = 1.1          # 95 %: 1.0 to 1.2

[leads]
resistance = "3.1 mohm"

[pulse.0]
duration = "2 ms"
"""


def chosen(tmp_path: Path, text: str, *argv: str) -> Setup:
    (tmp_path / "mine.toml").write_text(text, encoding="utf-8")
    parser = argparse.ArgumentParser()
    parser.add_argument("setup", nargs="?")
    add_setup_options(parser)
    return chosen_setup(parser.parse_args(["--machine", str(tmp_path / "mine.toml"), *argv]))


def test_it_lies_over_the_setup_and_under_set(tmp_path: Path) -> None:
    setup = chosen(tmp_path, MACHINE, "--set", "pulse.0.duration=4 ms")
    assert setup.contact.radius_factor == 1.1
    assert setup.circuit.lead_ohm == pytest.approx(3.1e-3)
    assert setup.train[0].duration_s == pytest.approx(4e-3)


def test_it_lies_over_a_preset_too(tmp_path: Path) -> None:
    setup = chosen(tmp_path, MACHINE, "--preset", "coupon")
    assert setup.file.cell.kind == "coupon"
    assert setup.contact.radius_factor == 1.1


def test_a_second_file_goes_over_the_first(tmp_path: Path) -> None:
    (tmp_path / "more.toml").write_text(
        'pulse = [{ duration = "1 ms", cool_time = "5 ms" }, { duration = "3 ms" }]'
    )
    setup = chosen(tmp_path, MACHINE, "--machine", str(tmp_path / "more.toml"))
    assert setup.contact.radius_factor == 1.1
    assert [pulse.duration_s for pulse in setup.train] == pytest.approx([1e-3, 3e-3])
    over = chosen(
        tmp_path, MACHINE, "--machine", str(tmp_path / "more.toml"), "--set", "pulse.1.duration=4 ms"
    )
    assert [pulse.duration_s for pulse in over.train] == pytest.approx([1e-3, 4e-3]), (
        "--set goes over its list"
    )
    (tmp_path / "more.toml").write_text('pulse = [{ duration = "1 mm" }]')
    with pytest.raises(InputError, match=r"^more\.toml: pulse\.0\.duration"):
        chosen(tmp_path, MACHINE, "--machine", str(tmp_path / "more.toml"))


@pytest.mark.parametrize(
    ("text", "where", "expected"),
    [
        ("[contact]\nradius_factor = 'x'", "mine.toml: contact.radius_factor", "a number"),
        ("[contact]\nradius_facto = 1.0", "mine.toml: contact.radius_facto", "contact.radius_factor"),
        ("[contact\n", "mine.toml", "TOML"),
    ],
)
def test_its_errors_name_it(tmp_path: Path, text: str, where: str, expected: str) -> None:
    with pytest.raises(InputError) as caught:
        chosen(tmp_path, text)
    assert caught.value.where == where
    assert expected in str(caught.value)


def test_an_error_of_set_does_not_blame_the_file(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"^override contact\.radius_factor"):
        chosen(tmp_path, MACHINE, "--set", "contact.radius_factor=x")


def test_a_missing_file_is_one_line(tmp_path: Path) -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("setup", nargs="?")
    add_setup_options(parser)
    with pytest.raises(InputError, match=r"none\.toml: got 'no such file"):
        chosen_setup(parser.parse_args(["--machine", str(tmp_path / "none.toml")]))
