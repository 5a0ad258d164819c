"""`advisor record`: what was put down, what ran, what fell, what was found, what was bought."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.confirmed import anyway_if_said
from advisor.faces.cli.inputs import keep_demo_advice, open_records
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    AnywayOption,
    DemoOption,
    JsonOption,
    NowOption,
    Opened,
    SiteOption,
    open_site,
)
from advisor.faces.cli.plain_help import NothingBelowZero
from advisor.faces.cli.printed import UNDO, print_done
from advisor.lawn import METHODS
from advisor.recording import (
    ApplicationEntry,
    AsAdvisedEntry,
    Entry,
    ProbeEntry,
    RainEntry,
    RunEntry,
    StockEntry,
    advised_runs,
    keep,
    understood,
)
from advisor.sentences import left_out_words, recorded_words

if TYPE_CHECKING:
    from advisor.advice import Recorded
    from advisor.lawn import Site

record = typer.Typer(no_args_is_help=True, help="Record what happened on the lawn.", rich_markup_mode=None)

AtOption = Annotated[
    str | None,
    typer.Option(
        "--at", help="When: 16:30 (the last one before now) or in full 2026-06-16T16:30. If not said, now."
    ),
]
NoteOption = Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)]


def register(app: typer.Typer) -> None:
    """Add the commands."""
    app.add_typer(record, name="record")


def _record(entry: Entry, opened: Opened, *, anyway: bool, json: bool) -> None:
    """Write the entry and say, in one line, what was recorded and how to undo it."""
    meant = understood(entry, opened.site, opened.now)
    with open_records(opened) as store:
        done = anyway_if_said(
            lambda so: keep(meant, opened.site, store, opened.now, anyway=so), anyway=anyway, json=json
        )
    print_done(done, json=json, opened=opened, lines=lambda: _lines(done, opened.site))


def _lines(done: Recorded, site: Site) -> Iterator[str]:
    yield f"{recorded_words(done, site)} ({UNDO})"
    yield from (note.text for note in done.notes)
    yield from left_out_words(done.left_out, site)


@record.command("application")
def application(
    products: Annotated[
        list[str],
        typer.Argument(metavar="PRODUCT|ROUND", help="Products of the site file, or the name of a round."),
    ],
    zones: Annotated[
        str | None,
        typer.Option("--zones", help="Zones, separated by commas. If not said, all.", show_default=False),
    ] = None,
    at: AtOption = None,
    until: Annotated[
        str | None,
        typer.Option("--until", help="When it was done. If not said, as --at.", show_default=False),
    ] = None,
    method: Annotated[
        str | None,
        typer.Option(
            "--method",
            help=f"How: {', '.join(METHODS)}, or your equipment by its name. If not said, the usual one.",
            show_default=False,
        ),
    ] = None,
    dilution: Annotated[
        str | None,
        typer.Option("--dilution", help="Water to concentrate, such as '16:1'.", show_default=False),
    ] = None,
    rate: Annotated[
        str | None,
        typer.Option(
            "--rate", help="Such as '4 fl oz/1000 sq ft'. If not said, the site file's.", show_default=False
        ),
    ] = None,
    note: NoteOption = "",
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Record products put down together, on some zones or on all."""
    entry = ApplicationEntry(tuple(products), zones, at, until, method, dilution, rate, note)
    _record(entry, open_site(site, demo=demo, now=now), anyway=anyway, json=json)


@record.command("run", cls=NothingBelowZero)
def run(
    zone: Annotated[str | None, typer.Argument(help="The zone that ran.", show_default=False)] = None,
    minutes: Annotated[
        str | None, typer.Argument(help="How long water ran: 18 or '18 min'.", show_default=False)
    ] = None,
    at: AtOption = None,
    depth: Annotated[
        str | None,
        typer.Option("--depth", help="The depth it gave, if measured, such as '0.2 in'.", show_default=False),
    ] = None,
    as_advised: Annotated[
        bool,
        typer.Option(
            "--as-advised",
            help="Record the runs that were advised and are over, of the last night that has any.",
        ),
    ] = False,
    night: Annotated[
        str | None,
        typer.Option(
            "--night",
            help="Of which night the advice was, such as 2026-06-17. If not said, the last with runs that are over.",
            show_default=False,
        ),
    ] = None,
    skipped: Annotated[bool, typer.Option("--skipped", help="The advised runs did not run.")] = False,
    shortened: Annotated[
        str | None,
        typer.Option(
            "--shortened", help="They ran for this share of it, such as '50 %'.", show_default=False
        ),
    ] = None,
    conditional: Annotated[
        bool,
        typer.Option(
            "--conditional",
            help="Also those that were to wait for a look at the gauge, which told to run them.",
        ),
    ] = False,
    note: NoteOption = "",
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Record a run of one zone, or in one step the runs as advised."""
    opened = open_site(site, demo=demo, now=now)
    if not as_advised:
        if skipped or shortened or night or conditional:
            raise InputError(
                "this goes with --as-advised only", where="--skipped, --shortened, --night, --conditional"
            )
        _record(RunEntry(zone, minutes, at, depth, note), opened, anyway=anyway, json=json)
        return
    if minutes or at or depth:
        raise InputError(
            "--as-advised takes its minutes and times from the advice",
            where="--as-advised",
            allowed="ZONE, --night, --conditional, and --skipped or --shortened",
        )
    entry = AsAdvisedEntry(zone, night, skipped, shortened, conditional)
    with open_records(opened, create=False) as store:
        if demo:
            keep_demo_advice(store, opened)
        runs = advised_runs(entry, opened.site, store, opened.now)
        done = anyway_if_said(
            lambda so: keep(runs, opened.site, store, opened.now, anyway=so), anyway=anyway, json=json
        )
    print_done(done, json=json, opened=opened, lines=lambda: _lines(done, opened.site))


@record.command("rain", cls=NothingBelowZero)
def rain(
    amount: Annotated[str, typer.Argument(help="What stood in the gauge: 6mm, '0.25 in', 0.")],
    at: AtOption = None,
    since: Annotated[
        str | None,
        typer.Option(
            "--since", help="When it was emptied. If not said, at the last reading.", show_default=False
        ),
    ] = None,
    note: NoteOption = "",
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Record a reading of the rain gauge, which counts from the reading before."""
    _record(RainEntry(amount, at, since, note), open_site(site, demo=demo, now=now), anyway=anyway, json=json)


@record.command("probe", cls=NothingBelowZero)
def probe(
    zone: Annotated[str, typer.Argument(help="The zone.")],
    depletion: Annotated[
        str, typer.Argument(help="Water missing in the root zone below field capacity: '12 mm', '0.5 in', 0.")
    ],
    at: AtOption = None,
    note: NoteOption = "",
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Record what a soil probe found: how far the root zone is below field capacity."""
    _record(
        ProbeEntry(zone, depletion, at, note), open_site(site, demo=demo, now=now), anyway=anyway, json=json
    )


@record.command("stock", cls=NothingBelowZero)
def stock(
    product: Annotated[str, typer.Argument(help="A product of the site file.")],
    amount: Annotated[str, typer.Argument(help="How much: '32 fl oz', '500 mL', '20 kg'.")],
    used: Annotated[bool, typer.Option("--used", help="It was used up or lost, not bought.")] = False,
    why: Annotated[str, typer.Option("--why", help="A word on it.", show_default=False)] = "",
    at: AtOption = None,
    anyway: AnywayOption = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Record product bought, lost or used up.

    What an application used is taken off by itself.
    """
    _record(
        StockEntry(product, amount, used, why, at),
        open_site(site, demo=demo, now=now),
        anyway=anyway,
        json=json,
    )
