"""The table of judged numbers: whole, used, well told; and no number that steers an answer stands outside it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import fields
from pathlib import Path

import pytest
from made import JUDGED, made_site

from advisor.errors import InputError
from advisor.lawn.judgement import GROUPS, ByDial, judged_rows, rows_of, shipped_judgement
from advisor.sentences.judged_why import CLAUSES
from advisor.shipped import shipped
from advisor.tonight.what_if_judged import ONLY_TOLD

HOUSE = Path(__file__).resolve().parents[2] / "advisor"
SHIPPED = shipped("data", "judgement.csv").read_text(encoding="utf-8")
SCANNED = (
    *sorted((HOUSE / "watering_in").glob("*.py")),
    *sorted((HOUSE / "tonight").glob("*.py")),
    HOUSE / "soil_water" / "requirement.py",
    HOUSE / "weather" / "quality.py",
)
TOLD = "how much is worth telling; no answer hangs on it"
SEARCH = "how fine the search for the best way is"
UNIT = "a unit of measure or of time"
MENDING = "which readings of a service are believed or mended; no weighing of an answer"
ELSEWHERE: dict[str, str] = {
    "ALIKE": "rounding",
    "ALL_KNOWN": TOLD,
    "DAY": UNIT,
    "DAY_MIN": UNIT,
    "DEW_SLACK_C": MENDING,
    "DOUBT_MM": TOLD,
    "ENOUGH_PAIRS": TOLD,
    "EVENING": "when the next evening's ask is told",
    "FACTORS": "half and double",
    "FAR_H": TOLD,
    "FLAT_H": MENDING,
    "GAUGE_H": TOLD,
    "HOUR": UNIT,
    "ICE_C": "a caution, no answer",
    "INCH": UNIT,
    "LIMITS": MENDING,
    "LOST_MM": TOLD,
    "LOT_MM": TOLD,
    "LOT_SHARE": TOLD,
    "MIDDAY": "what is called midday",
    "MINUTE": UNIT,
    "MOST_LOOKS_TOLD": TOLD,
    "NEAR_H": "a caution, no answer",
    "ONE_NIGHT": UNIT,
    "REFERENCE_MM_H": "published, its source beside it",
    "SAME_MM": "rounding to whole minutes",
    "SEED_RUNS": "published, its source beside it",
    "SEED_RUN_MM": "published, its source beside it",
    "SHORT_GAP_H": MENDING,
    "SHOWN_AFTER": TOLD,
    "STEPS_MIN": SEARCH,
    "TAKEN_MM": "a caution, no answer",
    "TELL_MIN": TOLD,
    "TELL_MM": TOLD,
    "UNDER_MM": SEARCH,
    "WORTH_TELLING": TOLD,
}


def numbers_in(text: str) -> Iterator[str]:
    """The upper-case names at the top of a module whose value holds a number."""
    for node in ast.parse(text).body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        value = getattr(node, "value", None)
        if value is None or not any(
            isinstance(n, ast.Constant) and type(n.value) in (int, float) for n in ast.walk(value)
        ):
            continue
        for target in targets:
            named = [n.id for n in ast.walk(target) if isinstance(n, ast.Name)] if target is not None else []
            yield from (name for name in named if name.isupper())


def test_no_number_that_steers_an_answer_stands_outside_the_table() -> None:
    found = {name for path in SCANNED for name in numbers_in(path.read_text(encoding="utf-8"))}
    assert found == set(ELSEWHERE)


@pytest.mark.parametrize(
    "line", ["STRESS = 3.0", "A_MM, B = 2.5, 2", "D: dict[str, float] = {'a': 1.5}", "W = timedelta(days=2)"]
)
def test_the_scan_sees_a_number(line: str) -> None:
    assert list(numbers_in(line))


def test_every_row_is_used_by_the_code() -> None:
    rooms = [p for p in HOUSE.rglob("*.py") if p.name != "judgement.py"]
    read = {
        node.attr
        for path in rooms
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Attribute)
    }
    assert [key for key in judged_rows() if key.split(".")[1] not in read] == []


def test_every_row_says_what_it_steers_and_on_whose_word_and_lies_inside_its_range() -> None:
    assert set(judged_rows()) == {f"{g}.{f.name}" for g, cls in GROUPS.items() for f in fields(cls)}
    for key, row in judged_rows().items():
        assert row.steers.endswith("."), key
        assert row.source.startswith(("our judgement", "common practice, no source")), key
        values = row.value if isinstance(row.value, ByDial) else ByDial(row.value, row.value, row.value)
        for dial in ("thrifty", "balanced", "cautious"):
            assert row.least <= values.of(dial) <= row.most, key
            assert JUDGED.number(key, dial) == values.of(dial)


def test_every_number_that_can_turn_an_answer_has_its_words() -> None:
    assert set(CLAUSES) == set(judged_rows()) - ONLY_TOLD
    assert all(clause.count("{}") == 1 for clause in CLAUSES.values())


def test_a_site_decides_by_the_shipped_table_unless_it_has_another() -> None:
    assert made_site().judgement is shipped_judgement()
    other = JUDGED.with_number("turf.stress", "thrifty", 9.0).with_number("turf.run_mm", "thrifty", 2.5)
    assert (other.turf.stress, other.turf.run_mm) == (ByDial(9.0, 3.0, 6.0), 2.5)
    assert made_site(judgement=other).judgement.turf.stress.of("thrifty") == 9.0


def line_of(key: str) -> int:
    return next(i for i, line in enumerate(SHIPPED.splitlines(), 1) if line.startswith(f"{key},"))


@pytest.mark.parametrize(
    ("key", "old", "new", "told"),
    [
        (
            "turf.run_mm",
            "turf.run_mm,1,",
            "turf.run_mm,nine,",
            "'value' of turf.run_mm will not do; found 'nine'",
        ),
        ("turf.run_mm", "turf.run_mm,1,", "turf.run_mm,40,", "allowed: 0.25 to 4"),
        ("turf.stress", "3,1.5,6", "3,,6", "'thrifty' of turf.stress will not do"),
        ("turf.run_mm", "turf.run_mm,1,,", "turf.run_mm,1,2,", "is the same whatever the dial"),
        ("turf.room_h", ",h,", ",weeks,", "the unit is not known; found 'weeks'"),
        ("turf.room_h", ",our judgement", ",", "'source' is empty"),
        ("turf.room_h", "turf.room_h", "turf.rum_h", "'turf.rum_h' is no number that steers an answer"),
        ("turf.room_h", "turf.room_h", "turf.stress", "'turf.stress' stands here twice"),
    ],
)
def test_what_is_wrong_in_a_table_is_told_with_its_line(
    tmp_path: Path, key: str, old: str, new: str, told: str
) -> None:
    lines = SHIPPED.splitlines()
    at = line_of(key)
    assert old in lines[at - 1]
    lines[at - 1] = lines[at - 1].replace(old, new)
    path = tmp_path / "judgement.csv"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(InputError) as caught:
        rows_of(path)
    assert str(caught.value).startswith(f"{path}:{at}: ")
    assert told in str(caught.value)


def test_a_table_without_a_number_is_told(tmp_path: Path) -> None:
    path = tmp_path / "judgement.csv"
    path.write_text(
        SHIPPED.replace(SHIPPED.splitlines()[line_of("costs.run") - 1] + "\n", ""), encoding="utf-8"
    )
    with pytest.raises(InputError, match=r"numbers are missing; found no costs\.run"):
        rows_of(path)
