"""What a command rests on: the demo's inputs and a throwaway copy of its records, or the site's own.

Where nothing has been recorded yet, a command that keeps nothing makes no records file.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.lawn import Application
    from advisor.night import Inputs
    from advisor.store import Store


def gathered(opened: Opened, weather_file: Path | None) -> Inputs:
    """The inputs of an advice at the moment asked about; nothing is kept."""
    from advisor import night

    if opened.demo:
        return night.gather_demo(opened.site, opened.now, weather_file=weather_file)
    with _kept(opened) as store:
        return night.gather(opened.site, store, opened.now, weather_file=weather_file)


def all_applications(opened: Opened) -> tuple[Application, ...]:
    """Every application up to the moment asked about, however long ago."""
    if opened.demo:
        from advisor.night import demo_records

        found = demo_records().applications
    else:
        with _kept(opened) as store:
            found = store.records().applications
    return tuple(a for a in found if a.ended_at <= opened.now)


def open_records(opened: Opened, *, create: bool = True) -> Store:
    """The site's records; with --demo a throwaway copy of the demo's."""
    from advisor.store import open_store

    if not opened.demo:
        return open_store(opened.site.records_path, create=create)
    from advisor.night import demo_records

    return open_store(None, seed=demo_records())


def records_to_look_at(opened: Opened) -> Store:
    """The site's records, where nothing is written: an empty store in memory where there is no file yet."""
    return open_records(opened) if opened.demo else _kept(opened)


def keep_demo_advice(store: Store, opened: Opened) -> None:
    """Give a throwaway store the advice of the demo's evening, as if it had been given then."""
    from advisor.faces.cli.options import DEMO_NOW, moment
    from advisor.night import gather_demo, keep

    given_at = moment(DEMO_NOW, opened.site.place.zone)
    keep(store, gather_demo(opened.site, given_at).advise())


def _kept(opened: Opened) -> Store:
    """The site's records, or an empty store in memory where there is no file yet."""
    from advisor.store import has_begun, open_store

    path = opened.site.records_path
    return open_store(path if has_begun(path) else None)
