"""The two weeks ahead if the steps against a bad reading are taken: no food until the water is good, new water."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from enclosures.help import Help, help_for
from filtration.forecast import (
    Forecast,
    Limit,
    Meal,
    Scenario,
    Source,
    WaterChange,
    advance,
    largest_meals,
)
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.gather import Gathered
from filtration.forecasting.happenings import AHEAD_DAYS, AHEAD_HOURS
from filtration.forecasting.packing import EVERY_HOURS

FIRST_CHANGE_HOUR = 2  # it takes a while to make the water ready


@dataclass(frozen=True, eq=False)
class Helped:
    """The forecast with the steps.

    fasting_days: days without food until the water is good again (0: none). fed_share: of the planned meals
    that the water bears after that (0 to 1).
    """

    forecast: Forecast
    fasting_days: int
    fed_share: float = 1.0


def helped_by_steps(gathered: Gathered, scenario: Scenario, bounds: Sequence[Limit]) -> Helped | None:
    """The same two weeks with the steps; None when no reading is beyond its limit."""
    limits = gathered.known.moment.limits(gathered.circuit_id)
    found = help_of(gathered)
    if found is None:
        return None
    renewed = scenario.with_events(*changes_of_steps(found, gathered.known.source))
    if not found.stop_feeding:
        return Helped(renewed.forecast(every=EVERY_HOURS), 0)
    bad = [bound for bound in bounds if bound.quantity in found.names]
    unfed = _fed_from(renewed, AHEAD_DAYS).forecast(bad, every=EVERY_HOURS)
    days = _good_from(unfed, limits["water.unsure_chance"])
    warmth = scenario.inputs.temperature_c
    harmful = feeding_limits(bounds, warmth, gathered.known.source, found.names)
    share = _borne_after(renewed, days, harmful)
    fed_again = _fed_from(renewed, days).fed_times(share)
    return Helped(fed_again.forecast(every=EVERY_HOURS), days, share)


def help_of(gathered: Gathered) -> Help | None:
    """What the water's readings ask for; None when none is beyond its limit."""
    moment = gathered.known.moment
    return help_for(gathered.known.circuit, moment.limits(gathered.circuit_id), moment.today)


def changes_of_steps(found: Help | None, source: Source) -> list[WaterChange]:
    """The water changed now and on the days after, as the steps say; none where nothing is wrong."""
    if found is None or found.changes is None:
        return []
    first = 1 if found.is_changed_today else 0
    days = range(first, min(first + found.changes.times, AHEAD_DAYS))
    return [WaterChange(FIRST_CHANGE_HOUR + 24 * day, found.changes.each_m3, source) for day in days]


def _fed_from(scenario: Scenario, day: int) -> Scenario:
    """The planned meals only from a day on (0 is today)."""
    events = scenario.inputs.events
    return scenario.with_meals([each for each in events if isinstance(each, Meal) and each.hour >= day * 24])


def _borne_after(renewed: Scenario, days: int, limits: Sequence[Limit]) -> float:
    """Share of the planned meals that keeps these limits after so many days without food."""
    if days >= AHEAD_DAYS:
        return 0.0
    unfed = _fed_from(renewed, AHEAD_DAYS)
    fasted, _ = advance(unfed.start, unfed.circuit, unfed.inputs.between(0, days * 24))
    later = renewed.inputs.between(days * 24, AHEAD_HOURS)
    meals = [each for each in later.events if isinstance(each, Meal)]
    others = tuple(each for each in later.events if not isinstance(each, Meal))
    if not meals:
        return 1.0
    return largest_meals(renewed.circuit, replace(later, events=others), fasted, meals, limits, most=1.0)


def _good_from(forecast: Forecast, sure_not: float) -> int:
    """The day from which on no limit is likely to be passed any more, at least the first full day."""
    doubtful = (forecast.chances > sure_not).any(axis=0)
    return int(doubtful.nonzero()[0][-1]) + 1 if doubtful.any() else 1
