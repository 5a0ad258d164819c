"""`advisor rain` as typed: the decision for what was put down and for what is only asked about."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner

from advisor.advice.advice import Advice
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.shipped import shipped
from advisor.tonight.rain_answer import RainAnswer


def typed(*words: str) -> str:
    result = CliRunner().invoke(program(), list(words))
    assert result.exception is None, result.exception
    return result.output


def run(*words: str) -> str:
    return typed("rain", *words)


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), ["rain", *words])
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def answer(*words: str) -> RainAnswer:
    return RainAnswer.model_validate(json.loads(run(*words, "--json")))


def test_what_is_recorded_has_its_chance_its_ways_and_the_rule_for_the_next_look() -> None:
    text = " ".join(run("--demo").split())
    assert "Potash solution and Calcium solution on Front" in text
    assert "Chance that rain alone brings" in text
    assert "in 8 of 10 cases" in text
    for way in ("leave it to the rain", "as planned tonight", "look at"):
        assert way in text
    assert "Weed spray on Side Keep dry until Thu 09:20" in text


def test_the_answer_is_the_one_that_tonight_gives() -> None:
    tonight = Advice.model_validate(json.loads(typed("tonight", "--demo", "--json")))
    alone = answer("--demo")
    told = {(o.product, o.zone): (o.action, o.words) for o in tonight.obligations}
    assert told == {(v.product, v.zone): (v.action, v.words) for v in alone.verdicts}
    assert alone.what_if is None


def test_the_cheapest_way_is_marked_and_minutes_are_for_the_zone() -> None:
    front = next(v for v in answer("--demo").verdicts if v.zone == "Front")
    chosen = [w for w in front.options if w.chosen]
    assert [w.action for w in chosen] == [front.action]
    assert chosen[0].cost <= min(w.cost for w in front.options) + 0.02
    way = next(w for w in front.options if w.action == "run")
    assert way.minutes > 0
    assert front.top_up_minutes == chosen[0].minutes
    assert f"→ {100 * chosen[0].cost:>2.0f} %  {chosen[0].words[:20]}" in run("--demo")


def test_a_product_only_asked_about_goes_through_the_same_decision() -> None:
    what_if = (
        "--demo",
        "--product",
        "potash solution",
        "--zones",
        "front",
        "--at",
        "16:00",
        "--method",
        "backpack",
    )
    found = answer(*what_if)
    assert found.what_if is not None
    assert found.what_if.zones == ("Front",)
    (verdict,) = found.verdicts
    assert verdict.product == "Potash solution"
    assert verdict.chance is not None
    assert 0 < verdict.chance < 1
    assert "Nothing is recorded." in " ".join(run(*what_if).split())


def test_a_spraying_still_to_come_is_judged_from_then_on() -> None:
    found = answer("--demo", "--product", "Potash solution", "--zones", "Bank", "--at", "2026-06-19T17:00")
    (verdict,) = found.verdicts
    assert verdict.due_at is not None
    assert verdict.due_at.isoformat().startswith("2026-06-20T")
    assert found.now.isoformat().startswith("2026-06-19T22:00")


def test_what_dilution_means_shows() -> None:
    base = ("--demo", "--product", "Potash solution", "--zones", "Bank", "--method", "hose-end", "--dilution")
    thin, strong = (answer(*base, ratio).verdicts[0] for ratio in ("25:1", "10:1"))
    assert thin.status == "nothing asked"
    assert "no watering in needed" in thin.words
    assert strong.least_mm > 0


def test_a_product_that_must_stay_dry_is_told_so_and_what_rain_may_do() -> None:
    (verdict,) = answer("--demo", "--product", "weed spray", "--zones", "Bank").verdicts
    assert (verdict.action, verdict.options) == ("keep dry", ())
    assert any("Chance of" in note for note in verdict.notes)


def test_asking_records_nothing_and_makes_no_records_file(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    site.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    rows = [
        f"2026-06-{day:02d}T{hour:02d}:00Z,{16 + hour % 12}.{day % 7},{8 + hour % 3},{2 + hour % 2},{0.1 * (hour % 12):.1f},0"
        for day in range(10, 26)
        for hour in range(24)
    ]
    csv = tmp_path / "weather.csv"
    csv.write_text("\n".join(["time,temp_c,dew_c,wind10_m_s,rs_mj_m2_h,rain_mm", *rows]), encoding="utf-8")
    mine = ("--site", str(site), "--weather", str(csv), "--now", "2026-06-17T20:00")
    text = run(*mine, "--product", "Potash solution", "--zones", "Front")
    assert "Front: run it" in text
    assert "asks anything of water now" in run(*mine)
    for other in ("next-round", "weather"):
        assert typed(other, *mine)
    assert sorted(p.name for p in tmp_path.iterdir()) == ["site.yaml", "weather.csv"]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--product", "humus"), "there is no such product"),
        (("--product", "Potash solution", "--zones", "Frunt"), "there is no such zone"),
        (("--product", "Potash solution", "--at", "teatime"), "--at: a time is not understood"),
        (("--product", "Potash solution", "--method", "bucket"), "--method: there is no such method"),
        (("--product", "Potash solution", "--dilution", "strong"), "--dilution"),
        (("--zones", "Front"), "goes with a product that is only asked about"),
        (("--product", "Potash solution", "--at", "2026-08-01T17:00"), "does not cover"),
    ],
    ids=["product", "zone", "time", "method", "dilution", "zones alone", "beyond the forecast"],
)
def test_a_slip_is_one_sentence(words: tuple[str, ...], told: str) -> None:
    assert told in refused("--demo", *words)
