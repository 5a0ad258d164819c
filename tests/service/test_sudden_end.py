"""Killed at every step of a night, on a full disk, in a folder that cannot be written: for real, in processes."""

from __future__ import annotations

import os
import signal
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest
from service.dying_rounds import Rounds, enter_records, sound
from service.loopback import Hook
from service.made_service import at, hook_channel, service_site, serving

MINUTE = timedelta(minutes=1)
NOON, EVENING = at("2026-06-17T12:00"), at("2026-06-17T20:15")
NEXT_EVENING = EVENING + timedelta(days=1)
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


@pytest.fixture(scope="module")
def rounds() -> Iterator[Rounds]:
    made = Rounds()
    yield made
    made.close()


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


def test_on_a_full_disk_the_advice_is_sent_once_says_that_it_is_not_kept_and_is_kept_when_there_is_room(
    tmp_path: Path, rounds: Rounds
) -> None:
    """The size that a file may have is limited for the process: SQLite hears the same "no" as on a full disk."""
    enter_records(tmp_path)
    with Hook() as hook:
        assert rounds.run(tmp_path, hook, NOON)[0] == 0
        later = [(EVENING + minutes * MINUTE).isoformat() for minutes in (1, 31, 60)]
        status, told = rounds.run(tmp_path, hook, EVENING, limit_bytes=20_000, later=later)
        assert status == 0
        reason = f"the disk that holds the records {service_site(tmp_path).records_path} failed"
        assert reason in " ".join(told)
        assert "is not kept since 2026-06-18 01:15 UTC" in " ".join(told)
        (post,) = hook.posts
        assert (post.key, post.json["kind"]) == (KEY, "advice")
        assert post.json["short"].startswith("Not kept (disk fails), may come twice: Run Front")
        assert "Not kept in the records: the disk" in " ".join(post.json["text"].split())
        assert post.json["advice"]["not_kept"]["fault"] == "disk fails"
        after = [(EVENING + minutes * MINUTE).isoformat() for minutes in (90, 120)]
        again = rounds.run(tmp_path, hook, EVENING + 70 * MINUTE, limit_bytes=20_000, afterwards=after)
        assert again == (0, [])
        assert [post.key for post in hook.posts] == [KEY, KEY]  # the second process did not know of the first
    sound(tmp_path, nights=1)


def test_in_a_folder_that_cannot_be_written_the_advice_is_sent_and_says_so(
    tmp_path: Path, rounds: Rounds
) -> None:
    enter_records(tmp_path)
    os.chmod(tmp_path / "lawn.sqlite", 0o444)
    os.chmod(tmp_path, 0o555)
    try:
        with Hook() as hook:
            later = [(EVENING + minutes * MINUTE).isoformat() for minutes in (1, 2, 40)]
            status, told = rounds.run(tmp_path, hook, EVENING, bound=True, later=later)
            assert status == 0
            assert "2 things are not kept" in " ".join(told)
            assert "give yourself the right to write there" in " ".join(told)
            assert [post.json["advice"]["not_kept"]["fault"] for post in hook.posts] == ["read-only"]
    finally:
        os.chmod(tmp_path, 0o755)
        os.chmod(tmp_path / "lawn.sqlite", 0o644)
    with Hook() as hook:
        assert rounds.run(tmp_path, hook, EVENING + 41 * MINUTE) == (0, [])
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
