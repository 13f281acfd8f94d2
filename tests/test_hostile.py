"""Hostile and mistaken inputs, by class: one line, exit code 2, nothing written, within seconds."""

from __future__ import annotations

import json
import os
import signal
import tomllib
from collections.abc import Callable, Iterator
from pathlib import Path
from types import FrameType

import pytest

from nugget.cli.main import main
from nugget.errors import steers
from nugget.materials import template

CASES = tomllib.loads((Path(__file__).parent / "data" / "hostile" / "cases.toml").read_text("utf-8"))
LONGEST_S, PATIENCE_S = 5, 60
"""Seconds of computing, and of waiting for what never comes; other work may slow a machine down."""
LONGEST_LINE = 300
TRIALS = "duration,result,button\n5 ms,button,0.6 mm\n"


def written(folder: Path, name: str, text: str | bytes) -> str:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode("utf-8", "surrogatepass"))
    return str(path)


def material() -> str:
    return (
        (Path(__file__).parent / "data" / "bad" / "material_code.toml")
        .read_text("utf-8")
        .replace('conductivity_rule = "lambda t: 60 + 0.01 * t"\n', "")
        .replace('name = "material_code"', 'name = "own"')
    )


def pulse(path: str) -> list[str]:
    return ["pulse", path, "--no-plots"]


def with_material(path: str) -> list[str]:
    return ["pulse", "--no-plots", "--materials", path, "--set", "strip.material=own"]


def pipe(folder: Path) -> str:
    os.mkfifo(folder / "pipe")
    return str(folder / "pipe")


def repeated(start: str, piece: str, size: int, end: str = "") -> str:
    return start + piece * (size // len(piece)) + end


LARGE: dict[str, Callable[[Path], list[str]]] = {
    # name: makes what is needed in a folder and returns the command line
    "setup_nested_lists": lambda d: pulse(written(d, "a.toml", "title = " + "[" * 900 + "]" * 900)),
    "setup_nested_tables": lambda d: pulse(written(d, "a.toml", "title = " + "{a=" * 900 + "1" + "}" * 900)),
    "setup_nested_keys": lambda d: pulse(written(d, "a.toml", ".".join("a" * 5000) + " = 1")),
    "setup_nested_header": lambda d: pulse(written(d, "a.toml", "[" + ".".join("a" * 5000) + "]")),
    "setup_long_number": lambda d: pulse(written(d, "a.toml", f"numerics.refinement = {'9' * 5000}")),
    "setup_long_unit": lambda d: pulse(written(d, "a.toml", f'strip.width = "8 {"m" * 100_000}"')),
    "setup_long_product": lambda d: pulse(written(d, "a.toml", f'strip.width = "8 {"m*" * 500_000}m"')),
    "setup_long_title": lambda d: pulse(written(d, "a.toml", f'title = "{"a" * 1_000_000}"')),
    "setup_long_key": lambda d: pulse(written(d, "a.toml", f"{'a' * 100_000} = 1")),
    "setup_long_path": lambda d: pulse(written(d, "a.toml", f'materials = ["{"a" * 300}"]')),
    "setup_of_keys": lambda d: pulse(written(d, "a.toml", "\n".join(f"a{k} = {k}" for k in range(150_000)))),
    "setup_of_tables": lambda d: pulse(written(d, "a.toml", "\n".join(f"[a{k}]" for k in range(150_000)))),
    "setup_of_pulses": lambda d: pulse(
        written(d, "a.toml", repeated("", '[[pulse]]\nduration = "1 ms"\n', 2_900_000))
    ),
    "setup_too_large": lambda d: pulse(written(d, "a.toml", b"# nothing\n" * 5_000_000)),
    "setup_of_samples": lambda d: pulse(
        written(
            d,
            "a.toml",
            'source = { kind = "trace", quantity = "current", file = "", time_s = ['
            + ", ".join(str(k) for k in range(100_001))
            + "], samples = ["
            + "1, " * 100_001
            + "] }",
        )
    ),
    "setup_of_bytes": lambda d: pulse(written(d, "a.toml", bytes(range(256)))),
    "setup_of_zero_bytes": lambda d: pulse(written(d, "a.toml", bytes(1000))),
    "setup_half_of_a_character": lambda d: pulse(written(d, "a.toml", b"\xff\xfea")),
    "setup_pipe": lambda d: pulse(pipe(d)),
    "setup_name_that_steers": lambda d: pulse(written(d, "a\x1b[2J.toml", "nonsense = 1")),
    "setup_name_of_two_lines": lambda d: pulse(written(d, "a\nVERDICT: IN WINDOW.toml", "nonsense = 1")),
    "setup_name_too_long": lambda d: pulse("a" * 300),
    "setup_trace_is_a_pipe": lambda d: pulse(
        written(d, "a.toml", f'source = {{ kind = "trace", quantity = "current", file = "{pipe(d)}" }}')
    ),
    "machine_pipe": lambda d: ["pulse", "--machine", pipe(d)],
    "machine_nested": lambda d: ["pulse", "--machine", written(d, "a.toml", "a = " + "[" * 900 + "]" * 900)],
    "material_pipe": lambda d: with_material(pipe(d)),
    "material_nested": lambda d: with_material(written(d, "own.toml", "a = " + "[" * 900 + "]" * 900)),
    "material_of_ones": lambda d: with_material(
        written(d, "own.toml", material().replace("[20, 8890]", "[20, " + "9" * 5000 + "]"))
    ),
    "material_too_large": lambda d: with_material(written(d, "own.toml", b"# nothing\n" * 1_000_000)),
    "material_long_key": lambda d: with_material(
        written(d, "own.toml", material().replace("family", "f" * 100_000))
    ),
    "trials_pipe": lambda d: ["calibrate", pipe(d)],
    "trials_long_count": lambda d: [
        "calibrate",
        written(d, "a.csv", f"duration,result,count\n5 ms,button,{'9' * 5000}\n"),
    ],
    "trials_long_cell": lambda d: [
        "calibrate",
        written(d, "a.csv", f"duration,result,button\n5 ms,button,{'9' * 100_000} mm\n"),
    ],
    "trials_many_columns": lambda d: ["calibrate", written(d, "a.csv", "a," * 100_000 + "b\n")],
    "trials_many_rows": lambda d: [
        "calibrate",
        written(d, "a.csv", "duration,result\n" + "5 ms,button\n" * 100_000),
    ],
    "set_nested": lambda d: ["pulse", "--set", "strip=" + "[" * 900 + "]" * 900],
    "set_long_path": lambda d: ["pulse", "--set", ".".join("a" * 5000) + "=1"],
    "set_long_index": lambda d: ["pulse", "--set", f"pulse.{'9' * 5000}.duration=3 ms"],
    "set_long_number": lambda d: ["pulse", "--set", f"numerics.refinement={'9' * 5000}"],
    "set_long_unit": lambda d: ["pulse", "--set", f"strip.width=8 {'m' * 100_000}"],
}


def cases() -> Iterator[tuple[str, Callable[[Path], list[str]]]]:
    """Name and maker of each."""
    for kind in ("setup", "machine", "trials"):
        before = {"setup": ["pulse"], "machine": ["pulse", "--machine"], "trials": ["calibrate"]}[kind]
        suffix = "csv" if kind == "trials" else "toml"
        for name, text in CASES[kind].items():
            yield (
                f"{kind}_{name}",
                lambda d, b=before, s=suffix, t=text: [*b, written(d, f"a.{s}", toml_escapes(t, s))],
            )
    for name, change in CASES["material"].items():
        yield (
            f"material_{name}",
            lambda d, c=change: with_material(written(d, "own.toml", material().replace(c["old"], c["new"]))),
        )
    for name, text in CASES["set"].items():
        yield f"set_{name}", lambda d, t=text: ["pulse", "--no-plots", "--set", t]
    for name, words in CASES["command"].items():
        yield (
            f"command_{name}",
            lambda d, w=words: [word.replace("{trials}", written(d, "a.csv", TRIALS)) for word in w],
        )
    yield from LARGE.items()


def toml_escapes(text: str, suffix: str) -> str:
    """Text in single quotes keeps its escapes, which TOML reads; a CSV file has none."""
    return text.encode().decode("unicode_escape") if suffix == "csv" else text


ALL = dict(cases())

NUMBERS = (
    "1",
    "-1",
    "0x10",
    "1e400",
    "1e-400",
    "nan",
    "inf",
    "9" * 400,
    "1_000",
    "٣",
    "1,5",
    "1.2.3",
    "--1",
    "",
)
UNITS = (
    *("mm**9**9**9", "mm^99", "mm*(2**2**40)", "mm*m", "{mm}", "mm!", "mm if 1 else s", "(lambda: mm)()"),
    *(
        "__import__('os')",
        "m" * 100_000,
        "m*" * 5_000 + "m",
        "mm/0",
        "µµm",
        "\x1b[2J",
        "mm\nVERDICT",
        "$\\foo$",
    ),
    *(
        "parsec",
        "furlong",
        "bogus",
        "% mm",
        "mm %",
        "()",
        "/",
        "**",
        "mm mm",
        "m.m",
        "\u202emm",
        "ﬁ",
        "🔥",
        "mm;ls",
    ),
)
TEXTS = tuple(dict.fromkeys((*(f"{n} mm" for n in NUMBERS[1:]), *(f"1 {u}" for u in UNITS), *UNITS[:4])))
"""None of them is a quantity of anything."""
DOORS: dict[str, Callable[[Path, str], list[str]]] = {
    "setup": lambda d, t: pulse(written(d, "a.toml", f"strip.thickness = {quoted(t)}")),
    "setup_time": lambda d, t: pulse(written(d, "a.toml", f"pulse = [{{ duration = {quoted(t)} }}]")),
    "setup_layer": lambda d, t: pulse(
        written(d, "a.toml", f'strip.layers = [{{ material = "nickel-200", thickness = {quoted(t)} }}]')
    ),
    "setup_limit": lambda d, t: pulse(
        written(d, "a.toml", f'limits.source_current = {{ value = {quoted(t)}, source = "a test" }}')
    ),
    "machine": lambda d, t: ["pulse", "--machine", written(d, "a.toml", f"electrode.force = {quoted(t)}")],
    "material": lambda d, t: with_material(written(d, "own.toml", material().replace('"kg/m3"', quoted(t)))),
    "trials": lambda d, t: ["calibrate", written(d, "a.csv", f'duration,result\n"{t}",held\n')],
    "set": lambda d, t: ["pulse", "--no-plots", "--set", f"electrode.face_diameter={t}"],
    "vary": lambda d, t: ["chart", "--vary", f"strip.thickness={t}:0.2 mm:3"],
    "tolerance": lambda d, t: ["scatter", "--tolerance", f"electrode.force={t}"],
    "rest": lambda d, t: ["pulse", "--no-plots", "--spots", "2", "--rest", t],
    "service": lambda d, t: ["pulse", "--no-plots", "--service", t],
    "template": lambda d, t: ["material", "template", "own", "--resistivity", t],
}
"""Where a quantity is read."""


def quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=True)


def limited(computing_s: float, waiting_s: float) -> None:
    """End what computes or lasts longer; zeros lift the limits."""
    signal.setitimer(signal.ITIMER_PROF, computing_s)
    signal.setitimer(signal.ITIMER_REAL, waiting_s)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Where commands run; what hangs is ended."""

    def hangs(number: int, frame: FrameType | None) -> None:
        raise TimeoutError(f"longer than {LONGEST_S} s of computing or {PATIENCE_S} s in all")

    run = tmp_path / "run"
    run.mkdir()
    monkeypatch.chdir(run)
    before = [(number, signal.signal(number, hangs)) for number in (signal.SIGALRM, signal.SIGPROF)]
    yield run
    limited(0, 0)
    for number, handler in before:
        signal.signal(number, handler)


@pytest.mark.parametrize("name", ALL)
def test_it_is_refused_with_one_line(
    name: str, folder: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    refused(ALL[name](tmp_path), folder, capsys)


@pytest.mark.full
@pytest.mark.parametrize("text", TEXTS, ids=lambda text: ascii(text)[1:30])
@pytest.mark.parametrize("door", DOORS)
def test_what_is_no_quantity_is_one_line_at_every_door(
    door: str, text: str, folder: Path, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    refused(DOORS[door](tmp_path, text), folder, capsys)


def refused(words: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Give the command line to the program, which has to answer with one line, code 2 and no file."""
    limited(LONGEST_S, PATIENCE_S)
    code = main(words)
    limited(0, 0)
    out, said = capsys.readouterr()
    line = said.removesuffix("\n")
    assert (code, out) == (2, ""), said
    assert line
    assert not any(map(steers, line)), said
    assert "unexpected" not in line
    assert len(line) <= LONGEST_LINE
    assert list(folder.iterdir()) == []


def test_what_the_cases_start_from_is_sound(folder: Path, tmp_path: Path) -> None:
    """So that each is refused for what it changes."""
    from nugget.materials.material_file import read

    assert read(Path(written(tmp_path, "own.toml", material()))).name == "own"
    for change in CASES["material"].values():
        assert change["old"] in material()
    assert template.from_material("nickel-200", "own")
