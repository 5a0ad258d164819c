"""What the owner is sent: a short text for a phone's lock screen, and the whole advice behind it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from advisor.advice.advice import Advice, NextLook
from advisor.advice.look_outcome import asks_for_an_act, look_outcome
from advisor.faces.text.advice_text import advice_text
from advisor.lawn.site_values import Site
from advisor.weather.archiving import RainSoFar
from advisor.wording import Say, long_day

LOCK_SCREEN = 178
"""Letters that a phone shows of a notification while it is locked: common practice, no source."""
BASES = {"gauge": "in your gauge", "archive": "by the weather service", "model": "by the weather service"}


@dataclass(frozen=True, slots=True)
class Message:
    """One message. `kind`: "advice", "look" or "no advice"; `short` ≤ 178 letters; `to_do`: worth waking for."""

    kind: str
    title: str
    short: str
    text: str
    to_do: bool


def shortened(text: str, most: int = LOCK_SCREEN) -> str:
    """`text` on one line of at most `most` letters, cut after a sentence where that leaves half, else a word."""
    line = " ".join(text.split())
    if len(line) <= most:
        return line
    head = line[: most - 1]
    sentence = max(head.rfind(mark) for mark in (". ", "; "))
    if sentence >= most // 2:
        return head[: sentence + 1] + "…"
    word = head.rfind(" ")
    return (head[:word] if word >= most // 2 else head) + "…"


def for_advice(advice: Advice, *, late: bool) -> Message:
    """The nightly message."""
    short = f"{_late(advice) if late else ''}{_doubt(advice)}{advice.headline}"
    return Message(
        "advice", _title(advice.site), shortened(short), advice_text(advice), asks_for_an_act(advice)
    )


def for_look(advice: Advice, look: NextLook, since: datetime, rain: RainSoFar, *, late: bool) -> Message:
    """The message of a next look: top-up, all clear, go ahead, or wait on, after the rain so far."""
    say = _say(advice)
    verdict, worth = look_outcome(advice, look)
    doubt = (
        "" if rain.share_known > 0.99 else f" of the {say.chance(rain.share_known)} of the time that is known"
    )
    fell = f"{say.depth(rain.mm)} since {say.clock(since)} {BASES[rain.basis]}{doubt}"
    short = f"{_late(advice) if late else ''}{verdict}: {fell}. {_doubt(advice)}{advice.headline}"
    text = f"{verdict}: {fell}.\n{look.words}\n\n{advice_text(advice)}"
    return Message("look", _title(advice.site), shortened(short), text, worth)


def for_nothing(site: Site, why: str, now: datetime, *, look: NextLook | None = None) -> Message:
    """The quiet message when the service could not give advice, and why."""
    local = now.astimezone(site.place.zone)
    what = "No advice tonight" if look is None else "The look could not be done"
    short = f"{what} (tried until {local:%H:%M}): {why}"
    lines = [f"{what} for {site.place.name}: {why}", ""]
    if look is not None:
        lines += [f"What it was to decide: {look.words}", ""]
        short = f"{what}: {look.words} ({why})"
    lines += [
        "It is tried again, and you are told when it succeeds.",
        f"Written {long_day(local)}, {local:%H:%M}.",
    ]
    return Message("no advice", _title(site.place.name), shortened(short), "\n".join(lines) + "\n", True)


def _title(site: str) -> str:
    return shortened(site, 60)


def _say(advice: Advice) -> Say:
    return Say(advice.units, ZoneInfo(advice.time_zone), advice.now)


def _late(advice: Advice) -> str:
    return f"Late, given at {_say(advice).clock(advice.now)}: "


def _doubt(advice: Advice) -> str:
    return (
        "" if all(check.passed for check in advice.checks) else "Check this plan, it failed its own checks: "
    )
