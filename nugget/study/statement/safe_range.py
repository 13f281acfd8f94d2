"""From which to which duration a weld is *in window*: each end is a duration whose own statement is.

The equations: manual, theory-verdict.
"""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass

from nugget.errors import InputError, SolverError
from nugget.setup import Setup
from nugget.study.durations.branches import count_s
from nugget.study.inputs.uncertain import Inputs, inputs_of
from nugget.study.statement.samples import Sample
from nugget.study.statement.statement import Statement, state
from nugget.study.tasks import Finished

IN_WINDOW = "in window"
STEP = 2.0**0.25
"""From one duration to the next that a statement is made of."""
FARTHEST = 4
"""Steps both ways: to half and to twice the setup's own pulse."""


@dataclass(frozen=True)
class SafeRange:
    """Durations of the last pulse at which the statement is *in window*.

    Attributes
    ----------
    statement : Statement
        Of the setup's own pulse.
    from_s, until_s : float or None
        The first and the last duration of which a statement was made, all of them *in window*; None
        when the one of the setup's own pulse is not.
    below, above : str
        What the next duration down and up is said to be; empty where it was not looked at.
    """

    statement: Statement
    from_s: float | None
    until_s: float | None
    below: str = ""
    above: str = ""

    @property
    def safe(self) -> bool:
        """Whether the setup's own pulse is *in window*."""
        return self.from_s is not None

    @property
    def setup(self) -> Setup:
        return self.statement.setup


def safe_range(
    setup: Setup,
    inputs: Inputs | None = None,
    executor: Executor | None = None,
    finished: Finished[Sample] | None = None,
    on_done: Callable[[str, int], None] | None = None,
) -> SafeRange:
    """Make the statement of the setup's own pulse, and where it is *in window* of longer and shorter ones.

    Nothing is taken between durations by any rule: the ends of the range are durations whose own
    statement, the one that `nugget pulse` makes of them, is *in window*.

    Parameters
    ----------
    setup : Setup
    inputs : Inputs, optional
        Those of the setup by default.
    executor, finished, on_done
        As `nugget.study.statement.statement.state` takes them.

    Raises
    ------
    InputError
        When a spread reaches what no setup can have.
    SolverError
        When hardly a march of the setup's own pulse came to its end.
    """
    inputs = inputs_of(setup) if inputs is None else inputs
    before, asked = 0, 0

    def counted(key: str, total: int) -> None:
        nonlocal asked
        asked = total
        if on_done is not None:
            on_done(key, before + total)

    def said(there: Setup) -> Statement:
        nonlocal before, asked
        before, asked = before + asked, 0
        return state(there, inputs.around(there), executor=executor, finished=finished, on_done=counted)

    own, own_s = said(setup), setup.train[-1].duration_s
    if own.verdict != IN_WINDOW:
        return SafeRange(own, None, None)
    ends, words = [], []
    for way in (-1, 1):
        end_s, word = own_s, ""
        for steps in range(1, FARTHEST + 1):
            next_s = _moved(setup, way * steps)
            try:
                verdict = said(_lasting(setup, next_s)).verdict if next_s > 0.0 else "no pulse"
            except (InputError, SolverError) as refusal:  # a pulse that the switch or the slopes do not allow
                verdict = str(refusal)
            if verdict != IN_WINDOW:
                word = verdict
                break
            end_s = next_s
        ends.append(end_s)
        words.append(word)
    return SafeRange(own, ends[0], ends[1], words[0], words[1])


def _moved(setup: Setup, steps: int) -> float:
    """Duration [s] so many steps from the setup's own; whole half cycles where pulses are counted in them."""
    own_s, step_s = setup.train[-1].duration_s, count_s(setup)
    return own_s * STEP**steps if step_s is None else own_s + steps * step_s


def _lasting(setup: Setup, duration_s: float) -> Setup:
    return setup.with_({f"pulse.{len(setup.train) - 1}.duration": duration_s})
