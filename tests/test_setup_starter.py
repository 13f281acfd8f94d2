"""The commented starter file and the list of presets."""

from __future__ import annotations

import argparse
import re
import tomllib
from typing import Any, get_args

import pytest
from pydantic import BaseModel

from nugget.cli.commands.setup_command import fill
from nugget.setup import preset, preset_names, presets, setup_from_dict, starter_text
from nugget.setup.schema import SetupFile


def commands() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser()
    fill(parser)
    return parser


@pytest.mark.parametrize("name", preset_names())
def test_a_starter_file_loads_to_its_preset(name: str) -> None:
    assert setup_from_dict(tomllib.loads(starter_text(name))) == preset(name)


@pytest.mark.parametrize("name", preset_names())
def test_the_values_that_follow_are_shown_as_comments(name: str) -> None:
    """Taking the comment signs off the filled-in values changes nothing."""
    text = starter_text(name)
    keys = ["wall_material", "wall", "radius", "interior", "law", "film"]
    opened = re.sub(rf"^# ({'|'.join(keys)}) = ", r"\1 = ", text, flags=re.MULTILINE)
    assert setup_from_dict(tomllib.loads(opened)) == preset(name)


def fields(model: type[BaseModel]) -> set[str]:
    """Every key of a model and of the tables in it, but not of the entries of inline lists."""
    found: set[str] = set()
    for key, info in model.model_fields.items():
        found.add(key)
        parts: list[Any] = [info.annotation, *get_args(info.annotation)]
        for part in parts:
            if isinstance(part, type) and issubclass(part, BaseModel):
                found |= fields(part)
    return found


def test_the_starter_shows_every_key() -> None:
    text = starter_text()
    shown = set(re.findall(r"([a-z_]+) = ", text)) | {
        part for header in re.findall(r"^\[+([a-z_.]+)\]", text, re.MULTILINE) for part in header.split(".")
    }
    assert fields(SetupFile) - shown == set()


def test_every_line_with_a_key_says_what_it_means() -> None:
    told = {
        "title",
        "frequency_factor",
        "activation_energy",
        "source",
        "law",
        "film",
        "contact_spot_density",
        "table",
    }
    for line in starter_text().splitlines():
        key = re.match(r"(?:# )?([a-z_]+) = ", line)
        if key is not None and key[1] not in told:
            assert re.search(r"\s#\s\S", line), line


def test_presets_are_cell_ends_and_trials_without_a_cell() -> None:
    sizes = ("18650", "21700", "26650", "32700")
    ends = [f"{size}-{end}" for size in sizes for end in ("negative", "positive")]
    insides = ["18650-disc-hole", "18650-inner-tab", "18650-film"]
    assert preset_names() == ["default", *ends, "coupon", "empty-can", *insides, "sheets"]


def test_a_live_interior_only_where_there_is_a_cell() -> None:
    for name in preset_names():
        roles = [layer.role for layer in preset(name).base]
        assert ("roll" in roles) == (name not in ("coupon", "empty-can", "sheets"))


def test_the_published_schedule_is_entered_as_printed() -> None:
    setup = preset("sheets")
    assert setup.arrangement == "opposed"
    assert setup.strip[0].thickness_m == setup.base[0].thickness_m == pytest.approx(0.021 * 25.4e-3)
    assert setup.electrode.face_diameter_m == pytest.approx(0.187 * 25.4e-3)
    assert setup.force_N == pytest.approx(244 * 4.4482216)
    assert setup.train_s == pytest.approx(6 / 60)
    assert setup.joint.rule == "sheet"
    assert not setup.contact.faying.grows


def test_the_command_prints_a_starter_file(capsys: pytest.CaptureFixture[str]) -> None:
    for arguments, name in (([], "default"), (["coupon"], "coupon")):
        args = commands().parse_args(arguments)
        assert args.run(args) == 0
        assert capsys.readouterr().out == starter_text(name)


def test_the_command_lists_every_preset_with_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    args = commands().parse_args(["--list"])
    assert args.run(args) == 0
    out = capsys.readouterr().out
    for one in presets():
        assert one.name in out
        assert one.title in out
        assert one.sentence in out
