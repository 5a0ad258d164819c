"""The records in SQLite. Imports sqlalchemy: import this inside the functions that use it."""

from advisor.store.kept import Event, KeptAdvice
from advisor.store.store import Imported, Store, Undone, open_store

__all__ = ["Event", "Imported", "KeptAdvice", "Store", "Undone", "open_store"]
