"""A plain hourly CSV becomes Weather, or every problem is told with its line."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made import note_texts

from advisor.errors import AdvisorError, ManyProblems
from advisor.weather import csv_file
from advisor.weather.csv_file import read_csv

NOW = datetime(2026, 6, 17, 12, tzinfo=UTC)
HEADER = "time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm\n"


@pytest.fixture
def read(tmp_path):
    def act(text, now=NOW):
        path = tmp_path / "station.csv"
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read_csv(path, latitude_deg=40.52, longitude_deg=-96.74, elevation_m=381.0, now=now)

    return act


def rows(hours, cells="30,50,2,500,0.5", first=0):
    return "".join(f"2026-06-17T{h:02d}:00Z,{cells}\n" for h in range(first, first + hours))


def problems_of(read, text):
    with pytest.raises(ManyProblems) as caught:
        read(text)
    return [str(p).partition("station.csv")[2] for p in caught.value.problems]


def test_a_row_is_the_hour_that_starts_at_its_time_in_our_units(read):
    weather = read(HEADER + rows(3))
    assert weather.starts_at(0) == datetime(2026, 6, 17, tzinfo=UTC)
    assert weather.hours == 3
    assert weather.rain_mm == pytest.approx(np.full(3, 0.5))
    assert weather.rs_mj_m2_h == pytest.approx(np.full(3, 1.8))
    assert weather.dew_c[0] == pytest.approx(18.4, abs=0.1)
    assert 2.0 / weather.wind10_m_s[0] == pytest.approx(0.748, abs=5e-4)  # FAO-56 table 7 at 10 m
    assert (weather.latitude_deg, weather.elevation_m) == (40.52, 381.0)


@pytest.mark.parametrize(
    ("column", "cell", "field", "expected"),
    [
        ("temp_f", "86", "temp_c", 30.0),
        ("dew_f", "50", "dew_c", 10.0),
        ("rain_in", "0.5", "rain_mm", 12.7),
        ("rs_mj_m2_h", "1.8", "rs_mj_m2_h", 1.8),
        ("wind10_km_h", "36", "wind10_m_s", 10.0),
        ("wind10_mph", "10", "wind10_m_s", 4.4704),
        ("cloud_pct", "25", "cloud", 0.25),
        ("chance_pct", "40", "chance", 0.4),
    ],
)
def test_the_units_of_the_header_are_converted(read, column, cell, field, expected):
    other = "rain_mm" if column != "rain_in" else "temp_c"
    weather = read(f"time,{other},{column}\n2026-06-17T00:00Z,1,{cell}\n")
    assert getattr(weather, field)[0] == pytest.approx(expected)


def test_local_times_with_offsets_pass_through_both_daylight_saving_nights(read):
    autumn = "".join(
        f"2026-11-01T{h:02d}:00{offset},1\n" for h, offset in ((0, "-05:00"), (1, "-05:00"), (1, "-06:00"))
    )
    assert read("time,rain_mm\n" + autumn).hours == 3
    spring = "2026-03-08T01:00-06:00,1\n2026-03-08T03:00-05:00,2\n"
    assert read("time,rain_mm\n" + spring).rain_mm.tolist() == [1.0, 2.0]


def test_hours_of_a_zone_at_half_hours_are_placed_by_their_overlap(read):
    weather = read("time,temp_c,rain_mm\n2026-06-17T10:00+05:30,20,1\n2026-06-17T11:00+05:30,30,3\n")
    assert weather.starts_at(0) == datetime(2026, 6, 17, 4, tzinfo=UTC)
    assert weather.rain_mm == pytest.approx([np.nan, 2.0, np.nan], nan_ok=True)
    assert weather.temp_c == pytest.approx([np.nan, 25.0, np.nan], nan_ok=True)
    assert not any("no row" in text for text in note_texts(weather.notes))


def test_empty_cells_and_missing_rows_are_unknown_and_never_zero(read):
    weather = read(HEADER + rows(2) + rows(1, ",NaN,na,null,", first=2) + rows(2, first=5))
    for name in ("temp_c", "dew_c", "wind10_m_s", "rs_mj_m2_h", "rain_mm"):
        assert np.flatnonzero(np.isnan(getattr(weather, name))).tolist() == [2, 3, 4], name
    assert any("2 hours have no row" in text for text in note_texts(weather.notes))
    assert weather.rain_basis.tolist() == ["archive", "archive", "", "", "", "archive", "archive"]


def test_what_the_file_does_not_have_is_unknown_and_told(read):
    weather = read("time,rain_mm\n2026-06-17T00:00Z,1\n")
    assert np.isnan(weather.temp_c).all()
    told = note_texts(weather.notes)
    assert "station.csv: has no temperature." in told
    assert "station.csv: has no radiation." in told


def test_rows_need_not_be_sorted(read):
    weather = read("time,rain_mm\n2026-06-17T02:00Z,3\n2026-06-17T00:00Z,1\n2026-06-17T01:00Z,2\n")
    assert weather.rain_mm.tolist() == [1.0, 2.0, 3.0]
    assert any("have been sorted" in text for text in note_texts(weather.notes))


def test_comments_blank_lines_capitals_and_a_byte_order_mark_are_no_matter(read):
    weather = read(b"\xef\xbb\xbf# our own station\n\nTime, Rain_mm\n# a note\n2026-06-17T00:00Z, 1.5\r\n,\n")
    assert weather.rain_mm.tolist() == [1.5]


def test_hours_after_now_are_forecast_and_members_come_along(read):
    text = "time,rain_mm,chance_pct,member_01,member_02\n" + "".join(
        f"2026-06-17T{h:02d}:00Z,1,50,0,{h}\n" for h in (11, 12, 13)
    )
    weather = read(text)
    assert weather.rain_basis.tolist() == ["archive", "model", "model"]
    assert weather.members_mm.tolist() == [[0, 0, 0], [11, 12, 13]]
    assert weather.sources[0].members == 2


def test_a_file_that_ends_before_tomorrow_says_what_is_unknown(read):
    assert any("ends at Wed 17 Jun 2026 03:00" in text for text in note_texts(read(HEADER + rows(3)).notes))
    two_days = "".join(f"{NOW + timedelta(hours=h):%Y-%m-%dT%H:00Z},1\n" for h in range(48))
    assert not any("ends at" in text for text in note_texts(read("time,rain_mm\n" + two_days).notes))


@pytest.mark.parametrize(
    ("text", "words"),
    [
        pytest.param("", "no column 'time'; found an empty file", id="empty file"),
        pytest.param("time,rain_mm\n", "no hours", id="header only"),
        pytest.param("time;rain_mm\n2026-06-17T00:00Z;1\n", "not separated by commas", id="semicolons"),
        pytest.param("time,rain,temp_c\n", "'rain', did you mean 'rain_mm'?", id="unknown column"),
        pytest.param("time,temp_c,temp_f\n", "two columns for one thing: 'temp_c' and 'temp_f'", id="twice"),
        pytest.param("time,wind2_m_s\n", "neither temperature nor rain", id="nothing to rest on"),
        pytest.param("rain_mm\n1\n", "no column 'time'", id="no time"),
        pytest.param("time,rain_mm\nsoon,1\n", ":2: a time that cannot be read; found 'soon'", id="word"),
        pytest.param("time,rain_mm\n2026-06-17T00:00,1\n", ":2: a time without its offset", id="no offset"),
        pytest.param("time,rain_mm\n2026-06-17T00:30Z,1\n", ":2: a time that is not on the hour", id="half"),
        pytest.param("time,rain_mm\n2026-06-17T00:00Z,wet\n", ":2: rain_mm is not a number", id="word"),
        pytest.param("time,rain_mm\n2026-06-17T00:00Z,inf\n", ":2: rain_mm is not a number", id="infinite"),
        pytest.param("time,rain_mm\n2026-06-17T00:00Z,300\n", "0 to 150", id="rain 300"),
        pytest.param("time,rain_mm\n2026-06-17T00:00Z,-999\n", "empty where unknown", id="-999"),
        pytest.param("time,temp_c\n2026-06-17T00:00Z,86\n", "name the column temp_f", id="Fahrenheit"),
        pytest.param("time,rain_mm\n2026-06-17T00:00Z,1,2\n", ":2: a row of another length", id="3 cells"),
        pytest.param(
            "time,rain_mm\n2026-06-17T00:00Z,1\n2026-06-16T19:00-05:00,2\n",
            ":3: the same hour as line 2",
            id="an hour twice",
        ),
        pytest.param(
            "time,rain_mm\n1926-06-17T00:00Z,1\n2026-06-17T00:00Z,1\n", "too far apart", id="a century"
        ),
    ],
)
def test_a_problem_is_told_with_what_was_found_and_what_may_stand(read, text, words):
    assert words in " | ".join(problems_of(read, text))


def test_all_problems_are_told_at_once_and_many_alike_are_counted(read):
    bad = "".join(f"2026-06-17T{h:02d}:00Z,86,50,2,500,0\n" for h in range(10))
    told = problems_of(read, HEADER + bad + "soon,30,50,2,500,0\n2026-06-17T11:00Z,30,50,2,9999,0\n")
    assert [t.split(":")[1] for t in told[:3]] == ["2", "3", "4"]
    assert any("7 more problems of this kind (temp_c)" in t for t in told)
    assert any("a time that cannot be read" in t for t in told)
    assert any("rs_w_m2 cannot be; found 9999" in t for t in told)


def test_a_file_that_is_not_there_or_not_text_is_one_sentence(read, tmp_path):
    with pytest.raises(AdvisorError, match=r"none\.csv: cannot read the weather file \(No such file"):
        read_csv(tmp_path / "none.csv", latitude_deg=0, longitude_deg=0, elevation_m=0, now=NOW)
    with pytest.raises(AdvisorError, match="is not UTF-8 text"):
        read(b"time,rain_mm\n\xff\xfe")


def test_every_column_is_documented():
    for name in csv_file.COLUMNS:
        assert f"`{name}`" in csv_file.__doc__


CELL = st.sampled_from(["", "NaN", "1", "-1", "999", "wet", '"', "1,2", "#", "2026-06-17T00:00Z", "é"])


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(CELL, min_size=1, max_size=4), max_size=6), st.sampled_from(["time,rain_mm", HEADER])
)
def test_any_text_is_weather_or_a_told_error(tmp_path_factory, table, header):
    path = tmp_path_factory.mktemp("any") / "any.csv"
    path.write_text(header.strip() + "\n" + "\n".join(",".join(row) for row in table), "utf-8")
    try:
        weather = read_csv(path, latitude_deg=0, longitude_deg=0, elevation_m=0, now=NOW)
    except AdvisorError:
        return
    known = int(np.isfinite(weather.rain_mm).sum())
    assert known <= sum(row[-1] == "1" for row in table)
