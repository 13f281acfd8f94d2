"""First weld: what one pulse does, in a sentence and a picture."""

from __future__ import annotations

import nugget


def main(**changes: object) -> nugget.Weld:
    """Simulate the logger pack's weld with `changes` to its setup, say what came of it, draw it."""
    setup = nugget.default_setup().with_(**changes)
    weld = nugget.simulate(setup)
    target_mm = setup.si.joint.minimum_diameter_m * 1e3
    print(f"nugget {weld.nugget_diameter_m * 1e3:.2f} mm, minimum {target_mm:.2f} mm")
    print(f"{weld.peak_current_A:.0f} A at most; interior at {weld.interior_peak_K - 273.15:.0f} °C at most")
    weld.plot_histories().savefig("first_weld.png")
    return weld


if __name__ == "__main__":
    main()
