"""The public names are typed, for a program of the user's own under the strictest checks."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import nugget

HERE = Path(__file__).parent
EXAMPLE = HERE / "typed_example.py"


def checked(cache: Path, *paths: Path) -> list[str]:
    """What mypy says of programs, in one run."""
    options = ["--strict", "--no-error-summary", "--config-file=", f"--cache-dir={cache}"]
    options += ["--follow-imports=silent", "--ignore-missing-imports"]
    command = [sys.executable, "-m", "mypy", *options, *map(str, paths)]
    done = subprocess.run(command, capture_output=True, text=True, cwd=HERE.parent)
    assert done.stderr == ""
    return done.stdout.splitlines()


def test_the_package_says_that_it_is_typed() -> None:
    assert (Path(nugget.__file__).parent / "py.typed").is_file()


def test_a_strictly_typed_program_passes_and_a_wrong_one_does_not(tmp_path: Path) -> None:
    wrong = tmp_path / "wrong.py"
    text = EXAMPLE.read_text(encoding="utf-8")
    wrong.write_text(text.replace("nugget.simulate(setup,", "nugget.simulate(1.0,"), encoding="utf-8")
    said = checked(tmp_path / "cache", EXAMPLE, wrong)
    assert said
    assert all("wrong.py" in line for line in said), said
    assert any("incompatible type" in line for line in said)


def test_every_public_name_is_listed_for_completion_and_documented() -> None:
    assert set(nugget.__all__) <= set(dir(nugget))
    for name in nugget.__all__:
        if name != "__version__":
            assert (getattr(nugget, name).__doc__ or "").strip()
