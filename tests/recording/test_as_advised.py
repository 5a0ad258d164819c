"""`advisor record run --as-advised` where some of the advised runs waited for a look at the gauge."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from made import kept_advice
from typer.testing import CliRunner

from advisor.advice.advice import Advice
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.lawn.load import load_site
from advisor.lawn.records import Run
from advisor.night import demo_records, demo_weather, keep, settled
from advisor.shipped import shipped
from advisor.store import open_store
from advisor.tonight.advise import advise

RULE = "the gauge shows under 4.0 mm at 01:45"


def _run(zone: str, begins: str, ends: str, **more: object) -> dict[str, object]:
    cycles = [{"starts_at": f"2026-06-18T{begins}-05:00", "ends_at": f"2026-06-18T{ends}-05:00"}]
    return {"zone": zone, "minutes": 20.0, "depth_mm": 4.4, "cycles": cycles, "only_if": "", **more}


ADVICE = kept_advice(
    _run("Bank", "04:00", "04:20"),
    _run("Front", "04:20", "04:40", only_if=RULE),
    _run("Back", "04:40", "05:00", only_if=RULE),
    _run("Side", "13:00", "13:08", minutes=8.0),
)


@pytest.fixture
def site(tmp_path: Path) -> Path:
    """The demo's site in a folder of its own, with this advice kept."""
    path = tmp_path / "site.yaml"
    path.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    with open_store(tmp_path / "larkmoor-lane.sqlite") as store:
        store.keep_advice(
            ADVICE,
            site="Larkmoor Lane",
            night=date(2026, 6, 17),
            given_at=datetime(2026, 6, 18, 1, 15, tzinfo=UTC),
            digest="d",
        )
    return path


def record(site: Path, *words: str, now: str = "2026-06-18T07:00") -> str:
    """What the command printed, or the sentence that it was refused with."""
    result = CliRunner().invoke(
        program(), ["record", "run", *words, "--as-advised", "--site", str(site), "--now", now]
    )
    if isinstance(result.exception, AdvisorError):
        return f"refused: {result.exception}"
    assert result.exception is None, result.exception
    return result.output


def kept(site: Path) -> list[tuple[str, float]]:
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        runs: tuple[Run, ...] = store.records().runs
    return [(run.zone, run.minutes) for run in runs]


def test_a_run_that_waited_for_a_look_is_not_taken_to_have_run(site: Path) -> None:
    told = record(site)
    assert kept(site) == [("Bank", 20.0)]
    assert f"Not recorded: Front and Back were to run only if {RULE}. Add --conditional" in told
    assert "Not over yet: Side, " in told


def test_a_run_that_waited_is_recorded_when_it_is_said_that_it_ran(site: Path) -> None:
    told = record(site, "--conditional")
    assert kept(site) == [("Bank", 20.0), ("Front", 20.0), ("Back", 20.0)]
    assert "Not recorded" not in told


def test_what_was_left_out_can_be_recorded_later(site: Path) -> None:
    record(site)
    told = record(site, "--conditional", "front", now="2026-06-18T08:00")
    assert "Recorded run 2: Front" in told
    told = record(site, now="2026-06-18T15:00")
    assert "Recorded already: Bank (run 1) and Front (run 2)." in told
    assert kept(site) == [("Bank", 20.0), ("Front", 20.0), ("Side", 8.0)]
    assert "recorded already: Bank (run 1), Front (run 2) and Side (run 3)" in record(
        site, now="2026-06-18T15:10"
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        pytest.param(["front"], f"Front was to run only if {RULE}; nothing was written", id="waits"),
        pytest.param(["side"], "is over before", id="later today"),
    ],
)
def test_a_zone_that_did_not_run_for_sure_is_refused(site: Path, words: list[str], told: str) -> None:
    assert told in record(site, *words)
    assert kept(site) == []


def test_skipping_the_night_says_nothing_of_runs_that_only_waited(site: Path) -> None:
    record(site, "--skipped")
    assert kept(site) == [("Bank", 0.0)]


def test_conditional_goes_with_as_advised_only(site: Path) -> None:
    words = ["record", "run", "Front", "18", "--at", "05:10", "--conditional", "--site", str(site)]
    result = CliRunner().invoke(program(), [*words, "--now", "2026-06-18T07:00"])
    assert isinstance(result.exception, AdvisorError)
    assert "--as-advised only" in str(result.exception)


@pytest.mark.parametrize(
    "form",
    [
        pytest.param({"schema_version": "advisor.advice/99"}, id="a form to come"),
        pytest.param({"next_looks": []}, id="a run that waits, and no look that says for what"),
    ],
)
def test_an_advice_that_is_not_understood_records_nothing(site: Path, form: dict[str, object]) -> None:
    with open_store(site.with_name("larkmoor-lane.sqlite")) as store:
        store.keep_advice(
            json.dumps(json.loads(ADVICE) | form),
            site="Larkmoor Lane",
            night=date(2026, 6, 17),
            given_at=datetime(2026, 6, 18, 1, 20, tzinfo=UTC),
            digest="e",
        )
    assert "of a form that is not understood; record the runs by hand" in record(site)
    assert kept(site) == []


# --- what a later advice no longer plans ------------------------------------------------------------


@pytest.fixture
def evenings(tmp_path: Path) -> Callable[..., Advice]:
    """Asks of the demo's lawn at local times, each kept, after the one before."""
    path = tmp_path / "site.yaml"
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    past: list[Advice] = []

    def ask(when: str, *, by_itself: bool = True, previous: Advice | None = None) -> Advice:
        path.write_text(text if by_itself else text.replace("assume_made_after:", "# "), encoding="utf-8")
        site = load_site(path)
        now = datetime.fromisoformat(when).replace(tzinfo=site.place.zone)
        records = demo_records()
        with open_store(site.records_path) as store:
            records = replace(records, runs=(*records.runs, *store.records().runs))
        weather = settled(demo_weather(), records, now)
        previous = previous or (past[-1] if past else None)
        past.append(advise(site=site, records=records, weather=weather, now=now, previous=previous))
        with open_store(site.records_path) as store:
            keep(store, past[-1])
        return past[-1]

    return ask


def test_runs_that_had_begun_at_a_second_ask_are_recorded_as_advised(
    evenings: Callable[..., Advice], tmp_path: Path
) -> None:
    first = evenings("2026-06-17T20:15")
    second = evenings("2026-06-18T04:20")
    assert len(second.runs) < len(first.runs)
    record(tmp_path / "site.yaml", now="2026-06-18T06:30")
    assert sorted(kept(tmp_path / "site.yaml")) == sorted((run.zone, run.minutes) for run in first.runs)


@pytest.mark.parametrize("by_itself", [True, False], ids=["a clock makes them", "by hand"])
@pytest.mark.parametrize(
    "asks", [["2026-06-18T07:00"], ["2026-06-18T20:15"], ["2026-06-18T07:00", "2026-06-18T20:15"]]
)
def test_the_night_before_is_recorded_as_advised_though_the_next_was_asked_for(
    evenings: Callable[..., Advice], tmp_path: Path, asks: list[str], by_itself: bool
) -> None:
    first = evenings("2026-06-17T20:15", by_itself=by_itself)
    for ask in asks:
        last = evenings(ask, by_itself=by_itself)
    assert any("--as-advised" in text for text in last.unknowns)
    record(tmp_path / "site.yaml", now=asks[-1])
    assert sorted(kept(tmp_path / "site.yaml")) == sorted((run.zone, run.minutes) for run in first.runs)
    after = evenings(asks[-1], by_itself=by_itself)
    assert not any("as-advised" in text for text in after.unknowns)


def test_a_run_that_is_recorded_by_hand_is_not_recorded_again(
    evenings: Callable[..., Advice], tmp_path: Path
) -> None:
    first = evenings("2026-06-17T20:15")
    run = first.runs[0]
    begun = run.cycles[0].starts_at.astimezone(ZoneInfo(first.time_zone))
    site = tmp_path / "site.yaml"
    words = ["record", "run", run.zone, "70", "--at", f"{begun:%H:%M}", "--site", str(site)]
    CliRunner().invoke(program(), [*words, "--now", "2026-06-18T06:00"], catch_exceptions=False)
    told = record(site, now="2026-06-18T06:30")
    assert f"Recorded already: {run.zone} (run 1)." in told
    assert sorted(zone for zone, _ in kept(site)) == sorted(each.zone for each in first.runs)


def test_the_run_that_was_planned_last_is_the_one_recorded_and_the_first_never_beside_it(
    evenings: Callable[..., Advice], tmp_path: Path
) -> None:
    site = tmp_path / "site.yaml"
    first = evenings("2026-06-17T20:15", by_itself=False)
    second = evenings("2026-06-18T03:40", by_itself=False)
    anew = {run.zone: run for run in second.runs}
    before = {run.zone for run in second.unrecorded}
    assert before & anew.keys()
    told = record(site, now="2026-06-18T06:30")
    assert sorted(kept(site)) == sorted((run.zone, run.minutes) for run in second.runs)
    for zone in before - anew.keys():
        assert f"Not recorded: {zone}, advised for" in told
    again = record(site, now="2026-06-18T06:40")
    assert again.startswith("refused: recorded already: ")
    third = evenings("2026-06-18T07:00", by_itself=False)
    assert {run.zone for run in third.unrecorded} == before - anew.keys()
    assert len(first.runs) == len({*before, *anew})


def test_what_counts_as_not_made_is_recorded_where_it_is_named(
    evenings: Callable[..., Advice], tmp_path: Path
) -> None:
    """A hose beside a clock: its run is never taken as made, and never recorded with the others."""
    site = tmp_path / "site.yaml"
    first = evenings("2026-06-17T20:15")
    zone = first.runs[0].zone
    moved = [run.model_copy(update={"by_hand": run.zone == zone}) for run in first.runs]
    evenings("2026-06-18T06:30", previous=first.model_copy(update={"runs": tuple(moved)}))
    told = record(site, now="2026-06-18T07:00")
    assert zone not in {each for each, _ in kept(site)}
    assert f"If it ran: `advisor record run {zone} --as-advised`." in told
    assert record(site, now="2026-06-18T07:01").startswith("refused: recorded already: ")
    record(site, zone, now="2026-06-18T07:02")
    assert sorted(each for each, _ in kept(site)) == sorted(run.zone for run in first.runs)


def test_a_run_that_goes_on_can_be_told_to_be_skipped(
    evenings: Callable[..., Advice], tmp_path: Path
) -> None:
    site = tmp_path / "site.yaml"
    evenings("2026-06-17T20:15")
    going = evenings("2026-06-18T03:10").under_way
    assert [run.zone for run in going] == ["Bank"]
    record(site, "--skipped", "bank", now="2026-06-18T03:12")
    assert kept(site) == [("Bank", 0.0)]
    after = evenings("2026-06-18T03:12")
    assert "Bank" not in {run.zone for run in after.under_way}
