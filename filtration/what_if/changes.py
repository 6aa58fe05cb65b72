"""What may be changed, as frozen values: each knows the facts and the forecast as they would be. Plain Python.

`facts` changes the tables of the copy it is given; `scenario` gives a new scenario. Meals are left out of the
latter: they follow from the feeding plans of the changed facts. Scenarios count hours from now.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Protocol

from filtration.forecast import Rinse, Scenario
from filtration.forecast.inputs import RINSE_LOSS
from filtration.nitrification import within_range
from filtration.survival import stood_still
from filtration.what_if.facts import (
    NEW,
    add_load,
    count_animals,
    fit_filters,
    mixed,
    move,
    parted,
    plan_load,
)
from husbandry.arrivals.effects import set_back, with_arrival
from husbandry.arrivals.newcomer import Newcomer
from refuge.rules.facts import NO_STOP, RUNNING, Facts, FilterFacts, HarmFacts

Food = tuple[float, float]  # protein and water, as shares of the food as fed


@dataclass(frozen=True, eq=False)
class Ground:
    """What changes are made on. now: by the refuge's clock. disturbed_share: of a filter's bacteria that a disturbance
    leaves, by filter."""

    circuit_id: int
    now: datetime
    today: date
    disturbed_share: Mapping[int, float]


class Change(Protocol):
    """One change. `facts` must leave every table consistent but for loads of filters: `made` sees to these."""

    def facts(self, facts: Facts, ground: Ground) -> None: ...

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario: ...


class _OnlyFood:
    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        """Meals alone change: they follow from the plans."""
        return scenario


@dataclass(frozen=True)
class AnotherAnimal(_OnlyFood):
    """A newcomer in one of the water's enclosures."""

    newcomer: Newcomer
    enclosure_id: int

    def facts(self, facts: Facts, ground: Ground) -> None:
        with_arrival(facts, self.newcomer, self.enclosure_id, ground.today)


@dataclass(frozen=True)
class OtherRation(_OnlyFood):
    """A feeding plan with another ration [kg a meal], rhythm or food; None for what stays.

    A new rhythm begins today. Without a ration it keeps the food of a week and shares it out over the new meals;
    another food without one is fed by the same weight.
    """

    plan_id: int
    ration_kg: float | None = None
    every_days: int | None = None
    food: Food | None = None
    food_name: str = ""

    def facts(self, facts: Facts, ground: Ground) -> None:
        old = facts.plan[self.plan_id]
        protein, water = self.food or (old.protein_fraction, old.water_fraction)
        new = replace(
            old,
            food=old.food if self.food is None else self.food_name,
            protein_fraction=protein,
            water_fraction=water,
            ration_kg=self.meal_kg(old.ration_kg, old.every_days, old.weekdays),
            every_days=self.every_days or old.every_days,
            weekdays=None if self.every_days else old.weekdays,
            starts_on=max(old.starts_on, ground.today) if self.every_days else old.starts_on,
        )
        facts.plan[self.plan_id] = new
        before, after = (plan_load(each, ground.today) for each in (old, new))
        add_load(facts, old.circuit_id, after.tan_g - before.tan_g, after.solids_g - before.solids_g)

    def meal_kg(self, ration_kg: float, every_days: int | None, weekdays: int | None) -> float:
        """The new meal [kg], from the plan as it is."""
        if self.ration_kg is not None:
            return self.ration_kg
        if self.every_days is None:
            return ration_kg
        a_day = 1 / every_days if every_days else (weekdays or 0).bit_count() / 7
        return ration_kg * a_day * self.every_days


@dataclass(frozen=True)
class WithoutFilter:
    """A filter lost for good, from now on; what it held stays in it. shares: of media surface and of flow."""

    filter_id: int
    area_share: float
    flow_share: float

    def facts(self, facts: Facts, ground: Ground) -> None:
        unit = facts.filter[self.filter_id]
        facts.filter[self.filter_id] = replace(unit, state="resting", state_since=ground.today)

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        lost = scenario.without_filter_share(self.area_share)
        flow = scenario.circuit.flow_m3_h * (1 - self.flow_share)
        return replace(lost, circuit=replace(lost.circuit, flow_m3_h=flow))


@dataclass(frozen=True)
class Warmer:
    """The water so many degrees Celsius warmer, or colder if below zero; held between 0 and 40."""

    degrees: float

    def facts(self, facts: Facts, ground: Ground) -> None:
        water = facts.circuit[ground.circuit_id]
        celsius = within_range(water.temperature_c + self.degrees)
        facts.circuit[ground.circuit_id] = replace(water, temperature_c=celsius)
        for pk, unit in list(facts.filter.items()):
            if unit.circuit_id == ground.circuit_id:
                facts.filter[pk] = replace(unit, temperature_c=celsius)

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        return scenario.warmer(self.degrees)


@dataclass(frozen=True)
class RinsedLayer:
    """One layer of a filter rinsed now. area_share: the filter's part of all media surface of the water."""

    filter_id: int
    area_share: float

    def facts(self, facts: Facts, ground: Ground) -> None:
        unit = facts.filter[self.filter_id]
        left_g = unit.carried_g * (1 - 1 / max(unit.layers, 1))
        facts.filter[self.filter_id] = replace(unit, last_rinse_at=ground.now, carried_g=left_g)

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        left = 1 - (1 - Rinse.solids_left) * self.area_share
        return scenario.with_events(Rinse(0, RINSE_LOSS * self.area_share, left))


@dataclass(frozen=True)
class StoppedPump:
    """Every pump of the water off for so many hours from now. words: as a record of it would be told."""

    hours: int
    words: str = "Stood without flow"

    @property
    def left(self) -> float:
        """Share (0 to 1) of the bacteria that most likely live on."""
        return stood_still(self.hours).middle

    def facts(self, facts: Facts, ground: Ground) -> None:
        """Every running filter bears the harm that would be recorded of it; `tell_water` tells the rest."""
        over = (ground.now + timedelta(hours=self.hours)).date()
        for pk, unit in list(facts.filter.items()):
            if unit.circuit_id == ground.circuit_id and unit.state in RUNNING:
                facts.filter[pk] = _harmed(unit, HarmFacts(over, self.words, self.left))

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        return scenario.pump_stopped(0, self.hours)


def _harmed(unit: FilterFacts, harm: HarmFacts) -> FilterFacts:
    """A filter to which something else happened: the worst is kept, and what is left is left of what there was."""
    left = harm.left * (unit.harm_left_today if unit.harm else 1.0)
    worst = unit.harm if unit.harm and unit.harm.left < harm.left else harm
    return replace(unit, harm=worst, harm_left_today=left, quiet_since_harm=0)


@dataclass(frozen=True, eq=False)
class Joined:
    """This water and another as one, with all their filters. other: the other's own scenario."""

    circuit_id: int
    other: Scenario

    def facts(self, facts: Facts, ground: Ground) -> None:
        one, two = facts.circuit[ground.circuit_id], facts.circuit.pop(self.circuit_id)
        if one.animals and two.animals:
            set_back(facts, one.id, ground.today)
            set_back(facts, two.id, ground.today)
        move(
            facts,
            one.id,
            enclosures={pk for pk, each in facts.enclosure.items() if each.circuit_id == two.id},
            filters={pk for pk, each in facts.filter.items() if each.circuit_id == two.id},
        )
        water = facts.circuit[one.id] = mixed(one, two, ground.today)
        for pk, unit in list(facts.filter.items()):
            if unit.circuit_id == water.id:
                facts.filter[pk] = replace(unit, temperature_c=water.temperature_c)

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        return scenario.merged_with(self.other)


@dataclass(frozen=True)
class SplitOff:
    """One enclosure on a water of its own, with or without one of the filters. The shares are what it takes."""

    enclosure_id: int
    filter_id: int | None
    volume_share: float
    area_share: float
    animal_share: float

    def facts(self, facts: Facts, ground: Ground) -> None:
        whole, place = facts.circuit[ground.circuit_id], facts.enclosure[self.enclosure_id]
        filters = set() if self.filter_id is None else {self.filter_id}
        facts.circuit[whole.id] = parted(whole, 1 - self.volume_share, 1 - self.animal_share)
        facts.circuit[NEW] = replace(
            parted(whole, self.volume_share, self.animal_share),
            id=NEW,
            label=f"{place.label} on its own",
            stop=place.stop or NO_STOP,
            # what the whole water bears is no ground for what a part of it does
            forecast=whole.forecast and replace(whole.forecast, meal_shares=()),
        )
        move(facts, NEW, enclosures={self.enclosure_id}, filters=filters)
        for circuit_id in (whole.id, NEW):
            count_animals(facts, circuit_id)

    def scenario(self, scenario: Scenario, ground: Ground) -> Scenario:
        return scenario.split(1 - self.volume_share, 1 - self.area_share, 1 - self.animal_share)

    def part(self, scenario: Scenario) -> Scenario:
        """The water that leaves, of the scenario as it was before."""
        return scenario.split(self.volume_share, self.area_share, self.animal_share)


def made(changes: Iterable[Change], facts: Facts, ground: Ground) -> Facts:
    """The facts with all changes made, in their order, and what filters carry worked out anew. Pass a copy."""
    changes = tuple(changes)
    for change in changes:
        change.facts(facts, ground)
    for circuit_id in (ground.circuit_id, NEW) if changes else ():
        if circuit_id in facts.circuit:
            fit_filters(facts, circuit_id, ground.disturbed_share, ground.today)
    return facts


def changed(changes: Iterable[Change], scenario: Scenario, ground: Ground) -> Scenario:
    """The scenario with all changes made, in their order."""
    for change in changes:
        scenario = change.scenario(scenario, ground)
    return scenario
