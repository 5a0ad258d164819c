"""Records come out of a file exactly as they went in, and what is wrong is told with its line."""

from __future__ import annotations

import json
import subprocess
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import AdvisorError, InputError, ManyProblems, RecordsError
from advisor.lawn import records_file
from advisor.lawn.record_fields import fields_of
from advisor.lawn.records import GaugeReading, Records, Run
from advisor.shipped import shipped

T = datetime(2026, 6, 17, 21, 30, tzinfo=UTC)
RUN = Run("Front", T, T + timedelta(minutes=18), 18.0, 3.96)


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_a_spoiled_json_file_is_a_sentence_and_never_a_traceback(data: st.DataObject) -> None:
    text = shipped("data", "demo_records.json").read_text(encoding="utf-8")
    at = data.draw(st.integers(0, len(text) - 1))
    spoiled = (
        text[:at]
        + data.draw(st.sampled_from(["", "}", "NaN", "[[", '"', "0", "null", "\n"]))
        + text[at + 1 :]
    )
    try:
        records_file.records_from_json(spoiled, where="r.json")
    except AdvisorError as error:
        assert str(error).startswith("r.json:")  # noqa: PT017 - some spoiled files are still sound


def test_the_demo_records_are_read_and_are_of_the_invented_lawn() -> None:
    records = records_file.read_rows(shipped("data", "demo_records.json")).records
    assert {zone for a in records.applications for zone in a.zones} == {"Front", "Back", "Side", "Bank"}
    assert {run.zone for run in records.runs} == {"Front", "Back", "Side", "Bank"}
    assert all("Larkmoor Lane, invented" in record.note for record in records.runs)


def test_records_come_in_the_order_of_time_whatever_the_order_of_the_file() -> None:
    later = GaugeReading(T + timedelta(days=1), 1.0)
    text = records_file.records_to_json(Records(gauge=(later, GaugeReading(T, 2.0))))
    assert [reading.depth_mm for reading in records_file.records_from_json(text).gauge] == [2.0, 1.0]


def _json(kind: str, row: dict[str, object]) -> str:
    return f'{{"format": "advisor.records/1",\n"{kind}": [\n{json.dumps(row)}\n]}}'


GAUGE: dict[str, object] = {"read_at": "2026-06-17T06:30-05:00", "depth_mm": 6.0}
RUN_ROW: dict[str, object] = {
    "zone": "Front",
    "started_at": "2026-06-17T04:30-05:00",
    "ended_at": "2026-06-17T04:50-05:00",
    "minutes": 20,
}


@pytest.mark.parametrize(
    ("kind", "row", "words"),
    [
        pytest.param("gauge", GAUGE | {"read_at": "2026-06-17T06:30"}, "offset", id="time without a zone"),
        pytest.param("gauge", GAUGE | {"read_at": "yesterday"}, "'yesterday'", id="no time"),
        pytest.param("gauge", GAUGE | {"depth_mm": "6 mm"}, "a number", id="text for a number"),
        pytest.param("gauge", GAUGE | {"depth_mm": True}, "a number", id="true for a number"),
        pytest.param("gauge", GAUGE | {"depth_mm": -1}, "0 to 2,000", id="negative rain"),
        pytest.param("gauge", GAUGE | {"depth_mm": None}, "empty", id="nothing where something must be"),
        pytest.param("gauge", {"depth_mm": 1}, "missing", id="missing field"),
        pytest.param("gauge", GAUGE | {"depht": 1}, "not a field", id="unknown field"),
        pytest.param(
            "gauge", GAUGE | {"since": "2026-06-18T06:30-05:00"}, "before read_at", id="since after"
        ),
        pytest.param("runs", RUN_ROW | {"source": "wind"}, "as advised", id="unknown source"),
        pytest.param(
            "runs", RUN_ROW | {"ended_at": "2026-06-17T04:00-05:00"}, "not before", id="ends before"
        ),
        pytest.param("runs", RUN_ROW | {"zone": " "}, "a name", id="blank zone"),
        pytest.param("runs", RUN_ROW | {"note": "a\0b"}, "text", id="a null character"),
    ],
)
def test_what_is_wrong_is_told_with_file_line_found_and_allowed(
    kind: str, row: dict[str, object], words: str
) -> None:
    with pytest.raises(InputError) as caught:
        records_file.records_from_json(_json(kind, row), where="mine.json")
    assert str(caught.value).startswith("mine.json:3: ")
    assert words in str(caught.value)
    assert "allowed: " in str(caught.value)


@pytest.mark.parametrize(
    ("text", "start"),
    [
        pytest.param("", "mine.json:1: this is not JSON", id="empty"),
        pytest.param('{"format": "advisor.records/1",\n"runs": [\n{"zone": ]}', "mine.json:3: ", id="broken"),
        pytest.param('{"format": "advisor.records/9"}', "mine.json:1: the format", id="another format"),
        pytest.param('{"runs": []}', "mine.json:1: there is no format", id="no format"),
        pytest.param(
            '{"format": "advisor.records/1",\n"walks": []}', "mine.json:2: a kind", id="unknown kind"
        ),
        pytest.param('{"format": "advisor.records/1"} x', "mine.json:1: ", id="something follows"),
        pytest.param(
            '{"format": "advisor.records/1",\n"runs": [], "runs": []}', "mine.json:2: a key", id="twice"
        ),
        pytest.param('{"format": "advisor.records/1", "runs": [7]}', "mine.json:1: a record", id="no record"),
        pytest.param('{"format": "advisor.records/1",\n"gauge": [NaN]}', "mine.json:2: ", id="NaN"),
        pytest.param("[" * 100_000, "mine.json:1: ", id="not an object"),
        pytest.param('{"format": ' + "[" * 100_000, "mine.json:1: ", id="too deep"),
    ],
)
def test_a_file_that_is_not_one_of_records_is_told_with_its_line(text: str, start: str) -> None:
    with pytest.raises(InputError) as caught:
        records_file.records_from_json(text, where="mine.json")
    assert str(caught.value).startswith(start)


def test_all_problems_are_told_at_once_in_the_order_of_their_lines(tmp_path: Path) -> None:
    (tmp_path / "gauge.csv").write_text(
        "read_at,depth_mm\n2026-06-17T06:30,6\n2026-06-18T06:30Z,6\n2026-06-19T06:30Z,lots\n1,2,3\n"
    )
    (tmp_path / "walks.csv").write_text("a\n1\n")
    with pytest.raises(ManyProblems) as caught:
        _ = records_file.read_rows(tmp_path).records
    places = [(Path(problem.where).name, problem.line) for problem in caught.value.problems]
    assert places == [("gauge.csv", 2), ("gauge.csv", 4), ("gauge.csv", 5), ("walks.csv", None)]


def test_a_csv_from_a_spreadsheet_is_read(tmp_path: Path) -> None:
    (tmp_path / "applications.csv").write_bytes(
        b"\xef\xbb\xbfproduct,zones,started_at,ended_at,method\r\n"
        b"Calcium solution,Front; Back,2026-06-17T16:30-05:00,2026-06-17T17:10-05:00,tank\r\n\r\n"
    )
    (application,) = records_file.read_rows(tmp_path).records.applications
    assert application.zones == ("Front", "Back")
    assert application.started_at == T


@pytest.mark.parametrize(
    ("content", "words"),
    [
        pytest.param(b"read_at;depth_mm\n", "the first row names the fields", id="semicolons"),
        pytest.param(b"", "the first row names the fields", id="empty"),
        pytest.param(b"read_at,read_at\n", "each once", id="a name twice"),
        pytest.param(b'read_at,depth_mm\n"2026', "this is not CSV", id="open quote"),
        pytest.param(b"read_at,depth_mm\n\xff", "gauge.csv:2: the file is not UTF-8", id="other encoding"),
    ],
)
def test_a_csv_that_cannot_be_read_is_a_sentence(tmp_path: Path, content: bytes, words: str) -> None:
    (tmp_path / "gauge.csv").write_bytes(content)
    with pytest.raises(InputError, match=words):
        _ = records_file.read_rows(tmp_path).records


def test_a_line_is_that_of_the_file_also_after_a_note_of_several_lines(tmp_path: Path) -> None:
    (tmp_path / "gauge.csv").write_text(
        'read_at,depth_mm,note\n2026-06-17T06:30Z,6,"a\nb\nc"\n2026-06-18T06:30Z,-6,\n'
    )
    with pytest.raises(InputError, match=r"gauge\.csv:5: depth_mm"):
        _ = records_file.read_rows(tmp_path).records


def test_an_hour_of_one_source_may_stand_only_once() -> None:
    hour = '{"starts_at": "2026-06-17T06:00Z", "rain_mm": 1, "source": "x"}'
    text = f'{{"format": "advisor.records/1", "archive": [\n{hour},\n{hour}]}}'
    with pytest.raises(InputError, match=r"mine\.json:3: .*stands twice.*as in line 2"):
        records_file.records_from_json(text, where="mine.json")


def test_an_empty_folder_and_a_missing_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there are no records in this folder"):
        _ = records_file.read_rows(tmp_path).records
    with pytest.raises(InputError, match=r"gone\.json: the file cannot be read"):
        _ = records_file.read_rows(tmp_path / "gone.json").records


@pytest.mark.parametrize("name", ["out.json", "folder"])
def test_export_writes_once_and_never_over_another_file(tmp_path: Path, name: str) -> None:
    records = Records(runs=(RUN,))
    records_file.write_records(records, tmp_path / "new" / name)
    assert records_file.read_rows(tmp_path / "new" / name).records == records
    with pytest.raises(RecordsError, match="is there already"):
        records_file.write_records(Records(), tmp_path / "new" / name)
    assert records_file.read_rows(tmp_path / "new" / name).records == records
    assert not list(tmp_path.rglob("*.partial"))


def test_export_to_a_place_that_cannot_be_written_is_a_sentence(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(RecordsError, match="cannot be written"):
        records_file.write_records(Records(), tmp_path / "file" / "out.json")


def test_every_field_of_every_kind_is_known() -> None:
    assert [(f.name, f.holds, f.optional, f.required) for f in fields_of("applications")] == [
        ("product", "text", False, True),
        ("zones", "names", False, True),
        ("started_at", "time", False, True),
        ("ended_at", "time", False, True),
        ("method", "text", False, False),
        ("dilution", "number", True, False),
        ("rate", "number", True, False),
        ("round_id", "text", False, False),
        ("note", "text", False, False),
        ("id", "whole", False, False),
    ]


def test_reading_records_from_a_file_loads_neither_sqlalchemy_nor_numpy() -> None:
    code = (
        "import sys, advisor.lawn.records_file as f; from advisor.shipped import shipped;"
        "f.read_rows(shipped('data', 'demo_records.json'));"
        "print(sorted({'sqlalchemy', 'numpy', 'pandas', 'alembic'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
