"""Ten benches of different kinds, over the built-in setup: what holds for one weld shall hold for all."""

from __future__ import annotations

BANK = 'source={kind="capacitor bank", capacitance="1 F", start_voltage="14 V", series_resistance="3 mohm"}'
MAINS = (
    'source={kind="transformer", open_circuit_voltage_rms="3 V", frequency="50 Hz",'
    ' winding_resistance="0.5 mohm", leakage_inductance="1 uH"}'
)
BENCHES: dict[str, tuple[str, ...]] = {
    "as it comes": (),
    "shorter": ("pulse.0.duration=0.9 ms",),
    "longer": ("pulse.0.duration=4 ms",),
    "thin strip": ("strip.thickness=0.1 mm", "pulse.0.duration=0.8 ms"),
    "thick strip": ("strip.thickness=0.2 mm", "pulse.0.duration=5 ms"),
    "more force": ("electrode.force=45 N",),
    "plated steel": ("strip.material=nickel-plated-steel",),
    "capacitor bank": (BANK, "pulse.0.duration=3 ms"),
    "mains": (MAINS, "pulse=[{half_cycles=1}]"),
    "films known": ("uncertainty.spread={'contact.tip.film'='x1.3', 'contact.faying.film'='x1.3'}",),
}
