"""A weld is kept and read back whole, or the file is refused in one clear line."""

from __future__ import annotations

import io
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from small import coarse

from nugget.api import Weld
from nugget.errors import InputError
from nugget.outcome.loading import load_weld
from nugget.outcome.weld import iter_steps, run_weld


@pytest.fixture(scope="module")
def kept(weld: Weld, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return weld.save(tmp_path_factory.mktemp("kept") / "weld.npz")


def test_what_was_saved_is_read_back(weld: Weld, kept: Path) -> None:
    again = load_weld(kept)
    assert again.setup == weld.setup
    assert again.figures == weld.figures
    assert again.layers == weld.layers
    for name in ("r_faces_m", "z_faces_m", "active", "melting_K"):
        assert (getattr(again, name) == getattr(weld, name)).all()
    assert set(again.history) == set(weld.history)
    for column, values in weld.history.items():
        assert (again.history[column] == values).all()
    assert set(again.snapshots) == {"hottest", "interior peak"}
    for name, snapshot in weld.snapshots.items():
        assert again.snapshots[name].time_s == snapshot.time_s
        assert (again.snapshots[name].temperature_K == snapshot.temperature_K).all()


def test_the_setup_comes_back_as_it_was(weld: Weld, kept: Path) -> None:
    again = load_weld(kept).setup
    assert again.document() == weld.setup.document()
    assert again.train == weld.setup.train
    assert again.circuit == weld.setup.circuit
    assert [layer.material.name for layer in again.base] == [layer.material.name for layer in weld.setup.base]


def test_a_weld_saved_again_is_the_same(kept: Path, tmp_path: Path) -> None:
    again = load_weld(load_weld(kept).save(tmp_path / "again.npz"))
    assert again.figures == load_weld(kept).figures


def test_the_name_is_kept_as_given(weld: Weld, tmp_path: Path) -> None:
    assert weld.save(str(tmp_path / "kept.weld")) == tmp_path / "kept.weld"
    assert [path.name for path in tmp_path.iterdir()] == ["kept.weld"]


def test_a_weld_with_a_nan_is_not_kept(weld: Weld, tmp_path: Path) -> None:
    broken = replace(weld, figures=weld.figures | {"hottest_K": float("nan")})
    with pytest.raises(ValueError, match="not JSON compliant"):
        broken.save(tmp_path / "weld.npz")
    assert list(tmp_path.iterdir()) == []


def archive(**arrays: object) -> bytes:
    stream = io.BytesIO()
    np.savez(stream, **{name: np.asarray(value) for name, value in arrays.items()})  # type: ignore[arg-type]
    return stream.getvalue()


def single() -> bytes:
    stream = io.BytesIO()
    np.save(stream, np.zeros(3))
    return stream.getvalue()


def refused(path: Path, content: bytes) -> str:
    path.write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_weld(path)
    return str(caught.value)


@pytest.mark.parametrize("content", [b"not an archive", archive(fields=1.0), archive(header="{")])
def test_a_file_of_another_kind_is_refused(tmp_path: Path, content: bytes) -> None:
    message = refused(tmp_path / "other.npz", content)
    assert "other.npz: got" in message
    assert message.endswith("expected a file written by Weld.save")


def test_a_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match=r"none\.npz: got .*no such file"):
        load_weld(tmp_path / "none.npz")


def test_a_later_format_is_refused(tmp_path: Path) -> None:
    message = refused(tmp_path / "later.npz", archive(header=json.dumps({"format": 2})))
    assert message.endswith("later.npz: format: got 2, expected 1")


def flipped(whole: bytes, place: int) -> bytes:
    """A byte turned over, amid the largest array."""
    return whole[:place] + bytes([whole[place] ^ 255]) + whole[place + 1 :]


DAMAGE: dict[str, Callable[[bytes], bytes]] = {
    "an empty file": lambda _: b"",
    "half an archive": lambda whole: whole[: len(whole) // 2],
    "a byte that flipped": lambda whole: flipped(whole, len(whole) // 2),
    "a single array": lambda _: single(),
    "a header that is a list": lambda _: archive(header="[1]"),
    "a header without its arrays": lambda _: archive(header='{"format": 1}'),
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_a_damaged_file_is_refused(damage: str, kept: Path, tmp_path: Path) -> None:
    message = refused(tmp_path / "damaged.npz", DAMAGE[damage](kept.read_bytes()))
    assert message.endswith("expected a file written by Weld.save")


def test_a_broken_stream_is_refused(kept: Path, tmp_path: Path) -> None:
    """The first member of the archive starts with a block type that there is not."""
    whole = bytearray(kept.read_bytes())
    name, extra = (int.from_bytes(whole[at : at + 2], "little") for at in (26, 28))
    whole[30 + name + extra] = 0x07
    assert refused(tmp_path / "damaged.npz", bytes(whole)).endswith("expected a file written by Weld.save")


def test_layers_are_kept_as_they_are_drawn(weld: Weld) -> None:
    roles = list(dict.fromkeys(band.role for band in weld.layers))
    assert roles == ["roll", "separator", "disc", "can", "strip", "tip", "shank"]
    strip = weld.layers[4]
    assert (strip.bottom_m, strip.top_m) == (0.0, pytest.approx(0.12e-3))
    assert strip.radius_m == pytest.approx(4e-3)
    assert np.isinf(weld.melting_K[~weld.active]).all()


def test_watching_is_marching() -> None:
    """The same steps to the same end, with the fields on the way."""
    setup = coarse("pulse.0.duration=0.1 ms", until_ms=20)
    states = list(iter_steps(setup))
    seen: list[float] = []
    weld = run_weld(setup, on_step=lambda state: seen.append(state.time_s))
    assert seen == [state.time_s for state in states] == weld.history["time_s"].tolist()
    assert weld.peak_reached
    assert states[-1].time_s < 20e-3, "both end when the probe has passed its peak"
    assert all(state.temperature.shape == weld.active.shape for state in states)
    assert max(float(m.temperature[weld.active].max()) for m in states) == weld.hottest_K
