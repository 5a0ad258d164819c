"""Nights on which the weather services fail: `advisor tonight` over real HTTP on loopback, fault by fault.

`FAULTS` is what the tests run. Printed as a table of fault, what the owner saw, what the advice rested on:

    python tests/weather/fault_nights.py
"""

from __future__ import annotations

import contextlib
import copy
import functools
import io
import json
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from weather.bad_server import BadServer

from advisor.lawn.records import Application, Records

REPLIES = Path(__file__).parents[1] / "replies"
NOW = datetime(2026, 7, 15, 18, 17, 24, tzinfo=UTC)
FORECAST, ENSEMBLE, ARCHIVE, MET = "/v1/forecast", "/v1/ensemble", "/v1/archive", "/complete"
POINTS, GRID = "/points/38.9700,-95.2400", "/gridpoints/TOP/77,66"
STATIONS, OBSERVED = "/gridpoints/TOP/77,66/stations", "/stations/KXXX/observations"
SITE = """\
site:
  name: Larkmoor Lane
  latitude: 38.97
  longitude: -95.24
  elevation: 268 m
  time_zone: America/Chicago
  units: metric
  country: US
  contact: owner@larkmoor.example
zones:
  - {{name: Front, area: 200 m2, grass: tall fescue, soil: loam, slope: 2 %, exposure: full sun,
     head: gear rotor, rate: {{measured: 12 mm/h, on: 2026-05-02}}, uniformity: 70 %}}
watering: {{hours: "21:00-08:00"}}
products:
  - {{name: Calcium solution, kind: soil-liquid, rate: 1 mL/m2}}
weather:
  sources: [{sources}]
  base_urls:
    open_meteo: {url}/v1/forecast
    open_meteo_ensemble: {url}/v1/ensemble
    open_meteo_archive: {url}/v1/archive
    met_norway: {url}/complete
    nws: {url}
records: lawn.sqlite
"""


def reply(name: str) -> Any:
    """A stored answer in the service's true shape."""
    return json.loads((REPLIES / name).read_text("utf-8"))


def archive_reply() -> Any:
    """A month of the archive service, made of the forecast's own past week; its last 5 days are unknown."""
    body = reply("open_meteo/forecast.json")
    first = datetime(2026, 6, 14)  # noqa: DTZ001 the service's stamps are naive, at the body's offset
    hourly: dict[str, Any] = {
        "time": [(first + timedelta(hours=h)).isoformat(timespec="minutes") for h in range(31 * 24)]
    }
    for name in ("temperature_2m", "dew_point_2m", "wind_speed_10m", "shortwave_radiation", "precipitation"):
        week = body["hourly"][name][:168]
        hourly[name] = [week[h % 168] if h < 26 * 24 else None for h in range(31 * 24)]
    return {**body, "hourly": hourly}


@functools.cache
def _seeded() -> bytes:
    """A records file with one application, made once."""
    from advisor.store import open_store

    at = NOW - timedelta(hours=3)
    put_down = Application("Calcium solution", ("Front",), at, at, "backpack")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "lawn.sqlite"
        with open_store(path, seed=Records(applications=(put_down,))):
            pass
        return path.read_bytes()


PATIENCE_S, SHORT_S = 5.0, 0.4  # short only where the server is slow on purpose


@dataclass(frozen=True)
class Seen:
    """What came of one evening."""

    code: int
    out: str
    err: str

    @property
    def flat(self) -> str:
        """All that was printed, in one line."""
        return " ".join((self.out + " " + self.err).split())

    def section(self, head: str) -> list[str]:
        """The bullets under a heading of the advice."""
        lines, inside = [], False
        for line in self.out.splitlines():
            if line == head:
                inside = True
            elif inside and not line.startswith("  "):
                break
            elif inside and line.startswith("  - "):
                lines.append(line[4:])
            elif inside and lines:
                lines[-1] += " " + line.strip()
        return lines

    @property
    def rests_on(self) -> list[str]:
        """The names of the sources that the advice says it rests on."""
        return [line.split(", fetched ")[0] for line in self.section("Rests on") if ", fetched " in line]


class Evening:
    """A site with records and its weather services on loopback, all well until told otherwise."""

    def __init__(self, folder: Path, server: BadServer) -> None:
        self.folder, self.server = folder, server
        self.records = folder / "lawn.sqlite"
        self.use()
        for path, name in (
            (FORECAST, "open_meteo/forecast.json"),
            (ENSEMBLE, "open_meteo/ensemble.json"),
            (MET, "met_norway/compact.json"),
            (POINTS, "nws/points.json"),
            (GRID, "nws/gridpoint.json"),
            (STATIONS, "nws/gridpoint_stations.json"),
            (OBSERVED, "nws/observations.json"),
        ):
            server.serve(path, reply(name))
        server.serve(ARCHIVE, archive_reply())

    def use(self, *sources: str) -> None:
        """Write the site file with these sources in this order; none: what suits the country."""
        text = SITE.format(url=self.server.url, sources=", ".join(sources))
        (self.folder / "site.yaml").write_text(text, encoding="utf-8")

    def seed(self) -> None:
        """Records with one application this morning."""
        self.records.write_bytes(_seeded())

    def down(self, behaviour: str, *paths: str) -> None:
        """Let these addresses misbehave so, or all of them."""
        for path in paths or ("",):
            self.server.behave(behaviour, path=path)

    def tonight(
        self, *words: str, now: datetime = NOW, command: str = "tonight", patience_s: float = PATIENCE_S
    ) -> Seen:
        """`advisor tonight` as typed, with so much patience for each answer."""
        from advisor import night
        from advisor.faces.cli.main import main
        from advisor.weather.client import Client

        def client_for(site: Any) -> Client:
            return Client(
                user_agent_contact=site.place.contact,
                cache_dir=site.records_path.parent / "weather-cache",
                timeout=(2.0, patience_s),
                total_s=4 * patience_s,
                pause=lambda seconds: None,
            )

        typed = ["advisor", command, "--site", str(self.folder / "site.yaml"), "--now", now.isoformat()]
        out, err, code = io.StringIO(), io.StringIO(), 0
        with (
            mock.patch.object(night, "client_for", client_for),
            mock.patch.object(sys, "argv", [*typed, *words]),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
        ):
            try:
                main()
            except SystemExit as done:
                code = int(done.code or 0)
        return Seen(code, out.getvalue(), err.getvalue())


@dataclass(frozen=True)
class Fault:
    """A fault: how it is brought about, the first source that then serves (None: refused), words told."""

    name: str
    act: Callable[[Evening], Seen]
    rests_on: str | None
    told: tuple[str, ...] = ()
    not_told: tuple[str, ...] = field(default=())


OM, NWS, MN = "Open-Meteo forecast", "US National Weather Service", "MET Norway"
WAYS = {
    "400": "HTTP 400",
    "429": "HTTP 429",
    "500": "HTTP 500",
    "html": "a web page instead of JSON",
    "cut short": "broken JSON",
    "empty": "empty answer",
    "slow": "no answer within",
}


def _fails(way: str, path: str, *sources: str) -> Callable[[Evening], Seen]:
    def act(evening: Evening) -> Seen:
        evening.use(*sources)
        evening.down(way, path)
        return evening.tonight(patience_s=SHORT_S if way == "slow" else PATIENCE_S)

    return act


def _each_way(
    service: str, path: str, sources: tuple[str, ...], rests_on: str, said_by: str
) -> Iterator[Fault]:
    for way, words in WAYS.items():
        yield Fault(f"{service}: {way}", _fails(way, path, *sources), rests_on, (f"{said_by}: ", words))


def _later(hours: float, *alive: str) -> Callable[[Evening], Seen]:
    """All was well once; so many hours later everything but the `alive` is down."""

    def act(evening: Evening) -> Seen:
        evening.tonight()
        evening.down("503")
        for path in alive:
            evening.down("well", path)
        return evening.tonight(now=NOW + timedelta(hours=hours))

    return act


def _members(keep: int) -> Callable[[Evening], Seen]:
    """An ensemble of which only so many members are alive."""

    def act(evening: Evening) -> Seen:
        body = reply("open_meteo/ensemble.json")
        names = [name for name in body["hourly"] if name.startswith("precipitation")]
        for name in names[keep:]:
            body["hourly"][name] = [None] * len(body["hourly"]["time"])
        evening.server.serve(ENSEMBLE, body)
        return evening.tonight()

    return act


def _wet(payload: Any, mm: float) -> Any:
    """MET Norway's answer with so much rain in each of the coming hours."""
    wet = copy.deepcopy(payload)
    for step in wet["properties"]["timeseries"][2:10]:
        step["data"].setdefault("next_1_hours", {"details": {}})["details"]["precipitation_amount"] = mm
    return wet


def at_odds(evening: Evening) -> Seen:
    evening.use("open_meteo", "met_norway")
    evening.server.serve(MET, _wet(reply("met_norway/compact.json"), 9.0))
    return evening.tonight()


def _own_eto_off(evening: Evening) -> Seen:
    body = reply("open_meteo/forecast.json")
    own = body["hourly"]["et0_fao_evapotranspiration"]
    body["hourly"]["et0_fao_evapotranspiration"] = [None if v is None else 1.4 * v for v in own]
    evening.server.serve(FORECAST, body)
    return evening.tonight()


def _everything(behaviour: str) -> Callable[[Evening], Seen]:
    def act(evening: Evening) -> Seen:
        evening.down(behaviour)
        return evening.tonight()

    return act


def _only_archive(evening: Evening) -> Seen:
    evening.down("503")
    evening.down("well", ARCHIVE)
    return evening.tonight()


CSV_HEAD = "time,temp_c,dew_c,wind10_m_s,rs_w_m2,rain_mm"


def csv_rows(first_h: int = -240, last_h: int = 120) -> list[str]:
    """Hourly rows around NOW: a dry warm spell."""
    start = NOW.replace(minute=0, second=0)
    rows = []
    for h in range(first_h, last_h):
        at = start + timedelta(hours=h)
        sun = max(0.0, 1.0 - abs(((at.hour - 18.5 + 12) % 24) - 12) / 7.0)
        rows.append(f"{at:%Y-%m-%dT%H:%MZ},{20 + 12 * sun:.1f},14.0,2.{at.hour % 10},{800 * sun:.0f},0.0")
    return rows


def _csv(change: Callable[[list[str]], list[str]], head: str = CSV_HEAD) -> Callable[[Evening], Seen]:
    def act(evening: Evening) -> Seen:
        file = evening.folder / "station.csv"
        file.write_text("\n".join([head, *change(csv_rows())]) + "\n", encoding="utf-8")
        return evening.tonight("--weather", str(file))

    return act


def _cell(rows: list[str], at: slice, column: int, value: str) -> list[str]:
    out = list(rows)
    for i in range(*at.indices(len(rows))):
        cells = out[i].split(",")
        cells[column] = value
        out[i] = ",".join(cells)
    return out


FILE = "file station.csv"
CSV_FAULTS = [
    Fault("CSV, sound", _csv(lambda rows: rows), FILE, ("rain members are built",)),
    Fault("CSV with 30 hours missing", _csv(lambda rows: rows[:100] + rows[130:]), FILE, ("30 hours have no row",)),
    Fault("CSV with NaN in the rain", _csv(lambda rows: _cell(rows, slice(50, 60), 5, "NaN")), FILE,
          ("Rain unknown in 10 past hour",)),
    Fault("CSV with NaN in the humidity", _csv(lambda rows: _cell(rows, slice(None), 2, "")), FILE,
          ("Humidity unknown",)),
    Fault("CSV in °F under temp_c", _csv(lambda rows: _cell(rows, slice(None), 1, "88.0")), None,
          ("temp_c cannot be", "station.csv:2", "name the column temp_f")),
    Fault("CSV with an unknown column", _csv(lambda rows: rows, CSV_HEAD.replace("rain_mm", "rain_cm")), None,
          ("unknown column", "did you mean 'rain_mm'")),
    Fault("CSV with an hour twice", _csv(lambda rows: [*rows, rows[9]]), None, ("the same hour as line 11",)),
    Fault("CSV that ends now", _csv(lambda rows: rows[:240]), None, ("does not cover",)),
    Fault("CSV without an offset", _csv(lambda rows: [row.replace("Z", "") for row in rows]), None,
          ("without its offset", "more problems of this kind")),
]  # fmt: skip

FAULTS = [
    Fault("all well", lambda e: e.tonight(), OM, ("Open-Meteo ensemble", "Weather data by Open-Meteo.com"),
          ("HTTP", "built")),
    *_each_way("Open-Meteo forecast", FORECAST, (), NWS, OM),
    *_each_way("Open-Meteo ensemble", ENSEMBLE, (), OM, "Open-Meteo ensemble"),
    *_each_way("NWS gridpoint", GRID, ("nws", "open_meteo"), OM, NWS),
    *_each_way("MET Norway", MET, ("met_norway", "open_meteo"), OM, MN),
    *_each_way("archive service (of MET Norway's past)", ARCHIVE, ("met_norway",), MN, "Open-Meteo archive"),
    Fault("NWS points: 500", _fails("500", POINTS, "nws", "open_meteo"), OM, (f"{NWS}: ", "HTTP 500")),
    Fault("ensemble with 10 of 31 members alive", _members(10), OM, ("21 of 31 members", "dead"), ("built",)),
    Fault("ensemble with no member alive", _members(0), OM, ("no rain member that is alive", "members are built")),
    Fault("two sources at odds", at_odds, OM, ("The sources disagree about the rain", "MET Norway", "pooled")),
    Fault("service's ET0 40 % above ours", _own_eto_off, OM, ("differs from the source's own",)),
    Fault("everything down, cache half an hour old", _later(0.5), OM, (), ("HTTP",)),
    Fault("everything down, cache 3 h old", _later(3.0), OM, ("HTTP 503", "Wed 15 Jul 2026 13:17 is used")),
    Fault("everything down, cache 8 h old", _later(8.0), OM, ("Open-Meteo forecast: its answer is 8.0 h old",)),
    Fault("everything down, cache 30 h old", _later(30.0), OM, ("its answer is 30.0 h old",)),
    Fault("everything down, cache 40 h old", _later(40.0), None,
          ("no forecast younger than 36 h", "archived days", "--weather FILE.csv")),
    Fault("cache 44 h old, only the archive service up", _later(44.0, ARCHIVE), "climatology",
          ("knows nothing of tonight",)),
    Fault("no cache, only the archive service up", _only_archive, "climatology", ("knows nothing of tonight",)),
    Fault("everything down, no cache: 503", _everything("503"), None, ("no forecast younger than 36 h",)),
    Fault("everything down, no cache: hangs up", _everything("hangs up"), None, ("no connection",)),
    Fault("everything a web page, no cache", _everything("html"), None, ("a web page instead of JSON",)),
    *CSV_FAULTS,
]  # fmt: skip


def saw(seen: Seen) -> str:
    """What the owner saw, short: the sentence of a refusal, else the headline and the warnings."""
    if seen.code:
        return f"exit {seen.code}: {' '.join(seen.err.split())[:330]}"
    headline = " ".join(seen.out.split("\n\n")[1].split())
    doubts = [
        line
        for line in seen.section("Not known, or guessed")
        if WEATHER_WORDS.intersection(line.replace(".", " ").split())
    ]
    return " ".join([headline, *doubts])


WEATHER_WORDS = {"forecast", "member", "members", "HTTP", "sources", "ETo", "hours", "past", "answer", "JSON"}


def main() -> None:
    """The table of all faults, in Markdown."""
    print("| fault | what the owner saw | what the advice rested on |\n|---|---|---|")
    for fault in FAULTS:
        with tempfile.TemporaryDirectory() as folder, BadServer() as server:
            evening = Evening(Path(folder), server)
            evening.seed()
            seen = fault.act(evening)
            rests = "; ".join(seen.rests_on) or "nothing: no advice"
            print(f"| {fault.name} | {saw(seen)} | {rests} |".replace(folder + "/", ""))


if __name__ == "__main__":
    main()
