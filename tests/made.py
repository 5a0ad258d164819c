"""Weather, records and sites made for tests: simple, coherent, and invented."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np

from advisor.advice.notes import Note
from advisor.advice.old_versions import open_advice
from advisor.lawn.judgement import shipped_judgement
from advisor.lawn.site_values import Decision, Place, Rate, Rules, Site, Supply, WeatherSettings, Zone
from advisor.lawn.tables import head_table, soil_table, turf_table
from advisor.sentences.weather_notes import note_sentence
from advisor.soil_water.calibration import prior_of
from advisor.weather.weather import Array, SourceUse, Weather, blank
from advisor.wording import Say

CHICAGO = ZoneInfo("America/Chicago")
EVENING = datetime(2026, 6, 17, 20, 15, tzinfo=CHICAGO)
JUDGED = shipped_judgement()
PRIOR = prior_of(JUDGED.rain)
IN_UTC = Say("metric", ZoneInfo("Etc/UTC"), EVENING)


def made_weather(
    members_mm: Array | None = None,
    *,
    now: datetime = EVENING,
    past_days: int = 31,
    ahead_days: int = 10,
    past_rain_mm: float = 0.0,
    latitude_deg: float = 40.52,
    longitude_deg: float = -96.74,
) -> Weather:
    """Clear summer days of about 30 °C. `members_mm` (m, k) is rain per hour from the hour of `now` on."""
    first = (now - timedelta(days=past_days)).astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    hours = (past_days + ahead_days) * 24
    starts = np.datetime64(first.replace(tzinfo=None), "s") + np.arange(hours) * np.timedelta64(3600, "s")
    w = blank(latitude_deg, longitude_deg, 380.0, starts, 0)
    solar = (starts.astype("datetime64[s]").astype(int) / 3600.0 + longitude_deg / 15.0) % 24.0
    temp = 24.0 + 7.0 * np.cos((solar - 15.0) / 24.0 * 2 * np.pi)
    light = np.maximum(0.0, np.cos((solar - 12.0) / 14.5 * np.pi)) * 3.1 * (np.abs(solar - 12.0) < 7.25)
    index = past_days * 24
    members = np.zeros((3, hours)) if members_mm is None else np.full((len(members_mm), hours), np.nan)
    if members_mm is not None:
        ahead = min(members_mm.shape[1], hours - index)
        members[:, index : index + ahead] = members_mm[:, :ahead]
    rain = np.zeros(hours)
    rain[: 24 * past_days] = past_rain_mm / 24.0 / max(past_days, 1)
    return replace(
        w,
        temp_c=temp,
        dew_c=15.0 + np.cos((solar - 8.0) / 24.0 * 2 * np.pi),
        wind10_m_s=2.5 + 1.5 * np.cos((solar - 15.0) / 24.0 * 2 * np.pi),
        rs_mj_m2_h=light,
        rain_mm=rain,
        snow_mm=np.zeros(hours),
        cloud=np.full(hours, 0.2),
        chance=np.zeros(hours),
        members_mm=members,
        rain_basis=np.full(hours, "model", dtype="<U8"),
        sources=(
            SourceUse(
                "made", "everything", now.astimezone(UTC), now.astimezone(UTC) + timedelta(days=ahead_days)
            ),
        ),
    )


def note_texts(notes: Iterable[Note], level: str = "", *, say: Say = IN_UTC) -> list[str]:
    """The sentences of the notes (of one level), in mm and UTC."""
    return [note_sentence(say, note) for note in notes if level in ("", note.level)]


def made_zone(name: str = "Front", **changes: object) -> Zone:
    """A sunny tall-fescue zone with a measured rate of 12 mm/h."""
    turf, soil = turf_table()["tall fescue"], soil_table()["loam"]
    zone = Zone(
        name=name,
        area_m2=200.0,
        turf=turf,
        soil=soil,
        slope_pct=2.0,
        exposure=1.0,
        exposure_name="full sun",
        root_depth_m=0.2,
        root_depth_known=True,
        head=next(iter(head_table().values())),
        rate=Rate(12.0, "measured", 12.0, 12.0),
        uniformity=0.7,
        uniformity_known=True,
    )
    return replace(zone, **changes)  # type: ignore[arg-type]


def made_site(*zones: Zone, **changes: object) -> Site:
    """An invented site with these zones (one by default), metric, watering allowed 21:00–08:00."""
    from datetime import time

    site = Site(
        path=Path("site.yaml"),
        place=Place("Larkmoor Lane", 40.52, -96.74, 380.0, CHICAGO, "metric"),
        zones=zones or (made_zone(),),
        rules=Rules(hours=((time(21), time(8)),)),
        supply=Supply(),
        sprayers=(),
        products={},
        rounds=(),
        decision=Decision(),
        weather=WeatherSettings(),
        records_path=Path("advisor.db"),
    )
    return replace(site, **changes)  # type: ignore[arg-type]


def kept_advice(*runs: Mapping[str, object]) -> str:
    """An advice as it was kept under the first version of its form, with these runs instead of its own.

    What a run does not say is that of the first run there; `only_if` makes it wait for the gauge.
    """
    kept = json.loads((Path(__file__).parent / "advice" / "kept_version_1.json").read_text(encoding="utf-8"))
    waits = {str(run["zone"]): run["minutes"] for run in runs if run.get("only_if")}
    look = kept["next_looks"][0] | {"zones": [*waits], "minutes": waits}
    like = kept["runs"][0] | {"only_if": ""}
    kept |= {"runs": [{**like, **run} for run in runs], "next_looks": [look] if waits else []}
    assert open_advice(json.dumps(kept)) is not None
    return json.dumps(kept)
