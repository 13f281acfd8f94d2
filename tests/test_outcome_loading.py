"""A saved weld is read back only when its content is that of a weld."""

from __future__ import annotations

import io
import json
import os
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from nugget.api import Weld
from nugget.errors import InputError
from nugget.outcome.loading import COLUMNS, load_weld

Content = dict[str, Any]


@pytest.fixture(scope="module")
def content(weld: Weld, tmp_path_factory: pytest.TempPathFactory) -> Content:
    path = weld.save(tmp_path_factory.mktemp("kept") / "weld.npz")
    with np.load(path) as archive:
        return {name: archive[name] for name in archive.files}


def kept(path: Path, content: Content) -> Path:
    with path.open("wb") as stream:
        np.savez_compressed(stream, **content)
    return path


def of_header(change: Callable[[Any], object]) -> Callable[[Content], object]:
    def changed(content: Content) -> None:
        header = json.loads(str(content["header"]))
        change(header)
        content["header"] = np.array(json.dumps(header))

    return changed


def put(**values: Any) -> Callable[[Any], object]:
    return lambda table: table.update({key.replace("_KIND_", " "): value for key, value in values.items()})


WRONG: dict[str, Callable[[Content], object]] = {
    "figures null": of_header(put(figures=None)),
    "figures a list": of_header(put(figures=[1])),
    "figures empty": of_header(put(figures={})),
    "a figure of text": of_header(lambda h: put(hottest_K="hot")(h["figures"])),
    "a figure of a list": of_header(lambda h: put(nugget_diameter_m=[1.0])(h["figures"])),
    "a figure of a truth value": of_header(lambda h: put(peak_current_A=True)(h["figures"])),
    "a verdict of a number": of_header(lambda h: put(expulsion=3)(h["figures"])),
    "a figure beyond floats": of_header(lambda h: put(hottest_K=float("inf"))(h["figures"])),
    "a figure that is not there": of_header(lambda h: h["figures"].pop("hottest_K")),
    "layers null": of_header(put(layers=None)),
    "no layers": of_header(put(layers=[])),
    "layers of numbers": of_header(put(layers=[1, 2])),
    "a layer without a role": of_header(lambda h: h["layers"][0].pop("role")),
    "a layer of text": of_header(lambda h: put(top_m="high")(h["layers"][0])),
    "snapshots null": of_header(put(snapshots=None)),
    "no snapshot": of_header(put(snapshots={})),
    "a snapshot without a time": of_header(lambda h: put(hottest=None)(h["snapshots"])),
    "a snapshot that is not there": of_header(lambda h: put(other=1.0)(h["snapshots"])),
    "setup null": of_header(put(setup=None)),
    "setup of another kind": of_header(put(setup={"strip": 3})),
    "header nested": lambda c: c.update(header=np.array("[" * 100_000)),
    "header a number": lambda c: c.update(header=np.array(3.0)),
    "faces short": lambda c: c.update(r_faces_m=c["r_faces_m"][:-1]),
    "faces falling": lambda c: c.update(z_faces_m=c["z_faces_m"][::-1]),
    "faces of text": lambda c: c.update(r_faces_m=np.array(["a", "b"])),
    "faces in two dimensions": lambda c: c.update(r_faces_m=np.zeros((3, 3))),
    "faces not finite": lambda c: c["r_faces_m"].__setitem__(0, np.nan) or None,
    "active of numbers": lambda c: c.update(active=c["active"].astype(float)),
    "active transposed": lambda c: c.update(active=c["active"].T),
    "melting not a number": lambda c: c.update(melting_K=np.full_like(c["melting_K"], np.nan)),
    "melting of another shape": lambda c: c.update(melting_K=c["melting_K"][1:]),
    "history ragged": lambda c: c.update({"history current_A": c["history current_A"][:-1]}),
    "history without time": lambda c: c.pop("history time_s"),
    "history back in time": lambda c: c.update({"history time_s": c["history time_s"][::-1]}),
    "history not finite": lambda c: c.update(
        {"history hottest_K": np.full_like(c["history hottest_K"], np.inf)}
    ),
    "history of text": lambda c: c.update({"history load_ohm": c["history load_ohm"].astype(str)}),
    "history of complex numbers": lambda c: c.update({"history emf_V": c["history emf_V"] * 1j}),
    "snapshot of another shape": lambda c: c.update({"snapshot hottest": c["snapshot hottest"][:, 1:]}),
    "snapshot not finite": lambda c: c.update({"snapshot hottest": c["snapshot hottest"] * np.nan}),
    "a field alone": lambda c: c.update({"field time_s": np.zeros(1)}),
    "an array missing": lambda c: c.pop("melting_K"),
}


@pytest.mark.parametrize("what", WRONG)
def test_what_no_weld_can_be_is_refused(what: str, content: Content, tmp_path: Path) -> None:
    changed = {name: array.copy() for name, array in content.items()}
    WRONG[what](changed)
    with pytest.raises(InputError) as caught:
        load_weld(kept(tmp_path / "weld.npz", changed))
    assert "weld.npz" in str(caught.value)
    assert len(str(caught.value)) < 300


def test_what_they_start_from_is_read(content: Content, weld: Weld, tmp_path: Path) -> None:
    assert load_weld(kept(tmp_path / "weld.npz", content)).figures == weld.figures
    assert set(COLUMNS) <= set(weld.history)


def repacked(
    content: bytes, change: Callable[[zipfile.ZipFile], object], method: int = zipfile.ZIP_DEFLATED
) -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(content)) as old, zipfile.ZipFile(stream, "w", method) as new:
        for one in old.namelist():
            new.writestr(one, old.read(one))
        change(new)
    return stream.getvalue()


def npy(shape: str) -> bytes:
    head = f"{{'descr': '<f8', 'fortran_order': False, 'shape': {shape}, }}".ljust(117).encode() + b"\n"
    return b"\x93NUMPY\x01\x00" + len(head).to_bytes(2, "little") + head


CONTAINERS: dict[str, Callable[[bytes], bytes]] = {
    "a shape beyond memory": lambda w: repacked(w, lambda z: z.writestr("x.npy", npy("(1125899906842624,)"))),
    "a shape of many axes": lambda w: repacked(w, lambda z: z.writestr("x.npy", npy("(" + "2, " * 40 + ")"))),
    "a pickle": lambda w: repacked(
        w, lambda z: z.writestr("x.npy", npy("(1,)").replace(b"'<f8'", b"'|O'  "))
    ),
    "a member that is no array": lambda w: repacked(w, lambda z: z.writestr("x.npy", b"hello")),
    "another packing": lambda w: repacked(w, lambda z: None, zipfile.ZIP_LZMA),
    "encrypted": lambda w: (
        repacked(w, lambda z: None)
        .replace(b"PK\x03\x04\x14\x00\x00\x00", b"PK\x03\x04\x14\x00\x01\x00")
        .replace(b"PK\x01\x02\x14\x03\x14\x00\x00\x00", b"PK\x01\x02\x14\x03\x14\x00\x01\x00")
    ),
}


@pytest.mark.parametrize("what", CONTAINERS)
def test_a_container_that_is_not_ours_is_refused(what: str, content: Content, tmp_path: Path) -> None:
    path = kept(tmp_path / "weld.npz", content)
    changed = CONTAINERS[what](path.read_bytes())
    assert changed != path.read_bytes()
    path.write_bytes(changed)
    with pytest.raises(InputError) as caught:
        load_weld(path)
    assert len(str(caught.value)) < 300


def test_a_bomb_is_not_unpacked(content: Content, tmp_path: Path) -> None:
    """Two gigabytes of zeros in two megabytes: refused by the sizes that the archive states."""
    path = kept(tmp_path / "weld.npz", content)

    def zeros(archive: zipfile.ZipFile) -> None:
        with archive.open("x.npy", "w", force_zip64=True) as member:
            member.write(npy(f"({2**28},)"))

    data = bytearray(repacked(path.read_bytes(), zeros))
    place = data.rindex(b"PK\x01\x02")  # the size in the directory, as if all the zeros were there
    data[place + 24 : place + 28] = (2**31).to_bytes(4, "little")
    path.write_bytes(bytes(data))
    with pytest.raises(InputError, match="more than a gigabyte"):
        load_weld(path)


def test_a_pipe_and_a_device_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    for path in (tmp_path / "pipe", Path("/dev/zero"), tmp_path):
        with pytest.raises(InputError, match=r"no plain file|a folder"):
            load_weld(path)
