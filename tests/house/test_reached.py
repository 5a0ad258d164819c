"""No code that only tests call: a check of it would say nothing of what an owner is told."""

from __future__ import annotations

import ast
from collections.abc import Iterator

import pytest
from house import reach

OTHERWISE = {
    "advice.described.schema_of": "makes the published schemas, which tests/advice holds against the classes",
    "advice.records.Listed": "the form of a list of records, for its published schema",
    "replay": "a use case of the library alone: nights gone by, argued with",
}
"""What no command comes to and yet is there, and why: a name, or a whole room."""


SMALL_HOUSE = {
    "faces.cli.made": "from advisor.hours import hour\n\ndef command():\n    return hour()\n",
    "hours": "from advisor.hours.made import hour\n",
    "hours.made": (
        "from advisor.science import made\nfrom advisor.science.made import idle\n\n"
        "def hour():\n    return made.used()\n\ndef idle_too():\n    return idle()\n"
    ),
    "science.made": (
        "def used():\n    return inner()\n\ndef inner():\n    return Thing().asked\n\n"
        "def idle():\n    return 1\n\n"
        "class Thing:\n    asked = 1\n\n    def never(self):\n        return 2\n"
    ),
}


@pytest.fixture
def small_house(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The house read anew as a made-up one, and forgotten afterwards."""
    kept = (reach.definitions, reach.imported, reach.meant, reach.reached)
    for each in kept:
        each.cache_clear()
    rooms = {name: ast.parse(code) for name, code in SMALL_HOUSE.items()}
    monkeypatch.setattr(reach, "modules", lambda: rooms)
    yield
    for each in kept:
        each.cache_clear()


def test_every_function_of_science_is_come_to_by_the_program() -> None:
    assert [name for name in reach.not_reached() if name.startswith("science.")] == []


def test_every_method_of_science_is_asked_for_by_the_program() -> None:
    assert reach.members_not_asked_for("science") == []


def test_nothing_else_stands_idle_but_what_says_why() -> None:
    idle = [n for n in reach.not_reached() if n not in OTHERWISE and n.split(".")[0] not in OTHERWISE]
    assert idle == []


def test_what_is_excused_is_there_and_is_idle() -> None:
    idle = reach.not_reached()
    for name in OTHERWISE:
        assert any(each == name or each.startswith(f"{name}.") for each in idle), name


@pytest.mark.usefixtures("small_house")
def test_what_nothing_calls_is_seen_even_where_something_idle_calls_it() -> None:
    assert reach.not_reached() == ["hours.made.idle_too", "science.made.idle"]
    assert reach.members_not_asked_for("science") == ["science.made.Thing.never"]


def test_a_way_through_the_fronts_and_the_rooms_is_followed() -> None:
    # advise → survey → daily_reference_et → daily_eto → radiation: fronts, rooms and re-exported names.
    assert {
        ("soil_water.root_zone", "survey"),
        ("soil_water.reference_et", "daily_reference_et"),
        ("science.radiation", "inverse_distance"),
    } <= reach.reached()
