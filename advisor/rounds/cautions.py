"""The cautions that go with a round: the label, the person, the water supply, what lies beside the lawn."""

from __future__ import annotations

from collections.abc import Sequence

from advisor.advice.cautions import Caution, CautionTopic
from advisor.lawn.products import Product

WORDS = {
    "label is the law": "label",
    "gloves": "clothing",
    "stay off": "re-entry",
    "air gap": "backflow",
    "vacuum breaker": "backflow",
    "hard surfaces": "hard surfaces",
    "away from water": "water",
}
"""Words in a kind's cautions that a general caution already covers."""


def mix_cautions(products: Sequence[Product]) -> tuple[Caution, ...]:
    """What applies to this round; general ones first, then what each kind and product adds."""
    forms = {p.kind.form for p in products}
    said = [
        Caution(
            topic=CautionTopic.LABEL,
            text="The label is the law: where it differs from anything here, follow the label, "
            "and ask a licensed applicator where it leaves doubt.",
        ),
        Caution(
            topic=CautionTopic.CLOTHING,
            text="Long sleeves and trousers, closed shoes, waterproof gloves; eye cover when pouring.",
        ),
        Caution(
            topic=CautionTopic.RE_ENTRY,
            text="People and pets stay off until it has dried, or longer if the label says so.",
        ),
    ]
    if "liquid" in forms:
        said.append(
            Caution(
                topic=CautionTopic.BACKFLOW,
                text="A backflow preventer or vacuum breaker on anything joined to a hose; when filling, "
                "keep an air gap between the hose and the tank, and never leave it unwatched.",
            )
        )
    if forms - {"liquid"}:
        said.append(
            Caution(
                topic=CautionTopic.HARD_SURFACES,
                text="Sweep what falls on paving, drives and gutters back onto the lawn.",
            )
        )
    if "liquid" in forms:
        said.append(
            Caution(
                topic=CautionTopic.HARD_SURFACES,
                text="Keep spray off paving and drives; rinse none of it to a drain.",
            )
        )
    said.append(
        Caution(
            topic=CautionTopic.WATER,
            text="Keep away from ponds, streams, wells and drains; local rules set the distance "
            "and some set dates.",
        )
    )
    told = {caution.topic for caution in said}
    by_text: dict[str, list[str]] = {}
    for product in products:
        own = [text for text in product.kind.cautions if told.isdisjoint(_topics(text))]
        for text in (*own, *product.cautions):
            by_text.setdefault(text, []).append(product.name)
    said += [
        Caution(topic=CautionTopic.PRODUCT, text=f"{', '.join(n)}: {text}") for text, n in by_text.items()
    ]
    return tuple(said)


def _topics(text: str) -> set[str]:
    """The general topics that a kind's caution speaks of, by its words."""
    return {topic for word, topic in WORDS.items() if word in text.lower()}
