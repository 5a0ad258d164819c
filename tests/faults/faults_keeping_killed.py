"""Faults of keeping under load: killed while writing, many writers at once, the service killed while it sends."""

from __future__ import annotations

import json
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
from contextlib import closing
from datetime import timedelta
from pathlib import Path

from faults.fault_table import Seen, fault
from faults.keeping_lawn import count
from service.dying_rounds import Rounds, enter_records, sound
from service.loopback import Hook
from service.made_service import at, service_site

from advisor.store import open_store

SEED = 20260617
PROGRAM = Path(__file__).with_name("keeping_writer.py")
EVENING, MINUTE, DAY = at("2026-06-17T20:15"), timedelta(minutes=1), timedelta(days=1)
STEPS = 22
"""So many steps has a night of the service; a number beyond them is a night that ends well."""
SENDING = (12, 13, 14)
"""Those around the posting of its message."""


class Writers:
    """A process that starts writers of gauge readings, and kills them after so long; what each told as kept."""

    def __init__(self, path: Path) -> None:
        self._process = subprocess.Popen(
            [sys.executable, str(PROGRAM), str(path)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def told(self, *firsts: int, many: int, kill_after_s: float | None = None) -> list[int]:
        """Start one for each of `firsts`; what they told as kept in the end."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        said = {"firsts": firsts, "many": many, "kill_after_s": kill_after_s}
        self._process.stdin.write(json.dumps(said) + "\n")
        self._process.stdin.flush()
        found: list[int] = json.loads(self._process.stdout.readline())
        return found

    def close(self) -> None:
        """End."""
        self._process.communicate()


def numbers_in(path: Path) -> list[int]:
    """The numbers of the readings that are kept."""
    with closing(sqlite3.connect(path)) as found:
        assert found.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        return [int(note) for (note,) in found.execute("SELECT note FROM gauge ORDER BY id")]


@fault("records", "killed again and again while writing")
def killed_while_writing(folder: Path, nightly: bool) -> Seen:
    """What was told as kept is there, also in a copy of the file alone; nothing is there twice."""
    path, chosen = folder / "lawn.sqlite", random.Random(SEED)
    open_store(path).close()
    rounds, lost, doubled, kept = (500 if nightly else 20), 0, 0, set[int]()
    writers = Writers(path)
    try:
        for n in range(rounds):
            kept.update(writers.told(n * 1000, many=1000, kill_after_s=chosen.uniform(0.0, 0.06)))
            if n % 5 == 0:
                open_store(path).close()
                copy = folder / "copy.sqlite"
                shutil.copyfile(path, copy)
                lost += len(kept - set(numbers_in(copy)))
    finally:
        writers.close()
    found = numbers_in(path)
    lost += len(kept - set(found))
    doubled += len(found) - len(set(found))
    assert len(kept) >= rounds
    return Seen(
        f"({len(kept)} readings told as kept by {rounds} writers that were killed)", rounds, lost, doubled
    )


@fault("records", "many write at the same time")
def many_writers(folder: Path, nightly: bool) -> Seen:
    path = folder / "lawn.sqlite"
    many, each = (8, 100) if nightly else (4, 10)
    writers = Writers(path)
    try:
        told = writers.told(*(n * 1000 for n in range(many)), many=each)
    finally:
        writers.close()
    copy = folder / "copy.sqlite"
    shutil.copyfile(path, copy)
    found = numbers_in(copy)
    assert sorted(told) == sorted(n * 1000 + i for n in range(many) for i in range(each))
    lost, doubled = len(set(told) - set(found)), len(found) - len(set(found))
    return Seen(f"({many} writers, {each} readings each, one file)", many * each, lost, doubled)


@fault("service", "killed again and again, half of the times while a message is sent")
def service_killed(folder: Path, nightly: bool) -> Seen:
    chosen, lost, doubled = random.Random(SEED), 0, 0
    kills, rounds = (70 if nightly else 4), Rounds()
    enter_records(folder)
    nights = -(-kills // 7) if nightly else 1
    per_night = kills // nights
    killed = 0
    try:
        with Hook() as hook:
            for night in range(nights):
                evening = EVENING + night * DAY
                for n in range(per_night):
                    dies_at = chosen.choice(SENDING) if n % 2 else chosen.randrange(STEPS)
                    status, _ = rounds.run(folder, hook, evening + n * MINUTE, dies_at=dies_at)
                    killed += status == -signal.SIGKILL
                assert rounds.run(folder, hook, evening + per_night * MINUTE) == (0, [])
            keys = list(hook.taken)
            expected = [
                f"advice:Larkmoor Lane:{(EVENING + n * DAY - DAY / 2).date()}:webhook" for n in range(nights)
            ]
            lost += len(set(expected) - set(keys))
            doubled += len(keys) - len(set(keys) & set(expected))
            assert all(len({p.body for p in hook.posts if p.key == key}) == 1 for key in keys)
    finally:
        rounds.close()
    sound(folder, nights=nights)
    copy = folder / "copy.sqlite"
    shutil.copyfile(service_site(folder).records_path, copy)
    lost += nights - count(copy, "advice")
    return Seen(
        f"({killed} times killed in {nights} nights; each message came once under its key)",
        kills,
        lost,
        doubled,
    )


@fault("service", "the disk is full for an evening")
def disk_full_for_an_evening(folder: Path, nightly: bool) -> Seen:
    rounds = Rounds()
    enter_records(folder)
    try:
        with Hook() as hook:
            assert rounds.run(folder, hook, EVENING - 8 * 60 * MINUTE)[0] == 0
            later = [(EVENING + n * MINUTE / 2).isoformat() for n in range(1, 120 if nightly else 6)]
            room = [(EVENING + n * MINUTE).isoformat() for n in (61, 95)]
            ended = rounds.run(folder, hook, EVENING, limit_bytes=20_000, later=later, afterwards=room)
            assert ended == (0, []), ended
            (post,) = hook.posts
            words = " ".join(post.json["text"].split())
            assert "Not kept in the records" in words
    finally:
        rounds.close()
    sound(folder, nights=1)
    return Seen(post.json["short"], len(later) + 1, doubled=len(hook.posts) - 1)
