"""`advisor serve` and `advisor status` as processes of their own: started, asked, stopped, killed."""

from __future__ import annotations

import gc
import json
import os
import secrets as random_text
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from service.loopback import Hook, free_port
from service.made_service import Sky
from typer.testing import CliRunner

from advisor.advice.service_health import TroubleKind
from advisor.faces.cli.main import program
from advisor.faces.text.advice_text import advice_text
from advisor.sentences.service import trouble_words
from advisor.service.service import Service
from advisor.service.serving import opened
from advisor.store import open_store
from advisor.wording import INVENTED

SIGNING, TOKEN = random_text.token_hex(16), random_text.token_hex(12)
HOUR = timedelta(hours=1)
SITE = """
site: {name: Larkmoor Lane, latitude: 40.52, longitude: 0.5, elevation: 381 m, time_zone: UTC, units: metric}
zones:
  - name: Front
    area: 223 m2
    grass: tall fescue
    soil: loam
    slope: 2 %
    exposure: full sun
    head: gear rotor
    rate: {measured: 12 mm/h, on: 2026-05-02}
watering: {hours: 00:00-24:00, finish_by: window}
weather: {csv: station.csv}
records: lawn.sqlite
"""


@dataclass
class Place:
    """A site file in a folder, served with the webhook at `hook` and a health address on `port`."""

    folder: Path
    hook: Hook
    port: int

    @property
    def command(self) -> list[str]:
        return [sys.executable, "-m", "advisor.faces.cli.main"]

    @property
    def site(self) -> list[str]:
        return ["--site", str(self.folder / "site.yaml")]

    def run(self, *arguments: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [*self.command, *arguments, *self.site], capture_output=True, text=True, check=False
        )

    @contextmanager
    def serving(self) -> Iterator[subprocess.Popen[str]]:
        """The service, ready; killed at the end if it still runs."""
        process = subprocess.Popen(
            [*self.command, "serve", *self.site], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
        )
        try:
            assert process.stdout is not None
            line = process.stdout.readline()
            assert line.startswith("Serving Larkmoor Lane."), line + process.stderr.read()  # type: ignore[union-attr]
            yield process
        finally:
            process.kill()
            process.communicate()

    def health(self) -> tuple[int, dict[str, Any]]:
        """What the health address says."""
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/", timeout=5) as answer:
                return answer.status, json.loads(answer.read())
        except urllib.error.HTTPError as error:
            with error:
                return error.code, json.loads(error.read())


def station_csv(folder: Path, now: datetime) -> None:
    """An invented station's hours, 31 days back and 10 ahead."""
    first = now.replace(minute=0, second=0, microsecond=0) - 31 * 24 * HOUR
    rows = ["time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm"]
    for n in range(41 * 24):
        when = first + n * HOUR
        sun = max(0.0, float(np.cos((when.hour - 12) / 24 * 2 * np.pi)))
        rows.append(f"{when:%Y-%m-%dT%H:%M}Z,{18 + 8 * sun:.1f},55,2.0,{700 * sun:.0f},0.0")
    (folder / "station.csv").write_text("\n".join(rows) + "\n")


@pytest.fixture
def place(tmp_path: Path) -> Iterator[Place]:
    now = datetime.now(UTC)
    station_csv(tmp_path, now)
    with Hook() as hook:
        port = free_port()
        text = (
            f"{SITE}service: {{advice_at: {now:%H:%M}, health_port: {port}, log: service.log}}\n"
            f"messages: {{secrets: secrets.env, webhook: {{}}}}\n"
        )
        (tmp_path / "site.yaml").write_text(text)
        secrets = tmp_path / "secrets.env"
        secrets.write_text(f"ADVISOR_WEBHOOK_SECRET={SIGNING}\nADVISOR_WEBHOOK_URL={hook.url}/{TOKEN}\n")
        os.chmod(secrets, 0o600)
        yield Place(tmp_path, hook, port)


def settled(place: Place) -> dict[str, Any]:
    """The health once the message of the night is marked as sent: asked until it says so."""
    while True:
        _, told = place.health()
        if told["sites"] and told["sites"][0]["last_message"] and not told["sites"][0]["messages_waiting"]:
            return told


def test_a_night_served_stopped_and_asked_about(place: Place) -> None:
    with place.serving() as process:
        assert place.hook.asked.wait(30)
        told = settled(place)
        status, again = place.health()
        assert (status, again["ok"], again["reason"]) == (200, True, "")
        (site,) = told["sites"]
        assert site["last_advice"]["headline"]
        assert site["last_message"]["channel"] == "webhook"
        assert {job["job"] for job in site["next_jobs"]} >= {"advice", "archive", "backup"}
        assert site["disk_free_bytes"] > 0

        second = place.run("serve")
        assert second.returncode == 2
        assert second.stderr.startswith(f"advisor: another advisor already serves the records {place.folder}")
        assert f"(process {process.pid})" in second.stderr

        asked = place.run("status")
        assert asked.returncode == 0, asked.stdout
        assert "Larkmoor Lane: all is well" in asked.stdout
        assert "last message:" in asked.stdout
        assert json.loads(place.run("status", "--json").stdout)["ok"] is True

        process.send_signal(signal.SIGTERM)
        out, err = process.communicate(timeout=5)
        assert (process.returncode, err) == (0, "")
    stopped = place.run("status")
    assert stopped.returncode == 1
    assert "! the service is not running" in stopped.stdout
    log = (place.folder / "service.log").read_text()
    events = [json.loads(line)["event"] for line in log.splitlines()]
    assert events[0] == "serving"
    assert events[-1] == "stopped"
    assert {"advice kept", "message sent"} <= set(events)
    everything = [log, out, err, second.stderr, asked.stdout, stopped.stdout, json.dumps(told)]
    assert [text for text in everything if SIGNING in text or TOKEN in text] == []
    kept = b"".join(
        path.read_bytes() for path in place.folder.rglob("*") if path.is_file() and path.name != "secrets.env"
    )
    assert SIGNING.encode() not in kept
    assert TOKEN.encode() not in kept


def test_a_site_file_that_is_changed_is_read_again_and_a_broken_one_leaves_the_last(tmp_path: Path) -> None:
    path, now = tmp_path / "site.yaml", datetime(2026, 6, 17, 20, 15, tzinfo=UTC)
    good = f"{SITE}service: {{advice_at: 20:15}}\n"
    path.write_text(good)
    with opened([path], lambda: now, advice_text) as (served, _):
        service = Service(served, weather_for=Sky())
        service.work(now - HOUR)
        path.write_text(good.replace("area: 223 m2", "area: 223"))
        service.work(now)
        (one,) = service.troubles["Larkmoor Lane"]
        assert one.kind == TroubleKind.FAILS
        trouble = trouble_words(one)
        assert "the site file as it was before is used" in trouble
        assert "site.yaml:5: zones[Front].area" in trouble
        assert len(served[0].store.advice_list("Larkmoor Lane")) == 1
        path.write_text(good.replace("name: Front", "name: Lawn in front").replace("20:15", "20:45"))
        service.work(now + HOUR / 4)
        assert service.troubles == {"Larkmoor Lane": ()}
        service.work(now + timedelta(days=1, minutes=30))
        newest = served[0].last()
        assert newest is not None
        assert [zone.zone for zone in newest.zones] == ["Lawn in front"]
        for change in (
            "name: Larkmoor Lane|name: Elsewhere",
            "time_zone: UTC|time_zone: Etc/UTC",
            "lawn.sq|x.sq",
        ):
            path.write_text(good.replace(*change.split("|")) + "# longer\n" * len(change))
            service.work(now + timedelta(days=1, hours=1))
            assert "start the service again" in trouble_words(service.troubles["Larkmoor Lane"][0])
        path.write_text(good + "messages: {only_when_something_to_do: true}\n")
        service.work(now + timedelta(days=1, hours=2))
        assert "the section messages has changed" in trouble_words(service.troubles["Larkmoor Lane"][0])


def test_killed_and_started_again_it_serves_at_once_and_sends_nothing_twice(place: Place) -> None:
    with place.serving() as process:
        assert place.hook.asked.wait(30)
        settled(place)
        process.kill()
        process.wait()
    with place.serving() as process:
        told = settled(place)
        assert told["sites"][0]["last_advice"]["night"]
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=5)
        assert process.returncode == 0
    assert len(place.hook.posts) == 1
    with open_store(place.folder / "lawn.sqlite") as store:
        assert len(store.advice_list("Larkmoor Lane")) == 1
        assert store.check() == []


def test_told_to_stop_while_a_server_says_nothing_it_stops_all_the_same(place: Place) -> None:
    place.hook.behave("hangs")
    with place.serving() as process:
        assert place.hook.asked.wait(30)
        process.send_signal(signal.SIGTERM)
        process.communicate(timeout=5)
        assert process.returncode == 0
    place.hook.behave("well")
    again = place.run("serve", "--once")
    assert (again.returncode, again.stderr.count("failed")) == (0, 0)
    assert len({post.key for post in place.hook.posts}) == 1
    assert len(place.hook.taken) == 1


def test_a_channel_that_is_down_is_told_by_once_and_by_the_health_address(place: Place) -> None:
    place.hook.behave("503")
    done = place.run("serve", "--once")
    assert done.returncode == 1
    assert "127.0.0.1 answered HTTP 503 (1 tries)" in done.stderr
    with place.serving():
        place.hook.asked.clear()
        assert place.hook.asked.wait(30)
        while (answer := place.health())[0] == 200:
            pass
        assert answer[0] == 503
        assert "answered HTTP 503" in answer[1]["reason"]
        assert TOKEN not in json.dumps(answer[1])


@pytest.mark.parametrize(
    ("spoil", "says"),
    [
        (lambda p: os.chmod(p.folder / "secrets.env", 0o644), "others may read the file of secrets"),
        (lambda p: (p.folder / "secrets.env").unlink(), "the file of secrets cannot be read"),
        (
            lambda p: (p.folder / "lawn.sqlite").mkdir(),
            "the folder may not be written or a folder bears that name",
        ),
        (
            lambda p: (p.folder / "site.yaml").write_text(SITE),
            "service is missing; allowed: the section service",
        ),
    ],
    ids=["loose secrets", "no secrets", "a folder as records", "no service section"],
)
def test_what_cannot_be_served_is_told_in_a_sentence(place: Place, spoil: Any, says: str) -> None:
    spoil(place)
    done = place.run("serve")
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stderr.count("\n") == 1
    assert SIGNING not in done.stderr


def test_a_health_port_that_is_taken_is_told(place: Place) -> None:
    import socket

    with socket.socket() as other:
        other.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        other.bind(("127.0.0.1", place.port))
        other.listen()
        done = place.run("serve")
    assert done.returncode == 2
    assert "the health address cannot be had" in done.stderr


def test_two_sites_may_not_share_records_or_name(place: Place) -> None:
    other = place.folder / "other.yaml"
    text = (place.folder / "site.yaml").read_text()
    other.write_text(text)
    done = place.run("serve", "--site", str(other))
    assert done.returncode == 2
    assert "two sites share one file of records" in done.stderr
    other.write_text(text.replace("lawn.sqlite", "other.sqlite"))
    assert "two sites share one name" in place.run("serve", "--site", str(other)).stderr


def test_status_before_anything_was_served_says_so(place: Place) -> None:
    done = place.run("status")
    assert done.returncode == 2
    assert "there are no records at" in done.stderr


def test_on_the_demo_the_message_is_shown_and_nothing_is_kept(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "advisor.faces.cli.main"]
    shown = subprocess.run(
        [*command, "serve", "--demo"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    intro, title, short, *_ = [line for line in shown.stdout.splitlines() if line]
    assert intro.startswith("Invented demo: nothing is fetched, kept or sent.")
    assert title == "Larkmoor Lane"
    assert 20 < len(short) <= 178
    assert "Tonight, zone by zone" in shown.stdout
    asked = subprocess.run(
        [*command, "status", "--demo"], cwd=tmp_path, capture_output=True, text=True, check=True
    )
    assert asked.stdout.startswith(f"{INVENTED}\n\nLarkmoor Lane: all is well")
    assert list(tmp_path.iterdir()) == []


def test_the_service_collects_what_a_short_command_leaves_lying(monkeypatch: pytest.MonkeyPatch) -> None:
    collects: list[bool] = []

    def serve_once(*_: object, **__: object) -> dict[str, tuple[object, ...]]:
        collects.append(gc.isenabled())
        return {}

    monkeypatch.setattr("advisor.service.serve_once", serve_once)
    gc.disable()
    try:
        result = CliRunner().invoke(program(), ["serve", "--once"], catch_exceptions=False)
    finally:
        gc.enable()
    assert (result.exit_code, collects) == (0, [True])
