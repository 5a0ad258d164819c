"""One polite way to ask a weather service for JSON, and to live with its bad nights.

Who asks is said (User-Agent with the owner's contact); an answer is kept on disk and asked for again
only when it is due, with ETag and Last-Modified so that an unchanged one costs nothing (304); what may
pass (no connection, 500, 502, 503, 504, a short Retry-After) is tried again with growing, jittered
pauses; size, time and redirects are bounded (`advisor.exchange`); one question at a time per host. When all fails, the last
good answer is given with `stale` set and its own age, so that it can be judged.
"""

from __future__ import annotations

import json
import random
import threading
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from email.utils import parsedate_to_datetime
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlsplit

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.exchange import Answer, Bounds, exchange, full_url
from advisor.line import Failed, Line, within
from advisor.version import VERSION
from advisor.weather import kept as shelf
from advisor.weather.kept import Kept

MAY_PASS = frozenset({500, 502, 503, 504})
OUR_FAULT = frozenset({400, 404, 410, 414, 422})
MAY_SAY_WHEN = MAY_PASS | {413, 429}
"""Statuses that are worth another try where the service says how long to wait."""


@dataclass(frozen=True, slots=True)
class Reply:
    """How an answer came: when it was fetched or last confirmed, from where, and what went wrong.

    `stale`: the service failed just now and an older answer stands in; `notes` say why, or why the
    answer could not be kept. `headers` have lower-case names.
    """

    fetched_at: datetime
    from_cache: bool
    stale: bool
    headers: Mapping[str, str]
    notes: tuple[Note, ...] = ()


class Keep(NamedTuple):
    """How many seconds an answer holds where the service does not say, and the most without asking again."""

    s: float
    at_most_s: float


USUALLY = Keep(3600.0, 6 * 3600.0)


class Refused(SourceError):
    """The service answered with an error status; `payload` is its JSON body, or None."""

    def __init__(self, source: str, reason: str, status: int, payload: Any = None) -> None:
        self.status, self.payload = status, payload
        super().__init__(source, reason)


def coordinate(degrees: float) -> str:
    """A coordinate with exactly 4 decimals (11 m), the most that the services accept or cache by.

    >>> coordinate(40.523456), coordinate(-0.00001)
    ('40.5235', '0.0000')
    """
    return f"{round(degrees, 4) + 0.0:.4f}"


class Client:
    """Asks services for JSON. `user_agent_contact` is the owner's address; `cache_dir` None keeps nothing.

    `timeout` is (connect, read) seconds, `total_s` the most for one answer with all its tries, `tries` how
    often it is tried again, `body_limit` bytes. `pause` takes the place of waiting between tries.
    """

    def __init__(
        self,
        *,
        user_agent_contact: str,
        cache_dir: Path | None,
        timeout: tuple[float, float] = (5.0, 30.0),
        total_s: float = 45.0,
        tries: int = 3,
        retry_after_max_s: int = 30,
        body_limit: int = 20_000_000,
        pause: Callable[[float], object] | None = None,
    ) -> None:
        contact = "".join(c for c in user_agent_contact if " " <= c <= "~").strip()
        self.user_agent = f"advisor/{VERSION} ({contact or 'no contact given'})"
        self.cache_dir, self.timeout, self.total_s, self.body_limit = cache_dir, timeout, total_s, body_limit
        self.tries, self.retry_after_max_s, self._pause = tries, retry_after_max_s, pause
        self._turns: defaultdict[str, threading.Lock] = defaultdict(threading.Lock)

    def get_json(
        self,
        url: str,
        params: Mapping[str, str] | None = None,
        *,
        source: str,
        now: datetime,
        headers: Mapping[str, str] | None = None,
        check: Callable[[Any], object] | None = None,
        keep: Keep = USUALLY,
        moves_within: str = "",
    ) -> tuple[Any, Reply]:
        """The JSON at `url`, fresh if it can be had, and how it came.

        `source` names the service in errors. `check` raises SourceError for a body of the wrong
        shape: such an answer is not kept and counts as a failure. `keep` is how long an answer holds.
        `moves_within` is the domain whose hosts a redirect may lead to; "": the same server alone.
        Raises SourceError in one sentence when there is neither a good answer nor a kept one;
        Refused when our own request is at fault (400, 404, 410, 414, 422), whatever is kept.
        """
        try:
            full = full_url(url, params)
        except Failed as failure:
            raise SourceError(source, str(failure)) from None
        old = shelf.load(self.cache_dir, full) if self.cache_dir else None
        if old and old.is_fresh(now, keep_s=keep.s, keep_at_most_s=keep.at_most_s):
            payload = _parsed(old.body, source)
            return payload, Reply(old.fetched_at, True, False, old.headers)
        asked = {"Accept": "application/json", **(headers or {}), "User-Agent": self.user_agent}
        if old:
            asked |= old.validators()
        try:
            answer = self._asked(full, asked, source=source, moves_within=moves_within, now=now)
            new = _understood(answer, full, old, now, source)
            payload = _parsed(new.body, source)
            if check is not None:
                check(payload)
        except SourceError as failure:
            if old is None or (isinstance(failure, Refused) and failure.status in OUR_FAULT):
                raise
            note = Note(
                level=NoteLevel.WARNING,
                kind=NoteKind.OLDER_ANSWER_USED,
                source=failure.source,
                reason=failure.reason,
                at=old.fetched_at.astimezone(UTC),
            )
            return _parsed(old.body, source), Reply(old.fetched_at, True, True, old.headers, (note,))
        return payload, Reply(now, answer.status == 304, False, new.headers, self._keep(new))

    def _keep(self, answer: Kept) -> tuple[Note, ...]:
        """Keep an answer where there is a folder for it; a note where that failed."""
        reason = shelf.save(self.cache_dir, answer) if self.cache_dir else ""
        if not reason:
            return ()
        where = str(self.cache_dir)
        return (Note(level=NoteLevel.WARNING, kind=NoteKind.ANSWER_NOT_KEPT, file=where, reason=reason),)

    def _asked(
        self, url: str, headers: Mapping[str, str], *, source: str, moves_within: str, now: datetime
    ) -> Answer:
        """The answer after as many tries as may help, all within the total time. Raises SourceError."""
        bounds = Bounds(self.timeout, self.body_limit, moves_within)

        def ask(line: Line) -> Answer:
            for tried in range(self.tries):
                wait: float | None = 0.0
                try:
                    answer = exchange(line, "GET", url, headers=headers, bounds=bounds)
                except Failed as failure:
                    if tried >= failure.again:
                        raise
                else:
                    wait = self._wait_s(answer, now)
                    if wait is None:
                        return answer
                self._wait(line, wait or (2.0**tried + random.random() if tried else 0.0))
            return exchange(line, "GET", url, headers=headers, bounds=bounds)

        try:
            with self._turns[urlsplit(url).netloc]:
                return within(self.total_s, ask)
        except Failed as failure:
            raise SourceError(source, str(failure)) from None

    def _wait_s(self, answer: Answer, now: datetime) -> float | None:
        """How long to wait before another try, 0 where the service does not say; None for no other try."""
        asked = _retry_after_s(answer.headers, now)
        if asked is None:
            return 0.0 if answer.status in MAY_PASS else None
        return asked if answer.status in MAY_SAY_WHEN and asked < self.retry_after_max_s else None

    def _wait(self, line: Line, seconds: float) -> None:
        if seconds > 0:
            (self._pause or line.is_cut.wait)(seconds)
        if line.is_cut.is_set():
            raise Failed("was given up")


def _retry_after_s(headers: Mapping[str, str], now: datetime) -> float | None:
    """The seconds that Retry-After asks for (RFC 9110, 10.2.3), by the service's own Date; None for nonsense.

    >>> _retry_after_s({"retry-after": "120"}, datetime(2026, 6, 18, tzinfo=UTC))
    120.0
    >>> _retry_after_s({"retry-after": "Thu, 18 Jun 2026 00:01:00 GMT"}, datetime(2026, 6, 18, tzinfo=UTC))
    60.0
    """
    told = headers.get("retry-after", "").strip()
    if told.isascii() and told.isdecimal():
        return float(told[:9])
    try:
        until = parsedate_to_datetime(told)
        since = parsedate_to_datetime(headers["date"]) if "date" in headers else now
        return max(0.0, (until.astimezone(UTC) - since.astimezone(UTC)).total_seconds())
    except (ValueError, OverflowError):
        return None


def _understood(answer: Answer, url: str, old: Kept | None, now: datetime, source: str) -> Kept:
    """The answer as something to keep, or the SourceError that says what it was instead."""
    status, kind = answer.status, answer.headers.get("content-type", "").split(";")[0].strip().lower()
    if status == 304 and old is not None:
        body = {"content-length", "content-encoding", "transfer-encoding", "content-type"}
        fresh = {k: v for k, v in answer.headers.items() if k not in body}
        return Kept(url, now, {**old.headers, **fresh}, old.body)
    if status not in (200, 203):
        payload, said = None, ""
        try:
            payload = json.loads(answer.body)
            told = payload.get("reason") or payload.get("detail") or payload.get("title")
            said = f": {' '.join(str(told).split())[:200]}" if told else ""
        except (ValueError, AttributeError, RecursionError):
            pass
        wait = answer.headers.get("retry-after", "")
        asked = f"; it asks to wait {wait}{' s' if wait.isdecimal() else ''}" if wait else ""
        raise Refused(source, f"answered with HTTP {status}{said}{asked}", status, payload)
    if not answer.body.strip():
        raise SourceError(source, "sent an empty answer")
    if (kind and "json" not in kind) or answer.body.lstrip()[:1] == b"<":
        page = "a web page" if "html" in kind or answer.body.lstrip()[:1] == b"<" else f"{kind!r}"
        raise SourceError(source, f"sent {page} instead of JSON")
    try:
        return Kept(url, now, answer.headers, answer.body.decode("utf-8-sig"))
    except UnicodeDecodeError:
        raise SourceError(source, "sent text that is not UTF-8") from None


def _parsed(body: str, source: str) -> Any:
    """Strict JSON: bare NaN and Infinity, which Python would let pass, are refused."""

    def refuse(word: str) -> None:
        raise ValueError(f"a bare {word}")

    try:
        return json.loads(body, parse_constant=refuse)
    except json.JSONDecodeError as problem:
        near = " ".join(body[max(0, problem.pos - 10) : problem.pos + 30].split())
        raise SourceError(source, f"sent broken JSON (at character {problem.pos}, near {near!r})") from None
    except (ValueError, RecursionError) as problem:
        reason = str(problem) if isinstance(problem, ValueError) else "nested too deeply"
        raise SourceError(source, f"sent broken JSON ({reason})") from None
