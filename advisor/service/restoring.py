"""Puts a backup back in the place of the records, or says of what stands there that it is this lawn's.

A backup is tried before anything is changed, and what stood in its place is kept under another name. Both
wait for no service: while one holds the records nothing is done.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from advisor.advice import Adopted, AdoptedHow, RecordsLooked, Restored
from advisor.errors import RecordsError
from advisor.lawn import KINDS, Site, service_settings
from advisor.sentences import adopted_words, restored_words
from advisor.service.housekeeping import backups_of
from advisor.service.lock import lock_records

if TYPE_CHECKING:
    from advisor.store import Looked

STOP_FIRST = "stop it first; nothing was changed"


def _no_step(_point: str) -> None:
    """Nothing goes wrong; tests hand in something that does."""


def restore(
    site: Site,
    now: datetime,
    *,
    backup: Path | None = None,
    dry_run: bool = False,
    step: Callable[[str], None] = _no_step,
) -> Restored:
    """Put `backup`, or the newest sound one, in the place of the records; with `dry_run` only tell what would be.

    `step` is called with the name of every point at which a process may die.
    """
    from advisor.store import put_in_place

    path = site.records_path
    made = path.resolve().with_name(f".{path.resolve().name}.restoring")
    with _unserved(path):
        chosen, before, after, passed_over = _chosen(site, backup, None if dry_run else made)
        try:
            step("tried")
            _refuse_others(path, chosen, before)
            stands = _what_stands(path)
            kept_as = None if dry_run else put_in_place(made, after.identity, path, now, step)
        finally:
            made.unlink(missing_ok=True)
    done = Restored(
        site=site.place.name,
        dry_run=dry_run,
        backup=_told(chosen, before),
        passed_over=passed_over,
        replaced=stands,
        kept_as="" if kept_as is None else str(kept_as),
    )
    return done.model_copy(update={"words": restored_words(done, site.place.zone)})


def adopt(site: Site, now: datetime, *, step: Callable[[str], None] = _no_step) -> Adopted:
    """Take the records that stand here as this lawn's; where none do, begin them, and keep what is in their place."""
    from advisor.store import forget, keep_aside, look_over, open_store, seen

    path, kept_as = site.records_path, None
    with _unserved(path):
        stands = _what_stands(path)
        how = AdoptedHow.TAKEN if stands is not None and stands.sound else AdoptedHow.BEGUN
        if stands is not None and stands.sound and look_over(path).identity in seen(path).identities:
            how = AdoptedHow.ALREADY
        if how is not AdoptedHow.ALREADY:
            if how is AdoptedHow.BEGUN:
                kept_as = keep_aside(path, now, step)
                path.resolve().unlink(missing_ok=True)
            forget(path)
            step("forgotten")
            open_store(path).close()
    done = Adopted(
        site=site.place.name,
        how=how,
        stood=stands,
        kept_as="" if kept_as is None else str(kept_as),
    )
    return done.model_copy(update={"words": adopted_words(done, str(path))})


@contextmanager
def _unserved(path: Path) -> Iterator[None]:
    lock = lock_records(path, else_=STOP_FIRST)
    try:
        yield
    finally:
        lock.close()


def _chosen(
    site: Site, backup: Path | None, made: Path | None
) -> tuple[Path, Looked, Looked, tuple[RecordsLooked, ...]]:
    """The backup asked for, or the newest that is sound; what it held and holds now; newer ones that are not."""
    from advisor.store import trial

    if backup is not None:
        if backup.exists() and site.records_path.exists() and backup.samefile(site.records_path):
            raise RecordsError(
                f"{backup} is the records file itself",
                way_out="name a backup of it, or none for the newest sound one",
                after="nothing was changed",
            )
        try:
            return backup, *trial(backup, write_to=made), ()
        except RecordsError as error:
            raise RecordsError(
                f"{backup} cannot be put back: {error.what}",
                way_out="name another backup, or none for the newest sound one",
                after="nothing was changed",
            ) from error
    folder = service_settings(site).backup_folder
    passed_over: list[RecordsLooked] = []
    for path in backups_of(site.records_path, folder):
        try:
            return path, *trial(path, write_to=made), tuple(passed_over)
        except RecordsError as error:
            passed_over.append(RecordsLooked(path=str(path), sound=False, why=error.what))
    damaged = f": {len(passed_over)} stand there, none of them sound" if passed_over else ""
    raise RecordsError(
        f"there is no backup of {site.records_path} in {folder} that could be put back{damaged}",
        way_out="name one that stands elsewhere",
        after="nothing was changed",
    )


def _refuse_others(path: Path, backup: Path, found: Looked) -> None:
    """A sentence where the backup is of other records than ever stood here."""
    from advisor.store import seen

    known = seen(path)
    ever = {*known.identities, *known.before}
    if found.identity and ever and found.identity not in ever:
        raise RecordsError(
            f"{backup} is a backup of other records than those that were kept at {path}",
            way_out="to have it all the same, put it there by hand and say `advisor records adopt`",
            after="nothing was changed",
        )


def _what_stands(path: Path) -> RecordsLooked | None:
    from advisor.store import look_over

    if not path.exists():
        return None
    try:
        return _told(path, look_over(path))
    except RecordsError as error:
        return RecordsLooked(path=str(path), sound=False, why=error.what)


def _told(path: Path, found: Looked) -> RecordsLooked:
    counts = dict(found.counts)
    return RecordsLooked(
        path=str(path),
        sound=True,
        schema_number=found.version,
        records={kind: counts.get(kind, 0) for kind in KINDS},
        advices=counts.get("advice", 0),
        newest_at=found.newest_at,
    )
