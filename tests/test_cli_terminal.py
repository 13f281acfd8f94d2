"""Output on terminals of few characters, on none, on a full disk: what was computed is never lost."""

from __future__ import annotations

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from small import options

from nugget.cli.main import main
from nugget.cli.terminal import shown, tell
from nugget.errors import InputError, plain

PULSE = ["--preset", "coupon", *options("pulse.0.duration=0.1 ms")]


def run(
    folder: Path,
    *words: str,
    stdout: int = subprocess.PIPE,
    largest: int | None = None,
    **changes: str | None,
) -> subprocess.CompletedProcess[bytes]:
    """The program in a process of its own, which can write files of at most `largest` bytes."""

    def limit() -> None:
        import resource

        if largest is not None:
            resource.setrlimit(resource.RLIMIT_FSIZE, (largest, largest))

    given = {**os.environ, **changes}
    environment = {key: value for key, value in given.items() if value is not None}
    line = [sys.executable, "-m", "nugget.cli.main", *words]
    return subprocess.run(
        line,
        stdout=stdout,
        stderr=subprocess.PIPE,
        env=environment,
        cwd=folder,
        timeout=180,
        preexec_fn=limit if largest is not None else None,
    )


@pytest.mark.parametrize("coding", ["ascii", "cp1252", "cp437", "latin-1", "utf-8"])
def test_what_a_terminal_does_not_have_is_written_otherwise(
    coding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    raw = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(raw, encoding=coding, errors="strict"))
    with shown():
        print("2.5 mΩ at 60 °C × 3 → 1 µm")
        sys.stdout.flush()
    text = raw.getvalue().decode(coding)
    assert text == "2.5 mΩ at 60 °C × 3 → 1 µm\n" if coding == "utf-8" else "ohm" in text or "Ω" in text
    assert "?" not in text


def test_a_command_ends_well_in_ascii(tmp_path: Path) -> None:
    ended = run(
        tmp_path,
        *("pulse", *PULSE, "--no-plots", "--out", "out"),
        LC_ALL="C",
        PYTHONUTF8="0",
        PYTHONIOENCODING="ascii",
    )
    assert ended.returncode == 0
    told = (
        b"As set up",
        b"nugget: about ",
    )  # the second where the machine is busy and it takes over a minute
    assert all(line.startswith(told) for line in ended.stderr.splitlines())
    assert b"deg C" in ended.stdout
    assert json.loads((tmp_path / "out" / "summary.json").read_text())["title"]


def test_a_user_without_a_home_and_an_odd_backend_change_nothing(tmp_path: Path) -> None:
    """The folder of materials is looked for in the home, and what draws is chosen before anything is."""
    words = ("material", "show", "copper", "--plot", "copper.png")
    ended = run(tmp_path, *words, HOME="~nobody-of-that-name", MPLBACKEND="nonsense")
    assert (ended.returncode, ended.stderr) == (0, b"")
    assert (tmp_path / "copper.png").stat().st_size > 10_000


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full device here")
def test_a_full_disk_behind_stdout_is_one_line(tmp_path: Path) -> None:
    with open("/dev/full", "wb") as full:
        ended = run(tmp_path, "setup", stdout=full.fileno())
    assert ended.returncode == 1
    assert ended.stderr == b"nugget: the output: no space left on device\n"


@pytest.mark.skipif(os.name != "posix", reason="sets a limit to the size of files")
@pytest.mark.parametrize("unbuffered", ["1", None])
def test_an_output_that_is_cut_short_is_an_error(unbuffered: str | None, tmp_path: Path) -> None:
    """A disk that fills takes a part of what is written to it, and says nothing yet."""
    with (tmp_path / "mine.toml").open("wb") as full:
        ended = run(tmp_path, "setup", stdout=full.fileno(), largest=4096, PYTHONUNBUFFERED=unbuffered)
    assert (ended.returncode, ended.stderr) == (1, b"nugget: the output: file too large\n")
    assert (tmp_path / "mine.toml").stat().st_size == 4096


def test_a_closed_stdout_is_no_error(tmp_path: Path) -> None:
    line = f'"{sys.executable}" -m nugget.cli.main setup >&-'
    ended = subprocess.run(line, shell=True, stderr=subprocess.PIPE, cwd=tmp_path, timeout=180)
    assert (ended.returncode, ended.stderr) == (0, b"")


def test_what_passes_lines_on_ends_quietly_after_its_stream() -> None:
    """Python 3.13 says what the end of a stream raises, as 3.11 does when asked to by an option."""
    code = (
        "import io, sys; from nugget.cli.terminal import _Shown;"
        "stream = io.TextIOWrapper(io.BytesIO()); kept = _Shown(stream); stream.close(); del kept"
    )
    ended = subprocess.run([sys.executable, "-X", "dev", "-c", code], capture_output=True, timeout=180)
    assert (ended.returncode, ended.stderr) == (0, b"")


def test_what_is_printed_never_steers(capsys: pytest.CaptureFixture[str]) -> None:
    with shown():
        print("a\x1b[2Jb\x9b\u202ec\td")
    assert capsys.readouterr().out == "a\\x1b[2Jb\\x9b\\u202ec\td\n"
    tell("a\x1b]0;owned\x07\nVERDICT: IN WINDOW " + "b" * 10_000)
    said = capsys.readouterr().err
    assert said.count("\n") == 1
    assert len(said) < 300
    assert said.startswith("nugget: a\\x1b]0;owned\\x07 VERDICT")


def test_an_error_keeps_both_ends_of_what_is_long() -> None:
    text = str(InputError("a" * 10_000, "b" * 10_000, "c" * 10_000 + "; the nearest is d"))
    assert len(text) < 300
    assert text.endswith("; the nearest is d")
    assert plain("a\nb\x00") == "a b\\x00"


def test_a_dollar_in_a_title_is_drawn_as_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    words = ["pulse", *PULSE, "--set", r"title=price $5 and $\foo$ $\frac{1}{$"]
    assert main(words) == 0
    assert len(list(tmp_path.glob("*.png"))) == 2


def test_what_is_written_is_named_without_steering(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("a\nVERDICT\x1b.toml").write_text('pulse = [{ duration = "0.02 ms" }]\nnumerics.refinement = 0.25\n')
    assert main(["pulse", "a\nVERDICT\x1b.toml"]) == 0
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "nugget-a VERDICT\\x1b-" in out
