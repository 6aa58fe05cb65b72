"""Reads about the filters, each a fixed number of queries for any number of rows."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import QuerySet

from filtration.designing.bucket_words import SERIOUS
from filtration.facts import brought_tan_g_day, filter_capacity
from filtration.models import FilterUnit, Maintenance
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts, FilterFacts

STATES = {
    "mature": "good",
    "cycling": "watch",
    "disturbed": "watch",
    "building": "unknown",
    "leak_tested": "unknown",
    "resting": "unknown",
}


@dataclass(frozen=True, slots=True)
class FilterRow:
    """One filter with how it stands. Capacities in g TAN a day."""

    unit: FilterUnit
    facts: FilterFacts
    capacity: float
    mature_capacity: float
    is_harmed: bool = False  # something cost it much, and nobody has said yet how it is

    @property
    def is_starved(self) -> bool:
        """Whether the flow of its last bucket test brings less than its stones could clear once mature."""
        brought = brought_tan_g_day(self.facts)
        return brought is not None and self.mature_capacity >= brought

    @property
    def capacity_words(self) -> str:
        """What it carries today, as the water's page says it: little is not nothing."""
        return "under 0.1" if 0 < self.capacity < 0.05 else f"{self.capacity:.1f}"

    @property
    def state_kind(self) -> str:
        return STATES[self.facts.state]

    @property
    def sediment_percent(self) -> float:
        return round(100 * self.facts.sediment_l / self.facts.void_l)

    @property
    def flow_percent(self) -> float | None:
        """The last measured flow in percent of the flow when new."""
        new = self.facts.commissioning_flow_m3_h
        return round(100 * self.facts.flow.value / new) if self.facts.flow and new else None

    @property
    def has_little_flow(self) -> bool:
        """Whether the last bucket test was so far below the first that the filter asks to be looked at."""
        return self.flow_percent is not None and self.flow_percent < 100 * SERIOUS


def filters() -> QuerySet[FilterUnit]:
    """All filters in walking order with area, water, pump, the plan they were built by, and layers: 2 queries."""
    rows = FilterUnit.objects.select_related("area", "circuit", "pump", "build__design").prefetch_related(
        "layers"
    )
    return rows.order_by("area__biosecurity_rank", "area__position", "position", "code")


def filter_rows(units: Iterable[FilterUnit], facts: Facts, moment: Moment) -> list[FilterRow]:
    """Filters with how they stand; no query beside the facts and the layers fetched before."""
    return [_row(unit, facts.filter[unit.pk], moment) for unit in units if unit.pk in facts.filter]


def _row(unit: FilterUnit, facts: FilterFacts, moment: Moment) -> FilterRow:
    now, mature, _ = filter_capacity(facts, moment)
    much = moment.limits(unit.circuit_id, unit.pk)["filtration.harm_left_share"]
    return FilterRow(unit, facts, now, mature, facts.state == "mature" and facts.harm_left_today <= much)


def work_series(unit: FilterUnit) -> dict[str, list[tuple[datetime, float | None]]]:
    """Sediment expected and seen at drains [L] and measured flows [m3/h], oldest first: 1 query."""
    rows = Maintenance.objects.filter(filter=unit, kind__in=["drain", "bucket_test"]).order_by("at", "pk")
    drains: list[tuple[Any, ...]] = []
    flows: list[tuple[Any, ...]] = []
    for at, kind, *values in rows.values_list(
        "at", "kind", "predicted_sediment_l", "observed_sediment_l", "flow_m3_h"
    ):
        (drains if kind == "drain" else flows).append((at, *values))
    return {
        "expected_l": [(at, expected) for at, expected, _, _ in drains],
        "seen_l": [(at, seen) for at, _, seen, _ in drains],
        "flow_m3_h": [(at, flow) for at, _, _, flow in flows],
    }
