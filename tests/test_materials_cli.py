"""``nugget material``: from the command line to text, files and exit codes."""

from __future__ import annotations

import argparse
import json
from pathlib import Path

import pytest

from nugget.cli.commands import material_command as material
from nugget.errors import InputError

BAD = Path(__file__).parent / "data" / "bad"
CATALOGUE = ["--resistivity", "38 uohm cm", "--density", "8.9 g/cm3", "--melting", "1170 to 1240 degC"]


@pytest.fixture(autouse=True)
def nothing_of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NUGGET_MATERIALS", str(tmp_path / "none"))


def run(*argv: str) -> int:
    parser = argparse.ArgumentParser()
    material.fill(parser)
    args = parser.parse_args(argv)
    return int(args.run(args))


def test_list_names_every_material_and_where_it_comes_from(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("template", "--name", "my-strip", *CATALOGUE)
    path = tmp_path / "my-strip.toml"
    path.write_text(capsys.readouterr().out, "utf-8")
    assert run("list", "--materials", str(path)) == 0
    out = capsys.readouterr().out
    assert "nickel-200" in out
    assert f"my-strip my-strip [{path}]" in " ".join(out.split())


def test_list_says_what_was_left_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "odd.toml").write_text("api = 9", "utf-8")
    assert run("list", "--json", "--materials", str(tmp_path)) == 0
    report = json.loads(capsys.readouterr().out)
    assert "odd" not in [line["name"] for line in report["materials"]]
    assert report["problems"] == [
        f"{tmp_path / 'odd.toml'}: api: got 9, expected 1, the version that this nugget reads"
    ]


def test_show_prints_tables_and_sources(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("show", "nickel-200") == 0
    out = capsys.readouterr().out
    assert "293.15: 9.6" in out
    assert "[found] Special Metals Corp." in out
    assert run("show", "nickel-plated-steel") == 0
    assert "low-carbon-steel, 100 % of the rest" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["jelly-roll-nmc", "nickel-plated-can"])
def test_show_json_is_one_object(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("show", name, "--json") == 0
    assert json.loads(capsys.readouterr().out)["name"] == name


@pytest.mark.parametrize("name", ["nickel-200", "jelly-roll-nmc"])
def test_show_writes_a_figure(name: str, tmp_path: Path) -> None:
    assert run("show", name, "--plot", str(tmp_path / "tables.svg")) == 0
    text = (tmp_path / "tables.svg").read_text("utf-8")
    assert text.count('<g id="axes_') == 4


def test_a_figure_that_cannot_be_written_is_bad_input(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--plot"):
        run("show", "nickel-200", "--plot", str(tmp_path / "tables.docx"))


def test_a_template_from_catalogue_values_passes_its_check(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("template", "--name", "my-strip", *CATALOGUE) == 0
    path = tmp_path / "my-strip.toml"
    path.write_text(capsys.readouterr().out, "utf-8")
    assert run("check", str(path), "--plot", str(tmp_path / "check.png")) == 0
    out = capsys.readouterr().out
    assert "=> usable, 4 warnings" in out
    assert "nearest built-in: cuni-70-30" in out
    assert (tmp_path / "check.png").stat().st_size > 10_000


def test_a_template_without_options_is_a_commented_copy_of_nickel(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("template") == 0
    out = capsys.readouterr().out
    assert 'name = "my-strip"' in out
    assert "# confidence is one of" in out
    assert "1e-8 ohm m" in out


def test_a_template_starts_from_one_thing_only() -> None:
    with pytest.raises(InputError, match="either a material to start from or catalogue values"):
        run("template", "--from", "nickel-200", "--density", "8.9 g/cm3")


def test_check_of_a_broken_file_lists_every_mistake_and_returns_2(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", str(BAD / "material_negative_value.toml")) == 2
    out = " ".join(capsys.readouterr().out.split())
    assert "fail file:" in out
    assert "=> not usable: 1 error" in out


def test_check_finds_a_duplicate_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert run("check", "--json", str(BAD / "material_duplicate" / "nickel-200.toml")) == 2
    ((_, verdicts),) = json.loads(capsys.readouterr().out).items()
    assert {"topic": "name", "result": "fail", "text": "nickel-200 comes from built-in too"} in verdicts


def test_check_of_a_layered_product_knows_its_layers(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("template", "--from", "nickel-plated-steel", "--name", "odd-clad")
    text = capsys.readouterr().out.replace('material = "low-carbon-steel"', 'material = "cheese"')
    (tmp_path / "odd-clad.toml").write_text(text, "utf-8")
    assert run("check", str(tmp_path / "odd-clad.toml")) == 2
    assert "no material called cheese" in capsys.readouterr().out


def test_check_without_a_file_goes_through_everything_in_reach(capsys: pytest.CaptureFixture[str]) -> None:
    code = run("check", "--json")
    report = json.loads(capsys.readouterr().out)
    assert {"nickel-200", "nickel-plated-can", "plugins"} <= set(report)
    assert code == 0, [v for verdicts in report.values() for v in verdicts if v["result"] == "fail"]


def test_a_figure_of_a_check_needs_one_file() -> None:
    with pytest.raises(InputError, match="--plot: got '0 files to check', expected one FILE"):
        run("check", "--plot", "x.png")


@pytest.mark.parametrize(
    ("option", "value"),
    [
        ("--resistivity", "1e400 uohm cm"),
        ("--resistivity", "34 ohm m"),
        ("--density", "1e308 g/cm3"),
        ("--density", "0 g/cm3"),
        ("--melting", "1e400 degC"),
        ("--melting", "1000 to 99999 degC"),
        ("--temperature-coefficient", "1e400 1/K"),
        ("--hardness", "1e400 HV"),
        ("--tensile-strength", "0 MPa"),
    ],
)
@pytest.mark.filterwarnings("error")
def test_a_template_takes_no_value_that_no_metal_has(
    option: str, value: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(InputError, match=option):
        run("template", *CATALOGUE, option, value)
    assert capsys.readouterr().out == ""
