"""The manual's "Add your strip in ten minutes" does what it says: its commands run, in order."""

from __future__ import annotations

import re
import shlex
import tomllib
from pathlib import Path

import pytest

from nugget.cli.main import main
from nugget.manual import written
from nugget.materials import library
from nugget.materials.document import Table

PAGE = written("howto-material") or ""
HEADING = "## Add your strip in ten minutes\n"
COARSE = ["--no-plots", "--set", "numerics.refinement=0.25", "--set", "numerics.tolerance=20 K"]
COARSE += ["--set", "numerics.max_time=0.05 s", "--set", "pulse.0.duration=1 ms"]
"""The manual's weld on a coarse grid: what is tested here is that it runs."""


def blocks(language: str) -> list[str]:
    section = PAGE.partition(HEADING)[2].partition("\n## ")[0]
    return re.findall(rf"```{language}\n(.*?)```", section, flags=re.DOTALL)


def test_every_command_runs_and_what_it_writes_is_a_material(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("NUGGET_MATERIALS", str(tmp_path / "none"))
    commands = [line for block in blocks("sh") for line in block.splitlines() if line.strip()]
    assert sum("nugget pulse" in line for line in commands) == 1
    for line in commands:
        program, *argv = shlex.split(line)
        assert program == "nugget"
        argv, target = (argv[: argv.index(">")], argv[-1]) if ">" in argv else (argv, "")
        assert main(argv + (COARSE if argv[0] == "pulse" else [])) == 0, line
        printed = capsys.readouterr().out
        assert printed
        if target:
            Path(target).write_text(printed, encoding="utf-8")
    written = sorted(tmp_path.glob("*.toml"))
    assert len(written) == 3
    for path in written:
        assert library.get(path.stem, [path]).name == path.stem
    assert {path.name for path in tmp_path.glob("*.png")} == {"drawer-strip.png", "nickel-200.png"}


def test_the_part_of_a_table_that_it_shows_is_one() -> None:
    (text,) = blocks("toml")
    ((key, parts),) = tomllib.loads(text).items()
    assert key == "conductivity"
    Table.model_validate(parts[0])
