"""What is known of one water that is to be forecast: its facts, its rows, and when the window begins."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from enclosures.warmth import Warmth, day_of_year, temperatures
from filtration.forecast import Source
from filtration.forecasting.order import Hours, hours_in_order
from filtration.forecasting.records import Records, Test, Unit
from filtration.forecasting.states import runs_at, timeline
from filtration.nitrification import COLDEST_C, WARMEST_C
from refuge.rounds.loaders import Moment
from refuge.rules.facts import CircuitFacts, Facts, PlanFacts

Floats = NDArray[np.float64]
WINDOW = timedelta(days=45)
AHEAD_DAYS = 14
AHEAD_HOURS = AHEAD_DAYS * 24
# The window moves on once a week, so that what was learned from its records stays good till then.
STEP_DAYS = 7


def opened(circuit_id: int, now: datetime) -> datetime:
    """When a water's window opened: WINDOW to a week more ago. Each water's moves on its own day of the week."""
    day = now.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    return day - timedelta(days=(day.toordinal() + circuit_id) % STEP_DAYS) - WINDOW


@dataclass(frozen=True, eq=False)
class Known:
    """One water. start: the first instant of the window at which a filter ran."""

    circuit: CircuitFacts
    facts: Facts
    records: Records
    moment: Moment
    start: datetime

    @property
    def began(self) -> datetime:
        """The full hour from which hours are counted."""
        return self.start.replace(minute=0, second=0, microsecond=0)

    @property
    def whole_weeks_until(self) -> datetime:
        """When the window last moved on, at most a week ago: what is taken from all of it stays the same till the next."""
        return opened(self.circuit.id, self.moment.now) + WINDOW

    @property
    def now_hour(self) -> int:
        return self.hour(self.moment.now)

    def hour(self, at: datetime) -> int:
        """Whole hours from the beginning to an instant."""
        return (at - self.began) // timedelta(hours=1)

    def hour_of_event(self, at: datetime) -> int:
        """The hour at which something that happened counts: its own, or the one before if a test followed in it."""
        return self._in_order[0].get(at, self.hour(at))

    def hour_of_test(self, at: datetime) -> int:
        """The hour at which a test is taken in, before what counts in it."""
        return self._in_order[1].get(at, self.hour(at))

    @cached_property
    def _in_order(self) -> tuple[Hours, Hours]:
        records, pk = self.records, self.circuit.id
        happened = [
            *(each.at for rows in (records.fed, records.renewed, records.worked) for each in rows[pk]),
            *(instant for each in records.harmed[pk] for instant in (each.at, each.ended)),
            *(when for unit in self.units for when, _ in timeline(unit)),
        ]
        return hours_in_order(self.began, happened, (test.at for test in self.tests))

    def temperatures(self, hours: Floats) -> Floats:
        """Water temperature [C, within what the sums take] at hours from the beginning."""
        first = self.began.astimezone(self.moment.zone)
        start = day_of_year(first.date()) + first.hour / 24
        read = [(self.hour(t.at), t.temperature_c) for t in self.tests if t.temperature_c is not None]
        days = start + np.array([hour for hour, _ in read], dtype=float) / 24
        water = self.circuit
        warmth = Warmth(water.usual_temperature_c, water.coldest_temperature_c, water.warmest_month)
        return np.clip(
            temperatures(warmth, start + hours / 24, days, [value for _, value in read]), COLDEST_C, WARMEST_C
        )

    @property
    def units(self) -> list[Unit]:
        return self.records.units[self.circuit.id]

    @property
    def running_at_start(self) -> list[Unit]:
        return [unit for unit in self.units if runs_at(unit, self.start)]

    @property
    def tests(self) -> list[Test]:
        return self.records.tests[self.circuit.id]

    @property
    def plans(self) -> list[PlanFacts]:
        return [plan for plan in self.facts.plan.values() if plan.circuit_id == self.circuit.id]

    @property
    def source(self) -> Source:
        return self.records.sources[self.circuit.source_id]
