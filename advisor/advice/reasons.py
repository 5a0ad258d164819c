"""Reasons as data: what an answer rests on, with its numbers; the sentence is made from them once."""

from __future__ import annotations

from datetime import date, datetime
from enum import StrEnum

from advisor.advice.frozen import Frozen
from advisor.advice.water_need import NeedReason


class ReasonKind(StrEnum):
    """What a reason says. The groups: zones, applications, notes beside them, steps, changes, unknowns."""

    # where a zone stands
    USED = "used of the allowance"
    LEFT_ALONE = "where it stands if left alone"
    RAIN_BRINGS_BACK = "rain brings it back"
    TOO_LITTLE_FOR_A_RUN = "too little for a run"
    PUTS_BACK = "the run puts back"
    PUTS_BACK_A_PART = "the run puts back a part"
    CAPPED = "a product caps the run"
    WATERS_IN = "the run waters in"
    WATERS_IN_TOO = "the run waters in as well"
    SEED_KEPT_MOIST = "seed kept moist"
    COOLS_AT_MIDDAY = "the run cools at midday"
    NOT_PLANNED = "does not fit"
    NO_HOURS = "no allowed hours are long enough"
    WATERED_IN_LATER = "watered in later"
    GAUGE_DECIDES = "the gauge decides"
    RAIN_FILLS_THE_SOIL = "rain fills the soil"
    PRODUCTS_LEFT_TO_RAIN = "products left to the rain"
    RUN_UNDER_WAY = "its run is under way"
    RUN_STANDS = "its run begins too soon to be changed"
    RUN_TAKEN_AS_MADE = "its run is taken as made"
    # what an application asks and what becomes of it
    WASHED_OFF_WHILE_DRY = "washed off while it had to stay dry"
    WASHED_AWAY = "washed away by heavy rain"
    WETTED_WHILE_DRY = "wetted while it had to stay dry"
    KEEP_DRY_UNTIL = "keep dry until"
    NO_RUN_BEFORE_THEN = "no run before then"
    WATERED_IN = "watered in"
    NOTHING_MORE = "nothing more to do"
    MORE_THAN_IT_BEARS = "more than it bears"
    KEEP_MOIST = "keep moist"
    NOTHING_TO_WATER_IN = "nothing to water in"
    OVERDUE = "overdue"
    RUN_WATERS_IT_IN = "tonight's run waters it in"
    LOOK_AND_RUN = "look at the gauge, then run"
    RUN_BRINGS_A_PART = "tonight's run brings a part"
    REST_TO_RAIN = "the rest is left to the rain"
    NEEDS_NOT_TONIGHT = "needs water that does not fit tonight"
    NEEDS_LATER = "needs water at the first chance"
    TOO_MUCH_RAIN_COMES = "too much rain is expected"
    ONLY_RAIN = "rain is the only way"
    NOT_WORTH_A_RUN = "a run would cost more than it saves"
    LEFT_TO_RAIN = "left to the rain"
    HAD_SO_FAR = "had so far"
    HAD_IN_ONE_GO = "had in one go"
    CHANCE_OF_RAIN = "chance that rain alone brings it"
    # notes beside an application
    NEED_EXPLAINED = "why so much"
    CHANCE_OF_RAIN_ON_IT = "chance of rain while it must stay dry"
    RAN_OFF = "a hard shower ran off"
    ONE_GO = "wants its water in one go"
    CHANCE_OF_TOO_MUCH = "chance of too much rain"
    FORECAST_COVERS = "the forecast covers a part of the time"
    OTHER_STAYS_DRY = "another product must stay dry, and wins"
    WAS_DUE = "was due before the run"
    NO_HOUR_BEFORE_DUE = "no allowed hour before it is due"
    OTHERS_WAIT = "others wait while it stays dry"
    DEEPER_WINS = "the product that needs more wins"
    SHALLOWER_WINS = "the product that bears less wins"
    # steps
    ALARM_HARMS_SEED = "harms seed"
    ALARM_MAY_NOT_GROW = "may not grow"
    ALARM_WASHED = "washed"
    ALARM_WETTED = "wetted"
    ALARM_TOO_MUCH_WATER = "too much water"
    ALARM_TOO_MUCH_RAIN = "too much rain"
    ALARM_RAIN_ON_IT = "rain on it"
    UNDER_WAY = "runs under way"
    STANDS = "runs that begin too soon to be changed"
    RUN_TONIGHT = "run tonight"
    EMPTY_THE_GAUGE = "empty the gauge"
    LOOK_AT_THE_GAUGE = "look at the gauge"
    DOES_NOT_FIT = "does not fit tonight"
    LEAVE_TO_RAIN = "leave to the rain"
    NEEDS_NOTHING = "needs nothing"
    KEEP_DRY = "keep dry"
    NOTHING_TONIGHT = "nothing tonight"
    # changes since the advice before
    VERDICT_CHANGED = "the verdict changed"
    MINUTES_CHANGED = "the minutes changed"
    ACTION_CHANGED = "the action changed"
    EXPECTED_RAIN_CHANGED = "the rain expected changed"
    # not known, or guessed
    WEATHER_LACKS = "the weather lacks"
    PRODUCT_UNKNOWN = "the product is not in the site file"
    ZONE_UNKNOWN = "the zone is not in the site file"
    RUN_NOT_RECORDED = "the run advised before is not recorded"
    RUN_COUNTS_AS_NOT_MADE = "the run advised before counts as not made"
    LAST_NIGHT_NOT_RECORDED = "the run of the night before is not recorded"
    WAITED_NOT_RECORDED = "the run that waited for the gauge is not recorded"
    NOTHING_RECORDED = "no run and no probe reading is recorded"
    RATE_GUESSED = "the precipitation rate is a guess"
    DRAWS_MORE_THAN_SUPPLY = "draws more than the supply carries"
    EVENNESS_NOT_MEASURED = "evenness is not measured"
    ROOT_DEPTH_FROM_TABLE = "root depth is a table value"
    SOIL_STATE_UNSURE = "how dry the soil is is not sure"
    RAIN_FROM_MODEL = "rain of the last days is from the model"
    CHANCES_NOT_TESTED = "chances are not tested here"
    FORECAST_SHORT = "the forecast is short"
    KEPT_BEFORE = "kept by an earlier version"


class Reason(Frozen):
    """One thing that an answer rests on. Only the values that its kind speaks of are set; SI, UTC."""

    kind: ReasonKind
    """What it says."""
    text: str = ""
    """The same in a sentence, in the owner's units and local time."""
    zones: tuple[str, ...] = ()
    """The zones it is about."""
    products: tuple[str, ...] = ()
    """The products it is about."""
    other: str = ""
    """The other product where two stand against each other, or a word of the owner's data."""
    need: NeedReason | None = None
    """Why so much water is asked, or none."""
    depth_mm: float | None = None
    """The depth it is about, mm."""
    of_mm: float | None = None
    """The depth that it is measured against, mm."""
    low_mm: float | None = None
    """The low end of a range, mm: of rain (one in ten cases), of the soil by its wet reading."""
    high_mm: float | None = None
    """The high end of a range, mm: of rain (one in ten cases), of the soil by its dry reading."""
    ranges_mm: tuple[tuple[float, float], ...] = ()
    """A range (low, high) for each of `zones`, mm."""
    rate_mm_h: float | None = None
    """A precipitation rate, mm/h."""
    rate_low_mm_h: float | None = None
    """The least it may be, mm/h."""
    rate_high_mm_h: float | None = None
    """The most it may be, mm/h."""
    flow_l_min: float | None = None
    """A flow of water, L/min."""
    of_l_min: float | None = None
    """The flow that it is measured against, L/min."""
    chance: float | None = None
    """A chance or a share, 0–1."""
    minutes: float | None = None
    """Run time, min."""
    before_minutes: float | None = None
    """Run time as it was advised before, min."""
    count: int | None = None
    """How many: runs a day, pairs, hours."""
    days: float | None = None
    """How many days."""
    at: datetime | None = None
    """When."""
    until: datetime | None = None
    """Until when."""
    day: date | None = None
    """The local date it waits for, or that of the night it is about."""
    now_word: str = ""
    """The verdict or action now."""
    before_word: str = ""
    """The verdict or action of the advice before."""
