"""Files appear whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from nugget.errors import InputError
from nugget.outcome.writing import mark, write_text, write_whole


def test_a_file_is_written_where_it_should_be(tmp_path: Path) -> None:
    path = tmp_path / "new" / "folder" / "text.txt"
    assert write_text(path, "0.15 mm × 8 mm") == path
    assert path.read_text(encoding="utf-8") == "0.15 mm × 8 mm"
    assert os.listdir(path.parent) == ["text.txt"]


def test_an_older_file_is_replaced(tmp_path: Path) -> None:
    path = tmp_path / "text.txt"
    write_text(path, "old and long")
    write_text(path, "new")
    assert path.read_text(encoding="utf-8") == "new"


@pytest.mark.parametrize("failure", [RuntimeError("half way"), KeyboardInterrupt()])
def test_a_failure_leaves_nothing_behind(tmp_path: Path, failure: BaseException) -> None:
    def fails(stream: Any) -> None:
        stream.write(b"half")
        raise failure

    with pytest.raises(type(failure)):
        write_whole(tmp_path / "text.txt", fails)
    assert os.listdir(tmp_path) == []


def test_a_failure_leaves_an_older_file_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "text.txt"
    write_text(path, "old")

    def fails(stream: Any) -> None:
        stream.write(b"half")
        raise RuntimeError

    with pytest.raises(RuntimeError):
        write_whole(path, fails)
    assert path.read_text(encoding="utf-8") == "old"
    assert os.listdir(tmp_path) == ["text.txt"]


def test_the_name_appears_only_when_the_file_is_complete(tmp_path: Path) -> None:
    path = tmp_path / "text.txt"

    def looks(stream: Any) -> None:
        stream.write(b"first half, ")
        stream.flush()
        assert not path.exists()
        stream.write(b"second half")

    write_whole(path, looks)
    assert path.read_bytes() == b"first half, second half"


def test_rights_are_those_of_any_new_file(tmp_path: Path) -> None:
    """Temporary files are private; what takes their place must not be."""
    (tmp_path / "plain").touch()
    write_text(tmp_path / "whole", "text")
    rights = [stat.S_IMODE((tmp_path / name).stat().st_mode) for name in ("plain", "whole")]
    assert rights[0] == rights[1]


def test_a_folder_that_is_a_file_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(InputError, match=r"file/text\.txt: got '.+', expected a folder that can be written"):
        write_text(tmp_path / "file" / "text.txt", "text")


def test_a_name_that_is_a_folder_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "folder").mkdir()
    with pytest.raises(InputError, match="folder: got 'a folder', expected a file name"):
        write_text(tmp_path / "folder", "text")
    assert os.listdir(tmp_path) == ["folder"]


def test_what_a_killed_process_left_is_swept_and_what_a_living_one_writes_is_not(tmp_path: Path) -> None:
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    mine = mark()
    gone = mine.replace(f"-{os.getpid()}-", f"-{ended.pid}-")
    (tmp_path / f"{gone}abc").write_bytes(b"half a picture")
    (tmp_path / f"{gone}def").mkdir()
    (tmp_path / f"{gone}def" / "half.png").write_bytes(b"")
    (tmp_path / f"{mine}ghi").write_bytes(b"being written")
    (tmp_path / ".nugget-written.sha256").write_bytes(b"")
    write_text(tmp_path / "a.txt", "whole")
    names = {path.name for path in tmp_path.iterdir()}
    assert names == {f"{mine}ghi", ".nugget-written.sha256", "a.txt"}


def test_a_link_of_the_name_is_replaced_and_its_target_stays(tmp_path: Path) -> None:
    (tmp_path / "target").write_text("precious")
    (tmp_path / "a.txt").symlink_to(tmp_path / "target")
    write_text(tmp_path / "a.txt", "new")
    assert (tmp_path / "target").read_text() == "precious"
    assert not (tmp_path / "a.txt").is_symlink()


def test_what_is_final_is_synced_before_it_takes_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    done: list[str] = []
    sync, replace = os.fsync, os.replace
    monkeypatch.setattr(os, "fsync", lambda handle: (done.append("sync"), sync(handle))[1])
    monkeypatch.setattr(os, "replace", lambda a, b: (done.append("name"), replace(a, b))[1])
    write_text(tmp_path / "a.txt", "whole")
    assert done[:2] == ["sync", "name"]


def test_no_room_is_one_line_that_names_the_file(tmp_path: Path) -> None:
    def full(stream: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    with pytest.raises(InputError, match=r"a\.txt: got 'No space left on device'"):
        write_whole(tmp_path / "a.txt", full)
    assert list(tmp_path.iterdir()) == []
