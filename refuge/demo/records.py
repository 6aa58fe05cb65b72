"""Turns what the story tells into records: placements, quarantines, plans, and everything people entered."""

import random
from collections.abc import Iterable
from datetime import datetime
from typing import Any
from uuid import UUID

from enclosures.models import WaterChange, WaterTest
from filtration.models import FilterHarm, Maintenance
from husbandry.models import (
    Feeding,
    FeedingPlan,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
)
from refuge.demo.happenings import QuarantineTold, Stamp, Story
from refuge.demo.rows import Keys, added


class Writer:
    """Writes one story under the keys of its place and cast; record ids are drawn from the seed."""

    def __init__(self, story: Story, keys: Keys, seed: int) -> None:
        self._story = story
        self._keys = keys
        self._rng = random.Random(f"{seed}:{story.today}:records")

    def write(self) -> None:
        self._placements()
        plans = self._plans()
        health = self._health()
        self._quarantines(health)
        self._meals(plans)
        self._water()
        self._upkeep()
        self._mishaps()
        self._weights_and_counts()

    def _stamped(self, stamp: Stamp) -> dict[str, Any]:
        """The columns that every record has."""
        return {
            "uuid": UUID(int=self._rng.getrandbits(128), version=4),
            "at": stamp.at,
            "entered_at": stamp.entered_at,
            "by_id": self._keys.people[stamp.by],
            "note": stamp.note,
        }

    # Where animals were

    def _placements(self) -> None:
        added(
            Placement,
            [
                Placement(
                    animal_id=self._keys.animals[each.animal],
                    enclosure_id=self._keys.enclosures[each.enclosure],
                    circuit_id=self._keys.circuits[each.circuit],
                    starts_at=each.starts_at,
                    ends_at=each.ends_at,
                    by_id=self._keys.people[each.by],
                    reason=each.reason,
                    entered_at=each.starts_at,
                )
                for each in self._story.residences
            ],
        )

    def _quarantines(self, health: list[int]) -> None:
        told = self._story.quarantines
        stored = added(Quarantine, [self._quarantine(each) for each in told])
        checks, restarts = [], []
        for each, row in zip(told, stored, strict=True):
            checks += [
                QuarantineCheck(
                    quarantine=row,
                    kind=check.kind,
                    due_on=check.due_on,
                    answered_by_id=None if check.answer is None else health[check.answer],
                )
                for check in each.checks
            ]
            restarts += [
                QuarantineRestart(
                    quarantine=row,
                    on=restart.on,
                    because_of_id=self._keys.animals[restart.because_of],
                    previous_clock_from=restart.previous_clock_from,
                    previous_ends_on=restart.previous_ends_on,
                )
                for restart in each.restarts
            ]
        added(QuarantineCheck, checks)
        added(QuarantineRestart, restarts)

    def _quarantine(self, each: QuarantineTold) -> Quarantine:
        return Quarantine(
            animal_id=self._keys.animals[each.animal],
            started_on=each.started_on,
            clock_from=each.clock_from,
            days=each.days,
            ends_on=each.ends_on,
            released_on=each.released_on,
            released_by_id=self._keys.people[each.released_by] if each.released_by else None,
            outcome=each.outcome,
        )

    # Food

    def _plans(self) -> list[int]:
        rows = [
            FeedingPlan(
                enclosure_id=self._keys.enclosures[each.enclosure] if each.enclosure else None,
                animal_id=self._keys.animals[each.animal] if each.animal else None,
                food_id=self._keys.foods[each.food],
                ration_kg=each.ration_kg,
                every_days=each.every_days,
                weekdays=each.weekdays,
                starts_on=each.starts_on,
                ends_on=each.ends_on,
                fasting_until=each.fasting_until,
                note=each.note,
            )
            for each in self._story.plans
        ]
        return [row.pk for row in added(FeedingPlan, rows)]

    def _meals(self, plans: list[int]) -> None:
        added(
            Feeding,
            [
                Feeding(
                    **self._stamped(each.stamp),
                    enclosure_id=self._keys.enclosures[each.enclosure],
                    circuit_id=self._keys.circuits[each.circuit],
                    animal_id=self._keys.animals[each.animal] if each.animal else None,
                    plan_id=plans[each.plan],
                    food_id=self._keys.foods[each.food],
                    offered_kg=each.offered_kg,
                    left_kg=each.left_kg,
                    refused=each.refused,
                    tan_g=each.tan_g,
                    solids_g=each.solids_g,
                )
                for each in _in_order(self._story.meals)
            ],
        )

    # Water and filters

    def _water(self) -> None:
        added(
            WaterTest,
            [
                WaterTest(
                    **self._stamped(each.stamp), circuit_id=self._keys.circuits[each.circuit], **each.values
                )
                for each in _in_order(self._story.readings)
            ],
        )
        added(
            WaterChange,
            [
                WaterChange(
                    **self._stamped(each.stamp),
                    circuit_id=self._keys.circuits[each.circuit],
                    kind=each.kind,
                    volume_m3=each.volume_m3,
                    source_id=self._keys.sources[each.source],
                    conditioner=each.conditioner,
                    conditioner_g=each.conditioner_g,
                )
                for each in _in_order(self._story.renewals)
            ],
        )

    def _upkeep(self) -> None:
        added(
            Maintenance,
            [
                Maintenance(
                    **self._stamped(each.stamp),
                    filter_id=self._keys.filters[each.filter],
                    kind=each.kind,
                    layer_id=None if each.layer is None else self._keys.layers[each.filter, each.layer],
                    **each.seen,
                )
                for each in _in_order(self._story.upkeep)
            ],
        )

    def _mishaps(self) -> None:
        added(
            FilterHarm,
            [
                FilterHarm(
                    **self._stamped(each.stamp),
                    filter_id=self._keys.filters[each.filter],
                    kind=each.kind,
                    **each.told,
                )
                for each in _in_order(self._story.mishaps)
            ],
        )

    # Animals

    def _health(self) -> list[int]:
        """In the order of the story, so that a check finds its answer by place."""
        rows = [
            HealthRecord(
                **self._stamped(each.stamp),
                animal_id=self._keys.animals[each.animal],
                kind=each.kind,
                is_normal=each.is_normal,
                finding=each.finding,
            )
            for each in self._story.health
        ]
        return [row.pk for row in added(HealthRecord, rows)]

    def _weights_and_counts(self) -> None:
        added(
            Measurement,
            [
                Measurement(
                    **self._stamped(each.stamp),
                    animal_id=self._keys.animals[each.animal],
                    mass_kg=each.mass_kg,
                    carapace_m=each.carapace_m,
                )
                for each in _in_order(self._story.weighings)
            ],
        )
        added(
            HeadCount,
            [
                HeadCount(
                    **self._stamped(each.stamp),
                    enclosure_id=self._keys.enclosures[each.enclosure],
                    seen=each.seen,
                    expected=each.expected,
                )
                for each in _in_order(self._story.counts)
            ],
        )


def _in_order(happenings: Iterable[Any]) -> list[Any]:
    return sorted(happenings, key=lambda each: each.stamp.at)


def last_entries(story: Story) -> dict[str, datetime]:
    """When each person (by sign-in name) entered something for the last time."""
    told: tuple[list[Any], ...] = (
        story.meals,
        story.readings,
        story.renewals,
        story.upkeep,
        story.mishaps,
        story.weighings,
        story.health,
        story.counts,
    )
    last: dict[str, datetime] = {}
    for each in (happening.stamp for kind in told for happening in kind):
        last[each.by] = max(each.entered_at, last.get(each.by, each.entered_at))
    return last
