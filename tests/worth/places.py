"""What `data/worth.toml` says: places, seasons, and which of them serve tuning and which judging."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any, Literal
from zoneinfo import ZoneInfo

Part = Literal["tuning", "judging"]
FILE = Path(__file__).parents[2] / "data" / "worth.toml"


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the file; `krs` is the factor of FAO-56 eq. 50, `station` the name in the source's table."""

    name: str
    source: str
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    zone: ZoneInfo
    krs: float
    station: str = ""


@lru_cache
def worth() -> dict[str, Any]:
    """The whole file."""
    with FILE.open("rb") as file:
        return tomllib.load(file)


def years_of(part: Part, said: dict[str, Any] | None = None) -> list[tuple[str, int]]:
    """Place and year of every season of this part; ValueError for one that is in both parts."""
    said = worth() if said is None else said
    seasons = {
        each: [(place, year) for place, years in said[each].items() for year in years]
        for each in ("tuning", "judging")
    }
    if both := set(seasons["tuning"]) & set(seasons["judging"]):
        raise ValueError(f"{FILE.name}: for tuning and for judging at once: {sorted(both)}")
    return seasons[part]


def place_of(name: str) -> Place:
    """The place of this name."""
    said = dict(worth()["places"][name])
    return Place(name=name, zone=ZoneInfo(said.pop("time_zone")), **said)


def season_of(place: Place, year: int) -> tuple[date, date]:
    """The first and the last local day of the season that starts in this year."""
    north = place.latitude_deg >= 0.0
    first, last = worth()["season"]["northern" if north else "southern"]
    return date.fromisoformat(f"{year}-{first}"), date.fromisoformat(f"{year if north else year + 1}-{last}")
