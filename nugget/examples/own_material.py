"""Own material: a strip known from its catalogue, beside nickel."""

from __future__ import annotations

import nugget


def main(**changes: object) -> dict[str, nugget.Weld]:
    """Weld the logger pack with nickel and with a catalogue's copper-nickel; print both."""
    drawer = nugget.Material.from_catalogue(
        "drawer-strip",
        resistivity="38 uohm cm",
        density="8.9 g/cm3",
        melting="1170 to 1240 degC",
        composition="Cu 70, Ni 30",
        source="label of the reel",
    )
    welds = {}
    for strip in ("nickel-200", drawer):
        weld = nugget.simulate(nugget.default_setup().with_({"strip.material": strip}, **changes))
        name = strip if isinstance(strip, str) else strip.name
        print(f"{name:>13}: nugget {weld.nugget_diameter_m * 1e3:.2f} mm, {weld.peak_current_A:.0f} A")
        welds[name] = weld
    print("estimated for drawer-strip:", ", ".join(drawer.estimated))
    return welds


if __name__ == "__main__":
    main()
