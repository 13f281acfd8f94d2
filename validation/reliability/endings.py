"""Ends by signal, killed workers, interrupted and resumed studies."""

from __future__ import annotations

from validation.case import Outcome
from validation.evidence.piece import Piece
from validation.reliability.counting import trials


def run(_: int) -> Outcome:
    return trials(
        {
            "ended by Ctrl-C, SIGTERM, SIGHUP, SIGKILL: no process left after 2 s": (
                "test_cli_ending.py ends_all"
            ),
            "resumed after damage: equal to an undisturbed study; killed workers replaced": (
                "test_cli_ending.py going_on or killed_worker or another_setup"
            ),
            "workers that cannot start, die, or get what cannot travel": "test_cli_workers.py",
            "records of finished simulations, torn or changed": "test_study_tasks.py",
            "files written whole or not at all, none of the user's replaced": "test_cli_outputs.py",
            "files written on full disks, over links, after a kill": "test_outcome_writing.py",
            "schedulers and workers of a cluster that go away": "test_study_cluster.py",
        }
    )


PIECE = Piece(
    name="endings",
    title="Ends, kept work and files",
    what="However a study ends, its processes end with it, what is finished is kept and said, and the same"
    " command with --resume gives the answer of a study that was not disturbed.",
    run=run,
)
