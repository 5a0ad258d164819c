"""Two hundred nights on a driven clock with faults sprinkled in: every night and every message is accounted for."""

from __future__ import annotations

import logging

import pytest
from season.season import Account, run_season


@pytest.fixture(scope="module")
def account(tmp_path_factory: pytest.TempPathFactory) -> Account:
    logging.getLogger("advisor.service").disabled = True
    try:
        return run_season(tmp_path_factory.mktemp("season"), 200, 8)
    finally:
        logging.getLogger("advisor.service").disabled = False


def test_the_season_was_one_of_trouble(account: Account) -> None:
    assert len(account.nights) >= 200
    assert min(account.faults.values()) >= 3
    assert set(account.faults) == {
        "off",
        "no weather",
        "webhook down",
        "disk full",
        "killed",
        "clock set back",
    }


def test_every_night_was_given_or_says_why_not(account: Account) -> None:
    kinds = set(account.nights.values())
    assert "unaccounted" not in kinds
    assert kinds <= {
        "on time",
        "late",
        "missed (the service was off)",
        "missed (the weather services do not answer)",
    } | {kind for kind in kinds if "disk" in kind}


def test_a_night_on_which_nothing_failed_was_on_time(account: Account) -> None:
    assert account.faultless_but_late == []
    assert sum(kind == "on time" for kind in account.nights.values()) > 150


def test_no_advice_was_doubled(account: Account) -> None:
    given = sum(kind in ("on time", "late") for kind in account.nights.values())
    assert account.advice_rows == account.advice_events + account.by_hand
    assert (
        given <= account.advice_events - account.looks["done"] <= given + 2
    )  # the last day lies past the account


def test_every_message_was_sent_once_or_dropped_with_a_reason(account: Account) -> None:
    assert account.messages["neither"] == 0
    assert account.messages["both"] == 0
    assert account.unlike_bodies == 0
    assert account.sent_keys <= account.taken_keys
    assert account.posts > account.taken == len(account.taken_keys)


def test_no_record_was_lost_and_the_past_was_archived_once(account: Account) -> None:
    assert account.gauge_kept == account.gauge_entered > 100
    assert account.doubts == []
    assert account.archive_doubles == 0
    assert account.archive_hours > 200 * 24
    assert account.pairs > 100
    assert account.backups == 3


def test_looks_closed_their_loops(account: Account) -> None:
    assert account.looks["Top-up"] > 0
    assert account.looks["All clear"] > 0
