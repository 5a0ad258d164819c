"""A lawn of the owner's own for the faults: an invented site file and an invented station's hours."""

from __future__ import annotations

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path

NOW = "2026-06-17T20:15"
SITE = """
site: {name: Larkmoor Lane, latitude: 40.52, longitude: 0.5, elevation: 381 m, time_zone: UTC, units: metric}
zones:
  - name: Front
    area: 223 m2
    grass: tall fescue
    soil: loam
    slope: 2 %
    exposure: full sun
    head: gear rotor
    rate: {measured: 12 mm/h, on: 2026-05-02}
watering: {hours: 00:00-24:00, finish_by: window}
weather: {csv: station.csv}
records: lawn.sqlite
"""
HOUR = timedelta(hours=1)


def lay_out(folder: Path, *, more: str = "", now: datetime | None = None) -> Path:
    """The site file, with `more` at its end, and 41 days of hours around `now`; the path of the site file."""
    first = (now or datetime.fromisoformat(NOW).replace(tzinfo=UTC)).replace(
        minute=0, second=0, microsecond=0
    )
    first -= 31 * 24 * HOUR
    rows = ["time,temp_c,rh_pct,wind2_m_s,rs_w_m2,rain_mm"]
    for n in range(41 * 24):
        when = first + n * HOUR
        sun = max(0.0, math.cos((when.hour - 12) / 24 * 2 * math.pi))
        rows.append(f"{when:%Y-%m-%dT%H:%M}Z,{18 + 8 * sun:.1f},55,2.0,{700 * sun:.0f},0.0")
    (folder / "station.csv").write_text("\n".join(rows) + "\n")
    path = folder / "site.yaml"
    path.write_text(SITE + more)
    return path
