"""Margins for a pack: the thinnest and the thickest strip at the least and the largest force."""

from __future__ import annotations

import nugget


def main(**changes: object) -> dict[str, float]:
    """Weld the corners of a pack's tolerances; return the worst of each figure over them."""
    setup = nugget.default_setup().with_(**changes)
    corners = {"strip.thickness": ["0.14 mm", "0.16 mm"], "electrode.force": ["24 N", "36 N"]}
    found = nugget.sweep(setup, corners)
    print(found.to_dataframe()[["nugget_diameter_m", "can_penetration", "interior_peak_K"]])
    worst = {
        "nugget_diameter_m": float(found["nugget_diameter_m"].min()),
        "can_penetration": float(found["can_penetration"].max()),
        "interior_peak_K": float(found["interior_peak_K"].max()),
    }
    for name, value in worst.items():
        print(f"worst {name}: {value:.4g}")
    print("Corners of two inputs only; `nugget scatter` varies all that are not known exactly.")
    return worst


if __name__ == "__main__":
    main()
