"""A water that can be forecast: a tank of 1,000 L, a barrel filter, an animal, a feeding plan, tests and meals."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

NOW = datetime(2027, 3, 10, 12, 0, tzinfo=UTC)
# A forecast is drawn from a seed that follows from the water's key: so that a test sees the same members wherever and
# after whatever it runs, its waters do not take the next key of a sequence that other tests have moved.
FIRST_KEY = 700_000


def moment(now: datetime = NOW, **overrides: Any) -> Any:
    from refuge.rounds.loaders import Moment

    return Moment(now=now, today=now.date(), zone=UTC, overrides=overrides)


def days_ago(days: float, hour: int = 9) -> datetime:
    day = NOW - timedelta(days=int(days))
    return day.replace(hour=hour)


def a_water(*, meals: int = 14, tests: int = 4, filter_days: int = 300, **barrel: Any) -> Any:
    """A circuit. The last meal was given a day ago, one every second day; tests weekly, all of them good."""
    from tests import factories as make

    make.RefugeFactory()
    tank = make.EnclosureFactory(circuit__pk=_next_key())
    circuit = tank.circuit
    since = (NOW - timedelta(days=filter_days)).date()
    make.FilterUnitFactory(**{"circuit": circuit, "area": tank.area, "state_since": since, **barrel})
    arrived = (NOW - timedelta(days=400)).date()
    animal = make.AnimalFactory(placed_in=tank, mass_kg=12, arrived_on=arrived)
    food = make.FoodFactory()
    plan = make.FeedingPlanFactory(enclosure=tank, food=food, ration_kg=0.2, every_days=2, starts_on=arrived)
    for n in range(meals):
        make.FeedingFactory(enclosure=tank, food=food, plan=plan, offered_kg=0.2, at=days_ago(1 + 2 * n))
    for n in range(tests):
        make.WaterTestFactory(
            circuit=circuit, at=days_ago(2 + 7 * n, 10), ph=7.8, nitrate_n_mg_l=10.0, alkalinity_mg_l=140.0
        )
    circuit.animal, circuit.tank, circuit.plan = animal, tank, plan
    return circuit


def _next_key() -> int:
    from enclosures.models import Circuit

    return FIRST_KEY + Circuit.objects.filter(pk__gte=FIRST_KEY).count()
