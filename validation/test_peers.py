"""The peers themselves: what they leave open in a step would be taken for an error of the model."""

from __future__ import annotations

import numpy as np
import pytest

from nugget.arrays import FloatArray
from validation.peers import problems
from validation.peers.contact import Spot

SETTLED = 4e-5


def test_every_step_of_the_fipy_weld_ends_with_the_real_contact_it_asks_for(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Steps that ended by temperature alone let it lag, the more the shorter they were."""
    from validation.peers.fipy_weld import FipyWeld

    asked: dict[str, FloatArray] = {}
    own = Spot._real_contact

    def told(self: Spot, sides: tuple[FloatArray, FloatArray]) -> FloatArray:
        asked[self.interface.name] = own(self, sides)
        return asked[self.interface.name]

    monkeypatch.setattr(Spot, "_real_contact", told)
    source = {"kind": "constant current", "current": "22 kA"}
    changes = {"source": source, "pulse": [{"duration": "10 ms"}], "numerics.refinement": 0.25}
    weld = FipyWeld(problems.opposed().with_(changes), settled_K=0.1, settled_radius=SETTLED)
    for _ in weld.march([(np.full(6, 5e-5), True)]):
        for spot in weld.spots:
            assert asked[spot.interface.name] == pytest.approx(spot.fraction, rel=SETTLED)
