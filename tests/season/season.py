"""A compressed season: many nights of one invented site on a driven clock, with faults sprinkled in.

The records and the webhook are real; the sky, the faults and the clock are drawn from a seed. By hand, for
the account:

    PYTHONPATH=tests python tests/season/season.py 200 7
"""

from __future__ import annotations

import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path
from unittest.mock import patch

import numpy as np
from service.loopback import Hook
from service.made_service import Sky, applied, at, hook_channel, service_site, serving

from advisor import night
from advisor.advice.look_outcome import LookVerdict
from advisor.errors import AdvisorError, RecordsError, RecordsFault
from advisor.lawn.records import GaugeReading, ProbeReading, Records
from advisor.lawn.service_settings import service_settings
from advisor.lawn.site_values import Rules, Site
from advisor.service.jobs import Slot, coming, slot_of
from advisor.service.service import Service
from advisor.store import Event, open_store
from advisor.weather.weather import Weather

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
FIRST = at("2026-04-15T12:00")
SERVICE = {"advice_at": "20:15", "backup_at": "20:15", "backups_kept": 3}
UP_EARLY = Rules(hours=((time(21), time(8)),), awake=(time(4), time(22, 30)))
"""An owner for whom a look before dawn costs no sleep, so that the season has looks enough."""
SHORT_PAST_DAYS = 10
"""How far each night looks back: less than in earnest, so that many nights take little time."""


class Killed(BaseException):
    """The process is gone between two instructions."""


@dataclass
class Spell:
    """A fault that lasts: "off", "no weather", "webhook down", "disk full"."""

    what: str
    begin: datetime
    end: datetime


@dataclass
class Account:
    """What became of every night, every message and every fault."""

    nights: dict[date, str] = field(default_factory=dict)
    messages: Counter[str] = field(default_factory=Counter)
    faults: Counter[str] = field(default_factory=Counter)
    looks: Counter[str] = field(default_factory=Counter)
    faultless_but_late: list[date] = field(default_factory=list)
    posts: int = 0
    taken: int = 0
    sent_keys: set[str] = field(default_factory=set)
    taken_keys: set[str] = field(default_factory=set)
    unlike_bodies: int = 0
    advice_rows: int = 0
    advice_events: int = 0
    by_hand: int = 0
    gauge_entered: int = 0
    gauge_kept: int = 0
    pairs: int = 0
    archive_hours: int = 0
    archive_doubles: int = 0
    backups: int = 0
    doubts: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        """The account in words."""
        kinds = Counter(self.nights.values())
        return [
            f"nights: {len(self.nights)}: " + ", ".join(f"{n} {kind}" for kind, n in kinds.most_common()),
            "faults: " + ", ".join(f"{n} × {kind}" for kind, n in self.faults.most_common()),
            "messages: " + ", ".join(f"{n} {kind}" for kind, n in self.messages.most_common()),
            f"webhook: {self.posts} posts, {self.taken} taken, {len(self.taken_keys)} keys",
            "looks: " + ", ".join(f"{n} {kind}" for kind, n in self.looks.most_common()),
            f"advice kept: {self.advice_rows} = {self.advice_events} by the service + {self.by_hand} by hand",
            f"gauge readings: {self.gauge_entered} entered, {self.gauge_kept} kept; pairs: {self.pairs}",
            f"archive: {self.archive_hours} hours, {self.archive_doubles} doubled; backups: {self.backups}",
            f"nights without a fault that were not on time: {len(self.faultless_but_late)}",
            f"doubts of the records: {self.doubts or 'none'}",
        ]


class SeasonSky(Sky):
    """Rain that some members see coming at a given time of a given night."""

    def __init__(self) -> None:
        super().__init__()
        self.shower_at, self.members = FIRST, 0
        self.falls, self.past_days = False, SHORT_PAST_DAYS

    def __call__(
        self, asks: Sequence[tuple[Site, Records]], now: datetime, *, members: bool = True
    ) -> list[Weather | AdvisorError]:
        ahead = np.zeros((8, 240))
        begin = int((self.shower_at - now.replace(minute=0, second=0, microsecond=0)) / HOUR)
        if 0 <= begin < 236:
            ahead[: self.members, begin : begin + 4] = 3.0
        self.members_mm = ahead
        found = super().__call__(asks, now, members=members)
        for weather in found:
            if isinstance(weather, Weather) and self.falls:
                first = weather.index_at(self.shower_at)
                weather.rain_mm[max(0, first) : max(0, min(first + 4, weather.index_at(now)))] = 4.0
        return found


class Season:
    """Runs it."""

    def __init__(self, folder: Path, hook: Hook, nights: int, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self.folder, self.hook = folder, hook
        self.site = service_site(folder, settings={"service": SERVICE, "messages": {}}, rules=UP_EARLY)
        self.first, self.last = FIRST, FIRST + nights * DAY
        self.now = FIRST
        self.sky = SeasonSky()
        self.account = Account()
        self.spells: list[Spell] = []
        self.drawn: list[Spell] = []
        self.kill_in = -1
        self.known_day = FIRST.date() - DAY
        self.gauge_since = FIRST
        self.clock_back: list[tuple[datetime, datetime]] = []

    # -- the world

    def draw_day(self) -> None:
        """The day's weather, faults and owner's doings."""
        rng = self.rng
        self.sky.shower_at = self.now.replace(hour=4, minute=0) + DAY * (self.now.hour >= 4)
        self.sky.members = int(rng.integers(2, 8)) if rng.random() < 0.4 else 0
        self.sky.falls = self.sky.members > 0 and bool(rng.random() < 0.5)
        for what, chance, longest_h in (
            ("off", 0.10, 70.0),
            ("no weather", 0.12, 30.0),
            ("webhook down", 0.15, 40.0),
            ("disk full", 0.06, 12.0),
        ):
            if rng.random() < chance:
                begin = self.now + rng.uniform(0, 12) * HOUR
                end = begin + rng.exponential(longest_h / 3) * HOUR + 5 * MINUTE
                self.spells.append(Spell(what, begin, end))
                self.drawn.append(self.spells[-1])
                self.account.faults[what] += 1
        if rng.random() < 0.25:
            self.kill_in = int(rng.integers(0, 40))
        if rng.random() < 0.03:
            back = rng.choice([0.5, 3.0, 24.0, 30.0]) * HOUR
            self.clock_back.append((self.now - back, self.now + DAY))
            self.now -= back
            self.account.faults["clock set back"] += 1

    def on(self, what: str) -> bool:
        return any(s.what == what and s.begin <= self.now < s.end for s in self.spells)

    def fault(self, point: str) -> None:
        """Called at every step: dies, or finds the disk full."""
        if self.kill_in == 0:
            self.kill_in = -1
            self.account.faults["killed"] += 1
            raise Killed
        self.kill_in -= self.kill_in > 0
        if self.on("disk full") and point.endswith(": written"):
            raise RecordsError("the disk that holds the records is full", fault=RecordsFault.DISK_FULL)

    def step(self, point: str) -> None:
        """A step outside the records."""
        if not point.startswith("mark"):
            self.fault(point)

    def owner(self) -> None:
        """Reads the gauge, puts something down, asks by hand: on a computer that works."""
        with open_store(self.site.records_path) as store:
            if self.rng.random() < 0.8:
                store.add_gauge(
                    GaugeReading(self.now, round(float(self.rng.gamma(0.4, 5.0)), 1), since=self.gauge_since)
                )
                self.gauge_since = self.now
                self.account.gauge_entered += 1
            if self.rng.random() < 0.6:
                store.add_probe(ProbeReading("Front", self.now, float(self.rng.uniform(0, 6))))
            if self.rng.random() < 0.25:
                store.add_application(applied(self.now))
            if self.rng.random() < 0.1 and not self.on("no weather"):
                (weather,) = self.sky([(self.site, store.records(since=self.now))], self.now)
                advice = night.gather(self.site, store, self.now, weather=weather).advise()  # type: ignore[arg-type]
                night.keep(store, advice)
                self.account.by_hand += 1

    # -- the run

    def run(self) -> Account:
        """All nights, then a last clear day, then the account."""
        while self.now < self.last:
            try:
                with serving(
                    self.site, self.now, sky=self.sky, channels=[hook_channel(self.hook.url)],
                    step=self.step, fault=self.fault,
                ) as service:  # fmt: skip
                    self.serve(service, lambda: self.now < self.last)
            except (Killed, RecordsError):
                self.now += 2 * MINUTE
        self.spells, self.kill_in = [], -1
        with serving(self.site, self.now, sky=self.sky, channels=[hook_channel(self.hook.url)]) as service:
            self.sky.down = ""
            self.hook.behave("well")
            end = self.now + DAY + HOUR
            while self.now < end:
                service.work(self.now)
                self.now = self.next_stop(service)
        return self.reckoned()

    def serve(self, service: Service, more: Callable[[], bool]) -> None:
        while more():
            if self.now.date() > self.known_day:
                self.known_day = self.now.date()
                self.draw_day()
            off = [s for s in self.spells if s.what == "off" and s.begin <= self.now < s.end]
            if off:
                self.now = max(s.end for s in off)
                raise Killed
            self.sky.down = "the weather services do not answer" if self.on("no weather") else ""
            if self.on("webhook down"):
                self.hook.behave(str(self.rng.choice(["503", "hangs up", "loses the answer"])))
            else:
                self.hook.behave("well")
            if self.now.hour == 12 and not self.on("disk full") and self.now > self.gauge_since + 12 * HOUR:
                self.owner()
            service.work(self.now)
            self.now = self.next_stop(service)

    def next_stop(self, service: Service) -> datetime:
        """The next moment that matters; the hourly archive is done when we come by."""
        (one,) = service.served
        jobs = coming(one.settings, one.site, done=one.done, last=one.kept, now=self.now)
        noon = self.now.replace(hour=12, minute=0, second=0, microsecond=0)
        times = [noon if noon > self.now else noon + DAY]
        times += [job.at for job in jobs if job.job != "archive"]
        times += [failing.next_at for failing in one.failing.values()]
        times += [s.begin for s in self.spells if s.what == "off"]
        if (again := one.outbox.next_at()) is not None:
            times.append(again)
        return min((t for t in times if t > self.now), default=self.now + HOUR)

    # -- the account

    def reckoned(self) -> Account:
        account = self.account
        with open_store(self.site.records_path) as store:
            account.doubts = [doubt for doubt in store.check() if "gauge" not in doubt]
            events = {event.key: event for event in store.events()}
            records = store.records()
            account.advice_rows = len(store.advice_list(self.site.place.name))
        named = self.site.place.name
        settings = service_settings(self.site)
        day = self.first.date()
        while (slot := slot_of(settings, self.site, day)).until <= self.now:
            account.nights[day] = self.what_became_of(slot, events)
            day += DAY
        outbox = {key.partition(":")[2] for key in events if key.startswith("outbox:")}
        account.sent_keys = {key.partition(":")[2] for key in events if key.startswith("sent:")}
        dropped = {key.partition(":")[2]: e for key, e in events.items() if key.startswith("dropped:")}
        for key in outbox:
            if key in account.sent_keys:
                account.messages["sent"] += 1
            elif key in dropped:
                account.messages[f"dropped ({str(dropped[key].payload['why']).split(';')[0]})"] += 1
            else:
                account.messages["neither"] += 1
        account.messages["both"] = len(account.sent_keys & dropped.keys())
        account.looks["done"] = sum(key.startswith(f"look:{named}:") for key in events)
        for post in self.hook.taken.values():
            if post.json["kind"] == "look":
                verdicts = tuple(LookVerdict)
                account.looks[next(v for v in verdicts if v in post.json["short"])] += 1
        account.advice_events = sum(key.startswith((f"advice:{named}:", f"look:{named}:")) for key in events)
        account.posts, account.taken = len(self.hook.posts), len(self.hook.taken)
        account.taken_keys = set(self.hook.taken)
        bodies: dict[str, set[bytes]] = {}
        for post in self.hook.posts:
            bodies.setdefault(post.key, set()).add(post.body)
        account.unlike_bodies = sum(len(found) > 1 for key, found in bodies.items() if key in outbox)
        account.gauge_kept, account.pairs = len(records.gauge), len(records.pairs)
        account.archive_hours = len(records.archive)
        account.archive_doubles = len(records.archive) - len({h.starts_at for h in records.archive})
        account.backups = len(list((self.folder / "backups").iterdir()))
        return account

    def what_became_of(self, slot: Slot, events: Mapping[str, Event]) -> str:
        named = self.site.place.name
        advice, missed = events.get(f"advice:{named}:{slot.day}"), events.get(f"missed:{named}:{slot.day}")
        spoilt = any(s.begin < slot.at + MINUTE and s.end > slot.at - MINUTE for s in self.drawn)
        if advice is not None and not advice.payload["late"]:
            return "on time"
        if not spoilt and not any(a <= slot.at <= b for a, b in self.clock_back):
            self.account.faultless_but_late.append(slot.day)
        if advice is not None:
            return "late"
        if missed is not None:
            return f"missed ({missed.payload['why']})"
        return "unaccounted"


def run_season(folder: Path, nights: int, seed: int) -> Account:
    """A season in `folder`."""
    with Hook() as hook, patch.object(night, "RECORDS_DAYS", SHORT_PAST_DAYS):
        return Season(folder, hook, nights, seed).run()


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        print("\n".join(run_season(Path(made), int(sys.argv[1]), int(sys.argv[2])).lines()))
