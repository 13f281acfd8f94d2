"""The JSON object that a judged weld is kept as."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import pytest
from small import coarse
from statements import SAMPLE, fake

from nugget.api import Weld
from nugget.constants import VERSION
from nugget.outcome.record import data_sources
from nugget.setup import setup_from_dict
from nugget.study.statement.assessment import Assessment, judged, record
from nugget.study.statement.statement import state


@pytest.fixture(scope="module")
def found(weld: Weld) -> dict[str, Any]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(SAMPLE, fake)
        assessment = Assessment(weld, judged(weld), state(weld.setup, welds=(16,)))
    return json.loads(json.dumps(record(assessment), allow_nan=False))


def test_it_holds_figures_verdict_limits_and_version(found: dict[str, Any], weld: Weld) -> None:
    assert found["nugget_diameter_m"] == weld.nugget_diameter_m
    assert found["verdict"] == found["statement"]["verdict"] == "uncertain"
    assert found["verdict_reason"].startswith("minimum diameter reached in ")
    assert [limit["id"] for limit in found["limits"]] == [limit.id for limit in weld.setup.limits]
    assert all(limit["source"] for limit in found["limits"])
    roll = next(limit for limit in found["limits"] if limit["id"] == "interior_temperature")
    assert 0.0 < roll["chance_broken"]["low"] <= roll["chance_broken"]["share"] < 1.0
    assert {one["field"] for one in found["statement"]["inputs"]} >= {"electrode.force", "cell.wall"}
    assert found["version"] == VERSION


def test_its_setup_can_be_run_again(found: dict[str, Any], weld: Weld) -> None:
    again = setup_from_dict(found["setup"])
    assert again.train == weld.setup.train
    assert again.document() == weld.setup.document()


def test_a_prediction_is_never_a_permission(found: dict[str, Any]) -> None:
    assert found["cautions"][0].startswith("A predicted weld is not a safe weld")
    assert len(found["cautions"]) >= 4


def test_every_material_limit_and_reaction_is_cited(weld: Weld) -> None:
    cited = data_sources(weld.setup)
    assert all(entry["source"] for entry in cited)
    items = [entry["item"] for entry in cited]
    assert len(items) == len(set(items)), "each once, though a material may stand in two layers"
    for name in ("nickel-200", "can-steel", "cucrzr", "air", "polypropylene", "jelly-roll-nmc"):
        assert any(item.startswith(f"{name}: ") for item in items)
    for limit in weld.setup.limits:
        assert f"limit: {limit.id}" in items
    assert "kinetics" in items
    confidence = {entry["item"]: entry["confidence"] for entry in cited}
    assert all(confidence.values())
    assert confidence["contact.faying.film"] == "memory"
    assert confidence["cell.wall"] == "unknown", "common practice, no source"


def test_what_is_not_used_is_not_cited() -> None:
    coupon = coarse()
    items = [entry["item"] for entry in data_sources(replace(coupon.si, limits=()))]
    assert not any(item.startswith(("limit", "kinetics", "jelly-roll")) for item in items)
