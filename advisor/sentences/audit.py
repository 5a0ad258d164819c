"""Sentences about an audit: what a zone gives, how sure that is, and what to look at."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from advisor.advice import Asking, AuditResult, Confidence, Finding, FindingKind, Quality, Weakness
from advisor.sentences.cautions import told
from advisor.units import show
from advisor.wording import Say, count_words

Kind = FindingKind

WATERS: Mapping[Quality, str] = {
    Quality.EVEN: "waters evenly ({share}); little is to be gained",
    Quality.EVEN_ENOUGH: "waters evenly enough ({share}; 65 % is asked of new homes)",
    Quality.UNEVEN: "waters unevenly ({share}; 65 % is asked of new homes): worth mending",
    Quality.VERY_UNEVEN: "waters very unevenly ({share}): mend it before watering by these figures",
}
"""What an audit that can be relied on says of the evenness."""


def with_sentences(say: Say, result: AuditResult) -> AuditResult:
    """The same audit with its verdict, what to look at and its cautions in sentences."""
    findings = tuple(f.model_copy(update={"text": finding_words(say, f)}) for f in result.findings)
    return result.model_copy(
        update={
            "verdict": verdict_words(say, result),
            "findings": findings,
            "look_at": tuple(finding.text for finding in findings),
            "cautions": told(result.cautions, Asking.AUDIT),
        }
    )


def verdict_words(say: Say, result: AuditResult) -> str:
    """One sentence on the zone, no surer than the audit."""
    rate = say.rate(result.rate_mm_h)
    if result.uniformity is None or result.quality is None:
        return f"It gives {rate}; how evenly, this way of measuring cannot tell."
    share = show(result.uniformity, "share")
    if result.confidence == Confidence.LOW:
        weak = ", ".join(_weakness(say, result, weakness) for weakness in result.weak)
        return (
            f"It gives about {rate} and looks {result.quality} ({share}), but this audit is too weak to rely "
            f"on ({weak}): measure again."
        )
    return f"It gives {rate} and {WATERS[result.quality].format(share=share)}."


def _weakness(say: Say, result: AuditResult, weakness: Weakness) -> str:
    if weakness == Weakness.WIND:
        return f"wind {_wind(say, result.wind_m_s)}"
    return count_words(result.cans, "can")


def finding_words(say: Say, finding: Finding) -> str:
    """One thing to look at, and what may be behind it."""
    return SENTENCES[finding.kind](say, finding)


def _wind(say: Say, wind_m_s: float | None) -> str:
    return show(wind_m_s or 0.0, "wind", say.units)


def _windy(say: Say, f: Finding) -> str:
    return (
        f"Wind of {_wind(say, f.wind_m_s)} is above {_wind(say, f.most_wind_m_s)}: "
        "measure again on a calm morning."
    )


def _heads(say: Say, f: Finding) -> str:
    side, cause = (
        ("less", "low pressure, clogged nozzles or wide spacing")
        if f.kind == Kind.LESS_THAN_HEADS
        else ("more", "large nozzles, close spacing, or an area or unit noted wrongly")
    )
    low, high = (say.rate(rate or 0.0) for rate in (f.rate_low_mm_h, f.rate_high_mm_h))
    return f"{f.head} heads usually give {low} to {high}; this is {side}: {cause}."


def _odd(say: Say, f: Finding) -> str:
    cans = " and ".join(f"can {can.number} ({say.depth(can.depth_mm)})" for can in f.odd_cans)
    return f"Far from the others: {cans}; was it tipped, sheltered or beside a leak?"


def _soaks(_: Say, f: Finding) -> str:
    return (
        f"It gives water faster than the soil takes it in: no more than {f.cycle_min or 0.0:.0f} min without "
        f"a pause, then a soak of {f.soak_min or 0.0:.0f} min."
    )


SENTENCES: Mapping[FindingKind, Callable[[Say, Finding], str]] = {
    Kind.WINDY: _windy,
    Kind.FEW_CANS: lambda _, f: (
        f"{count_words(f.cans or 0, 'can')} {'is' if f.cans == 1 else 'are'} few: "
        f"{f.enough_cans} or more make the figures firm."
    ),
    Kind.ONE_SPOT: lambda *_: "One can stands for one spot only: set out several, or read the meter.",
    Kind.LESS_THAN_HEADS: _heads,
    Kind.MORE_THAN_HEADS: _heads,
    Kind.DRIER_SIDE: lambda _, f: f"It is drier towards {f.side}: look at the heads on that side first.",
    Kind.PRESSURE: lambda *_: "Pressure: too low leaves dry rings, too high drifts as mist.",
    Kind.HEADS: lambda *_: "Tilted, sunken or clogged heads, and grass in front of them.",
    Kind.SPACING: lambda *_: "Spacing: each head should throw to the next one.",
    Kind.ODD_CANS: _odd,
    Kind.NEEDS_SOAKS: _soaks,
}
