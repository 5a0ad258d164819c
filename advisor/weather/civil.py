"""Civil days from UTC hours: a day has 23, 24 or 25 of them, and a source's own days are not used."""

from __future__ import annotations

from datetime import UTC, date, datetime, tzinfo

import numpy as np
import numpy.typing as npt

from advisor.weather.weather import Hours

_STEP = 24  # h: no zone changes its offset and back within a day, so it is looked up this often


def local_offsets_s(starts: Hours, zone: tzinfo) -> npt.NDArray[np.int64]:
    """UTC offset in seconds at each hour start; `starts` UTC, shape (h,) → (h,)."""
    seconds = starts.astype("datetime64[s]").astype(np.int64)
    offsets = np.zeros(len(seconds), dtype=np.int64)

    def at(index: int) -> int:
        offset = datetime.fromtimestamp(int(seconds[index]), UTC).astimezone(zone).utcoffset()
        return int(offset.total_seconds()) if offset is not None else 0

    last = len(seconds) - 1
    before, begin = (at(0), 0) if last >= 0 else (0, 0)
    while begin <= last:
        end = min(begin + _STEP, last + 1)
        after = at(min(end, last))
        if after == before:
            offsets[begin:end] = before
        else:
            offsets[begin:end] = [at(i) for i in range(begin, end)]
        before, begin = after, end
    return offsets


def civil_days(starts: Hours, zone: tzinfo) -> tuple[npt.NDArray[np.datetime64], npt.NDArray[np.int64]]:
    """The local days that the hours fall on, and each hour's index into them.

    `starts` UTC, shape (h,) → days datetime64[D] shape (d,), index shape (h,). An hour belongs to
    the day on which it starts, so in a zone off by half an hour a day begins up to 30 min late.
    """
    local = starts.astype("datetime64[s]") + local_offsets_s(starts, zone).astype("timedelta64[s]")
    day = local.astype("datetime64[D]")
    if len(day) == 0:
        return day, np.zeros(0, dtype=np.int64)
    index = (day - day[0]).astype(np.int64)
    days = day[0] + np.arange(int(index[-1]) + 1)
    return days, index


def as_date(day: np.datetime64) -> date:
    """A numpy day as a date."""
    value = day.astype("datetime64[D]").astype(object)
    assert isinstance(value, date)
    return value
