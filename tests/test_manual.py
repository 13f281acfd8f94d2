"""The manual: its pages exist, its commands and snippets run, its reference is that of the program."""

from __future__ import annotations

import argparse
import io
import json
import re
import shlex
import tomllib
from contextlib import redirect_stdout
from pathlib import Path

import browser
import pytest

from nugget import manual
from nugget.cli import reference
from nugget.cli.commands.manual_command import build_site, chosen
from nugget.cli.main import build_parser, main
from nugget.errors import InputError
from nugget.merit.figure import FIGURES
from nugget.setup import default_setup, presets
from nugget.setup.schema import SetupFile
from nugget.setup.starter import described_keys

ROOT = Path(__file__).parents[1]
QUICK = ("setup", "inputs", "figures", "handout", "manual", "material")
LONG = ("chart", "suggest", "scatter", "calibrate")
COARSE = ["--no-plots", "--set", "numerics.refinement=0.25", "--set", "numerics.tolerance=40 K"]
COARSE += ["--set", "numerics.max_time=0.05 s", "--workers", "1"]


@pytest.fixture(scope="module")
def parser() -> argparse.ArgumentParser:
    return build_parser()


def pages_of_their_own() -> list[str]:
    return [name for name in manual.names() if manual.written(name) is not None]


def commands(name: str) -> list[list[str]]:
    blocks = re.findall(r"```sh\n(.*?)```", manual.written(name) or "", flags=re.DOTALL)
    return [
        shlex.split(line, comments=True) for block in blocks for line in block.splitlines() if line.strip()
    ]


def test_every_file_is_a_page_and_every_page_has_a_title(parser: argparse.ArgumentParser) -> None:
    there = {path.stem for path in Path(manual.__file__).parent.glob("pages/*.md")}
    assert there == set(pages_of_their_own())
    assert set(manual.names()) - there == {"reference-commands", *reference.MADE}
    for name in manual.names():
        assert reference.page(name, parser).startswith("# "), name


def test_every_link_leads_to_a_page(parser: argparse.ArgumentParser) -> None:
    for name in manual.names():
        for target in re.findall(r"\]\(([^)#:]+)\)", manual.written(name) or ""):
            assert target.removesuffix(".md") in manual.names(), (name, target)


@pytest.mark.parametrize("name", pages_of_their_own())
def test_every_command_of_a_page_is_one(
    name: str, parser: argparse.ArgumentParser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Parsed all; run where it takes moments."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NUGGET_MATERIALS", str(tmp_path / "none"))
    (tmp_path / "mine.toml").write_text("")
    for program, *argv in commands(name):
        assert program == "nugget"
        argv, target = (argv[: argv.index(">")], argv[-1]) if ">" in argv else (argv, None)
        parser.parse_args(argv)
        if argv[0] not in QUICK or "--plot" in argv:
            continue
        printed = io.StringIO()
        with redirect_stdout(printed):
            assert main(argv) == 0, argv
        assert printed.getvalue()
        if target:
            Path(target).write_text(printed.getvalue(), encoding="utf-8")


@pytest.mark.full
@pytest.mark.parametrize(
    "name", [n for n in pages_of_their_own() if n not in ("howto-calibrate", "howto-material")]
)
def test_every_weld_of_a_page_runs(name: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a coarse grid; studies are run by the tests of their own pages and commands."""
    monkeypatch.chdir(tmp_path)
    (tmp_path / "mine.toml").write_text("")
    for _, *argv in commands(name):
        if argv[0] == "pulse" and "--machine" not in argv:
            fine = [one for one in argv if one != "--cross-check"]  # which a coarse grid does not pass
            assert main([*fine, *COARSE]) == 0, argv


def test_every_setup_snippet_is_toml(parser: argparse.ArgumentParser) -> None:
    for name in pages_of_their_own():
        for block in re.findall(r"```toml\n(.*?)```", manual.written(name) or "", flags=re.DOTALL):
            assert tomllib.loads(block), name


def test_the_setups_of_the_how_to_pages_can_be_made(parser: argparse.ArgumentParser) -> None:
    """Each `--set` of a page is a key, and the page's setup is one."""
    from nugget.cli.options import chosen_setup

    for name in pages_of_their_own():
        for _, *argv in commands(name):
            if argv[0] == "pulse" and not {"mine.toml", "--machine", "--materials"} & set(argv):
                assert chosen_setup(parser.parse_args(argv)).si.force_N > 0.0


def test_reference_holds_every_command_and_option(parser: argparse.ArgumentParser) -> None:
    text = reference.page("reference-commands", parser)
    for name in ("pulse", "material check", "manual"):
        assert f"## nugget {name}\n" in text
    for option in ("--cross-check", "--site DIR", "--tolerance FIELD=WIDTH"):
        assert f"`{option}`" in text
    assert "%%" not in text


def test_reference_holds_every_key_of_the_default_setup() -> None:
    known = {(path, key) for path, key, *_ in described_keys()}
    for section, model in SetupFile.model_fields.items():
        fields = getattr(model.annotation, "model_fields", None)
        if fields is None or section == "contact":
            continue
        for key in fields:
            assert (section, key) in known or (f"{section}.{key}", "law") in known, (section, key)


def test_reference_holds_every_figure(parser: argparse.ArgumentParser) -> None:
    text = reference.page("reference-figures", parser)
    assert all(f"`{key}`" in text for key in FIGURES)


def test_the_schema_of_a_setup_file_holds_the_presets() -> None:
    schema = reference.schema_of(SetupFile)
    assert json.loads(json.dumps(schema, default=str))["title"] == "SetupFile"
    required = set(schema["required"])
    for one in presets():
        assert required <= set(default_setup().document()) | {"materials"}, one.name


def test_a_page_is_found_by_the_start_or_a_part_of_its_name() -> None:
    assert chosen("tutorial") == "tutorial"
    assert chosen("contact") == "theory-contact"
    with pytest.raises(InputError, match="one of theory-geometry"):
        chosen("theory")
    with pytest.raises(InputError, match="lists"):
        chosen("teapot")


def test_the_site_is_built_and_never_over_something(tmp_path: Path, parser: argparse.ArgumentParser) -> None:
    pytest.importorskip("mkdocs")
    pages = {name: reference.page(name, parser) for name in manual.names()}
    built = build_site(tmp_path / "site", pages)
    assert {f"{name}.html" for name in pages} <= {path.name for path in built.glob("*.html")}
    assert "Theory: contact" in (built / "theory-contact.html").read_text(encoding="utf-8")
    with pytest.raises(InputError, match="empty folder"):
        build_site(tmp_path / "site", pages)
    with browser.started(width=390) as shown:
        for name in ("tutorial", "theory-chances", "reference-figures"):
            browser.opened(shown, built / f"{name}.html")
            assert browser.complaints(shown) == []
            assert all(one.startswith("file:") for one in browser.requests(shown))
            assert not browser.too_wide(shown)


def test_the_readme_leads_to_pages_and_its_commands_are_some(parser: argparse.ArgumentParser) -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#:]+)\)", text):
        assert (ROOT / target).exists() or target.startswith("nugget/"), target
        if target.startswith("nugget/manual/pages/"):
            assert Path(target).stem in pages_of_their_own()
    for command in re.findall(r"`nugget ([^`]+)`", text):
        argv = shlex.split(re.sub(r" > .*", "", command))
        if not {"PAGE", "DIR"} & set(argv):
            parser.parse_args(argv)


def test_code_that_cites_a_chapter_cites_one_that_exists() -> None:
    package = Path(manual.__file__).parents[1]
    cited = {
        name
        for path in package.rglob("*.py")
        for name in re.findall(r"manual, (theory-[a-z]+)", path.read_text(encoding="utf-8"))
    }
    assert cited >= {"theory-contact", "theory-fields", "theory-planar", "theory-joint", "theory-numerics"}
    assert cited <= set(manual.names())


def test_keys_and_options_that_a_page_names_are_there(parser: argparse.ArgumentParser) -> None:
    """A key or an option that was renamed must not live on in the text."""
    keys = {f"{section}.{key}" for section, key, *_ in described_keys()}
    sections = {key.split(".")[0] for key in keys} - {""}
    commands = next(one for one in parser._actions if isinstance(one, argparse._SubParsersAction)).choices
    known = {"--version", "--help", *(one for sub in commands.values() for one in options(sub))}
    for name in pages_of_their_own():
        text = re.sub(r"```.*?```", "", manual.written(name) or "", flags=re.DOTALL)
        for path in re.findall(r"`([a-z_]+(?:\.[a-z_0-9]+)+)`", text):
            if path.split(".")[0] in sections and not path.startswith(("nugget", "contact.py")):
                plain = re.sub(r"\.\d+", "", path)
                assert plain in keys or any(key.startswith(f"{plain}.") for key in keys), (name, path)
        for option in re.findall(r"`(?:nugget [a-z]+ )?(--[a-z-]+)", text):
            assert option in known, (name, option)


def options(parser: argparse.ArgumentParser) -> set[str]:
    """Every option of a command and of the commands below it."""
    found = {text for action in parser._actions for text in action.option_strings}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found |= {one for sub in action.choices.values() for one in options(sub)}
    return found
