"""Lazy exports of a package (PEP 562): a name's room is loaded when the name is first asked for.

So `from advisor.lawn import Site` costs no more than the room that Site stands in. A package writes

    if TYPE_CHECKING:
        from advisor.lawn.site_values import Site
    else:
        __getattr__ = lazy(__name__, {"site_values": ["Site"]})
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from types import ModuleType


class _Package(ModuleType):
    """A package in which an exported name goes before the room of the same name."""

    _rooms: Mapping[str, str]

    def __setattr__(self, name: str, value: object) -> None:
        if not (isinstance(value, ModuleType) and name in self._rooms):
            super().__setattr__(name, value)


def lazy(package: str, rooms: Mapping[str, Sequence[str]]) -> Callable[[str], object]:
    """The `__getattr__` of `package`, whose `rooms` (named from the package on) hold these names."""
    room_of = {name: f"{package}.{room}" for room, names in rooms.items() for name in names}
    module = sys.modules[package]
    module.__dict__["_rooms"] = room_of
    module.__class__ = _Package

    def get(name: str) -> object:
        if name not in room_of:
            raise AttributeError(f"module {package!r} has no attribute {name!r}")
        found = getattr(import_module(room_of[name]), name)
        setattr(module, name, found)
        return found

    return get
