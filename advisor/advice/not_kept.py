"""That an advice was given but could not be kept, and why."""

from __future__ import annotations

from advisor.advice.frozen import Frozen
from advisor.errors import RecordsFault


class NotKept(Frozen):
    """Why an answer stands in no records. Until it does, the next advice knows nothing of it, it may be told or
    sent again, and `record run --as-advised` does not find it."""

    fault: RecordsFault
    """What is in the way: "disk full", "disk fails", "read-only" or "locked"."""
    error: str
    """What is in the way and how to mend it, in a sentence."""
    words: str
    """This and what follows from it, in sentences."""
