"""When a water must be tested and changed. Loads in g TAN/day, concentrations in mg/L, nitrogen as N."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from enclosures.changes import (
    alkalinity_now,
    change_help,
    filled_on,
    is_fresh,
    nitrate_now,
    nitrogen_rise_mg_l_day,
    seen_ahead,
)
from enclosures.chemistry import ALKALINITY_PER_NITROGEN
from enclosures.help import CHANGED_SHARE, Help, help_for
from enclosures.limits import BOUNDS, WORDS, beyond_one
from enclosures.steps import at_once, read_words
from refuge.rules import triggers
from refuge.rules.facts import CircuitFacts, ForecastFacts, Reading, TestFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.limits import limits as table
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, Unknown, day_text, days_text, food_text
from refuge.rules.words import load_words

SURPRISING = {"suspended": "clarity", "sediment": "sediment"}


@rules.register(
    "enclosures.water_test",
    kind="circuit",
    title="Water test",
    recorder="water_test",
    cautions=("hands",),
    help_page="water_help",
)
def water_test(facts: CircuitFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """When the forecast is no longer sure enough, else by load; closer without a running filter, while one is cycling,
    after a heavy meal, a bad reading, a newcomer, or harm to a filter."""
    if not facts.tests:
        yield Due(today, "Never tested", "elapsed")
        return
    last = facts.tests[0].on
    yield from _by_forecast(facts, limits, last) or [_by_load(facts, limits, last, today)]
    yield _without_filter(facts, limits, last)
    if facts.is_cycling:
        yield _while_cycling(facts, limits, last)
    yield _after_heavy_meal(facts, limits, last)
    yield _after_bad_reading(facts, limits, last)
    yield _after_surprise(facts, last)
    yield _after_newcomer(facts, limits, last)
    yield _after_harm(facts, limits, last)


def _by_forecast(facts: CircuitFacts, limits: LimitsFor, last: date) -> list[Due]:
    """The day on which the forecast is no longer sure enough, and the longest interval, which holds all the same.

    Empty without a forecast that knows the last test. Never sooner after a test than the rest between two.
    """
    forecast = facts.forecast
    if forecast is None or forecast.sure_until is None or (forecast.tested_on or date.min) < last:
        return []
    soonest = last + timedelta(days=int(limits["water.forecast_rest_days"]))
    apart = int(limits["water.interval_light_days"])
    tested = f"Last test {day_text(last)}; at most {days_text(apart)} apart"
    if forecast.doubt == "longest":
        return [Due(last + timedelta(days=apart), f"{tested}, nothing in doubt by the forecast", "elapsed")]
    return [
        Due(
            max(forecast.sure_until, soonest), doubt_words(forecast), "forecast", _to_read(forecast.quantity)
        ),
        Due(last + timedelta(days=apart), tested, "elapsed"),
    ]


def _to_read(quantity: str) -> str:
    """What a test must read to settle the doubt."""
    readings = "ammonia, pH and temperature" if quantity in {"unionized", "tan"} else WORDS.get(quantity, "")
    return f"Read {readings} too." if readings else ""


def doubt_words(forecast: ForecastFacts) -> str:
    """What is in doubt, with its numbers: 'Forecast: nitrite may pass 1 mg/L N on 4 Mar 2026, chance 12 %'."""
    unit, is_least = _unit_and_side(forecast)
    name = WORDS.get(forecast.quantity, forecast.quantity)
    limit = f"{forecast.limit:.3g} {unit}".rstrip() if forecast.limit is not None else "its limit"
    on = day_text(forecast.sure_until) if forecast.sure_until else "then"
    if forecast.doubt == "too_vague":
        return f"Forecast: {name} on {on} is known to within {forecast.width:.2g} {unit} only; the limit is {limit}"
    side = "fall below" if is_least else "pass"
    return f"Forecast: {name} may {side} {limit} on {on}, chance {forecast.chance * 100:.0f}\u00a0%"


def _unit_and_side(forecast: ForecastFacts) -> tuple[str, bool]:
    """The unit of what is in doubt, and whether its limit is the least: of two limits, by the one that usually lies nearer."""
    sides = [
        (table[key].default, unit, least) for name, _, unit, key, least in BOUNDS if name == forecast.quantity
    ]
    value = forecast.limit or 0.0
    return min(sides, key=lambda each: abs(each[0] - value), default=(0.0, "", False))[1:]


def _by_load(facts: CircuitFacts, limits: LimitsFor, last: date, today: date) -> Due:
    light, full = limits["water.interval_light_days"], limits["water.interval_full_days"]
    load = facts.load_share
    if load is None:
        words = "no running filter" if facts.animals else "no animals"
        days = full if facts.animals else light
    else:
        days = interval_by_load(load, light, full, limits["water.light_load_share"])
        words = f"load: {load_words(load, grown=facts.grown_share)}"
    due = last + timedelta(days=int(days))
    return Due(due, f"Last test {day_text(last)}; every {days_text(int(days))} ({words})", "elapsed")


def interval_by_load(load: float, light_days: float, full_days: float, light_share: float) -> float:
    """Days between tests: `light_days` up to the light share, falling evenly to `full_days` at full load."""
    if load <= light_share:
        return light_days
    if load >= 1:
        return full_days
    return light_days + (full_days - light_days) * (load - light_share) / (1 - light_share)


def _without_filter(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    """Where no filter runs, nothing but water changes takes out what animals put in."""
    if not facts.animals or facts.capacity_tan_g_day or facts.tan_g_day <= 0:
        return None
    days = int(limits["water.unfiltered_days"])
    reason = f"Last test {day_text(last)}; every {days_text(days)} while no filter runs"
    return Due(last + timedelta(days=days), reason, "state")


def _while_cycling(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    """Only tests since its filter began count: those before were another's merit."""
    since = facts.cycling_since or date.min
    quiet = quiet_since(since, facts.tests, limits["water.near_zero_mg_l"])
    if quiet >= limits["water.quiet_tests"]:
        return None
    if last <= since:
        return triggers.state(
            on=since + timedelta(days=1),
            reason=f"Filter is cycling since {day_text(since)}, and not tested since; every 1 day",
        )
    days = int(limits["water.cycling_days"]) if quiet else 1
    words = (
        f"{quiet} near-zero test{'s' if quiet != 1 else ''} in a row of {limits['water.quiet_tests']:.0f}"
        if quiet
        else "ammonia or nitrite is not near zero yet"
    )
    return triggers.state(
        on=last + timedelta(days=days), reason=f"Filter is cycling: {words}; every {days_text(days)}"
    )


def quiet_in_a_row(tests: tuple[TestFacts, ...], near_zero: float) -> int:
    """Newest tests in a row whose ammonia and nitrite were both read and near zero. mg/L as N."""
    count = 0
    for test in tests:
        if test.tan is None or test.nitrite is None:
            continue
        if test.tan > near_zero or test.nitrite > near_zero:
            break
        count += 1
    return count


def quiet_since(day: date, tests: tuple[TestFacts, ...], near_zero: float) -> int:
    """The same, of the tests after a day."""
    return quiet_in_a_row(tuple(test for test in tests if test.on > day), near_zero)


def _after_heavy_meal(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    capacity = facts.capacity_tan_g_day
    if facts.last_fed_on is None or not capacity or last > facts.last_fed_on:
        return None
    days_of_work = facts.last_fed_tan_g / capacity
    if days_of_work < limits["water.heavy_meal_days"]:
        return None
    return triggers.after_event(
        happened_on=facts.last_fed_on,
        days_after=1,
        reason=(
            f"Heavy meal on {day_text(facts.last_fed_on)}: {food_text(facts.last_fed_kg)}, "
            f"{days_of_work:.1f} days of work for the filter"
        ),
    )


def _after_bad_reading(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    """Within a day of any reading beyond its limit, until two good ones in a row."""
    for name, what, unit, key, least in BOUNDS:
        read = [test for test in facts.tests if getattr(test, name) is not None][:2]
        for test in read:
            words = beyond_one(test, limits, name, what, unit, key, least)
            if words:
                return _again(facts, last, words)
    return None


def _again(facts: CircuitFacts, last: date, words: str) -> Due:
    """The day after; the same day where water was changed since, since only a test ends this."""
    renewed = facts.tests[0].renewed_since
    if renewed < CHANGED_SHARE:
        return Due(last + timedelta(days=1), f"{words}; two good tests in a row end this", "reading")
    return Due(last, f"{words}; {renewed:.0%} of the water changed since: test an hour after", "reading")


def _after_surprise(facts: CircuitFacts, last: date) -> Due | None:
    """The day after a reading that the forecast had thought all but impossible: a slip of the test, or news."""
    forecast = facts.forecast
    if forecast is None or not forecast.contradicted or (forecast.tested_on or date.min) < last:
        return None
    what = ", ".join(
        dict.fromkeys(WORDS.get(each, SURPRISING.get(each, each)) for each in forecast.contradicted)
    )
    return Due(
        last + timedelta(days=1),
        f"Test of {day_text(last)} and forecast disagree on {what}: read it again",
        "event",  # nothing lies beyond a limit: nobody is told so, and no help page knows of it
    )


def _after_newcomer(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    if facts.last_joined_on is None:
        return None
    for day in range(1, int(limits["water.join_test_days"]) + 1):
        on = facts.last_joined_on + timedelta(days=day)
        if last < on:
            reason = f"An animal moved in on {day_text(facts.last_joined_on)}: test of day {day}"
            return Due(on, reason, "event")
    return None


def _after_harm(facts: CircuitFacts, limits: LimitsFor, last: date) -> Due | None:
    """The day after much of a filter was lost, then as while cycling, until the tests since show it to be over."""
    if facts.harm is None:
        return None
    quiet = quiet_since(facts.harm.on, facts.tests, limits["water.near_zero_mg_l"])
    if quiet >= limits["water.quiet_tests"]:
        return None
    days = int(limits["water.cycling_days"]) if quiet else 1
    what = f"{facts.harm.words}, {facts.harm.over}: about {facts.harm.left:.0%} of the bacteria were left"
    return triggers.after_event(
        happened_on=max(facts.harm.on, last),
        days_after=days,
        reason=f"{what}; {quiet} near-zero tests in a row since, {limits['water.quiet_tests']:.0f} end this",
    )


@rules.register(
    "enclosures.water_panel",
    kind="circuit",
    title="Fuller water test: nitrate and alkalinity too",
    recorder="fuller_water_test",
    cautions=("hands",),
    rest_days=7,
)
def water_panel(facts: CircuitFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    yield triggers.elapsed(
        last=facts.last_panel_on,
        every_days=limits["water.panel_days"],
        today=today,
        what="Nitrate and alkalinity",
    )


@rules.register(
    "enclosures.water_change_now",
    kind="circuit",
    title="Change water now: a reading is beyond its limit",
    recorder="water_change",
    cautions=("unplug", "dechlorinate", "slips", "hands"),
    help_page="water_help",
)
def water_change_now(facts: CircuitFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """At once while ammonia or nitrite lies beyond its limit, and again after a day, until a test is good."""
    help_ = help_for(facts, limits, today)
    if help_ is None or help_.changes is None or not _is_urgent(help_, facts):
        return
    reason = f"{read_words(help_.urgent)}; until a test is good"  # managers are told of it by the water test
    due = Due(today, reason, "state", *at_once(help_, help_.changes))
    yield _not_again_yet(facts, limits, due) if help_.is_changed_today else due


def _is_urgent(help_: Help, facts: CircuitFacts) -> bool:
    return bool(help_.changes and help_.urgent and facts.animals)


@rules.register(
    "enclosures.water_change",
    kind="circuit",
    title="Partial water change",
    recorder="water_change",
    cautions=("unplug", "dechlorinate", "slips", "hands"),
    rest_days=7,
)
def water_change(facts: CircuitFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Nitrate projected beyond its limit, alkalinity used up, or the longest interval.

    Never beside a change that cannot wait: two people would change it twice. In sour water no more than help says.
    """
    if facts.volume_m3 <= 0:
        yield Unknown("the volume of water", "Enter the sizes of its enclosures")
        return
    sick = help_for(facts, limits, today)
    if sick and _is_urgent(sick, facts):
        return
    help_ = (
        at_once(sick, sick.changes) if sick and sick.is_sour and sick.changes else change_help(facts, limits)
    )
    yield _with_help(_by_interval(facts, limits, today), help_)
    if not facts.animals:
        return
    yield _with_help(_not_again_yet(facts, limits, _by_nitrate(facts, limits, today)), help_)
    yield _with_help(_not_again_yet(facts, limits, _by_alkalinity(facts, limits, today)), help_)


def _by_interval(facts: CircuitFacts, limits: LimitsFor, today: date) -> Due | None:
    if not facts.animals and facts.last_change_on is None:
        return None
    return triggers.elapsed(
        last=facts.last_change_on,
        every_days=limits["water.change_days"],
        today=today,
        what="Water change",
        since=filled_on(facts),
    )


def _by_nitrate(facts: CircuitFacts, limits: LimitsFor, today: date) -> Trigger | None:
    if facts.nitrate is None:
        return None if is_fresh(facts, limits, today) else Unknown("nitrate", "Do a fuller water test")
    ahead = seen_ahead(facts, "nitrate", today)
    due = triggers.accumulating(
        amount=ahead.now if ahead else nitrate_now(facts, facts.nitrate),
        limit=limits["water.nitrate_mg_l"],
        rate_per_day=ahead.pace_to(limits["water.nitrate_mg_l"]) if ahead else nitrogen_rise_mg_l_day(facts),
        today=today,
        what=f"Nitrate, {'by the forecast' if ahead else 'projected from the last test and the meals since'},",
        unit="mg/L N",
        digits=1,
    )
    return _going_by(due, "nitrate", facts.nitrate)


def _by_alkalinity(facts: CircuitFacts, limits: LimitsFor, today: date) -> Trigger | None:
    if facts.alkalinity is None:
        return None if is_fresh(facts, limits, today) else Unknown("alkalinity", "Do a fuller water test")
    floor = limits["water.alkalinity_mg_l"]
    ahead = seen_ahead(facts, "alkalinity", today)
    now = ahead.now if ahead else alkalinity_now(facts, facts.alkalinity)
    rate = -ahead.pace_to(floor) if ahead else ALKALINITY_PER_NITROGEN * nitrogen_rise_mg_l_day(facts)
    if now <= floor:
        reason = f"Alkalinity about {now:.0f} mg/L CaCO₃, at least {floor:.0f} is wanted"
        return _going_by(Due(today, reason, "accumulating"), "alkalinity", facts.alkalinity)
    if rate <= 0 or (now - floor) / rate > triggers.FAR_DAYS:
        return None
    days = (now - floor) / rate
    reason = f"Alkalinity about {now:.0f} mg/L CaCO₃, down to {floor:.0f} in {days_text(days)}"
    due = Due(today + timedelta(days=int(days)), reason, "accumulating")
    return _going_by(due, "alkalinity", facts.alkalinity)


def _going_by(due: Due | None, what: str, read: Reading) -> Due | None:
    """A change that was put off is asked for again once another reading asks for it, not as the projection grows."""
    return due and replace(due, about=f"{what} {read.value:g} of {read.on}")


def _not_again_yet(facts: CircuitFacts, limits: LimitsFor, due: Trigger | None) -> Trigger | None:
    """A change that was not enough is followed by another, but not the same day: animals need some rest too."""
    if not isinstance(due, Due) or facts.last_change_on is None:
        return due
    soonest = facts.last_change_on + timedelta(days=int(limits["water.change_rest_days"]))
    if due.on >= soonest:
        return due
    return replace(due, on=soonest, reason=f"{due.reason}; changed on {day_text(facts.last_change_on)}")


def _with_help(trigger: Trigger | None, help_: tuple[str, dict[str, float]]) -> Trigger | None:
    if not isinstance(trigger, Due):
        return trigger
    return replace(trigger, instruction=help_[0], prefill=dict(help_[1]))
