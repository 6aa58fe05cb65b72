"""A water's next two weeks, and what follows from them, as it is stored.

`Outcome.outlook` is plain data for JSON: numbers rounded to three digits, instants as ISO text, spans as
[early, middle, late, share] for 5, 50 and 95 % of the members and the share in which it happens at all.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np

from filtration.forecast import (
    LEVELS,
    Disagreement,
    Ensemble,
    Forecast,
    Limit,
    Meal,
    NextTest,
    Scenario,
    advance,
    days_until_drain,
    days_until_passing,
    days_until_rinse,
    days_until_unsure,
    hours_to_clear,
    largest_meals,
    summary,
)
from filtration.forecast import layout as at
from filtration.forecast.bands import Singles
from filtration.forecast.priors import natural
from filtration.forecasting.feeding import SLOW, feeding_limits, used_up
from filtration.forecasting.gather import Gathered, scenario_from
from filtration.forecasting.helping import help_of, helped_by_steps
from filtration.forecasting.limits import ACUTE, limits_of
from filtration.forecasting.packing import EVERY_HOURS, digits, packed_span
from filtration.forecasting.records import Fed
from filtration.forecasting.run import Assimilated
from filtration.forecasting.young import maturing_of
from filtration.nitrification import within_range
from filtration.rules import rinse_limit_g_l
from filtration.solids import DEFAULT_MODEL
from refuge.rules.facts import RUNNING, FilterFacts

CLEARING_HOURS = 96
LAST_MEAL_COUNTS = timedelta(days=3)
MOST_TIMES = 3.0  # the planned meals are not tried beyond this many times their size
ONE_SITTING = timedelta(hours=12)
MIDDLE = LEVELS.index(0.5)


@dataclass(frozen=True, eq=False)
class Outcome:
    """What is kept of one run."""

    forecast: Forecast
    next_test: NextTest
    helped: Forecast | None
    outlook: dict[str, Any]


def outcome_of(gathered: Gathered, taken: Assimilated) -> Outcome:
    """Look two weeks ahead from the members that the tests have narrowed down, and draw the conclusions."""
    scenario = scenario_from(gathered, taken.ensemble)
    limits = gathered.known.moment.limits(gathered.circuit_id)
    bounds = limits_of(limits)
    end, records = advance(scenario.start, scenario.circuit, scenario.inputs, every=EVERY_HOURS)
    forecast = summary(records, bounds, EVERY_HOURS, end)
    next_test = days_until_unsure(
        forecast,
        longest_days=int(limits["water.interval_light_days"]),
        sure_not=limits["water.unsure_chance"],
    )
    outlook = {
        "limits": [[each.quantity, each.value, each.is_least] for each in bounds],
        "chances": [[round(float(chance), 3) for chance in row] for row in forecast.chances],
        "disagreements": _disagreements(gathered, taken),
        "clearing": _clearing(gathered, scenario),
        "maturing": maturing_of(gathered, scenario, bounds),
        "ration": _ration(gathered, scenario, forecast),
        "changes": (changes := _changes(records, bounds)),
        "courses": _courses(forecast, changes),
        "work": [_work(unit, gathered, taken.ensemble) for unit in _running(gathered)],
        "meals": [[meal.at.isoformat(timespec="minutes"), digits(meal.kg)] for meal in gathered.meals_ahead],
        "basis": _basis(gathered, taken.ensemble),
    }
    helped = helped_by_steps(gathered, scenario, bounds)
    if helped:
        outlook |= {"fasting_days": helped.fasting_days, "fed_share": digits(helped.fed_share)}
    return Outcome(forecast, next_test, helped.forecast if helped else None, outlook)


def _disagreements(gathered: Gathered, taken: Assimilated) -> list[dict[str, Any]]:
    """Those of the latest test that had any; earlier ones have been overtaken."""
    if not taken.disagreements:
        return []
    newest = taken.disagreements[0][0]
    if any(gathered.known.hour(each.at) > newest for each in gathered.seen):
        return []
    near_zero = gathered.known.moment.limits(gathered.circuit_id)["water.near_zero_mg_l"]
    return [
        {
            "quantity": each.quantity,
            "low": digits(max(each.low, 0.0)),
            "high": digits(each.high) if np.isfinite(each.high) else None,
            "expected": [digits(each.expected_low), digits(each.expected_high)],
            "chance": digits(each.chance),
            "at": (gathered.began + timedelta(hours=hour)).isoformat(timespec="minutes"),
        }
        for hour, each in taken.disagreements
        if hour == newest and not _is_none(each, near_zero)
    ]


def _is_none(each: Disagreement, near_zero: float) -> bool:
    """Whether ammonia or nitrite counts as none both as read and as expected: nobody is asked to read that again."""
    read = (each.low + each.high) / 2
    return each.quantity in {"tan", "nitrite"} and max(read, each.expected_high) <= near_zero


def _clearing(gathered: Gathered, scenario: Scenario) -> list[dict[str, Any]]:
    """Hours from a meal until the water is clear: the last meal given, and the next one planned."""
    now, found = gathered.now, []
    given = [meal for meal in gathered.meals if meal.at > now - LAST_MEAL_COUNTS]
    if given:
        hours_ago = (now - given[-1].at) / timedelta(hours=1)
        found.append(_cleared(gathered, scenario, given[-1:], [], 0, max(hours_ago, 0.0)))
    if gathered.meals_ahead:
        sitting = _sitting(gathered.meals_ahead)
        found.append(_cleared(gathered, scenario, sitting, sitting, _hour(gathered, sitting[0]), 0.0))
    return [each for each in found if each]


def _sitting(meals: Sequence[Fed]) -> list[Fed]:
    """The first meal and those given with it."""
    return [meal for meal in meals if meal.at < meals[0].at + ONE_SITTING]


def _hour(gathered: Gathered, meal: Fed) -> int:
    return max(gathered.known.hour(meal.at) - gathered.now_hour, 0)


def _cleared(
    gathered: Gathered, scenario: Scenario, named: list[Fed], kept: list[Fed], fed_at: int, since: float
) -> dict[str, Any]:
    """Only the meals `kept` are given; `since` hours have passed since the meal when the count begins."""
    hours = fed_at + CLEARING_HOURS
    if hours > scenario.inputs.hours:
        return {}
    meals = [Meal(_hour(gathered, meal), meal.tan_g, meal.solids_g) for meal in kept]
    only = scenario.with_meals(meals)
    _, records = advance(only.start, only.circuit, only.inputs.between(0, hours), every=1)
    span = hours_to_clear(records, 1, fed_at)
    early, middle, late = (_after(hours, since) for hours in (span.early, span.middle, span.late))
    return {
        "at": named[0].at.isoformat(timespec="minutes"),
        "kg": digits(sum(meal.kg for meal in named)),
        "hours": [early, middle, late, digits(span.share)],
        "is_given": not kept,
    }


def _after(hours: float | None, since: float) -> float | None:
    """Hours from the meal; a water that is clear now is said to be so, whenever that was."""
    return digits(hours + since if hours else hours)


def _ration(gathered: Gathered, scenario: Scenario, forecast: Forecast) -> dict[str, Any] | None:
    """How far the planned meals may grow, or must shrink, while nothing that harms at once passes its limit.

    Not beyond the plan where it uses up alkalinity, and so pH, already or a reading is beyond its limit.
    """
    if not gathered.meals_ahead:
        return None
    meals = [event for event in scenario.inputs.events if isinstance(event, Meal)]
    lacking = used_up(forecast)
    most = 1.0 if lacking or help_of(gathered) else MOST_TIMES
    kept = feeding_limits(
        forecast.limits,
        scenario.inputs.temperature_c,
        gathered.known.source,
        ACUTE if lacking else (*ACUTE, *SLOW),
    )
    quiet = scenario.with_meals([])
    factor = largest_meals(quiet.circuit, quiet.inputs, quiet.start, meals, kept, most=most)
    kg = sum(meal.kg for meal in gathered.meals_ahead) / len(gathered.meals_ahead)
    return {
        "factor": digits(factor),
        "meal_kg": digits(kg),
        "is_most": factor >= MOST_TIMES,
        "used_up": lacking,
    }


def _changes(records: Singles, bounds: Iterable[Limit]) -> dict[str, list[float | None]]:
    """Days until what only a water change sets right passes its limit."""
    slow = [each for each in bounds if each.quantity in {"nitrate", "alkalinity"}]
    return {each.quantity: packed_span(days_until_passing(records, EVERY_HOURS, each)) for each in slow}


def _courses(forecast: Forecast, changes: dict[str, list[float | None]]) -> dict[str, list[float | None]]:
    """Of each of these quantities what is most likely now and in two weeks, and the days until its limit."""
    found: dict[str, list[float | None]] = {}
    for name, (_, passes_in, *_) in changes.items():
        middle = forecast.band(name)[:, MIDDLE]
        found[name] = [digits(float(middle[0])), digits(float(middle[-1])), passes_in]
    return found


def _running(gathered: Gathered) -> list[FilterFacts]:
    units = gathered.known.facts.filter.values()
    return [each for each in units if each.circuit_id == gathered.circuit_id and each.state in RUNNING]


def _work(unit: FilterFacts, gathered: Gathered, ensemble: Ensemble) -> dict[str, Any]:
    """Days to this filter's drain and rinse: its own sediment, each member's capture and digestion."""
    limits = gathered.known.moment.limits(gathered.circuit_id, unit.id)
    own = _with_own_solids(ensemble, unit)
    celsius = within_range(unit.temperature_c)
    drain = days_until_drain(
        own,
        unit.void_l * limits["filtration.drain_share"],
        unit.solids_g_day,
        celsius,
        unit.correction,
        _loose(unit),
    )
    work: dict[str, Any] = {"filter": unit.id, "label": unit.label, "drain": packed_span(drain)}
    if unit.media_void_l > 0:
        limit_g = unit.media_void_l * rinse_limit_g_l(unit, limits)
        work["rinse"] = packed_span(days_until_rinse(own, limit_g, unit.solids_g_day))
    return work


def _loose(unit: FilterFacts) -> tuple[float, float]:
    """Shares of what lies in its void, the digestible and the other, that are not packed yet."""
    lying = ((unit.loose_easy_g, unit.easy_g), (unit.loose_inert_g, unit.inert_g))
    easy, inert = (loose / dry if dry else 0.0 for loose, dry in lying)
    return easy, inert


def _with_own_solids(ensemble: Ensemble, unit: FilterFacts) -> Ensemble:
    """The members with what the records say lies in this filter, more or less of it by each one's capture."""
    capture = natural(ensemble.scores)[:, at.P_CAPTURE]
    more = capture / DEFAULT_MODEL.capture_share
    states = ensemble.states.copy()
    states[:, at.EASY] = unit.easy_g * more
    states[:, at.INERT] = unit.inert_g * more
    states[:, at.MEDIA] = unit.carried_g * (1 - capture) / (1 - DEFAULT_MODEL.capture_share)
    return replace(ensemble, states=states)


def _basis(gathered: Gathered, ensemble: Ensemble) -> dict[str, Any]:
    """What it was computed from, for whoever asks."""
    circuit, facts = gathered.circuit_at(gathered.now_hour), gathered.known.circuit
    return {
        "began": gathered.began.isoformat(timespec="minutes"),
        "tests": len(gathered.seen),
        "meals": len(gathered.meals),
        "unrecorded": len(gathered.unrecorded),
        "volume_m3": digits(circuit.volume_m3),
        "media_m2": digits(circuit.media_area_m2),
        "flow_m3_h": digits(circuit.flow_m3_h),
        "celsius": digits(float(gathered.inputs.temperature_c[gathered.now_hour])),
        "tan_g_day": digits(facts.tan_g_day),
        "members": ensemble.members,
    }


def sure_until(made_on: date, next_test: NextTest) -> date:
    """The local day on which the forecast is no longer sure enough."""
    return made_on + timedelta(days=next_test.day)


def tested_at(gathered: Gathered) -> datetime | None:
    """The latest test that was there to be taken in."""
    tests = gathered.known.tests
    return tests[-1].at if tests else None
