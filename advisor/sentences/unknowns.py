"""What is not known or only guessed, in sentences: records, runs, weather and the lawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from shlex import quote

from advisor.advice import Reason, ReasonKind
from advisor.wording import Say, day_of_month, listed, verb

Kind = ReasonKind


def _product_unknown(_: Say, r: Reason) -> str:
    return (
        f"{listed(r.products)} is recorded but the site file has no such product, "
        "so nothing is known of the water it needs."
    )


def _zone_unknown(_: Say, r: Reason) -> str:
    return f"{listed(r.products)} is recorded on {listed(r.zones)}, a zone the site file no longer has."


def _run_not_recorded(say: Say, r: Reason) -> str:
    return (
        f"{listed(r.zones)}: {_advised_for(say, r)} taken as made. Record what ran "
        f"(`advisor record run --as-advised`), or that {verb(r.zones, 'it was', 'they were')} skipped "
        "(`--as-advised --skipped`)."
    )


def _run_counts_as_not_made(say: Say, r: Reason) -> str:
    record = verb(r.zones, "If it ran or runs now, record it", "Record those that ran or run now")
    return (
        f"{listed(r.zones)}: {_advised_for(say, r)} not recorded and {verb(r.zones, 'counts', 'count')} as not "
        f"made. {record} (`advisor record run`) instead of running {verb(r.zones, 'it', 'them')} again."
    )


def _last_night_not_recorded(_: Say, r: Reason) -> str:
    runs, they = verb(r.zones, "run", "runs"), verb(r.zones, "it", "they")
    return (
        f"{listed(r.zones)}: the {runs} advised for the night before {verb(r.zones)} not recorded and "
        f"{verb(r.zones, 'counts', 'count')} as not made. If {they} ran: `{_as_advised(r)}`."
    )


def _waited_not_recorded(_: Say, r: Reason) -> str:
    runs, they = verb(r.zones, "run", "runs"), verb(r.zones, "it", "they")
    return (
        f"{listed(r.zones)}: the {runs} that waited for the gauge {verb(r.zones)} not recorded and "
        f"{verb(r.zones, 'counts', 'count')} as not made. If {they} ran: `{_as_advised(r)} --conditional`."
    )


def _as_advised(r: Reason) -> str:
    zone = f"{quote(r.zones[0])} " if len(r.zones) == 1 else ""
    return f"advisor record run {zone}--as-advised --night {r.day}"


def _advised_for(say: Say, r: Reason) -> str:
    """The run advised for 02:59 is; the runs advised for 02:59 and later are."""
    at = say.clock(r.at) if r.at else ""
    return f"the run advised for {at} is" if len(r.zones) == 1 else f"the runs advised from {at} on are"


def _nothing_recorded(say: Say, r: Reason) -> str:
    taken = "It is taken as watered whenever it reached its allowance"
    if r.until is not None:
        taken += f" before {day_of_month(r.until.astimezone(say.zone).date())}, and as not watered since then"
    return (
        f"{listed(r.zones)}: no run and no probe reading of the last {r.days:.0f} days is recorded, so how dry "
        f"the soil is can only be guessed. {taken}. Record the "
        "last runs (`advisor record run`) or a probe reading (`advisor record probe`)."
    )


def _rate_guessed(say: Say, r: Reason) -> str:
    return (
        f"{listed(r.zones)}: the precipitation rate {say.rate(r.rate_mm_h or 0.0)} is a guess from the head "
        f"type (it may be {say.rate(r.rate_low_mm_h or 0.0)} to {say.rate(r.rate_high_mm_h or 0.0)}); "
        "measure it with `advisor audit`."
    )


def _draws_more(say: Say, r: Reason) -> str:
    return (
        f"{listed(r.zones)} draws {say.flow(r.flow_l_min or 0.0)} by its figures, more than the "
        f"{say.flow(r.of_l_min or 0.0)} that the supply is said to carry: one of them is off. "
        "It is planned to run alone."
    )


def _state_unsure(say: Say, r: Reason) -> str:
    used = listed(f"{zone} {say.span(*span)}" for zone, span in zip(r.zones, r.ranges_mm, strict=True))
    return (
        f"How dry the soil is now is not sure ({used} used); a soaking rain or a probe reading "
        "(`advisor record probe`) settles it."
    )


def _chances_not_tested(_: Say, r: Reason) -> str:
    return (
        f"Chances of rain are not yet tested on this lawn ({r.count} forecast-and-gauge pairs): "
        "taken with a cautious default."
    )


def _forecast_short(_: Say, r: Reason) -> str:
    return f"The forecast is known for {r.count} hours only; later is unknown, not dry."


UNKNOWNS: Mapping[ReasonKind, Callable[[Say, Reason], str]] = {
    Kind.PRODUCT_UNKNOWN: _product_unknown,
    Kind.ZONE_UNKNOWN: _zone_unknown,
    Kind.RUN_NOT_RECORDED: _run_not_recorded,
    Kind.RUN_COUNTS_AS_NOT_MADE: _run_counts_as_not_made,
    Kind.LAST_NIGHT_NOT_RECORDED: _last_night_not_recorded,
    Kind.WAITED_NOT_RECORDED: _waited_not_recorded,
    Kind.NOTHING_RECORDED: _nothing_recorded,
    Kind.RATE_GUESSED: _rate_guessed,
    Kind.DRAWS_MORE_THAN_SUPPLY: _draws_more,
    Kind.EVENNESS_NOT_MEASURED: lambda _, r: (
        f"{listed(r.zones)}: evenness is not measured and taken from the head type."
    ),
    Kind.ROOT_DEPTH_FROM_TABLE: lambda _, r: (
        f"{listed(r.zones)}: root depth is a table value; dig a plug and measure it."
    ),
    Kind.SOIL_STATE_UNSURE: _state_unsure,
    Kind.RAIN_FROM_MODEL: lambda _say, _r: (
        "Rain of the last 3 days is from the weather model, not from a gauge: `advisor record rain`."
    ),
    Kind.CHANCES_NOT_TESTED: _chances_not_tested,
    Kind.FORECAST_SHORT: _forecast_short,
}
