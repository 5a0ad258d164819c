"""`advisor record` and `advisor records`, as an owner types them."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from made import kept_advice

from advisor.errors import AdvisorError
from advisor.faces.cli import main as cli
from advisor.lawn.records import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    RainPair,
    Records,
    Run,
    StockChange,
)
from advisor.lawn.records_file import records_from_json, records_to_json
from advisor.shipped import shipped
from advisor.store import open_store
from advisor.wording import INVENTED

NOW = "2026-06-17T20:15"
Advisor = Callable[..., tuple[int, str, str]]


def utc(text: str) -> datetime:
    """A local time of the demo site, five hours behind UTC in summer."""
    return datetime.fromisoformat(f"{text}-05:00").astimezone(UTC)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The invented site's file in a folder of its own, so that its records lie beside it."""
    path = tmp_path / "site.yaml"
    shutil.copy(shipped("config", "demo.yaml"), path)
    return path


@pytest.fixture
def advisor(site: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Advisor:
    """Run the command line on the site; (exit code, out, err)."""

    def run(*words: str, now: str = NOW) -> tuple[int, str, str]:
        where = [] if "--demo" in words else ["--site", str(site)]
        monkeypatch.setattr("sys.argv", ["advisor", *words, *where, "--now", now])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        out, err = capsys.readouterr()
        return int(ended.value.code or 0), out, err

    return run


NOTE = "Larkmoor Lane, invented"
SAMPLE = Records(
    applications=(
        Application(
            "Wetting agent",
            ("Front", "Back"),
            utc("2026-06-17T16:30"),
            utc("2026-06-17T17:10"),
            "backpack",
            rate=1.592,
            note=NOTE,
            id=1,
        ),
    ),
    runs=(
        Run("Front", utc("2026-06-14T04:30"), utc("2026-06-14T04:52"), 22.0, source="clock", note=NOTE, id=1),
        Run("Back", utc("2026-06-14T04:52"), utc("2026-06-14T05:16"), 24.0, source="clock", note=NOTE, id=2),
    ),
    gauge=(GaugeReading(utc("2026-06-10T06:30"), 5.08, note=NOTE, id=1),),
    audits=(Audit("Front", utc("2026-05-09T07:00"), 13.208, 0.68, cans=24, note=NOTE, id=1),),
)
COUNTED = "1 application, 2 runs, 1 gauge reading and 1 audit"


@pytest.fixture
def sample(tmp_path: Path) -> str:
    """A file with a few records."""
    (tmp_path / "sample.json").write_text(records_to_json(SAMPLE), encoding="utf-8")
    return str(tmp_path / "sample.json")


def kept(site: Path) -> Records:
    with open_store(site.with_name("larkmoor-lane.sqlite"), create=False) as store:
        return store.records()


def test_a_round_is_recorded_with_its_products_and_what_it_took_from_the_stock(
    advisor: Advisor, site: Path
) -> None:
    code, out, _ = advisor(
        "record",
        "application",
        "summer soil round",
        "--zones",
        "front, Back",
        "--at",
        "16:30",
        "--until",
        "17:10",
    )
    assert code == 0
    assert out == (
        "Recorded applications 1–2: Potash solution and Calcium solution on Front and Back by tank, "
        "Wed 17 Jun 2026 16:30–17:10; used up 22.0 fl oz Potash solution and 35.8 fl oz Calcium solution "
        "(undo: advisor records undo)\n"
    )
    records = kept(site)
    assert [a.product for a in records.applications] == ["Potash solution", "Calcium solution"]
    assert {a.zones for a in records.applications} == {("Front", "Back")}
    assert {(a.started_at, a.ended_at) for a in records.applications} == {
        (utc("2026-06-17T16:30"), utc("2026-06-17T17:10"))
    }
    assert len({a.round_id for a in records.applications}) == 1
    assert records.applications[0].round_id
    # 4 and 6.5 fl oz per 1,000 sq ft on 2,400 + 3,100 sq ft are 22 and 35.75 fl oz, 29.5735 mL each
    assert [s.amount for s in records.stock] == pytest.approx([-22.0 * 29.5735295625, -35.75 * 29.5735295625])
    assert advisor("records", "undo")[0] == 0
    assert kept(site) == Records()


@pytest.mark.parametrize(
    ("words", "method", "dilution", "rate"),
    [
        pytest.param(["Wetting agent", "--method", "tank"], "tank", None, 1.5916, id="rate of the site file"),
        pytest.param(
            ["Wetting agent", "--method", "hose-end sprayer"], "hose-end", 24.0, 1.5916, id="equipment"
        ),
        pytest.param(
            ["Wetting agent", "--method", "hose-end", "--dilution", "10:1", "--rate", "2 mL/m2"],
            "hose-end",
            10.0,
            2.0,
            id="all said",
        ),
        pytest.param(["Autumn granules"], "spreader", None, 21.9709, id="granules"),
        pytest.param(["Potash solution"], "backpack", None, 1.2733, id="of several what asks the most water"),
    ],
)
def test_method_dilution_and_rate_are_taken_from_what_is_said_or_the_site_file(
    advisor: Advisor, site: Path, words: list[str], method: str, dilution: float | None, rate: float
) -> None:
    with_hose_end = 'equipment:\n  - {name: Hose-end sprayer, method: hose-end, dilution: "24:1"}\n'
    site.write_text(site.read_text(encoding="utf-8").replace("equipment:\n", with_hose_end))
    assert advisor("record", "application", *words)[0] == 0
    (found,) = kept(site).applications
    assert (found.method, found.dilution) == (method, dilution)
    assert found.rate == pytest.approx(rate, abs=1e-4)
    assert found.zones == ("Front", "Back", "Side", "Bank")
    assert found.started_at == found.ended_at == utc(NOW)
    assert found.round_id == ""


@pytest.mark.parametrize(
    ("text", "when"),
    [
        pytest.param("16:30", "2026-06-17T16:30", id="today"),
        pytest.param("20:15", "2026-06-17T20:15", id="just now"),
        pytest.param("21:00", "2026-06-16T21:00", id="not yet today, so yesterday"),
        pytest.param("2026-06-01T05:00", "2026-06-01T05:00", id="full"),
        pytest.param("2026-06-01 05:00", "2026-06-01T05:00", id="with a space"),
        pytest.param("2026-06-01T10:00+00:00", "2026-06-01T05:00", id="with an offset"),
    ],
)
def test_a_time_is_local_and_the_last_one_before_now(
    advisor: Advisor, site: Path, text: str, when: str
) -> None:
    assert advisor("record", "rain", "6mm", "--at", text)[0] == 0
    (reading,) = kept(site).gauge
    assert (reading.read_at, reading.depth_mm) == (utc(when), 6.0)


def test_an_end_without_a_date_is_the_first_one_after_the_beginning(advisor: Advisor, site: Path) -> None:
    advisor(
        "record",
        "application",
        "Wetting agent",
        "--method",
        "tank",
        "--at",
        "2026-06-15T23:30",
        "--until",
        "00:10",
    )
    assert kept(site).applications[0].ended_at == utc("2026-06-16T00:10")


@pytest.mark.parametrize(
    ("now", "at", "when"),
    [
        pytest.param("2026-11-01T12:00", "01:30", "2026-11-01T01:30-06:00", id="both gone by: the second"),
        pytest.param("2026-11-01T01:40-05:00", "01:30", "2026-11-01T01:30-05:00", id="only the first yet"),
        pytest.param("2026-11-01T12:00", "2026-11-01T01:30-05:00", "2026-11-01T01:30-05:00", id="said which"),
    ],
)
def test_an_hour_that_comes_twice_is_taken_once_and_told(
    advisor: Advisor, site: Path, now: str, at: str, when: str
) -> None:
    code, out, _ = advisor("record", "rain", "6 mm", "--at", at, now=now)
    assert code == 0
    assert kept(site).gauge[0].read_at == datetime.fromisoformat(when)
    assert ("came twice on 2026-11-01" in out) == ("-" not in at[10:])


@pytest.mark.parametrize(
    ("words", "now", "told"),
    [
        pytest.param(["record", "rain", "6"], NOW, "AMOUNT: a depth needs its unit; found '6'", id="no unit"),
        pytest.param(
            ["record", "rain", "6mm", "--at", "2026-06-18T06:00"], NOW, "only what has happened", id="future"
        ),
        pytest.param(
            ["record", "rain", "6mm", "--at", "25:00"], NOW, "a time is not understood", id="no time"
        ),
        pytest.param(["record", "rain", "6mm", "--at", "2026-06-16"], NOW, "a time is not", id="only a date"),
        pytest.param(["record", "rain", "6mm", "--at", "noon"], NOW, "allowed: 16:30", id="a word"),
        pytest.param(
            ["record", "rain", "6mm", "--at", "02:30"], "2026-03-08T12:00", "did not exist", id="skipped hour"
        ),
        pytest.param(
            ["record", "rain", "6mm", "--at", "06:00", "--since", "07:00"], NOW, "emptied before", id="since"
        ),
        pytest.param(
            ["record", "application", "Weting agent"], NOW, "did you mean 'Wetting agent'", id="slip"
        ),
        pytest.param(
            ["record", "application", "Wetting agent", "--zones", "Frnt"],
            NOW,
            "did you mean 'Front'",
            id="zone",
        ),
        pytest.param(
            ["record", "application", "Wetting agent", "--zones", ","], NOW, "no zone is", id="no zone"
        ),
        pytest.param(
            ["record", "application", "Wetting agent", "--method", "bucket"],
            NOW,
            "no such method",
            id="method",
        ),
        pytest.param(
            ["record", "application", "Wetting agent", "--method", "tank", "--rate", "3 lb/1000 sq ft"],
            NOW,
            "--rate: ",
            id="a granule's rate for a liquid",
        ),
        pytest.param(
            ["record", "application", "Wetting agent", "--method", "tank", "--dilution", "24"],
            NOW,
            "--dilution: ",
            id="dilution",
        ),
        pytest.param(
            [
                "record",
                "application",
                "Wetting agent",
                "--method",
                "tank",
                "--at",
                "16:30",
                "--until",
                "2026-06-17T16:00",
            ],
            NOW,
            "the end lies before",
            id="ends before",
        ),
        pytest.param(["record", "run", "Front", "18"], NOW, "and when it began", id="run without a time"),
        *(
            pytest.param(
                ["record", "run", "Front", minutes, "--at", "05:00"],
                NOW,
                f"found '{minutes}'; allowed: more than 0 up to 1,440 minutes",
                id=f"{minutes} minutes",
            )
            for minutes in ("long", "0", "5000", "25 h")
        ),
        *(
            pytest.param(
                ["record", *words],
                NOW,
                "nothing below zero is recorded; found '-5",
                id=f"{words[0]} below zero",
            )
            for words in (
                ["run", "Front", "-5", "--at", "05:00"],
                ["rain", "-5mm"],
                ["probe", "Front", "-5 mm"],
            )
        ),
        pytest.param(
            [
                "record",
                "application",
                "Wetting agent",
                "--method",
                "tank",
                "--at",
                "17:00",
                "--until",
                "16:00",
            ],
            NOW,
            "the end lies before the beginning; found '16:00'; allowed: from 17:00 on",
            id="ends before, by the clock",
        ),
        pytest.param(["record", "run", "Lawn", "18", "--at", "05:00"], NOW, "no such zone", id="run zone"),
        pytest.param(["record", "run", "--skipped"], NOW, "--as-advised only", id="skipped what"),
        pytest.param(
            ["record", "run", "Front", "18", "--as-advised"], NOW, "from the advice", id="advised minutes"
        ),
        pytest.param(["record", "probe", "Front", "dry"], NOW, "DEPLETION: a depth", id="probe"),
        pytest.param(["record", "stock", "Wetting agent", "2 kg"], NOW, "AMOUNT: a volume", id="stock"),
        pytest.param(["records", "list"], NOW, "there are no records at", id="nothing there"),
        pytest.param(
            ["records", "list", "--kind", "walks"], NOW, "no such kind of record; found 'walks'", id="kind"
        ),
        pytest.param(
            ["records", "import", "gone.json"], NOW, "gone.json: the file cannot be read", id="import"
        ),
    ],
)
def test_what_cannot_be_recorded_is_one_sentence_and_nothing_is_written(
    advisor: Advisor, site: Path, words: list[str], now: str, told: str
) -> None:
    code, out, err = advisor(*words, now=now)
    assert (code, out) == (2, "")
    assert err.startswith("advisor: ")
    assert told in err
    assert "Traceback" not in err
    assert not site.with_name("larkmoor-lane.sqlite").exists()


@pytest.mark.parametrize(
    ("words", "told"),
    [
        pytest.param(
            ["rain", "600 mm"], "allowed: up to 9.84 in for a day; if it is so, say --anyway", id="rain"
        ),
        pytest.param(["probe", "Front", "200 mm"], "root zone of Front holds; found 7.87 in", id="probe"),
        pytest.param(
            ["application", "Wetting agent", "--method", "tank", "--rate", "50 fl oz/1000 sq ft"],
            "the rate is 10 times that of Wetting agent",
            id="rate",
        ),
    ],
)
def test_a_slip_of_the_unit_is_refused_and_nothing_is_recorded(
    advisor: Advisor, site: Path, words: list[str], told: str
) -> None:
    code, out, err = advisor("record", *words)
    assert (code, out) == (2, "")
    assert told in err
    assert kept(site) == Records()


def test_an_edit_cannot_bring_in_a_slip_either(advisor: Advisor, site: Path) -> None:
    assert advisor("record", "rain", "6 mm")[0] == 0
    code, _, err = advisor("records", "edit", "1", "--kind", "rain", "--set", "depth_mm=600 mm")
    assert code == 2
    assert "so much rain is likely a slip" in err
    assert kept(site).gauge[0].depth_mm == 6.0


def test_a_weed_killer_on_seed_is_recorded_with_a_loud_word(advisor: Advisor, site: Path) -> None:
    text = site.read_text(encoding="utf-8")
    site.write_text(
        text.replace("  - name: Bank\n", "  - name: Bank\n    mode: seed\n    mode_until: 2026-07-01\n")
    )
    code, out, _ = advisor("record", "application", "Weed spray", "--zones", "Bank", "--method", "backpack")
    assert code == 0
    assert out.splitlines()[1] == (
        "TAKE CARE: Weed spray on Bank can stop or kill grass that comes up from seed, and it is in seed "
        "mode until Wed 1 Jul 2026: read its label now."
    )


def test_a_stock_that_falls_below_zero_is_told(advisor: Advisor) -> None:
    code, out, _ = advisor("record", "stock", "Wetting agent", "2 gal", "--used")
    assert code == 0
    assert "The stock of Wetting agent is " in out
    assert " below zero: more was used than is known to be there" in out


@pytest.mark.parametrize("minutes", ["18", "18 min", "0.3 h"])
def test_a_run_is_minutes_with_or_without_the_word(advisor: Advisor, site: Path, minutes: str) -> None:
    code, out, _ = advisor("record", "run", "front", minutes, "--at", "05:10", "--depth", "0.2 in")
    assert code == 0
    assert out == (
        "Recorded run 1: Front 18 min, 0.20 in, by hand, Wed 17 Jun 2026 05:10–05:28 (undo: advisor records undo)\n"
    )
    (run,) = kept(site).runs
    assert (run.started_at, run.ended_at) == (utc("2026-06-17T05:10"), utc("2026-06-17T05:28"))
    assert (run.minutes, run.depth_mm) == (18.0, pytest.approx(5.08))


def test_the_same_thing_is_not_recorded_twice(advisor: Advisor, site: Path) -> None:
    words = ("record", "application", "Wetting agent", "--method", "tank", "--at", "16:30")
    assert advisor(*words)[0] == 0
    code, _, err = advisor(*words, "--note", "again")
    assert (code, err) == (
        2,
        "advisor: this is recorded already as application 1; nothing was written\n",
    )
    assert len(kept(site).applications) == 1


def test_a_run_that_goes_on_is_recorded_and_that_is_told(advisor: Advisor, site: Path) -> None:
    code, out, _ = advisor("record", "run", "Front", "18", "--at", "20:10")
    assert code == 0
    assert "It goes on until 20:28; all of its water counts already." in out
    (run,) = kept(site).runs
    assert (run.started_at, run.ended_at, run.minutes) == (
        utc("2026-06-17T20:10"), utc("2026-06-17T20:28"), 18.0
    )  # fmt: skip
    told = json.loads(advisor("record", "run", "Back", "30", "--at", "20:00", "--json")[1])
    assert [(n["kind"], n["ends_at"]) for n in told["notes"]] == [("goes on", "2026-06-18T01:30:00Z")]


def test_a_dry_gauge_a_probe_and_stock_are_recorded(advisor: Advisor, site: Path) -> None:
    assert advisor("record", "rain", "0", "--at", "06:30", "--since", "2026-06-16T06:30")[0] == 0
    assert advisor("record", "probe", "bank", "12 mm")[0] == 0
    assert advisor("record", "stock", "wetting agent", "32 fl oz", "--why", "bought")[0] == 0
    assert advisor("record", "stock", "Autumn granules", "2 kg", "--used")[0] == 0
    records = kept(site)
    assert (records.gauge[0].depth_mm, records.gauge[0].since) == (0.0, utc("2026-06-16T06:30"))
    assert (records.probes[0].zone, records.probes[0].depletion_mm) == ("Bank", 12.0)
    assert [(s.product, round(s.amount, 3)) for s in records.stock] == [
        ("Wetting agent", 946.353),
        ("Autumn granules", -2000.0),
    ]


ADVICE = kept_advice(
    {
        "zone": "Front",
        "minutes": 20.0,
        "depth_mm": 4.4,
        "cycles": [
            {"starts_at": "2026-06-18T09:00:00Z", "ends_at": "2026-06-18T09:10:00Z"},
            {"starts_at": "2026-06-18T09:40:00Z", "ends_at": "2026-06-18T09:50:00Z"},
        ],
    },
    {
        "zone": "Bank",
        "minutes": 8.0,
        "depth_mm": 3.0,
        "cycles": [{"starts_at": "2026-06-18T09:50:00Z", "ends_at": "2026-06-18T09:58:00Z"}],
    },
)
MORNING = "2026-06-18T07:00"


@pytest.fixture
def advised(site: Path) -> None:
    """An advice of the night before is kept."""
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        store.keep_advice(
            ADVICE, site="Larkmoor Lane", night=date(2026, 6, 17), given_at=utc(NOW), digest="d"
        )


@pytest.mark.usefixtures("advised")
@pytest.mark.parametrize(
    ("words", "share", "ends", "note"),
    [
        pytest.param([], 1.0, "2026-06-18T04:50", "", id="as planned"),
        pytest.param(["--night", "2026-06-17"], 1.0, "2026-06-18T04:50", "", id="of that night"),
        pytest.param(["--shortened", "50 %"], 0.5, "2026-06-18T04:45", "shortened to 50 %", id="shortened"),
        pytest.param(["--skipped"], 0.0, "2026-06-18T04:40", "skipped", id="skipped"),
    ],
)
def test_the_advised_runs_are_recorded_in_one_step(
    advisor: Advisor, site: Path, words: list[str], share: float, ends: str, note: str
) -> None:
    code, out, _ = advisor("record", "run", "--as-advised", *words, now=MORNING)
    assert code == 0
    assert out.startswith("Recorded run 1: Front")
    front, bank = kept(site).runs
    assert (front.zone, bank.zone) == ("Front", "Bank")
    assert (front.minutes, front.depth_mm) == (20 * share, pytest.approx(4.4 * share))
    assert (front.started_at, front.ended_at) == (utc("2026-06-18T04:00"), utc(ends))
    assert (front.source, front.note) == ("as advised", note)
    code, _, err = advisor("record", "run", "--as-advised", now=MORNING)
    assert code == 2
    assert "recorded already: Front (run 1) and Bank (run 2)" in err
    advisor("records", "undo")
    assert kept(site).runs == ()


@pytest.mark.usefixtures("advised")
@pytest.mark.parametrize(
    ("words", "now", "told"),
    [
        pytest.param([], NOW, "no advised run is over before Thu 18 Jun 2026 04:50", id="too early"),
        pytest.param(
            ["--night", "2026-06-16"], MORNING, "no advice was kept for the night of 2026-06-16", id="none"
        ),
        pytest.param(["--night", "Tuesday"], MORNING, "--night: a night is a date", id="no date"),
        pytest.param(["Side", "--as-advised"], MORNING, "planned no run on Side", id="zone not in it"),
        pytest.param(["--shortened", "120 %"], MORNING, "less than the whole", id="longer"),
        pytest.param(["--shortened", "half"], MORNING, "--shortened: ", id="no share"),
    ],
)
def test_advised_runs_that_cannot_be_recorded_are_told(
    advisor: Advisor, site: Path, words: list[str], now: str, told: str
) -> None:
    code, _, err = advisor("record", "run", *words, "--as-advised", now=now)
    assert code == 2
    assert told in err
    assert kept(site).runs == ()


@pytest.mark.usefixtures("advised")
def test_one_zone_of_the_advice_can_be_recorded_alone(advisor: Advisor, site: Path) -> None:
    assert advisor("record", "run", "bank", "--as-advised", "--skipped", now=MORNING)[0] == 0
    assert advisor("record", "run", "front", "--as-advised", now=MORNING)[0] == 0
    assert {(run.zone, run.minutes) for run in kept(site).runs} == {("Bank", 0.0), ("Front", 20.0)}


def test_edit_reads_fields_as_the_owner_writes_them_and_undo_puts_them_back(
    advisor: Advisor, site: Path, sample: str
) -> None:
    advisor("records", "import", sample, "--yes")
    before = kept(site)
    code, out, _ = advisor(
        "records", "edit", "1", "--kind", "run",
        "--set", "minutes=20 min", "--set", "ended_at=04:50", "--set", "zone=bank", "--set", "depth_mm=0.2 in",
    )  # fmt: skip
    assert code == 0
    assert out.startswith("Changed run 1: Bank 20 min, 0.20 in, clock, Sun 14 Jun 2026 04:30–04:50")
    assert "; was Front 22 min" in out
    run = next(run for run in kept(site).runs if run.id == 1)
    assert (run.zone, run.minutes, run.depth_mm) == ("Bank", 20.0, pytest.approx(5.08))
    assert run.ended_at == utc("2026-06-14T04:50")
    advisor("records", "edit", "1", "--kind", "gauge", "--set", "depth_mm=7", "--set", "since=none")
    advisor(
        "records", "edit", "1", "-k", "applications", "--set", "zones=side,front", "--set", "rate=1 mL/m2"
    )
    after = kept(site)
    assert after.gauge[0].depth_mm == 7.0
    assert next(a for a in after.applications if a.id == 1).zones == ("Side", "Front")
    for _ in range(3):
        code, out, _ = advisor("records", "undo")
        assert "stands as before" in out
    assert kept(site) == before
    assert advisor("records", "undo")[1] == "Undone: the import of 5 records.\n"
    assert kept(site) == Records()
    assert advisor("records", "undo")[1] == "There is nothing to undo.\n"


@pytest.mark.parametrize(
    ("kind", "change", "told"),
    [
        ("runs", "minuts=3", "did you mean 'minutes'"),
        ("runs", "minutes", "is FIELD=VALUE"),
        ("runs", "id=3", "is FIELD=VALUE"),
        ("runs", "minutes=long", "--set minutes: "),
        ("runs", "minutes=-3", "0 to 1,440"),
        ("runs", "zone=Frnt", "did you mean 'Front'"),
        ("runs", "started_at=never", "a time is not understood"),
        ("runs", "ended_at=04:00", "not before started_at"),
        ("applications", "rate=3", "needs its unit"),
        ("applications", "product=Kale", "no such product"),
        ("audits", "cans=some", "a whole number"),
        ("walks", "a=b", "no such kind of record"),
    ],
)
def test_an_edit_that_cannot_be_is_told_and_changes_nothing(
    advisor: Advisor, site: Path, sample: str, kind: str, change: str, told: str
) -> None:
    advisor("records", "import", sample, "--yes")
    before = kept(site)
    code, _, err = advisor("records", "edit", "1", "--kind", kind, "--set", change)
    assert code == 2
    assert told in err
    assert kept(site) == before


def test_remove_takes_an_application_out_with_what_it_took_from_the_stock(
    advisor: Advisor, site: Path
) -> None:
    advisor("record", "application", "Wetting agent", "--method", "tank")
    before = kept(site)
    code, out, _ = advisor("records", "remove", "1", "--kind", "application")
    assert code == 0
    removed, with_it = out.splitlines()
    assert removed.startswith("Removed application 1: Wetting agent on Front, Back, Side and Bank by tank")
    assert with_it.startswith("With it went stock change 1: used ")
    assert kept(site) == Records()
    assert "there is no application 1" in advisor("records", "remove", "1", "--kind", "application")[2]
    advisor("records", "undo")
    assert kept(site) == before


@pytest.mark.parametrize("name", ["all.json", "folder"])
def test_export_and_import_carry_everything_and_double_nothing(
    advisor: Advisor, site: Path, sample: str, tmp_path: Path, name: str
) -> None:
    assert f"Imported {COUNTED} from {sample} (undo" in advisor("records", "import", sample, "--yes")[1]
    assert kept(site) == SAMPLE
    target = str(tmp_path / "out" / name)
    assert advisor("records", "export", target)[1].startswith(f"Exported 5 records to {target}")
    code, _, err = advisor("records", "export", target)
    assert code == 2
    assert "is there already" in err
    code, out, _ = advisor("records", "import", target, "--yes")
    assert "Imported nothing new" in out
    assert f"There already, left out: {COUNTED}" in out
    site.with_name("larkmoor-lane.sqlite").unlink()
    assert "are gone" in advisor("records", "import", target, "--yes")[2]
    advisor("records", "adopt")
    advisor("records", "import", target, "--yes")
    assert kept(site) == SAMPLE


def test_an_import_with_errors_writes_nothing_and_tells_them_all(
    advisor: Advisor, site: Path, tmp_path: Path
) -> None:
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "gauge.csv").write_text(
        "read_at,depth_mm\n2026-06-10T06:30-05:00,6\nx,7\n2026-06-11,y\n"
    )
    code, _, err = advisor("records", "import", str(tmp_path / "in"), "--yes")
    assert code == 2
    places = [line.split(": ")[0].split("/")[-1] for line in err.removeprefix("advisor: ").splitlines()]
    assert places[1:] == ["gauge.csv:3", "gauge.csv:4", "gauge.csv:4"]
    assert "2 rows are held back, and nothing was written; allowed: mend the file; --leave-out" in err
    assert not site.with_name("larkmoor-lane.sqlite").exists()


def test_list_shows_all_in_words_and_as_json(advisor: Advisor, sample: str) -> None:
    advisor("records", "import", sample, "--yes")
    _, out, _ = advisor("records", "list")
    assert out.splitlines() == [
        "applications:",
        "  1  Wetting agent on Front and Back by backpack, 5.0 fl oz/1,000 sq ft, Wed 17 Jun 2026 16:30–17:10 "
        "[Larkmoor Lane, invented]",
        "runs:",
        "  1  Front 22 min, clock, Sun 14 Jun 2026 04:30–04:52 [Larkmoor Lane, invented]",
        "  2  Back 24 min, clock, Sun 14 Jun 2026 04:52–05:16 [Larkmoor Lane, invented]",
        "gauge:",
        "  1  0.20 in of rain since the last reading, read Wed 10 Jun 2026 06:30 [Larkmoor Lane, invented]",
        "audits:",
        "  1  Front 0.52 in/h, uniformity 68 %, catch cans (24 cans), Sat 9 May 2026 07:00 "
        "[Larkmoor Lane, invented]",
    ]
    _, out, _ = advisor("records", "list", "--kind", "rain", "--kind", "probes")
    assert [line.split()[0] for line in out.splitlines()] == ["gauge:", "1", "probes:"]
    _, out, _ = advisor("records", "list", "--json")
    assert records_from_json(out) == SAMPLE
    _, out, _ = advisor("records", "list", "--json", "--kind", "runs")
    assert records_from_json(out) == Records(runs=SAMPLE.runs)


def test_the_demo_records_are_listed_and_sound(advisor: Advisor) -> None:
    demo = records_from_json(shipped("data", "demo_records.json").read_text(encoding="utf-8"))
    assert records_from_json(advisor("records", "list", "--demo", "--json")[1]) == demo
    code, out, _ = advisor("records", "check", "--demo")
    assert code == 0
    assert out.startswith(f"{INVENTED}\n\nThe records are sound: ")


def test_the_hourly_archive_is_listed_only_when_asked_for(advisor: Advisor, site: Path) -> None:
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        store.add_archive([ArchivedHour(utc("2026-06-17T05:00"), 1.0, source="a service")])
        store.add_pairs([RainPair(utc("2026-06-16T19:00"), 12, 6.0, 4.0, 2.0, 5.08, 30)])
    assert advisor("records", "list")[1].splitlines() == [
        "archive: 1 (--kind archive shows them)",
        "pairs: 1 (--kind pairs shows them)",
    ]
    assert "Wed 17 Jun 2026 05:00 rain 0.04 in, a service" in advisor("records", "list", "-k", "archive")[1]
    assert (
        "12 h on: forecast 0.16 in (6 h ahead), in the gauge 0.20 in"
        in advisor("records", "list", "-k", "pairs")[1]
    )


def test_an_empty_file_says_so(advisor: Advisor, site: Path) -> None:
    open_store(site.with_name("larkmoor-lane.sqlite")).close()
    assert advisor("records", "list")[1] == "Nothing is recorded yet.\n"


def test_check_passes_sound_records_and_names_doubtful_ones(advisor: Advisor, site: Path) -> None:
    open_store(site.with_name("larkmoor-lane.sqlite")).close()
    assert advisor("records", "check") == (0, "The records are sound: 0 records looked through.\n", "")
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        store.add_stock(StockChange("Kale", utc(NOW) + timedelta(days=9), 1.0))
    code, out, _ = advisor("records", "check")
    assert code == 1
    assert "Stock change 1: there is no such product in site.yaml; found 'Kale'" in out
    assert "Stock change 1: only what has happened is recorded; found 2026-06-26 20:15" in out


@pytest.mark.parametrize(
    "words",
    [
        ("record", "application", "Wetting agent", "--method", "tank", "--at", "10:00"),
        ("record", "run", "Front", "18", "--at", "05:10"),
        ("record", "rain", "6 mm"),
        ("record", "probe", "Front", "12 mm"),
        ("record", "stock", "Wetting agent", "1 gal"),
        ("records", "edit", "1", "--kind", "gauge", "--set", "depth_mm=1"),
        ("records", "remove", "1", "--kind", "gauge"),
    ],
    ids=lambda words: " ".join(words[:3]),
)
def test_the_demo_writes_to_a_throwaway_copy_and_says_so(
    advisor: Advisor, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    demo = shipped("data", "demo_records.json")
    before = demo.read_bytes()
    code, out, err = advisor(*words, "--demo")
    assert (code, err) == (0, "")
    assert "Demo: this went into a throwaway copy of the invented records; nothing is kept." in out
    assert demo.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["site.yaml"]
    assert not list(shipped("config", "demo.yaml").parent.glob("*.sqlite*"))


def test_the_demo_advice_can_be_recorded_as_advised_the_next_morning(advisor: Advisor) -> None:
    code, out, _ = advisor("record", "run", "--as-advised", "--demo", now="2026-06-18T09:00")
    assert code == 0
    assert out.startswith("Recorded run ")
    assert "as advised" in out


def test_a_records_file_that_cannot_be_used_is_a_sentence(advisor: Advisor, site: Path) -> None:
    site.with_name("larkmoor-lane.sqlite").write_text("not records" * 500)
    code, _, err = advisor("record", "rain", "6 mm")
    assert code == 2
    assert "is not a file of records" in err


def test_a_bug_keeps_its_traceback(advisor: Advisor, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("advisor.recording.entry.depth_of", lambda *a, **k: 1 / 0)
    monkeypatch.setattr("sys.argv", ["advisor", "record", "rain", "6 mm", "--demo"])
    with pytest.raises(ZeroDivisionError):
        cli.main()
    assert not issubclass(ZeroDivisionError, AdvisorError)
