"""Hostile and mistaken inputs."""

from __future__ import annotations

from validation.case import Outcome
from validation.evidence.piece import Piece
from validation.reliability.counting import trials


def run(_: int) -> Outcome:
    return trials(
        {
            "hostile inputs: one line, code 2, nothing written, 5 s": "test_hostile.py one_line",
            "what is no quantity, at every door where one is read": "test_hostile.py no_quantity",
            "mistaken inputs of every kind: file, key, given, expected": "test_setup_refusals.py",
            "broken material files": "test_materials_bad.py",
            "files of other systems, everyday notation": "test_files.py",
            "saved welds that were damaged or forged": "test_outcome_loading.py",
            "terminals of few characters, none, a full disk": "test_cli_terminal.py",
        }
    )


PIECE = Piece(
    name="inputs",
    title="Inputs and outputs",
    what="What is hostile or mistaken is refused with one line below 300 characters that steers no terminal,"
    " with exit code 2, and nothing is written; what other systems write is read.",
    run=run,
)
