"""Tables in a terminal: even columns, within the width, no word lost."""

from __future__ import annotations

import re

from nugget.cli.text_tables import WIDTH, table

LONG = "preheat pulse of 0.38 ms, 10 ms cool time, main pulse, tip force 30 N"


def test_what_fits_stays_on_its_line() -> None:
    assert list(table([["a", "bb"], ["ccc", ""]])) == ["a    bb", "ccc"]


def test_what_is_too_wide_is_wrapped_in_its_own_column() -> None:
    rows = [
        ["", "as set up", "verdict"],
        [
            f"  {LONG}",
            "none: strip melted through at 0.5 ms, minimum diameter reached at 0.8 ms",
            "uncertain",
        ],
        ["  one pulse", "1.57 ms to 3.2 ms", "in window"],
    ]
    lines = list(table(rows))
    assert max(map(len, lines)) <= WIDTH
    words = sorted(re.findall(r"\S+", " ".join(lines)))
    assert words == sorted(word for row in rows for cell in row for word in cell.split())
    starts = {lines[0].index("verdict"), lines[1].index("uncertain"), lines[-1].index("in window")}
    assert len(starts) == 1
    assert lines[-1].startswith("  one pulse")
