"""What happened to a filter asks for a word on how it is."""

from collections.abc import Iterator
from datetime import date

from refuge.rules.facts import RUNNING, FilterFacts
from refuge.rules.limits import LimitsFor, LimitSpec, limits
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, day_text

EACH = ("site", "circuit", "filter")

limits.define(
    LimitSpec(
        "filtration.harm_left_share",
        "Watch a filter when harm left no more than",
        0.8,
        "of its bacteria",
        0.05,
        1,
        scopes=EACH,
    )
)


@rules.register(
    "filtration.harm",
    kind="filter",
    title="Say whether the filter is disturbed",
    recorder="filter_state",
    role="staff",
    cautions=("unplug", "foul_gas"),
    rest_days=3,
)
def harm(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """A mature filter of which much was lost does not stay mature without a word: staff decide, or the tests do."""
    happened = facts.harm
    if facts.state != "mature" or happened is None or happened.left > limits["filtration.harm_left_share"]:
        return
    wanted = int(limits["water.quiet_tests"])
    if facts.quiet_since_harm >= wanted:
        return
    reason = (
        f"{happened.words}, {happened.over}: about {happened.left:.0%} of its bacteria were left, "
        f"about {facts.harm_left_today:.0%} today; {facts.quiet_since_harm} of {wanted} near-zero tests since"
    )
    ask = "Feed little or nothing, air the water and test it until this is settled."
    about = (
        f"{happened.words}, {happened.left:.0%}, {happened.on}"  # the rest of the words grows back by itself
    )
    yield Due(happened.on, reason, "event", ask, {"new_state": "disturbed"}, about)


@rules.register(
    "filtration.stands",
    kind="filter",
    title="Get the filter running again",
    recorder="bucket_test",
    cautions=("unplug", "foul_gas"),
    rest_days=1,
)
def stands(facts: FilterFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """A filter that stood still when somebody said so goes on standing until a flow is measured, or the record corrected."""
    stop = facts.stands
    if facts.state not in RUNNING or stop is None or stop.began_on is None:
        return
    reason = f"{stop.words}, since {day_text(stop.began_on)}: nobody has said that it runs again"
    ask = "Find out why it stands. Once it runs, measure the flow: that says that it is over."
    yield Due(today, reason, "event", ask, about=f"{stop.path} stands")
