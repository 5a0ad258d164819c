"""How the service is, read from the records: what is told as wrong, and the address that monitors ask."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
from collections import namedtuple
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from service.loopback import Hook, free_port
from service.made_service import Sky, at, hook_channel, service_site, serving

from advisor.advice.service_health import (
    LastMessage,
    LastWeather,
    MessageKind,
    ServiceHealth,
    SiteHealth,
    Trouble,
    TroubleKind,
)
from advisor.errors import InputError, RecordsError
from advisor.lawn.service_settings import service_settings
from advisor.sentences.service import trouble_words
from advisor.service.health import service_health, site_health
from advisor.service.health_address import HealthServer
from advisor.service.service import Service
from advisor.store import open_store

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
NOON, EVENING = at("2026-06-17T12:00"), at("2026-06-17T20:15")


def health(service: Service, now: datetime) -> SiteHealth:
    (one,) = service.served
    live = service.troubles.get(one.site.place.name, ())
    return site_health(one.site, one.settings, one.store, now, live=live)


def test_when_all_is_well_it_says_what_was_last_and_what_is_next(tmp_path: Path) -> None:
    with Hook() as hook, serving(service_site(tmp_path), NOON, channels=[hook_channel(hook.url)]) as service:
        for now in (NOON, NOON + 5 * MINUTE, EVENING):
            service.work(now)
        found = health(service, EVENING + HOUR)
    assert found.ok
    assert found.last_advice is not None
    assert found.last_advice.night == date(2026, 6, 17)
    assert found.last_advice.headline.startswith("Run Front")
    assert found.last_weather == LastWeather(source="made", fetched_at=EVENING)
    assert found.last_message == LastMessage(at=EVENING, channel="webhook", kind=MessageKind.ADVICE)
    assert found.messages_waiting == 0
    assert [job.job for job in found.next_jobs] == ["archive", "backup", "advice"]
    assert found.disk_free_bytes > 0


def test_an_advice_that_is_overdue_is_told_until_the_next_one_is_given(tmp_path: Path) -> None:
    with serving(service_site(tmp_path), NOON) as service:
        service.work(NOON + 6 * MINUTE)
        assert health(service, EVENING + 44 * MINUTE).ok
        for late in (EVENING + 45 * MINUTE, EVENING + 20 * HOUR):
            assert "the advice of 2026-06-17 was not given" in health(service, late).reasons
        service.work(EVENING + DAY)
        assert health(service, EVENING + DAY + HOUR).ok


def test_before_its_first_evening_nothing_is_overdue(tmp_path: Path) -> None:
    with serving(service_site(tmp_path), NOON) as service:
        service.work(NOON + 6 * MINUTE)
        assert health(service, NOON + 6 * MINUTE).ok
    site = service_site(tmp_path / "other")
    with open_store(site.records_path) as store:
        found = site_health(site, service_settings(site), store, NOON)
    assert found.reasons == ("it was never served yet",)
    assert (found.last_advice, found.last_weather, found.last_message) == (None, None, None)


def test_a_message_that_waits_and_its_reason_are_told(tmp_path: Path) -> None:
    with Hook() as hook, serving(service_site(tmp_path), NOON, channels=[hook_channel(hook.url)]) as service:
        hook.behave("503")
        service.work(NOON)
        service.work(EVENING)
        found = health(service, EVENING + 61 * MINUTE)
    assert found.messages_waiting == 1
    assert "1 message(s) wait longer than an hour" in found.reasons
    assert any("answered HTTP 503" in reason for reason in found.reasons)


def test_weather_that_is_too_old_is_told(tmp_path: Path) -> None:
    sky = Sky()
    with serving(service_site(tmp_path), NOON, sky=sky) as service:
        service.work(NOON + 5 * MINUTE)
        sky.down = "down"
        service.work(NOON + 2 * HOUR)
        assert health(service, NOON + 2 * HOUR).ok
        reasons = health(service, NOON + 13 * HOUR).reasons
    assert any("the last weather is 13 h old" in reason for reason in reasons)


def test_no_weather_at_all_is_told_from_the_beginning_and_after_days(tmp_path: Path) -> None:
    sky = Sky()
    sky.down = "down"
    with serving(service_site(tmp_path), NOON, sky=sky) as service:
        assert health(service, NOON).reasons == ("no weather has come since 2026-06-17 17:00 UTC",)
        service.work(NOON + 6 * MINUTE)
        assert "no weather has come since 2026-06-17 17:00 UTC" in health(service, NOON + HOUR).reasons
        sky.down = ""
        service.work(NOON + HOUR + 6 * MINUTE)
        assert health(service, NOON + HOUR + 6 * MINUTE).ok
        later = health(service, NOON + 5 * DAY)
    assert "no weather has come since 2026-06-18 17:00 UTC" in later.reasons


def test_a_disk_that_is_nearly_full_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    usage = namedtuple("usage", "total used free")
    with serving(service_site(tmp_path), NOON) as service:
        service.work(NOON + 6 * MINUTE)
        monkeypatch.setattr("shutil.disk_usage", lambda _: usage(10**9, 10**9, 20_000_000))
        found = health(service, NOON + 6 * MINUTE)
    assert found.reasons == ("only 20 MB are free on the disk of the records",)


def test_the_report_names_each_site_and_gives_its_reason_in_a_line() -> None:
    nothing = {"last_advice": None, "last_weather": None, "last_message": None, "messages_waiting": 0}
    rest = {**nothing, "next_jobs": (), "disk_free_bytes": 1}
    well = SiteHealth(site="A", ok=True, reasons=(), troubles=(), **rest)
    never = Trouble(kind=TroubleKind.NEVER_SERVED)
    ill = SiteHealth(site="B", ok=False, reasons=("it rains in",), troubles=(never,), **rest)
    assert service_health([well], NOON).ok is True
    told = json.loads(
        service_health([well, ill], NOON, troubles=[Trouble(kind=TroubleKind.STUCK)]).as_json(indent=1)
    )
    assert told["schema_version"] == told["schema"] == "advisor.health/1"
    assert told["ok"] is False
    assert told["reason"] == ("the service has not looked round for a quarter of an hour; B: it rains in")
    assert [site["ok"] for site in told["sites"]] == [True, False]


def test_what_is_wrong_is_told_as_data_beside_its_sentence(tmp_path: Path) -> None:
    with serving(service_site(tmp_path), NOON) as service:
        service.work(NOON + 6 * MINUTE)
        found = health(service, EVENING + 45 * MINUTE)
    assert [(one.kind, one.night) for one in found.troubles] == [(TroubleKind.NO_ADVICE, date(2026, 6, 17))]
    assert found.reasons == tuple(trouble_words(one) for one in found.troubles)


def test_every_kind_of_trouble_has_its_clause() -> None:
    facts = {"key": "advice:A:2026-06-17", "error": "it failed", "times": 3, "night": date(2026, 6, 17)}
    facts |= {"age_h": 13.0, "free_bytes": 20_000_000, "at": NOON}
    told = [trouble_words(Trouble(kind=kind, **facts)) for kind in TroubleKind]
    assert len(set(told)) == len(TroubleKind)
    assert not [words for words in told if "None" in words]


def asked(port: int, path: str = "/") -> tuple[int, dict[str, Any]]:
    try:
        with urllib.request.urlopen(f"http://127.0.0.1:{port}{path}", timeout=5) as answer:
            return answer.status, json.loads(answer.read())
    except urllib.error.HTTPError as error:
        with error:
            return error.code, json.loads(error.read())


def test_the_address_answers_200_when_well_and_503_with_the_reason_when_not() -> None:
    answers = [
        service_health([], NOON),
        service_health([], NOON, troubles=[Trouble(kind=TroubleKind.NOT_RUNNING)]),
    ]
    with HealthServer(free_port(), lambda: answers.pop(0)) as server:
        status, told = asked(server.port)
        assert (status, told["ok"], told["reason"]) == (200, True, "")
        status, told = asked(server.port)
        assert (status, told["ok"], told["reason"]) == (503, False, "the service is not running")


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (RecordsError("the records are gone"), "the records are gone"),
        (ZeroDivisionError("inside"), "ZeroDivisionError"),
    ],
    ids=["expected", "a bug"],
)
def test_the_address_answers_503_also_when_it_cannot_tell(error: Exception, reason: str) -> None:
    def fail() -> ServiceHealth:
        raise error

    with HealthServer(free_port(), fail) as server:
        status, told = asked(server.port)
    assert (status, told["reason"]) == (503, reason)


def test_a_port_that_cannot_be_had_is_told() -> None:
    with (
        HealthServer(free_port(), lambda: service_health([], NOON)) as server,
        pytest.raises(InputError, match="health address cannot be had"),
    ):
        HealthServer(server.port, lambda: service_health([], NOON))
