"""The service: whatever is due is done, in order, once; its user is the clock.

It asks no clock: `work(now)` does what is due at `now`, `next_at(now)` says when to call again. A night
runs so: weather for all sites together; per site the advice is made and kept in one write with its key
and its messages; then the messages go out and are marked; then the archive and the backup. Dying
between any two of these loses and doubles nothing: what is not marked is done again.
"""

from __future__ import annotations

import contextlib
import logging
import threading
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Any

from advisor import night
from advisor.advice import Advice, Job, Trouble, TroubleKind
from advisor.errors import AdvisorError, RecordsError
from advisor.sentences import SERVICE_WAS_OFF, fault_words
from advisor.service import messages
from advisor.service.heartbeat import call_heartbeat, heartbeat_address
from advisor.service.housekeeping import archive, backup, forecast_facts, pairs_since
from advisor.service.jobs import Due, coming, due, next_slot
from advisor.service.keys import (
    ARCHIVE,
    advice_key,
    heartbeat_failed_key,
    heartbeat_key,
    missed_key,
    no_advice_key,
)
from advisor.service.logs import say
from advisor.service.messages import Message
from advisor.service.rereading import reread
from advisor.service.served import HEARTBEAT, MESSAGES, SITE_FILE, Held, Served
from advisor.weather import rain_so_far

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from advisor.lawn import Records
    from advisor.night import Inputs
    from advisor.store import Event
    from advisor.weather import Weather

    WeatherFor = Callable[..., list[Weather | AdvisorError]]

TELL_AFTER = timedelta(minutes=30)
"""How long a failing job is tried before the owner is told that there is no advice."""
WENT_BACK = timedelta(hours=1)
ADVISES = (Job.ADVICE, Job.LOOK)
NEEDS_WEATHER = (*ADVISES, Job.ARCHIVE)
ROUND = "round"


@dataclass(frozen=True, slots=True)
class Found:
    """A site's records and its weather, or what went wrong with either."""

    records: Records | None = None
    weather: Weather | None = None
    error: Exception | None = None


class Stopping(BaseException):
    """The service was asked to stop; no further write begins."""


def _no_step(_point: str) -> None:
    """Nothing goes wrong; tests hand in something that does."""


class Service:
    """Several sites, one after the other. `step` is called at every point at which a process may die."""

    def __init__(
        self,
        served: Sequence[Served],
        *,
        weather_for: WeatherFor = night.weather_for,
        step: Callable[[str], None] = _no_step,
    ) -> None:
        self.served = tuple(served)
        self._weather_for, self._step = weather_for, step
        self._in_hand = threading.Lock()
        self._stop = threading.Event()
        self.worked_at: datetime | None = None
        self.troubles: dict[str, tuple[Trouble, ...]] = {}

    # -- the round

    def work(self, now: datetime) -> None:
        """Do everything that is due at `now`. What fails is noted and tried again; nothing is raised."""
        now = now.astimezone(UTC)
        for one in self.served:
            reread(one, now)
            self._keep_held(one)
        jobs = {id(one): self._due(one, now) for one in self.served}
        weather = self._weather([(one, jobs[id(one)]) for one in self.served], now)
        for one in self.served:
            for job in jobs[id(one)]:
                if job.job in ADVISES:
                    self._attempt(one, job, now, lambda o, j: self._advise(o, j, weather[id(o)], now))
        for one in self.served:
            self._send(one, now)
            self._beat(one, now)
        for one in self.served:
            for job in jobs[id(one)]:
                if job.job not in ADVISES:
                    self._attempt(
                        one, job, now, lambda o, j: self._keep_house(o, j, weather.get(id(o), Found()), now)
                    )
        self.worked_at = now
        self.troubles = {one.site.place.name: self._troubles_of(one, now) for one in self.served}

    def next_at(self, now: datetime) -> datetime:
        """When there is next something to do; within the hour."""
        times = [now + timedelta(hours=1)]
        for one in self.served:
            times += [failing.next_at for failing in one.failing.values()]
            if (again := one.outbox.next_at()) is not None:
                times.append(again)
            times += [job.at for job in coming(one.settings, one.site, done=one.done, last=one.kept, now=now)]
        return min((at for at in times if at > now), default=now + timedelta(minutes=1))

    # -- stopping

    def stop(self) -> None:
        """Let the write in hand finish and begin no other."""
        self._stop.set()

    def rest(self, timeout_s: float) -> bool:
        """Wait until no write is in hand; whether that is so. None begins any more after `stop`."""
        return self._in_hand.acquire(timeout=timeout_s)

    @contextmanager
    def _writing(self) -> Iterator[None]:
        with self._in_hand:
            if self._stop.is_set():
                raise Stopping
            yield

    # -- the parts of a round

    def _due(self, one: Served, now: datetime) -> tuple[Due, ...]:
        if self._stop.is_set():
            raise Stopping
        try:
            found = due(one.settings, one.site, done=one.done, last=one.last(), since=one.since, now=now)
        except Exception as error:
            self._note(ROUND, one, error, now)
            return ()
        one.failing.pop(ROUND, None)
        for key in set(one.failing) - {job.key for job in found} - {MESSAGES, SITE_FILE, HEARTBEAT}:
            del one.failing[key]
        return tuple(job for job in found if not one.waits(job.key, now))

    def _weather(self, jobs: Sequence[tuple[Served, tuple[Due, ...]]], now: datetime) -> dict[int, Found]:
        """Weather, or what went wrong instead, for every site that needs it now."""
        needing = [one for one, mine in jobs if any(job.job in NEEDS_WEATHER for job in mine)]
        asked: list[tuple[Served, Records]] = []
        found: dict[int, Found] = {}
        for one in needing:
            try:
                asked.append((one, one.store.records(since=now - timedelta(days=night.RECORDS_DAYS))))
            except RecordsError as error:
                found[id(one)] = Found(error=error)
        if not asked:
            return found
        members = any(job.job in ADVISES for _, mine in jobs for job in mine)
        try:
            sites = [(one.site, records) for one, records in asked]
            answers: Sequence[Any] = self._weather_for(sites, now, members=members)
        except Exception as error:
            answers = [error] * len(asked)
        for (one, records), answer in zip(asked, answers, strict=True):
            failed = isinstance(answer, Exception)
            found[id(one)] = Found(records, error=answer) if failed else Found(records, answer)
        return found

    def _attempt(self, one: Served, job: Due, now: datetime, act: Callable[[Served, Due], None]) -> None:
        try:
            act(one, job)
        except Exception as error:
            self._note(job.key, one, error, now)
            if job.job in ADVISES:
                self._tell_why(one, job, now)
        else:
            one.failing.pop(job.key, None)

    def _note(self, key: str, one: Served, error: Exception, now: datetime) -> None:
        """Note and log a failure; a bug with its traceback, the first time."""
        expected = isinstance(error, AdvisorError)
        why = str(error) if expected else fault_words(type(error).__name__)
        failing = one.failed(key, why, now)
        trace = None if expected or failing.times > 1 else error
        say(
            "failed",
            level=logging.ERROR,
            trace=trace,
            site=one.site.place.name,
            key=key,
            why=why,
            times=failing.times,
        )

    def _advise(self, one: Served, job: Due, found: Found, now: datetime) -> None:
        """Make an advice, and keep it with its key and its messages in one write."""
        if found.error is not None:
            raise found.error
        self._step("weather")
        inputs = night.gather(one.site, one.store, now, weather=found.weather, unkept=one.unkept())
        self._step("gathered")
        advice = inputs.advise()
        self._step("advised")
        forecast = forecast_facts(inputs.weather, now) if job.look is None else {}
        events = self._events(one, job, advice, _message(one, job, inputs, advice, now), forecast)
        try:
            with self._writing():
                night.keep(one.store, advice, events=events)
        except RecordsError as error:
            if not error.may_pass:
                raise
            told = night.told_as_not_kept(advice, error)
            events = self._events(one, job, told, _message(one, job, inputs, told, now), forecast)
            one.held.append(Held(tuple(events), error, advice))
            one.marked(events, unkept=told)
            say("advice not kept", level=logging.ERROR, site=one.site.place.name, key=job.key, why=error.why)
            return
        one.marked(events)
        self._step("advice kept")
        say("advice kept", site=one.site.place.name, key=job.key, late=job.late, headline=advice.headline)
        if job.look is None:
            pairs = pairs_since(one, inputs, now)
            if pairs:
                with self._writing():
                    one.store.add_pairs(pairs)
                self._step("pairs kept")

    def _events(
        self, one: Served, job: Due, advice: Advice, message: Message, forecast: Mapping[str, object]
    ) -> list[Event]:
        """What to mark with an advice: its job, and its message where it is to be told."""
        from advisor.store import Event

        now, promised = advice.now, no_advice_key(job.key) in one.done | one.told
        wanted = message.to_do or promised or not one.messages.only_when_something_to_do
        facts = {"night": str(advice.night), "late": job.late, "given_at": advice.now.isoformat()}
        source = advice.sources[0] if advice.sources else None
        payload: dict[str, Any] = {**facts, **forecast, "told": wanted}
        if source is not None:
            payload |= {"source": source.name, "fetched_at": source.fetched_at.isoformat()}
        events = [Event(job.key, now, payload)]
        if wanted:
            events += one.outbox.events_for(job.key, message, now=now, until=job.until, facts=facts)
        return events

    def _keep_held(self, one: Served) -> None:
        """Keep what the records would not take before, in order, as far as they take it now."""
        try:
            while one.held:
                with self._writing():
                    one.keep_held()
                say("kept after all", site=one.site.place.name, still_held=len(one.held))
        except RecordsError as error:
            one.held[0] = replace(one.held[0], error=error)

    def _tell_why(self, one: Served, job: Due, now: datetime) -> None:
        """Once per job: the quiet message that there is no advice, and why."""
        failing, key = one.failing[job.key], no_advice_key(job.key)
        if now - failing.since < TELL_AFTER or key in one.done or key in one.told:
            return
        message = messages.for_nothing(one.site, failing.why, now, look=job.look)
        facts = {"night": str(job.slot), "late": False}
        try:
            events = one.outbox.events_for(key, message, now=now, until=job.until, facts=facts)
            with self._writing():
                for event in events:
                    one.store.mark_done(event.key, event.at, event.payload)
                one.store.mark_done(key, now, {"why": failing.why})
            one.done.add(key)
            one.outbox.add(events)
            one.told.add(key)
        except RecordsError:
            if one.outbox.send_unkept(key, message, now=now):
                one.told.add(key)

    def _send(self, one: Served, now: datetime) -> None:
        def step(point: str) -> None:
            if self._stop.is_set():
                raise Stopping
            self._step(point)

        try:
            one.outbox.send(now, step)
            one.failing.pop(MESSAGES, None)
        except Exception as error:
            self._note(MESSAGES, one, error, now)

    def _beat(self, one: Served, now: datetime) -> None:
        """Tell a watcher, once an evening, that the advice was given and told.

        A failure is marked and logged once an evening, and tried again while the evening lasts.
        """
        slot = one.gone_well(now)
        if not one.settings.heartbeat or slot is None or one.waits(HEARTBEAT, now):
            return
        try:
            call_heartbeat(heartbeat_address(one.settings, one.secrets))
            with self._writing():
                one.mark(heartbeat_key(one.site, slot), now)
            one.failing.pop(HEARTBEAT, None)
        except Exception as error:
            why = str(error) if isinstance(error, AdvisorError) else fault_words(type(error).__name__)
            failing, key = one.failed(HEARTBEAT, why, now), heartbeat_failed_key(one.site, slot)
            if key in one.done:
                return
            say("heartbeat failed", level=logging.WARNING, site=one.site.place.name, why=failing.why)
            with contextlib.suppress(RecordsError), self._writing():
                one.mark(key, now, {"why": failing.why})
            one.done.add(key)

    def _keep_house(self, one: Served, job: Due, found: Found, now: datetime) -> None:
        match job.job:
            case Job.MISSED:
                self._missed(one, job, now)
            case Job.ARCHIVE:
                if found.error is not None:
                    raise found.error
                assert found.weather is not None
                assert found.records is not None
                with self._writing():
                    archive(one, job, found.weather, found.records, now)
                self._step("archived")
            case Job.BACKUP:
                with self._writing():
                    backup(one, job, now)
                self._step("backed up")

    def _missed(self, one: Served, job: Due, now: datetime) -> None:
        told = no_advice_key(advice_key(one.site, job.slot))
        event = one.store.done(told) if told in one.done else None
        why = SERVICE_WAS_OFF if event is None else str(event.payload.get("why", ""))
        with self._writing():
            one.mark(missed_key(one.site, job.slot), now, {"why": why})
        say("advice missed", level=logging.WARNING, site=one.site.place.name, slot=str(job.slot), why=why)

    def _troubles_of(self, one: Served, now: datetime) -> tuple[Trouble, ...]:
        """What goes wrong at this site just now."""
        found = [
            Trouble(kind=TroubleKind.FAILS, key=key, error=failing.why, times=failing.times)
            for key, failing in one.failing.items()
            if not key.startswith(ARCHIVE)  # an hour without weather is made up for; its age is told
        ]
        found += [
            Trouble(kind=TroubleKind.MESSAGE_FAILS, key=w.key, error=w.why, times=w.failures)
            for w in one.outbox.waiting
            if w.failures
        ]
        if one.held:
            first = one.held[0]
            found.append(
                Trouble(
                    kind=TroubleKind.NOT_KEPT,
                    at=first.events[0].at,
                    times=len(one.held),
                    error=one.outbox.hide(first.error.why),
                )
            )
        if now < one.newest_mark - WENT_BACK:
            found.append(Trouble(kind=TroubleKind.CLOCK_SET_BACK, at=one.newest_mark))
        else:
            one.newest_mark = max(one.newest_mark, now)
        return tuple(found)


def _message(one: Served, job: Due, inputs: Inputs, advice: Advice, now: datetime) -> Message:
    if job.look is None:
        following = next_slot(one.settings, one.site, now).at
        always = not one.messages.only_when_something_to_do
        return messages.for_advice(advice, late=job.late, next_at=following, always=always)
    since = inputs.previous.now if inputs.previous is not None else advice.now
    rain = rain_so_far(inputs.weather, inputs.records.gauge, since, now)
    return messages.for_look(advice, job.look, since, rain, late=job.late)
