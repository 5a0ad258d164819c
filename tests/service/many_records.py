"""Ten thousand invented records of each kind, ending at a given time."""

from __future__ import annotations

from datetime import datetime, timedelta

from sizes import rounds

from advisor.lawn.records import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    ProbeReading,
    RainPair,
    Records,
    Run,
    StockChange,
)

COUNT = rounds(2_000, 10_000)
HOUR = timedelta(hours=1)


def many_records(until: datetime) -> Records:
    """The records: archived hours an hour apart, all others six hours."""
    until = until.replace(minute=0, second=0, microsecond=0)
    hours = [until - (COUNT - n) * HOUR for n in range(COUNT)]
    times = [until - (COUNT - n) * 6 * HOUR for n in range(COUNT)]
    return Records(
        applications=tuple(Application("Potash solution", ("Front",), t, t) for t in times),
        runs=tuple(Run("Front", t, t + HOUR / 60, 1.0) for t in times),
        gauge=tuple(GaugeReading(t, 0.01) for t in times),
        probes=tuple(ProbeReading("Front", t, 5.0) for t in times),
        audits=tuple(Audit("Front", t, 12.0 + n % 3, 0.7) for n, t in enumerate(times)),
        archive=tuple(ArchivedHour(t, 0.01, 20.0, 15.0, 2.0, 1.0, 0.0, "made") for t in hours),
        pairs=tuple(RainPair(t, 24, 0.0, 2.0, 1.0, 1.5 + n % 2, 31) for n, t in enumerate(times)),
        stock=tuple(StockChange("Potash solution", t, 1.0) for t in times),
    )
