"""The list of moves for sprinklers without a valve."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

from advisor.advice.advice import Cycle, PlannedRun
from advisor.advice.hand_moves import hand_moves
from advisor.sentences.hand_moves import hand_move_words

OSLO = ZoneInfo("Europe/Oslo")


def run(zone: str, *clock: tuple[int, int, int, int], by_hand: bool = True) -> PlannedRun:
    """A run with cycles at local (hour, minute, hour, minute) of one evening."""
    cycles = tuple(
        Cycle(
            starts_at=datetime(2026, 7, 17, a, b, tzinfo=OSLO).astimezone(UTC),
            ends_at=datetime(2026, 7, 17, c, d, tzinfo=OSLO).astimezone(UTC),
        )
        for a, b, c, d in clock
    )
    return PlannedRun(
        zone=zone,
        depth_mm=5.0,
        effective_mm=4.0,
        minutes=20.0,
        cycles=cycles,
        litres=500.0,
        by_hand=by_hand,
        why="turf",
    )


def test_a_stretch_that_begins_as_another_ends_is_one_move() -> None:
    runs = [run("Left", (20, 0, 20, 20), (20, 40, 20, 50)), run("Right", (20, 20, 20, 40))]
    assert hand_move_words(hand_moves(runs), OSLO) == (
        "20:00 Start the sprinkler on Left; it runs until 20:20.",
        "20:20 Move the sprinkler from Left to Right; it runs until 20:40.",
        "20:40 Move the sprinkler from Right to Left; it runs until 20:50.",
        "20:50 Turn the water off.",
    )


def test_a_soak_is_a_pause_with_the_water_off() -> None:
    assert hand_move_words(hand_moves([run("Strip", (20, 0, 20, 10), (20, 40, 20, 50))]), OSLO) == (
        "20:00 Start the sprinkler on Strip; it runs until 20:10.",
        "20:10 Turn the water off.",
        "20:40 Start the sprinkler on Strip again; it runs until 20:50.",
        "20:50 Turn the water off.",
    )


def test_zones_with_a_valve_ask_for_no_moves() -> None:
    assert hand_move_words(hand_moves([run("Front", (4, 0, 4, 20), by_hand=False)]), OSLO) == ()


def test_a_later_date_is_told_with_its_weekday_and_a_condition_with_its_run() -> None:
    evening = run("Strip", (20, 0, 20, 10))
    noon = run("Strip", (12, 0, 12, 6))
    shift = timedelta(days=1)
    cycles = tuple(Cycle(starts_at=c.starts_at + shift, ends_at=c.ends_at + shift) for c in noon.cycles)
    runs = [
        evening.model_copy(update={"only_if": "the gauge shows under 4 mm at 19:50"}),
        noon.model_copy(update={"cycles": cycles}),
    ]
    assert hand_move_words(hand_moves(runs), OSLO) == (
        "20:00 Start the sprinkler on Strip, if the gauge shows under 4 mm at 19:50; it runs until 20:10.",
        "20:10 Turn the water off.",
        "Sat 12:00 Start the sprinkler on Strip again; it runs until Sat 12:06.",
        "Sat 12:06 Turn the water off.",
    )
