"""Every property that a round is handed out with says what it is, and every kind has its words."""

from __future__ import annotations

import typing

import pytest

from advisor.advice.next_round import BarKind, Mind, NextRounds
from advisor.advice.tank_mix import Mix
from advisor.sentences.rounds import BARS, MINDS


@pytest.mark.parametrize("model", [Mix, NextRounds], ids=["mix", "next round"])
def test_every_property_is_described(model: type[Mix] | type[NextRounds]) -> None:
    schema: dict[str, typing.Any] = model.model_json_schema()
    objects = {name: part for name, part in schema["$defs"].items() if "properties" in part}
    assert len(objects) >= 8
    bare = [
        f"{name}.{field}"
        for name, part in {**objects, model.__name__: schema}.items()
        for field, about in part["properties"].items()
        if not about.get("description")
    ]
    assert bare == []


def test_every_bar_and_everything_to_mind_has_its_words() -> None:
    assert set(BARS) == set(BarKind)
    assert set(MINDS) == set(Mind)
