"""The command line as a whole: exit codes, and one line for whatever goes wrong."""

from __future__ import annotations

import os
import re
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

import nugget
from nugget.cli.main import COMMANDS, build_parser, main
from nugget.cli.terminal import tell
from nugget.errors import InputError, SolverError


def failing(error: BaseException) -> Callable[[object], int]:
    def run(_: object) -> int:
        raise error

    return run


def one_line(text: str) -> str:
    assert text.endswith("\n")
    (line,) = text.splitlines()
    return line


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--version"]) == 0
    assert capsys.readouterr().out == f"nugget {nugget.__version__}\n"


def test_help_names_every_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["--help"]) == 0
    shown = capsys.readouterr().out
    assert all(f"    {command} " in shown for command in COMMANDS)
    assert "not a safe weld" in shown


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command, "--help"]) == 0
    assert f"usage: nugget {command}" in capsys.readouterr().out


def test_the_shell_completes_commands_and_options(tmp_path: Path) -> None:
    def completed(line: str) -> list[str]:
        told = tmp_path / "told"
        asked = {"_ARGCOMPLETE": "1", "COMP_LINE": line, "COMP_POINT": str(len(line)), "COMP_TYPE": "9"}
        asked |= {"_ARGCOMPLETE_STDOUT_FILENAME": str(told), "_ARGCOMPLETE_IFS": "\n"}
        command = [sys.executable, "-m", "nugget.cli.main"]
        subprocess.run(command, env=os.environ | asked, check=True, capture_output=True)
        return [word.strip() for word in told.read_text().splitlines()]

    assert completed("nugget com") == ["compare"]
    assert set(completed("nugget pulse --in")) == {"--in-full"}


def test_the_bare_command_says_how_to_start(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 0
    told = capsys.readouterr().out
    named = re.findall(r"^  nugget (\w+)", told, flags=re.MULTILINE)
    assert set(named) <= set(COMMANDS)
    assert named[0] == "pulse"
    assert "not a safe weld" in told


@pytest.mark.parametrize(
    "argv", [["pulze"], ["pulse", "--jsn"], ["pulse", "a.toml", "b.toml"], ["pulse", "--set"]]
)
def test_a_command_line_without_sense_is_bad_input(
    argv: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(argv) == 2
    said = capsys.readouterr()
    assert one_line(said.err).startswith("nugget")
    assert said.out == ""


@pytest.mark.parametrize(
    ("error", "code", "line"),
    [
        (
            InputError("mine.toml: strip.width", "8", "a length such as '8 mm'"),
            2,
            "nugget: mine.toml: strip.width: got '8', expected a length such as '8 mm'",
        ),
        (SolverError(0.0021, "no step"), 1, "nugget: the simulation stopped at 2.1 ms: no step"),
        (KeyError("x"), 1, "nugget: unexpected KeyError: 'x' (--traceback shows where)"),
        (OSError("two\nlines"), 1, "nugget: unexpected OSError: two lines (--traceback shows where)"),
        (KeyboardInterrupt(), 130, "nugget: interrupted"),
    ],
)
def test_errors_take_one_line(
    error: BaseException,
    code: int,
    line: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", failing(error))
    assert main(["pulse"]) == code
    assert one_line(capsys.readouterr().err) == line


@pytest.mark.parametrize("argv", [["--traceback", "pulse"], ["pulse", "--traceback"]])
def test_a_traceback_on_request(
    argv: list[str], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", failing(KeyError("x")))
    assert main(argv) == 1
    assert "Traceback (most recent call last)" in capsys.readouterr().err


def test_a_command_returns_its_own_code(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", lambda _: 0)
    assert main(["pulse"]) == 0
    assert build_parser().parse_args(["pulse", "--set", "a=1", "--set", "b=2"]).overrides == ["a=1", "b=2"]


def test_what_could_steer_a_terminal_is_shown_as_a_code(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    error = InputError("s.toml: \x1b]0;owned\x07\x9b31m", "x" * 5000, "a \u202e name")
    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", failing(error))
    assert main(["pulse"]) == 2
    said = one_line(capsys.readouterr().err)
    assert said.isprintable()
    assert "\\x1b" in said
    assert len(said) < 700


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="this system sends no such signal")
@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP"])
def test_a_request_to_end_is_answered_as_an_interrupt(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    number = signal.Signals[name]
    before = signal.signal(number, signal.SIG_DFL)
    try:

        def run(args: object) -> int:
            signal.raise_signal(number)
            return 0

        monkeypatch.setattr("nugget.cli.commands.pulse_command.run", run)
        assert main(["pulse"]) == 130
        assert one_line(capsys.readouterr().err) == "nugget: interrupted"
        assert signal.getsignal(number) is signal.SIG_DFL
    finally:
        signal.signal(number, before)


@pytest.mark.skipif(os.name == "nt", reason="signals to oneself")
def test_a_second_interrupt_does_not_cut_short_what_is_said_at_the_first(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def run(args: object) -> int:
        try:
            signal.raise_signal(signal.SIGINT)
        except KeyboardInterrupt:
            signal.raise_signal(signal.SIGINT)
            tell("what is finished is kept")
            raise
        return 0

    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", run)
    assert main(["pulse"]) == 130
    assert capsys.readouterr().err.splitlines() == ["nugget: what is finished is kept", "nugget: interrupted"]


@pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="this system sends no such signal")
@pytest.mark.parametrize("argv", [["pulse"], ["--help"], ["pulze"]])
def test_a_call_from_python_leaves_the_handlers_of_signals_as_they_were(
    argv: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("nugget.cli.commands.pulse_command.run", lambda _: 0)
    numbers = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
    before = [signal.signal(number, signal.default_int_handler) for number in numbers[:1]]
    before += [signal.signal(number, signal.SIG_DFL) for number in numbers[1:]]
    try:
        here = [signal.getsignal(number) for number in numbers]
        main(argv)
        assert [signal.getsignal(number) for number in numbers] == here
    finally:
        for number, handler in zip(numbers, before, strict=True):
            signal.signal(number, handler)


@pytest.mark.skipif(shutil.which("bash") is None, reason="no bash is installed")
@pytest.mark.parametrize(
    ("typed", "offered"), [("nugget pul", "pulse"), ("nugget pulse --cross", "--cross-check")]
)
def test_a_shell_completes_commands_and_options(typed: str, offered: str) -> None:
    """As `register-python-argcomplete` has the shell call the program: answers go to descriptor 8."""
    program = f"'{sys.executable}' -c 'from nugget.cli.main import main; main()' 8>&1 9>&- 1>/dev/null"
    asked = {"_ARGCOMPLETE": "1", "COMP_LINE": typed, "COMP_POINT": str(len(typed)), "COMP_TYPE": "9"}
    done = subprocess.run(
        ["bash", "-c", program], env=os.environ | asked, capture_output=True, text=True, check=False
    )
    assert offered in done.stdout.replace("\v", "\n").split()
