"""A water looked at twice: as it is and as it would be. Reads only; the heavy part of the first is kept a while.

Facts and records are read anew for every page; while somebody types, after every record of the water and at most every
two minutes. The members of the ensemble, which follow from the records alone, are kept under a digest of everything
they were made from.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from datetime import timedelta
from hashlib import blake2b
from typing import Any

import numpy as np

from filtration.forecast import Forecast, Limit, Meal, Scenario, Span, days_until_unsure
from filtration.forecasting.bearing import planned_for, tell_what_may_be_fed, young_waters
from filtration.forecasting.gather import Gathered, NotForecast, gather, scenario_from
from filtration.forecasting.happenings import AHEAD_DAYS
from filtration.forecasting.limits import limits_of
from filtration.forecasting.meals import planned_meals, usual_time
from filtration.forecasting.outcome import sure_until, tested_at
from filtration.forecasting.packing import EVERY_HOURS, digits
from filtration.forecasting.services import DOUBTS
from filtration.forecasting.starts import DEGREE_DIGITS, digest, from_start
from filtration.forecasting.states import runs_at
from filtration.forecasting.wishes import change_stamp
from filtration.forecasting.young import LOOKED_AT_DAYS, days_on, ladder_of, weeks_ahead
from filtration.harms.facts import tell_water
from filtration.what_if.changes import Change, Ground, SplitOff, changed, made
from filtration.what_if.compare import Course, courses
from filtration.what_if.facts import NEW
from filtration.what_if.foods import FoodInUse, foods_in_use
from filtration.what_if.kept import computed, keep_read, read_while
from filtration.what_if.signs import Sign, has_filter, signs
from refuge.rounds.loaders import Moment, load_facts
from refuge.rounds.planner import preview
from refuge.rules.facts import CircuitFacts, Facts, ForecastFacts, PlanFacts
from refuge.rules.shifts import Shift, shifts

SAME_SHARE = 0.01


@dataclass(frozen=True, eq=False)
class Water:
    """One water as it is. lacks: what keeps it from being forecast; then `gathered` is not there.

    others: the waters it may be joined with, by id, gathered or with what each lacks. foods: by key, as typed.
    """

    circuit_id: int
    facts: Facts
    moment: Moment
    gathered: Gathered | None
    lacks: str
    others: dict[int, Gathered | NotForecast]
    foods: dict[str, FoodInUse]

    @property
    def circuit(self) -> CircuitFacts:
        return self.facts.circuit[self.circuit_id]

    @property
    def limits(self) -> tuple[Limit, ...]:
        return limits_of(self.moment.limits(self.circuit_id))


def water_while_typing(circuit_id: int, moment: Callable[[], Moment], others: tuple[int, ...] = ()) -> Water:
    """The water as it was read lately, unless something was recorded of it since: for answers to every key that is hit.

    1 query, and those of `water_now` for the first answer and after a record.
    """
    place = (circuit_id, *others)
    found: Water | None = read_while(change_stamp(place), place)
    return found or water_now(circuit_id, moment, others)


def water_now(circuit_id: int, moment: Callable[[], Moment], others: tuple[int, ...] = ()) -> Water:
    """The water read anew, and kept for the answers to what is typed from now on."""
    place = (circuit_id, *others)
    stamp = change_stamp(place)  # first: what is recorded meanwhile makes another one
    at = as_last_forecast(moment(), stamp, circuit_id)
    return keep_read(stamp, place, water_of(circuit_id, at, others))


def as_last_forecast(moment: Moment, stamp: Iterable[tuple[Any, ...]], circuit_id: int) -> Moment:
    """The moment of today's forecast of the water if nothing was recorded since, so that both say the same numbers.

    stamp: what `change_stamp` gives of the water and of those it may be joined with.
    """
    made_at = next((made for pk, _, made in stamp if pk == circuit_id), None)
    is_recorded = any(wanted for _, wanted, _ in stamp)
    if made_at is None or is_recorded or made_at > moment.now or moment.day(made_at) != moment.today:
        return moment
    return replace(moment, now=made_at)


def water_of(circuit_id: int, moment: Moment, others: Iterable[int] = ()) -> Water:
    """A water, and those it may be joined with: a fixed number of queries for any number of them."""
    scopes = frozenset([circuit_id, *others])
    facts = load_facts(scopes, moment)
    found = gather(scopes, moment, facts)
    own = found.pop(circuit_id)
    if isinstance(own, NotForecast):
        return Water(circuit_id, facts, moment, None, own.lacks, found, foods_in_use())
    return Water(circuit_id, facts, moment, own, "", found, foods_in_use())


def ground_of(water: Water) -> Ground:
    """What changes are made on. Every filter of the water and of the others has its limit there."""
    share = {
        unit.id: water.moment.limits(unit.circuit_id, unit.id)["filtration.disturbed_share"]
        for unit in water.facts.filter.values()
    }
    now = water.moment.now.astimezone(water.moment.zone)
    return Ground(water.circuit_id, now, water.moment.today, share)


def scenario_as_it_is(gathered: Gathered, past: str = "") -> Scenario:
    """The water now, narrowed down by its tests; kept under `past`, the digest of all it follows from."""
    return scenario_from(gathered, computed(past or digest(gathered), lambda: from_start(gathered).ensemble))


def area_share(water: Water, filter_id: int) -> float:
    """A running filter's part (0 to 1) of the media surface of the water."""
    units = _running(water)
    total = sum(units.values())
    return units.get(filter_id, 0.0) / total if total else 0.0


def _running(water: Water) -> dict[int, float]:
    if water.gathered is None:
        return {}
    units = water.gathered.known.units
    return {unit.id: unit.area_m2 for unit in units if runs_at(unit, water.moment.now)}


@dataclass(frozen=True)
class YoungWeeks:
    """A young filter's weeks with some plans: days until it carries them, each day's largest share of their meals."""

    days: Span
    ladder: tuple[float, ...]


Weeks = tuple[YoungWeeks | None, YoungWeeks | None]


@dataclass(frozen=True, eq=False)
class Outlook:
    """Both sides. courses: empty when the water cannot be forecast. part: of the enclosure that is split off.

    maturing: a young filter's weeks, before and after; None without meals. None: not young.
    has_filter: whether any runs after the change. given: the share of a planned meal that is to be given today, before and
    after, as its tasks say; None without a plan. awaits_weeks: a young filter's weeks were not computed; then neither
    what is given nor the tasks of its meals count.
    """

    courses: list[Course]
    shifts: list[Shift]
    before: CircuitFacts
    after: CircuitFacts
    meals: tuple[int, int]
    food_kg: tuple[float, float]
    part: list[Course]
    is_changed: bool
    maturing: Weeks | None = None
    signs: Sequence[Sign] = ()
    has_filter: bool = True
    given: tuple[float | None, float | None] = (None, None)
    awaits_weeks: bool = False

    @property
    def is_same_food(self) -> bool:
        """Whether the plans ask for as much in a week as before, but for other meals."""
        before, after = self.before.planned_tan_g_day, self.after.planned_tan_g_day
        return self.meals[0] != self.meals[1] and before > 0 and abs(after / before - 1) < SAME_SHARE


def look(water: Water, changes: Sequence[Change], *, with_weeks: bool = True) -> Outlook:
    """The water as it is and with the changes made: two forecasts, two plans. No query, nothing is written.

    with_weeks: a young filter's weeks too, which take some ten times as long as all else.
    """
    ground = ground_of(water)
    before, after = water.facts.copy(), _after(changes, water, ground)
    plans = [meals_of(each, water) for each in (before, after)]
    both = _Both(water, tuple(changes), ground, (before, after), (plans[0][1], plans[1][1]), with_weeks)
    seen = both.seen(water.gathered) if water.gathered else Seen()
    tasks = preview(lambda _: after, [], moment=water.moment, facts=before) if changes else None
    return Outlook(
        courses=seen.courses,
        shifts=shifts(*tasks, water.moment.today) if tasks else [],
        before=water.circuit,
        after=after.circuit[water.circuit_id],
        meals=(len(plans[0][1]), len(plans[1][1])),
        food_kg=(plans[0][0], plans[1][0]),
        part=seen.part,
        is_changed=bool(changes),
        maturing=seen.maturing,
        signs=_signs(before, after, changes, water),
        has_filter=has_filter(after, water.circuit_id),
        given=(_given(before, water.circuit_id), _given(after, water.circuit_id)),
        awaits_weeks=water.gathered is not None and not with_weeks and both.has_weeks(water.gathered),
    )


def _given(facts: Facts, circuit_id: int) -> float | None:
    return min((plan.restraint[1] for plan in _plans(facts, circuit_id)), default=None)


@dataclass(frozen=True, eq=False)
class Seen:
    """What two forecasts show; nothing of a water that cannot be forecast."""

    courses: list[Course] = field(default_factory=list)
    part: list[Course] = field(default_factory=list)
    maturing: Weeks | None = None


@dataclass(frozen=True, eq=False)
class _Both:
    """Both sides to be forecast: facts and meals as they are and as they would be."""

    water: Water
    changes: tuple[Change, ...]
    ground: Ground
    facts: tuple[Facts, Facts]
    meals: tuple[list[Meal], list[Meal]]
    with_weeks: bool

    def has_weeks(self, gathered: Gathered) -> bool:
        """Whether a filter is cycling, or would be: joined with a young water, a mature one has such a filter."""
        return bool(self.changes) and (
            gathered.is_young or self.water.circuit_id in young_waters(self.facts[1])
        )

    def seen(self, gathered: Gathered) -> Seen:
        """The two forecasts; the facts hear of them, since the next test falls due by them."""
        water, past = self.water, digest(gathered)
        scenario = scenario_as_it_is(gathered, past)
        as_it_is = scenario.with_meals(self.meals[0])
        old = computed(_name(past, as_it_is, water), lambda: _forecast(as_it_is, water))
        other = changed(self.changes, scenario, self.ground) if self.changes else scenario
        new = _forecast(other.with_meals(self.meals[1]), water) if self.changes else old
        young = self._young(gathered, scenario, other, past)
        part = _part(self.changes, scenario, old, self.facts[1], water)
        for facts, forecast, weeks in zip(self.facts, (old, new), young, strict=True):
            tell_forecast(facts, forecast, water, weeks)
            tell_what_may_be_fed(facts, water.moment.today)
        _go_by_days(self.facts[1], water)
        told = young if self.changes and self.with_weeks and gathered.is_young else None
        return Seen(courses(old, new), part, told)

    def _young(self, gathered: Gathered, scenario: Scenario, other: Scenario, past: str) -> Weeks:
        """Of either side; None where no filter is cycling, or they are not asked for."""
        before, after = self.facts
        if not self.with_weeks or not self.has_weeks(gathered):
            return None, None
        old = _young_weeks(self.water, gathered, scenario, before, past) if gathered.is_young else None
        return old, _young_weeks(self.water, gathered, other, after)


def _after(changes: Sequence[Change], water: Water, ground: Ground) -> Facts:
    """The facts with the changes made, and what harm to a filter, and its youth, mean for the meals in its water."""
    after = made(changes, water.facts.copy(), ground)
    if changes:
        tell_water(after, water.circuit_id, water.moment.limits(water.circuit_id))
        tell_what_may_be_fed(after, water.moment.today)
    return after


def _signs(before: Facts, after: Facts, changes: Sequence[Change], water: Water) -> list[Sign]:
    if not changes:
        return []
    quiet = int(water.moment.limits(water.circuit_id)["water.quiet_tests"])
    return signs(before, after, water.circuit_id, changes, quiet_tests=quiet)


def _go_by_days(after: Facts, water: Water) -> None:
    """A water without a running filter is not forecast: its tests go by days then, unless this forecast wants one sooner."""
    circuit = after.circuit[water.circuit_id]
    if circuit.forecast is None or not circuit.tests or has_filter(after, water.circuit_id):
        return
    apart = timedelta(days=int(water.moment.limits(water.circuit_id)["water.interval_full_days"]))
    if (circuit.forecast.sure_until or water.moment.today) > circuit.tests[0].on + apart:
        after.circuit[water.circuit_id] = replace(circuit, forecast=None)


def _young_weeks(
    water: Water, gathered: Gathered, scenario: Scenario, facts: Facts, past: str = ""
) -> YoungWeeks | None:
    """The weeks of these plans in this water; None when they ask for no meal.

    past: the digest of what the scenario's members follow from; then what was computed is kept.
    """
    _, meals = meals_of(facts, water, days=LOOKED_AT_DAYS)
    if not meals:
        return None
    young, source = weeks_ahead(gathered, scenario, meals), gathered.known.source

    def found() -> YoungWeeks:
        ladder = ladder_of(young, water.limits, source)
        return YoungWeeks(days_on(young, ladder), tuple(digits(share) for share in ladder))

    return computed(f"mature-{_name(past, young, water)}-{source!r}", found) if past else found()


def _name(past: str, scenario: Scenario, water: Water) -> str:
    """All that a forecast follows from. past: the digest of what the scenario's members follow from."""
    inputs = scenario.inputs
    told = repr((past, scenario.circuit, inputs.events, inputs.evaporation_m3_day, water.limits))
    celsius = np.round(inputs.temperature_c, DEGREE_DIGITS) + 0.0  # -0.0 is 0.0
    return blake2b(told.encode() + celsius.tobytes(), digest_size=16).hexdigest()


def _forecast(scenario: Scenario, water: Water) -> Forecast:
    return scenario.forecast(water.limits, every=EVERY_HOURS)


def _part(
    changes: Sequence[Change], scenario: Scenario, old: Forecast, after: Facts, water: Water
) -> list[Course]:
    """What becomes of an enclosure that is split off, beside the whole water as it was."""
    split = next((each for each in changes if isinstance(each, SplitOff)), None)
    if split is None:
        return []
    alone = split.part(scenario).with_meals(meals_of(after, water, NEW)[1])
    return courses(old, _forecast(alone, water))


def meals_of(
    facts: Facts, water: Water, circuit_id: int | None = None, *, days: int = AHEAD_DAYS
) -> tuple[float, list[Meal]]:
    """Kilograms of food, and the meals, that the feeding plans ask for within so many days; hours from now."""
    gathered, moment = water.gathered, water.moment
    wanted = water.circuit_id if circuit_id is None else circuit_id
    plans = _plans(facts, wanted)
    given = gathered.meals if gathered else ()
    at = usual_time(given, moment.zone)
    fed = planned_meals(plans, now=moment.now, days=days, at=at, zone=moment.zone)
    now = gathered.now if gathered else moment.now
    meals = [(meal, max((meal.at - now) // timedelta(hours=1), 0)) for meal in fed]
    inside = [(meal, hour) for meal, hour in meals if hour < days * 24]
    kg = sum(meal.kg for meal, _ in inside)
    return kg, [Meal(hour, meal.tan_g, meal.solids_g) for meal, hour in inside]


def tell_forecast(facts: Facts, forecast: Forecast, water: Water, young: YoungWeeks | None = None) -> None:
    """What the rules may know of a forecast, as if it had been made today: it decides when the next test is due, and
    while a filter is young how much may be fed."""
    limits = water.moment.limits(water.circuit_id)
    test = days_until_unsure(
        forecast,
        longest_days=int(limits["water.interval_light_days"]),
        sure_not=limits["water.unsure_chance"],
    )
    known = tested_at(water.gathered) if water.gathered else None
    today = water.moment.today
    facts.circuit[water.circuit_id] = replace(
        facts.circuit[water.circuit_id],
        forecast=ForecastFacts(
            made_on=today,
            tested_on=water.moment.day(known) if known else None,
            sure_until=sure_until(today, test),
            doubt=DOUBTS[test.kind],
            quantity=test.quantity,
            limit=test.limit.value if test.limit else None,
            chance=test.chance,
            width=test.width,
            meal_shares=young.ladder if young else (),
            planned_for=planned_for(_plans(facts, water.circuit_id)) if young else None,
        ),
    )


def _plans(facts: Facts, circuit_id: int) -> list[PlanFacts]:
    return [plan for plan in facts.plan.values() if plan.circuit_id == circuit_id]
