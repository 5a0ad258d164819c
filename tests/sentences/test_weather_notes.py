"""The weather's notes in the owner's units and on the owner's clock."""

from __future__ import annotations

import subprocess
import sys
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from advisor.advice.notes import MembersFrom, Note, NoteKind, NoteLevel, Variable
from advisor.sentences.weather_notes import SENTENCES, note_sentence, note_sentences
from advisor.wording import Say

NOW = datetime(2026, 1, 13, 9, tzinfo=UTC)
METRIC = Say("metric", ZoneInfo("Australia/Hobart"), NOW)
US = Say("us", ZoneInfo("America/Chicago"), NOW)
AT = datetime(2026, 1, 12, 20, tzinfo=UTC)
FULL: dict[str, Any] = {
    "source": "Larkmoor service", "reason": "no answer within 30 s", "variable": Variable.WIND,
    "members_from": MembersFrom.AMOUNT, "names": ("one", "two"), "file": "station.csv", "count": 3, "of": 24,
    "hours": 2, "minutes": 30, "days": 4.0, "age_h": 7.0, "share": 0.25, "depth_mm": 12.7, "of_mm": 10.0,
    "depths_mm": (3.0, 12.7), "low": 0.0, "high": 60.0, "at": AT, "until": AT,
}  # fmt: skip


def note(kind: NoteKind, **values: Any) -> Note:
    return Note(level=NoteLevel.WARNING, kind=kind, **values)


@pytest.mark.parametrize("say", [METRIC, US], ids=["metric", "us"])
@pytest.mark.parametrize("kind", NoteKind, ids=lambda kind: kind.name)
def test_every_kind_has_its_sentence(kind: NoteKind, say: Say) -> None:
    told = note_sentence(say, note(kind, **FULL))
    assert told.endswith(".")
    assert not told.endswith("..")
    assert "None" not in told
    assert "UTC" not in told or kind == NoteKind.STAMPS_SET_BACK
    assert say.units == "metric" or " mm" not in told
    assert set(SENTENCES) == set(NoteKind)


@pytest.mark.parametrize(
    ("values", "metric", "us"),
    [
        pytest.param(
            {"kind": NoteKind.GAUGE_AHEAD, "at": AT},
            "The gauge reading of Tue 13 Jan 2026 07:00 lies ahead and is left out.",
            "The gauge reading of Mon 12 Jan 2026 14:00 lies ahead and is left out.",
            id="a time",
        ),
        pytest.param(
            {"kind": NoteKind.SOURCES_COMPARED, "hours": 12, "names": ("A", "B"), "depths_mm": (3.0, 12.7)},
            "Rain of the next 12 h: A 3.0 mm, B 12.7 mm.",
            "Rain of the next 12 h: A 0.12 in, B 0.50 in.",
            id="depths",
        ),
        pytest.param(
            {"kind": NoteKind.OUTSIDE_LIMITS, "variable": Variable.RAIN, "hours": 1, "at": AT, "low": 0.0, "high": 150.0},
            "Rain: 1 hour (Tue 13 Jan 2026 07:00) dropped, outside 0 to 150 mm.",
            "Rain: 1 hour (Mon 12 Jan 2026 14:00) dropped, outside 0 to 5.91 in.",
            id="bounds of rain",
        ),
        pytest.param(
            {"kind": NoteKind.OUTSIDE_LIMITS, "variable": Variable.TEMPERATURE, "hours": 3, "at": AT, "low": -60.0, "high": 60.0},
            "Temperature: 3 hours (first Tue 13 Jan 2026 07:00) dropped, outside -60 to 60 °C.",
            "Temperature: 3 hours (first Mon 12 Jan 2026 14:00) dropped, outside -76 to 140 °F.",
            id="bounds of temperature",
        ),
        pytest.param(
            {"kind": NoteKind.STEP, "variable": Variable.TEMPERATURE, "hours": 1, "at": AT, "high": 12.0},
            "Temperature: a step of more than 12 °C within an hour, 1 hour (Tue 13 Jan 2026 07:00), kept.",
            "Temperature: a step of more than 21.6 °F within an hour, 1 hour (Mon 12 Jan 2026 14:00), kept.",
            id="a difference",
        ),
        pytest.param(
            {"kind": NoteKind.ETO_DIFFERS, "depth_mm": 12.5, "of_mm": 9.6, "days": 3.0, "share": 0.302},
            "Our ETo of 12.5 mm over 3.0 days differs from the source's own 9.6 mm by 30 %.",
            "Our ETo of 0.49 in over 3.0 days differs from the source's own 0.38 in by 30 %.",
            id="our own value and another's",
        ),
        pytest.param(
            {"kind": NoteKind.SOURCES_DISAGREE, "until": AT, "names": ("A", "B"), "depths_mm": (0.0, 25.4)},
            "The sources disagree about the rain until Tue 13 Jan 2026 07:00: A expects 0.0 mm, B 25.4 mm; "
            "both are counted.",
            "The sources disagree about the rain until Mon 12 Jan 2026 14:00: A expects 0.00 in, B 1.00 in; "
            "both are counted.",
            id="two sources at odds",
        ),
    ],
)  # fmt: skip
def test_times_and_quantities_are_the_owners(values: dict[str, Any], metric: str, us: str) -> None:
    found = note(**values)
    assert note_sentence(METRIC, found) == metric
    assert note_sentence(US, found) == us


def test_a_failed_service_speaks_in_its_own_words() -> None:
    older = note(
        NoteKind.OLDER_ANSWER_USED, source="Larkmoor service", reason="answered with HTTP 503", at=AT
    )
    assert note_sentence(US, older) == (
        "Larkmoor service: answered with HTTP 503; its answer of Mon 12 Jan 2026 14:00 is used."
    )
    failed = note(NoteKind.SERVICE_FAILED, source="Larkmoor service", reason="no answer within 30 s")
    assert note_sentence(METRIC, failed) == "Larkmoor service: no answer within 30 s."


def test_a_depth_that_is_no_number_is_still_told() -> None:
    for depth in (float("nan"), float("inf"), -2.0):
        told = note_sentence(METRIC, note(NoteKind.GAUGE_IMPOSSIBLE, at=AT, depth_mm=depth))
        assert "cannot be and is left out" in told
        assert " mm, " in told


def test_what_is_said_twice_is_told_once() -> None:
    twice = [note(NoteKind.NO_ENSEMBLE), note(NoteKind.NO_PAST), note(NoteKind.NO_ENSEMBLE)]
    assert len(note_sentences(METRIC, twice)) == 2


def test_a_note_does_not_change_and_survives_its_own_json() -> None:
    full = note(NoteKind.STEP, **FULL)
    assert Note.model_validate_json(full.model_dump_json()) == full
    assert len({full, note(NoteKind.STEP, **FULL)}) == 1
    with pytest.raises(ValueError, match="frozen"):
        full.count = 4  # type: ignore[misc]


def test_notes_and_their_sentences_need_no_arrays() -> None:
    code = (
        "import sys, advisor.sentences.weather_notes, advisor.sentences.weather_days, "
        "advisor.sentences.rain_skill; print(sorted({'numpy', 'pandas'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
