"""The records in SQLite: what happened, every advice given, and what was done once.

Whole transactions, and migrations from every earlier schema. Its rooms load sqlalchemy, its front does not.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.store.copies import Looked, digest, keep_aside, look_over, put_in_place, trial
    from advisor.store.identity import forget, has_begun, seen
    from advisor.store.kept import Event
    from advisor.store.opening import open_store
    from advisor.store.store import Store
else:
    __getattr__ = lazy(
        __name__,
        {
            "copies": ["Looked", "digest", "keep_aside", "look_over", "put_in_place", "trial"],
            "identity": ["forget", "has_begun", "seen"],
            "kept": ["Event"],
            "opening": ["open_store"],
            "store": ["Store"],
        },
    )

__all__ = [
    "Event",
    "Looked",
    "Store",
    "digest",
    "forget",
    "has_begun",
    "keep_aside",
    "look_over",
    "open_store",
    "put_in_place",
    "seen",
    "trial",
]
