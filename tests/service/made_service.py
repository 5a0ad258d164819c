"""A service made for tests: an invented site with records in a folder, made weather, no clock."""

from __future__ import annotations

import secrets as random_text
from collections.abc import Callable, Sequence
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
from made import CHICAGO, made_site, made_weather, made_zone

from advisor.errors import AdvisorError, StaleWeather
from advisor.faces.text.advice_text import advice_text
from advisor.lawn.products import Product
from advisor.lawn.records import Application, Records
from advisor.lawn.service_settings import WebhookSettings, message_settings, service_settings
from advisor.lawn.site_values import Site
from advisor.lawn.tables import kind_table
from advisor.service.channels import Channel, Webhook
from advisor.service.secret_values import Secrets
from advisor.service.served import Served, take_up
from advisor.service.service import Service
from advisor.store import open_store
from advisor.weather.weather import Array, Weather

SIGNING = random_text.token_hex(16)


def at(text: str) -> datetime:
    """A local time at the invented place, as UTC."""
    return datetime.fromisoformat(text).replace(tzinfo=CHICAGO).astimezone(UTC)


def service_site(folder: Path, name: str = "Larkmoor Lane", **changes: Any) -> Site:
    """An invented site with one zone and one product, advised at 20:15."""
    kind = kind_table()["soil-liquid"]
    made = {
        "path": folder / "site.yaml",
        "records_path": folder / "lawn.sqlite",
        "products": {"Potash solution": Product(name="Potash solution", kind=kind)},
        "settings": {"service": {"advice_at": "20:15"}, "messages": {}},
    }
    site = made_site(made_zone(), **(made | changes))
    return replace(site, place=replace(site.place, name=name))


def hook_channel(url: str) -> Webhook:
    """A webhook channel that signs with this run's own secret."""
    return Webhook(WebhookSettings(url, None), Secrets({"WEBHOOK_SECRET": SIGNING}))


def applied(when: datetime) -> Application:
    """The invented product, put down on the zone."""
    return Application("Potash solution", ("Front",), when, when)


def rain_ahead(*daily_mm: Sequence[float]) -> Array:
    """Members from daily totals: one row a member, each day's rain spread over its hours."""
    return np.repeat(np.array(daily_mm, dtype=np.float64), 24, axis=1) / 24.0


class Sky:
    """Weather on command: `down` fails every request; `members_mm` is the rain ahead; `asked` counts."""

    def __init__(self) -> None:
        self.down = ""
        self.members_mm: Array | None = None
        self.past_rain_mm = 0.0
        self.past_days = 31
        self.asked: list[tuple[int, bool]] = []

    def __call__(
        self, asks: Sequence[tuple[Site, Records]], now: datetime, *, members: bool = True
    ) -> list[Weather | AdvisorError]:
        self.asked.append((len(asks), members))
        if self.down:
            return [StaleWeather(self.down)] * len(asks)
        made = made_weather(
            self.members_mm, now=now, past_days=self.past_days, past_rain_mm=self.past_rain_mm
        )
        return [made] * len(asks)


@contextmanager
def serving(
    sites: Site | Sequence[Site],
    now: datetime,
    *,
    sky: Sky | None = None,
    channels: Sequence[Channel] = (),
    step: Callable[[str], None] = lambda point: None,
    fault: Callable[[str], None] = lambda point: None,
):
    """A Service on the records as they are."""
    found = [sites] if isinstance(sites, Site) else list(sites)
    hide = Secrets({"WEBHOOK_SECRET": SIGNING}).hide
    served: list[Served] = []
    try:
        for site in found:
            store = open_store(site.records_path, fault=fault)
            settings, wanted = service_settings(site), message_settings(site)
            served.append(
                take_up(site, settings, wanted, store, channels, now, hide=hide, render=advice_text)
            )
        yield Service(served, weather_for=sky or Sky(), step=step)
    finally:
        for one in served:
            one.store.close()
