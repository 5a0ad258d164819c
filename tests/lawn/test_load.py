from __future__ import annotations

import re
from datetime import date, time, timedelta
from pathlib import Path

import pytest

from advisor.lawn.load import load_site, read_site
from advisor.lawn.site_values import DateSpan, Site
from advisor.lawn.tables import turf_table
from advisor.shipped import shipped

LARK = Path(__file__).with_name("lark.yaml").read_text(encoding="utf-8")
HERE = Path("lark.yaml")


def _with(old: str, new: str, text: str = LARK) -> str:
    assert old in text, old
    return text.replace(old, new, 1)


def _read(old: str, new: str) -> Site:
    return read_site(_with(old, new), HERE)


def test_the_demo_site_is_understood() -> None:
    site = load_site(shipped("config", "demo.yaml"))
    assert [zone.name for zone in site.zones] == ["Front", "Back", "Side", "Bank"]
    front, back, side, bank = site.zones
    assert (site.place.name, site.place.units, site.place.zone.key) == (
        "Larkmoor Lane",
        "us",
        "America/Chicago",
    )
    assert front.area_m2 == pytest.approx(222.967296)
    assert (front.rate.basis, front.rate.measured_on) == ("measured", date(2026, 5, 9))
    assert front.rate.low_mm_h == front.rate.rate_mm_h == front.rate.high_mm_h == pytest.approx(13.208)
    assert (front.uniformity, front.uniformity_known, front.root_depth_known) == (0.68, True, False)
    assert (back.rate.basis, back.rate.low_mm_h, back.rate.high_mm_h) == ("guess", 8.0, 18.0)
    assert (back.uniformity, back.uniformity_known, back.exposure_name) == (0.65, False, "part shade")
    assert bank.slope_pct == 14.0
    # PR[in/h] = 96.25 · q[gal/min] / A[ft²]
    assert side.rate.basis == "flow"
    assert side.rate.rate_mm_h / 25.4 == pytest.approx(96.25 * 9.5 / 640, rel=1e-4)
    assert side.flow_l_min == side.rate.flow_l_min == pytest.approx(9.5 * 3.785411784)
    assert site.rules.hours == ((time(21), time(8)),)
    assert site.rounds[0].products == ("Potash solution", "Calcium solution")
    # 4 fl oz of 29.5735 mL on 92.903 m2
    assert site.products["Potash solution"].rate == pytest.approx(1.2733, abs=0.00005)
    assert site.products["Autumn granules"].stock == pytest.approx(18143.69, abs=0.01)
    assert site.records_path == shipped("config", "demo.yaml").parent / "larkmoor-lane.sqlite"


def test_the_starter_site_is_understood_as_it_stands() -> None:
    site = load_site(shipped("config", "site.yaml"))
    assert site.records_path.name == "site.sqlite"
    assert site.rules.weekdays == frozenset(range(7))


def test_every_commented_key_of_the_starter_may_stand_in_a_site_file() -> None:
    from advisor.lawn.schema import LISTS, MAPPINGS, TOP_KEYS

    text = shipped("config", "site.yaml").read_text(encoding="utf-8")
    for key in (*TOP_KEYS[:-2],):
        assert f"{key}:" in text, key
    for model in (*MAPPINGS.values(), *LISTS.values()):
        for name, one in model.model_fields.items():
            assert f"{one.alias or name}:" in text, f"{model.__name__} {name}"


def _switched_on(text: str) -> str:
    """The starter with its commented keys switched on, but for the lists of names and label minutes."""
    prose = ("grass", "soil", "head", "kind", "rate", "label_minutes", "label_sprinkler")
    out = []
    for row in text[text.index("\nsite:") :].splitlines():
        line = row.removeprefix("# ")
        found = re.match(r"( +)# (([a-z_]+):(?: |$)| +- [{])", line)
        if found and found[3] not in prose:
            line = line.replace("# ", "", 1)
        out.append(line)
    return "\n".join(out)


def test_every_example_in_the_starters_comments_loads() -> None:
    site = read_site(_switched_on(shipped("config", "site.yaml").read_text(encoding="utf-8")), HERE)
    zone, rules, potash = site.zones[0], site.rules, site.products["Potash solution"]
    assert (zone.mode, zone.by_hand, zone.first_puddle_min, zone.root_depth_m) == ("seed", True, 12, 0.15)
    assert (rules.parity, rules.minutes_a_night, len(rules.blackouts)) == ("any", 240, 1)
    assert (potash.apart_diluted, potash.kind.light_runs_per_day) == (("Calcium solution",), 2)
    assert site.rounds[0].sprayer == site.sprayers[0].name == "Backpack"
    assert site.decision.costs == {"shortfall": 0.5, "loss": 0.5}
    assert site.weather.sources == ("open_meteo", "met_norway", "nws")
    assert (site.supply.water_cost_per_m3, site.records_path.name) == (1.5, "lawn.sqlite")


def test_south_of_the_equator_the_coefficients_come_six_months_later() -> None:
    site = read_site(
        _with("latitude: 40.52", "latitude: -40.52")
        .replace("-96.74", "175.6")
        .replace("America/Chicago", "Pacific/Auckland"),
        HERE,
    )
    north = turf_table()["tall fescue"].kc_month
    assert site.zones[0].turf.kc_month == north[6:] + north[:6]
    assert site.zones[0].turf.kc_month[9] == north[3] == 1.04  # October there is April here


def test_words_stay_words_and_times_stay_times() -> None:
    text = _with("country: US", "country: no").replace("name: Front", "name: yes").replace("Bank", "12")
    site = read_site(_with("finish_by: sunrise", "awake: 06:00-22:30\n  dates: odd", text), HERE)
    assert site.place.country == "NO"
    assert [zone.name for zone in site.zones] == ["yes", "Back", "Side", "12"]
    assert site.rules.awake == (time(6), time(22, 30))


def test_rules_are_read_with_their_lists_and_dates() -> None:
    site = _read(
        "hours: 21:00-08:00",
        "hours: [21:00-23:30, 02:00-08:00]\n  weekdays: [mon, Friday]\n  dates: even\n"
        "  blackout: [{from: 2026-07-01, to: 2026-07-14, why: town notice}]\n  minutes_a_night: 4 h\n"
        "  least_temperature: 40 °F\n  strict_uniformity: true",
    )
    rules = site.rules
    assert rules.hours == ((time(21), time(23, 30)), (time(2), time(8)))
    assert (rules.weekdays, rules.parity) == (frozenset({0, 4}), "even")
    assert rules.blackouts == (DateSpan(date(2026, 7, 1), date(2026, 7, 14), "town notice"),)
    assert rules.minutes_a_night == 240.0
    assert rules.least_temp_c == pytest.approx(4.444, abs=0.001)
    assert rules.strict_uniformity


def test_how_soon_the_owner_can_act_and_when_a_run_counts_as_made_are_read_with_their_usual() -> None:
    usual = _read("hours: 21:00-08:00", "hours: 21:00-08:00").rules
    assert (usual.act_within, usual.assume_made_after_min) == (timedelta(minutes=15), None)
    rules = _read(
        "hours: 21:00-08:00", "hours: 21:00-08:00\n  act_within: 1 h\n  assume_made_after: 0 min"
    ).rules
    assert (rules.act_within, rules.assume_made_after_min) == (timedelta(hours=1), 0.0)


def test_the_whole_day_ends_at_midnight() -> None:
    assert _read("21:00-08:00", "00:00-24:00").rules.hours == ((time(0), time(0)),)


def test_names_are_found_whatever_their_capitals_and_told_as_declared() -> None:
    site = _read("    sprayer: Backpack", "    sprayer: backPACK\n    zones: [front, BANK]")
    assert site.rounds[0].zones == ("Front", "Bank")
    assert site.rounds[0].sprayer == "Backpack"


def test_later_sections_are_kept_as_they_are_with_their_types() -> None:
    site = _read("records:", "messages: {email: {port: 587, tls: true, to: 'a@b', x: ~}}\nservice:\nrecords:")
    assert site.settings == {
        "messages": {"email": {"port": 587, "tls": True, "to": "a@b", "x": None}},
        "service": {},
    }


def test_paths_are_beside_the_site_file() -> None:
    path = Path("/somewhere/lark.yaml")
    site = read_site(_with("records: larkmoor-lane.sqlite", "weather: {csv: a.csv, cache: /var/c}"), path)
    assert site.records_path == Path("/somewhere/lark.sqlite")
    assert site.weather.csv == Path("/somewhere/a.csv")
    assert site.weather.cache == Path("/var/c")


def test_a_file_saved_with_a_mark_and_foreign_line_ends_is_read(tmp_path: Path) -> None:
    path = tmp_path / "lark.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + LARK.replace("\n", "\r\n").encode())
    assert load_site(path).zones[0].name == "Front"
