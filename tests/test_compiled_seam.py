"""Whether kernels serve, and what a march comes to with and without them."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

from nugget.compiled.seam import PLACE, SWITCH

AVAILABLE = find_spec("numba") is not None
needs_numba = pytest.mark.skipif(not AVAILABLE, reason="numba is not installed")

SERVES = """
import sys, warnings
{before}
from nugget.compiled.seam import serve
print(serve(), any(name.startswith("numba") for name in sys.modules))
"""
ABSENT = "sys.modules['numba'] = None"
MARCH = """
import json, sys
import nugget
from nugget.compiled.seam import serve
setup = nugget.preset("coupon", ["pulse.0.duration=1 ms", "numerics.refinement=0.4"])
weld = nugget.simulate(setup)
print(json.dumps([serve(), {key: value for key, value in weld.figures.items() if isinstance(value, float)}]))
"""
EQUAL = 1e-6
"""Figures of one march with and without kernels: rounding, as far as it grows where melt begins."""


def python(code: str, **environment: str) -> str:
    known = {name: value for name, value in os.environ.items() if name not in (SWITCH, PLACE)}
    given = [sys.executable, "-W", "error", "-c", code]
    done = subprocess.run(given, env=known | environment, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


def served(before: str = "", **environment: str) -> str:
    return python(SERVES.format(before=before), **environment)


@needs_numba
def test_they_serve_where_numba_is_installed() -> None:
    assert served() == "True True"


def test_they_do_not_where_it_is_missing() -> None:
    assert served(ABSENT).split()[0] == "False"


@pytest.mark.parametrize("word", ["0", "no", " OFF ", "false"])
def test_they_do_not_where_they_are_switched_off(word: str) -> None:
    """And numba is not even imported."""
    assert served(**{SWITCH: word}) == "False False"


@needs_numba
@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="whoever may write anywhere writes there")
def test_they_do_not_where_nothing_can_be_kept(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    assert served(**{PLACE: str(tmp_path)}).split()[0] == "False"


@needs_numba
def test_they_do_not_where_a_file_has_the_name_of_their_folder(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    assert served(**{PLACE: str(tmp_path / "taken")}).split()[0] == "False"


@needs_numba
def test_they_do_not_where_numba_compiles_nothing() -> None:
    assert served(NUMBA_DISABLE_JIT="1").split()[0] == "False"


@needs_numba
def test_kernels_are_compiled_once_and_a_damaged_folder_does_no_harm(tmp_path: Path) -> None:
    """By two processes at once, and it is said; a third one loads them."""
    code = "import logging; logging.basicConfig(stream=sys.stdout)"
    given = [sys.executable, "-c", SERVES.format(before=code)]
    environment = os.environ | {PLACE: str(tmp_path), SWITCH: "1"}
    runs = [subprocess.Popen(given, env=environment, stdout=subprocess.PIPE, text=True) for _ in range(2)]
    said = [run.communicate()[0] for run in runs]
    assert any("compiling the solver" in one for one in said)
    assert all(one.endswith("True True\n") for one in said)
    assert served(code, **{PLACE: str(tmp_path)}) == "True True"
    damaged = next(path for path in tmp_path.rglob("lookup.state*.nbi"))
    damaged.write_bytes(damaged.read_bytes()[:-40])
    assert served(code, **{PLACE: str(tmp_path)}).split()[-2] in ("True", "False")


@needs_numba
def test_numba_keeps_its_own_folder_for_what_others_compile() -> None:
    code = "import numba; before = numba.config.CACHE_DIR; from nugget.compiled.seam import serve; serve(); "
    assert python(code + "print(numba.config.CACHE_DIR == before)") == "True"


@needs_numba
def test_a_march_with_and_without_them() -> None:
    (with_them, figures), (without, plain) = (json.loads(python(MARCH, **{SWITCH: w})) for w in ("1", "0"))
    assert (with_them, without) == (True, False)
    assert figures["steps"] == plain["steps"] if "steps" in figures else True
    assert figures.keys() == plain.keys()
    for key, value in plain.items():
        if "residual" not in key:  # what is left of differences that vanish
            assert figures[key] == pytest.approx(value, rel=EQUAL, abs=1e-12), key


def test_a_march_where_numba_is_missing() -> None:
    """The same as one that is switched off, to the last bit."""
    absent = python(f"import sys; {ABSENT}\n{MARCH}")
    assert absent == python(MARCH, **{SWITCH: "0"})


@pytest.mark.parametrize("statement", ["import nugget", "from nugget.cli.main import main; main(['--help'])"])
def test_nothing_is_compiled_for_what_does_not_march(statement: str) -> None:
    assert python(f"import sys; {statement}; print('numba' in sys.modules)").splitlines()[-1] == "False"
