"""Records held against those that are there: what is new, what is there already, what has other values there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

from advisor.lawn.record_fields import KINDS
from advisor.lawn.records import Record


@dataclass(frozen=True, slots=True)
class Compared:
    """Of records of one kind the places of the new ones and of those whose key is there with other values, beside
    what these replace."""

    new: tuple[int, ...]
    replacing: tuple[int, ...]
    replaced: tuple[Record, ...]


def compared(kind: str, present: Sequence[Record], found: Sequence[Record]) -> Compared:
    """What of `found` is not in `present`, whatever the ids.

    A record whose content is already there counts as there, as often as it is. An archived hour or rain pair that
    is there with other values is to be given those of the file.
    """
    there = Counter(replace(record, id=0) for record in present)
    names = KINDS[kind].key
    by_key = {_key(record, names): record for record in present} if names else {}
    new: list[int] = []
    replacing: list[int] = []
    for place, record in enumerate(found):
        content = replace(record, id=0)
        if there[content] > 0:
            there[content] -= 1
        elif names and _key(content, names) in by_key:
            replacing.append(place)
        else:
            new.append(place)
    replaced = tuple(by_key[_key(found[place], names)] for place in replacing)
    return Compared(tuple(new), tuple(replacing), replaced)


def _key(record: Record, names: tuple[str, ...]) -> tuple[object, ...]:
    return tuple(getattr(record, name) for name in names)
