"""What the owner is sent: a short text for a phone's lock screen, and what stands before the advice behind it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from advisor.advice import Advice, MessageKind, NextLook, asks_for_an_act, look_outcome
from advisor.lawn import Site
from advisor.sentences import (
    evening_message,
    fell_words,
    look_lead,
    look_message,
    next_words,
    no_advice_message,
    no_advice_text,
)
from advisor.weather import RainSoFar

LOCK_SCREEN = 178
"""Letters that a phone shows of a notification while it is locked: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Message:
    """One message: `short` ≤ 178 letters; `lead` what stands before the whole advice, or all of it where there
    is no advice; `to_do`: worth waking for."""

    kind: MessageKind
    title: str
    short: str
    lead: str
    to_do: bool
    after: str = ""
    """What stands after the whole advice."""
    next_at: datetime | None = None
    """When the next advice is due."""


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


def for_advice(advice: Advice, *, late: bool, next_at: datetime, always: bool) -> Message:
    """The nightly message; it says when the next advice is due, and whether that comes as a message `always`."""
    short, (brief, after) = evening_message(advice, late=late), next_words(advice, next_at, always=always)
    whole = f"{short} {brief}"
    return Message(
        MessageKind.ADVICE,
        _title(advice.site),
        whole if len(whole) <= LOCK_SCREEN else shortened(short),
        "",
        asks_for_an_act(advice),
        after,
        next_at,
    )


def for_look(advice: Advice, look: NextLook, since: datetime, rain: RainSoFar, *, late: bool) -> Message:
    """The message of a next look: top-up, all clear, go ahead, or wait on, after the rain so far."""
    verdict, worth = look_outcome(advice, look)
    fell = fell_words(advice, rain.mm, since, basis=rain.basis, share_known=rain.share_known)
    short = shortened(look_message(advice, verdict, fell, late=late))
    return Message(MessageKind.LOOK, _title(advice.site), short, look_lead(look, verdict, fell), worth)


def for_nothing(site: Site, why: str, now: datetime, *, look: NextLook | None = None) -> Message:
    """The quiet message when the service could not give advice, and why."""
    here, name = now.astimezone(site.place.zone), site.place.name
    short = shortened(no_advice_message(why, here, look))
    return Message(MessageKind.NO_ADVICE, _title(name), short, no_advice_text(name, why, here, look), True)


def _title(site: str) -> str:
    return shortened(site, 60)
