"""What recording hands out: what was recorded, changed, taken back, left out, and what goes with it."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import Literal

from pydantic import Field

from advisor.advice.advice import GaugeCondition
from advisor.advice.frozen import Frozen
from advisor.advice.unusable import RecordKind, UnusableRecord
from advisor.lawn import (
    Application,
    ArchivedHour,
    Audit,
    GaugeReading,
    OutsideWhy,
    ProbeReading,
    RainPair,
    Record,
    Run,
    StockChange,
    Weight,
)


class KeptRecord(Frozen):
    """One record."""

    kind: RecordKind
    """What kind of record it is."""
    id: int
    """Its number within its kind."""
    record: Record | UnusableRecord
    """The record itself, or what stands in its place and makes no sense."""
    words: str
    """The record in the owner's units and local time."""


class EntryNoteKind(StrEnum):
    """What there is to say about an entry."""

    CAME_TWICE = "came twice"
    SEED = "seed"
    STOCK_BELOW_ZERO = "stock below zero"
    EQUIPMENT = "equipment taken for granted"
    GOES_ON = "goes on"
    EMPTIED = "emptied for a look"


class EntryNote(Frozen):
    """Something to know about what was just recorded."""

    kind: EntryNoteKind
    """What it is about."""
    text: str
    """The note in a sentence."""
    taken_at: datetime | None = None
    """Of a time that the clock showed twice, the one that was taken."""
    other_at: datetime | None = None
    """Of a time that the clock showed twice, the one that was not taken."""
    ends_at: datetime | None = None
    """Of a run that goes on, when it is over."""
    emptied_at: datetime | None = None
    """Of a gauge that was to be emptied for a look, when that was advised."""


class LeftOutWhy(StrEnum):
    """Why an advised run was not recorded."""

    RECORDED_ALREADY = "recorded already"
    WAITED = "waited for a look"
    NOT_OVER = "not over yet"
    NOT_MADE = "counts as not made"


class LeftOut(Frozen):
    """An advised run that was not recorded."""

    zone: str
    """The zone."""
    why: LeftOutWhy
    """Why it was left out."""
    run_id: int | None = None
    """The run that it is recorded as already."""
    starts_at: datetime | None = None
    """When it was to begin."""
    ends_at: datetime | None = None
    """When it will be over."""
    condition: GaugeCondition | None = None
    """The condition that it waited for."""
    only_if: str = ""
    """The same in words."""


class Recorded(Frozen):
    """One entry: what was recorded and what goes with it."""

    schema_version: Literal["advisor.recorded/1"] = "advisor.recorded/1"
    """The version of this form."""
    site: str
    """The site."""
    records: tuple[KeptRecord, ...]
    """What was recorded."""
    used_up: tuple[KeptRecord, ...] = ()
    """What it took from the stock."""
    notes: tuple[EntryNote, ...] = ()
    """What there is to know about it."""
    left_out: tuple[LeftOut, ...] = ()
    """Advised runs that were not recorded."""


class FollowedWhy(StrEnum):
    """Why a field that was not named has another value after an edit."""

    KEEPS_LENGTH = "keeps its length"
    IN_PROPORTION = "in proportion"
    MEASURED_DROPPED = "the measured depth went with the old minutes"
    DID_NOT_RUN = "it did not run"
    FROM_MINUTES = "follows from the minutes"
    OTHER_ZONE = "worked out for the other zone"
    SITE_RATE = "the site file's rate"
    SITE_DILUTION = "the site file's dilution"
    CANNOT_TELL = "the method cannot tell"
    USUAL_EQUIPMENT = "what the product usually goes down with"


class Followed(Frozen):
    """A field that changed because another did."""

    field: str
    """The field."""
    why: FollowedWhy
    """Why it changed."""


class Consequence(StrEnum):
    """What becomes of another record when one is edited or removed."""

    ADDED = "added"
    CHANGED = "changed"
    REMOVED = "removed"
    KEPT = "kept"


class AlongWith(Frozen):
    """Another record that an edit or a removal concerns."""

    consequence: Consequence
    """What became of it; "kept" where it could have followed but was entered by hand."""
    record: KeptRecord
    """It as it stands now, or as it stood where it was removed."""
    before: KeptRecord | None = None
    """It as it stood before it was changed."""


class Edited(Frozen):
    """One record given other values."""

    schema_version: Literal["advisor.edited/1"] = "advisor.edited/1"
    """The version of this form."""
    site: str
    """The site."""
    before: KeptRecord
    """The record as it stood."""
    after: KeptRecord
    """The record as it stands."""
    followed: tuple[Followed, ...] = ()
    """Fields that were not named and changed with the others."""
    along: tuple[AlongWith, ...] = ()
    """Other records that the edit concerns."""


class Removed(Frozen):
    """One record taken out."""

    schema_version: Literal["advisor.removed/1"] = "advisor.removed/1"
    """The version of this form."""
    site: str
    """The site."""
    removed: KeptRecord
    """The record as it stood."""
    along: tuple[AlongWith, ...] = ()
    """Other records that went with it."""


class Act(StrEnum):
    """What can be taken back."""

    ADD = "add"
    EDIT = "edit"
    REMOVE = "remove"
    IMPORT = "import"


class TakenBack(Frozen):
    """The last entry, edit, removal or import, taken back."""

    schema_version: Literal["advisor.undone/1"] = "advisor.undone/1"
    """The version of this form."""
    site: str
    """The site."""
    act: Act | None
    """What was taken back; null where there was nothing."""
    gone: tuple[KeptRecord, ...] = ()
    """Records that are gone again."""
    restored: tuple[KeptRecord, ...] = ()
    """Records that stand as before."""


class Listed(Frozen):
    """What is recorded, in the form of a records file, which `records import` reads."""

    schema_version: Literal["advisor.records/1"] = "advisor.records/1"
    """The version of this form."""
    format: Literal["advisor.records/1"] = "advisor.records/1"
    """The same, by its older name."""
    applications: tuple[Application, ...]
    """What was put down."""
    runs: tuple[Run, ...]
    """What ran."""
    gauge: tuple[GaugeReading, ...]
    """What the gauge showed."""
    probes: tuple[ProbeReading, ...]
    """What the soil probe found."""
    audits: tuple[Audit, ...]
    """What was measured of the zones."""
    archive: tuple[ArchivedHour, ...]
    """Past hours as the weather sources told them."""
    pairs: tuple[RainPair, ...]
    """Forecasts held against the gauge."""
    stock: tuple[StockChange, ...]
    """What was bought and used up."""
    unusable: tuple[UnusableRecord, ...] = ()
    """What is there and makes no sense as a record; not there where there is none."""


class Exported(Frozen):
    """Records written to files."""

    schema_version: Literal["advisor.exported/1"] = "advisor.exported/1"
    """The version of this form."""
    site: str
    """The site."""
    target: str
    """The file or folder that was asked for."""
    files: tuple[str, ...]
    """The files that were written."""
    records: dict[RecordKind, int]
    """How many records of each kind."""
    left_out: tuple[UnusableRecord, ...] = ()
    """What is there and makes no sense as a record: it is not in the files."""


class HeldRow(Frozen):
    """A row of a file that the gate holds back, and why."""

    kind: RecordKind
    """The kind of record."""
    where: str
    """The file."""
    line: int
    """The line, from 1."""
    why: OutsideWhy
    """Why it is held back."""
    weight: Weight
    """Whether it cannot be, or hardly is."""
    field: str = ""
    """The field that it is about; "" where it is the whole record."""
    what: str
    """What is wrong."""
    found: str = ""
    """What stands there; "" where it is not told."""
    allowed: str = ""
    """What may stand there; "" where it is not told."""
    text: str
    """The same in a sentence."""


class Carried(Frozen):
    """Records of files: taken in, or only looked over where `written` is not so."""

    schema_version: Literal["advisor.imported/1"] = "advisor.imported/1"
    """The version of this form."""
    site: str
    """The site."""
    source: str
    """The file or folder that was read."""
    added: dict[RecordKind, int]
    """How many of each kind were added."""
    skipped: dict[RecordKind, int]
    """How many of each kind were there already and left out."""
    replaced: dict[RecordKind, int]
    """How many of each kind were there with other values and were given those of the file."""
    written: bool = True
    """Whether it was written; where not, the numbers are what would be."""
    held: tuple[HeldRow, ...] = ()
    """Rows that the gate holds back: nothing is written while there are any, unless they are left out, or taken
    anyway where they are only unlikely."""
    left_out: dict[RecordKind, int] = Field(default_factory=dict)
    """How many of each kind that the gate holds back were left out as asked."""


class Doubt(Frozen):
    """Something damaged or doubtful in the records."""

    text: str
    """What it is, in a sentence."""
    kind: RecordKind | None = None
    """The kind of record to mend; null where it is the file itself, or more than one record."""
    id: int | None = None
    """The number of the record to mend."""
    field: str = ""
    """The field that it is about; "" where it is none, or more than one."""
    why: OutsideWhy | None = None
    """Why the record is outside of what is let in; null where that is not what it is about."""
    weight: Weight | None = None
    """Whether it cannot be, or hardly is; null as above."""


class Examined(Frozen):
    """The records looked through."""

    schema_version: Literal["advisor.records-check/1"] = "advisor.records-check/1"
    """The version of this form."""
    site: str
    """The site."""
    ok: bool
    """Whether nothing is damaged or doubtful."""
    looked_through: int
    """How many records were looked through."""
    doubts: tuple[Doubt, ...]
    """What is damaged or doubtful."""


class RecordsLooked(Frozen):
    """A file of records, looked over."""

    path: str
    """The file."""
    sound: bool
    """Whether it is whole and one of records."""
    why: str = ""
    """Why it is not; "" where it is."""
    schema_number: int | None = None
    """The number of the schema in which it is kept; none where it is not sound."""
    records: dict[RecordKind, int] = Field(default_factory=dict)
    """How many records of each kind it holds."""
    advices: int = 0
    """How many advices it holds."""
    newest_at: datetime | None = None
    """When the newest advice in it was given, or the service last did something; none where it never did."""


class Restored(Frozen):
    """A backup put back in the place of the records, or what would be with --dry-run."""

    schema_version: Literal["advisor.records-restore/1"] = "advisor.records-restore/1"
    """The version of this form."""
    site: str
    """The site."""
    dry_run: bool
    """Whether it was only told and nothing was done."""
    backup: RecordsLooked
    """The backup, as it was before it was brought to this program's schema."""
    passed_over: tuple[RecordsLooked, ...] = ()
    """Newer backups that are damaged and were passed over."""
    replaced: RecordsLooked | None
    """What stood in the place of the records; none where nothing did."""
    kept_as: str = ""
    """Where that is kept now; "" where nothing was replaced."""
    words: tuple[str, ...] = ()
    """This in sentences."""


class AdoptedHow(StrEnum):
    """What became of the records that were said to be this lawn's."""

    ALREADY = "they were already"
    TAKEN = "taken as they stand"
    BEGUN = "begun anew"


class Adopted(Frozen):
    """Records that were said to be this lawn's, or to be new."""

    schema_version: Literal["advisor.records-adopt/1"] = "advisor.records-adopt/1"
    """The version of this form."""
    site: str
    """The site."""
    how: AdoptedHow
    """What became of them."""
    stood: RecordsLooked | None
    """What stood in their place; none where nothing did."""
    kept_as: str = ""
    """Where that is kept now, where the records were begun anew; "" else."""
    words: tuple[str, ...] = ()
    """This in sentences."""
