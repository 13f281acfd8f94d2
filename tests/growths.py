"""Made-up growths for tests that need no march."""

from __future__ import annotations

from nugget.study.durations.edges import Edge, Growth

NAMES = {"bonded": "Bonding onset (solid-state)", "minimum_diameter": "Minimum weld diameter"}
LIMITS = {"can_penetration": ("Melted share of the can wall", 0.5), "expulsion": ("Expulsion", 0.0)}


def edge(key: str, ms: float | None, kind: str = "limit", unknown: str = "") -> Edge:
    title, threshold = LIMITS.get(key, (NAMES.get(key, key), 0.6e-3))
    s = None if ms is None else ms * 1e-3
    unit = "1" if key in LIMITS else "m"
    excess = -0.5 if s is None and not unknown else None
    return Edge(key, title, kind, unit, s, s, s, None if s is None else threshold, threshold, unknown, excess)


def growth(
    target_ms: float | None = 4.0,
    limits_ms: dict[str, float | None] | None = None,
    searched_ms: float = 20.0,
    ended: str = "",
    unknown: str = "",
) -> Growth:
    """A growth whose target and limits lie where a test wants them."""
    limits = {"can_penetration": 15.0, "expulsion": None} if limits_ms is None else limits_ms
    edges = [edge("bonded", 0.4, "bond"), edge("minimum_diameter", target_ms, "joint")]
    edges += [edge(key, ms, unknown=unknown if ms is None else "") for key, ms in limits.items()]
    times = tuple(k * 1e-3 for k in range(int(searched_ms) + 1))
    fused = tuple(min(0.55e-3, 0.1e-3 * k) for k in range(len(times)))
    current = (1400.0,) * len(times)
    return Growth(tuple(edges), searched_ms * 1e-3, ended, times, fused, fused, current, 100, 150, 1.0)
