"""`advisor weather` as typed: the table in a terminal, CSV, JSON, and how good the chances have been."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys

import pytest
from typer.testing import CliRunner

from advisor.advice.weather_days import WeatherDay, WeatherDays
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.faces.text.weather_text import weather_csv, weather_text


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), ["weather", "--demo", *words], env={"COLUMNS": "80"})
    assert result.exception is None, result.exception
    return result.output


@pytest.fixture(scope="module")
def text() -> str:
    return run()


def days() -> WeatherDays:
    return WeatherDays.model_validate_json(run("--json"))


def test_the_table_fits_eighty_columns_and_says_that_the_demo_is_invented(text: str) -> None:
    assert max(len(line) for line in text.splitlines()) <= 80
    assert "Invented demo" in text


def test_every_day_has_a_line_and_today_stands_between_past_and_future(text: str) -> None:
    lines = text.splitlines()
    rule = next(i for i, line in enumerate(lines) if set(line) == {"-"})
    assert lines[rule - 1].startswith("Tue 16 Jun")
    assert lines[rule + 1].startswith("today")
    assert lines[rule + 2].startswith("Thu 18 Jun")
    assert lines[rule - 7].startswith("Wed 10 Jun")


def test_the_longest_bar_is_the_wettest_day_and_expected_rain_is_drawn_lighter(text: str) -> None:
    wettest = max(days().days, key=lambda row: row.rain_mm or 0.0)
    line = next(line for line in text.splitlines() if line.startswith(f"{wettest.day:%a %d %b}"))
    assert line.count("▒") == 14
    assert "█" not in line
    assert text.count("▒▒▒▒▒") == 2  # no other day has a third of it


def test_what_is_not_known_is_marked_and_never_a_zero(text: str) -> None:
    last = next(line for line in text.splitlines() if line.startswith("Sat 27 Jun"))
    assert "?" in last
    assert "18 of 24 h" in last
    assert "? is not known, which is not dry" in " ".join(text.split())


def test_each_column_says_what_it_rests_on_and_whom_to_credit(text: str) -> None:
    flat = " ".join(text.split())
    for words in (
        "Rain: gauge, 10 Jun to 14 Jun",
        "Chances: 31 members of Open-Meteo ensemble (gfs_seamless), default calibration, 17 Jun",
        "ETo: FAO-56 Penman–Monteith from Open-Meteo forecast",
        "Wind and Minimum: Open-Meteo forecast",
        "CC BY 4.0",
    ):
        assert words in flat


def test_csv_has_one_line_a_day_with_the_names_of_the_json() -> None:
    found = days()
    rows = list(csv.DictReader(io.StringIO(run("--csv"))))
    assert len(rows) == len(found.days)
    nested = {"rain_from"}  # a list of records is no cell; rain_basis and rain_source say the same
    assert tuple(rows[0]) == tuple(name for name in WeatherDay.model_fields if name not in nested)
    assert float(rows[0]["eto_mm"]) == pytest.approx(found.days[0].eto_mm, abs=1e-4)
    assert rows[0]["chance_1mm"] == ""
    assert rows[5]["rain_basis"] == "model+gauge"


def test_the_days_asked_for_are_the_days_shown() -> None:
    found = WeatherDays.model_validate_json(run("--json", "--back", "2", "--ahead", "1"))
    assert [row.when for row in found.days] == ["past", "past", "today", "ahead"]


@pytest.mark.parametrize("words", [("--csv", "--json"), ("--csv", "--skill")])
def test_only_one_form_is_printed(words: tuple[str, ...]) -> None:
    result = CliRunner().invoke(program(), ["weather", "--demo", *words])
    assert isinstance(result.exception, AdvisorError)
    assert "only one of them" in str(result.exception)


def test_skill_without_pairs_says_what_the_chances_rest_on() -> None:
    assert "No day of forecast and gauge has been paired yet" in " ".join(run("--skill").split())
    told = json.loads(run("--skill", "--json"))
    assert told["schema_version"] == "advisor.skill/1"
    assert (told["pairs"], told["thresholds"]) == (0, [])


def row(base: WeatherDay, **changes: object) -> WeatherDay:
    return base.model_copy(update=changes)


def test_snow_a_heavy_day_and_the_surest_chances_are_shown_for_what_they_are() -> None:
    found = days()
    past, ahead = found.days[0], found.days[9]
    shown = found.model_copy(
        update={
            "units": "metric",
            "days": (
                row(past, rain_mm=24.0, fell_mm=24.0),
                row(ahead, rain_mm=12.0, snow_mm=12.0, chance_1mm=0.996, chance_5mm=0.5, chance_10mm=0.004),
            ),
        }
    )
    lines = weather_text(shown, width=80).splitlines()
    fell = next(line for line in lines if line.startswith("Wed 10 Jun"))
    comes = next(line for line in lines if line.startswith(f"{ahead.day:%a %d %b}"))
    assert fell.count("█") == 14
    assert comes.count("▒") == 7
    assert "12.0*" in comes
    assert " >99   50   <1" in comes
    assert "* with snow" in " ".join(lines)


def test_a_report_without_any_day_is_still_a_page() -> None:
    empty = days().model_copy(update={"days": ()})
    assert "Rests on" in weather_text(empty, width=80)
    assert len(weather_csv(empty).splitlines()) == 1


@pytest.mark.parametrize("command", ["tonight", "weather"])
def test_a_demo_evening_loads_neither_network_nor_store_nor_scipy(command: str) -> None:
    code = (
        f"import sys; sys.argv = ['advisor', '{command}', '--demo']\n"
        "from advisor.faces.cli.main import main\n"
        "heavy = {'requests', 'urllib3', 'sqlalchemy', 'alembic', 'scipy', 'apprise', 'apscheduler'}\n"
        "try:\n    main()\n"
        "finally:\n    print('loaded:', sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "loaded: []"
