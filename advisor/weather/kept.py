"""Answers of weather services kept on disk, one file each, so that they survive restarts and outages.

Written to a second file and then renamed, so a death in the middle of a write leaves the old answer.
A folder that cannot be written or a file that cannot be read costs the kept answer, never the night.

Why not a caching library: those known to us judge freshness by their own clock, while here `now` is
always given (a replayed night must see its own hour); and the one tried waits for ever when its
database is locked or read-only.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from pathlib import Path

from advisor.files import make_folder, make_private, read_bytes

FORGET_AFTER = timedelta(days=45)
MOST_BYTES = 100_000_000


@dataclass(frozen=True, slots=True)
class Kept:
    """One good answer: its address, its body, its headers (lower case) and when it was last confirmed."""

    url: str
    fetched_at: datetime
    headers: Mapping[str, str]
    body: str

    def validators(self) -> dict[str, str]:
        """The request headers that ask for the body only if it has changed."""
        asked = {}
        if "etag" in self.headers:
            asked["If-None-Match"] = self.headers["etag"]
        if "last-modified" in self.headers:
            asked["If-Modified-Since"] = self.headers["last-modified"]
        return asked

    def is_fresh(self, now: datetime, *, keep_s: float, keep_at_most_s: float) -> bool:
        """Whether the service need not be asked again at `now`.

        The service's own max-age or Expires decides; `keep_s` holds where it says nothing, and
        `keep_at_most_s` bounds both. An answer from after `now` is not fresh.
        """
        life = lifetime_s(self.headers, self.fetched_at)
        life = min(keep_s if life is None else life, keep_at_most_s)
        return 0 <= (now - self.fetched_at).total_seconds() < life


def lifetime_s(headers: Mapping[str, str], fetched_at: datetime) -> float | None:
    """Seconds for which the service calls its answer fresh (RFC 9111, 4.2.1), None if it does not say.

    Expires counts from the service's own Date where it gives one, so that our clock does not matter.
    """
    for directive in headers.get("cache-control", "").lower().split(","):
        name, _, value = directive.strip().partition("=")
        if name in ("no-cache", "no-store"):
            return 0.0
        if name == "max-age" and value.strip('" ').isdecimal():
            return float(value.strip('" '))
    if "expires" not in headers:
        return None
    try:
        expires = parsedate_to_datetime(headers["expires"])
        since = parsedate_to_datetime(headers["date"]) if "date" in headers else fetched_at
        return max(0.0, (_utc(expires) - _utc(since)).total_seconds())
    except (ValueError, OverflowError):
        return 0.0  # "Expires: 0" and the like mean: already expired


def _utc(when: datetime) -> datetime:
    return when.replace(tzinfo=UTC) if when.tzinfo is None else when.astimezone(UTC)


def _file(folder: Path, url: str) -> Path:
    return folder / f"{hashlib.sha256(url.encode()).hexdigest()[:32]}.json"


def load(folder: Path, url: str) -> Kept | None:
    """The answer kept for `url`, or None when there is none or it cannot be read."""
    try:
        row = json.loads(read_bytes(_file(folder, url), MOST_BYTES))
        headers = {str(k): str(v) for k, v in row["headers"].items()}
        kept = Kept(str(row["url"]), datetime.fromisoformat(row["fetched_at"]), headers, str(row["body"]))
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return None
    return kept if kept.url == url and kept.fetched_at.tzinfo is not None else None


def save(folder: Path, kept: Kept) -> str:
    """Keep an answer and drop those long unused; "" or, in the system's words, why it could not be kept."""
    target = _file(folder, kept.url)
    part = target.with_suffix(f".{os.getpid()}.part")
    row = {
        "url": kept.url,
        "fetched_at": kept.fetched_at.isoformat(),
        "headers": dict(kept.headers),
        "body": kept.body,
    }
    try:
        make_folder(folder)
        part.unlink(missing_ok=True)
        make_private(part)
        part.write_text(json.dumps(row), "utf-8")
        part.replace(target)
        oldest = kept.fetched_at.timestamp() - FORGET_AFTER.total_seconds()
        os.utime(target, (kept.fetched_at.timestamp(),) * 2)
        for other in folder.glob("*.json"):
            if other != target and other.stat().st_mtime < oldest:
                other.unlink(missing_ok=True)
    except OSError as problem:
        return str(problem.strerror or problem)
    return ""
