"""What there is to say of keeping: an advice that could not be kept, records put back or begun anew."""

from __future__ import annotations

from advisor.advice import NotKept
from advisor.errors import RecordsError


def not_kept(error: RecordsError) -> NotKept:
    """An advice that the records would not take, as a fact with its sentences."""
    words = (
        f"Not kept in the records: {error.why}. The advice itself is whole. Until it is kept (the service tries again "
        "by itself, otherwise ask again), the next advice does not know of it, the evening's message may come twice, "
        "and `advisor record run --as-advised` will not find it."
    )
    return NotKept(fault=error.fault, error=error.why, words=words)
