"""What tonight's answers hang on: the judged numbers that would change one, halved or doubled."""

from __future__ import annotations

from typing import Literal

from advisor.advice.advice import Action, Moment, ZoneVerdict
from advisor.advice.frozen import Frozen
from advisor.advice.not_kept import NotKept


class OtherNumber(Frozen):
    """One number of data/judgement.csv, with another value in its place."""

    key: str
    """Its name in the table."""
    value: float
    """Its value, for the site's dial."""
    other: float
    """The value tried in its place: half or double, within its range."""
    unit: str
    """The unit of both; "cost" is a share of the worth of all that was put down, "share" one of a whole."""
    steers: str
    """What it steers, in one sentence."""
    source: str
    """On whose word its value is."""


class ZoneTurn(Frozen):
    """What one number would make of a zone's answer."""

    number: OtherNumber
    """The number that is changed."""
    verdict: ZoneVerdict
    """The verdict then."""
    depth_mm: float
    """The mean depth of the run then, mm; 0 without one."""
    words: str = ""
    """This in a sentence."""


class ZoneHangsOn(Frozen):
    """What a zone's answer hangs on."""

    zone: str
    """The zone."""
    verdict: ZoneVerdict
    """Tonight's verdict."""
    depth_mm: float
    """The mean depth of its run, mm; 0 without one."""
    turns: tuple[ZoneTurn, ...]
    """What would change the verdict, or the depth of its run by a lot; empty where no single number does."""
    words: str = ""
    """The verdict in a sentence, and where it hangs on nothing that it does not."""


class ApplicationTurn(Frozen):
    """What one number would make of the answer for something that was put down."""

    number: OtherNumber
    """The number that is changed."""
    action: Action
    """What to do about it then."""
    words: str = ""
    """This in a sentence."""


class ApplicationHangsOn(Frozen):
    """What the answer for something that was put down hangs on."""

    application_id: int
    """The application."""
    product: str
    """The product."""
    zone: str
    """The zone."""
    action: Action
    """What to do about it tonight."""
    turns: tuple[ApplicationTurn, ...]
    """What would change that; empty where no single number does."""
    words: str = ""
    """The answer in a sentence, and where it hangs on nothing that it does not."""


class JudgedWhy(Frozen):
    """Which judged numbers tonight's answers hang on."""

    schema_version: Literal["advisor.tonight-why/1"] = "advisor.tonight-why/1"
    """The version of this form."""
    site: str
    """The site's name."""
    time_zone: str
    """Its time zone (IANA)."""
    units: str
    """The owner's units: "metric" or "us"."""
    now: Moment
    """When it was asked."""
    tried: int
    """How many numbers were tried, each halved and doubled within its range."""
    zones: tuple[ZoneHangsOn, ...]
    """The zones, in the order of the site file."""
    applications: tuple[ApplicationHangsOn, ...]
    """What was put down and still asks for something, or is to be kept dry or moist."""
    inputs_digest: str
    """A fingerprint of everything tonight's advice was made from."""
    not_kept: NotKept | None = None
    """Why tonight's advice could not be kept in the records; none where it is kept, or nobody meant to keep it."""
