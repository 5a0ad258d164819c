"""`advisor audit`: measure a zone once, and every later run rests on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from advisor.errors import InputError
from advisor.faces.cli.asked import run_time
from advisor.faces.cli.options import DEFAULT_SITE, DemoOption, JsonOption, NowOption, SiteOption, open_site
from advisor.files import write_text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from advisor.advice import AuditResult, Reading
    from advisor.lawn import CanRow

WAYS = "--cans FILE, --readings, --depths, --meter-start with --meter-end, or --can"


def register(app: typer.Typer) -> None:
    """Add the command."""
    app.command("audit")(audit)


def audit(
    zone: Annotated[str, typer.Argument(help="Which zone was measured.", show_default=False)],
    minutes: Annotated[float, typer.Option("--minutes", help="How long it ran.", show_default=False)],
    cans: Annotated[
        Path | None,
        typer.Option(
            "--cans",
            help="A CSV file, a row a can: volume_ml or depth_mm, and x_m, y_m if known.",
            show_default=False,
        ),
    ] = None,
    readings: Annotated[
        str | None, typer.Option("--readings", help="Volumes typed in: '20 22 25 mL'.", show_default=False)
    ] = None,
    throat: Annotated[
        str | None,
        typer.Option("--throat", help="The cans' opening: '16.5 sq in'.", show_default=False),
    ] = None,
    depths: Annotated[
        str | None, typer.Option("--depths", help="Depths typed in: '5 6 7 mm'.", show_default=False)
    ] = None,
    wind: Annotated[
        str | None, typer.Option("--wind", help="The wind meanwhile, such as '3 mph'.", show_default=False)
    ] = None,
    meter_start: Annotated[
        str | None,
        typer.Option("--meter-start", help="The water meter before, such as '120.4 m3'.", show_default=False),
    ] = None,
    meter_end: Annotated[
        str | None, typer.Option("--meter-end", help="The water meter after it.", show_default=False)
    ] = None,
    can: Annotated[
        str | None,
        typer.Option(
            "--can", help="The depth in one straight-sided can, such as '8 mm'.", show_default=False
        ),
    ] = None,
    picture: Annotated[
        Path | None,
        typer.Option("--picture", help="Write a map of the cans to this SVG file.", show_default=False),
    ] = None,
    note: Annotated[str, typer.Option("--note", help="A note to keep with it.", show_default=False)] = "",
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Work it out and record nothing.")] = False,
    site: SiteOption = DEFAULT_SITE,
    demo: DemoOption = False,
    now: NowOption = None,
    json: JsonOption = False,
) -> None:
    """Work out a zone's precipitation rate and evenness from what was caught, and record it."""
    opened = open_site(site, demo=demo, now=now)
    run_time(minutes, where="--minutes")
    given = {
        "--cans": cans,
        "--readings": readings,
        "--depths": depths,
        "--meter-start": meter_start if meter_start is not None else meter_end,
        "--can": can,
    }
    ways = [name for name, value in given.items() if value is not None]
    if len(ways) != 1:
        raise InputError(
            "give what was measured in one way", where="advisor audit", found=", ".join(ways), allowed=WAYS
        )
    from advisor.audit import audit_cans, audit_meter, audit_single_can
    from advisor.faces.cli.asked import known_name, quantity
    from advisor.wording import Say

    by_name = {z.name: z for z in opened.site.zones}
    measured = by_name[known_name(zone, by_name, what="zone", where="advisor audit")]
    say = Say(opened.site.place.units, opened.site.place.zone, opened.now)
    if can is not None:
        depth_mm = quantity(can, "depth", where="--can")
        result = audit_single_can(
            measured, depth_mm=depth_mm, minutes=minutes, measured_at=opened.now, say=say
        )
    elif ways == ["--meter-start"]:
        litres = _through(meter_start, meter_end)
        result = audit_meter(measured, litres=litres, minutes=minutes, measured_at=opened.now, say=say)
    else:
        result = audit_cans(
            measured,
            _caught(cans, readings, depths, throat),
            minutes=minutes,
            measured_at=opened.now,
            wind_m_s=None if wind is None else quantity(wind, "wind", where="--wind"),
            say=say,
        )
    _picture(result, picture, say.units)
    kept = None
    if not dry_run and not demo:
        from advisor.recording import keep_audit
        from advisor.store import open_store

        with open_store(opened.site.records_path) as store:
            keep_audit(result.as_record(note), opened.site, store, opened.now)
        kept = opened.site.records_path
    if json:
        typer.echo(result.model_dump_json(indent=2))
        return
    from advisor.faces.text import audit_text, terminal_width

    typer.echo(audit_text(say, result, width=terminal_width(), demo=demo, kept=kept), nl=False)


def _through(start: str | None, end: str | None) -> float:
    """Litres between two meter readings."""
    from advisor.faces.cli.asked import quantity

    if start is None or end is None:
        where = "--meter-start" if start is None else "--meter-end"
        raise InputError(
            "the meter is read before and after", where=where, found="nothing", allowed="'120.4 m3'"
        )
    return quantity(end, "volume", where="--meter-end") - quantity(start, "volume", where="--meter-start")


def _caught(cans: Path | None, readings: str | None, depths: str | None, throat: str | None) -> list[Reading]:
    """The cans' depths, from a file, from volumes and the throat, or as typed in."""
    from advisor.advice import Reading
    from advisor.faces.cli.asked import quantities
    from advisor.lawn import CanRow, read_cans

    if depths is not None:
        return [Reading(depth_mm=d) for d in quantities(depths, "depth", where="--depths")]
    if cans is not None:
        rows: Sequence[CanRow] = read_cans(cans)
    else:
        volumes = quantities(readings or "", "small volume", where="--readings")
        rows = [CanRow(volume_ml=v) for v in volumes]
    throat_m2 = _opening(throat) if any(row.volume_ml is not None for row in rows) else 0.0
    return [Reading(depth_mm=row.depth_in(throat_m2), x_m=row.x_m, y_m=row.y_m) for row in rows]


def _opening(throat: str | None) -> float:
    """The cans' opening, m²."""
    from advisor.faces.cli.asked import quantity

    if throat is None:
        raise InputError(
            "volumes become depths by the cans' opening", where="--throat", allowed="'16.5 sq in', '80 cm2'"
        )
    area_m2 = quantity(throat, "area", where="--throat")
    if not 0.0 < area_m2 < 1.0:
        raise InputError(
            "no can has such an opening", where="--throat", found=repr(throat), allowed="'80 cm2'"
        )
    return area_m2


def _picture(result: AuditResult, path: Path | None, units: str) -> None:
    if path is None:
        return
    from advisor.faces.text import placed, svg_map

    if not placed(result.readings):
        raise InputError(
            "a map needs the cans' places", where="--picture", allowed="--cans FILE with columns x_m and y_m"
        )
    title = f"{result.zone}, {result.measured_at:%Y-%m-%d}"
    try:
        write_text(path, svg_map(result.readings, units, title=title))
    except OSError as error:
        raise InputError(f"the picture cannot be written: {error.strerror}", where=str(path)) from None
