"""What a new filter asks for, from its leak test to the day somebody calls it mature."""

from collections.abc import Iterator
from datetime import date, timedelta

from filtration.nitrification import SEED_NEW, days_until_grown, within_range
from refuge.rules import triggers
from refuge.rules.facts import FilterFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, day_text, days_text

LATER_DAYS = 28  # asked again, where nobody can say when (common practice, no source)
SOONEST_DAYS = 7  # without enough quiet tests: they are waited for


@rules.register(
    "filtration.leak_test",
    kind="filter",
    title="Leak test before it may run",
    recorder="leak_test",
    role="staff",
    cautions=("unplug", "lifting", "slips"),
)
def leak_test(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.state != "building":
        return
    # One passed moves the filter on by itself; passed and then failed on one day leaves it here.
    if facts.leak_passed_on is None or facts.leak_passed_on <= facts.state_since:
        yield triggers.state(
            on=facts.state_since,
            reason=f"Being built since {day_text(facts.state_since)}; no leak test passed, so it may not run",
        )


@rules.register(
    "filtration.state_review",
    kind="filter",
    title="Say whether the filter is mature",
    recorder="filter_state",
    role="staff",
    rest_days=7,
)
def state_review(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """A run of near-zero tests under load while cycling or disturbed: somebody decides, not the calendar.

    Where other filters carry the water without it, its tests prove nothing: then it goes by the days it takes.
    """
    if facts.state not in {"cycling", "disturbed"}:
        return
    wanted = int(limits["water.quiet_tests"])
    if facts.carried_by:
        yield _beside_others(facts, limits, today)
    elif facts.quiet_tests >= wanted:
        reason = (
            f"{facts.quiet_tests} tests under load in a row with ammonia and nitrite near zero since "
            f"{day_text(facts.state_since)}; {wanted} are asked for"
        )
        yield Due(today, reason, "state", "", {"new_state": "mature"}, about="enough quiet tests")
    elif facts.state == "cycling" and facts.days_to_mature is not None:
        words = "by now" if facts.days_to_mature < 1 else f"in about {days_text(facts.days_to_mature)}"
        yield triggers.state(
            on=today + timedelta(days=max(int(facts.days_to_mature), SOONEST_DAYS)),
            reason=f"Cycling since {day_text(facts.state_since)}; expected to be mature {words}. "
            f"{facts.quiet_tests} of {wanted} near-zero tests under load since: feed a little, and test",
        )


def _beside_others(facts: FilterFacts, limits: LimitsFor, today: date) -> Due:
    days = _days_it_takes(facts, limits, today)
    if days is None:
        when = "The forecast does not see it mature within the weeks it looks at"
    elif days < 1:
        when = "By the days since it has grown enough by now"
    else:
        when = f"By its growth it is mature in about {days_text(days)}"
    reason = (
        f"{facts.carried_by} can carry the whole load without it, so near-zero tests do not show what this one does. "
        f"{when}. Leave the other running: the animals need it"
    )
    on = today + timedelta(days=LATER_DAYS if days is None else int(days))
    return Due(on, reason, "state", about="enough days beside others")


def _days_it_takes(facts: FilterFacts, limits: LimitsFor, today: date) -> float | None:
    """A disturbed one grows from what it still carried on the day it was called so."""
    if facts.state == "cycling":
        return facts.days_to_mature
    left = max(limits["filtration.disturbed_share"], SEED_NEW)
    passed = (today - facts.state_since).days
    return max(days_until_grown(left, within_range(facts.temperature_c)) - passed, 0.0)
