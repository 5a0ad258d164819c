"""Will the rain do it? The decision alone, taken out of an Advice."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

from advisor.advice import (
    Action,
    Advice,
    ApplicationAdvice,
    PlannedRun,
    RainAnswer,
    RunPurpose,
    WhatIf,
    concerns,
)
from advisor.rounds import MAY_RAIN, MAY_WASH
from advisor.sentences import acts, not_now, nothing_asked, option_words, sentence
from advisor.tonight.alarms import alarm_reasons
from advisor.wording import Say


def rain_answer(
    advice: Advice, what_if: WhatIf | None = None, application_id: int | None = None
) -> RainAnswer:
    """The decision for what `advice` holds; with `application_id` for that application alone."""
    asked = [o for o in advice.obligations if application_id is None or o.application_id == application_id]
    names = {o.product for o in asked}
    local = ZoneInfo(advice.time_zone)
    say = Say(advice.units, local, advice.now.astimezone(local))
    runs = {run.zone: run for run in advice.runs if run.condition is None}
    return RainAnswer(
        site=advice.site,
        time_zone=advice.time_zone,
        units=advice.units,
        now=advice.now,
        what_if=what_if,
        headline=_headline(say, asked, runs, what_if),
        verdicts=tuple(_with_words(say, one, runs.get(one.zone)) for one in asked),
        rain=advice.rain,
        cautions=tuple(c for c in advice.cautions if concerns(c, names)),
        attribution=tuple(dict.fromkeys(s.attribution for s in advice.sources if s.attribution)),
        inputs_digest=advice.inputs_digest,
        left_out=advice.left_out,
    )


def _with_words(say: Say, one: ApplicationAdvice, run: PlannedRun | None) -> ApplicationAdvice:
    """The verdict with its ways in words; `run` is the firm one of tonight on its zone."""
    planned = run if run is not None and run.why != RunPurpose.COOL else None
    told = []
    for option in one.options:
        made = planned if option.action == one.action == Action.RUN else None
        told.append(option.model_copy(update={"words": option_words(say, option, one.zone, made)}))
    return one.model_copy(update={"options": tuple(told)})


def _headline(
    say: Say,
    asked: Sequence[ApplicationAdvice],
    runs: Mapping[str, PlannedRun],
    what_if: WhatIf | None,
) -> str:
    """What is or may go wrong, then one act a zone; for what is only asked about, whether to do it at all."""
    if not asked:
        return nothing_asked()
    if what_if is not None:
        is_past = what_if.at < say.now
        against = not_now(say, asked, is_past=is_past, limits=(MAY_RAIN, MAY_WASH))
        if against:
            return against
    return " ".join([*(sentence(say, r) for r in alarm_reasons(asked)), acts(say, asked, runs)])
