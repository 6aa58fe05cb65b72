"""Feeding by plan: rations that follow the weights, appetites that follow the warmth."""

from dataclasses import dataclass
from datetime import date, timedelta

from husbandry.bioload import meal_load
from husbandry.food_values import FoodValue, food_value
from refuge.demo.happenings import Meal, PlanTold
from refuge.demo.kinds import GROUP_DIETS, NO_FOOD_BELOW_C, SINGLE_DIETS, Diet
from refuge.demo.weather import spring_after
from refuge.demo.world import AnimalState, World

REVISED_AFTER_DAYS = 120
SETTLING_DAYS = 3
YOUNG_FILTER_RATION = 0.5
SLIP = 0.02  # a meal that is forgotten until the next day


@dataclass(slots=True)
class Table:
    """One plan while it runs: its place among the plans told, and who eats from it."""

    subject: str
    diet: Diet
    number: int
    told: PlanTold
    eaters: int
    last_on: date | None = None


class Meals:
    def __init__(self, world: World) -> None:
        self._world = world
        self._rng = world.rng("meals")
        self._tables: dict[tuple[str, int], Table] = {}

    def do(self, day: date) -> None:
        subjects = self._subjects()
        self._close_those_without(subjects, day)
        for order, (subject, eaters) in enumerate(subjects.items()):
            for index, diet in enumerate(self._diets(eaters)):
                table = self._table((subject, index), diet, eaters, day, order)
                if self._is_due(table, eaters, day):
                    self._serve(self._revised(table, eaters, day), eaters, day)

    def close(self) -> None:
        """Where the cold keeps animals from food today, the plan says until when."""
        today = self._world.book.today
        for table in self._tables.values():
            enclosure = table.told.enclosure
            if enclosure and self._is_too_cold(enclosure) and spring_after(today) > today:
                table.told.fasting_until = spring_after(today)
                table.told.note = "No food while the water is cold"

    # Who eats what

    def _subjects(self) -> dict[str, list[AnimalState]]:
        """Eaters by the code of their enclosure, or by their own code where each is fed alone."""
        subjects: dict[str, list[AnimalState]] = {}
        for code, here in self._world.occupants.items():
            if self._world.enclosures[code].fed_as == "group":
                subjects |= {code: here} if here else {}
            else:
                subjects |= {animal.code: [animal] for animal in here}
        return subjects

    def _diets(self, eaters: list[AnimalState]) -> tuple[Diet, ...]:
        enclosure = eaters[0].enclosure or ""
        if self._world.enclosures[enclosure].fed_as == "group":
            return GROUP_DIETS[enclosure]
        return SINGLE_DIETS[eaters[0].kind.key]

    def _table(
        self, key: tuple[str, int], diet: Diet, eaters: list[AnimalState], day: date, order: int
    ) -> Table:
        table = self._tables.get(key)
        if table is not None and table.diet is diet:
            return table
        if table is not None:  # moved from a group to a tank of its own, or the other way
            table.told.ends_on = max(day, table.told.starts_on)
        starts = day
        if day > self._world.book.first:
            starts += timedelta(days=SETTLING_DAYS)
        elif diet.every_days:
            starts += timedelta(days=order % diet.every_days)
        return self._open(key, diet, eaters, starts)

    def _open(self, key: tuple[str, int], diet: Diet, eaters: list[AnimalState], starts: date) -> Table:
        subject, group = key[0], key[0] in self._world.enclosures
        ration, note = self._ration(diet, eaters)
        told = PlanTold(
            enclosure=subject if group else None,
            animal=None if group else subject,
            food=diet.food,
            ration_kg=ration,
            every_days=diet.every_days,
            weekdays=diet.weekdays,
            starts_on=starts,
            note=note,
        )
        self._world.story.plans.append(told)
        table = Table(subject, diet, len(self._world.story.plans) - 1, told, len(eaters))
        self._tables[key] = table
        return table

    def _ration(self, diet: Diet, eaters: list[AnimalState]) -> tuple[float, str]:
        mass = sum(animal.mass_kg for animal in eaters)
        barrel = self._world.circuit_of(eaters[0].enclosure or "").barrel
        if barrel is not None and barrel.plan.state == "cycling":
            return _weighed_out(YOUNG_FILTER_RATION * diet.share * mass), "Half until the filter is mature"
        return _weighed_out(diet.share * mass), ""

    def _revised(self, table: Table, eaters: list[AnimalState], day: date) -> Table:
        """A new plan where the eaters have grown, come or gone; its first meal is today's."""
        age = (day - table.told.starts_on).days
        if age < REVISED_AFTER_DAYS and (len(eaters) == table.eaters or age == 0):
            return table
        key = next(key for key, each in self._tables.items() if each is table)
        if self._ration(table.diet, eaters)[0] == table.told.ration_kg:
            return table
        table.told.ends_on = day
        return self._open(key, table.diet, eaters, day)

    def _close_those_without(self, subjects: dict[str, list[AnimalState]], day: date) -> None:
        for key in [key for key in self._tables if key[0] not in subjects]:
            told = self._tables.pop(key).told
            told.ends_on = max(told.starts_on, day)

    # Meals

    def _is_due(self, table: Table, eaters: list[AnimalState], day: date) -> bool:
        told = table.told
        if day < told.starts_on or not any(animal.is_awake for animal in eaters):
            return False
        if self._is_too_cold(eaters[0].enclosure or ""):
            return False
        if told.weekdays is not None:
            since = table.last_on or told.starts_on - timedelta(days=1)
            wanted = _weekday_since(told.weekdays, since, day)
        else:
            wanted = table.last_on is None or (day - table.last_on).days >= (told.every_days or 1)
        return wanted and self._rng.random() >= SLIP

    def _is_too_cold(self, enclosure: str) -> bool:
        circuit = self._world.circuit_of(enclosure)
        return circuit.plan.is_outdoor and circuit.temperature_c < NO_FOOD_BELOW_C

    def _serve(self, table: Table, eaters: list[AnimalState], day: date) -> None:
        world, enclosure = self._world, self._world.enclosures[eaters[0].enclosure or ""]
        food = food_value(table.told.food)
        offered = _weighed_out(table.told.ration_kg * self._rng.uniform(0.97, 1.03))
        refused = self._rng.random() < self._chance_of_refusal(eaters, day)
        left = offered if refused else 0.0
        if not refused and self._rng.random() < 0.12:
            left = round(offered * self._rng.uniform(0.05, 0.35), 3)
        load = meal_load(offered - left, 0.0, food.protein_fraction, food.water_fraction, _phosphorus(food))
        circuit = world.circuits[enclosure.circuit]
        circuit.fed_today_g += load.tan_g
        circuit.solids_today_g += load.solids_g
        minute = 16 + 5 * int(enclosure.code[1:])
        stamp = world.rota.visit(day, enclosure.area, minute, note=self._note(refused, left))
        world.story.meals.append(
            Meal(
                stamp, enclosure.code, enclosure.circuit, table.told.animal, table.number, table.told.food,
                offered, left, refused, load.tan_g, load.solids_g,
            )
        )  # fmt: skip
        table.last_on = day

    def _chance_of_refusal(self, eaters: list[AnimalState], day: date) -> float:
        animal = eaters[0]
        margin = self._world.circuit_of(animal.enclosure or "").temperature_c - animal.kind.low_c
        if margin < -1:
            return 0.7
        if margin < 1:
            return 0.3
        if len(eaters) > 1:
            return 0.002
        if animal.character.name == "Teal" or animal.enclosure == "H1":
            return 0.35
        is_new = (
            animal.since is not None
            and (day - animal.since).days < 21
            and animal.since > self._world.book.first
        )
        return 0.12 if is_new and animal.character.name not in _EATERS else 0.012

    def _note(self, refused: bool, left: float) -> str:
        chance = self._rng.random()
        if refused:
            return "Took no notice of it." if chance < 0.3 else ""
        if left:
            return "Left-overs netted out." if chance < 0.25 else ""
        return self._rng.choice(_NOTES) if chance < 0.008 else ""


_EATERS = {"Anvil", "Boulder"}
_NOTES = (
    "Came up at once.",
    "Ate from the tongs.",
    "Slow today, but finished.",
    "Shared out at two corners, so the small ones get some.",
    "Fish was still half frozen; thawed longer.",
)


def _weekday_since(weekdays: int, since: date, day: date) -> bool:
    """Whether one of the weekdays (bits, Monday 1) lies after `since`, up to `day`: a missed meal is made up."""
    days = range(max(since.toordinal() + 1, day.toordinal() - 6), day.toordinal() + 1)
    return any(weekdays >> date.fromordinal(each).weekday() & 1 for each in days)


def _phosphorus(food: FoodValue) -> float:
    return food.phosphorus_fraction if food.phosphorus_fraction is not None else 0.002


def _weighed_out(mass_kg: float) -> float:
    """As kitchen scales show it: to 1 g below 200 g, to 10 g above."""
    return max(0.001, round(mass_kg, 3 if mass_kg < 0.2 else 2))
