"""Files appear whole or not at all."""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Any

import pytest

from nugget.errors import InputError
from nugget.outcome.writing import write_text, write_whole


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
