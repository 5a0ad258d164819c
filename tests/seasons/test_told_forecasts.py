"""Forecasts as they were archived: the newest one by then, the truth before it, nothing later."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from made import CHICAGO, made_site
from seasons.made_seasons import FIRST, LAST, made_job, made_truth

from advisor.errors import CannotAdvise, InputError, ManyProblems
from advisor.replay.job import Part, work
from advisor.seasons import ForecastsTold, forecasts_told

SITE = made_site()
HOUR = timedelta(hours=1)


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=CHICAGO)


def written(folder: Path, name: str, begin: datetime, members: tuple[float, ...], hours: int = 96) -> None:
    """A forecast of so many hours, each member with so much rain in every hour."""
    head = ["time,temp_c,rain_mm", *(f"member_{k:02d}" for k in range(len(members)))]
    rows = [
        ",".join(
            [
                f"{(begin + k * HOUR).astimezone(UTC):%Y-%m-%dT%H:%MZ}",
                f"{24 + 7 * np.cos((k - 19) / 12 * np.pi):.1f}",
                f"{np.mean(members or (0.5,)):.2f}",
            ]
            + [f"{mm:.2f}" for mm in members]
        )
        for k in range(hours)
    ]
    folder.mkdir(exist_ok=True)
    (folder / name).write_text("\n".join([",".join(head), *rows]) + "\n")


def sky(folder: Path) -> ForecastsTold:
    return forecasts_told(folder, SITE, made_truth())


def test_the_newest_by_then_is_told_with_the_truth_before_it(tmp_path: Path) -> None:
    written(tmp_path, "2026-06-01T2000.csv", at(1, 20), (0.0, 1.0))
    written(tmp_path, "20260602T120000Z.csv", at(2, 7), (2.0, 4.0))
    told = sky(tmp_path).told_at(at(1, 22, 30))
    here, truth = told.index_at(at(1, 22)), made_truth()
    assert told.members_mm[:, here:].tolist() == [[0.0] * 94, [1.0] * 94]
    assert np.isnan(told.members_mm[:, :here]).all()
    assert told.rain_mm[:here].tolist() == truth.rain_mm[: truth.index_at(at(1, 22))].tolist()
    assert told.sources[0].fetched_at == at(1, 20)
    later = sky(tmp_path).told_at(at(2, 7))
    assert later.members_mm[:, later.index_at(at(2, 7))].tolist() == [2.0, 4.0]


def test_before_the_first_and_after_the_end_of_the_last_there_is_none(tmp_path: Path) -> None:
    written(tmp_path, "2026-06-01T2000.csv", at(1, 20), (0.0, 1.0), hours=24)
    for now, told in (
        (at(1, 19, 59), "no forecast was archived by 2026-06-01 19:59 local time"),
        (at(2, 20), "the newest forecast by 2026-06-02 20:00 local time had ended by then"),
    ):
        with pytest.raises(CannotAdvise, match=told):
            sky(tmp_path).told_at(now.astimezone(UTC))


def test_a_file_that_begins_late_leaves_hours_unknown_and_members_are_made(tmp_path: Path) -> None:
    written(tmp_path, "2026-06-01T2000.csv", at(2, 0), ())
    told = sky(tmp_path).told_at(at(1, 20))
    here = told.index_at(at(1, 20))
    assert np.isnan(told.rain_mm[here : here + 4]).all()
    assert told.starts_at(told.hours) == at(2, 0) + 96 * HOUR
    assert len(told.members_mm) > 2


def test_a_season_is_lived_by_them(tmp_path: Path) -> None:
    """Sure of much rain every evening nothing is run; sure of none, the dry lawn is watered."""
    put_on = {}
    for name, mm in (("wet", 3.0), ("dry", 0.0)):
        for day in range(1, 6):
            written(tmp_path / name, f"2026-06-{day:02d}T2000.csv", at(day, 20), (mm, mm, mm))
        truth = made_truth(past_days=20)
        dry = replace(truth, rain_mm=np.where(np.arange(truth.hours) < 24 * 6, truth.rain_mm, 0.0))
        job = made_job(truth=dry, first=FIRST, last=LAST, parts=(Part.OURS,))
        ours = work(replace(job, sky=forecasts_told(tmp_path / name, SITE, dry))).ours
        assert ours is not None
        put_on[name] = ours.water_mm
    assert put_on["wet"] == 0.0
    assert put_on["dry"] > 5.0


def test_a_folder_of_nothing_or_of_odd_names_is_told(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="--forecasts: the folder holds no forecasts"):
        sky(tmp_path)
    with pytest.raises(InputError, match="cannot be read"):
        sky(tmp_path / "nowhere")
    written(tmp_path, "monday.csv", at(1, 20), ())
    with pytest.raises(InputError, match=r"monday\.csv: the name of a forecast's file is no time"):
        sky(tmp_path)
    (tmp_path / "monday.csv").rename(tmp_path / "2026-06-01T2000.csv")
    (tmp_path / "2026-06-01T2000.csv").write_text("time,rain_mm\nnoon,1\n")
    with pytest.raises(ManyProblems, match="a time that cannot be read"):
        sky(tmp_path)
