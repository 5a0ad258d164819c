"""The records in SQLite: what happened, every advice given, and what was done once.

Whole transactions, and migrations from every earlier schema. Its rooms load sqlalchemy, its front does not.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.store.identity import has_begun
    from advisor.store.kept import Event
    from advisor.store.opening import open_store
    from advisor.store.store import Store
else:
    __getattr__ = lazy(
        __name__,
        {
            "identity": ["has_begun"],
            "kept": ["Event"],
            "opening": ["open_store"],
            "store": ["Store"],
        },
    )

__all__ = ["Event", "Store", "has_begun", "open_store"]
