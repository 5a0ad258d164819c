"""Which judged numbers tonight's answers hang on: each is halved and doubled, and the night advised again.

A number keeps within the range in which it may reasonably lie. What cannot matter tonight is not tried: what
no product or zone asks for, what the owner has set, and what only adds a word to an answer.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from advisor.advice import (
    Action,
    Advice,
    ApplicationAdvice,
    ApplicationHangsOn,
    ApplicationTurn,
    JudgedWhy,
    OtherNumber,
    ZoneAdvice,
    ZoneHangsOn,
    ZoneTurn,
)
from advisor.lawn import JudgedRow, Records, Site, judged_rows
from advisor.sentences import (
    application_hangs_words,
    application_turn_words,
    zone_hangs_words,
    zone_turn_words,
)
from advisor.tonight.advise import advise_on
from advisor.tonight.lawn_state import LawnState, judged_anew, lawn_state
from advisor.weather import Weather
from advisor.wording import Say

FACTORS = (0.5, 2.0)
LOT_SHARE, LOT_MM = 0.3, 2.0  # a run that changes by less than either is as deep as before
ONLY_TOLD = frozenset(
    {
        *("looks.skip_chance", "looks.seen_before_min", "looks.takes_min"),
        *("applications.trace_mm", "applications.disturbing_mm"),
        *("rain.wild_mm", "rain.wild_ratio"),
        *("alarms.likely", "alarms.wetted_mm", "alarms.lost_share", "alarms.rain_mm"),
    }
)
"""Numbers that add a look, a note or an alarm to an answer and leave the answer as it is, and those that had
their say when the weather was gathered."""
OF_APPLICATIONS = ("costs", "looks", "applications", "need")
OF_PAIRS = ("rain.half_weight_pairs", "rain.made_up_pairs")
OF_SEED, OF_HEAT = ("light.spare_share",), ("light.cool_mm", "light.hot_c")


@dataclass(frozen=True, eq=False, slots=True)
class _Tried:
    """One number with another value, and what is advised by it."""

    number: OtherNumber
    advice: Advice


def judged_why(
    *, site: Site, records: Records, weather: Weather, now: datetime, previous: Advice | None = None
) -> JudgedWhy:
    """What the answers that `advise` gives on the same inputs hang on. Raises CannotAdvise as it does."""
    lawn = lawn_state(site=site, records=records, weather=weather, now=now, previous=previous)
    advice = advise_on(lawn)
    rows = [row for row in judged_rows().values() if _may_matter(row.key, lawn)]
    tried = [each for row in rows for each in _changed(lawn, row)]
    return JudgedWhy(
        site=advice.site,
        time_zone=advice.time_zone,
        units=advice.units,
        now=now.astimezone(UTC),
        tried=len(rows),
        zones=tuple(_zone(lawn.say, zone, tried) for zone in advice.zones),
        applications=tuple(
            _application(lawn.say, one, tried) for one in advice.obligations if one.action != Action.NONE
        ),
        inputs_digest=advice.inputs_digest,
    )


def _may_matter(key: str, lawn: LawnState) -> bool:
    """Whether a number can have a say in an answer of tonight at all."""
    if key in ONLY_TOLD:
        return False
    group, name = key.split(".")
    decision = lawn.site.decision
    if (group == "costs" and name in decision.costs) or (key == "turf.stress" and "stress" in decision.costs):
        return False
    if key in OF_PAIRS:
        return lawn.root_zone.calibration.pairs > 0
    if key in OF_HEAT:
        return any(zone.mode == "syringe" for zone in lawn.site.zones)
    if key in OF_SEED:
        sown = any(one.product.kind.light_runs_per_day > 0 for one in lawn.applications)
        return sown or any(zone.mode == "seed" for zone in lawn.site.zones)
    if group in ("costs", "looks"):
        return any(one.is_open for one in lawn.applications)
    return group not in OF_APPLICATIONS or bool(lawn.records.applications)


def _changed(lawn: LawnState, row: JudgedRow) -> Iterator[_Tried]:
    """What is advised with the number of a row halved, and doubled."""
    dial, judgement = lawn.site.decision.dial, lawn.site.judgement
    value = judgement.number(row.key, dial)
    others = dict.fromkeys(min(max(factor * value, row.least), row.most) for factor in FACTORS)
    for other in others:
        if other != value:
            number = OtherNumber(
                key=row.key, value=value, other=other, unit=row.unit, steers=row.steers, source=row.source
            )
            yield _Tried(number, advise_on(judged_anew(lawn, judgement.with_number(row.key, dial, other))))


def _zone(say: Say, zone: ZoneAdvice, tried: Sequence[_Tried]) -> ZoneHangsOn:
    """What a zone's answer hangs on."""
    depth_mm = _depth(zone)
    found = ZoneHangsOn(zone=zone.zone, verdict=zone.verdict, depth_mm=depth_mm, turns=())
    turns = []
    for each in tried:
        then = next(z for z in each.advice.zones if z.zone == zone.zone)
        if then.verdict != zone.verdict or _is_another(depth_mm, _depth(then)):
            turn = ZoneTurn(number=each.number, verdict=then.verdict, depth_mm=_depth(then))
            turns.append(turn.model_copy(update={"words": zone_turn_words(say, found, turn)}))
    turns.sort(key=lambda turn: turn.verdict == zone.verdict)  # other verdicts before other depths
    found = found.model_copy(update={"turns": tuple(turns)})
    return found.model_copy(update={"words": zone_hangs_words(found)})


def _depth(zone: ZoneAdvice) -> float:
    return zone.depth_firm_mm + zone.depth_conditional_mm


def _is_another(before_mm: float, then_mm: float) -> bool:
    """Whether a run changes by a lot."""
    return abs(then_mm - before_mm) >= max(LOT_MM, LOT_SHARE * before_mm)


def _application(say: Say, one: ApplicationAdvice, tried: Sequence[_Tried]) -> ApplicationHangsOn:
    """What the answer for something that was put down hangs on."""
    turns = []
    for each in tried:
        action = next(
            (
                other.action
                for other in each.advice.obligations
                if (other.application_id, other.zone, other.product)
                == (one.application_id, one.zone, one.product)
            ),
            Action.NONE,
        )
        if action != one.action:
            words = application_turn_words(say, action, each.number)
            turns.append(ApplicationTurn(number=each.number, action=action, words=words))
    found = ApplicationHangsOn(
        application_id=one.application_id,
        product=one.product,
        zone=one.zone,
        action=one.action,
        turns=tuple(turns),
    )
    return found.model_copy(update={"words": application_hangs_words([found])})
