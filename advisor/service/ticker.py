"""Wakes the service: at the very moment of the next job, and every so often besides. The only caller of apscheduler.

What is due is decided elsewhere, from dated keys; here is only the alarm clock. So a job cannot fire
twice in an hour that autumn repeats, nor drift, nor be skipped for a second's delay, whatever the
scheduler does. The regular tick notices a clock that was set or a computer that slept.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime

from apscheduler.schedulers.background import BackgroundScheduler

EVERY_S = 30
GRACE_S = 6 * 3600


class Ticker:
    """Calls `wake` (which must return at once) until it is stopped."""

    def __init__(self, wake: Callable[[], None], *, every_s: float = EVERY_S) -> None:
        self._wake = wake
        defaults = {"coalesce": True, "max_instances": 1, "misfire_grace_time": GRACE_S}
        self._scheduler = BackgroundScheduler(timezone=UTC, job_defaults=defaults)
        self._scheduler.add_job(wake, "interval", seconds=every_s, id="tick")

    def start(self) -> None:
        """Begin."""
        self._scheduler.start()

    def wake_at(self, when: datetime) -> None:
        """Wake at this moment, in place of the one set before."""
        self._scheduler.add_job(self._wake, "date", run_date=when, id="next", replace_existing=True)

    def stop(self) -> None:
        """End; no call of `wake` is under way afterwards."""
        self._scheduler.shutdown(wait=True)
