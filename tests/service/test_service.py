"""The service on a driven clock: the advice, its looks and its messages, once each, whatever fails."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from service.loopback import Hook
from service.made_service import Sky, applied, at, hook_channel, rain_ahead, service_site, serving

from advisor.advice.advice import Advice
from advisor.advice.service_health import TroubleKind
from advisor.errors import RecordsError, RecordsFault
from advisor.faces.text.advice_text import advice_text
from advisor.lawn.records import GaugeReading, ProbeReading
from advisor.sentences.service import trouble_words
from advisor.service.outbox import PAUSES_MIN
from advisor.service.service import Service, Stopping
from advisor.store import open_store

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
NOON, EVENING = at("2026-06-17T12:00"), at("2026-06-17T20:15")


def drive(service: Service, now: datetime, until: datetime) -> datetime:
    """Work whenever the service asks to, as the alarm clock would."""
    while now <= until:
        service.work(now)
        now = service.next_at(now)
    return now


def shorts(hook: Hook) -> list[str]:
    return [post.json["short"] for post in hook.posts]


def keys(path: Path, prefix: str) -> list[str]:
    with open_store(path) as store:
        return [event.key for event in store.events(prefix)]


def test_every_evening_the_advice_is_given_kept_and_sent_once(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
        drive(service, NOON, NOON + 3 * DAY)
        assert [post.key for post in hook.posts] == [
            f"advice:Larkmoor Lane:2026-06-{day}:webhook" for day in (17, 18, 19)
        ]
        kept = service.served[0].store.advice_list("Larkmoor Lane")
        assert [one.given_at for one in kept] == [EVENING + n * DAY for n in (2, 1, 0)]
        first = hook.posts[0].json
        assert first["short"] == f"{first['advice']['headline']} Next advice Thu 20:15."
        assert first["next_at"] == (EVENING + DAY).isoformat()
        assert (first["kind"], first["night"], first["late"]) == ("advice", "2026-06-17", False)
        advice, _, after = first["text"].rpartition("\nThe next advice is due ")
        assert advice == advice_text(Advice.model_validate(first["advice"]))
        assert after == "Thursday 18 June, 20:15. If no message comes then, see `advisor status`.\n"
        assert "Tonight, zone by zone" in first["text"]
        assert service.troubles == {"Larkmoor Lane": ()}
    assert len(keys(site.records_path, "archive:")) == 72
    assert len(keys(site.records_path, "backup:")) == 4
    assert len(list((tmp_path / "backups").iterdir())) == 4


def test_what_was_missed_while_off_is_caught_up_once_and_told_as_late(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    with Hook() as hook:
        with serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
            service.work(NOON)
        for start in (at("2026-06-19T22:41"), at("2026-06-19T22:50")):
            with serving(site, start, channels=[hook_channel(hook.url)]) as service:
                drive(service, start, start + 5 * MINUTE)
        assert [post.key for post in hook.posts] == ["advice:Larkmoor Lane:2026-06-19:webhook"]
        assert shorts(hook)[0].startswith("Late, given at 22:41: ")
        assert hook.posts[0].json["late"] is True
    assert keys(site.records_path, "missed:") == [
        "missed:Larkmoor Lane:2026-06-17",
        "missed:Larkmoor Lane:2026-06-18",
    ]


@pytest.mark.parametrize(("past_rain_mm", "told"), [(200.0, False), (0.0, True)], ids=["wet", "dry"])
def test_where_the_owner_wants_it_so_only_something_to_do_is_told(
    tmp_path: Path, past_rain_mm: float, told: bool
) -> None:
    site = service_site(tmp_path)
    site = replace(site, settings={**site.settings, "messages": {"only_when_something_to_do": True}})
    sky = Sky()
    sky.past_rain_mm = past_rain_mm
    with Hook() as hook, serving(site, NOON, sky=sky, channels=[hook_channel(hook.url)]) as service:
        drive(service, NOON, EVENING + HOUR)
        assert len(hook.posts) == int(told)
        advised = service.served[0].store.done("advice:Larkmoor Lane:2026-06-17")
        assert advised is not None
        assert advised.payload["told"] is told


# -- the next look


def unsettled(service: Service, sky: Sky) -> None:
    """A product that rain may or may not water in, on a lawn that needs nothing itself."""
    service.served[0].store.add_application(applied(at("2026-06-17T10:00")))
    service.served[0].store.add_probe(ProbeReading("Front", at("2026-06-17T18:00"), 2.0))
    wet = np.zeros((10, 240))
    wet[:7, 5:9] = 3.0
    sky.members_mm = wet


def next_look(service: Service) -> datetime:
    last = service.served[0].last()
    assert last is not None
    return min(look.at for look in last.next_looks if look.minutes)


@pytest.mark.parametrize(
    ("rained_mm", "verdict"),
    [
        (20.0, "All clear: 20.0 mm since Wed 20:15 in your gauge."),
        (0.0, "Top-up: 0.0 mm since Wed 20:15 in your gauge."),
    ],
    ids=["rain came", "rain stayed away"],
)
def test_at_the_stated_hour_the_gauge_closes_the_loop(tmp_path: Path, rained_mm: float, verdict: str) -> None:
    site, sky = service_site(tmp_path), Sky()
    with Hook() as hook, serving(site, NOON, sky=sky, channels=[hook_channel(hook.url)]) as service:
        unsettled(service, sky)
        drive(service, NOON, EVENING + MINUTE)
        look_at = next_look(service)
        sky.members_mm = np.zeros((10, 240))
        service.served[0].store.add_gauge(GaugeReading(look_at - MINUTE, rained_mm, since=EVENING))
        drive(service, EVENING + HOUR, look_at + MINUTE)
        advice, look = hook.posts
        assert "Look at the gauge at" in advice.json["text"]
        assert look.json["kind"] == "look"
        assert look.json["short"].startswith(verdict)
        assert ("Run Front" in look.json["short"]) == (rained_mm == 0.0)
        assert look.json["text"].startswith(verdict)
        assert look.json["text"].endswith("\n\n" + advice_text(Advice.model_validate(look.json["advice"])))
        assert len(service.served[0].store.advice_list("Larkmoor Lane")) == 2


def test_without_a_gauge_the_look_rests_on_the_source(tmp_path: Path) -> None:
    site, sky = service_site(tmp_path), Sky()
    with Hook() as hook, serving(site, NOON, sky=sky, channels=[hook_channel(hook.url)]) as service:
        unsettled(service, sky)
        drive(service, NOON, EVENING + MINUTE)
        look_at = next_look(service)
        sky.members_mm = np.zeros((10, 240))
        service.work(look_at)
        assert "by the weather service" in shorts(hook)[-1]


# -- no advice


def test_after_half_an_hour_without_weather_a_quiet_message_says_why_and_the_advice_follows_late(
    tmp_path: Path,
) -> None:
    site, sky = service_site(tmp_path), Sky()
    with Hook() as hook, serving(site, NOON, sky=sky, channels=[hook_channel(hook.url)]) as service:
        service.work(NOON)
        sky.down = "there is no forecast younger than 36 h"
        now = drive(service, NOON + HOUR, EVENING + 29 * MINUTE)
        assert hook.posts == []
        assert "there is no forecast" in trouble_words(service.troubles["Larkmoor Lane"][0])
        now = drive(service, now, EVENING + 2 * HOUR)
        assert [post.key for post in hook.posts] == ["no-advice:advice:Larkmoor Lane:2026-06-17:webhook"]
        assert "there is no forecast younger than 36 h" in shorts(hook)[0]
        sky.down = ""
        drive(service, now, EVENING + 3 * HOUR)
        assert [post.json["kind"] for post in hook.posts] == ["no advice", "advice"]
        assert shorts(hook)[1].startswith("Late, given at")
        assert service.troubles == {"Larkmoor Lane": ()}


def test_a_night_without_weather_to_its_end_is_missed_with_the_reason(tmp_path: Path) -> None:
    site, sky = service_site(tmp_path), Sky()
    sky.down = "the services do not answer"
    with Hook() as hook, serving(site, NOON, sky=sky, channels=[hook_channel(hook.url)]) as service:
        drive(service, NOON, EVENING + 14 * HOUR)
        missed = service.served[0].store.done("missed:Larkmoor Lane:2026-06-17")
        assert missed is not None
        assert missed.payload["why"] == "the services do not answer"
        assert len(hook.posts) == 1


def test_a_bug_is_told_without_its_inside_and_does_not_stop_the_service(tmp_path: Path) -> None:
    site = service_site(tmp_path)

    def broken(*_: object, **__: object) -> list[object]:
        raise ZeroDivisionError("the inside")

    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
        good, service._weather_for = service._weather_for, broken  # type: ignore[assignment]
        now = drive(service, NOON, EVENING + HOUR)
        assert "an internal fault (ZeroDivisionError)" in shorts(hook)[0]
        assert "the inside" not in hook.posts[0].body.decode()
        service._weather_for = good
        drive(service, now, EVENING + 2 * HOUR)
        assert len(hook.posts) == 2


# -- a channel that fails


def test_a_channel_that_is_down_is_tried_again_with_growing_pauses_and_takes_the_message_once(
    tmp_path: Path,
) -> None:
    site = service_site(tmp_path)
    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
        hook.behave("503", "hangs up", "loses the answer", "redirect", "well")
        drive(service, NOON, EVENING + HOUR)
        assert [post.key for post in hook.posts] == ["advice:Larkmoor Lane:2026-06-17:webhook"] * 5
        assert len(hook.taken) == 1
        assert len({post.body for post in hook.posts}) == 1
        stamps = [int(post.headers["x-signature-timestamp"]) for post in hook.posts]
        assert np.diff(stamps).tolist() == [60 * pause for pause in PAUSES_MIN[:4]]


def test_a_message_that_nobody_took_before_its_night_was_over_is_dropped_and_says_so(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
        hook.behave("503")
        drive(service, NOON, EVENING + 15 * HOUR)
        key = "Larkmoor Lane:2026-06-17:webhook"
        dropped = service.served[0].store.done(f"dropped:advice:{key}")
        assert dropped is not None
        assert dropped.payload["why"].startswith("it is of no use any more")
        assert service.served[0].store.done(f"sent:advice:{key}") is None
        hook.behave("well")
        drive(service, EVENING + 16 * HOUR, EVENING + DAY)
        assert list(hook.taken) == ["advice:Larkmoor Lane:2026-06-18:webhook"]


def test_one_channel_that_is_down_does_not_keep_the_other_waiting(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    with Hook() as down, Hook() as up:
        down.behave("503")
        other = hook_channel(up.url)
        other.name = "house"  # type: ignore[misc]
        with serving(site, NOON, channels=[hook_channel(down.url), other]) as service:
            drive(service, NOON, EVENING)
            assert len(up.taken) == 1
            assert len(service.served[0].outbox.waiting) == 1


# -- records that cannot be written


def test_what_cannot_be_kept_is_sent_once_and_kept_when_there_is_room(tmp_path: Path) -> None:
    site, full = service_site(tmp_path), False

    def fault(point: str) -> None:
        if full and point.endswith(": written"):
            raise RecordsError("the disk is full", fault=RecordsFault.DISK_FULL)

    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)], fault=fault) as service:
        (one,) = service.served
        service.work(NOON)
        full = True
        now = drive(service, NOON + HOUR, EVENING + 2 * HOUR)
        assert [post.key for post in hook.posts] == ["advice:Larkmoor Lane:2026-06-17:webhook"]
        assert shorts(hook)[0].startswith("Not kept (disk full), may come twice: Run Front")
        assert one.store.advice_list("Larkmoor Lane") == ()
        last = one.last()
        assert last is not None
        assert last.not_kept is None
        kinds = {trouble.kind for trouble in service.troubles["Larkmoor Lane"]}
        assert TroubleKind.NOT_KEPT in kinds
        full = False
        drive(service, now, EVENING + 3 * HOUR)
        assert service.troubles["Larkmoor Lane"] == ()
        assert len(hook.posts) == 1
        (kept,) = one.store.advice_list("Larkmoor Lane")
        assert kept.given_at == last.now
        assert '"not_kept":null' in kept.advice_json
        assert one.store.done("sent:advice:Larkmoor Lane:2026-06-17:webhook") is not None
        assert one.outbox.waiting == []


def test_one_message_whose_sending_cannot_be_marked_does_not_keep_the_next_waiting(tmp_path: Path) -> None:
    full = False

    def fault(point: str) -> None:
        if full and point.endswith(": written"):
            raise RecordsError("the disk is full", fault=RecordsFault.DISK_FULL)

    with Hook() as first, Hook() as second:
        channels = [hook_channel(first.url), hook_channel(second.url)]
        channels[1].name = "second"
        with serving(service_site(tmp_path), NOON, channels=channels, fault=fault) as service:
            service.work(NOON)
            full = True
            drive(service, EVENING, EVENING + HOUR)
        assert (len(first.posts), len(second.posts)) == (1, 1)


def test_records_that_are_not_sound_lose_no_night_and_the_owner_is_told_once(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    full = True

    def fault(point: str) -> None:
        if full and point.endswith(": written"):
            raise RecordsError("the file of the records is damaged")

    with Hook() as hook:
        full = False
        with serving(site, NOON, channels=[hook_channel(hook.url)], fault=fault) as service:
            service.work(NOON)
            full = True
            now = drive(service, NOON + HOUR, EVENING + 2 * HOUR)
            assert [post.key for post in hook.posts] == ["no-advice:advice:Larkmoor Lane:2026-06-17:webhook"]
            assert "is damaged" in shorts(hook)[0]
            full = False
            drive(service, now, EVENING + 3 * HOUR)
            assert [post.json["kind"] for post in hook.posts] == ["no advice", "advice"]
            assert len(service.served[0].store.advice_list("Larkmoor Lane")) == 1


# -- several sites, stopping, the archive


def test_thirty_sites_are_served_in_one_round_with_one_question_for_the_weather(tmp_path: Path) -> None:
    sites = []
    for n in range(30):
        folder = tmp_path / str(n)
        folder.mkdir()
        sites.append(service_site(folder, f"Larkmoor Lane {n}"))
    sky = Sky()
    with Hook() as hook, serving(sites, EVENING, sky=sky, channels=[hook_channel(hook.url)]) as service:
        service.work(EVENING)
        assert sky.asked == [(30, True)]
        assert len(hook.taken) == 30
        assert service.troubles == {site.place.name: () for site in sites}


def test_asked_to_stop_the_service_begins_no_other_write(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    service: Service

    def step(point: str) -> None:
        if point == "advised":
            service.stop()

    with serving(site, NOON, step=step) as service:
        service.work(NOON)
        with pytest.raises(Stopping):
            service.work(EVENING)
        assert service.rest(0.1)
        assert service.served[0].store.advice_list("Larkmoor Lane") == ()
    with serving(site, EVENING + MINUTE) as service:
        service.work(EVENING + MINUTE)
        assert len(service.served[0].store.advice_list("Larkmoor Lane")) == 1


def test_settled_past_hours_are_archived_once_and_stay_as_they_were_first_told(tmp_path: Path) -> None:
    site, sky = service_site(tmp_path), Sky()
    with serving(site, NOON, sky=sky) as service:
        service.work(NOON + 5 * MINUTE)
        store = service.served[0].store
        first = store.records().archive
        assert first[-1].starts_at == NOON - 7 * HOUR
        sky.past_rain_mm = 90.0
        service.work(NOON + HOUR + 5 * MINUTE)
        again = store.records().archive
        assert again[: len(first)] == first
        assert len(again) == len(first) + 1
        assert sky.asked == [(1, False), (1, False)]


def test_the_forecast_of_a_day_is_held_against_the_gauge_that_covers_it(tmp_path: Path) -> None:
    site, sky = service_site(tmp_path), Sky()
    sky.members_mm = rain_ahead([4.0] * 10, [8.0] * 10)
    with serving(site, NOON, sky=sky) as service:
        drive(service, NOON, EVENING + MINUTE)
        store = service.served[0].store
        store.add_gauge(GaugeReading(EVENING + DAY - 12 * HOUR, 2.0, since=EVENING - HOUR))
        assert store.records().pairs == ()
        store.add_gauge(GaugeReading(EVENING + DAY, 3.0))
        drive(service, EVENING + HOUR, EVENING + DAY)
        (pair,) = store.records().pairs
        begins = EVENING.astimezone(UTC).replace(minute=0)
        assert (pair.starts_at, pair.hours, pair.members) == (begins, 24, 2)
        assert pair.mean_mm == pytest.approx(6.0)
        assert pair.spread_mm == pytest.approx(np.std([4.0, 8.0], ddof=1), abs=1e-3)
        assert 4.0 < pair.observed_mm <= 5.0


def test_backups_are_turned_over(tmp_path: Path) -> None:
    site = service_site(tmp_path)
    site = replace(site, settings={"service": {"advice_at": "20:15", "backups_kept": 2}})
    with serving(site, NOON) as service:
        drive(service, NOON, NOON + 4 * DAY)
    kept = sorted(path.name for path in (tmp_path / "backups").iterdir())
    assert kept == ["lawn-2026-06-20.sqlite", "lawn-2026-06-21.sqlite"]
    with open_store(tmp_path / "backups" / kept[-1]) as store:
        assert store.check() == []
        assert len(store.advice_list("Larkmoor Lane")) == 4


@pytest.mark.parametrize("back", [HOUR * 3, DAY, 4 * DAY], ids=["3 h", "a day", "four days"])
def test_a_clock_set_back_doubles_no_advice_and_is_told(tmp_path: Path, back: timedelta) -> None:
    site = service_site(tmp_path)
    with Hook() as hook, serving(site, NOON, channels=[hook_channel(hook.url)]) as service:
        drive(service, NOON, NOON + 3 * DAY)
        before = [post.key for post in hook.posts]
        now = NOON + 3 * DAY - back
        service.work(now)
        assert any(
            "the clock was set back" in trouble_words(trouble)
            for trouble in service.troubles["Larkmoor Lane"]
        )
        drive(service, now, NOON + 4 * DAY)
        after = [post.key for post in hook.posts]
        assert after[:3] == before
        assert len(set(after)) == len(after)
        assert "advice:Larkmoor Lane:2026-06-20:webhook" in after
        assert service.troubles == {"Larkmoor Lane": ()}


def test_thousands_of_records_of_each_kind_are_served_and_all_stay(tmp_path: Path) -> None:
    from service.many_records import COUNT, many_records

    site = service_site(tmp_path)
    with open_store(site.records_path) as store:
        store.import_records(many_records(EVENING))
    with Hook() as hook, serving(site, EVENING, channels=[hook_channel(hook.url)]) as service:
        service.work(EVENING)
        assert len(hook.taken) == 1
        assert service.troubles == {"Larkmoor Lane": ()}
        found = service.served[0].store.records()
    counts = {
        name: len(getattr(found, name))
        for name in ("applications", "runs", "gauge", "probes", "audits", "stock")
    }
    assert counts == dict.fromkeys(counts, COUNT)
    assert len(found.archive) >= COUNT
    assert len(found.pairs) >= COUNT
