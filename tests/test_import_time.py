"""``nugget --help`` answers at once: nothing heavy is imported before a command runs."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

EXPORTS = ("xarray", "pandas", "meshio")
HEAVY = ("numpy", "scipy", "matplotlib", "pint", "pydantic", "fipy", "rich", "threadpoolctl", *EXPORTS)
MOST_S = 0.3


def loaded_after(statement: str) -> set[str]:
    code = f"import sys\n{statement}\nprint(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    return {name.split(".")[0] for name in done.stderr.split()}


@pytest.mark.parametrize(
    "statement",
    ["import nugget", "from nugget.cli.main import main; main(['--help'])"],
)
def test_nothing_heavy_is_imported(statement: str) -> None:
    assert loaded_after(statement).isdisjoint(HEAVY)


@pytest.mark.parametrize(("argv", "own"), [(["--help"], set()), (["setup", "--list"], {"setup"})])
def test_a_command_imports_no_other_command(argv: list[str], own: set[str]) -> None:
    code = f"import sys; from nugget.cli.main import main; main({argv}); print(*sys.modules, file=sys.stderr)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    room = "nugget.cli.commands."
    found = {name.removeprefix(room) for name in done.stderr.split() if name.startswith(room)}
    assert found == {f"{name}_command" for name in own}


def test_the_check_above_would_see_a_heavy_import() -> None:
    assert "numpy" in loaded_after("import nugget; nugget.default_setup")


def test_a_weld_needs_no_library_of_exports() -> None:
    quick = '["pulse.0.duration=0.02 ms", "numerics.refinement=0.25", "numerics.tolerance=40 K"]'
    loaded = loaded_after(f"import nugget; repr(nugget.simulate(nugget.preset('coupon', {quick})))")
    assert loaded.isdisjoint(EXPORTS)


def test_a_setup_made_in_python_needs_no_scipy() -> None:
    assert "scipy" not in loaded_after("import nugget; nugget.default_setup()")


def test_a_march_imports_no_more_of_scipy_than_lapack() -> None:
    march = "next(iter(March(nugget.preset('coupon', ['numerics.refinement=0.25']))))"
    code = f"import sys, nugget; from nugget.weld.march import March; {march}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    parts = {name for name in done.stdout.split() if name.startswith("scipy.")}
    assert "scipy.linalg" in parts
    assert parts.isdisjoint({"scipy.interpolate", "scipy.optimize", "scipy.stats"})


def test_a_draw_of_inputs_imports_no_statistics() -> None:
    loads = (
        "from nugget.study.inputs.uncertain import inputs_of; inputs_of(nugget.preset('coupon')).drawn(8, 1)"
    )
    code = f"import sys, nugget; {loads}; print(*sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert not any(name.startswith("scipy.stats") for name in done.stdout.split())


def test_help_as_a_process_is_quick() -> None:
    command = [sys.executable, "-m", "nugget.cli.main", "--help"]
    seconds = []
    for _ in range(5):  # the best of five, in processor time: other work on the machine only adds
        start = os.times()
        subprocess.run(command, capture_output=True, check=True)
        end = os.times()
        seconds.append(end.children_user + end.children_system - start.children_user - start.children_system)
    assert min(seconds) < MOST_S
