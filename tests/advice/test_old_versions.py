"""Advice kept under the first version of its form opens as today's, with nothing waiting called firm."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from advisor.advice.advice import SCHEMA, LookKind, ZoneVerdict
from advisor.advice.old_versions import open_advice
from advisor.advice.reasons import ReasonKind
from advisor.faces.text.advice_text import advice_text, explain_text

KEPT = Path(__file__).with_name("kept_version_1.json").read_text(encoding="utf-8")


def test_minutes_that_wait_for_the_gauge_are_not_firm() -> None:
    old, advice = json.loads(KEPT), open_advice(KEPT)
    assert advice is not None
    assert advice.schema_version == SCHEMA
    before = {zone["zone"]: zone["minutes"] for zone in old["zones"]}
    waits = {run["zone"] for run in old["runs"] if run["only_if"]}
    assert waits
    for zone in advice.zones:
        assert (zone.minutes_conditional if zone.zone in waits else zone.minutes_firm) == before[zone.zone]
        assert (zone.minutes_firm if zone.zone in waits else zone.minutes_conditional) == 0.0


def test_the_condition_of_a_run_is_taken_from_its_look() -> None:
    advice = open_advice(KEPT)
    assert advice is not None
    rules = {zone: (look.at, look.under_mm) for look in advice.next_looks for zone in look.minutes}
    for run in advice.runs:
        told = None if run.condition is None else (run.condition.look_at, run.condition.under_mm)
        assert told == rules.get(run.zone)
        assert bool(run.only_if) == (run.condition is not None)
    assert {look.kind for look in advice.next_looks} >= {LookKind.GAUGE, LookKind.EVENING}


def test_every_sentence_of_then_is_still_told() -> None:
    old, advice = json.loads(KEPT), open_advice(KEPT)
    assert advice is not None
    assert advice.headline == old["headline"]
    assert [z.reason for z in advice.zones] == [z["reason"] for z in old["zones"]]
    assert [z.verdict for z in advice.zones] == [ZoneVerdict(z["verdict"]) for z in old["zones"]]
    text = advice_text(advice, width=10_000)
    for sentence in (*old["steps"], *old["unknowns"], *(o["words"] for o in old["obligations"])):
        assert sentence in text
    assert explain_text(advice, advice.zones[0].zone)


def without(name: str) -> dict[str, Any]:
    return {key: value for key, value in json.loads(KEPT).items() if key != name}


@pytest.mark.parametrize(
    "kept",
    [
        "",
        "[]",
        "{",
        json.dumps(without("zones")),
        json.dumps(json.loads(KEPT) | {"schema_version": "advisor.advice/99"}),
        json.dumps(json.loads(KEPT) | {"runs": 7}),
    ],
    ids=["empty", "a list", "cut off", "no zones", "of a later version", "not runs"],
)
def test_what_is_not_an_advice_is_none(kept: str) -> None:
    assert open_advice(kept) is None


def test_the_checks_of_the_midday_are_told_apart_as_data() -> None:
    kept = json.loads(KEPT)
    name = kept["checks"][0]["name"]
    kept["checks"].append({"name": f"midday: {name}", "passed": True, "why": ""})
    advice = open_advice(json.dumps(kept))
    assert advice is not None
    assert [(c.name, c.for_midday) for c in (advice.checks[0], advice.checks[-1])] == [
        (name, False),
        (name, True),
    ]


def test_a_reason_of_a_kind_that_is_not_told_any_more_keeps_its_sentence() -> None:
    opened = open_advice(KEPT)
    assert opened is not None
    kept = json.loads(opened.model_dump_json())
    gone = {**kept["unknown_reasons"][0], "kind": "a run brings it back", "text": "The water given will do."}
    kept["zones"][0]["reasons"] = [gone]
    advice = open_advice(json.dumps(kept))
    assert advice is not None
    assert [(r.kind, r.text) for r in advice.zones[0].reasons] == [
        (ReasonKind.KEPT_BEFORE, "The water given will do.")
    ]
