"""Opens the records: makes the file on first use, brings its schema up to date, or says why not."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from advisor.errors import RecordsError
from advisor.files import make_folder, make_private, not_a_file
from advisor.lawn import KINDS, Records, of_kind
from advisor.store import rows
from advisor.store.connection import engine_for, writing
from advisor.store.migrate import make_ready
from advisor.store.store import Store
from advisor.store.trouble import told


def _no_fault(_point: str) -> None:
    """Nothing goes wrong; tests hand in something that does."""


def open_store(
    path: Path | None,
    *,
    create: bool = True,
    seed: Records | None = None,
    wait_s: float = 5.0,
    fault: Callable[[str], None] = _no_fault,
) -> Store:
    """Open the records at `path`, making the file and its folder on first use when `create`.

    None is a throwaway store in memory. `seed` is written into it at once, and is not in the undo
    journal. `wait_s` is how long to wait for another program's lock. `fault` is called with the
    name of every point in a write at which a process may die; tests hand one in.
    """
    if path is not None:
        _make_room(path, create=create)
    engine = engine_for(path, wait_s=wait_s)
    try:
        with told(path):
            make_ready(engine, path, fault)
            if seed is not None:
                with writing(engine) as connection:
                    for kind in KINDS:
                        rows.insert(connection, kind, of_kind(seed, kind))
    except BaseException:
        engine.dispose()
        raise
    return Store(path, engine, fault)


def _make_room(path: Path, *, create: bool) -> None:
    if path.exists():
        words = "" if path.is_dir() else not_a_file(path.stat().st_mode)
        if words:
            raise RecordsError(
                f"the records {path} cannot be opened: {words}; "
                "set another place for the records in the site file"
            )
        return
    if not create:
        raise RecordsError(f"there are no records at {path} yet; `advisor record` begins them")
    try:
        make_folder(path.parent)
    except OSError as error:
        raise RecordsError(
            f"the folder {path.parent} for the records cannot be made: {error.strerror}; "
            "set another place for the records in the site file"
        ) from error
    with suppress(OSError):  # SQLite tells why
        make_private(path)
