"""The framework itself: a check that cannot fail would prove nothing."""

from __future__ import annotations

import ast
import importlib
import math
from pathlib import Path

import pytest

from validation.bench import bench
from validation.case import Case, Outcome, at_least, at_most, holds, informative, relative, reported, scaled
from validation.cases.case7_uncertainty import INPUTS, Input
from validation.discover import GROUPS, all_cases
from validation.evidence.piece import Piece
from validation.overview import NOT_VALIDATED, write_cases
from validation.report import Finished, row


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_what_is_not_a_number_never_passes(bad: float) -> None:
    checks = relative("a", bad, 1.0, 0.1), scaled("b", bad, 1.0, 1.0, 0.1), at_most("c", bad, 0.1)
    assert all(check.failed for check in checks)
    assert at_least("d", math.nan, 1.0).failed


def test_errors_beyond_the_tolerance_fail_and_within_pass() -> None:
    assert relative("a", 1.02, 1.0, 0.01).failed
    assert not relative("a", 1.005, 1.0, 0.01).failed
    assert at_least("b", 1.8, 1.9).failed
    assert not at_least("b", 1.9, 1.9).failed
    assert holds("c", False).failed
    assert not informative("d", 5.0, 1.0).failed


def test_the_kind_of_a_check_is_said_and_not_guessed() -> None:
    """A bound of one looks like a statement that holds, and must not read like one."""
    reached, held = at_least("factor", 1.0, 1.0), holds("sign", True)
    assert row(reached)[1:7] == ("1", "", "", "", "at least 1", "pass")
    assert row(held)[1:7] == ("yes", "", "", "", "must hold", "pass")
    assert row(holds("sign", False))[1:7] == ("no", "", "", "", "must hold", "FAIL")
    assert row(relative("length", 2.0, 1.0, 0.1, "m"))[1:7] == ("2", "1", "m", "100 %", "error 10 %", "FAIL")
    assert row(at_most("residual", 1e-9, 1e-6))[1:7] == ("1.00e-09", "", "", "", "at most 1e-06", "pass")
    assert row(reported("time", 3.0, "s"))[1:7] == ("3", "", "s", "", "", "reported")


@pytest.mark.parametrize("folder", ["cases", "peers"])
def test_peers_and_cases_do_not_import_cases(folder: str) -> None:
    """A peer that leans on a case, or a case on another, is no witness of its own."""
    for path in sorted((Path(__file__).parent / folder).glob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ImportFrom):
                assert not (node.module or "").startswith("validation.cases"), path.name


def test_every_case_states_claim_source_and_reason_of_its_tolerance() -> None:
    for case in all_cases():
        assert case.key[0] in GROUPS, case.key
        assert min(len(case.claim), len(case.source), len(case.tolerance)) > 10, case.key
    assert {case.key[0] for case in all_cases()} == set(GROUPS)


def test_only_published_schedules_and_trends_may_fail_as_expected() -> None:
    assert all(case.key[0] in "56" for case in all_cases() if case.may_fail)


def test_a_failing_check_shows_in_the_report(tmp_path: Path) -> None:
    outcome = Outcome((relative("length", 2.0, 1.0, 0.1, "m"), holds("sign", True)))
    case = Case("2-made-up", "Title", "claim", "source", "tolerance", lambda: outcome)
    broken = Finished(case, None, 0.1, "ValueError: no")
    text = write_cases(tmp_path / "out", [Finished(case, outcome, 0.1), broken], []).read_text(
        encoding="utf-8"
    )
    assert "length" in text
    assert "| FAIL |" in text
    assert "ValueError: no" in text
    assert text.endswith(NOT_VALIDATED)
    assert "No measured temperature inside a can" in NOT_VALIDATED


@pytest.mark.parametrize("package", ["evidence", "benchmark", "reliability"])
def test_every_piece_of_a_report_is_there(package: str) -> None:
    """A module that was renamed must not break a report that nobody runs by default."""
    report = importlib.import_module(f"validation.{package}.__main__").REPORT
    for name in report.modules:
        assert isinstance(importlib.import_module(f"{report.package}.{name}").PIECE, Piece), name


@pytest.mark.parametrize("one", INPUTS, ids=lambda one: one.name)
def test_every_input_of_the_budget_moves_the_bench(one: Input) -> None:
    """A bench with one layer more must not break a case that takes minutes."""
    given = bench()
    assert one.low(given) != given
    assert one.high(given) != one.low(given)
