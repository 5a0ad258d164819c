"""A season of nights (once a night two hundred) on a driven clock with faults sprinkled in: every night and every message is accounted for."""

from __future__ import annotations

import logging
from pathlib import Path

from season.season import Account, run_season
from sizes import rounds

NIGHTS = rounds(90, 200)
OFF, NO_WEATHER = "missed (the service was off)", "missed (the weather services do not answer)"
FULL = "missed (the disk that holds the records is full)"


def test_a_season_of_faults_is_accounted_for_night_by_night(tmp_path: Path) -> None:
    """One test, so that the season is run once; each part of the account is checked below."""
    logging.getLogger("advisor.service").disabled = True
    try:
        account = run_season(tmp_path, NIGHTS, 8)
    finally:
        logging.getLogger("advisor.service").disabled = False
    it_was_one_of_trouble(account)
    every_night_was_given_or_says_why_not(account)
    a_night_on_which_nothing_failed_was_on_time(account)
    no_advice_was_doubled(account)
    every_message_was_sent_once_or_dropped_with_a_reason(account)
    no_record_was_lost_and_the_past_was_archived_once(account)
    looks_closed_their_loops(account)


def it_was_one_of_trouble(account: Account) -> None:
    assert len(account.nights) >= NIGHTS
    assert set(account.faults) == {
        "off",
        "no weather",
        "webhook down",
        "disk full",
        "killed",
        "clock set back",
    }
    assert sum(account.faults.values()) >= 0.3 * NIGHTS


def every_night_was_given_or_says_why_not(account: Account) -> None:
    assert set(account.nights.values()) <= {"on time", "late", OFF, NO_WEATHER, FULL}


def a_night_on_which_nothing_failed_was_on_time(account: Account) -> None:
    assert account.faultless_but_late == []
    assert sum(kind == "on time" for kind in account.nights.values()) > 0.7 * NIGHTS


def no_advice_was_doubled(account: Account) -> None:
    given = sum(kind in ("on time", "late") for kind in account.nights.values())
    assert account.advice_rows == account.advice_events + account.by_hand
    assert (
        given <= account.advice_events - account.looks["done"] <= given + 2
    )  # the last day lies past the account


def every_message_was_sent_once_or_dropped_with_a_reason(account: Account) -> None:
    assert account.messages["neither"] == 0
    assert account.messages["both"] == 0
    assert account.unlike_bodies == 0
    assert account.sent_keys <= account.taken_keys
    assert account.posts > account.taken == len(account.taken_keys)


def no_record_was_lost_and_the_past_was_archived_once(account: Account) -> None:
    assert account.gauge_kept == account.gauge_entered > 0.5 * NIGHTS
    assert account.doubts == []
    assert account.archive_doubles == 0
    assert account.archive_hours > NIGHTS * 24
    assert account.pairs > 0.5 * NIGHTS
    assert account.backups == 3


def looks_closed_their_loops(account: Account) -> None:
    assert account.looks["done"] > 0.05 * NIGHTS
    assert account.looks["Top-up"] + account.looks["All clear"] > 0.025 * NIGHTS
