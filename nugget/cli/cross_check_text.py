"""What ``nugget pulse --cross-check`` shows: its progress, and the differences it found."""

from __future__ import annotations

from typing import TYPE_CHECKING

from nugget.cli.workers import progress

if TYPE_CHECKING:
    from nugget.crosscheck.check import CrossCheck
    from nugget.setup import Setup


def checked(setup: Setup, steps: int, quiet: bool) -> CrossCheck:
    """Cross-check `setup`, show how far it is on a terminal, and print the differences unless `quiet`.

    Parameters
    ----------
    setup : Setup
    steps : int
        Steps that its march takes.
    quiet : bool

    Raises
    ------
    CrossCheckError
        If anything differs too much; the differences are printed before.
    """
    from nugget.crosscheck.check import CrossCheckError, cross_check

    try:
        with progress("Repeating with FiPy", steps) as done:
            check = cross_check(setup, lambda state: done(str(state.step)))
    except CrossCheckError as failure:
        if not quiet:
            print(differences_text(failure.check))
        raise
    if not quiet:
        print(differences_text(check))
    return check


def differences_text(check: CrossCheck) -> str:
    """Return the table of differences."""
    head = (
        f"Cross-check: all {check.steps} steps to {check.until_s * 1e3:.4g} ms repeated with FiPy on the same"
        " grid, steps and contacts"
    )
    width = max(len(d.name) for d in check.differences)
    lines = [head, f"  {'':{width}}  {'model':>9}  {'FiPy':>9}        {'apart':>7}  at"]
    for d in check.differences:
        lines.append(
            f"  {d.name:{width}}  {d.ours:9.4g}  {d.theirs:9.4g} {d.unit:4}  {100.0 * d.share:6.3f} %"
            f"  {d.time_s * 1e3:.4g} ms" + ("" if d.passed else "  TOO FAR APART")
        )
    return "\n".join([*lines, ""])
