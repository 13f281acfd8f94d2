"""What a command writes never takes the place of something that nugget did not write as it stands."""

from __future__ import annotations

import errno
import os
import subprocess
from pathlib import Path

import pytest
from folders import visible

from nugget.cli.outputs import RECORD, Outputs, keep
from nugget.errors import InputError
from nugget.outcome.writing import write_text, write_whole


def wrote(path: Path, text: str) -> Path:
    return keep(path, lambda place: write_text(place, text))


def test_what_nugget_wrote_is_replaced(tmp_path: Path) -> None:
    for text in ("first", "second", "second"):
        assert wrote(tmp_path / "new" / "a.csv", text) == tmp_path / "new" / "a.csv"
    assert (tmp_path / "new" / "a.csv").read_text() == "second"
    assert visible(tmp_path / "new") == ["a.csv"]


@pytest.mark.parametrize("record", ["", "\0 no checksums\n  \nabc", None])
def test_what_was_changed_or_is_not_ours_stays(tmp_path: Path, record: str | None) -> None:
    """Filled in after nugget wrote it, or the user's from the start; also without a sound record."""
    path = tmp_path / "trials.csv"
    wrote(path, "to fill in")
    path.write_text("filled in")
    if record is not None:
        (tmp_path / RECORD).write_text(record)
    assert wrote(path, "to fill in again") == tmp_path / "trials-2.csv"
    assert path.read_text() == "filled in"
    assert wrote(path, "once more") == tmp_path / "trials-2.csv", "its own neighbour is replaced"
    (tmp_path / "trials-2.csv").write_text("filled in too")
    assert wrote(path, "a third") == tmp_path / "trials-3.csv"
    assert [(tmp_path / name).read_text() for name in visible(tmp_path)] == [
        "filled in too",
        "a third",
        "filled in",
    ]


def test_a_file_of_the_same_content_is_left(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_text("same")
    assert wrote(tmp_path / "a.toml", "same") == tmp_path / "a.toml"
    assert visible(tmp_path) == ["a.toml"]


def test_a_link_that_leads_elsewhere_stays(tmp_path: Path) -> None:
    (tmp_path / "kept.csv").write_text("mine")
    (tmp_path / "a.csv").symlink_to("kept.csv")
    (tmp_path / "b.csv").symlink_to("nowhere")
    assert wrote(tmp_path / "a.csv", "new").name == "a-2.csv"
    assert wrote(tmp_path / "b.csv", "new").name == "b-2.csv"
    assert (tmp_path / "kept.csv").read_text() == "mine"


def test_what_is_no_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe")
    for name, given in (("folder", "a folder"), ("pipe", "no plain file")):
        with pytest.raises(InputError, match=f"{name}: got '{given}', expected a file name"):
            wrote(tmp_path / name, "text")
    with pytest.raises(InputError, match="expected a folder that can be written"):
        wrote(tmp_path / "pipe" / "a.csv", "text")


def test_a_full_disk_is_one_line_and_leaves_nothing(tmp_path: Path) -> None:
    def fails(path: Path) -> None:
        path.write_text("half")
        raise OSError(28, "No space left on device")

    with pytest.raises(InputError, match=r"a\.csv: got 'No space left on device'"):
        keep(tmp_path / "a.csv", fails)
    assert os.listdir(tmp_path) == []


def test_what_cannot_be_written_is_named_as_it_was_asked_for(tmp_path: Path) -> None:
    def full(place: Path) -> None:
        def write(_: object) -> None:
            raise OSError(errno.ENOSPC, "No space left on device")

        write_whole(place, write)

    with pytest.raises(InputError, match=r"^\S*/a\.csv: got 'No space left on device', expected") as caught:
        keep(tmp_path / "a.csv", full)
    assert ".nugget" not in str(caught.value)
    with pytest.raises(InputError, match="name too long"):
        wrote(tmp_path / ("x" * 300), "text")
    assert visible(tmp_path) == []


def test_the_record_can_be_checked_with_a_common_tool(tmp_path: Path) -> None:
    wrote(tmp_path / "a.csv", "one")
    wrote(tmp_path / "b.csv", "two")
    check = subprocess.run(["sha256sum", "--check", "--quiet", RECORD], cwd=tmp_path, capture_output=True)
    assert check.returncode == 0, check.stderr


def test_a_kept_file_is_said_on_stderr(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "my-trials.csv").write_text("mine")
    outputs = Outputs(tmp_path, "my-")
    outputs.text("trials.csv", "text")
    outputs.say()
    printed = capsys.readouterr()
    assert "my-trials.csv is not as nugget wrote it, so it was kept" in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == f"\nWritten: {tmp_path / 'my-trials-2.csv'}\n"
