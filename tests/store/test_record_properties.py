"""Laws that hold for any records: files and store give back what they took, undo restores."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from advisor.errors import RecordsError
from advisor.lawn import record_fields, records_file
from advisor.lawn.record_fields import KINDS, RANGES, gathered, kind_of
from advisor.lawn.records import (
    AUDIT_METHODS,
    METHODS,
    RUN_SOURCES,
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Record,
    Records,
    Run,
    StockChange,
)
from advisor.store import open_store

TEXTS = st.text(
    st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=8
) | st.sampled_from(
    [
        "",
        " ",
        "Front",
        "a;b",
        "[",
        '"',
        "a,b",
        "line\nline",
        "line\r\nline",
        "\r",
        "=1+1",
        "Rasen süd",
        "null",
    ]
)
NAMES = TEXTS.filter(lambda text: bool(text.strip()))


def amounts(kind: str, name: str) -> st.SearchStrategy[float]:
    """Any amount that a field may hold, the least and the most of it among them."""
    bounds = RANGES[kind, name]
    least = 1e-300 if bounds.above else bounds.low
    return st.floats(least, bounds.high) | st.sampled_from([least, bounds.low + 1 / 3, bounds.high])


def maybe(kind: str, name: str) -> st.SearchStrategy[float | None]:
    return st.none() | amounts(kind, name)


ZONES_OF_TIME = st.sampled_from(
    [UTC, timezone(timedelta(hours=-5)), timezone(timedelta(hours=5, minutes=45))]
)
TIMES = st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1), timezones=ZONES_OF_TIME)  # noqa: DTZ001
HOURS = st.integers(0, 900_000).map(lambda hour: datetime(1990, 1, 1, tzinfo=UTC) + timedelta(hours=hour))
SPANS = st.tuples(TIMES, st.timedeltas(timedelta(0), timedelta(days=2))).map(lambda s: (s[0], s[0] + s[1]))

applications = st.builds(
    lambda span, **rest: Application(started_at=span[0], ended_at=span[1], **rest),
    SPANS,
    product=NAMES,
    zones=st.lists(NAMES, min_size=1, max_size=4, unique=True).map(tuple),
    method=st.sampled_from(METHODS),
    dilution=maybe("applications", "dilution"),
    rate=maybe("applications", "rate"),
    round_id=TEXTS,
    note=TEXTS,
)
runs = st.builds(
    lambda span, **rest: Run(started_at=span[0], ended_at=span[1], **rest),
    SPANS,
    zone=NAMES,
    minutes=amounts("runs", "minutes"),
    depth_mm=maybe("runs", "depth_mm"),
    source=st.sampled_from(RUN_SOURCES),
    note=TEXTS,
)
gauge = st.builds(
    lambda span, **rest: GaugeReading(read_at=span[1], since=span[0] if span[0] < span[1] else None, **rest),
    SPANS,
    depth_mm=amounts("gauge", "depth_mm"),
    note=TEXTS,
)
probes = st.builds(
    ProbeReading, zone=NAMES, read_at=TIMES, depletion_mm=amounts("probes", "depletion_mm"), note=TEXTS
)
audits = st.builds(
    Audit,
    zone=NAMES,
    measured_at=TIMES,
    rate_mm_h=amounts("audits", "rate_mm_h"),
    uniformity=st.none() | st.floats(0, 1),
    christiansen=st.none() | st.floats(-1, 1),
    cans=st.integers(0, 99),
    method=st.sampled_from(AUDIT_METHODS),
    note=TEXTS,
)
archive = st.builds(
    ArchivedHour,
    starts_at=HOURS,
    rain_mm=maybe("archive", "rain_mm"),
    temp_c=maybe("archive", "temp_c"),
    dew_c=maybe("archive", "dew_c"),
    wind10_m_s=maybe("archive", "wind10_m_s"),
    rs_mj_m2_h=maybe("archive", "rs_mj_m2_h"),
    snow_mm=maybe("archive", "snow_mm"),
    source=TEXTS,
)
pairs = st.builds(
    RainPair,
    starts_at=TIMES,
    hours=st.integers(1, 48),
    lead_h=amounts("pairs", "lead_h"),
    mean_mm=amounts("pairs", "mean_mm"),
    spread_mm=amounts("pairs", "spread_mm"),
    observed_mm=amounts("pairs", "observed_mm"),
    members=st.integers(0, 99),
)
stock = st.builds(
    StockChange, product=NAMES, changed_at=TIMES, amount=st.floats(-1e6, 1e6, allow_nan=False), why=TEXTS
)
any_record = st.one_of(applications, runs, gauge, probes, audits, archive, pairs, stock)


def _each_key_once(records: list[Record]) -> list[Record]:
    found: dict[object, Record] = {}
    for count, record in enumerate(records):
        key = KINDS[kind_of(record)].key
        found[(kind_of(record), *(getattr(record, name) for name in key)) if key else count] = record
    return list(found.values())


all_records: st.SearchStrategy[Records] = st.lists(any_record, max_size=12).map(_each_key_once).map(gathered)


@settings(max_examples=60, deadline=None)
@given(all_records)
def test_json_round_trip_is_exact(records: Records) -> None:
    text = records_file.records_to_json(records)
    assert records_file.records_from_json(text) == records
    assert records_file.records_to_json(records_file.records_from_json(text)) == text


@settings(max_examples=60, deadline=None)
@given(all_records)
def test_csv_round_trip_is_exact(records: Records) -> None:
    with tempfile.TemporaryDirectory() as folder:
        records_file.to_csv(records, Path(folder))
        assert records_file.read_rows(Path(folder)).records == records


@settings(max_examples=40, deadline=None)
@given(all_records)
def test_any_records_go_through_the_store_unchanged(records: Records) -> None:
    with open_store(None) as store:
        store.import_records(records)
        kept = [
            replace(record, id=0)
            for kind in record_fields.KINDS
            for record in record_fields.of_kind(store.records(), kind)
        ]
        assert record_fields.gathered(kept) == records


Step = tuple[str, Record, int]
STEPS = st.lists(
    st.tuples(st.sampled_from(["add", "edit", "remove"]), any_record, st.integers(0, 99)), max_size=8
)


@settings(max_examples=40, deadline=None)
@given(steps=STEPS, seed=all_records)
def test_undoing_any_entries_edits_and_removals_restores_every_state_on_the_way(
    steps: list[Step], seed: Records
) -> None:
    with open_store(None, seed=seed) as store:
        states = [store.records()]
        for act, record, pick in steps:
            kind = record_fields.kind_of(record)
            present = record_fields.of_kind(states[-1], kind)
            changes = {
                f.name: getattr(record, f.name) for f in record_fields.fields_of(kind) if f.name != "id"
            }
            try:
                if act == "add":
                    store.add([record])
                elif not present:
                    continue
                elif act == "edit":
                    store.edit(kind, present[pick % len(present)].id, changes)
                else:
                    store.remove(kind, present[pick % len(present)].id)
            except RecordsError as error:
                assert "twice" in str(error)  # noqa: PT017 - a key that is there already
                continue
            states.append(store.records())
        for state in reversed(states[:-1]):
            assert store.undo_last() is not None
            assert store.records() == state
        assert store.undo_last() is None


@settings(max_examples=30, deadline=None)
@given(all_records, all_records)
def test_an_import_loses_nothing_doubles_nothing_and_can_be_undone(here: Records, file: Records) -> None:
    with open_store(None, seed=here) as store:
        before = store.records()
        first = store.import_records(file)
        after = store.records()
        for kind in record_fields.KINDS:
            kept = [replace(record, id=0) for record in record_fields.of_kind(after, kind)]
            for record in record_fields.of_kind(file, kind):
                assert record in kept
        again = store.import_records(file)
        assert store.records() == after
        assert sum(again.added.values()) + sum(again.replaced.values()) == 0
        if sum(first.added.values()) + sum(first.replaced.values()):
            store.undo_last()
        assert store.records() == before
