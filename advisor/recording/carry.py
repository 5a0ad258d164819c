"""The records as a whole: list, take back the last entry, carry in and out, look through."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.advice import Act, Carried, Examined, Exported, RecordKind, TakenBack
from advisor.lawn import KINDS, Records, Site, gathered, of_kind, write_records
from advisor.recording.entry import as_kept
from advisor.recording.said import kind_of_record

if TYPE_CHECKING:
    from advisor.store import Store


def kinds_asked(texts: Iterable[str] | None) -> tuple[str, ...]:
    """The kinds of record that are named, or all."""
    return tuple(kind_of_record(each) for each in texts or ()) or tuple(KINDS)


def of_kinds(records: Records, kinds: Iterable[str]) -> Records:
    """The records of these kinds alone."""
    return gathered(record for kind in kinds for record in of_kind(records, kind))


def undo_last(site: Site, store: Store) -> TakenBack:
    """Take back the last entry, edit, removal or import, with all that went with it."""
    undone = store.undo_last()
    if undone is None:
        return TakenBack(site=site.place.name, act=None)
    return TakenBack(
        site=site.place.name,
        act=Act(undone.act),
        gone=tuple(as_kept(record, site) for record in undone.gone),
        restored=tuple(as_kept(record, site) for record in undone.restored),
    )


def export_records(site: Site, store: Store, target: Path) -> Exported:
    """Write all records to a JSON file, or to a folder with one CSV file per kind."""
    found = store.records()
    written = write_records(found, target)
    return Exported(
        site=site.place.name,
        target=str(target),
        files=tuple(str(path) for path in written),
        records={RecordKind(kind): len(of_kind(found, kind)) for kind in KINDS},
    )


def take_in_records(site: Site, store: Store, found: Records, *, source: Path) -> Carried:
    """Add the records that a file held as one entry, none of them twice."""
    done = store.import_records(found)
    added, skipped, replaced = (
        {RecordKind(kind): number for kind, number in counts.items() if number}
        for counts in (done.added, done.skipped, done.replaced)
    )
    return Carried(site=site.place.name, source=str(source), added=added, skipped=skipped, replaced=replaced)


def examine_records(site: Site, store: Store, now: datetime) -> Examined:
    """Look for what is damaged or doubtful in the records."""
    doubts = tuple(store.check(site=site, now=now))
    records = store.records()
    return Examined(
        site=site.place.name,
        ok=not doubts,
        looked_through=sum(len(of_kind(records, kind)) for kind in KINDS),
        doubts=doubts,
    )
