"""The records in SQLite. Imports sqlalchemy: import this inside the functions that use it."""

from advisor.store.kept import Event, KeptAdvice
from advisor.store.opening import open_store
from advisor.store.store import Imported, Store, Undone

__all__ = ["Event", "Imported", "KeptAdvice", "Store", "Undone", "open_store"]
