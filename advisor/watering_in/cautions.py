"""The cautions that go with what is or will be on the lawn, whoever asks: one answer for all.

What a moment says once for all comes before what is said of single products. Those a moment leaves out
were said at another: gloves and air gaps belong to the mixing and not to the night after it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from advisor.advice import TOPIC, Asking, Caution, CautionKind
from advisor.lawn import FORMS, OF_KINDS, Product, SeedConflict
from advisor.sentences import seed_conflict_words, told

Kind = CautionKind
ICE_C = 4.0
"""From here down wet walks may freeze."""


@dataclass(frozen=True, slots=True)
class PutDown:
    """A product that lies on some zones, or is to go down on them (none said: on all asked about)."""

    product: Product
    zones: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NightRisks:
    """What a night adds: what meets seed, which products a hard shower ran off with and where, whether
    water runs, and the lowest temperature near it, °C (NaN where unknown)."""

    seed: tuple[SeedConflict, ...] = ()
    ran_off: tuple[PutDown, ...] = ()
    water_runs: bool = False
    coldest_c: float = float("nan")


@dataclass(frozen=True, slots=True)
class _Once:
    """A caution that is said once for all where anything of these forms goes down."""

    kind: CautionKind
    forms: frozenset[str] = frozenset(FORMS)


_LIQUID = frozenset({"liquid"})
_SPREAD = frozenset(FORMS) - _LIQUID
_ONCE: Mapping[Asking, tuple[_Once, ...]] = {
    Asking.TONIGHT: (_Once(Kind.LABEL), _Once(Kind.STAY_OFF)),
    Asking.MIX: (
        _Once(Kind.LABEL),
        _Once(Kind.GLOVES),
        _Once(Kind.STAY_OFF),
        _Once(Kind.AIR_GAP, _LIQUID),
        _Once(Kind.SWEEP, _SPREAD),
        _Once(Kind.HARD_SURFACES, _LIQUID),
        _Once(Kind.BUFFER),
    ),
    Asking.NEXT_ROUND: (_Once(Kind.LABEL),),
}
_NOT_OF_PRODUCTS: Mapping[Asking, frozenset[CautionKind]] = {
    Asking.TONIGHT: frozenset(
        {
            Kind.LABEL,
            Kind.STAY_OFF,
            Kind.GLOVES,
            Kind.HARD_SURFACES,
            Kind.BUFFER,
            Kind.MONTHS,
            Kind.AIR_GAP,
            Kind.SWEEP,
        }
    ),
    Asking.MIX: frozenset(
        {
            Kind.LABEL,
            Kind.STAY_OFF,
            Kind.GLOVES,
            Kind.HARD_SURFACES,
            Kind.BUFFER,
            Kind.MONTHS,
            Kind.SWEEP,
        }
    ),
    Asking.NEXT_ROUND: OF_KINDS | {Kind.OWN},
}
"""What is said once for all there, or at another moment."""


def cautions_for(
    asking: Asking, put_down: Sequence[PutDown], night: NightRisks | None = None
) -> tuple[Caution, ...]:
    """What to mind about `put_down`, and in the `night` where one is given; the gravest first.

    `asking` is TONIGHT, MIX or NEXT_ROUND. What is only asked about goes through TONIGHT, as if it were
    recorded.
    """
    night = night or NightRisks()
    forms = {each.product.kind.form for each in put_down}
    once = [_of(each.kind) for each in _ONCE[asking] if not each.forms.isdisjoint(forms)]
    left_out = _NOT_OF_PRODUCTS[asking] | {each.kind for each in once}
    found = [
        *_seed(night.seed),
        *once,
        *_of_products(asking, put_down, left_out),
        *_night(asking, put_down, night),
    ]
    return tuple(dict.fromkeys(told(found, asking)))


def _of(
    kind: CautionKind, products: Sequence[str] = (), zones: Sequence[str] = (), text: str = ""
) -> Caution:
    return Caution(topic=TOPIC[kind], kind=kind, products=tuple(products), zones=tuple(zones), text=text)


def _about(kind: CautionKind, those: Sequence[PutDown], text: str = "") -> Caution:
    """A caution about the products and zones of `those`."""
    zones = dict.fromkeys(zone for each in those for zone in each.zones)
    return _of(kind, tuple(dict.fromkeys(each.product.name for each in those)), tuple(zones), text)


def _seed(conflicts: Sequence[SeedConflict]) -> list[Caution]:
    return [
        _of(Kind(each.kind), [each.product], [each.zone], f"{seed_conflict_words(each)}.")
        for each in conflicts
    ]


def _of_products(
    asking: Asking, put_down: Sequence[PutDown], left_out: frozenset[CautionKind]
) -> list[Caution]:
    """What single products ask, heavy rain first; for a mix, products that ask the same together."""
    asked: dict[tuple[CautionKind, str, str], list[PutDown]] = {}
    for each in put_down:
        name = "" if asking == Asking.MIX else each.product.name
        own = [(Kind.OWN, text) for text in each.product.cautions]
        for kind, text in [*((kind, "") for kind in each.product.kind.cautions), *own]:
            if kind not in left_out:
                asked.setdefault((kind, text, name), []).append(each)
    found = [_about(kind, those, text) for (kind, text, _), those in asked.items()]
    return sorted(found, key=lambda c: asking == Asking.TONIGHT and c.kind != Kind.HEAVY_RAIN)


def _night(asking: Asking, put_down: Sequence[PutDown], night: NightRisks) -> list[Caution]:
    """What the water of the night asks, and what a hard shower took."""
    found: list[Caution] = []
    granules = [each for each in put_down if each.product.kind.form == "granule"]
    if granules and asking == Asking.TONIGHT:  # elsewhere it is said once for all
        found.append(_about(Kind.SWEEP, granules))
    if night.ran_off:
        found.append(_about(Kind.RAN_OFF, night.ran_off))
    if night.water_runs:
        found += [_of(Kind.BACKFLOW), _of(Kind.STANDING_WATER)]
    if night.water_runs and night.coldest_c < ICE_C:
        found.append(_of(Kind.FREEZING))
    return found
