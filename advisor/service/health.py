"""How the service is: read from the records, for `advisor status` and for the health address of monitors."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from advisor.errors import AdvisorError, InputError
from advisor.lawn.service_settings import ServiceSettings
from advisor.lawn.site_values import Site
from advisor.service.jobs import advice_key, coming, named, slots_around

if TYPE_CHECKING:
    from advisor.store import Event, Store

OVERDUE_AFTER = timedelta(minutes=45)
UNSENT_AFTER = timedelta(hours=1)
WEATHER_OLD_AFTER_H = 12.0
STUCK_AFTER = timedelta(minutes=15)
LEAST_FREE_BYTES = 50_000_000
LOOKED_BACK = timedelta(days=4)


@dataclass(frozen=True, slots=True)
class SiteHealth:
    """One site: `reasons` says what is wrong, empty when all is well; times are ISO, UTC."""

    site: str
    reasons: tuple[str, ...]
    last_advice: Mapping[str, Any] | None
    last_weather: Mapping[str, Any] | None
    last_message: Mapping[str, Any] | None
    messages_waiting: int
    next_jobs: tuple[Mapping[str, str], ...]
    disk_free_bytes: int

    @property
    def ok(self) -> bool:
        """Whether nothing is wrong."""
        return not self.reasons


def site_health(
    site: Site, settings: ServiceSettings, store: Store, now: datetime, *, live: Sequence[str] = ()
) -> SiteHealth:
    """How a site stands at `now`; `live` are the troubles that the running service knows of."""
    from advisor.advice.old_versions import open_advice

    reasons = list(live)
    events = store.events(since=now - LOOKED_BACK)
    done = {event.key for event in events}
    begun = store.done(f"served:{named(site)}")
    kept = store.last_advice(site.place.name)
    advice = None if kept is None else open_advice(kept.advice_json)
    slots = [s for s in slots_around(settings, site, now) if s.at + OVERDUE_AFTER <= now]
    if slots and begun is not None and slots[-1].until > begun.at:
        if advice_key(site, slots[-1].day) not in done:
            reasons.append(f"the advice of {slots[-1].day} was not given")
    elif begun is None:
        reasons.append("it was never served yet")
    weather = _last_weather(events)
    if weather is not None:
        hours = (now - datetime.fromisoformat(weather["fetched_at"])) / timedelta(hours=1)
        if hours > WEATHER_OLD_AFTER_H:
            reasons.append(f"the last weather is {hours:.0f} h old")
    waiting = _waiting(events)
    stuck = [event for event in waiting if now - event.at > UNSENT_AFTER]
    if stuck:
        reasons.append(f"{len(stuck)} message(s) wait longer than an hour")
    free = _free(site.records_path)
    if free < LEAST_FREE_BYTES:
        reasons.append(f"only {free / 1e6:.0f} MB are free on the disk of the records")
    return SiteHealth(
        site=site.place.name,
        reasons=tuple(dict.fromkeys(reasons)),
        last_advice=None
        if kept is None
        else {
            "night": kept.night.isoformat(),
            "given_at": kept.given_at.isoformat(),
            "headline": "" if advice is None else advice.headline,
        },
        last_weather=weather,
        last_message=_last_message(events),
        messages_waiting=len(waiting),
        next_jobs=tuple(
            {"job": job.job, "at": job.at.isoformat()}
            for job in coming(settings, site, done=done, last=advice, now=now)
        ),
        disk_free_bytes=free,
    )


def report(sites: Sequence[SiteHealth], now: datetime, *, reasons: Sequence[str] = ()) -> dict[str, Any]:
    """All sites as one JSON object: `ok`, `reason` in one line, and each site."""
    told = [*reasons, *(f"{one.site}: {why}" for one in sites for why in one.reasons)]
    return {
        "schema": "advisor.health/1",
        "ok": not told,
        "reason": "; ".join(told),
        "now": now.isoformat(timespec="seconds"),
        "sites": [{**asdict(one), "ok": one.ok} for one in sites],
    }


def _last_weather(events: Sequence[Event]) -> Mapping[str, Any] | None:
    found = [
        e.payload
        for e in events
        if e.key.startswith(("archive:", "advice:", "look:")) and "fetched_at" in e.payload
    ]
    newest = max(found, key=lambda p: datetime.fromisoformat(p["fetched_at"]), default=None)
    return None if newest is None else {"source": newest["source"], "fetched_at": newest["fetched_at"]}


def _last_message(events: Sequence[Event]) -> Mapping[str, Any] | None:
    sent = [event for event in events if event.key.startswith("sent:")]
    if not sent:
        return None
    return {
        "at": sent[-1].at.isoformat(),
        "channel": sent[-1].payload["channel"],
        "kind": sent[-1].payload["kind"],
    }


def _waiting(events: Sequence[Event]) -> list[Event]:
    over = {e.key.partition(":")[2] for e in events if e.key.startswith(("sent:", "dropped:"))}
    return [e for e in events if e.key.startswith("outbox:") and e.key.partition(":")[2] not in over]


def _free(path: Path) -> int:
    for folder in (path.parent, *path.absolute().parents):
        if folder.exists():
            return shutil.disk_usage(folder).free
    return 0


class HealthServer:
    """Answers GET on 127.0.0.1 with 200 when all is well, 503 with the reason when not; JSON both times."""

    def __init__(self, port: int, ask: Callable[[], dict[str, Any]]) -> None:
        class Handler(BaseHTTPRequestHandler):
            server_version, sys_version = "advisor", ""

            def do_GET(self) -> None:
                try:
                    told = ask()
                except AdvisorError as error:
                    told = {"schema": "advisor.health/1", "ok": False, "reason": str(error)}
                except Exception as error:
                    told = {"schema": "advisor.health/1", "ok": False, "reason": type(error).__name__}
                body = json.dumps(told, ensure_ascii=False, indent=1).encode()
                self.send_response(200 if told["ok"] else 503)
                self.send_header("Content-Type", "application/json")
                self.send_header("Cache-Control", "no-store")
                self.send_header("Content-Length", str(len(body)))
                self.end_headers()
                self.wfile.write(body)

            def log_message(self, *_: object) -> None:
                """Say nothing."""

        try:
            self._http = ThreadingHTTPServer(("127.0.0.1", port), Handler)
        except OSError as error:
            raise InputError(
                f"the health address cannot be had ({(error.strerror or 'refused').lower()})",
                where="service.health_port",
                found=str(port),
                allowed="a port that nothing else uses",
            ) from None
        self._http.daemon_threads = True
        self.port: int = self._http.server_address[1]

    def __enter__(self) -> Self:
        threading.Thread(target=self._http.serve_forever, args=(0.1,), daemon=True, name="health").start()
        return self

    def __exit__(self, *_: object) -> None:
        self._http.shutdown()
        self._http.server_close()
