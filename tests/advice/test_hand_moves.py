"""The list of moves for sprinklers without a valve."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from advisor.advice.advice import Cycle, PlannedRun
from advisor.advice.hand_moves import hand_moves

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
        why="dry",
    )


def test_a_stretch_that_begins_as_another_ends_is_one_move() -> None:
    runs = [run("Left", (20, 0, 20, 20), (20, 40, 20, 50)), run("Right", (20, 20, 20, 40))]
    assert hand_moves(runs, OSLO) == (
        "20:00 Start the sprinkler on Left; it runs until 20:20.",
        "20:20 Move the sprinkler from Left to Right; it runs until 20:40.",
        "20:40 Move the sprinkler from Right to Left; it runs until 20:50.",
        "20:50 Turn the water off.",
    )


def test_a_soak_is_a_pause_with_the_water_off() -> None:
    assert hand_moves([run("Strip", (20, 0, 20, 10), (20, 40, 20, 50))], OSLO) == (
        "20:00 Start the sprinkler on Strip; it runs until 20:10.",
        "20:10 Turn the water off.",
        "20:40 Start the sprinkler on Strip again; it runs until 20:50.",
        "20:50 Turn the water off.",
    )


def test_zones_with_a_valve_ask_for_no_moves() -> None:
    assert hand_moves([run("Front", (4, 0, 4, 20), by_hand=False)], OSLO) == ()
