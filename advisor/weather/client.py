"""One polite way to ask a weather service for JSON, and to live with its bad nights.

Who asks is said (User-Agent with the owner's contact); an answer is kept on disk and asked for again
only when it is due, with ETag and Last-Modified so that an unchanged one costs nothing (304); what may
pass (no connection, 500, 502, 503, 504, a short Retry-After) is tried again with growing, jittered
pauses; size, time and redirects are bounded; one question at a time per host. When all fails, the last
good answer is given with `stale` set and its own age, so that it can be judged.
"""

from __future__ import annotations

import json
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from http.client import HTTPException
from pathlib import Path
from typing import Any, Self
from urllib.parse import urlsplit

import requests
from requests.adapters import HTTPAdapter
from urllib3.exceptions import HTTPError, InvalidHeader, MaxRetryError, ResponseError
from urllib3.response import BaseHTTPResponse
from urllib3.util.retry import Retry

from advisor.advice import Note, NoteKind, NoteLevel
from advisor.errors import SourceError
from advisor.version import VERSION
from advisor.weather import kept as shelf
from advisor.weather.kept import Kept

MAY_PASS = frozenset({500, 502, 503, 504})
OUR_FAULT = frozenset({400, 404, 410, 414, 422})
NETWORK_TROUBLE = (requests.RequestException, HTTPError, HTTPException, OSError, UnicodeError)


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


class _Patience(Retry):
    """urllib3's Retry with a pause that can be replaced, and that gives up when asked to wait too long."""

    pause: Callable[[float], None] = time.sleep

    def new(self, **kw: Any) -> Self:
        copy = super().new(**kw)
        copy.pause = self.pause
        return copy

    def parse_retry_after(self, retry_after: str) -> float:
        try:
            return max(0.0, super().parse_retry_after(retry_after))
        except (InvalidHeader, ValueError, OverflowError):
            return 0.0

    def sleep_for_retry(self, response: BaseHTTPResponse) -> bool:
        wait = self.get_retry_after(response)
        if wait:
            self.pause(wait)
        return bool(wait)

    def _sleep_backoff(self) -> None:
        if (wait := self.get_backoff_time()) > 0:
            self.pause(wait)

    def increment(self, *args: Any, **kw: Any) -> Self:
        response: BaseHTTPResponse | None = kw.get("response")
        asked = response.headers.get("Retry-After") if response is not None else None
        if asked is not None and self.parse_retry_after(asked) >= self.retry_after_max:
            url = str(args[1] if len(args) > 1 else kw.get("url", ""))
            raise MaxRetryError(kw["_pool"], url, ResponseError(f"asked to wait {asked}"))
        return super().increment(*args, **kw)


class Client:
    """Asks services for JSON. `user_agent_contact` is the owner's address; `cache_dir` None keeps nothing.

    `timeout` is (connect, read) seconds, `total_s` the most for one answer with all its tries,
    `body_limit` bytes. `pause` waits between tries and may be replaced.
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
        pause: Callable[[float], None] = time.sleep,
    ) -> None:
        contact = "".join(c for c in user_agent_contact if " " <= c <= "~").strip()
        self.user_agent = f"advisor/{VERSION} ({contact or 'no contact given'})"
        self.cache_dir, self.timeout, self.total_s, self.body_limit = cache_dir, timeout, total_s, body_limit
        self._patience = _Patience(
            total=tries,
            connect=tries,
            read=1,
            status=tries,
            redirect=0,
            status_forcelist=MAY_PASS,
            allowed_methods={"GET"},
            backoff_factor=1.0,
            backoff_jitter=1.0,
            retry_after_max=retry_after_max_s,
            raise_on_status=False,
        )
        self._patience.pause = pause
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
        keep_s: float = 3600.0,
        keep_at_most_s: float = 6 * 3600.0,
    ) -> tuple[Any, Reply]:
        """The JSON at `url`, fresh if it can be had, and how it came.

        `source` names the service in errors. `check` raises SourceError for a body of the wrong
        shape: such an answer is not kept and counts as a failure. `keep_s` is how long an answer
        holds where the service does not say, `keep_at_most_s` the most it holds without asking again.
        Raises SourceError in one sentence when there is neither a good answer nor a kept one;
        Refused when our own request is at fault (400, 404, 410, 414, 422), whatever is kept.
        """
        full = self._full_url(url, params, source)
        old = shelf.load(self.cache_dir, full) if self.cache_dir else None
        if old and old.is_fresh(now, keep_s=keep_s, keep_at_most_s=keep_at_most_s):
            payload = _parsed(old.body, source)
            return payload, Reply(old.fetched_at, True, False, old.headers)
        asked = {"Accept": "application/json", **(headers or {}), "User-Agent": self.user_agent}
        if old:
            asked |= old.validators()
        try:
            with self._turns[urlsplit(full).netloc]:
                answer = self._within_total(full, asked, source)
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

    def _full_url(self, url: str, params: Mapping[str, str] | None, source: str) -> str:
        try:
            full = requests.Request("GET", url, params=dict(params or {})).prepare().url or ""
        except (requests.RequestException, ValueError) as problem:
            raise SourceError(source, f"its address cannot be used ({problem}); found {url!r}") from None
        if urlsplit(full).scheme not in ("http", "https"):
            raise SourceError(source, f"its address must begin with https:// or http://; found {url!r}")
        return full

    def _within_total(self, url: str, headers: Mapping[str, str], source: str) -> _Answer:
        """Ask on a thread of its own, because no socket time-out bounds a service that drips."""
        box: list[_Answer | BaseException] = []
        stop = threading.Event()

        def ask() -> None:
            try:
                box.append(self._ask(url, headers, source, stop))
            except BaseException as problem:  # carried to the asking thread, which raises it
                box.append(problem)

        worker = threading.Thread(target=ask, daemon=True, name="weather-request")
        worker.start()
        worker.join(self.total_s)
        if not box:
            stop.set()
            raise SourceError(source, f"no whole answer within {self.total_s:g} s")
        if isinstance(box[0], BaseException):
            raise box[0]
        return box[0]

    def _ask(self, url: str, headers: Mapping[str, str], source: str, stop: threading.Event) -> _Answer:
        """One answer with its tries; a stream that is cut off is asked for once more."""
        try:
            try:
                return self._read(url, headers, source, stop)
            except requests.exceptions.ChunkedEncodingError:
                self._patience.pause(1.0)
                return self._read(url, headers, source, stop)
        except NETWORK_TROUBLE as problem:
            raise SourceError(source, _in_words(problem, self.timeout)) from None

    def _read(self, url: str, headers: Mapping[str, str], source: str, stop: threading.Event) -> _Answer:
        with requests.Session() as session:
            session.max_redirects = 5
            adapter = HTTPAdapter(max_retries=self._patience)
            session.mount("https://", adapter)
            session.mount("http://", adapter)
            with session.get(url, headers=dict(headers), timeout=self.timeout, stream=True) as response:
                body = bytearray()
                for chunk in response.iter_content(65536):
                    body += chunk
                    if len(body) > self.body_limit:
                        limit = f"{self.body_limit / 1e6:g} MB"
                        raise SourceError(source, f"sent more than {limit}, which no forecast needs")
                    if stop.is_set():
                        raise SourceError(source, "was given up")
                lower = {k.lower(): v for k, v in response.headers.items()}
                return _Answer(response.status_code, lower, bytes(body))


@dataclass(frozen=True, slots=True)
class _Answer:
    status: int
    headers: Mapping[str, str]
    body: bytes


def _in_words(problem: BaseException, timeout: tuple[float, float]) -> str:
    """What went wrong on the network, in one clause."""
    if isinstance(problem, requests.TooManyRedirects):
        return "redirected us in circles (more than 5 redirects)"
    if isinstance(problem, requests.exceptions.ConnectTimeout):
        return f"no connection within {timeout[0]:g} s"
    if isinstance(problem, requests.Timeout) or "timed out" in str(problem).lower():
        return f"no answer within {timeout[1]:g} s"
    if isinstance(problem, requests.exceptions.SSLError):
        return "its certificate could not be trusted, so nothing was fetched"
    if isinstance(problem, requests.exceptions.ContentDecodingError):
        return "sent a body that could not be unpacked"
    if isinstance(problem, requests.exceptions.ChunkedEncodingError):
        return "the answer was cut off in the middle"
    if isinstance(problem, requests.ConnectionError):
        return "no connection (refused, dropped, or no such host)"
    return f"the request failed ({type(problem).__name__}: {problem})"


def _understood(answer: _Answer, url: str, old: Kept | None, now: datetime, source: str) -> Kept:
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
