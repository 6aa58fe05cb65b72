"""The two weeks ahead if the steps against a bad reading are taken: no food until the water is good, new water."""

from collections.abc import Sequence
from dataclasses import dataclass

from enclosures.help import Help, help_for
from filtration.forecast import Forecast, Limit, Meal, Scenario, Source, WaterChange
from filtration.forecasting.gather import Gathered
from filtration.forecasting.happenings import AHEAD_DAYS
from filtration.forecasting.packing import EVERY_HOURS

FIRST_CHANGE_HOUR = 2  # it takes a while to make the water ready


@dataclass(frozen=True, eq=False)
class Helped:
    """The forecast with the steps; fasting_days: days without food until the water is good again (0: none)."""

    forecast: Forecast
    fasting_days: int


def helped_by_steps(gathered: Gathered, scenario: Scenario, bounds: Sequence[Limit]) -> Helped | None:
    """The same two weeks with the steps; None when no reading is beyond its limit."""
    facts, moment = gathered.known.circuit, gathered.known.moment
    limits = moment.limits(facts.id)
    found = help_for(facts, limits, moment.today)
    if found is None:
        return None
    renewed = _renewed(scenario, found, gathered.known.source)
    if not found.stop_feeding:
        return Helped(renewed.forecast(every=EVERY_HOURS), 0)
    bad = [bound for bound in bounds if bound.quantity in found.names]
    unfed = _fed_from(renewed, AHEAD_DAYS).forecast(bad, every=EVERY_HOURS)
    days = _good_from(unfed, limits["water.unsure_chance"])
    return Helped(_fed_from(renewed, days).forecast(every=EVERY_HOURS), days)


def _renewed(scenario: Scenario, found: Help, source: Source) -> Scenario:
    """The water changed now and on the days after, as the steps say."""
    if found.changes is None:
        return scenario
    days = range(min(found.changes.times, AHEAD_DAYS))
    return scenario.with_events(
        *(WaterChange(FIRST_CHANGE_HOUR + 24 * day, found.changes.each_m3, source) for day in days)
    )


def _fed_from(scenario: Scenario, day: int) -> Scenario:
    """The planned meals only from a day on (0 is today)."""
    events = scenario.inputs.events
    return scenario.with_meals([each for each in events if isinstance(each, Meal) and each.hour >= day * 24])


def _good_from(forecast: Forecast, sure_not: float) -> int:
    """The day from which on no limit is likely to be passed any more, at least the first full day."""
    doubtful = (forecast.chances > sure_not).any(axis=0)
    return int(doubtful.nonzero()[0][-1]) + 1 if doubtful.any() else 1
