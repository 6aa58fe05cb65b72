"""What a new filter asks for, from its leak test to the day somebody calls it mature."""

from collections.abc import Iterator
from datetime import date, timedelta

from filtration.designing.steps import LEAK_HOURS
from filtration.nitrification import SEED_NEW, days_until_grown, within_range
from refuge.rules import triggers
from refuge.rules.facts import FilterFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, day_text, days_text
from refuge.rules.words import amount, litres

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
        yield Due(
            facts.state_since,
            f"Being built since {day_text(facts.state_since)}; no leak test passed, so it may not run",
            "state",
            leak_test_words(facts),
        )


def leak_test_words(facts: FilterFacts) -> str:
    """How it is done, with this filter's own litres where a plan says how high its overflow lies."""
    much = "" if facts.lip_l is None else f" with {litres(facts.lip_l)} of water"
    return (
        f"Still empty of stones: shut the drain and the inlet, by valve or plug. Fill it to the lip of the overflow{much}, "
        f"mark the level and leave it {LEAK_HOURS}\u00a0h. It passed if the level is at the mark and dry paper under each "
        "fitting is dry; only then may stones go in. Children and animals stay away from open water."
    )


@rules.register(
    "filtration.start",
    kind="filter",
    title="Fill it and start it",
    recorder="filter_state",
    role="staff",
    cautions=("electricity", "lifting", "slips"),
    rest_days=7,
)
def start(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Once it holds water and its socket is known to be protected: before, the test of the device is asked for."""
    if facts.state != "leak_tested" or not may_be_plugged_in(facts):
        return
    protected = " and its device tripped" if facts.has_pump else ""
    yield Due(
        facts.state_since,
        f"Leak-tested on {day_text(facts.state_since)}{protected}: it may run",
        "state",
        "Set the stones and fill it slowly with conditioned water up to the lip. Start the pump, stay with it for an hour, "
        "and watch level and fittings. From the day it runs its bacteria begin to grow: feed a little.",
        {"new_state": "cycling"},
    )


def may_be_plugged_in(facts: FilterFacts) -> bool:
    """Whether the last test of its residual-current device passed, or it has no pump to plug in."""
    return not facts.has_pump or facts.protection_passed is True


def never_tripped(facts: FilterFacts) -> Due | None:
    """The device was never tested: before it first runs, and where it runs already at once."""
    if facts.last_protection_on is not None:
        return None
    waits = facts.state == "leak_tested"
    reason = f"{'Leak-tested' if waits else 'Running'} since {day_text(facts.state_since)}, its device never tested"
    lacks = "" if facts.has_protection else "; no protection of its socket is entered either"
    return Due(
        facts.state_since,
        f"{reason}{lacks}" + (": the pump is not plugged in before" if waits else ""),
        "state",
        "A lamp in the pump's socket must go out when the device's test button is pressed. Where there is no device, or it "
        "does not trip, keep the pump unplugged and call a licensed electrician.",
        about="never tested",
    )


def first_flow(facts: FilterFacts) -> Due | None:
    """Its flow was never measured, or not as its plan says: measured again once somebody has looked."""
    if facts.last_bucket_on is None:
        return Due(
            facts.state_since,
            f"Running since {day_text(facts.state_since)}, its flow never measured: later ones are held against the first",
            "state",
            about="never measured",
        )
    if facts.flow is None or facts.commissioning_flow_m3_h is not None or facts.lip_l is None:
        return None
    return Due(
        facts.flow.on + timedelta(days=1),
        f"{amount(facts.flow.value, 'flow')} on {day_text(facts.flow.on)} is not what its plan says",
        "reading",
        "Look at the valve, the strainer and the pump, then measure again. If all is as it should be, say that this is its "
        "flow when new.",
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
