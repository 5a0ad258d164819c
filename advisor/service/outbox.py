"""Messages on their way: kept with the advice in one write, sent, and marked as sent.

A message that a channel would not take is tried again with growing pauses until it is of no use or a
newer one replaces it; then it is marked as dropped, with the reason. Whoever dies between sending and
marking sends again under the same key.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from advisor.advice import Advice, MessageKind, NoUse
from advisor.errors import RecordsError
from advisor.lawn import Site
from advisor.sentences import no_use_words
from advisor.service.channels import Channel, ChannelDown, Letter
from advisor.service.keys import DROPPED, OUTBOX, SENT, message_key, unsent
from advisor.service.logs import say
from advisor.service.messages import Message

if TYPE_CHECKING:
    from advisor.store import Event, Store

PAUSES_MIN = (0.5, 1, 2, 5, 10, 20, 30)
AT_LEAST = timedelta(hours=2)
"""How long a message is tried even where its night is nearly over."""

Step = Callable[[str], None]
Render = Callable[[Advice], str]
"""Writes a whole advice as text."""


def pause(failures: int) -> timedelta:
    """How long to wait after so many failures in a row (1 or more)."""
    return timedelta(minutes=PAUSES_MIN[min(failures, len(PAUSES_MIN)) - 1])


@dataclass(slots=True)
class Waiting:
    """One message for one channel that is not sent yet."""

    key: str
    channel: str
    kind: MessageKind
    at: datetime
    until: datetime
    payload: Mapping[str, Any]
    failures: int = 0
    next_at: datetime | None = None
    why: str = ""
    sent: bool = field(default=False)
    unmarked: int = 0
    """How often it could not be marked what became of it."""
    unkept: Advice | None = None
    """Its advice, where the records would not take that yet."""


class Outbox:
    """The messages of one site; `load` it from its events once."""

    def __init__(
        self,
        site: Site,
        store: Store,
        channels: Sequence[Channel],
        *,
        hide: Callable[[str], str],
        render: Render,
    ) -> None:
        self.site, self.store, self.hide, self.render = site, store, hide, render
        self.channels = {channel.name: channel for channel in channels}
        self.waiting: list[Waiting] = []

    def load(self, events: Iterable[Event]) -> None:
        """Take up what an earlier process did not get sent."""
        self.waiting += [_waiting(event) for event in unsent(events)]

    def events_for(
        self, key: str, message: Message, *, now: datetime, until: datetime, facts: Mapping[str, Any]
    ) -> list[Event]:
        """What to keep of a message for every channel; its text is made again from the kept advice."""
        from advisor.store import Event

        payload: dict[str, Any] = {
            "kind": message.kind,
            "title": message.title,
            "short": message.short,
            "until": max(until, now + AT_LEAST).isoformat(),
            **facts,
        }
        if "given_at" not in facts:
            payload["text"] = message.lead
        elif message.lead:
            payload["lead"] = message.lead
        if message.after:
            payload["after"] = message.after
        if message.next_at is not None:
            payload["next_at"] = message.next_at.isoformat()
        return [Event(f"{OUTBOX}{key}:{name}", now, {**payload, "channel": name}) for name in self.channels]

    def add(self, events: Iterable[Event], *, unkept: Advice | None = None) -> None:
        """Take up messages that have just been kept, or whose advice (`unkept`) the records would not take."""
        for event in events:
            if event.key.startswith(OUTBOX):
                one = _waiting(event)
                one.unkept = unkept
                self.waiting.append(one)

    def all_kept(self) -> None:
        """Every advice is kept after all: messages tell what is kept, and what was sent is marked at once."""
        for one in self.waiting:
            one.unkept = None
            if one.sent:
                one.next_at = None

    def send(self, now: datetime, step: Step) -> None:
        """Send what can be sent, drop what is of no use any more. Raises RecordsError, after all the others are
        sent, where it cannot be marked what became of one."""
        failed: list[RecordsError] = []
        for one in sorted(self.waiting, key=lambda w: (w.at, w.key)):
            try:
                self._go_on(one, now, step)
            except RecordsError as error:
                one.unmarked += 1
                one.next_at = now + pause(one.unmarked)
                failed.append(error)
        if failed:
            raise failed[0]

    def _go_on(self, one: Waiting, now: datetime, step: Step) -> None:
        tries = max(1, one.failures, one.unmarked)
        waits = one.next_at is not None and now < one.next_at <= now + pause(tries)
        if waits and one.unmarked:
            return
        if one.sent:
            self._mark(SENT, one, now, {})
        elif (reason := self._no_use(one, now)) is not None:
            why = no_use_words(reason, one.why)
            facts = {"reason": reason, "why": why, "failures": one.failures, "last": one.why}
            self._mark(DROPPED, one, now, facts)
            say("message dropped", site=self.site.place.name, key=one.key, why=why)
        elif not waits:
            self._try(one, now, step)

    def _try(self, one: Waiting, now: datetime, step: Step) -> None:
        step(f"sending: {one.channel}")
        try:
            self.channels[one.channel].send(self._letter(one), message_key(one.key), now)
        except ChannelDown as down:
            one.failures += 1
            one.next_at, one.why = now + pause(one.failures), self.hide(str(down))
            say(
                "message not sent", site=self.site.place.name, key=one.key, why=one.why, failures=one.failures
            )
            return
        one.sent = True
        step(f"sent: {one.channel}")
        self._mark(SENT, one, now, {"failures": one.failures})
        say("message sent", site=self.site.place.name, key=one.key)

    def send_unkept(self, key: str, message: Message, *, now: datetime) -> bool:
        """Send at once what the records will not take; whether any channel took it."""
        letter = Letter(message.title, message.short, message.lead, now, self._facts(message.kind, {}))
        told = False
        for name, channel in self.channels.items():
            try:
                channel.send(letter, f"{key}:{name}", now)
                told = True
            except ChannelDown as down:
                say(
                    "message not sent",
                    site=self.site.place.name,
                    key=f"{key}:{name}",
                    why=self.hide(str(down)),
                )
        return told

    def next_at(self) -> datetime | None:
        """When the next message is to be tried again."""
        return min((one.next_at for one in self.waiting if one.next_at is not None), default=None)

    def _no_use(self, one: Waiting, now: datetime) -> NoUse | None:
        if one.channel not in self.channels:
            return NoUse.NO_CHANNEL
        if now >= one.until:
            return NoUse.TOO_LATE
        newer = [w for w in self.waiting if w.channel == one.channel and (w.at, w.key) > (one.at, one.key)]
        return NoUse.REPLACED if newer else None

    def _mark(self, what: str, one: Waiting, now: datetime, payload: Mapping[str, Any]) -> None:
        facts = {"channel": one.channel, "kind": one.kind, **payload}
        self.store.mark_done(f"{what}{message_key(one.key)}", now, facts)
        self.waiting.remove(one)

    def _letter(self, one: Waiting) -> Letter:
        payload = one.payload
        text, advice = str(payload.get("text", "")), None
        if "given_at" in payload:
            advice = one.unkept or self._advice_given(datetime.fromisoformat(payload["given_at"]))
            lead = f"{payload['lead']}\n\n" if "lead" in payload else ""
            text = lead + (self.render(advice) if advice is not None else payload["short"])
            text += f"\n{payload['after']}\n" if "after" in payload else ""
        facts = self._facts(one.kind, payload)
        facts["advice"] = None if advice is None else advice.model_dump(mode="json")
        return Letter(payload["title"], payload["short"], text, one.at, facts)

    def _advice_given(self, given_at: datetime) -> Advice | None:
        from advisor.advice import open_advice

        kept = self.store.advice_list(self.site.place.name, since=given_at)
        found = next((k for k in kept if k.given_at == given_at), None)
        return None if found is None else open_advice(found.advice_json)

    def _facts(self, kind: MessageKind, payload: Mapping[str, Any]) -> dict[str, Any]:
        night, late = payload.get("night"), bool(payload.get("late", False))
        facts = {"kind": kind, "site": self.site.place.name, "night": night, "late": late, "advice": None}
        return facts | ({"next_at": payload["next_at"]} if "next_at" in payload else {})


def _waiting(event: Event) -> Waiting:
    payload = event.payload
    return Waiting(
        key=event.key,
        channel=str(payload["channel"]),
        kind=MessageKind(payload["kind"]),
        at=event.at,
        until=datetime.fromisoformat(payload["until"]),
        payload=payload,
    )
