"""A fingerprint of everything an Advice was made from, so that the same inputs can be recognised."""

from __future__ import annotations

import hashlib
from datetime import UTC, datetime

import numpy as np

from advisor.lawn import Records, Site
from advisor.weather import SERIES, Weather


def inputs_digest(site: Site, records: Records, weather: Weather, now: datetime) -> str:
    """A short hex digest; equal inputs give equal digests, on every machine."""
    made = hashlib.blake2b(digest_size=10)
    for text in (repr(site), repr(records), repr(weather.sources), now.astimezone(UTC).isoformat()):
        made.update(text.encode())
    if records.unusable:
        made.update(repr(records.unusable).encode("utf-8", "surrogateescape"))
    made.update(weather.starts.astype("datetime64[s]").astype("<i8").tobytes())
    for name in SERIES:
        made.update(getattr(weather, name).astype("<f8").tobytes())
    known = np.flatnonzero(np.isfinite(weather.members_mm).any(axis=0))
    made.update(known.astype("<i8").tobytes())
    made.update(weather.members_mm[:, known].astype("<f8").tobytes())
    return made.hexdigest()
