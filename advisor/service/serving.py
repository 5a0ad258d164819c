"""Runs the service until it is told to stop: sites opened and locked, an alarm clock, one worker, signals.

The worker is a thread that may be left behind: a request to a slow service can take longer than the
five seconds in which we are to stop, while a write takes none of that and is waited for.
"""

from __future__ import annotations

import faulthandler
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
from advisor.sentences import standing_words
from advisor.service.channels import Channel, channels_of
from advisor.service.health import STUCK_AFTER, service_health, site_health
from advisor.service.health_address import HealthServer
from advisor.service.heartbeat import heartbeat_address
from advisor.service.jobs import next_slot
from advisor.service.lock import lock_records
from advisor.service.logs import say, set_up, take_down
from advisor.service.outbox import Render
from advisor.service.secret_values import Secrets, read_secrets
from advisor.service.served import Served, take_up
from advisor.service.service import Service, Stopping
from advisor.service.sign_of_life import Manager
from advisor.service.ticker import EVERY_S, Ticker

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
        heartbeat_address(settings, secrets)
        read.append((site, settings, wanted, channels_of(wanted, secrets), secrets))
        every = every.and_those_of(secrets)
    with ExitStack() as stack:
        for site in sites:
            stack.callback(lock_records(site.records_path).close)
        first = read[0][1]
        handler = set_up(first.log, hide=every.hide, bytes_each=first.log_bytes, kept=first.logs_kept)
        stack.callback(take_down, handler)
        served = []
        for site, settings, wanted, channels, secrets in read:
            store = stack.enter_context(open_store(site.records_path))
            served.append(
                take_up(site, settings, wanted, store, channels, clock(), hide=every.hide, render=render)
            )
            served[-1].secrets = secrets
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
    """Serve until SIGTERM, SIGINT or SIGHUP; `ready` is told in a line what is served.

    The service manager, where there is one, hears of it too, and of every round that went through.
    """
    stopped, wake = threading.Event(), threading.Event()
    _stop_when_told(stopped)
    manager = Manager(os.environ)
    with opened(paths, clock, render) as (served, hide), ExitStack() as stack:
        service = Service(served)
        ticker = Ticker(wake.set, every_s=min(EVERY_S, (manager.watchdog_s or EVERY_S) / 3))
        started = clock()

        def ask() -> ServiceHealth:
            return _report(service, clock(), started, hide)

        first = served[0].settings
        port = first.health_port
        if port is not None:
            stack.enter_context(HealthServer(port, ask, first.health_names))

        def alive() -> None:
            manager.alive(hide(_status(service, clock())))

        worker = threading.Thread(
            target=_work, args=(service, ticker, wake, clock, alive), daemon=True, name="worker"
        )
        wake.set()
        ticker.start()
        worker.start()
        names = ", ".join(one.site.place.name for one in served)
        say("serving", sites=names, process=os.getpid())
        ready(f"Serving {names}." + (f" Health: http://127.0.0.1:{port}/" if port is not None else ""))
        manager.ready()
        stopped.wait()
        manager.stopping()
        service.stop()
        wake.set()
        ticker.stop()
        worker.join(STOP_WITHIN_S)
        rested = service.rest(0.5)
        say("stopped", sites=names, write_in_hand=not rested)


def _stop_when_told(stopped: threading.Event) -> None:
    """Stop on signals; a hang-up that is ignored from the beginning (nohup) stays ignored."""
    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        if number != signal.SIGHUP or signal.getsignal(number) != signal.SIG_IGN:
            signal.signal(number, lambda *_: stopped.set())
    faulthandler.enable()  # where it stuck stands in the journal when the manager's watchdog ends it


def _work(
    service: Service, ticker: Ticker, wake: threading.Event, clock: Clock, alive: Callable[[], None]
) -> None:
    """Round after round. Only here `alive` is called, after a round that went through: who is stuck is silent."""
    while True:
        wake.wait()
        wake.clear()
        try:
            service.work(clock())
            ticker.wake_at(service.next_at(clock()))
            alive()
        except Stopping:
            return
        except Exception as error:
            say("failed", level=40, trace=error, key="round")


def _status(service: Service, now: datetime) -> str:
    """How the sites stand, in a line."""
    return "; ".join(
        standing_words(
            one.site.place.name,
            service.troubles.get(one.site.place.name, ()),
            next_slot(one.settings, one.site, now).at.astimezone(one.site.place.zone),
        )
        for one in service.served
    )


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
