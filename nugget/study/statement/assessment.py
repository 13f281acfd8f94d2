"""A weld judged: its own figures and limits, and the statement about what is not known exactly."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

from nugget.constants import VERSION
from nugget.merit.limit import titles
from nugget.outcome.record import CAUTIONS, data_sources
from nugget.outcome.verdict import LimitResult
from nugget.outcome.weld import Weld, run_weld
from nugget.setup import Setup
from nugget.study.inputs.uncertain import Inputs
from nugget.study.statement.chances import Chance
from nugget.study.statement.samples import Sample
from nugget.study.statement.statement import Statement, state
from nugget.study.tasks import Finished

CIRCUIT_RESIDUAL = 1e-3
"""Circuit residual beyond which a reason speaks of it: currents are then off by about as much."""


@dataclass(frozen=True, repr=False)
class Assessment:
    """A judged weld.

    Attributes
    ----------
    weld : Weld
        As set up.
    limits : tuple of LimitResult
        Each limit against that weld.
    statement : Statement
        Chances and verdict over everything that is not known exactly.
    """

    weld: Weld
    limits: tuple[LimitResult, ...]
    statement: Statement

    @property
    def verdict(self) -> str:
        """One of `nugget.outcome.verdict.MEANING`."""
        return self.statement.verdict

    @property
    def reason(self) -> str:
        """What the verdict rests on, in words; and energies of the circuit that do not add up."""
        missing = self.weld.figures.get("circuit_residual") or 0.0
        if missing <= CIRCUIT_RESIDUAL:
            return self.statement.reason
        lost = f"{100.0 * missing:.2g} % of the source's energy is lost in computing the circuit"
        return f"{self.statement.reason}; {lost}"

    def chance(self, id: str) -> Chance | None:
        """The chance that a limit is broken; None where it does not apply."""
        return self.statement.chance(id)

    def __repr__(self) -> str:
        """Return a few lines: title, verdict and reason."""
        return f"<Assessment {self.weld.setup.title!r}: {self.verdict}>\n  {self.reason}"


def judge(
    setup: Setup,
    inputs: Inputs | None = None,
    executor: Executor | None = None,
    on_done: Callable[[str, int], None] | None = None,
    on_weld: Callable[[Weld], None] | None = None,
    finished: Finished[Sample] | None = None,
    frames: int | None = None,
) -> Assessment:
    """March the weld as set up, and many whose inputs vary, and judge it.

    Parameters
    ----------
    setup : Setup
    inputs : Inputs, optional
        What is not known exactly, as the setup says by default.
    executor : Executor, optional
        Runs the many in parallel; one after the other by default.
    on_done : callable, optional
        Called with the key of each simulation that is in, and the number asked for so far.
    on_weld : callable, optional
        Called with the weld as set up as soon as it is in.
    finished : Finished, optional
        Marches of an earlier call.
    frames : int, optional
        Keep the fields of the weld as set up so often, for pictures in time.
    """
    welds: list[Weld] = []

    def as_set_up() -> None:
        welds.append(run_weld(setup, frames=frames))
        if on_weld is not None:
            on_weld(welds[0])

    statement = state(
        setup, inputs, executor=executor, finished=finished, on_done=on_done, meanwhile=as_set_up
    )
    return Assessment(welds[0], judged(welds[0]), statement)


def judged(weld: Weld) -> tuple[LimitResult, ...]:
    """Each limit of a weld's setup against the weld."""
    called = titles(weld.setup.limits)
    return tuple(LimitResult(one, one.value_in(weld.figures), called[one.id]) for one in weld.setup.limits)


def record(assessment: Assessment) -> dict[str, Any]:
    """Return everything about a judged weld, JSON-ready."""
    weld = assessment.weld
    limits = []
    for one in assessment.limits:
        chance = assessment.chance(one.limit.id)
        limits.append(one.record() | {"chance_broken": None if chance is None else chance.record()})
    return {
        **weld.figures,
        "verdict": assessment.verdict,
        "verdict_reason": assessment.reason,
        "limits": limits,
        "statement": assessment.statement.record(),
        "setup": weld.setup.document(whole=True),
        "data_sources": data_sources(weld.setup),
        "cautions": list(CAUTIONS),
        "version": VERSION,
    }
