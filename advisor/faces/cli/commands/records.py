"""`advisor records`: look at what is recorded, mend it, take it back, carry it in and out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError, ManyProblems
from advisor.faces.cli.confirmed import anyway_if_said, may_ask
from advisor.faces.cli.inputs import open_records, records_to_look_at
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    AnywayOption,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    open_site,
)
from advisor.faces.cli.printed import UNDO, print_done, print_json
from advisor.lawn import KINDS, Records, of_kind, read_rows, records_to_json
from advisor.recording import (
    Wanted,
    edit_record,
    examine_records,
    export_records,
    kinds_asked,
    of_kinds,
    refuse_held,
    remove_record,
    take_in_records,
    undo_last,
)
from advisor.sentences import (
    along_words,
    carried_words,
    edited_words,
    examined_words,
    exported_words,
    followed_words,
    looked_over_words,
    record_words,
    removed_words,
    undone_words,
    unusable_words,
)
from advisor.wording import INVENTED

if TYPE_CHECKING:
    from advisor.advice import Carried, Edited

records = typer.Typer(
    no_args_is_help=True, help="List, mend, undo, export and import what is recorded.", rich_markup_mode=None
)
BY_THE_HOUR = ("archive", "pairs")

KindOption = Annotated[str, typer.Option("--kind", "-k", help=f"One of {', '.join(KINDS)}.")]
IdArgument = Annotated[int, typer.Argument(metavar="ID", help="The number that `list` shows.")]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(records, name="records")


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
    kinds = kinds_asked(kind)
    with open_records(opened, create=False) as store:
        found = store.records()
    if json:
        typer.echo(records_to_json(of_kinds(found, kinds)), nl=False)
        return
    for each in kinds:
        entries = of_kind(found, each)
        broken = [there for there in found.unusable if there.kind == each]
        if not entries and not broken:
            if kind:
                typer.echo(f"{each}: none")
        elif each in BY_THE_HOUR and not kind:
            typer.echo(f"{each}: {len(entries) + len(broken)} (--kind {each} shows them)")
        else:
            typer.echo(f"{each}:")
            width = max(len(str(there.id)) for there in (*entries, *broken))
            for record in entries:
                typer.echo(f"  {record.id:>{width}}  {record_words(record, opened.site)}")
            for there in broken:
                typer.echo(f"  {there.id:>{width}}  {unusable_words(there)}")
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
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Give fields of one record other values.

    What follows from them changes too, and is told.
    """
    opened = open_site(site, demo=demo, now=now)

    def edited(so: bool) -> Edited:
        try:
            return edit_record(
                opened.site, store, opened.now, kind=kind, number=number, changes=changes, anyway=so
            )
        except InputError as error:
            raise _told_of_set(error) from error
        except ManyProblems as several:
            raise ManyProblems([_told_of_set(each) for each in several.problems]) from several

    with open_records(opened, create=False) as store:
        done = anyway_if_said(edited, anyway=anyway, json=json)
    print_done(
        done,
        json=json,
        opened=opened,
        lines=lambda: (
            f"{edited_words(done)} ({UNDO})",
            *followed_words(done.followed),
            *along_words(done.along),
        ),
    )


def _told_of_set(error: InputError) -> InputError:
    """An error about a record's field, told of the option that names it."""
    own = error.where or error.field in ("", "kind", "changes")
    return error if own else error.at(f"--set {error.field}")


@records.command("remove")
def remove(
    number: IdArgument,
    kind: KindOption,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Take one record out, and with an application what it took from the stock."""
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        done = remove_record(opened.site, store, kind=kind, number=number)
    print_done(
        done,
        json=json,
        opened=opened,
        lines=lambda: (f"{removed_words(done)} ({UNDO})", *along_words(done.along)),
    )


@records.command("undo")
def undo(
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Take back the last entry, edit, removal or import.

    Give it again for the one before.
    """
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        done = undo_last(opened.site, store)
    print_done(done, json=json, opened=opened, lines=lambda: (undone_words(done),))


@records.command("export")
def export(
    target: Annotated[Path, typer.Argument(help="A file ending in .json, or a folder for CSV files.")],
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Write all records to a JSON file, or to a folder with one CSV file per kind.

    In CSV a text that a spreadsheet would take for a formula has an apostrophe before it, which import takes away.
    """
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        done = export_records(opened.site, store, target)
    if json:
        typer.echo(done.model_dump_json(indent=2))
    else:
        typer.echo(exported_words(done))


@records.command("import")
def import_(
    source: Annotated[Path, typer.Argument(help="A JSON file or a folder of CSV files, as export writes.")],
    yes: Annotated[
        bool, typer.Option("--yes", help="Write it; if not said, it is shown what would be written.")
    ] = False,
    leave_out: Annotated[
        bool, typer.Option("--leave-out", help="Leave out the rows that are held back, and import the rest.")
    ] = False,
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Show what the records of a file would add, and with --yes add them, none of them twice.

    Where a row is held back, none is added. On a terminal it is asked instead of --yes. The exit code is 1
    where rows are held back.
    """
    opened = open_site(site, demo=demo, now=now)
    found = read_rows(source)

    def taken_in(*, write: bool) -> Carried:
        wanted = Wanted(write=write, leave_out=leave_out, anyway=anyway)
        with open_records(opened) if write else records_to_look_at(opened) as store:
            return take_in_records(opened.site, store, found, opened.now, source=source, wanted=wanted)

    done = taken_in(write=False)
    if yes:
        refuse_held(done)
    else:
        holds = bool(done.held) and not leave_out
        if json:
            print_json(done)
        else:
            typer.echo("\n".join(looked_over_words(done)))
        would = bool(done.added or done.replaced)
        if holds or not would or not may_ask(json=json) or not typer.confirm("Write it?"):
            raise typer.Exit(1 if holds else 0)
    done = taken_in(write=True)

    def lines() -> tuple[str, ...]:
        first, *more = carried_words(done)
        return (f"{first} ({UNDO})" if done.added or done.replaced else first, *more)

    print_done(done, json=json, opened=opened, lines=lines)


@records.command("check")
def check(
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Look for what is damaged or doubtful in the records.

    The exit code is 1 when there is something.
    """
    opened = open_site(site, demo=demo, now=now)
    with open_records(opened, create=False) as store:
        done = examine_records(opened.site, store, opened.now)
    if json:
        typer.echo(done.model_dump_json(indent=2))
    else:
        typer.echo("\n".join([*([f"{INVENTED}\n"] if demo else []), *examined_words(done)]))
    if not done.ok:
        raise typer.Exit(1)


@records.command("restore")
def restore_backup(
    backup: Annotated[
        Path | None, typer.Argument(help="A backup; none for the newest sound one.", show_default=False)
    ] = None,
    dry_run: Annotated[
        bool, typer.Option("--dry-run", help="Try it and tell what would be replaced, and change nothing.")
    ] = False,
    site: SiteOption = DEFAULT_SITE,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Put a backup back in the place of the records, and keep what stood there.

    The backup is tried first. Stop the service before.
    """
    from advisor.service import restore

    opened = open_site(site, demo=False, now=now)
    done = restore(opened.site, opened.now, backup=backup, dry_run=dry_run)
    print_done(done, json=json, opened=opened, lines=lambda: done.words)


@records.command("adopt")
def adopt_records(
    site: SiteOption = DEFAULT_SITE,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Say that the records that stand here are this lawn's, or begin them anew where none do.

    What stands in their place and is none of records is kept under another name.
    """
    from advisor.service import adopt

    opened = open_site(site, demo=False, now=now)
    done = adopt(opened.site, opened.now)
    print_done(done, json=json, opened=opened, lines=lambda: done.words)
