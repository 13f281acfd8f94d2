"""Pairs of metals: every one that a battery weld meets has a record, and the record is sensible."""

from __future__ import annotations

import typing
from dataclasses import replace

import pytest

from nugget.materials import library, pairs
from nugget.materials.curve import Confidence
from nugget.materials.pairs import Kind, family, pair

STRIPS = (
    "nickel-200",
    "low-carbon-steel",
    "stainless-304",
    "copper-etp",
    "cuni-70-30",
    "brass-c260",
    "aluminium-1100",
    "zinc",
)
WALLS = ("can-steel", "nickel", "aluminium-can")


def test_every_strip_on_every_can_and_on_each_other_is_known() -> None:
    metals = [library.get(name) for name in (*STRIPS, *WALLS)]
    for one in metals:
        for other in metals:
            found = pair(one, other)
            assert found.kind != "unknown", (one.name, other.name)
            assert found.joint_temperature_K <= min(one.melting_K or 0.0, other.melting_K or 0.0)
            back = pair(other, one)
            assert (back.kind, back.joint_temperature_K) == (found.kind, found.joint_temperature_K)


@pytest.mark.parametrize(
    ("one", "other", "kind", "temperature_C"),
    [
        ("nickel-200", "can-steel", "soluble", 1440.0),
        ("nickel", "low-carbon-steel", "soluble", 1440.0),
        ("stainless-304", "can-steel", "soluble", 1425.0),
        ("copper-etp", "nickel", "soluble", 1084.6),
        ("copper-etp", "can-steel", "braze", 1084.6),
        ("cuni-70-30", "nickel-200", "soluble", 1205.0),
        ("nickel-200", "aluminium-can", "brittle", 640.0),
        ("aluminium", "can-steel", "brittle", 655.0),
        ("aluminium-1100", "aluminium-can", "soluble", 648.5),
        ("can-steel", "low-carbon-steel", "soluble", 1513.5),
    ],
)
def test_pairs_by_their_phase_diagram(one: str, other: str, kind: str, temperature_C: float) -> None:
    found = pair(library.get(one), library.get(other))
    assert found.kind == kind
    assert found.joint_temperature_K - 273.15 == pytest.approx(temperature_C, abs=1.0)


def test_an_own_alloy_falls_into_a_family_by_its_composition() -> None:
    strip = library.get("nickel-200")
    assert family(replace(strip, composition={"Ni": 0.75, "Cr": 0.16, "Fe": 0.09})) == "nickel"
    assert family(replace(strip, composition={"Cu": 0.9, "Ni": 0.1})) == "copper-nickel"
    assert family(replace(strip, composition={"Fe": 0.64, "Ni": 0.36})) == "unknown"
    assert family(replace(strip, composition={})) == "unknown"


def test_an_unknown_pair_says_so_and_both_sides_must_melt() -> None:
    strip, wall = replace(library.get("nickel-200"), composition={}), library.get("can-steel")
    found = pair(strip, wall)
    assert found.kind == "unknown"
    assert found.joint_temperature_K == wall.melting_K
    assert found.families == ("unknown", "steel")
    assert "both sides must melt" in found.source
    assert pair(library.get("air"), wall).joint_temperature_K == float("inf")


def test_the_records_are_whole_and_no_pair_stands_twice() -> None:
    records = pairs._records()
    names = {record["name"] for record in records["family"]}
    seen = [tuple(sorted(record["families"])) for record in records["pair"]]
    assert len(set(seen)) == len(seen) == len(names) * (len(names) + 1) // 2
    for record in records["pair"]:
        assert set(record["families"]) <= names
        assert record["kind"] in typing.get_args(Kind)
        assert record["confidence"] in typing.get_args(Confidence)
        assert len(record["source"]) > 10
