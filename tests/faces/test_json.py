"""`--json` as typed: one object under a published schema, every time in UTC; an error is one too."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from advisor.faces.cli import main as cli

SCHEMAS = Path(__file__).resolve().parents[2] / "data" / "schemas"
TIME = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}\S*")
IN_UTC = re.compile(r"\d{4}-\d{2}-\d{2}T\d{2}:\d{2}:\d{2}(\.\d+)?Z")
PLACE = "--latitude=40.52 --longitude=-96.74 --elevation=381m --time-zone=America/Chicago --units=us"
Typed = Callable[[str], tuple[int, Any]]


@pytest.fixture
def typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Typed:
    """Run the command line in a folder of its own; (exit code, what it printed, read as JSON)."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("ADVISOR_SITE", raising=False)

    def run(line: str) -> tuple[int, Any]:
        words = [word.replace("~", " ") for word in line.split()]
        monkeypatch.setattr(sys, "argv", ["advisor", *words, "--json"])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capsys.readouterr()
        assert err == ""
        return int(ended.value.code or 0), json.loads(out)

    return run


def values(node: Any) -> list[Any]:
    """Every plain value in it; what a round's products share is a name, though it is made of a time."""
    if isinstance(node, dict):
        return [value for key, each in node.items() if key != "round_id" for value in values(each)]
    if isinstance(node, list):
        return [value for each in node for value in values(each)]
    return [node]


def unknown(node: Any, schema: dict[str, Any], whole: dict[str, Any], path: str = "") -> list[str]:
    """The keys of an object that its schema does not have, or misses."""
    if "$ref" in schema:
        schema = whole["$defs"][schema["$ref"].rsplit("/", 1)[-1]]
    if "anyOf" in schema:
        found = [unknown(node, part, whole, path) for part in schema["anyOf"] if _fits(node, part, whole)]
        return min(found, key=len, default=[f"{path}: no form fits"])
    if isinstance(node, list):
        return [
            p
            for i, each in enumerate(node)
            for p in unknown(each, schema.get("items", {}), whole, f"{path}[{i}]")
        ]
    if isinstance(node, dict) and "properties" in schema:
        known = schema["properties"]
        wrong = [f"{path}.{key}" for key in node.keys() ^ known.keys()]
        return wrong + [
            p
            for key in node.keys() & known.keys()
            for p in unknown(node[key], known[key], whole, f"{path}.{key}")
        ]
    return []


def _fits(node: Any, schema: dict[str, Any], whole: dict[str, Any]) -> bool:
    if "$ref" in schema:
        schema = whole["$defs"][schema["$ref"].rsplit("/", 1)[-1]]
    sorts = {"null": type(None), "object": dict, "array": list, "string": str, "boolean": bool}
    sort = sorts.get(schema.get("type", ""), int | float)
    return isinstance(node, sort)


COMMANDS = {
    "tonight --demo": "tonight",
    "rain --demo": "rain",
    "rain --demo --product Wetting~agent --zones Front --at 17:00": "rain",
    "next-round --demo": "next-round",
    "weather --demo": "weather",
    "weather --skill --demo": "weather-skill",
    "mix summer~soil~round --demo": "mix",
    "runtime --depth 6mm --demo": "runtime",
    "clock-sheet --demo": "clock-sheet",
    "audit Front --minutes 15 --readings 20~22~25~21~mL --throat 80cm2 --demo": "audit",
    "status --demo": "status",
    "check --demo": "check",
    f"init {PLACE}": "init",
    "record application Wetting~agent --zones Front --method tank --demo": "record",
    "record run Front 18 --at 05:10 --depth 0.2in --demo": "record",
    "record run --as-advised --demo --now 2026-06-18T09:00": "record",
    "record rain 6mm --at 2026-11-01T01:30 --demo --now 2026-11-01T12:00": "record",
    "record probe Front 0.5in --demo": "record",
    "record stock Wetting~agent 1gal --demo": "record",
    "records list --demo": "records-list",
    "records edit 1 --kind applications --set rate=1.5~mL/m2 --demo": "records-edit",
    "records edit 1 --kind runs --set minutes=5 --demo": "records-edit",
    "records remove 1 --kind gauge --demo": "records-remove",
    "records undo --demo": "records-undo",
    "records export all.json --demo": "records-export",
    "records check --demo": "records-check",
}


@pytest.mark.parametrize(("line", "name"), COMMANDS.items())
def test_what_is_printed_is_of_the_published_form_with_times_in_utc(
    typed: Typed, line: str, name: str
) -> None:
    code, found = typed(line)
    assert code == 0
    schema = json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))
    assert found["schema_version"] == schema["properties"]["schema_version"]["const"]
    assert unknown(found, schema, schema) == []
    whole_times = [v for v in values(found) if isinstance(v, str) and TIME.fullmatch(v)]
    assert [v for v in whole_times if not IN_UTC.fullmatch(v)] == []


def test_an_import_is_told_by_kind(typed: Typed) -> None:
    typed("records export all.json --demo")
    code, found = typed("records import all.json --demo")
    assert code == 0
    assert found["added"] == {}
    assert found["skipped"]["runs"] > 0


def test_what_is_recorded_carries_its_facts_and_its_words(typed: Typed) -> None:
    _, found = typed("record application Wetting~agent --zones Front --method tank --at 16:30 --demo")
    (put_down,), (used,) = found["records"], found["used_up"]
    assert put_down["record"]["started_at"] == "2026-06-17T21:30:00Z"
    assert put_down["words"].startswith("Wetting agent on Front by tank")
    assert (used["kind"], used["record"]["product"]) == ("stock", "Wetting agent")
    assert used["record"]["amount"] < 0


def test_a_time_that_came_twice_is_told_with_both(typed: Typed) -> None:
    _, found = typed("record rain 6mm --at 2026-11-01T01:30 --demo --now 2026-11-01T12:00")
    note = found["notes"][0]
    assert (note["kind"], note["taken_at"], note["other_at"]) == (
        "came twice",
        "2026-11-01T07:30:00Z",
        "2026-11-01T06:30:00Z",
    )


def test_an_edit_tells_what_followed(typed: Typed) -> None:
    _, found = typed("records edit 1 --kind applications --set rate=1.5~mL/m2 --demo")
    assert found["before"]["record"]["rate"] != found["after"]["record"]["rate"] == 1.5
    _, found = typed("records edit 1 --kind runs --set minutes=5 --demo")
    assert {"field": "ended_at", "why": "in proportion"} in found["followed"]


@pytest.mark.parametrize(
    ("line", "kind", "told"),
    [
        (
            "record rain 6 --demo",
            "InputError",
            {"field": "amount", "where": "AMOUNT", "found": "'6'", "allowed": '"6 mm", "0.25 in"'},
        ),
        (
            "record rain 6mm --at never --demo",
            "InputError",
            {"field": "at", "where": "--at", "found": "'never'"},
        ),
        (
            "records edit 1 -k runs --set minutes=-3 --demo",
            "InputError",
            {"field": "minutes", "where": "--set minutes", "allowed": "0 to 1,440"},
        ),
        ("rain --product humus --demo", "InputError", {"field": "product", "where": "--product"}),
        ("check --site nope.yaml", "InputError", {"where": "nope.yaml"}),
        ("records list --site lane.yaml", "InputError", {"where": "lane.yaml"}),
        ("records remove 99 -k runs --demo", "RecordsError", {}),
        ("tonight --demo --now never", "InputError", {"where": "--now"}),
        ("init", "InputError", {"where": "advisor init"}),
        ("record rain --demo", "UsageError", {"field": "amount", "message": "Missing argument 'AMOUNT'."}),
        ("record rain 6mm --sins 5 --demo", "UsageError", {}),
        ("records edit x -k runs --set a=b --demo", "UsageError", {"field": "number"}),
        ("recrd", "UsageError", {}),
        ("record run Front -5 --at 05:00 --demo", "InputError", {"found": "'-5'"}),
    ],
)
def test_an_error_is_told_as_json(typed: Typed, line: str, kind: str, told: dict[str, Any]) -> None:
    code, found = typed(line)
    schema = json.loads((SCHEMAS / "error.schema.json").read_text(encoding="utf-8"))
    assert code == 2
    assert unknown(found, schema, schema) == []
    assert found["schema_version"] == "advisor.error/1"
    assert found["error"]["kind"] == kind
    assert {key: found["error"][key] for key in told} == told
    assert found["problems"] == [found["error"]]


def test_several_problems_are_told_one_by_one_with_their_lines(typed: Typed, tmp_path: Path) -> None:
    typed(f"init {PLACE}")
    site = tmp_path / "site.yaml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace("latitude: 40.52", "latitude: north").replace("units: us", "units: both"))
    code, found = typed("check")
    assert code == 2
    assert found["error"]["kind"] == "ManyProblems"
    assert [bool(each["line"]) for each in found["problems"]] == [True, True]
    code, found = typed("record application Wetting~agent --zones Frnt,Bak --method tank --demo")
    assert [(each["field"], each["found"]) for each in found["problems"]] == [
        ("zones", "'Frnt'"),
        ("zones", "'Bak'"),
    ]


def test_help_is_help_with_json_too(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(sys, "argv", ["advisor", "records", "undo", "--json", "--help"])
    with pytest.raises(SystemExit) as ended:
        cli.main()
    assert not ended.value.code
    assert "Take back the last entry" in capsys.readouterr().out


def test_a_bug_keeps_its_traceback_with_json_too(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.recording.entry.depth_of", lambda *a, **k: 1 / 0)
    monkeypatch.setattr(sys, "argv", ["advisor", "record", "rain", "6 mm", "--demo", "--json"])
    with pytest.raises(ZeroDivisionError):
        cli.main()
