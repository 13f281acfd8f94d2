"""The manual's lines of Python do what they say."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from nugget.manual import written

PAGE = written("howto-python") or ""


def test_the_ten_lines_run(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    section = PAGE.partition("## From Python\n")[2].partition("\n## ")[0]
    first, second = re.findall(r"```python\n(.*?)```", section, flags=re.DOTALL)
    quick = [
        "pulse.0.duration=5 ms",
        "numerics.refinement=0.3",
        "numerics.tolerance=16 K",
        "leads.inductance=0 uH",
    ]
    coarse = ", ".join(f'"{one}"' for one in quick)
    code = first.replace('"pulse.0.duration=5 ms"', coarse)
    assert code != first
    names: dict[str, object] = {}
    exec(compile(code, "page", "exec"), names)
    printed = capsys.readouterr().out
    assert re.fullmatch(r"nugget \d\.\d\d mm at \d{4} A\ntop of the winding \d+ degC\n", printed)
    assert (tmp_path / "weld.npz").exists()
    assert (tmp_path / "histories.png").stat().st_size > 10_000
    assert names["again"].nugget_diameter_m == names["weld"].nugget_diameter_m  # type: ignore[attr-defined]
    exec(compile(second, "page", "exec"), names)
    lines = capsys.readouterr().out.splitlines()
    assert [line.split()[0] for line in lines[2:4]] == ["20.0", "45.0"]
    assert 400.0 < float(lines[4]) < 3000.0
    assert (tmp_path / "weld.nc").stat().st_size > 10_000
    assert len(list(tmp_path.glob("weld-*.vtu"))) > 20
