"""Applications: what they ask of water and what they stand to lose.

Each way to go on, leave it to the rain, run, or look again, has an expected loss over the members. The
least one is the answer.
"""

from typing import TYPE_CHECKING

from advisor.exports import lazy

if TYPE_CHECKING:
    from advisor.watering_in.applications import ZoneApplication, zone_applications
    from advisor.watering_in.cautions import NightRisks, PutDown, cautions_for
    from advisor.watering_in.conflicts import agreed_depth, bears_mm, conflict_reasons
    from advisor.watering_in.decision import Choice, Decided, Question, costs_of, decide
    from advisor.watering_in.equipment import LIQUID_METHODS, equipment_said, need_with, usual_equipment
    from advisor.watering_in.expected_loss import ExpectedLoss, Rain
    from advisor.watering_in.openings import look_trouble, openings
    from advisor.watering_in.water_need import WaterInNeed
else:
    __getattr__ = lazy(
        __name__,
        {
            "applications": ["ZoneApplication", "zone_applications"],
            "cautions": ["NightRisks", "PutDown", "cautions_for"],
            "conflicts": ["agreed_depth", "bears_mm", "conflict_reasons"],
            "decision": ["Choice", "Decided", "Question", "costs_of", "decide"],
            "equipment": ["LIQUID_METHODS", "equipment_said", "need_with", "usual_equipment"],
            "expected_loss": ["ExpectedLoss", "Rain"],
            "openings": ["look_trouble", "openings"],
            "water_need": ["WaterInNeed"],
        },
    )

__all__ = [
    "LIQUID_METHODS",
    "Choice",
    "Decided",
    "ExpectedLoss",
    "NightRisks",
    "PutDown",
    "Question",
    "Rain",
    "WaterInNeed",
    "ZoneApplication",
    "agreed_depth",
    "bears_mm",
    "cautions_for",
    "conflict_reasons",
    "costs_of",
    "decide",
    "equipment_said",
    "look_trouble",
    "need_with",
    "openings",
    "usual_equipment",
    "zone_applications",
]
