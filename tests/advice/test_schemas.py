"""The published schemas are the ones of the code; every property in them says what it is.

To write them anew: python tests/advice/test_schemas.py
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from pydantic import BaseModel

from advisor.advice.advice import Advice
from advisor.advice.audit import AuditResult
from advisor.advice.clock_sheet import ClockSheet
from advisor.advice.described import schema_of
from advisor.advice.judged_why import JudgedWhy
from advisor.advice.problems import ErrorTold
from advisor.advice.rain_answer import RainAnswer
from advisor.advice.rain_skill import RainSkill
from advisor.advice.records import (
    Adopted,
    Carried,
    Edited,
    Examined,
    Exported,
    Listed,
    Recorded,
    Removed,
    Restored,
    TakenBack,
)
from advisor.advice.replay import OwnSeason, Replayed
from advisor.advice.run_time import Runtime
from advisor.advice.service_health import ServiceHealth
from advisor.advice.site_check import SiteCheck, SiteWritten
from advisor.advice.weather_days import WeatherDays
from advisor.rounds.next_round import NextRounds
from advisor.rounds.tank_mix import Mix

FOLDER = Path(__file__).resolve().parents[2] / "data" / "schemas"
MODELS: dict[str, type[BaseModel]] = {
    "audit": AuditResult,
    "check": SiteCheck,
    "clock-sheet": ClockSheet,
    "error": ErrorTold,
    "init": SiteWritten,
    "mix": Mix,
    "next-round": NextRounds,
    "rain": RainAnswer,
    "record": Recorded,
    "records-adopt": Adopted,
    "records-check": Examined,
    "records-edit": Edited,
    "records-export": Exported,
    "records-import": Carried,
    "records-list": Listed,
    "records-remove": Removed,
    "records-restore": Restored,
    "records-undo": TakenBack,
    "replay": Replayed,
    "replay-mine": OwnSeason,
    "runtime": Runtime,
    "status": ServiceHealth,
    "tonight-why": JudgedWhy,
    "tonight": Advice,
    "weather-skill": RainSkill,
    "weather": WeatherDays,
}
"""What each command prints with --json, and "error" what any of them prints where it cannot."""


def published(name: str) -> Path:
    return FOLDER / f"{name}.schema.json"


def properties(model: type[BaseModel]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every property of a model and of all that stand in it, by the name of its class."""
    schema = schema_of(model)
    for title, part in ((schema["title"], schema), *schema.get("$defs", {}).items()):
        for name, one in part.get("properties", {}).items():
            yield f"{title}.{name}", one


@pytest.mark.parametrize("name", MODELS)
def test_the_published_schema_is_the_one_of_the_code(name: str) -> None:
    assert json.loads(published(name).read_text(encoding="utf-8")) == schema_of(MODELS[name])


def test_no_other_schema_is_published() -> None:
    assert sorted(path.name for path in FOLDER.iterdir()) == sorted(published(name).name for name in MODELS)


@pytest.mark.parametrize("name", MODELS)
def test_every_property_has_a_description(name: str) -> None:
    assert [path for path, one in properties(MODELS[name]) if not one.get("description", "").strip()] == []


@pytest.mark.parametrize("name", MODELS)
def test_every_schema_names_its_version_in_the_same_way(name: str) -> None:
    version = schema_of(MODELS[name])["properties"]["schema_version"]["const"]
    family, number = version.split("/")
    assert family.startswith("advisor.")
    assert number.isdecimal()


if __name__ == "__main__":
    for each, model in MODELS.items():
        published(each).write_text(json.dumps(schema_of(model), indent=1) + "\n", encoding="utf-8")
