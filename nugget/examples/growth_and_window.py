"""Growth and window: nugget diameter against pulse duration, and where the first limit ends it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

import nugget

DURATIONS = ("0.5 ms", "1 ms", "1.5 ms", "2 ms", "2.5 ms", "3 ms", "4 ms")


def main(durations: Sequence[str] = DURATIONS, **changes: object) -> np.ndarray:
    """Print the growth curve of the logger pack's weld; return which durations are in its window."""
    setup = nugget.default_setup().with_(**changes)
    found = nugget.sweep(setup, {"pulse.0.duration": list(durations)})
    nugget_mm, penetration = found["nugget_diameter_m"] * 1e3, found["can_penetration"]
    joined = nugget_mm >= setup.si.joint.minimum_diameter_m * 1e3
    deepest = next(one.value for one in setup.limits if one.id == "can_penetration")
    inside = joined & (penetration <= deepest)
    for text, size, depth, good in zip(durations, nugget_mm, penetration, inside, strict=True):
        print(f"{text:>7}  {size:5.2f} mm  {depth:4.0%} of the wall melts  {'in the window' if good else ''}")
    print("One run each, nothing varied: a verdict asks for more (nugget.judge).")
    return np.asarray(inside)


if __name__ == "__main__":
    main()
