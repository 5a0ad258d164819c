"""`advisor replay`: whole seasons lived again by the advice, beside plain rules; and the owner's own season."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import CannotAdvise, InputError
from advisor.faces.cli.options import (
    DEFAULT_SITE,
    ClimateOption,
    DemoOption,
    JsonOption,
    NowOption,
    SiteOption,
    WeatherOption,
    open_site,
)
from advisor.units import YEARS, known_year

if TYPE_CHECKING:
    from advisor.faces.cli.options import Opened
    from advisor.lawn import Records
    from advisor.replay import Result
    from advisor.seasons import Lawn, Span
    from advisor.soil_water import Climate
    from advisor.weather import Weather

DEMO_SPAN = (date(2025, 6, 1), date(2025, 6, 30))
SEASONS, MOST_SEASONS = 3, 1000


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("replay")(replay)


def replay(
    sites: Annotated[
        list[Path] | None,
        typer.Argument(metavar="SITE", help="Site files, where several lawns are wanted."),
    ] = None,
    first: Annotated[
        str | None,
        typer.Option("--from", help="The first evening, such as 2026-05-01.", show_default=False),
    ] = None,
    last: Annotated[str | None, typer.Option("--to", help="The last evening.", show_default=False)] = None,
    mine: Annotated[
        bool, typer.Option("--mine", help="Tell your own season instead, from the records alone.")
    ] = False,
    weather: WeatherOption = None,
    archive: Annotated[
        bool, typer.Option("--archive", help="Ask an archive service for the weather that came.")
    ] = False,
    forecasts: Annotated[
        Path | None,
        typer.Option(
            "--forecasts",
            help="A folder of forecasts as they were told, hourly CSV files named 2026-06-17T2015.csv.",
            show_default=False,
        ),
    ] = None,
    recipe: Annotated[
        list[str] | None,
        typer.Option(
            "--recipe",
            help="How forecasts are made from the weather that came: honest (taken if none is named), too sharp, "
            "too wide, wet, dry, late, no skill, perfect, none. May be repeated.",
            show_default=False,
        ),
    ] = None,
    seeds: Annotated[
        int | None,
        typer.Option(
            "--seeds",
            min=1,
            max=MOST_SEASONS,
            help=f"How many seasons, each by other made forecasts; {SEASONS} if not said.",
            show_default=False,
        ),
    ] = None,
    rounds: Annotated[
        bool | None,
        typer.Option(
            "--rounds/--no-rounds",
            help="Live them with the rounds of the site file too, as is done if neither is said.",
            show_default=False,
        ),
    ] = None,
    climate: ClimateOption = None,
    jobs: Annotated[
        int | None,
        typer.Option(
            "--jobs",
            min=1,
            max=256,
            help="How many processes; as many as cores if not said.",
            show_default=False,
        ),
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option(
            "--keep",
            help="Keep what is done in this file, and go on from there next time; what another version of the "
            "program has kept, or code that was changed, is worked anew.",
            show_default=False,
        ),
    ] = None,
    cluster: Annotated[
        str,
        typer.Option("--cluster", help="The address of a Dask scheduler to work there.", show_default=False),
    ] = "",
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Live whole seasons again by the advice, evening by evening, and show what plain rules would have done.

    The weather is a CSV file's, else the records' kept nights, or with --archive that of an archive service.
    With --mine nothing is lived: your recorded runs stand beside what else could have been.
    """
    from advisor.seasons import Span, may_keep

    span = Span(_day(first, "--from"), _day(last, "--to"))
    if demo and sites:
        raise InputError(
            "the demo has its own invented lawn",
            where="--demo",
            found=f"--demo and {sites[0]}",
            allowed="one of them",
        )
    files = list(dict.fromkeys(sites or [site]))
    opened = [open_site(each, demo=demo, now=now) for each in files]
    if mine:
        _nothing_lived(
            {
                "--weather": weather,
                "--forecasts": forecasts,
                "--recipe": recipe or None,
                "--seeds": seeds,
                "--rounds" if rounds else "--no-rounds": rounds,
                "--jobs": jobs,
                "--keep": keep,
                "--cluster": cluster or None,
            }
        )
        if json and len(opened) > 1:
            raise InputError(
                "one object is printed, so name one site",
                where="--json",
                found=f"--mine, --json and {len(opened)} sites",
                allowed="one site at a time",
            )
        for each in opened:
            _mine(each, span, climate=climate, archive=archive, json=json)
        return
    recipes = _recipes(recipe, forecasts)
    if keep is not None:
        may_keep(keep)
    _replayed(
        _lawns(opened, span, weather=weather, archive=archive, forecasts=forecasts, climate=climate),
        recipes,
        seeds=seeds or SEASONS,
        rounds=rounds is not False,
        processes=jobs,
        keep=keep,
        cluster=cluster,
        demo=demo,
        json=json,
    )


def _nothing_lived(said: dict[str, object]) -> None:
    """Refuse an option about living seasons beside --mine."""
    from advisor.wording import listed

    if wrong := [name for name, value in said.items() if value is not None]:
        raise InputError(
            "your own season rests on the records alone and lives nothing again",
            where="--mine",
            found=f"--mine and {listed(wrong)}",
            allowed="--mine without it" if len(wrong) == 1 else "--mine without them",
        )


def _replayed(
    lawns: list[Lawn],
    recipes: list[str],
    *,
    seeds: int,
    rounds: bool,
    processes: int | None,
    keep: Path | None,
    cluster: str,
    demo: bool,
    json: bool,
) -> None:
    """Work all seasons, with a bar on standard error, and show them."""
    import os
    import sys
    from datetime import datetime, time

    from advisor.faces.text import replay_text, terminal_width
    from advisor.seasons import JobsFailed, jobs_of, nothing_lived, replay_report, run_jobs
    from advisor.wording import Say

    wanted = jobs_of(lawns, recipes, seeds=seeds, rounds=rounds)
    results: list[Result] = []
    failed: tuple[tuple[str, str], ...] = ()
    with typer.progressbar(length=len(wanted), label="Living seasons", file=sys.stderr) as bar:
        seen = 0

        def told(done: int, _: int) -> None:
            nonlocal seen
            bar.update(done - seen)
            seen = done

        try:
            processes = processes or os.cpu_count() or 1
            for result in run_jobs(wanted, processes=processes, kept=keep, cluster=cluster, told=told):
                results.append(result)
        except JobsFailed as error:
            failed = error.failed
        except KeyboardInterrupt:
            kept = f"what is done is kept in {keep}" if keep is not None else "--keep FILE keeps what is done"
            typer.echo(f"\nStopped; {kept}.", err=True)
            raise
    if why := nothing_lived(results, failed):
        raise CannotAdvise(why)
    report = replay_report(lawns, recipes, seeds=seeds, results=results, failed=failed)
    if json:
        typer.echo(report.model_dump_json(indent=2))
        return
    says = {
        lawn.name: Say(
            lawn.site.place.units,
            lawn.site.place.zone,
            datetime.combine(lawn.last, time(0), lawn.site.place.zone),
        )
        for lawn in lawns
    }
    typer.echo(replay_text(says, report, width=terminal_width(), demo=demo), nl=False)


def _day(text: str | None, where: str) -> date | None:
    if text is None:
        return None
    try:
        found = date.fromisoformat(text)
    except ValueError:
        raise InputError(
            "a date is not understood", where=where, found=repr(text), allowed="2026-05-01"
        ) from None
    if not known_year(found):
        raise InputError(
            "a date is too far away", where=where, found=repr(text), allowed=f"the years {YEARS}"
        )
    return found


def _recipes(asked: list[str] | None, forecasts: Path | None) -> list[str]:
    from advisor.replay import RECIPES

    if asked and forecasts is not None:
        raise InputError(
            "forecasts are either made or told",
            where="--recipe",
            found="--recipe and --forecasts",
            allowed="one of them",
        )
    for name in asked or ():
        if name not in RECIPES:
            raise InputError(
                "forecasts are not made so", where="--recipe", found=name, allowed=", ".join(RECIPES)
            )
    return list(dict.fromkeys(asked or ["honest"]))


def _lawns(
    opened: list[Opened],
    span: Span,
    *,
    weather: Path | None,
    archive: bool,
    forecasts: Path | None,
    climate: Path | None,
) -> list[Lawn]:
    """Every lawn with its weather, cut to the season."""
    from advisor.seasons import Lawn, forecasts_told, span_of

    names = [each.site.place.name for each in opened]
    found = []
    for one, name in zip(opened, names, strict=True):
        here = one.site
        asked = _demo_span(span) if one.demo and weather is None else span
        whole, source = _weather(one, asked, weather=weather, archive=archive)
        truth, first, last = span_of(whole, here, asked)
        found.append(
            Lawn(
                name=name if names.count(name) == 1 else f"{name} ({here.path})",
                site=here,
                truth=truth,
                first=first,
                last=last,
                source=source,
                climate=_usual_year(one, climate, archive=archive),
                sky=forecasts_told(forecasts, here, truth) if forecasts is not None else None,
            )
        )
    return found


def _demo_span(span: Span) -> Span:
    from dataclasses import replace

    first, last = span.first or DEMO_SPAN[0], span.last
    return replace(span, first=first, last=last or max(first, DEMO_SPAN[1]))


def _weather(one: Opened, span: Span, *, weather: Path | None, archive: bool) -> tuple[Weather, str]:
    """The weather that came, and where it is from."""
    from advisor.seasons import weather_of_archive, weather_of_file, weather_of_records
    from advisor.shipped import shipped

    if weather is not None and archive:
        raise InputError(
            "the weather is given twice", where="--weather", found="--weather and --archive", allowed="one"
        )
    if weather is not None:
        return weather_of_file(weather, one.site), f"the file {weather.name}"
    if one.demo:
        return weather_of_file(shipped("data", "demo_season.csv"), one.site), "an invented season"
    if archive:
        found = weather_of_archive(one.site, span, one.now)
        return found, " ".join(f"{used.name}. {used.attribution}".strip(" .") for used in found.sources)
    return weather_of_records(one.site, _all_records(one)), "the nights kept in the records, with the gauge"


def _all_records(one: Opened) -> Records:
    """Everything recorded; for the demo its records with the hours that its weather has told by its evening."""
    from dataclasses import replace

    from advisor.lawn import Records

    if one.demo:
        from advisor.night import demo_records, demo_weather
        from advisor.weather import new_hours

        return replace(demo_records(), archive=new_hours(demo_weather(), (), one.now))
    from advisor.store import has_begun

    if not has_begun(one.site.records_path):
        return Records()
    from advisor.store import open_store

    with open_store(one.site.records_path) as store:
        return store.records()


def _usual_year(one: Opened, climate: Path | None, *, archive: bool) -> Climate | None:
    """The usual year for a clock, where it can be had without asking a service unbidden."""
    from advisor.usual_year import usual_year

    if climate is None and not one.demo and not archive:
        return None
    return usual_year(one.site, one.now, file=climate, demo=one.demo)


def _mine(one: Opened, span: Span, *, climate: Path | None, archive: bool, json: bool) -> None:
    """The owner's own season."""
    from advisor.faces.text import own_season_text, terminal_width
    from advisor.replay import own_season
    from advisor.wording import Say

    found = own_season(
        site=one.site,
        records=_all_records(one),
        now=one.now,
        first=span.first,
        last=span.last,
        climate=_usual_year(one, climate, archive=archive),
    )
    if json:
        typer.echo(found.model_dump_json(indent=2))
        return
    say = Say(one.site.place.units, one.site.place.zone, one.now)
    typer.echo(own_season_text(say, found, width=terminal_width(), demo=one.demo), nl=False)
