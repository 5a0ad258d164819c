"""Advice kept under an older version of its form, opened as today's."""

from __future__ import annotations

import json
from typing import Any

from advisor.advice.advice import SCHEMA, Advice, LookKind
from advisor.advice.cautions import CautionKind
from advisor.advice.reasons import ReasonKind

VERSION_1 = "advisor.advice/1"
MIDDAY = "midday: "
KINDS = {kind.value for kind in ReasonKind}
REASON = {"kind", "text", "now_word", "before_word"}  # by these keys a reason is told from other things


def open_advice(advice_json: str) -> Advice | None:
    """A kept advice of this version or an older one; None where it is of a form that is not known."""
    try:
        data = json.loads(advice_json)
        if isinstance(data, dict) and data.get("schema_version") == VERSION_1:
            data = _from_version_1(data)
        return Advice.model_validate(_of_known_kinds(data))
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        return None


def _of_known_kinds(data: Any) -> Any:
    """The same, where a reason of a kind that is not told any more keeps its sentence alone."""
    if isinstance(data, list):
        return [_of_known_kinds(each) for each in data]
    if not isinstance(data, dict):
        return data
    if data.keys() >= REASON and data["kind"] not in KINDS:
        return {"kind": ReasonKind.KEPT_BEFORE.value, "text": data["text"]}
    return {key: _of_known_kinds(each) for key, each in data.items()}


def _from_version_1(old: dict[str, Any]) -> dict[str, Any]:
    """Version 1 had sentences alone: minutes of runs that wait counted with the others, and the condition
    of a run stood in words, beside a look that holds its numbers."""
    new = {**old, "schema_version": SCHEMA}
    rules = {
        zone: {"look_at": look["at"], "under_mm": look["under_mm"]}
        for look in old["next_looks"]
        for zone in look["minutes"]
        if look["under_mm"] is not None
    }
    new["runs"] = [
        {**run, "condition": rules[run["zone"]] if run.get("only_if") else None} for run in old["runs"]
    ]
    waits = {run["zone"] for run in old["runs"] if run.get("only_if")}
    new["zones"] = [_zone(zone, is_waiting=zone["zone"] in waits) for zone in old["zones"]]
    new["obligations"] = [_application(one) for one in old["obligations"]]
    new["cautions"] = [{**one, "kind": CautionKind.KEPT_BEFORE.value} for one in old["cautions"]]
    new["next_looks"] = [_look(look) for look in old["next_looks"]]
    new["checks"] = [_check(one) for one in old.get("checks", ())]
    for plain, typed in (
        ("steps", "step_reasons"),
        ("unknowns", "unknown_reasons"),
        ("changes", "change_reasons"),
    ):
        new[typed] = _reasons(old.get(plain, ()))
    return new


def _reasons(sentences: Any) -> list[dict[str, str]]:
    return [{"kind": ReasonKind.KEPT_BEFORE.value, "text": text} for text in sentences]


def _zone(old: dict[str, Any], *, is_waiting: bool) -> dict[str, Any]:
    new = {key: value for key, value in old.items() if key not in ("minutes", "depth_mm")}
    firm = 0.0 if is_waiting else 1.0
    return {
        **new,
        "minutes_firm": firm * old["minutes"],
        "minutes_conditional": (1.0 - firm) * old["minutes"],
        "depth_firm_mm": firm * old["depth_mm"],
        "depth_conditional_mm": (1.0 - firm) * old["depth_mm"],
        "reasons": _reasons([old["reason"]]),
    }


def _application(old: dict[str, Any]) -> dict[str, Any]:
    options = [
        {**option, "minutes": 0.0, "chosen": option["action"] == old["action"]} for option in old["options"]
    ]
    return {
        **old,
        "options": options,
        "reasons": _reasons([old["words"]]),
        "note_reasons": _reasons(old["notes"]),
    }


def _check(old: dict[str, Any]) -> dict[str, Any]:
    """The checks of the midday's cooling bore a mark before their name."""
    name = old["name"].removeprefix(MIDDAY)
    return {**old, "name": name, "for_midday": name != old["name"]}


def _look(old: dict[str, Any]) -> dict[str, Any]:
    kind = LookKind.GAUGE if old["minutes"] else LookKind.SKIP if old["zones"] else LookKind.EVENING
    return {**old, "kind": kind.value, "over_mm": None}
