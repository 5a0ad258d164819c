"""Runs the service until it is told to stop: sites opened and locked, an alarm clock, one worker, signals.

The worker is a thread that may be left behind: a request to a slow service can take longer than the
five seconds in which we are to stop, while a write takes none of that and is waited for.
"""

from __future__ import annotations

import os
import signal
import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from datetime import datetime
from pathlib import Path

from advisor.advice import ServiceHealth, Trouble, TroubleKind
from advisor.errors import InputError
from advisor.lawn import (
    MessageSettings,
    ServiceSettings,
    Site,
    load_site,
    message_settings,
    service_settings,
)
from advisor.service.channels import Channel, channels_of
from advisor.service.health import STUCK_AFTER, service_health, site_health
from advisor.service.health_address import HealthServer
from advisor.service.lock import lock_records
from advisor.service.logs import say, set_up, take_down
from advisor.service.outbox import Render
from advisor.service.secret_values import Secrets, read_secrets
from advisor.service.served import Served, take_up
from advisor.service.service import Service, Stopping
from advisor.service.ticker import Ticker

Clock = Callable[[], datetime]
STOP_WITHIN_S = 3.0


@contextmanager
def opened(
    paths: Sequence[Path], clock: Clock, render: Render
) -> Iterator[tuple[list[Served], Callable[[str], str]]]:
    """The sites of these files, locked and ready, and what hides their secrets; the log is set up.

    `render` writes a whole advice as the text behind a message.

    Raises an AdvisorError for anything in them that cannot be served, before anything is written.
    """
    from advisor.store import open_store

    sites = [load_site(path) for path in paths]
    _apart(sites)
    read: list[tuple[Site, ServiceSettings, MessageSettings, tuple[Channel, ...], Secrets]] = []
    every = Secrets({})
    for site in sites:
        settings, wanted = service_settings(site), message_settings(site)
        secrets = read_secrets(wanted.secrets, os.environ)
        read.append((site, settings, wanted, channels_of(wanted, secrets), secrets))
        every = every.and_those_of(secrets)
    with ExitStack() as stack:
        for site in sites:
            stack.callback(lock_records(site.records_path).close)
        first = read[0][1]
        handler = set_up(first.log, hide=every.hide, bytes_each=first.log_bytes, kept=first.logs_kept)
        stack.callback(take_down, handler)
        served = []
        for site, settings, wanted, channels, _ in read:
            store = stack.enter_context(open_store(site.records_path))
            served.append(
                take_up(site, settings, wanted, store, channels, clock(), hide=every.hide, render=render)
            )
        yield served, every.hide


def _apart(sites: Sequence[Site]) -> None:
    """Sites served together need records and names of their own."""
    for what, keys in (
        ("records", [str(site.records_path.resolve()) for site in sites]),
        ("name", [site.place.name.casefold() for site in sites]),
    ):
        for index, key in enumerate(keys):
            if key in keys[:index]:
                raise InputError(
                    f"two sites share one {what}"
                    if what == "name"
                    else "two sites share one file of records",
                    where=str(sites[index].path),
                    found=f"that of {sites[keys.index(key)].path}",
                    allowed=f"{'a name' if what == 'name' else 'records'} of its own for each site",
                )


def serve_once(paths: Sequence[Path], clock: Clock, *, render: Render) -> dict[str, tuple[Trouble, ...]]:
    """Do what is due now and return what went wrong, by site."""
    with opened(paths, clock, render) as (served, _):
        service = Service(served)
        service.work(clock())
        return service.troubles


def serve_until_stopped(
    paths: Sequence[Path], clock: Clock, *, render: Render, ready: Callable[[str], None]
) -> None:
    """Serve until SIGTERM or SIGINT; `ready` is told in a line what is served."""
    stopped, wake = threading.Event(), threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stopped.set())
    with opened(paths, clock, render) as (served, hide), ExitStack() as stack:
        service = Service(served)
        ticker = Ticker(wake.set)
        started = clock()

        def ask() -> ServiceHealth:
            return _report(service, clock(), started, hide)

        first = served[0].settings
        port = first.health_port
        if port is not None:
            stack.enter_context(HealthServer(port, ask, first.health_names))
        worker = threading.Thread(
            target=_work, args=(service, ticker, wake, clock), daemon=True, name="worker"
        )
        wake.set()
        ticker.start()
        worker.start()
        names = ", ".join(one.site.place.name for one in served)
        say("serving", sites=names, process=os.getpid())
        ready(f"Serving {names}." + (f" Health: http://127.0.0.1:{port}/" if port is not None else ""))
        stopped.wait()
        service.stop()
        wake.set()
        ticker.stop()
        worker.join(STOP_WITHIN_S)
        rested = service.rest(0.5)
        say("stopped", sites=names, write_in_hand=not rested)


def _work(service: Service, ticker: Ticker, wake: threading.Event, clock: Clock) -> None:
    while True:
        wake.wait()
        wake.clear()
        try:
            service.work(clock())
            ticker.wake_at(service.next_at(clock()))
        except Stopping:
            return
        except Exception as error:
            say("failed", level=40, trace=error, key="round")


def _report(service: Service, now: datetime, started: datetime, hide: Callable[[str], str]) -> ServiceHealth:
    stuck = now - (service.worked_at or started) > STUCK_AFTER
    sites = [
        site_health(
            one.site, one.settings, one.store, now, live=service.troubles.get(one.site.place.name, ())
        )
        for one in service.served
    ]
    told = service_health(sites, now, troubles=[Trouble(kind=TroubleKind.STUCK)] if stuck else [])
    return told.model_copy(update={"reason": hide(told.reason)})
