"""What the nightly service says: its messages to the owner, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import assert_never
from zoneinfo import ZoneInfo

from advisor.advice import Advice, LookVerdict, NextLook, NoUse, Trouble, TroubleKind
from advisor.wording import Say, long_day

NEARLY_ALL = 0.99
BASES = {"gauge": "in your gauge", "archive": "by the weather service", "model": "by the weather service"}
SERVICE_WAS_OFF = "the service was off"
OF_ITSELF = {
    TroubleKind.NOT_RUNNING: "the service is not running",
    TroubleKind.STUCK: "the service has not looked round for a quarter of an hour",
    TroubleKind.NEVER_SERVED: "it was never served yet",
}


def _say(advice: Advice) -> Say:
    return Say(advice.units, ZoneInfo(advice.time_zone), advice.now)


def evening_message(advice: Advice, *, late: bool) -> str:
    """The nightly message in short."""
    return f"{_late(advice) if late else ''}{_not_kept(advice)}{_doubt(advice)}{advice.headline}"


def next_words(advice: Advice, next_at: datetime, *, always: bool) -> tuple[str, str]:
    """When the next advice is due, in a word and in a sentence; `always`: a message comes of every advice."""
    here = next_at.astimezone(ZoneInfo(advice.time_zone))
    whether = "" if always else " A message comes of it only where there is something to do."
    if_not = " If no message comes then, see `advisor status`." if always else ""
    return (
        f"Next advice {here:%a %H:%M}.",
        f"The next advice is due {long_day(here)}, {here:%H:%M}.{whether}{if_not}",
    )


def fell_words(advice: Advice, mm: float, since: datetime, *, basis: str, share_known: float) -> str:
    """How much rain fell since a moment, by which measure, and for how much of the time that is known."""
    say = _say(advice)
    doubt = "" if share_known > NEARLY_ALL else f" of the {say.chance(share_known)} of the time that is known"
    return f"{say.depth(mm)} since {say.clock(since)} {BASES[basis]}{doubt}"


def look_message(advice: Advice, verdict: LookVerdict, fell: str, *, late: bool) -> str:
    """The message of a look in short: what it came to, the rain so far, and what to do now."""
    return f"{_late(advice) if late else ''}{_not_kept(advice)}{verdict}: {fell}. {_doubt(advice)}{advice.headline}"


def look_lead(look: NextLook, verdict: LookVerdict, fell: str) -> str:
    """What stands before the whole advice: what the look came to, and what it had asked."""
    return f"{verdict}: {fell}.\n{look.words}"


def no_advice_message(why: str, tried_until: datetime, look: NextLook | None) -> str:
    """The quiet message in short: there is no advice, or a look could not be done; `tried_until` in local time."""
    if look is not None:
        return f"The look could not be done: {look.words} ({why})"
    return f"No advice tonight (tried until {tried_until:%H:%M}): {why}"


def no_advice_text(site: str, why: str, written_at: datetime, look: NextLook | None) -> str:
    """The whole of the quiet message; `written_at` in local time."""
    what = "No advice tonight" if look is None else "The look could not be done"
    asked = [] if look is None else [f"What it was to decide: {look.words}", ""]
    lines = [
        f"{what} for {site}: {why}",
        "",
        *asked,
        "It is tried again, and you are told when it succeeds.",
        f"Written {long_day(written_at)}, {written_at:%H:%M}.",
    ]
    return "\n".join(lines) + "\n"


def fault_words(name: str) -> str:
    """A bug, by its name alone: its inside is no concern of the owner's."""
    return f"an internal fault ({name})"


def site_file_words(error: str) -> str:
    """A changed site file cannot be used."""
    return f"the site file as it was before is used: {error}"


def no_use_words(reason: NoUse, error: str) -> str:
    """Why a message is not sent any more; `error` is that of the last try, "" where it was not tried."""
    match reason:
        case NoUse.NO_CHANNEL:
            return "the channel is no longer set"
        case NoUse.TOO_LATE:
            return f"it is of no use any more{f'; {error}' if error else ''}"
        case NoUse.REPLACED:
            return "a newer message replaces it"
    assert_never(reason)


def trouble_words(trouble: Trouble) -> str:
    """What is wrong with the service, in a clause."""
    match trouble.kind:
        case TroubleKind.NOT_RUNNING | TroubleKind.STUCK | TroubleKind.NEVER_SERVED:
            return OF_ITSELF[trouble.kind]
        case TroubleKind.NO_ADVICE:
            return f"the advice of {trouble.night} was not given"
        case TroubleKind.OLD_WEATHER:
            return f"the last weather is {trouble.age_h or 0:.0f} h old"
        case TroubleKind.NO_WEATHER:
            return f"no weather has come since {trouble.at:%Y-%m-%d %H:%M} UTC"
        case TroubleKind.MESSAGES_WAIT:
            return f"{trouble.times} message(s) wait longer than an hour"
        case TroubleKind.DISK_NEARLY_FULL:
            return f"only {(trouble.free_bytes or 0) / 1e6:.0f} MB are free on the disk of the records"
        case TroubleKind.FAILS:
            return f"{trouble.key}: {trouble.error}"
        case TroubleKind.MESSAGE_FAILS:
            return f"{trouble.key}: {trouble.error} ({trouble.times} tries)"
        case TroubleKind.CLOCK_SET_BACK:
            return f"the clock was set back: something was done at {trouble.at:%Y-%m-%d %H:%M} UTC, which is ahead"
        case TroubleKind.NOT_KEPT:
            return (
                f"{_things(trouble.times)} not kept since {trouble.at:%Y-%m-%d %H:%M} UTC, what was to be told is sent "
                f"all the same, and keeping is tried again: {trouble.error}"
            )
        case TroubleKind.RECORDS_NOT_WRITTEN:
            return f"advice is given but cannot be kept: {trouble.error}"
        case TroubleKind.NO_BACKUP:
            return f"the newest backup is {trouble.age_h or 0:.0f} h old"
        case TroubleKind.BACKUP_DAMAGED:
            return f"the backup {trouble.file} is gone or is not what was backed up"
    assert_never(trouble.kind)


def standing_words(site: str, troubles: Sequence[Trouble], next_at: datetime) -> str:
    """How a served site stands, in a line; `next_at` in local time."""
    wrong = ", ".join(trouble_words(one) for one in troubles) or "all is well"
    return f"{site}: {wrong}; the next advice is due {next_at:%a %H:%M}"


def _things(times: int) -> str:
    return "one thing is" if times == 1 else f"{times} things are"


def _late(advice: Advice) -> str:
    return f"Late, given at {_say(advice).clock(advice.now)}: "


def _not_kept(advice: Advice) -> str:
    return "" if advice.not_kept is None else f"Not kept ({advice.not_kept.fault}), may come twice: "


def _doubt(advice: Advice) -> str:
    if not all(check.passed for check in advice.checks):
        return "Check this plan, it failed its own checks: "
    count = len(advice.left_out)
    return f"Without {count} record{'s' if count > 1 else ''} that cannot be used: " if count else ""
