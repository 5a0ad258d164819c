"""Killed at every step of a night, on a full disk, in a folder that cannot be written: for real, in processes."""

from __future__ import annotations

import json
import os
import secrets
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from service.loopback import Hook
from service.made_service import applied, at, hook_channel, service_site, serving

from advisor.advice.advice import Advice
from advisor.lawn.records import GaugeReading
from advisor.store import open_store

MINUTE = timedelta(minutes=1)
NOON, EVENING = at("2026-06-17T12:00"), at("2026-06-17T20:15")
NEXT_EVENING = EVENING + timedelta(days=1)
PROGRAM = Path(__file__).with_name("dying_service.py")
SIGNING = secrets.token_hex(16)
KEY = "advice:Larkmoor Lane:2026-06-17:webhook"
MARK = ("mark: begun", "mark: written", "mark: kept")
STEPS = (
    *MARK,  # the service takes up the site
    "weather",
    "gathered",
    "advised",
    "advice: begun",
    "advice: written",
    "advice: kept",
    "advice kept",
    "sending: webhook",
    "sent: webhook",
    *MARK,  # the message is sent
    "archive: begun",
    "archive: written",
    "archive: kept",
    *MARK,  # the hour is archived
    "archived",
)
SENT, SENT_KEPT = STEPS.index("sent: webhook"), STEPS.index("sent: webhook") + 3


class Rounds:
    """Talks to the forking process."""

    def __init__(self) -> None:
        path = os.pathsep.join([str(PROGRAM.parents[1]), *os.environ.get("PYTHONPATH", "").split(os.pathsep)])
        environment = {**os.environ, "PYTHONPATH": path, "OPENBLAS_NUM_THREADS": "1"}
        self._process = subprocess.Popen(
            [sys.executable, str(PROGRAM)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
            text=True,
        )

    def run(self, folder: Path, hook: Hook, now: Any, **order: Any) -> tuple[int, list[str]]:
        """One round in a process of its own: how it ended and what it told."""
        row = {"folder": str(folder), "hook": hook.url, "signing": SIGNING, "now": now.isoformat(), **order}
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(row) + "\n")
        self._process.stdin.flush()
        answer = json.loads(self._process.stdout.readline())
        return answer["status"], answer["told"]

    def close(self) -> None:
        self._process.communicate()


@pytest.fixture(scope="module")
def rounds() -> Iterator[Rounds]:
    made = Rounds()
    yield made
    made.close()


def enter_records(folder: Path) -> None:
    with open_store(service_site(folder).records_path) as store:
        store.add_application(applied(at("2026-06-17T09:00")))
        store.add_gauge(GaugeReading(at("2026-06-17T08:00"), 1.0))


def sound(folder: Path, *, nights: int) -> None:
    """Nothing that was entered is lost, no advice is doubled, the file is whole."""
    path = service_site(folder).records_path
    with open_store(path) as store:
        assert store.check() == []
        records = store.records()
        assert (len(records.applications), len(records.gauge)) == (1, 1)
        assert len({hour.starts_at for hour in records.archive}) == len(records.archive)
        advices = store.advice_list("Larkmoor Lane")
        assert [advice.night.day for advice in advices] == list(range(16 + nights, 16, -1))
        for advice in advices:
            Advice.model_validate_json(advice.advice_json)
            assert store.done(f"advice:Larkmoor Lane:{advice.night}") is not None
            assert store.done(f"sent:advice:Larkmoor Lane:{advice.night}:webhook") is not None
    with closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


@pytest.mark.parametrize("dies_at", range(len(STEPS)), ids=[f"{n} {step}" for n, step in enumerate(STEPS)])
def test_killed_at_any_step_of_the_night_nothing_is_lost_or_doubled(
    tmp_path: Path, rounds: Rounds, dies_at: int
) -> None:
    enter_records(tmp_path)
    with Hook() as hook:
        assert rounds.run(tmp_path, hook, NOON)[0] == 0
        assert rounds.run(tmp_path, hook, EVENING, dies_at=dies_at)[0] == -signal.SIGKILL
        assert rounds.run(tmp_path, hook, EVENING + 2 * MINUTE) == (0, [])
        assert rounds.run(tmp_path, hook, NEXT_EVENING) == (0, [])
        assert list(hook.taken) == [KEY, KEY.replace("-17", "-18")]
        again = [post for post in hook.posts if post.key == KEY]
        assert len(again) == (2 if SENT <= dies_at < SENT_KEPT else 1)
        assert len({post.body for post in again}) == 1
    sound(tmp_path, nights=2)


def test_the_steps_at_which_it_is_killed_are_all_there_are(tmp_path: Path) -> None:
    """Whoever adds a step to a night must add its name above."""
    enter_records(tmp_path)
    passed: list[str] = []
    with Hook() as hook:
        site, channels = service_site(tmp_path), [hook_channel(hook.url)]
        with serving(site, NOON, channels=channels) as service:
            service.work(NOON)
        more = {"step": passed.append, "fault": passed.append}
        with serving(site, EVENING, channels=channels, **more) as service:
            service.work(EVENING)
    assert tuple(passed) == STEPS


def test_killed_again_and_again_the_night_comes_to_its_end(tmp_path: Path, rounds: Rounds) -> None:
    enter_records(tmp_path)
    with Hook() as hook:
        for minute in range(len(STEPS)):
            rounds.run(tmp_path, hook, EVENING + minute * MINUTE, dies_at=minute)
        assert rounds.run(tmp_path, hook, EVENING + 40 * MINUTE) == (0, [])
        assert list(hook.taken) == [KEY]
    sound(tmp_path, nights=1)


def test_on_a_full_disk_the_advice_waits_the_owner_is_told_and_the_records_stay_whole(
    tmp_path: Path, rounds: Rounds
) -> None:
    """The size that a file may have is limited for the process: SQLite hears the same "no" as on a full disk."""
    enter_records(tmp_path)
    with Hook() as hook:
        assert rounds.run(tmp_path, hook, NOON)[0] == 0
        later = [(EVENING + minutes * MINUTE).isoformat() for minutes in (31, 60)]
        status, told = rounds.run(tmp_path, hook, EVENING, limit_bytes=20_000, later=later)
        assert status == 0
        reason = f"the disk that holds the records {service_site(tmp_path).records_path} failed"
        assert reason in " ".join(told)
        assert [post.key for post in hook.posts] == [f"no-advice:{KEY}"]
        assert reason in hook.posts[0].json["text"]
        assert rounds.run(tmp_path, hook, EVENING + 90 * MINUTE) == (0, [])
        assert [post.json["kind"] for post in hook.posts] == ["no advice", "advice"]
        assert hook.posts[1].json["late"] is True
    sound(tmp_path, nights=1)


def test_in_a_folder_that_cannot_be_written_it_stops_with_a_sentence(tmp_path: Path, rounds: Rounds) -> None:
    enter_records(tmp_path)
    os.chmod(tmp_path, 0o555)
    parents = [p for p in tmp_path.parents if p.owner() == tmp_path.owner() and "pytest" in p.name]
    before = {p: p.stat().st_mode for p in parents}
    for parent in parents:
        os.chmod(parent, 0o755)
    try:
        with Hook() as hook:
            status, told = rounds.run(tmp_path, hook, EVENING, nobody=True)
            assert status == 2
            assert f"the folder {tmp_path} of the records cannot be written: Permission denied" in told[0]
            assert hook.posts == []
    finally:
        os.chmod(tmp_path, 0o755)
        for parent, mode in before.items():
            os.chmod(parent, mode)
    with Hook() as hook:
        assert rounds.run(tmp_path, hook, EVENING + MINUTE) == (0, [])
    sound(tmp_path, nights=1)


def test_where_a_file_stands_in_place_of_the_folder_it_stops_with_a_sentence(
    tmp_path: Path, rounds: Rounds
) -> None:
    blocked = tmp_path / "not-a-folder"
    blocked.write_text("in the way")
    with Hook() as hook:
        status, told = rounds.run(blocked, hook, EVENING)
    assert status == 2
    assert "cannot be written" in told[0]
