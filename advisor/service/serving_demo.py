"""The service on the invented demo: one evening in a folder that is thrown away; nothing is fetched or sent."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor import night
from advisor.lawn import MessageSettings, load_site, service_settings
from advisor.service.channels import Letter
from advisor.service.logs import LOGGER
from advisor.service.outbox import Render
from advisor.service.served import Served, take_up
from advisor.service.service import Service
from advisor.shipped import shipped

if TYPE_CHECKING:
    from advisor.errors import AdvisorError
    from advisor.lawn import Records, Site
    from advisor.weather import Weather

SETTINGS = {"service": {"advice_at": "20:15"}}


@dataclass
class Tray:
    """A channel that only keeps what it is given."""

    name: str = "demo"
    letters: list[Letter] = field(default_factory=list)

    def send(self, letter: Letter, key: str, now: datetime) -> None:  # noqa: ARG002
        """Keep it."""
        self.letters.append(letter)


@contextmanager
def demo_evening(now: datetime, render: Render) -> Iterator[tuple[Served, list[Letter]]]:
    """The demo's site served once at `now`, and the letters that it would have sent."""
    from advisor.store import open_store

    before, LOGGER.disabled = LOGGER.disabled, True
    with ExitStack() as stack:
        stack.callback(setattr, LOGGER, "disabled", before)
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory()))
        site = load_site(shipped("config", "demo.yaml"))
        site = replace(
            site, settings=SETTINGS, path=folder / "site.yaml", records_path=folder / "demo.sqlite"
        )
        store = stack.enter_context(open_store(site.records_path, seed=night.demo_records()))
        tray, wanted = Tray(), MessageSettings()
        served = take_up(site, service_settings(site), wanted, store, [tray], now, hide=str, render=render)
        Service([served], weather_for=_demo_weather).work(now)
        yield served, tray.letters


def _demo_weather(
    asked: Sequence[tuple[Site, Records]],
    now: datetime,  # noqa: ARG001
    *,
    members: bool = True,  # noqa: ARG001
) -> list[Weather | AdvisorError]:
    return [night.demo_weather() for _ in asked]
