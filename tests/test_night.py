"""The road from the site file to its weather: whoever asks, the answers are kept in one place."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from made import EVENING, made_site

from advisor import night
from advisor.errors import AdvisorError, SourceError
from advisor.lawn.records import Records
from advisor.weather import together
from advisor.weather.client import Client


@pytest.mark.parametrize(
    "folder", [None, "elsewhere"], ids=["beside the records", "where the site file says"]
)
def test_the_service_keeps_and_reuses_answers_where_a_single_command_does(
    folder: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[Client] = []

    def gather(asks: list[together.Ask], client: Client, now: datetime, **_: Any) -> list[AdvisorError]:
        asked.append(client)
        return [SourceError("none", "is asked")] * len(asks)

    monkeypatch.setattr("advisor.weather.gather_together", gather)
    site = replace(made_site(), records_path=tmp_path / "larkmoor.sqlite")
    if folder is not None:
        site = replace(site, weather=replace(site.weather, cache=tmp_path / folder))
    night.weather_for([(site, Records())], EVENING)
    assert asked[0].cache_dir == night.client_for(site).cache_dir
    assert asked[0].cache_dir == tmp_path / (folder or "weather-cache")
