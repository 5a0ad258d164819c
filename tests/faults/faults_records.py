"""Faults of the records: what is brought in and cannot be, cells that are damaged, and files that are spoiled.

All on the invented lawn of the demo, in a copy of its own.
"""

from __future__ import annotations

import contextlib
import gc
import io
import json
import random
import re
import shutil
import signal
import sqlite3
import sys
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from unittest import mock
from zoneinfo import ZoneInfo

from faults.fault_table import Seen, fault, told

from advisor.faces.cli.main import main
from advisor.lawn import KINDS, Records, fields_of, of_kind
from advisor.night import demo_records
from advisor.shipped import shipped
from advisor.store import open_store

NOW = "2026-06-17T20:15"
FILE = "larkmoor-lane.sqlite"
SEED = 20260617
MOST_S = 5.0


@dataclass(frozen=True, slots=True)
class Answer:
    """What a command answered."""

    code: int
    out: str
    err: str

    @property
    def all(self) -> str:
        """Everything that the owner saw."""
        return self.out + self.err


class Lawn:
    """The invented lawn in a folder of its own."""

    def __init__(self, folder: Path, records: Records | None = None) -> None:
        self.folder, self.site, self.file = folder, folder / "site.yaml", folder / FILE
        folder.mkdir(parents=True, exist_ok=True)
        shutil.copy(shipped("config", "demo.yaml"), self.site)
        if records is not None:
            open_store(self.file, seed=records).close()

    def types(self, *words: str) -> Answer:
        """A command as the owner types it, in a process of its own."""
        done = told(*words, "--site", str(self.site), "--now", NOW)
        return Answer(done.returncode, done.stdout, done.stderr)

    def asks(self, *words: str, now: str | None = NOW) -> Answer:
        """The same within this process, which is quicker; what would end in a traceback is an AssertionError, and
        so is a hang."""
        at = [] if now is None else ["--now", now]
        return answered([*words, "--site", str(self.site), *at])

    def kept(self) -> Records:
        """What is recorded."""
        if not self.file.exists():
            return Records()
        with open_store(self.file) as store:
            return store.records()

    def count(self) -> int:
        """How many records there are, whatever stands in them."""
        with closing(sqlite3.connect(self.file)) as there:
            return sum(there.execute(f'SELECT count(*) FROM "{kind}"').fetchone()[0] for kind in KINDS)

    def poison(self, statement: str, *values: object) -> None:
        """Change the file behind the program's back."""
        with closing(sqlite3.connect(self.file)) as there, there:
            there.execute(statement, values)


def answered(words: Sequence[str]) -> Answer:
    """What the command line answers to these words; a traceback or a hang is an AssertionError."""
    out, err = io.StringIO(), io.StringIO()
    code: Any = 0
    began = time.perf_counter()
    with (
        mock.patch.object(sys, "argv", ["advisor", *words]),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        _within(MOST_S * 4),
    ):
        try:
            main()
        except SystemExit as ended:
            code = ended.code
        except Exception as bug:
            where = traceback.format_exc().splitlines()[-3:]
            raise AssertionError(f"`advisor {' '.join(words)}` ends in a traceback: {where}") from bug
        finally:
            gc.enable()
    took = time.perf_counter() - began
    assert took < MOST_S * 4, f"`advisor {' '.join(words)}` took {took:.0f} s"
    answer = Answer(int(code or 0), out.getvalue(), err.getvalue())
    assert answer.code in (0, 1, 2), answer
    assert answer.code != 2 or answer.err.startswith("advisor: ") or '"error"' in answer.out, answer
    return answer


@contextlib.contextmanager
def _within(seconds: float) -> Iterator[None]:
    """A hang becomes an AssertionError."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def too_long(*_: object) -> None:
        raise AssertionError(f"no answer within {seconds:g} s")

    before = signal.signal(signal.SIGALRM, too_long)
    signal.setitimer(signal.ITIMER_REAL, seconds)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)


def weather_rows(now: datetime, *, back_d: int = 33, ahead_d: int = 4) -> list[str]:
    """An hourly file of invented weather, a line an hour."""
    first = now.astimezone(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=back_d)
    rows = ["time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm"]
    for hour in range(24 * (back_d + ahead_d)):
        at = first + timedelta(hours=hour)
        light = max(0, 12 - abs((at.hour - 18) % 24 - 0)) if at.hour >= 12 else 0
        rain = 4.0 if hour % 211 == 0 else 0.0
        rows.append(f"{at:%Y-%m-%dT%H:%MZ},{18 + light * 0.9:.1f},{70 - light * 2},2.1,{light * 55},{rain}")
    return rows


def weather_of(lawn: Lawn) -> str:
    """The path of a weather file for the demo's evening."""
    path = lawn.folder / "weather.csv"
    if not path.exists():
        path.write_text("\n".join(weather_rows(datetime(2026, 6, 18, 1, 15, tzinfo=UTC))) + "\n")
    return str(path)


# -- what is brought in


STRANGE = """{"format": "advisor.records/1",
"gauge": [
{"read_at": "2026-06-16T06:00-05:00", "depth_mm": 13970},
{"read_at": "2026-06-15T06:00-05:00", "depth_mm": 4},
{"read_at": "2026-06-15T06:00-05:00", "depth_mm": 3}],
"runs": [
{"zone": "Front", "started_at": "2026-06-10T04:00-05:00", "ended_at": "2026-06-13T15:20-05:00", "minutes": 5000},
{"zone": "Frnt", "started_at": "2026-06-10T04:00-05:00", "ended_at": "2026-06-10T04:20-05:00", "minutes": 20}],
"applications": [
{"product": "Weed spray", "zones": ["Front"], "started_at": "2026-06-27T04:00-05:00", "ended_at": "2026-06-27T04:20-05:00"},
{"product": "Wetting agent", "zones": ["Lawn"], "started_at": "2026-06-10T04:00-05:00", "ended_at": "2026-06-10T04:20-05:00"},
{"product": "Potash solution", "zones": ["Front"], "started_at": "2026-06-10T16:00-05:00", "ended_at": "2026-06-10T16:20-05:00", "dilution": 1e30},
{"product": "Grub granules", "zones": ["Front"], "started_at": "2026-06-10T16:00-05:00", "ended_at": "2026-06-10T16:20-05:00", "method": "backpack"},
{"product": "Wetting agent", "zones": ["Front"], "started_at": "2016-06-10T16:00-05:00", "ended_at": "2016-06-10T16:20-05:00"}],
"probes": [
{"zone": "Front", "read_at": "2026-06-14T08:00-05:00", "depletion_mm": 400}],
"audits": [
{"zone": "Front", "measured_at": "2026-05-09T07:00-05:00", "rate_mm_h": 13, "uniformity": 0.7, "cans": 1, "method": "single can"}]
}
"""
HELD_LINES = (3, 5, 7, 8, 10, 11, 12, 13, 14, 16, 18)


@fault("records", "an import of what cannot be: 13,970 mm of rain, 5,000 minutes, zones unknown, days ahead")
def an_import_of_what_cannot_be(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    path = folder / "in.json"
    path.write_text(STRANGE)
    done = lawn.types("records", "import", str(path), "--yes")
    written = len(lawn.kept().gauge) + len(lawn.kept().runs) + len(lawn.kept().applications)
    assert (done.code, written) == (2, 0), f"{written} of them were written: {done}"
    lines = {int(found) for found in re.findall(r"in\.json:(\d+): ", done.err)}
    assert lines == set(HELD_LINES), f"held back: {sorted(lines)}"
    rest = lawn.asks("records", "import", str(path), "--yes", "--leave-out")
    assert rest.code == 0, rest
    assert [each.depth_mm for each in lawn.kept().gauge] == [4.0]
    return Seen(done.err, tried=len(HELD_LINES), lost=0 if "1 gauge reading" in rest.out else 1)


@fault("records", "an import shows first, and twice brings nothing twice")
def an_import_shows_first(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder)
    path = str(shipped("data", "demo_records.json"))
    shown = lawn.asks("records", "import", path)
    assert (shown.code, lawn.file.exists()) == (0, False), shown
    assert "It would import 6 applications" in shown.out, shown
    assert "Nothing is written yet: add --yes" in shown.out, shown
    as_data = json.loads(lawn.asks("records", "import", path, "--json").out)
    assert (as_data["written"], as_data["held"], lawn.file.exists()) == (False, [], False)
    first = lawn.asks("records", "import", path, "--yes")
    assert first.out.startswith("Imported 6 applications"), first
    before = lawn.kept()
    again = lawn.asks("records", "import", path, "--yes")
    assert "Imported nothing new" in again.out, again
    whole = demo_records()
    lost = sum(len(of_kind(whole, kind)) - len(of_kind(before, kind)) for kind in KINDS)
    return Seen(shown.out, tried=4, lost=lost, doubled=0 if lawn.kept() == before else 1)


TYPED = [
    (
        "record stock 'Wetting agent' '1 gal'",
        "record stock 'Wetting agent' '1 gal'",
        "stock",
        "the same amount",
    ),
    ("record rain 6mm --at 07:00", "record rain 6mm --at 07:05", "gauge", "the same depth"),
    ("record rain 6mm --at 07:00", "record rain 7mm --at 07:00", "gauge", "read at the same time"),
    (
        "record rain 6mm --at 07:00",
        "record rain 3mm --at 09:00 --since 05:00",
        "gauge",
        "the same rain may be counted twice",
    ),
    (
        "record run Front 20 --at 05:00",
        "record run Front 25 --at 05:10",
        "runs",
        "the same water may be counted",
    ),
    ("record run Front 20 --at 05:00", "record run Front 20 --at 05:00", "runs", "recorded already as run 1"),
    (
        "record application 'Wetting agent' --zones Front --at 10:00 --method backpack",
        "record application 'Wetting agent' --zones Front,Back --at 11:00 --method backpack",
        "applications",
        "it may be the same one",
    ),
    (
        "record probe Front '9 mm' --at 07:00",
        "record probe Front '5 mm' --at 07:00",
        "probes",
        "another depth",
    ),
]


@fault("records", "the same thing is recorded twice: stock, rain, runs, applications, probes")
def the_same_thing_twice(folder: Path, nightly: bool) -> Seen:
    import shlex

    saw, doubled = "", 0
    for number, (first, again, kind, words) in enumerate(TYPED):
        lawn = Lawn(folder / str(number))
        assert lawn.asks(*shlex.split(first)).code == 0, first
        second = lawn.asks(*shlex.split(again))
        doubled += len(of_kind(lawn.kept(), kind)) - 1
        assert second.code == 2, f"{again}: {second}"
        assert words in second.err, f"{again}: {second}"
        saw = saw or second.err
        if "--anyway" in second.err and (nightly or number == 0):
            assert lawn.asks(*shlex.split(again), "--anyway").code == 0
            assert len(of_kind(lawn.kept(), kind)) == 2, again
    return Seen(saw, tried=len(TYPED), doubled=doubled)


SLIPS = [
    ("record application 'Autumn granules' --method backpack", "does not go down so; found 'backpack'"),
    ("record application 'Potash solution' --method spreader", "is a liquid, and does not go down so"),
    ("record application 'Potash solution' --method tank --dilution 999999:1", "dilution is not usable"),
    ("record application 'Potash solution' --method tank --at 2019-06-16T10:00", "dated 7 years back"),
    (
        "record application 'Potash solution' --method tank --at 2026-06-14T10:00 --until 2026-06-16T17:00",
        "more than a day",
    ),
    ("record run Back 700 --at 2026-06-16T05:10", "the longest stretch of hours"),
    ("record run Back 20 --at 05:10 --depth '99 in'", "depth_mm is not usable"),
    ("record run Back 20 --at 05:10 --depth '4 in'", "no lawn sprinkler gives so much"),
    (f"record rain {'9' * 35}mm", "depth_mm is not usable"),
    ("record rain 550in", "depth_mm is not usable"),
    (f"record stock 'Potash solution' '{'9' * 35} gal'", "amount is not usable"),
    ("record stock 'Potash solution' '0 gal'", "nothing was bought"),
    ("record probe Front '30 in'", "root zone of Front holds"),
    ("audit Front --minutes 20 --depths '99 99 99 99 in'", "no lawn sprinkler gives so much"),
]


@fault("records", "slips of method, dilution, year, length and unit")
def slips_of_the_pen(folder: Path, nightly: bool) -> Seen:
    import shlex

    lawn, saw = Lawn(folder), ""
    open_store(lawn.file).close()
    for line, words in SLIPS:
        done = lawn.asks(*shlex.split(line))
        assert done.code == 2, f"{line}: {done}"
        assert words in done.err, f"{line}: {done}"
        saw = saw or done.err
    return Seen(saw, tried=len(SLIPS), doubled=lawn.count())


# -- what stands in the file


OLD = (
    ("UPDATE gauge SET depth_mm = 13970 WHERE id = 1", "gauge", "depth_mm is 13970.0"),
    ("UPDATE runs SET minutes = 5000 WHERE id = 1", "runs", "minutes is 5000.0"),
    ("UPDATE applications SET dilution = 1e30 WHERE id = 1", "applications", "dilution is 1e+30"),
)
CAN_STAY = (
    ("UPDATE gauge SET depth_mm = 900 WHERE id = 2", "Gauge reading 2: so much rain"),
    ("UPDATE applications SET rate = 99 WHERE id = 2", "Application 2: the rate is"),
    (
        "UPDATE applications SET ended_at = '2027-01-01 00:00:00.000000' WHERE id = 3",
        "Application 3: only what",
    ),
    ("UPDATE runs SET zone = 'Frnt' WHERE id = 2", "Run 2: there is no such zone"),
    ("UPDATE stock SET product = 'Kale' WHERE id = 1", "Stock change 1: there is no such product"),
)


@fault("records", "values outside of the gate stand in the records from before")
def values_from_before(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder, demo_records())
    lawn.asks("record", "stock", "Wetting agent", "1 gal")
    count = lawn.count()
    for statement, *_ in (*OLD, *CAN_STAY):
        lawn.poison(statement)
    check = lawn.types("records", "check")
    assert check.code == 1, check
    for words in (*(each[2] for each in OLD), *(each[1] for each in CAN_STAY)):
        assert words in check.out, f"{words!r} is not told: {check.out}"
    assert "To mend one: `advisor records edit" in check.out, check
    advice = json.loads(lawn.asks("tonight", "--weather", weather_of(lawn), "--json").out)
    assert [(each["kind"], each["id"]) for each in advice["left_out"]] == [
        ("applications", 1),
        ("runs", 1),
        ("gauge", 1),
    ]
    assert lawn.count() == count, "something was taken out"
    mended = lawn.asks("records", "edit", "1", "-k", "gauge", "--set", "depth_mm=4")
    assert mended.code == 0, mended
    assert lawn.asks("records", "remove", "1", "-k", "runs").code == 0
    assert len(lawn.kept().unusable) == 1
    lost = count - 1 - lawn.count()
    return Seen(check.out, tried=len(OLD) + len(CAN_STAY), lost=lost)


POISONS: dict[str, tuple[tuple[str, object], ...]] = {
    "number": (
        ("?", "abc"),
        ("?", 1e308),
        ("?", -1e308),
        ("?", float("inf")),
        ("?", b"\x00\xff"),
        ("CAST(? AS TEXT)", b"\xff\xfe"),
        ("?", ""),
        ("?", "1e999999"),
        ("?", 10**18),
    ),
    "whole": (("?", "abc"), ("?", 1e30), ("?", b"\xff"), ("?", -7), ("?", 0.5)),
    "time": (
        ("?", "yesterday"),
        ("?", ""),
        ("?", 5),
        ("?", "0001-01-01 00:00:00.000000"),
        ("?", "9999-12-31T23:59:59-23:00"),
        ("?", "2026-13-45 99:99:99"),
        ("?", b"\xff\xff"),
        ("CAST(? AS TEXT)", b"2026-06-1\xff"),
    ),
    "text": (("?", b"\xff\xfe"), ("CAST(? AS TEXT)", b"Fr\xffnt"), ("CAST(? AS TEXT)", b"a\x00b")),
}
ENUMS = {("runs", "source"), ("applications", "method"), ("audits", "method")}


def poisons() -> list[tuple[str, str, str, object]]:
    """Every damaged cell: table, column, how it is written, and what."""
    found: list[tuple[str, str, str, object]] = []
    for kind in KINDS:
        for field in fields_of(kind):
            if field.name == "id" or field.holds == "names":
                continue
            found += [(kind, field.name, *each) for each in POISONS[field.holds]]
            found += [(kind, field.name, "?", "wind")] if (kind, field.name) in ENUMS else []
    found += [("application_zones", "zone", *each) for each in POISONS["text"]]
    return found


def many_records() -> Records:
    """The demo's records with some of every kind, so that there is something to poison."""
    from dataclasses import replace

    from advisor.lawn import ArchivedHour, ProbeReading, RainPair, StockChange

    at = datetime(2026, 6, 10, 12, tzinfo=UTC)
    some = demo_records()
    return replace(
        some,
        probes=(*some.probes, *(ProbeReading("Bank", at + timedelta(hours=i), 9.0) for i in range(20))),
        archive=tuple(
            ArchivedHour(at + timedelta(hours=i), 0.0, 20.0, 9.0, 2.0, 1.0, 0.0, "made") for i in range(60)
        ),
        pairs=tuple(RainPair(at - timedelta(days=i), 24, 2.0, 1.0, 1.0, 0.0, 30) for i in range(60)),
        stock=(
            *some.stock,
            *(StockChange("Iron foliar", at + timedelta(days=i / 9), 9.0 + i) for i in range(20)),
        ),
        audits=some.audits * 9,
        gauge=some.gauge,
    )


COMMANDS = (
    "records list",
    "records list --json",
    "records list --kind archive --kind pairs",
    "records check",
    "records check --json",
    "records export {out}.json",
    "records export {out}",
    "tonight --weather {weather}",
    "tonight --weather {weather} --json",
    "tonight --weather {weather} --explain Front",
    "rain --weather {weather}",
    "rain --weather {weather} --json",
    "rain --weather {weather} --product 'Weed spray' --zones Bank",
    "next-round --weather {weather}",
    "mix 'Potash solution'",
    "runtime",
    "weather --weather {weather}",
    "weather --weather {weather} --skill",
    "replay --mine",
    "status",
    "status --json",
    "record rain 2mm --at 20:00 --since 19:00",
    "record stock 'Weed spray' '3 fl oz'",
    "audit Bank --minutes 20 --can '4 mm'",
    "record run --as-advised",
    "records undo",
)
ORDINARY = {0, 3, 7, 8, 10, 15, 20}
"""The commands of the ordinary run."""


def ask_all(lawn: Lawn, *, nightly: bool, number: int = 0) -> tuple[int, dict[str, Answer]]:
    """Every command on a lawn; how many there were and what each answered."""
    import shlex

    answers = {}
    for place, line in enumerate(COMMANDS):
        if nightly or place in ORDINARY:
            words = line.format(weather=weather_of(lawn), out=lawn.folder / f"out-{number}-{place}")
            answers[line] = lawn.asks(*shlex.split(words))
    return len(answers), answers


@fault("records", "damaged cells: letters in numbers, times that are none, 1e308, bytes, no UTF-8")
def damaged_cells(folder: Path, nightly: bool) -> Seen:
    """Many at once, one to a record; every one is named, left out, and can be mended or taken out."""
    every = poisons()
    random.Random(SEED).shuffle(every)
    tried = asked = 0
    saw = ""
    wanted = every if nightly else every[:12]
    lawn, hit = Lawn(folder / "many", many_records()), set()
    with closing(sqlite3.connect(lawn.file)) as there, there:
        free = {kind: [row[0] for row in there.execute(f'SELECT id FROM "{kind}"')] for kind in KINDS}
        for table, column, how, value in wanted:
            kind = "applications" if table == "application_zones" else table
            if not free[kind]:
                continue
            number = free[kind].pop()
            key = "application_id" if table == "application_zones" else "id"
            change = f'UPDATE "{table}" SET "{column}" = {how} WHERE {key} = ?'
            try:
                there.execute(change, (value, number))
            except sqlite3.IntegrityError:  # the same key twice: the file itself would not take it
                continue
            hit.add((kind, number))
            tried += 1
    count = lawn.count()
    unusable = {(each.kind, each.id) for each in lawn.kept().unusable}
    assert unusable == hit, f"not seen: {sorted(hit - unusable)}; seen too: {sorted(unusable - hit)}"
    number_of, answers = ask_all(lawn, nightly=nightly)
    asked += number_of
    check = answers["records check"].out
    missed = [
        each for each in hit if f"{KINDS[each[0]].one} {each[1]} cannot be used".capitalize() not in check
    ]
    assert not missed, f"not named: {missed}"
    advice = json.loads(answers["tonight --weather {weather} --json"].out)
    left_out = {(each["kind"], each["id"]) for each in advice["left_out"]}
    assert left_out <= hit
    assert left_out, "no typed warning"
    assert "Left out of this advice" in answers["tonight --weather {weather}"].out
    assert "Left out of this answer" in answers["rain --weather {weather}"].out
    saw = advice["left_out"][0]["text"]
    out_before = lawn.count()
    assert out_before >= count
    tell = sorted(hit) if nightly else sorted(hit)[:: max(len(hit) // 2, 1)]
    for kind, number in tell:
        gone = lawn.asks("records", "remove", str(number), "-k", kind)
        assert gone.code == 0, gone
        back = lawn.asks("records", "undo")
        assert back.code == 0, back
        there_again = lawn.kept().unusable
        assert (kind, number) in {(each.kind, each.id) for each in there_again}, "undo did not bring it back"
        asked += 2
    return Seen(saw, tried=tried + asked, lost=out_before - lawn.count())


@fault("records", "a damaged record is mended field by field")
def a_damaged_record_is_mended(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder, demo_records())
    lawn.poison("UPDATE runs SET minutes = 'many', started_at = 'at dawn' WHERE id = 3")
    lawn.poison("UPDATE applications SET method = 'bucket', rate = ? WHERE id = 4", b"\xff")
    half = lawn.asks("records", "edit", "3", "-k", "runs", "--set", "minutes=18")
    assert half.code == 2, half
    assert "run 3 cannot be used before started_at is mended too" in half.err, half
    whole = lawn.asks(
        "records",
        "edit",
        "3",
        "-k",
        "runs",
        "--set",
        "minutes=18",
        "--set",
        "started_at=2026-05-21T04:00-05:00",
    )
    assert whole.code == 0, whole
    other = lawn.asks(
        "records", "edit", "4", "-k", "applications", "--set", "method=backpack", "--set", "rate=none"
    )
    assert other.code == 0, other
    assert lawn.kept().unusable == ()
    assert lawn.asks("records", "undo").code == 0
    assert [each.id for each in lawn.kept().unusable] == [4]
    return Seen(half.err, tried=4, lost=0 if lawn.count() else 1)


@fault("records", "damaged rows of advice, marks and journal")
def damaged_rows_beside_the_records(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder, demo_records())
    weather = weather_of(lawn)
    assert lawn.asks("tonight", "--weather", weather).code == 0
    assert lawn.asks("record", "rain", "3mm", "--at", "20:00").code == 0
    lawn.poison("INSERT INTO events VALUES ('outbox:advice:Larkmoor Lane:2026-06-17:x', 'noon', '{')")
    lawn.poison("INSERT INTO events VALUES ('sent:advice:Larkmoor Lane:2026-06-16:x', ?, '[]')", b"\xff")
    lawn.poison("INSERT INTO events VALUES ('advice:Larkmoor Lane:2026-06-16', '2026-06-16', '[[[')")
    lawn.poison('UPDATE journal SET entry = \'{"added": {"walks": [1]}, "before": []}\'')
    changes: tuple[tuple[str, object], ...] = (
        ("given_at", "noon"),
        ("night", 7),
        ("advice_json", b"\xff"),
        ("advice_json", "[" * 99_999),
        ("advice_json", "{}"),
    )
    asked = 0
    for number, (column, value) in enumerate(changes if nightly else changes[:2]):
        lawn.poison(f"UPDATE advice SET {column} = ?", value)
        asked += ask_all(lawn, nightly=nightly, number=number)[0]
    undo = lawn.asks("records", "undo")
    if not nightly:
        lawn.poison("UPDATE journal SET entry = '{'")
        undo = lawn.asks("records", "undo")
        assert undo.code == 2, undo
        assert "the note of the last step" in undo.err, undo
    return Seen(undo.all, tried=asked + 1)


@fault("records", "the service gives its advice beside damaged records")
def the_service_beside_damaged_records(folder: Path, nightly: bool) -> Seen:
    from dataclasses import replace

    now = datetime.now(UTC)
    run = replace(
        demo_records().runs[0], started_at=now - timedelta(days=2), ended_at=now - timedelta(days=1, hours=23)
    )
    lawn = Lawn(folder, Records(runs=(run, replace(run, zone="Back"))))
    (folder / "weather.csv").write_text("\n".join(weather_rows(now)) + "\n")
    text = lawn.site.read_text().replace("decision:\n", "weather:\n  csv: weather.csv\n\ndecision:\n")
    at = (now - timedelta(minutes=5)).astimezone(ZoneInfo("America/Chicago"))
    lawn.site.write_text(text + f'\nservice:\n  advice_at: "{at:%H:%M}"\n')
    lawn.poison("UPDATE runs SET minutes = 'many' WHERE id = 1")
    lawn.poison("INSERT INTO events VALUES ('served:Larkmoor Lane', 'noon', '{')")
    lawn.poison("INSERT INTO events VALUES ('outbox:advice:Larkmoor Lane:2020-01-01:x', 'noon', '{')")
    done = told("serve", "--once", "--site", str(lawn.site), timeout_s=60)
    assert done.returncode in (0, 1), done
    assert "Traceback" not in done.stdout + done.stderr, done
    status = answered(["status", "--json", "--site", str(lawn.site)])
    with open_store(lawn.file) as store:
        kept = store.last_advice("Larkmoor Lane")
    assert kept is not None, f"no advice was given: {done}"
    left = json.loads(kept.advice_json)["left_out"]
    assert [(each["kind"], each["id"]) for each in left] == [("runs", 1)]
    return Seen(left[0]["text"], tried=2, lost=0 if status.code in (0, 1) else 1)


# -- files that are spoiled


BITS: tuple[bytes, ...] = (
    b"", b",", b",,", b'"', b"\n", b"\r\n", b"\x00", b"\xff\xfe", b"nan", b"inf", b"1e308", b"-1e308", b"1e999",
    b"-9", b"9" * 40, b"#", b";", b"T", b"Z", b"+99:99", b"2026-13-45T99:99", b"0001-01-01T00:00Z",
    b"9999-12-31T23:59-23:00", "½".encode(), "٣".encode(), "−5".encode(), b"\xef\xbb\xbf", b"{", b"}", b"[", b"]",
    b"null", b"true", b"[" * 5000, b"1,5", b"0x10", b"1_000", b"\x1b[31m", b"\\u0000", b"\\ud800", b" ", b"\t",
)  # fmt: skip


def spoiled(text: bytes, chance: random.Random) -> bytes:
    """The text with one to four things wrong: bits put in, cut out, cells exchanged, lines doubled or lost."""
    made = bytearray(text)
    for _ in range(chance.randint(1, 4)):
        lines = bytes(made).split(b"\n")
        at = chance.randrange(len(lines))
        match chance.randrange(8):
            case 0:
                place = chance.randrange(len(made) + 1)
                made[place:place] = chance.choice(BITS)
            case 1:
                place = chance.randrange(len(made) + 1)
                del made[place : place + chance.choice((1, 3, 40, 4000))]
            case 2 | 3:
                cells = lines[at].split(b",")
                cells[chance.randrange(len(cells))] = chance.choice(BITS)
                lines[at] = b",".join(cells)
                made[:] = b"\n".join(lines)
            case 4:
                lines.insert(chance.randrange(len(lines)), lines[at])
                made[:] = b"\n".join(lines)
            case 5:
                del lines[at]
                made[:] = b"\n".join(lines)
            case 6:
                first = lines[0].split(b",")
                chance.shuffle(first)
                made[:] = b"\n".join([b",".join(first), *lines[1:]])
            case 7:
                place = chance.randrange(len(made) + 1)
                made[place : place + 1] = bytes([chance.randrange(256)])
    return bytes(made)


def spoiled_files(
    folder: Path,
    original: bytes,
    name: str,
    rounds: int,
    ask: Callable[[Path], Answer],
) -> Seen:
    """Ask about one spoiled file after another: a good answer, or a sentence that names the file."""
    refused, saw = 0, ""
    for number in range(rounds):
        chance = random.Random(f"{SEED} {name} {number}")
        path = folder / f"{number}-{name}"
        path.write_bytes(spoiled(original, chance))
        began = time.perf_counter()
        answer = ask(path)
        took = time.perf_counter() - began
        assert took < MOST_S * 3, f"file {number} took {took:.1f} s"
        if answer.code == 2:
            refused += 1
            assert path.name in answer.err, f"file {number} is not named: {answer.err}"
            saw = saw or answer.err.splitlines()[0]
        path.unlink()
    return Seen(saw or f"{rounds} answers, none refused", tried=rounds)


ROUNDS = 375
FEW = 15


@fault("files", "spoiled hourly weather files")
def spoiled_weather(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    original = Path(weather_of(lawn)).read_bytes()
    rows = original.splitlines(keepends=True)
    small = b"".join(rows[:1] + rows[-200:])
    return spoiled_files(
        folder,
        small,
        "weather.csv",
        ROUNDS if nightly else FEW,
        lambda path: lawn.asks("weather", "--weather", str(path)),
    )


@fault("files", "spoiled usual years")
def spoiled_usual_years(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    year = ["month,eto_mm_d,rain_mm,counted_mm,tmin_c,source"]
    year += [
        f"{month},{1 + (6 - abs(month - 7)) * 0.8:.1f},{40 + month},{20 + month},{month},made"
        for month in range(1, 13)
    ]
    return spoiled_files(
        folder,
        "\n".join(year).encode() + b"\n",
        "climate.csv",
        ROUNDS if nightly else FEW,
        lambda path: lawn.asks("clock-sheet", "--climate", str(path)),
    )


@fault("files", "spoiled catch-can files")
def spoiled_cans(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    cans = ["volume_ml,x_m,y_m", *(f"{18 + i % 7}.5,{i % 4 * 3},{i // 4 * 3}" for i in range(16))]
    return spoiled_files(
        folder,
        "\n".join(cans).encode() + b"\n",
        "cans.csv",
        ROUNDS if nightly else FEW,
        lambda path: lawn.asks(
            "audit", "Front", "--minutes", "20", "--cans", str(path), "--throat", "80 cm2", "--dry-run"
        ),
    )


@fault("files", "spoiled records to import")
def spoiled_records(folder: Path, nightly: bool) -> Seen:
    lawn = Lawn(folder / "lawn")
    original = shipped("data", "demo_records.json").read_bytes()
    rounds = ROUNDS if nightly else FEW
    seen = spoiled_files(
        folder,
        original,
        "records.json",
        rounds // 2,
        lambda path: lawn.asks("records", "import", str(path)),
    )
    csv_folder = folder / "csv"
    lawn.asks("records", "import", str(shipped("data", "demo_records.json")), "--yes")
    lawn.asks("records", "export", str(csv_folder))

    def taken_in(path: Path) -> Answer:
        place = folder / "in"
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir()
        shutil.copy(path, place / path.name.split("-", 1)[1])
        answer = lawn.asks("records", "import", str(place), "--yes", "--leave-out")
        return Answer(answer.code, answer.out, answer.err.replace(str(place), str(path)))

    before = lawn.count()
    seen_csv = spoiled_files(
        folder, (csv_folder / "runs.csv").read_bytes(), "runs.csv", rounds - rounds // 2, taken_in
    )
    assert lawn.asks("records", "list").code == 0
    assert lawn.kept().unusable == (), "what cannot be was let in"
    return Seen(seen.owner_saw or seen_csv.owner_saw, tried=rounds, lost=max(before - lawn.count(), 0))
