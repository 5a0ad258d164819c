"""`advisor clock-sheet` and the usual year, as typed: the demo's, from files, and from the archive."""

from __future__ import annotations

import csv
import io
import json
import re
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import responses
from typer.testing import CliRunner

from advisor import usual_year
from advisor.errors import AdvisorError
from advisor.faces.cli.main import program
from advisor.shipped import shipped
from advisor.wording import MONTHS

HEAD = "month,eto_mm_d,rain_mm"
ROWS = [f"{month},4.0,30" for month in range(1, 13)]


def run(*words: str) -> str:
    result = CliRunner().invoke(program(), list(words))
    assert result.exception is None, result.exception
    return result.output


def refused(*words: str) -> str:
    result = CliRunner().invoke(program(), list(words))
    assert isinstance(result.exception, AdvisorError), result.output
    return str(result.exception)


def written(folder: Path, *lines: str) -> str:
    path = folder / "climate.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return str(path)


def test_the_demo_sheet_fits_on_one_page_and_names_what_it_assumes() -> None:
    text = run("clock-sheet", "--demo")
    assert "Invented demo" in text
    assert len(text.splitlines()) <= 66
    assert max(len(line) for line in text.splitlines()) <= 92
    for words in (
        "July",
        "Front",
        "Bank",
        "It needs a clock with 2 programs",
        "Start times",
        "What it assumes",
        "cannot see the weather",
        "invented for the demo",
    ):
        assert words in text
    assert "Off: all zones in January" in text
    assert "frost" in text


def test_the_csv_and_the_json_say_the_same() -> None:
    rows = list(csv.DictReader(io.StringIO(run("clock-sheet", "--demo", "--csv"))))
    sheet = json.loads(run("clock-sheet", "--demo", "--json"))
    lines = [(m["month"], p, x) for m in sheet["months"] for p in m["programs"] for x in p["zones"]]
    assert sheet["schema_version"] == "advisor.clock-sheet/1"
    assert len(rows) == len(lines) > 20
    for row, (month, timer, zone) in zip(rows, lines, strict=True):
        assert (int(row["month"]), row["program"], row["zone"]) == (month, timer["name"], zone["zone"])
        assert row["days"] == timer["days"]
        assert row["starts"].split() == timer["starts"]
        assert int(row["minutes_a_start"]) == zone["minutes"]
        assert int(row["minutes"]) == len(timer["starts"]) * zone["minutes"]


def test_the_page_has_every_line_of_the_text_and_escapes_what_it_must(tmp_path: Path) -> None:
    site = tmp_path / "site.yaml"
    text = shipped("config", "demo.yaml").read_text(encoding="utf-8")
    site.write_text(text.replace("name: Front", 'name: "Front & <Oak>"'), encoding="utf-8")
    file = written(tmp_path, HEAD, *ROWS)
    page = tmp_path / "sheet.html"
    words = ("clock-sheet", "--site", str(site), "--climate", file, "--now", "2026-06-17T20:15")
    assert run(*words, "--html", str(page)) == f"Written: {page}\n"
    html = page.read_text(encoding="utf-8")
    assert "Front &amp; &lt;Oak&gt;" in html
    assert "<Oak>" not in html
    rows = list(csv.DictReader(io.StringIO(run(*words, "--csv"))))
    assert html.count("<tr>") == len(rows) + 1
    assert html.count("<tbody>") == html.count("</tbody>") == len({r["month"] for r in rows})
    assert "Invented demo" not in html


def test_rain_that_counts_is_as_the_file_says_or_reckoned_from_the_month(tmp_path: Path) -> None:
    said = written(tmp_path, f"{HEAD},counted_mm", *(f"{row},0" for row in ROWS))
    a = json.loads(run("clock-sheet", "--demo", "--climate", said, "--json"))
    assert {x["rain_mm_d"] for m in a["months"] for p in m["programs"] for x in p["zones"]} == {0.0}
    reckoned = written(tmp_path, HEAD, *ROWS)
    b = json.loads(run("clock-sheet", "--demo", "--climate", reckoned, "--json"))
    july = b["months"][6]["programs"][0]["zones"][0]
    assert july["rain_mm_d"] == pytest.approx((0.6 * 30 - 10) / 31)
    assert "dependable rain" in " ".join(b["assumptions"])


def test_hourly_weather_serves_as_a_usual_year(tmp_path: Path) -> None:
    begin = datetime.fromisoformat("2025-01-01T00:00+00:00")
    rows = ["time,temp_c,rain_mm"]
    for hour in range(24 * 366):
        at = begin + timedelta(hours=hour)
        warm = 22.0 + 8.0 * (1 if 15 <= at.hour <= 23 else -1)
        rows.append(f"{at.isoformat()},{warm},{4.0 if at.hour == 5 and at.day % 4 == 0 else 0.0}")
    sheet = json.loads(run("clock-sheet", "--demo", "--climate", written(tmp_path, *rows), "--json"))
    assert len([m for m in sheet["months"] if m["programs"]]) >= 10
    assert "Means of 36" in " ".join(sheet["assumptions"])
    assert sheet["climate_source"] == "climate.csv"


@pytest.mark.parametrize(
    ("lines", "said"),
    [
        pytest.param([], "the file is empty", id="empty"),
        pytest.param(["month;eto_mm_d;rain_mm"], "do not make a usual year", id="semicolons"),
        pytest.param(["month,eto_mm_d", *ROWS], "do not make a usual year", id="no rain"),
        pytest.param([f"{HEAD},eto_mm_d", *ROWS], "do not make a usual year", id="twice"),
        pytest.param([HEAD, *ROWS[:-2]], "none of 11, 12", id="months missing"),
        pytest.param([HEAD, *ROWS, "3,4,30"], "climate.csv:14: a month is given twice", id="month twice"),
        pytest.param([HEAD, "1,150,30", *ROWS[1:]], "climate.csv:2: eto_mm_d cannot be", id="a month's ETo"),
        pytest.param([HEAD, "1,4,-3", *ROWS[1:]], "rain_mm cannot be", id="negative rain"),
        pytest.param([HEAD, "1.5,4,3", *ROWS[1:]], "month cannot be", id="half a month"),
        pytest.param([HEAD, "1,four,3", *ROWS[1:]], "eto_mm_d cannot be", id="words"),
        pytest.param([HEAD, "1,4", *ROWS[1:]], "another number of cells", id="short row"),
        pytest.param(["time,temp_c", "2026-06-17T00:00Z,20"], "at least 20 known days", id="one hour"),
    ],
)
def test_a_climate_file_that_cannot_be_is_told_with_its_line(
    tmp_path: Path, lines: list[str], said: str
) -> None:
    assert said in refused("clock-sheet", "--demo", "--climate", written(tmp_path, *lines))


def test_every_wrong_row_is_told_at_once(tmp_path: Path) -> None:
    told = refused(
        "clock-sheet", "--demo", "--climate", written(tmp_path, HEAD, "1,99,1", "2,1,-1", *ROWS[2:])
    )
    assert "climate.csv:2" in told
    assert "climate.csv:3" in told


def test_a_file_that_is_not_there_or_not_text_is_a_sentence(tmp_path: Path) -> None:
    assert "cannot be read" in refused("clock-sheet", "--demo", "--climate", str(tmp_path / "none.csv"))
    (tmp_path / "b.csv").write_bytes(b"\xff\xfe\x00")
    assert "not text in UTF-8" in refused("clock-sheet", "--demo", "--climate", str(tmp_path / "b.csv"))
    assert "cannot be written" in refused("clock-sheet", "--demo", "--html", str(tmp_path / "no" / "x.html"))
    assert "one form" in refused("clock-sheet", "--demo", "--csv", "--json")


def archive_body(query: str) -> dict[str, Any]:
    """A body of the archive in its true shape for the days that were asked for: alike summer days."""
    first, last = (re.search(f"{key}=([0-9-]+)", query)[1] for key in ("start_date", "end_date"))  # type: ignore[index]
    hours = 24 * ((date.fromisoformat(last) - date.fromisoformat(first)).days + 1)
    begin = int(datetime.fromisoformat(f"{first}T00:00+00:00").timestamp())
    series = {
        "temperature_2m": ("°C", [20.0 + (i % 24 > 12) * 10.0 for i in range(hours)]),
        "dew_point_2m": ("°C", [12.0] * hours),
        "wind_speed_10m": ("m/s", [2.0] * hours),
        "shortwave_radiation": ("W/m²", [(8 <= i % 24 <= 20) * 450.0 for i in range(hours)]),
        "precipitation": ("mm", [(i % 96 == 3) * 8.0 for i in range(hours)]),
    }
    return {
        "latitude": 40.5,
        "longitude": -96.7,
        "elevation": 381.0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "hourly_units": {"time": "unixtime", **{k: unit for k, (unit, _) in series.items()}},
        "hourly": {
            "time": [begin + 3600 * i for i in range(hours)],
            **{name: values for name, (_, values) in series.items()},
        },
    }


@responses.activate
def test_a_real_site_asks_the_archive_once_for_whole_months_and_credits_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(usual_year, "YEARS", 1)
    asked: list[str] = []

    def answer(request: Any) -> tuple[int, dict[str, str], str]:
        asked.append(request.url)
        return 200, {"Content-Type": "application/json"}, json.dumps(archive_body(request.url))

    responses.add_callback(responses.GET, "https://archive-api.open-meteo.com/v1/archive", callback=answer)
    site = tmp_path / "site.yaml"
    site.write_text(shipped("config", "demo.yaml").read_text(encoding="utf-8"), encoding="utf-8")
    words = ("clock-sheet", "--site", str(site), "--now", "2026-06-17T20:15", "--json")
    sheet = json.loads(run(*words))
    assert len(asked) == 1
    assert "start_date=2025-06-01" in asked[0]
    assert "end_date=2026-05-31" in asked[0]
    assert "CC BY 4.0" in sheet["climate_source"]
    assert {3, 4, 5, 6, 7, 8, 9} <= {m["month"] for m in sheet["months"] if m["programs"]}
    months = run("runtime", "--site", str(site), "--now", "2026-06-17T20:40", "--by-month", "--zone", "Bank")
    assert "By month, before rain" in months
    assert len(asked) == 1


def test_the_minutes_by_month_rest_on_the_same_usual_year() -> None:
    worked = json.loads(run("runtime", "--demo", "--by-month", "--zone", "Front", "--json"))
    sheet = json.loads(run("clock-sheet", "--demo", "--json"))
    july = worked["zones"][0]["months"][6]
    use = next(
        x["use_mm_d"] for p in sheet["months"][6]["programs"] for x in p["zones"] if x["zone"] == "Front"
    )
    assert july["need_mm"] == pytest.approx(31 * use)
    assert MONTHS[6] == "July"


def test_the_demand_by_month_is_given_in_one_way() -> None:
    months = "1 1 1 1 1 1 1 1 1 1 1 1 mm"
    assert "given twice" in refused("runtime", "--demo", "--by-month", "--eto-months", months)
