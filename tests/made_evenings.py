"""Two hundred made evenings and what is advised on each: a guard on the answers as a whole.

Everything is invented. An evening is drawn from chance seeded by its number alone, so one evening can
change without moving the others, and has a focus: what its draws lean to (rain in doubt, too little
room, zones moved by hand, frost, heat, a change of the clock), so that each sort of answer comes up
often. Every fourth one is the second ask of its night, with the advice of the first.

    python tests/made_evenings.py                     keep the answers of today (tests/made_evenings.jsonl)
    python tests/made_evenings.py --compare A B       tell which differ of two such files, and in what
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Any, TypeVar
from zoneinfo import ZoneInfo

import numpy as np

from advisor.advice import Advice, PlannedRun
from advisor.errors import AdvisorError
from advisor.lawn import site_values as lawn
from advisor.lawn.products import Kind, Product
from advisor.lawn.records import Application, Audit, GaugeReading, ProbeReading, RainPair, Records, Run
from advisor.lawn.tables import exposure_table, head_table, kind_table, soil_table, turf_table
from advisor.tonight.advise import advise
from advisor.weather.weather import Array, SourceUse, Weather, blank, hours_between

T = TypeVar("T")
COUNT, SEED = 200, 20260617
KEPT = Path(__file__).with_suffix(".jsonl")
HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@dataclass(frozen=True, eq=False, slots=True)
class Evening:
    """One made evening: a stable name and the keyword arguments of `advise`."""

    name: str
    asks: Mapping[str, Any]


PLACES = {  # latitude, longitude, elevation m, time zone, units, the nights on which the clock is changed
    "Larkmoor Lane": (40.52, -96.74, 380.0, "America/Chicago", "us", "03-07 10-31"),
    "Tern Point": (47.56, -52.71, 60.0, "America/St_Johns", "metric", "03-07 10-31"),
    "Ochre Flat": (33.40, -112.00, 340.0, "America/Phoenix", "us", ""),
    "Fennhollow": (59.90, 10.70, 40.0, "Europe/Oslo", "metric", "03-28 10-24"),
    "Skarvness": (69.60, 18.90, 20.0, "Europe/Oslo", "metric", "03-28 10-24"),
    "Terrace Nine": (27.70, 85.30, 1300.0, "Asia/Kathmandu", "metric", ""),
    "Gumleaf Rise": (-33.80, 151.00, 50.0, "Australia/Sydney", "metric", "10-03 04-04"),
    "Petrel Cove": (-31.55, 159.08, 20.0, "Australia/Lord_Howe", "metric", "10-03 04-04"),
    "Flaxmere": (-36.90, 174.80, 30.0, "Pacific/Auckland", "us", "09-26 04-04"),
}
# What is drawn from by each focus, else as usual; a word times a number comes up so much more often.
DRAWS = """
usual: season growing*3, summer, cold; clock 20:15*4, 12:00, 14:30, 18:05, 22:40, 01:10, 02:30, 04:00
usual: air mild*2, hot, windy; rain none, drizzle, storm, split*2, scattered, days, one forecast
usual: past none*2, even, today, downpour, drizzle; soil dry*2, moist, between, mixed, runs, unknown
usual: rules plain*3, weekdays, parity, blackout, minutes, strict; supply unknown*2, ample*2, tight
usual: zones one, few*3, many; moved valves*3, some by hand; modes none*3, some; sight clear*60, over, blind
usual: hours 21:00-08:00*4, 22:00-06:00*3, 00:00-10:00, 20:00-22:00+03:00-07:00, 04:00-06:00, 21:00-21:35
usual: hours 18:00-00:00, 09:00-15:00, 00:00-00:00, 01:30-02:30+23:00-23:45; finish sunrise*3, window
usual: laid nothing, today*2, yesterday, days ago, round, crowd, strays; kinds any*2, water in, leaf
doubt: season growing, summer; clock 20:15*2, 18:05, 12:00; air mild; rain soon; past none*2, drizzle
doubt: zones one, few*2; soil moist; rules plain; modes none; moved valves; laid just now; kinds patient
doubt: hours 21:00-08:00*2, 22:00-06:00, 00:00-10:00, 00:00-00:00, 20:00-22:00+03:00-07:00
room: season growing, summer; air mild, hot; rain none*2, split; past none; soil dry; zones few, many*2
room: hours 04:00-06:00, 21:00-21:35, 21:00-21:01, 22:00-06:00, 18:00-00:00, 01:30-02:30+23:00-23:45
room: supply unknown, tight*2; rules plain, minutes, parity
begun: rain none, scattered, split; past none; soil dry; rules plain*3, minutes
begun: hours 21:00-08:00, 22:00-06:00, 00:00-00:00
by hand: moved all by hand, some by hand; hours 21:00-08:00, 00:00-00:00, 18:00-00:00, 20:00-22:00+03:00-07:00
cold: season cold; air frost*2, mild; rain drizzle, days, split, storm
heat: season summer; air hot; clock 12:00, 18:05, 20:15, 04:00; modes some, all*2; rules plain*3, minutes
heat: place Larkmoor Lane, Ochre Flat, Terrace Nine, Gumleaf Rise; hours 00:00-00:00, 09:00-15:00, 06:00-20:00
seed: modes some, none; kinds seed; laid yesterday, days ago, crowd
clock: season clock
"""
TURN = (  # the focus of each evening in turn
    *("doubt", "open", "room", "doubt", "by hand", "cold", "doubt"),
    *("open", "heat", "clock", "doubt", "seed", "doubt"),
)
ZONES = {"one": (1,), "few": (2, 3, 4), "many": (5, 6, 7, 8)}
NAMES = ("Front", "Back", "Side", "Bank", "Orchard", "Verge", "Court", "Strip")
AGAIN = (  # how the second asks of a night come about, in turn
    *("an hour on", "a run has begun", "a run is recorded", "a look is due", "rain has changed"),
    *("the morning after", "a look is due", "the next evening", "more is put down", "a third time"),
    *("a run is skipped", "a look is due"),
)
AIRS = {"hot": (3.0, 9.0), "frost": (-12.0, -5.0)}  # warmer or colder than usual, °C
GONE_H = {"just now": (0.2, 5.0), "today": (0.5, 10.0), "yesterday": (11.0, 40.0), "days ago": (48.0, 330.0)}


@cache
def draws() -> dict[tuple[str, str], tuple[str, ...]]:
    """The words to draw from, by focus and by what they are about."""
    changing = tuple(name for name, place in PLACES.items() if place[-1])
    found = {("usual", "place"): tuple(PLACES), ("clock", "place"): changing}
    for focus, _, rest in (line.partition(": ") for line in DRAWS.strip().splitlines()):
        for what, _, words in (part.partition(" ") for part in rest.split("; ")):
            each = (word.partition("*") for word in words.split(", "))
            more = (word for word, _, times in each for _ in range(int(times or 1)))
            found[focus, what] = (*found.get((focus, what), ()), *more)
    return found


class Chance:
    """The draws of one evening: the same number draws the same, whatever the others do."""

    def __init__(self, number: int, focus: str) -> None:
        self._rng = np.random.default_rng([SEED, number])
        self.focus = focus

    def share(self, *shape: int) -> Array:
        """Evenly drawn shares 0–1."""
        return self._rng.random(shape)

    def between(self, low: float, high: float) -> float:
        """An even draw, to three places."""
        return round(low + (high - low) * float(self.share()), 3)

    def maybe(self, chance: float) -> bool:
        """True with this chance."""
        return bool(self.share() < chance)

    def pick(self, options: Sequence[T]) -> T:
        """One of these."""
        return options[int(self.share() * len(options))]

    def some(self, options: Sequence[T]) -> tuple[T, ...]:
        """At least one of these, in their order."""
        sure = int(self.share() * len(options))
        return tuple(o for i, o in enumerate(options) if i == sure or self.maybe(0.5))

    def of(self, what: str) -> str:
        """One of what is usual, or of what the focus leans to."""
        return self.pick(draws().get((self.focus, what), draws()["usual", what]))


@cache
def products() -> dict[str, Product]:
    """An invented product of every kind and some whose label says otherwise."""
    kinds = kind_table()
    made = {key.title(): Product(key.title(), kind) for key, kind in kinds.items()}
    drench = replace(kinds["soil-liquid"], least_mm=2.0, target_mm=9.0, most_mm=10.0)
    for name, kind, told in (
        ("Label Drench", drench, ("least_mm", "most_mm", "target_mm")),
        ("Patient Granules", replace(kinds["granular-slow"], within_h=72.0, hurry_h=None), ("within_h",)),
        ("Thirsty Seed", replace(kinds["seed"], light_runs_per_day=4, light_run_mm=1.0), ("light_run_mm",)),
    ):
        made[name] = Product(name, kind, overrides=told)
    return made


def _of_kinds(kinds: str) -> list[Product]:
    """The products that a draw of "kinds" leaves."""
    tests: dict[str, Callable[[Kind], bool]] = {
        "water in": lambda k: k.target_mm > 0 and k.dry_h == 0,
        "patient": lambda k: k.target_mm > 0 and k.dry_h == 0 and k.due_h == 24 and not k.single_event,
        "leaf": lambda k: k.dry_h > 0,
        "seed": lambda k: k.light_runs_per_day > 0 or k.harms_seedlings,
    }
    may = tests.get(kinds)
    return [product for product in products().values() if may is None or may(product.kind)]


def _later(when: datetime, by: timedelta) -> datetime:
    """So much later in time, not by the clock on the wall."""
    return (when.astimezone(UTC) + by).astimezone(when.tzinfo)


def _moment(chance: Chance, place: Any) -> datetime:
    """When advice is asked for, local."""
    season, south = chance.of("season"), place.latitude_deg < 0
    if season == "clock":
        day = date.fromisoformat(f"2026-{chance.pick(PLACES[place.name][-1].split())}")
    else:
        first, last = {"growing": (110, 280), "summer": (170, 215), "cold": (70, 100)}[season]
        day = date(2026, 1, 1) + DAY * int(chance.between(first, last) + (183 if south else 0))
    clock = time.fromisoformat(chance.of("clock"))
    return datetime.combine(day if clock >= time(12) else day + DAY, clock, place.zone)


def _zone(chance: Chance, name: str, place: Any, now: datetime, moved: str, modes: str) -> Any:
    """One zone with all that a zone may have."""
    turf = chance.pick(list(turf_table().values()))
    if place.latitude_deg < 0:
        turf = replace(turf, kc_month=turf.kc_month[6:] + turf.kc_month[:6])
    light, head = chance.pick(list(exposure_table())), chance.pick(list(head_table().values()))
    area, mm_h = round(chance.between(40, 350)), chance.between(8, 40)
    flow, depth_known, even_known = mm_h * area / 60.0, chance.maybe(0.4), chance.maybe(0.5)
    basis = chance.pick(("measured", "measured", "flow", "guess"))
    if basis == "guess":
        rate = lawn.Rate(head.rate_mm_h, basis, head.rate_low_mm_h, head.rate_high_mm_h)
    else:
        on = now.date() - 40 * DAY if chance.maybe(0.5) else None
        rate = lawn.Rate(mm_h, basis, mm_h, mm_h, on, flow if basis == "flow" else None)
    special = modes == "all" or (modes == "some" and chance.maybe(0.6))
    mode = chance.pick(("new", "seed", "syringe", "syringe")) if special else "established"
    return lawn.Zone(
        name=name,
        area_m2=float(area),
        turf=turf,
        soil=chance.pick(list(soil_table().values())),
        slope_pct=chance.pick((1.0, 3.0, 5.0, 9.0, 14.0)),
        exposure=exposure_table()[light],
        exposure_name=light,
        root_depth_m=chance.between(0.1, 0.3) if depth_known else turf.root_depth_m,
        root_depth_known=depth_known,
        head=head,
        rate=rate,
        uniformity=chance.between(0.5, 0.9) if even_known else head.uniformity,
        uniformity_known=even_known,
        allowed_depletion=chance.pick((None, None, None, 0.3, 0.6)),
        first_puddle_min=chance.pick((None, None, None, 3.5, 8.0, 15.0)),
        mode=mode,
        mode_until=now.date() + DAY * chance.pick((-1, 1, 9, 20)) if special else None,
        by_hand=moved == "all by hand" or (moved == "some by hand" and chance.maybe(0.5)),
        flow_l_min=flow if basis == "flow" or (basis == "measured" and chance.maybe(0.4)) else None,
    )


def _rules(chance: Chance, now: datetime) -> Any:
    """When water may run."""
    spans = (span.split("-") for span in chance.of("hours").split("+"))
    rules = lawn.Rules(
        hours=tuple((time.fromisoformat(begin), time.fromisoformat(end)) for begin, end in spans),
        finish=chance.of("finish"),
        awake=chance.pick(((time(6), time(22, 30)), (time(4), time(22, 30)), (time(0), time(0)))),
        least_temp_c=chance.pick((4.0, 4.0, 4.0, 1.0, 8.0)),
    )
    first = now.date() + DAY * chance.pick((-3, 0, 1))
    span = lawn.DateSpan(first, first + DAY * chance.pick((0, 3, 12)), chance.pick(("", "dry well")))
    held: dict[str, dict[str, Any]] = {
        "weekdays": {"weekdays": frozenset(chance.some(range(7)))},
        "parity": {"parity": chance.pick(("odd", "even"))},
        "blackout": {"blackouts": (span,)},
        "minutes": {"minutes_a_night": chance.pick((25.0, 60.0, 110.0))},
        "strict": {"strict_uniformity": True},
    }
    return replace(rules, **held.get(chance.of("rules"), {}))


def _site(chance: Chance) -> tuple[Any, datetime]:
    """A site and the moment of asking."""
    name = chance.of("place")
    place = lawn.Place(name, *PLACES[name][:3], ZoneInfo(PLACES[name][3]), PLACES[name][4])
    now = _moment(chance, place)
    size, moved, modes, supply = (chance.of(what) for what in ("zones", "moved", "modes", "supply"))
    zones = tuple(_zone(chance, n, place, now, moved, modes) for n in NAMES[: chance.pick(ZONES[size])])
    widest = max(z.flow_l_min or 20.0 for z in zones)
    carries = {"unknown": None, "ample": 2.2 * widest, "tight": 0.8 * widest}[supply]
    costs = {chance.pick(("shortfall", "loss", "water", "run", "look", "stress")): chance.between(0.02, 1.5)}
    dial = chance.pick(("balanced", "balanced", "thrifty", "cautious"))
    site = lawn.Site(
        path=Path("site.yaml"),
        place=place,
        zones=zones,
        rules=_rules(chance, now),
        supply=lawn.Supply(carries),
        sprayers=(),
        products=products(),
        rounds=(),
        decision=lawn.Decision(dial, costs if chance.maybe(0.12) else {}),
        weather=lawn.WeatherSettings(),
        records_path=Path("records.sqlite"),
    )
    return site, now


def _fall(series: Array, first: float, hours: int, total_mm: float) -> None:
    """Rain of some hours that begins at the hour `first`, as far as the series reaches."""
    series[max(0, int(first)) : max(0, int(first)) + hours] += total_mm / hours


def _coming(chance: Chance, rain: str, hours: int) -> Array:
    """Rain per member and hour from now on."""
    members = np.zeros((1 if rain == "one forecast" else chance.pick((9, 15, 21)), hours))
    first, total = chance.between(1.0, 11.0), chance.between(4.0, 15.0)
    wet, apart = chance.between(0.25, 0.75), 3.0
    if rain == "soon":
        rain, wet = "split", chance.between(0.4, 0.8)
        first, total, apart = chance.between(1.0, 4.0), chance.between(7.0, 16.0), 0.5
    for number, member in enumerate(members):
        size, shift = float(chance.share()), apart * float(chance.share())
        if rain == "drizzle":
            _fall(member, first + shift, 6, 1.0 + 2.0 * size)
        elif rain == "storm":
            _fall(member, first + shift, 3, 3.0 * total * (0.6 + 0.6 * size))
        elif rain == "split" and number < wet * len(members):
            _fall(member, first + shift, 4, total * (0.7 + 0.6 * size))
        for day in range(0, hours, 24):
            if rain == "days" or (rain == "one forecast" and wet > 0.4):
                _fall(member, day + first + shift, 5, total * size)
            elif rain == "scattered" and chance.maybe(wet):
                _fall(member, day + chance.between(0.0, 24.0), 3, -5.0 * np.log1p(-size))
    if chance.maybe(0.15):
        members[:, 60:] = np.nan
    if chance.maybe(0.1) and len(members) > 1:
        members[0, 5:9] = np.nan
    return members


def _gone(chance: Chance, hours: int) -> Array:
    """Rain per hour up to now."""
    rain, past = np.zeros(hours), chance.of("past")
    falls = {"today": (2, 9, 3, 12), "downpour": (3, 30, 28, 60), "drizzle": (5, 40, 0.3, 2.6)}
    if past == "even":
        rain += chance.between(20.0, 90.0) / 31.0 / 24.0
    elif past in falls:
        _fall(rain, hours - chance.between(*falls[past][:2]), 2, chance.between(*falls[past][2:]))
    if past != "none" and chance.maybe(0.5):
        _fall(rain, hours - chance.between(60.0, 200.0), 5, 22.0)
    return rain


def _weather(chance: Chance, place: Any, now: datetime) -> Weather:
    """Hourly weather that hangs together: sun by latitude and season, warm afternoons, calm nights."""
    past, ahead = 24 * chance.pick((10, 20, 31)), 24 * chance.pick((3, 5, 8))
    sight, air, rain = chance.of("sight"), chance.of("air"), chance.of("rain")
    since = _later(now, -(960 if sight == "over" else past) * HOUR)
    starts = hours_between(since, _later(since, (past + ahead) * HOUR))[: past + ahead]
    solar = (starts.astype(int) / 3600.0 + place.longitude_deg / 15.0) % 24.0
    year = 2 * np.pi * (starts.astype(int) / 86400.0 % 365.25 - 172.0) / 365.25
    tilt, lat = 0.409 * np.cos(year), np.radians(place.latitude_deg)
    height = np.sin(lat) * np.sin(tilt) + np.cos(lat) * np.cos(tilt) * np.cos((solar - 11.5) * np.pi / 12)
    warmth = 27.0 - 17.2 * abs(lat) + 26.0 * tilt * lat + chance.between(*AIRS.get(air, (-1.0, 1.0)))
    swing = np.cos((solar - 15.0) * np.pi / 12)
    temp = warmth + 7.0 * swing
    wind = (6.0 if air == "windy" else 2.5) + 1.5 * swing + chance.share(len(starts))
    coming, gone = _coming(chance, rain, ahead), _gone(chance, past)
    light = np.maximum(0.0, height) * 3.4
    gaps = ((wind, past + 4, None), (temp, past + 6, past + 9), (light, past, None), (gone, -50, -44))
    for series, begin, end in gaps:
        if chance.maybe(0.06):
            series[begin:end] = np.nan
    members = np.hstack([np.full((len(coming), past), np.nan), coming])
    fell = np.concatenate([gone, np.nan_to_num(coming).mean(axis=0)])
    if sight == "blind":
        fell[past:], members[:] = np.nan, np.nan
    return replace(
        blank(place.latitude_deg, place.longitude_deg, place.elevation_m, starts, 0),
        temp_c=temp,
        dew_c=warmth - 8.0,
        wind10_m_s=wind,
        rs_mj_m2_h=light,
        rain_mm=fell,
        snow_mm=np.where(temp < 0.5, fell, 0.0) if chance.maybe(0.7) else np.full(len(temp), np.nan),
        cloud=np.full(len(temp), 0.3),
        members_mm=members[:0] if rain == "one forecast" else members,
        rain_basis=np.where(np.arange(len(temp)) < past - 20, "archive", "model").astype("<U8"),
        sources=(SourceUse("made", "everything", now.astimezone(UTC), _later(now, ahead * HOUR)),),
    )


def _applications(chance: Chance, zones: Sequence[str], now: datetime, first_id: int) -> list[Application]:
    """What was put down, on which zones, when and how."""
    laid, kinds = chance.of("laid"), _of_kinds(chance.of("kinds"))
    counts = {"nothing": (0,), "round": (3,), "crowd": (3, 4), "strays": (2,)}
    spots, hours = chance.some(zones), chance.between(0.6, 30.0)
    made, group = list[Application](), "round" if laid == "round" else ""
    for number in range(chance.pick(counts.get(laid, (1, 1, 2)))):
        product = chance.pick(kinds)
        name, liquid = product.name, product.kind.form == "liquid"
        how = chance.pick(("tank", "backpack", "hose-end", "hose-end") if liquid else ("spreader", "by hand"))
        if laid != "round":
            spots = spots if laid == "crowd" else chance.some(zones)
            hours = chance.between(*GONE_H.get(laid, chance.pick(tuple(GONE_H.values()))))
        if laid == "strays":  # what the site does not know, and what has still to go down
            name, spots = chance.pick((name, "Forgotten Bottle")), (chance.pick(("Old Bed", zones[0])),)
            hours = chance.pick((hours, -1.0))
        ratio = chance.pick((None, 10.0, 20.0, 40.0)) if how == "hose-end" else None
        begun, ended = (_later(now, -h * HOUR) for h in (hours + 0.4, hours))
        made.append(Application(name, spots, begun, ended, how, ratio, round_id=group, id=first_id + number))
    return sorted(made, key=lambda one: one.started_at)


def _runs(chance: Chance, zone: str, now: datetime) -> Iterator[Run]:
    """Runs of the last days on a zone, some of them skipped."""
    for ago in chance.some((220.0, 150.0, 70.0, 40.0, 14.0, 3.0)):
        begun, minutes = _later(now, -ago * HOUR), chance.pick((0.0, 8.0, 20.0, 45.0))
        depth = chance.pick((None, None, 6.0)) if minutes else None
        source = chance.pick(("as advised", "by hand", "clock"))
        yield Run(zone, begun, _later(begun, timedelta(minutes=1.3 * minutes)), minutes, depth, source)


def _audit(chance: Chance, zone: str, now: datetime) -> Audit:
    """A measurement of a zone, of whichever sort."""
    method, cans = chance.pick((("catch cans", 9), ("flow meter", 0), ("single can", 1)))
    even = chance.between(0.5, 0.9) if cans > 1 else None
    when = _later(now, -chance.pick((20, 70)) * DAY)
    return Audit(zone, when, chance.between(7.0, 40.0), even, None, cans, method)


def _records(chance: Chance, site: Any, now: datetime) -> Records:
    """What was recorded: applications, runs, probes, audits, the gauge, forecasts held against it."""
    soil, names = chance.of("soil"), [z.name for z in site.zones]
    spent = {"dry": (10.0, 32.0), "moist": (0.0, 2.5), "between": (3.0, 11.0), "mixed": (0.0, 28.0)}
    probes, runs, audits = list[ProbeReading](), list[Run](), list[Audit]()
    for name in names:
        if soil in spent and chance.maybe(0.9):
            read_at = _later(now, -chance.pick((1.5, 5.0, 26.0)) * HOUR)
            probes.append(ProbeReading(name, read_at, chance.between(*spent[soil])))
        runs += _runs(chance, name, now) if soil == "runs" or chance.maybe(0.1) else ()
        audits += [_audit(chance, name, now)] if chance.maybe(0.15) else ()
    midnight = datetime.combine(now.date(), time(0), UTC)
    days = [(midnight - n * DAY, *(9.0 * chance.share(3)).tolist()) for n in range(41, 1, -1)]
    pairs = (RainPair(day, 24, 12.0, mean, spread, observed) for day, mean, spread, observed in days)
    gauge = GaugeReading(_later(now, -2 * HOUR), chance.between(0.0, 9.0), _later(now, -26 * HOUR))
    return Records(
        applications=tuple(_applications(chance, names, now, 1)),
        runs=tuple(sorted(runs, key=lambda run: run.started_at)),
        gauge=(gauge,) if chance.maybe(0.3) else (),
        probes=tuple(sorted(probes, key=lambda probe: probe.read_at)),
        audits=tuple(sorted(audits, key=lambda audit: audit.measured_at)),
        pairs=tuple(pairs) if chance.maybe(0.08) else (),
    )


def _is_conditional(run: PlannedRun) -> bool:
    """Whether a run is made only if the gauge then shows too little."""
    return run.condition is not None


def _then(weather: Weather, now: datetime, later: datetime, fell: str) -> Weather:
    """The weather as it is known at `later`: what has fallen since is one of what the members said."""
    a, b = weather.index_at(now), min(weather.index_at(later), weather.hours)
    if fell == "as forecast" or b <= a or not len(weather.members_mm):
        return weather
    since = np.nan_to_num(weather.members_mm[:, a:b])
    order = np.argsort(since.sum(axis=1), kind="stable")
    rain = weather.rain_mm.copy()
    rain[a:b] = since[order[-1 if fell == "wet" else 0]]
    return replace(weather, rain_mm=rain)


def _second(chance: Chance, first: Evening, how: str) -> Evening:
    """The same night asked again, with the advice of the first ask."""
    name, asks = f"{first.name}; again: {how}", dict(first.asks)
    try:
        previous = advise(**asks)
        if how == "a third time":
            previous = advise(**{**asks, "now": _later(asks["now"], HOUR / 2), "previous": previous})
    except AdvisorError:
        return Evening(name, asks)
    now, records, weather = asks["now"], asks["records"], asks["weather"]
    sure = [run for run in previous.runs if not _is_conditional(run)]
    looks = [look.at for look in previous.next_looks if look.minutes]
    later = _later(now, DAY if how == "the next evening" else chance.pick((1.2, 2.2)) * HOUR)
    if how.startswith("a run") and sure:
        run, begun, ended = sure[0], sure[0].cycles[0].starts_at, sure[0].cycles[-1].ends_at
        later = _later(now, begun - now.astimezone(UTC) + timedelta(minutes=10))
        made = {"a run is recorded": run.minutes, "a run is skipped": 0.0}.get(how)
        if made is not None:
            late = chance.pick((0.0, 1.9)) * HOUR
            later, begun, ended = _later(later, late + ended - begun), begun + late, ended + late
            entry = Run(run.zone, begun, ended if made else begun, made, None, "as advised", id=900)
            records = replace(records, runs=(*records.runs, entry))
    elif how == "a look is due" and looks:
        later = _later(now, looks[0] - now.astimezone(UTC) - timedelta(minutes=chance.pick((-10, 0, 5, 12))))
    elif how == "rain has changed":
        changed, at = _coming(chance, chance.pick(("none", "storm", "split")), 72), weather.index_at(now)
        members = weather.members_mm[: len(changed)].copy()
        members[:, at : at + 72] = changed[: len(members)]
        weather = replace(weather, members_mm=members)
    elif how == "the morning after":
        morning = datetime.combine(now.date(), chance.pick((time(6), time(7, 40), time(10, 30))), now.tzinfo)
        later = morning if morning > now else morning + DAY
    elif how == "more is put down":
        more = _applications(chance, [z.name for z in asks["site"].zones], _later(now, HOUR), 50)
        records = replace(records, applications=(*records.applications, *more))
    weather = _then(weather, now, later, chance.pick(("as forecast", "dry", "wet")))
    asks |= {"now": later, "records": records, "weather": weather, "previous": previous}
    return Evening(name, asks)


def evenings() -> Iterator[Evening]:
    """The made evenings, always the same ones in the same order."""
    for number in range(COUNT):
        again = AGAIN[number // 4 % len(AGAIN)] if number % 4 == 3 else ""
        turn = "begun" if again.startswith("a run") else TURN[number % len(TURN)]
        chance = Chance(number, "doubt" if again in ("an hour on", "a look is due", "a third time") else turn)
        site, now = _site(chance)
        weather, records = _weather(chance, site.place, now), _records(chance, site, now)
        name = f"{number:03d} {site.place.name}, {now:%Y-%m-%d %H:%M}, {chance.focus}"
        made = Evening(name, {"site": site, "records": records, "weather": weather, "now": now})
        yield _second(chance, made, again) if again else made


def _plain(value: Any, places: int | None) -> Any:
    """A value as it is kept: rounded, a moment in UTC, a word the same where it is an enumeration."""
    value = getattr(value, "value", value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, str):
        return value.replace("_", " ")
    if isinstance(value, (tuple, list)):
        return [_plain(one, places) for one in value]
    return value if value is None or places is None else round(float(value), places) + 0.0


def _kept(thing: Any, **places: int | None) -> dict[str, Any]:
    """Some fields of a part of the advice, numbers to so many places."""
    return {name: _plain(_value(thing, name), places[name]) for name in places}


def _value(thing: Any, name: str) -> Any:
    """A field, or the sum of its firm and its conditional part where the form keeps them apart."""
    if hasattr(thing, name):
        return getattr(thing, name)
    stem, unit = (name[:-3], "_mm") if name.endswith("_mm") else (name, "")
    return getattr(thing, f"{stem}_firm{unit}") + getattr(thing, f"{stem}_conditional{unit}")


def answer(advice: Advice) -> dict[str, Any]:
    """What matters of an advice, plain: no sentences, depths to 0.01 mm, minutes to 0.1, chances to 0.0001."""
    return {
        "zones": {z.zone: _kept(z, verdict=None, minutes=1, depth_mm=2) for z in advice.zones},
        "runs": [
            _kept(run, zone=None, minutes=1, effective_mm=2)
            | {"cycles": [_plain((cycle.starts_at, cycle.ends_at), None) for cycle in run.cycles]}
            | {"conditional": _is_conditional(run)}
            for run in advice.runs
        ],
        "under_way": [run.zone for run in advice.under_way],
        "not_planned": [_kept(left, zone=None, minutes=1, waits_for=None) for left in advice.not_planned],
        "obligations": [
            _kept(one, application_id=None, zone=None, status=None, action=None, top_up_mm=2, chance=4)
            for one in advice.obligations
        ],
        "next_looks": [_kept(look, at=None, zones=None, under_mm=2) for look in advice.next_looks],
        "failed_checks": [check.name for check in advice.checks if not check.passed],
    }


def answer_on(evening: Evening) -> dict[str, Any]:
    """What is advised on one evening, or the class of what is raised."""
    try:
        return answer(advise(**evening.asks))
    except AdvisorError as error:
        return {"error": type(error).__name__}


def differences(a: Any, b: Any, at: str = "") -> Iterator[str]:
    """Each field in which two answers differ, by its path."""
    if isinstance(a, dict) and isinstance(b, dict):
        for key in dict.fromkeys([*a, *b]):
            yield from differences(a.get(key, "(none)"), b.get(key, "(none)"), f"{at}.{key}" if at else key)
    elif isinstance(a, list) and isinstance(b, list) and len(a) == len(b):
        for number, (one, other) in enumerate(zip(a, b, strict=True)):
            yield from differences(one, other, f"{at}[{number}]")
    elif a != b:
        yield f"{at}: {json.dumps(a)} -> {json.dumps(b)}"


def read_answers(path: Path) -> dict[str, Any]:
    """Kept answers by the names of their evenings."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return {kept["name"]: kept["answer"] for kept in map(json.loads, lines)}


def compare(before: Path, after: Path) -> int:
    """Print the evenings that differ and in what; 1 if any do."""
    one, other = read_answers(before), read_answers(after)
    told = {n: list(differences(one.get(n, "(none)"), other.get(n, "(none)"))) for n in (one | other)}
    for name, found in told.items():
        if found:
            print(name, *found, sep="\n    ")
    print(f"{sum(map(bool, told.values()))} of {len(told)} evenings differ")
    return int(any(told.values()))


def write_answers(path: Path) -> None:
    """Write the answers of today, a line an evening."""
    lines = (json.dumps({"name": one.name, "answer": answer_on(one)}) for one in evenings())
    path.write_text("".join(f"{line}\n" for line in lines), encoding="utf-8")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--compare"]:
        sys.exit(compare(Path(sys.argv[2]), Path(sys.argv[3])))
    write_answers(KEPT)
