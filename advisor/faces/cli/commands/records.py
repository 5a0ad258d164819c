"""`advisor records`: look at what is recorded, mend it, take it back, carry it in and out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Annotated

import typer

from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    JsonOption,
    NowOption,
    Opened,
    SiteOption,
    open_site,
)
from advisor.lawn import records_file
from advisor.lawn.record_fields import KINDS, gathered, kind_of, of_kind
from advisor.lawn.records import Record, Records
from advisor.recording.edited_fields import changes_of
from advisor.recording.entry import THROWAWAY, UNDO, in_words, named, open_records, refuse_beyond
from advisor.wording import listed

records = typer.Typer(
    no_args_is_help=True, help="List, mend, undo, export and import what is recorded.", rich_markup_mode=None
)
BY_THE_HOUR = ("archive", "pairs")

KindOption = Annotated[str, typer.Option("--kind", "-k", help=f"One of {', '.join(KINDS)}.")]
IdArgument = Annotated[int, typer.Argument(metavar="ID", help="The number that `list` shows.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(records, name="records")


def _kind(said: str) -> str:
    """A kind by its name or by what one of it is called: runs, run, gauge reading, rain."""
    names = {kind.one: name for name, kind in KINDS.items()} | {name: name for name in KINDS}
    names |= {name.removesuffix("s"): name for name in KINDS} | {"rain": "gauge"}
    return names.get(said.strip().lower()) or named(
        said, KINDS, what="kind of record", where="--kind", known=""
    )


def _called(record: Record, opened: Opened) -> str:
    return f"{KINDS[kind_of(record)].one} {record.id}: {in_words(record, opened.site)}"


def _throwaway(opened: Opened) -> None:
    if opened.demo:
        typer.echo(THROWAWAY)


@records.command("list")
def list_records(
    kind: Annotated[
        list[str] | None,
        typer.Option("--kind", "-k", help=f"Only these: {', '.join(KINDS)}.", show_default=False),
    ] = None,
    json: JsonOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Show what is recorded, oldest first.

    The hourly archive and the rain pairs are shown only when asked for.
    """
    opened = open_site(site, demo=demo, now=now)
    kinds = [_kind(each) for each in kind] if kind else list(KINDS)
    with open_records(opened, create=False) as store:
        found = store.records()
    if json:
        chosen = gathered(record for each in kinds for record in of_kind(found, each))
        typer.echo(records_file.to_json(chosen), nl=False)
        return
    for each in kinds:
        entries = of_kind(found, each)
        if not entries:
            if kind:
                typer.echo(f"{each}: none")
        elif each in BY_THE_HOUR and not kind:
            typer.echo(f"{each}: {len(entries)} (--kind {each} shows them)")
        else:
            typer.echo(f"{each}:")
            width = max(len(str(record.id)) for record in entries)
            for record in entries:
                typer.echo(f"  {record.id:>{width}}  {in_words(record, opened.site)}")
    if found == Records() and not kind:
        typer.echo("Nothing is recorded yet.")


@records.command("edit")
def edit(
    number: IdArgument,
    kind: KindOption,
    changes: Annotated[
        list[str],
        typer.Option("--set", metavar="FIELD=VALUE", help="A field and its new value. May be given again."),
    ],
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Give fields of one record other values."""
    opened = open_site(site, demo=demo, now=now)
    sort = _kind(kind)
    with open_records(opened, create=False) as store:
        before = store.find(sort, number)
        wanted = changes_of(changes, before, opened)
        refuse_beyond([replace(before, **wanted)], store.records(), opened.site)
        after = store.edit(sort, number, wanted)
    typer.echo(f"Changed {_called(after, opened)}; was {in_words(before, opened.site)} ({UNDO})")
    _throwaway(opened)


@records.command("remove")
def remove(
    number: IdArgument,
    kind: KindOption,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Take one record out."""
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        gone = store.remove(_kind(kind), number)
        left = [
            change
            for change in store.records().stock
            if kind_of(gone) == "applications"
            and (change.product, change.changed_at)
            == (getattr(gone, "product", ""), getattr(gone, "ended_at", None))
        ]
    typer.echo(f"Removed {_called(gone, opened)} ({UNDO})")
    for change in left:
        typer.echo(f"What it took from the stock still stands as {_called(change, opened)}")
    _throwaway(opened)


@records.command("undo")
def undo(site: SiteOption = DEFAULT_SITE, demo: DemoOption = False, now: NowOption = None) -> None:
    """Take back the last entry, edit, removal or import.

    Give it again for the one before.
    """
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        undone = store.undo_last()
    if undone is None:
        typer.echo("There is nothing to undo.")
    elif undone.act == "import":
        typer.echo(f"Undone: the import of {len(undone.gone) + len(undone.restored)} records.")
    else:
        told = [f"{_called(record, opened)} is gone again" for record in undone.gone]
        told += [f"{_called(record, opened)} stands as before" for record in undone.restored]
        typer.echo(f"Undone: {'; '.join(told)}")
    _throwaway(opened)


@records.command("export")
def export(
    target: Annotated[Path, typer.Argument(help="A file ending in .json, or a folder for CSV files.")],
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Write all records to a JSON file, or to a folder with one CSV file per kind."""
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        found = store.records()
    written = records_file.write(found, target)
    total = sum(len(of_kind(found, kind)) for kind in KINDS)
    typer.echo(
        f"Exported {_counted(total)} to {target}" + (f" ({len(written)} files)" if len(written) > 1 else "")
    )


@records.command("import")
def import_(
    source: Annotated[Path, typer.Argument(help="A JSON file or a folder of CSV files, as export writes.")],
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Add the records of a file, none of them twice; where one is wrong, none is added."""
    opened = open_site(site, demo=demo, now=now)
    found = records_file.read(source)
    with open_records(opened) as store:
        done = store.import_records(found)
    added = _by_kind(done.added)
    undo_hint = f" ({UNDO})" if added or any(done.replaced.values()) else ""
    typer.echo(f"Imported {listed(added) if added else 'nothing new'} from {source}{undo_hint}")
    for words, counts in (
        ("There already, left out", done.skipped),
        ("Given the file's values", done.replaced),
    ):
        parts = _by_kind(counts)
        if parts:
            typer.echo(f"{words}: {listed(parts)}")
    _throwaway(opened)


@records.command("check")
def check(site: SiteOption = DEFAULT_SITE, demo: DemoOption = False, now: NowOption = None) -> None:
    """Look for what is damaged or doubtful in the records.

    The exit code is 1 when there is something.
    """
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        found = store.check(site=opened.site, now=opened.now)
        total = sum(len(of_kind(store.records(), kind)) for kind in KINDS)
    if not found:
        typer.echo(f"The records are sound: {_counted(total)} looked through.")
        return
    for problem in found:
        typer.echo(f"{problem[:1].upper()}{problem[1:]}.")
    raise typer.Exit(1)


def _counted(number: int) -> str:
    return "1 record" if number == 1 else f"{number} records"


def _by_kind(counts: Mapping[str, int]) -> list[str]:
    return [f"{n} {KINDS[kind].one}{'s' if n > 1 else ''}" for kind, n in counts.items() if n]
