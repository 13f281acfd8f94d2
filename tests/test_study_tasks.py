"""Many tasks on any executor, interrupted and taken up again."""

from __future__ import annotations

import json
import pickle
import shutil
from collections.abc import Callable
from concurrent.futures import Executor, Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest
from small import matter

from nugget.errors import InputError
from nugget.materials.curve import Curve
from nugget.materials.material import Material
from nugget.setup import default_setup
from nugget.study import tasks
from nugget.study.tasks import Finished, key_of, run_all


def square(value: int) -> int:
    return value * value


def store(path: Path, resume: bool = False) -> Finished[int]:
    return Finished(lambda value: value, int, path, resume)


TASKS = {f"task {k}": k for k in range(8)}


@pytest.mark.parametrize("make", [lambda: None, lambda: ThreadPoolExecutor(3)])
def test_every_task_once_in_the_order_given(make: Callable[[], Executor | None]) -> None:
    seen: list[str] = []
    assert list(run_all(square, TASKS, make(), on_done=seen.append).items()) == [
        (key, value * value) for key, value in TASKS.items()
    ]
    assert sorted(seen) == sorted(TASKS)


def test_an_interrupted_call_goes_on_where_it_stopped(tmp_path: Path) -> None:
    path = tmp_path / "chart.finished.jsonl"

    def stops(value: int) -> int:
        if value == 5:
            raise KeyboardInterrupt
        return square(value)

    with pytest.raises(KeyboardInterrupt):
        run_all(stops, TASKS, None, store(path))
    ran: list[int] = []

    def counts(value: int) -> int:
        ran.append(value)
        return square(value)

    seen: list[str] = []
    results = run_all(counts, TASKS, None, store(path, resume=True), seen.append)
    assert results == run_all(square, TASKS)
    assert ran == [5, 6, 7], "what was finished is not run again"
    assert sorted(seen) == sorted(TASKS), "but counted"


def test_without_resume_nothing_old_is_used(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    store(path).put("task 1", 99)
    assert run_all(square, TASKS, None, store(path))["task 1"] == 1


def test_a_torn_last_line_costs_only_its_own_task(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    first = store(path)
    first.put("task 1", 1)
    first.put("task 2", 4)
    path.write_bytes(path.read_bytes()[:-9])
    again = store(path, resume=True)
    assert len(again) == 1
    again.put("task 3", 9)
    assert (again.damaged, first.damaged) == (1, 0)
    last = json.loads(path.read_text().splitlines()[-1])
    assert (last["key"], last["result"]) == ("task 3", 9)
    assert len(store(path, resume=True)) == 2
    again.discard()
    assert not path.exists()


@pytest.mark.parametrize(
    "damage",
    [
        lambda line: line.replace('"result": 4', '"result": 5'),
        lambda line: line.replace("task 2", "task 3"),
        lambda line: "[" * 100_000,
        lambda line: '{"key": "task 2", "result": 4}',
        lambda line: "[1, 2]",
        lambda line: "\ufffd\0",
    ],
)
def test_a_line_that_was_changed_is_not_believed(tmp_path: Path, damage: Callable[[str], str]) -> None:
    path = tmp_path / "x.jsonl"
    first = store(path)
    for k in (1, 2):
        first.put(f"task {k}", k * k)
    *others, line = path.read_text().split("\n")[:-1]
    path.write_text("\n".join([*others, damage(line)]))
    again = store(path, resume=True)
    assert (len(again), again.damaged) == (1, 1)
    assert again["task 1"] == 1
    assert run_all(square, TASKS, None, again)["task 2"] == 4


def test_a_link_is_not_written_through(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine")
    (tmp_path / "x.jsonl").symlink_to("mine.txt")
    with pytest.raises(InputError, match=r"x\.jsonl: got 'no plain file'"):
        store(tmp_path / "x.jsonl")
    assert (tmp_path / "mine.txt").read_text() == "mine"


def test_a_change_of_the_solver_changes_every_key(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """A copy of the package with one number of the solver changed, and one with another picture."""
    before = key_of("anything")
    copy = tmp_path / "nugget"
    shutil.copytree(Path(tasks.__file__).parents[1], copy, ignore=shutil.ignore_patterns("__pycache__"))
    monkeypatch.setattr(tasks, "__file__", str(copy / "study" / "tasks.py"))

    def key() -> str:
        tasks.solver_code.cache_clear()
        return key_of("anything")

    assert key() == before
    (copy / "plot" / "style.py").write_text("")
    assert key() == before
    march = copy / "weld" / "march.py"
    march.write_text(march.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert key() != before
    monkeypatch.undo()
    tasks.solver_code.cache_clear()


class Scaled:
    """A resistivity of somebody's own, which says no more of itself than its address."""

    def __init__(self, factor: float) -> None:
        curve = Material.from_library("nickel-200").resistivity
        assert curve is not None
        self.factor, self.curve = factor, curve
        self.citation, self.temperature_K = curve.citation, curve.temperature_K
        self.value, self.stretches = curve.value, curve.stretches

    def __call__(self, temperature_K: float) -> float:
        return self.factor * float(self.curve(temperature_K))


def test_materials_with_parts_of_somebodys_own_are_told_apart() -> None:
    material = Material.from_library("nickel-200")
    factors = [1.0 + 0.01 * k for k in range(60)]
    setups = [
        default_setup({"strip.material": replace(material, resistivity=Scaled(one))})  # type: ignore[arg-type]
        for one in factors
    ]
    assert len({key_of(one) for one in setups}) == len(factors)


def test_an_object_of_a_plugin_counts_with_its_module(monkeypatch: pytest.MonkeyPatch) -> None:
    @dataclass(frozen=True)
    class Law:
        film_ohm_m2: float = 1e-12

    before = key_of(Law())
    monkeypatch.setattr(tasks, "_foreign_code", lambda module: b"changed")
    assert key_of(Law()) != before


def test_a_file_that_cannot_be_written_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="a file that can be written"):
        store(tmp_path / "file" / "x.jsonl").put("task 1", 1)
    with pytest.raises(InputError, match="name too long', expected a free name"):
        store(tmp_path / ("x" * 300))


def test_what_is_kept_stays_when_another_call_forgets_to_ask_for_it(tmp_path: Path) -> None:
    """Or is at work in the same folder at the same time."""
    first, second = store(tmp_path / "x.jsonl"), store(tmp_path / "x.jsonl")
    first.put("task 1", 1)
    second.put("task 2", 4)
    first.put("task 3", 9)
    assert "task 1" not in second
    found = store(tmp_path / "x.jsonl", resume=True)
    assert {key: found[key] for key in ("task 1", "task 2", "task 3")} == {
        "task 1": 1,
        "task 2": 4,
        "task 3": 9,
    }


def test_an_error_of_a_task_stops_the_rest_and_keeps_what_is_done(tmp_path: Path) -> None:
    def fails(value: int) -> int:
        if value == 3:
            raise ArithmeticError("no")
        return value

    kept = store(tmp_path / "x.jsonl")
    with ThreadPoolExecutor(1) as executor, pytest.raises(ArithmeticError, match="no"):
        run_all(fails, TASKS, executor, kept)
    assert "task 0" in kept


def test_what_is_in_when_a_task_fails_is_kept_whatever_the_order(tmp_path: Path) -> None:
    class AllAtOnce(Executor):
        """All are through before the first is looked at, half of them without success."""

        def submit(self, function: Any, task: int) -> Any:  # type: ignore[override]
            future: Future[int] = Future()
            if task % 2:
                future.set_exception(ArithmeticError("no"))
            else:
                future.set_result(task)
            return future

    kept = store(tmp_path / "x.jsonl")
    with pytest.raises(ArithmeticError, match="no"):
        run_all(int, {f"task {number}": number for number in range(40)}, AllAtOnce(), kept)
    assert len(kept) == 20
    assert len(store(tmp_path / "x.jsonl", resume=True)) == 20


def test_a_key_changes_with_everything_that_the_answer_depends_on() -> None:
    base = key_of(default_setup(), 0.02)
    assert base == key_of(default_setup(), 0.02)
    changed = [
        key_of(default_setup(), 0.03),
        key_of(default_setup(["electrode.force=31 N"]), 0.02),
        key_of(
            default_setup(["limits.can_penetration.value=0.4", "limits.can_penetration.source=mine"]), 0.02
        ),
        key_of(default_setup(["strip.material=nickel-201"]), 0.02),
    ]
    assert len({base, *changed}) == 5


def test_a_material_counts_with_all_that_it_holds_picklable_or_not() -> None:
    class Own(Curve):
        """A curve of a class that no other process could find."""

    metal = matter()
    capacity = metal.heat_capacity
    warmer = replace(capacity, value=capacity.value * 1.01)
    own = [Own(one.temperature_K, one.value, one.citation) for one in (capacity, capacity, warmer)]
    plain, same, other = (key_of(replace(metal, heat_capacity=one)) for one in (capacity, capacity, warmer))
    assert plain == same == key_of(pickle.loads(pickle.dumps(metal)))
    assert plain != other
    first, again, changed = (key_of(replace(metal, heat_capacity=one)) for one in own)
    assert first == again
    assert len({plain, first, changed}) == 3


def test_what_is_done_meanwhile_comes_once_while_the_tasks_are_on_their_way() -> None:
    happened: list[str] = []

    class Noting(Executor):
        def submit(self, function: Any, /, *args: Any, **named: Any) -> Future[Any]:
            happened.append("submitted")
            future: Future[Any] = Future()
            future.set_result(function(*args))
            return future

    def meanwhile() -> None:
        happened.append("meanwhile")

    run_all(square, {"one": 1, "two": 2}, Noting(), meanwhile=meanwhile)
    assert happened == ["submitted", "meanwhile", "submitted"]
    happened.clear()
    run_all(square, {"one": 1}, None, None, happened.append, meanwhile)
    assert happened == ["meanwhile", "one"]
