"""Labels that do not collide, files that appear whole."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from nugget.errors import InputError
from nugget.plot import style

PLACES = st.lists(st.floats(-2.0, 3.0), max_size=12)


@given(PLACES, st.floats(0.0, 0.5))
def test_spread_labels_keep_their_distance_and_their_order(wanted: list[float], gap: float) -> None:
    placed = style.spread(wanted, gap, 0.0, 1.0)
    assert ((placed >= -1e-9) & (placed <= 1.0 + 1e-9)).all()
    order = np.argsort(wanted, kind="stable")
    fits = min(gap, 1.0 / max(len(wanted) - 1, 1))
    assert (np.diff(placed[order]) >= fits - 1e-9).all()


def test_labels_with_room_stay_where_they_belong() -> None:
    np.testing.assert_allclose(style.spread([0.7, 0.1, 0.4], 0.2, 0.0, 1.0), [0.7, 0.1, 0.4])


def test_short_titles() -> None:
    assert style.short_title("Nickel 200 (UNS N02200), annealed strip") == "Nickel 200"
    assert style.short_title("Tungsten") == "Tungsten"


@pytest.mark.parametrize(("value", "text"), [(1e-4, "0.1 ms"), (0.116, "116 ms"), (2.0, "2 s")])
def test_times(value: float, text: str) -> None:
    assert style.time_text(value) == text


def test_a_figure_is_written_whole(tmp_path: Path) -> None:
    with style.drawing(2.0, 1.0) as figure:
        figure.subplots()
    path = style.write_figure(figure, tmp_path / "a" / "one.png")
    assert path.read_bytes().startswith(b"\x89PNG")
    assert [one.name for one in path.parent.iterdir()] == ["one.png"]


def test_a_folder_that_is_a_file_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("", encoding="utf-8")
    with style.drawing(2.0, 1.0) as figure, pytest.raises(InputError, match="taken"):
        style.write_figure(figure, tmp_path / "taken" / "one.png")


def test_drawing_leaves_the_users_settings_alone() -> None:
    import matplotlib

    before = dict(matplotlib.rcParams)
    with style.drawing(2.0, 1.0):
        pass
    assert dict(matplotlib.rcParams) == before
