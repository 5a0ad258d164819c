"""`advisor record`: what was put down, what ran, what fell, what was found, what was bought."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.advice.cautions import Asking
from advisor.errors import InputError
from advisor.faces.cli.asked import quantity
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    DemoOption,
    NowOption,
    Opened,
    SiteOption,
    open_site,
)
from advisor.faces.cli.plain_help import NothingBelowZero
from advisor.lawn.bounds import MOST_RUN_MIN
from advisor.lawn.record_fields import KINDS, kind_of
from advisor.lawn.records import (
    METHODS,
    Application,
    GaugeReading,
    ProbeReading,
    Record,
    Run,
    StockChange,
)
from advisor.recording.entry import (
    THROWAWAY,
    UNDO,
    amount_of,
    below_zero,
    dimension_of,
    in_words,
    moment_of,
    named,
    open_records,
    refuse_beyond,
    refuse_doubled,
    when,
    zones_of,
)
from advisor.recording.put_down import equipment_of, products_of, put_down_words, rate_of, used_up
from advisor.sentences.cautions import seed_warnings
from advisor.sentences.watering_in import equipment_words
from advisor.wording import listed

if TYPE_CHECKING:
    from advisor.store import Store

record = typer.Typer(no_args_is_help=True, help="Record what happened on the lawn.", rich_markup_mode=None)

RUN_MINUTES = "more than 0 up to 1,440 minutes: 18, '18 min' or '1 h'"

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


def _keep(store: Store, records: Sequence[Record], opened: Opened, *, extra: Sequence[str] = ()) -> None:
    """Write the records as one entry and say, in one line, what was recorded and how to undo it."""
    refuse_doubled(store, records)
    earlier = store.records()
    refuse_beyond(records, earlier, opened.site)
    kept = store.add(records)
    put_down = [each for each in kept if isinstance(each, Application)]
    told = [put_down_words(put_down, opened.site)] if put_down else []
    if put_down:
        used = [each for each in kept if isinstance(each, StockChange)]
        told += [f"used up {listed(amount_of(each, opened.site) for each in used)}"] if used else []
    else:
        told += [f"{KINDS[kind_of(each)].one} {each.id}: {in_words(each, opened.site)}" for each in kept]
    typer.echo(f"Recorded {'; '.join(told)} ({UNDO})")
    warnings = [f"TAKE CARE: {each}." for each in seed_warnings(put_down, earlier.applications, opened.site)]
    for line in (*warnings, *below_zero(records, earlier, opened.site), *extra):
        if line:
            typer.echo(line)
    if opened.demo:
        typer.echo(THROWAWAY)


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
        typer.Option("--method", help=f"How: {', '.join(METHODS)}.", show_default=False),
    ] = None,
    dilution: Annotated[
        str | None,
        typer.Option("--dilution", help="Water to concentrate, such as '20:1'.", show_default=False),
    ] = None,
    rate: Annotated[
        str | None,
        typer.Option(
            "--rate", help="Such as '3 fl oz/1000 sq ft'. If not said, the site file's.", show_default=False
        ),
    ] = None,
    note: NoteOption = "",
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Record products put down together, on some zones or on all."""
    opened = open_site(site, demo=demo, now=now)
    names, round_ = products_of(products, opened.site)
    if zones is not None:
        where = zones_of(zones, opened.site)
    else:
        where = (round_.zones if round_ else ()) or tuple(zone.name for zone in opened.site.zones)
    started_at, word = moment_of(at, opened, where="--at") if at else (opened.now.astimezone(UTC), "")
    ended_at, later = (
        moment_of(until, opened, where="--until", after=started_at) if until else (started_at, "")
    )
    if ended_at < started_at:
        raise InputError("the end lies before the beginning", where="--until", found=repr(until))
    equipment = equipment_of(method, names, round_, opened.site)
    ratio = equipment.dilution
    if dilution is not None:
        ratio = quantity(dilution, "dilution", where="--dilution")
    start = started_at.astimezone(opened.site.place.zone).isoformat(timespec="minutes")
    put_down = [
        Application(
            product=name,
            zones=where,
            started_at=started_at,
            ended_at=ended_at,
            method=equipment.method,
            dilution=ratio,
            rate=rate_of(name, rate, opened.site),
            round_id=start if len(names) > 1 else "",
            note=note,
        )
        for name in names
    ]
    with open_records(opened) as store:
        extra = [word, later, equipment_words(equipment, Asking.RECORD)]
        _keep(store, [*put_down, *used_up(put_down, opened.site)], opened, extra=extra)


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
        bool, typer.Option("--as-advised", help="Record the runs of the advice that was given.")
    ] = False,
    night: Annotated[
        str | None,
        typer.Option(
            "--night",
            help="Of which night the advice was, such as 2026-06-17. If not said, the last.",
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
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Record a run of one zone, or in one step the runs as advised."""
    opened = open_site(site, demo=demo, now=now)
    chosen = (
        None if zone is None else named(zone, [z.name for z in opened.site.zones], what="zone", where="ZONE")
    )
    if as_advised:
        if minutes or at or depth or (skipped and shortened):
            raise InputError(
                "--as-advised takes its minutes and times from the advice",
                where="--as-advised",
                allowed="ZONE, --night, --conditional, and --skipped or --shortened",
            )
        from advisor.recording.as_advised import advised_runs, keep_demo_advice, night_of, share_of

        with open_records(opened, create=False) as store:
            if opened.demo:
                keep_demo_advice(store, opened)
            runs, left_out = advised_runs(
                store,
                opened,
                zone=chosen,
                night=night_of(night),
                share=0.0 if skipped else share_of(shortened),
                conditional=conditional,
            )
            _keep(store, runs, opened, extra=left_out)
        return
    if skipped or shortened or night or conditional:
        raise InputError(
            "this goes with --as-advised only", where="--skipped, --shortened, --night, --conditional"
        )
    if chosen is None or minutes is None or at is None:
        raise InputError(
            "a run is a zone, its minutes and when it began",
            where="advisor record run",
            allowed="advisor record run Front 18 --at 05:10, or advisor record run --as-advised",
        )
    ran = _minutes(minutes)
    started_at, word = moment_of(at, opened, where="--at")
    ended_at = started_at + timedelta(minutes=ran)
    if ended_at > opened.now.astimezone(UTC):
        until_now = int((opened.now.astimezone(UTC) - started_at) / timedelta(minutes=1))
        raise InputError(
            f"this run would end at {when(ended_at, None, opened.site)}; record it when it is done",
            where="--at",
            found=f"{at!r} with {ran:g} min",
            allowed=f"up to {until_now} min from then to now",
        )
    depth_mm = quantity(depth, "depth", where="--depth") if depth else None
    with open_records(opened) as store:
        _keep(store, [Run(chosen, started_at, ended_at, ran, depth_mm, note=note)], opened, extra=[word])


def _minutes(text: str) -> float:
    """How long water ran; a bare number is minutes."""
    bare = text.strip().replace(".", "", 1).isdecimal()
    try:
        ran = float(text) if bare else quantity(text, "duration", where="MINUTES")
    except InputError as problem:
        raise InputError(
            "the minutes of a run are a number, with or without a unit",
            where="MINUTES",
            found=problem.found or repr(text),
            allowed=RUN_MINUTES,
        ) from None
    if not 0 < ran <= MOST_RUN_MIN:
        what = "a run that did not take place is not recorded" if ran == 0 else "no zone runs for so long"
        raise InputError(what, where="MINUTES", found=repr(text), allowed=RUN_MINUTES)
    return ran


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
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Record a reading of the rain gauge, which counts from the reading before."""
    opened = open_site(site, demo=demo, now=now)
    depth_mm = 0.0 if amount.strip() == "0" else quantity(amount, "depth", where="AMOUNT")
    read_at, word = _at(at, opened)
    begun, earlier = moment_of(since, opened, where="--since") if since else (None, "")
    if begun is not None and begun >= read_at:
        raise InputError(
            "the gauge was emptied before it was read", where="--since", found=when(begun, None, opened.site)
        )
    with open_records(opened) as store:
        _keep(store, [GaugeReading(read_at, depth_mm, begun, note)], opened, extra=[word, earlier])


@record.command("probe", cls=NothingBelowZero)
def probe(
    zone: Annotated[str, typer.Argument(help="The zone.")],
    depletion: Annotated[
        str, typer.Argument(help="Water missing in the root zone below field capacity: '12 mm', '0.5 in', 0.")
    ],
    at: AtOption = None,
    note: NoteOption = "",
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Record what a soil probe found: how far the root zone is below field capacity."""
    opened = open_site(site, demo=demo, now=now)
    name = named(zone, [z.name for z in opened.site.zones], what="zone", where="ZONE")
    missing_mm = 0.0 if depletion.strip() == "0" else quantity(depletion, "depth", where="DEPLETION")
    read_at, word = _at(at, opened)
    with open_records(opened) as store:
        _keep(store, [ProbeReading(name, read_at, missing_mm, note)], opened, extra=[word])


@record.command("stock", cls=NothingBelowZero)
def stock(
    product: Annotated[str, typer.Argument(help="A product of the site file.")],
    amount: Annotated[str, typer.Argument(help="How much: '32 fl oz', '500 mL', '20 kg'.")],
    used: Annotated[bool, typer.Option("--used", help="It was used up or lost, not bought.")] = False,
    why: Annotated[str, typer.Option("--why", help="A word on it.", show_default=False)] = "",
    at: AtOption = None,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
) -> None:
    """Record product bought, lost or used up.

    What an application used is taken off by itself.
    """
    opened = open_site(site, demo=demo, now=now)
    name = named(product, opened.site.products, what="product", where="PRODUCT")
    much = quantity(amount, dimension_of(name, opened.site, ""), where="AMOUNT")
    changed_at, word = _at(at, opened)
    with open_records(opened) as store:
        _keep(store, [StockChange(name, changed_at, -much if used else much, why)], opened, extra=[word])


def _at(at: str | None, opened: Opened) -> tuple[datetime, str]:
    return moment_of(at, opened, where="--at") if at else (opened.now.astimezone(UTC), "")
