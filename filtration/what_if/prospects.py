"""What a newcomer would do to the water of a place, for the page of an arrival."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cached_property

from filtration.forecast import (
    Forecast,
    Limit,
    Meal,
    Scenario,
    Span,
    advance,
    hours_to_clear,
    largest_meals,
    meals_every,
)
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.gather import Gathered, NotForecast, gather
from filtration.forecasting.happenings import AHEAD_HOURS
from filtration.forecasting.limits import ACUTE, BOUND, limits_of
from filtration.forecasting.lines import sentence_start
from filtration.forecasting.meals import usual_time
from filtration.forecasting.outcome import CLEARING_HOURS
from filtration.forecasting.packing import EVERY_HOURS
from filtration.what_if.ahead import digest, scenario_as_it_is
from filtration.what_if.compare import courses
from filtration.what_if.drawing import sketch
from filtration.what_if.kept import computed
from filtration.what_if.telling import sentence
from husbandry.arrivals.ahead import Prospect
from husbandry.arrivals.newcomer import Diet, Newcomer, Place
from refuge.pages.panels import Panel
from refuge.rounds.loaders import Moment
from refuge.rules.facts import Facts

RISKY = 0.1  # from this chance on it is said how much may be fed
# Fed lately with less than this share of what the newcomer brings, a filter has few bacteria. Assumption.
LITTLE_SHARE = 0.25
FED_LITTLE = "its filter was fed little lately"


class WaterWithNewcomer:
    """One water with and without the newcomer's meals; each forecast is made once, when it is asked for."""

    def __init__(self, gathered: Gathered, diet: Diet, moment: Moment) -> None:
        self.gathered, self.diet, self.moment = gathered, diet, moment

    @property
    def limits(self) -> tuple[Limit, ...]:
        return limits_of(self.moment.limits(self.gathered.circuit_id))

    @cached_property
    def scenario(self) -> Scenario:
        return scenario_as_it_is(self.gathered)

    @cached_property
    def meals(self) -> tuple[Meal, ...]:
        """The newcomer's, from today on at the usual time of day, or soon if that has passed."""
        zone = self.moment.zone
        at = datetime.combine(self.moment.today, usual_time(self.gathered.meals, zone), tzinfo=zone)
        first = max((at - self.gathered.now) // timedelta(hours=1), 0)
        meal = self.diet.load.scaled(self.diet.every_days)
        return meals_every(meal, AHEAD_HOURS, first=first, every_hours=24 * self.diet.every_days)

    @cached_property
    def before(self) -> Forecast:
        return self.scenario.forecast(self.limits, every=EVERY_HOURS)

    @cached_property
    def after(self) -> Forecast:
        return self.scenario.with_events(*self.meals).forecast(self.limits, every=EVERY_HOURS)

    @property
    def acute(self) -> list[Limit]:
        known = self.gathered.known
        return feeding_limits(self.limits, self.scenario.inputs.temperature_c, known.source)

    def clear_after(self) -> Span:
        """Hours from its first meal until the water is clear again, were there no other meal."""
        first = self.meals[0]
        only = self.scenario.with_meals([first])
        hours = min(first.hour + CLEARING_HOURS, AHEAD_HOURS)
        _, records = advance(only.start, only.circuit, only.inputs.between(0, hours), every=1)
        return hours_to_clear(records, 1, first.hour)

    def safe_meal_kg(self) -> float:
        """The largest meal [kg] of the newcomer, up to the planned one, that keeps what harms at once in its limits."""
        return self.diet.ration_kg * computed(
            f"{digest(self.gathered)}-{self.meals!r}-{self.acute!r}", self._safe_factor
        )

    def _safe_factor(self) -> float:
        water = self.scenario
        return largest_meals(water.circuit, water.inputs, water.start, self.meals, self.acute, most=1.0)


class Foresight:
    """Looks ahead for one newcomer in the waters of some places: one gathering, a forecast where it is asked for."""

    def __init__(
        self, newcomer: Newcomer, waters: dict[int, Gathered | NotForecast], facts: Facts, moment: Moment
    ) -> None:
        self.facts, self.moment = facts, moment
        self.lacks = {pk: each.lacks for pk, each in waters.items() if isinstance(each, NotForecast)}
        self.waters = {
            pk: WaterWithNewcomer(each, newcomer.diet, moment)
            for pk, each in waters.items()
            if isinstance(each, Gathered) and newcomer.diet is not None
        }

    def prospect(self, place: Place) -> Prospect | None:
        water = self.waters.get(place.circuit.id)
        if water is None:
            return None
        rows = [row for row, limit in enumerate(water.limits) if limit.quantity in ACUTE]
        row = max(rows, key=lambda each: float(water.after.chances[each].max()))
        limit, chances = water.limits[row], water.after.chances[row]
        bound = BOUND[limit.quantity]
        return Prospect(
            what=bound.words,
            verb="falls below" if limit.is_least else "passes",
            limit=f"{limit.value:.3g} {bound.unit}".strip(),
            chance=float(chances.max()),
            on=self.moment.today + timedelta(days=int(chances.argmax())),
            because=FED_LITTLE if was_fed_little(place, water.diet) else "",
        )

    def panel(self, place: Place, system: str) -> Panel | None:
        water = self.waters.get(place.circuit.id)
        if water is None:
            lacks = self.lacks.get(place.circuit.id)
            return Panel("filtration/_arrival_ahead.html", {"lacks": lacks}) if lacks else None
        acute = [each for each in courses(water.before, water.after) if each.bound.quantity in ACUTE]
        course = max(acute, key=lambda each: each.after.worst_chance)  # ammonia where none is worse
        risky = course.after.worst_chance > RISKY
        return Panel(
            "filtration/_arrival_ahead.html",
            {
                "row": {
                    "name": sentence_start(course.bound.words),
                    "words": sentence(course, self.moment.today, is_changed=True),
                    "kind": course.verdict,
                    "course": course,
                    "sketch": sketch(course, is_changed=True),
                },
                "is_changed": True,
                "clear": water.clear_after(),
                "meal_kg": water.diet.ration_kg,
                "safe_kg": water.safe_meal_kg() if place.circuit.is_cycling or risky else None,
                "is_cycling": place.circuit.is_cycling,
                "was_fed_little": was_fed_little(place, water.diet),
            },
        )


def was_fed_little(place: Place, diet: Diet) -> bool:
    """Whether a filter that is taken for mature has had little to live on, as far as meals were recorded."""
    water = place.circuit
    return not water.is_cycling and water.recent_tan_g_day < LITTLE_SHARE * diet.load.tan_g


def foresee(newcomer: Newcomer, places: Sequence[Place], facts: Facts, moment: Moment) -> Foresight:
    """A fixed number of queries for any number of places."""
    waters = gather({place.circuit.id for place in places}, moment, facts)
    return Foresight(newcomer, waters, facts, moment)
