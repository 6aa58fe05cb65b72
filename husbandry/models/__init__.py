"""The animals: what they are, where they were, what they ate and weighed, and their quarantine."""

from husbandry.models.animals import Animal, Species
from husbandry.models.feeding import Feeding, FeedingPlan, Food
from husbandry.models.records import HeadCount, HealthRecord, Measurement
from husbandry.models.stays import Placement, Quarantine, QuarantineCheck, QuarantineRestart

__all__ = [
    "Animal",
    "Feeding",
    "FeedingPlan",
    "Food",
    "HeadCount",
    "HealthRecord",
    "Measurement",
    "Placement",
    "Quarantine",
    "QuarantineCheck",
    "QuarantineRestart",
    "Species",
]
