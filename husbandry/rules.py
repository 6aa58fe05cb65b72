"""When animals are looked at, fed, weighed and reviewed."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, timedelta

from refuge.rules import triggers
from refuge.rules.facts import AnimalFacts, EnclosureFacts, PlanFacts
from refuge.rules.limits import LimitsFor, LimitSpec, limits
from refuge.rules.registry import rules
from refuge.rules.triggers import Due, Trigger, Unknown, day_text, food_text
from refuge.rules.words import amount

for spec in (
    LimitSpec(
        "husbandry.seen_days",
        "All animals seen, awake",
        1,
        "days",
        1,
        14,
        "Code of Maryland Regulations 08.03.12.15 D: every animal observed at least once every day",
    ),
    LimitSpec("husbandry.brumation_seen_days", "All animals seen, in brumation", 7, "days", 1, 30),
    LimitSpec("husbandry.weigh_young_days", "Weighing, young animals", 30, "days", 3, 365),
    LimitSpec("husbandry.weigh_adult_days", "Weighing, grown animals", 180, "days", 7, 730),
    LimitSpec("husbandry.weigh_quarantine_days", "Weighing, in quarantine", 30, "days", 3, 120),
    LimitSpec("husbandry.weigh_brumation_days", "Weighing, in brumation", 28, "days", 7, 120),
    LimitSpec(
        "husbandry.young_share", "Below this share of adult weight an animal is young", 0.5, "", 0.05, 1
    ),
    LimitSpec("husbandry.look_days", "Look at each animal in quarantine", 1, "days", 1, 7),
    LimitSpec(
        "husbandry.quarantine_days",
        "Length of quarantine",
        365,
        "days",
        30,
        1095,
        "Common practice of this trade; published floor 30 days (AZA, Quarantine)",
        scopes=("site",),
    ),
    LimitSpec(
        "husbandry.arrival_chance",
        "Forecast chance that counts against a place for a newcomer",
        0.2,
        "",
        0.01,
        1,
    ),
    LimitSpec("husbandry.load_window_days", "Bioload is the mean of the last", 14, "days", 3, 60),
    LimitSpec(
        "husbandry.two_people_kg",
        "Two people lift above",
        23,
        "kg",
        5,
        50,
        "NIOSH lifting equation: 51 lb (23 kg) under ideal conditions",
        scopes=("site",),
    ),
):
    limits.define(spec)

LOOK_FOR_THEM = "Look for who is missing until you have seen everybody. Not found: tell a manager."
TAKE_OUT = "Take out what was left."
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@rules.register(
    "husbandry.all_seen",
    kind="enclosure",
    title="All animals seen",
    recorder="head_count",
    one_tap="All seen",
    cautions=("hands",),
)
def all_seen(facts: EnclosureFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.awake:
        days, words = limits["husbandry.seen_days"], f"{facts.awake} awake"
    elif facts.brumating:
        days, words = limits["husbandry.brumation_seen_days"], f"{facts.brumating} in brumation"
    else:
        return
    # A count from before anybody of those in it came says nothing about them.
    seen, since = facts.last_seen_on, facts.occupied_since
    counts_others = seen is not None and since is not None and seen < since
    prefill = {"seen": facts.awake + facts.brumating}
    due = triggers.elapsed(
        last=None if counts_others else facts.last_seen_on,
        every_days=days,
        today=today,
        what=f"Head count ({words})",
        since=facts.occupied_since,
    )
    yield replace(due, prefill=prefill)
    if seen is not None and facts.last_counted is not None and not counts_others:
        count, expected = facts.last_counted
        yield triggers.missing(seen=count, expected=expected, counted_on=seen, instruction=LOOK_FOR_THEM)


@rules.register(
    "husbandry.feeding",
    kind="plan",
    title="Feed",
    recorder="feeding",
    one_tap="Fed as planned",
    instead=("water_test", "Record a water test"),
    cautions=("bites", "hands"),
)
def feeding(facts: PlanFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """By plan; in brumation or a fast nothing is due, and that is said where the plan is shown."""
    if facts.all_brumating:
        return
    on = next_meal(facts, today)
    if on is None:
        return
    why, share = facts.restraint
    if not share:
        more = facts.young_more if why == facts.young else f"{why}."
        yield triggers.against(on=on, reason=why, instruction=f"{more} {TAKE_OUT}")
    yield Due(on, _meal_reason(facts), "elapsed", _meal_words(facts), _meal_prefill(facts))


def _meal_reason(facts: PlanFacts) -> str:
    """The plan, and before it what is given of it for now."""
    last = f"last fed {day_text(facts.last_fed_on)}" if facts.last_fed_on else "not fed by this plan yet"
    plan = f"Plan: {food_text(facts.ration_kg)} {facts.food} {rhythm_words(facts)}; {last}"
    why, share = facts.restraint
    return f"Only {food_text(facts.given_kg)} for now. {why}. {plan}" if 0 < share < 1 else plan


def _meal_words(facts: PlanFacts) -> str:
    why, share = facts.restraint
    if not share:
        return ""
    return f"{why}: {food_text(facts.given_kg)} {facts.food}".removeprefix(": ")


def _meal_prefill(facts: PlanFacts) -> dict[str, float | None]:
    """at_most_kg: where less than the ration is to be given for now. Of a meal that is not to be given nothing is filled in."""
    _, share = facts.restraint
    if share >= 1:
        return {"offered_kg": facts.ration_kg}
    return {"offered_kg": facts.given_kg if share else None, "at_most_kg": facts.given_kg}


@rules.register(
    "husbandry.no_plan",
    kind="animal",
    title="Decide what it eats",
    recorder="first_plan",
    role="staff",
)
def no_plan(facts: AnimalFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    """Asked of one that is awake: whoever fasts by order has a plan that says until when."""
    if facts.without_plan and facts.brumating_since is None:
        yield Unknown("what it eats", "No feeding plan: decide food, ration and days, or until when it fasts")


def rhythm_words(facts: PlanFacts) -> str:
    """'every 7 days', 'on Monday and Thursday'."""
    if facts.every_days:
        return every_words(facts.every_days)
    days = [name for bit, name in enumerate(WEEKDAYS) if (facts.weekdays or 0) >> bit & 1]
    return "on " + (" and ".join(days) if len(days) < 3 else ", ".join(days[:-1]) + " and " + days[-1])


def every_words(days: int) -> str:
    return "every day" if days == 1 else f"every {days} days"


def next_meal(facts: PlanFacts, today: date) -> date | None:
    """The day of the next meal: the first planned one after the last that was given; it may lie behind today.

    A weekday plan asks for the latest planned day that was missed, not for every missed one: food that was
    not given does not add up.
    """
    first = max(facts.starts_on, facts.fasting_until or facts.starts_on)
    if facts.every_days:
        on = facts.last_fed_on + timedelta(days=facts.every_days) if facts.last_fed_on else first
        on = max(on, first)
    else:
        after = max(facts.last_fed_on + timedelta(days=1) if facts.last_fed_on else first, first)
        on = _weekday_meal(facts.weekdays or 0, after, today)
    return None if facts.ends_on is not None and on >= facts.ends_on else on


def _weekday_meal(weekdays: int, after: date, today: date) -> date:
    latest = max(after, today - timedelta(days=6))
    missed = [latest + timedelta(days=n) for n in range((today - latest).days + 1)]
    due = [day for day in missed if weekdays >> day.weekday() & 1]
    if due:
        return due[-1]
    day = max(after, today + timedelta(days=1))
    while not weekdays >> day.weekday() & 1:
        day += timedelta(days=1)
    return day


@rules.register(
    "husbandry.weigh",
    kind="animal",
    title="Weigh",
    recorder="measurement",
    role="staff",
    cautions=("lifting", "bites", "hands"),
    rest_days=7,
)
def weigh(facts: AnimalFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.mass_kg is None:
        yield Unknown("its weight", "Weigh it: bioload, dosing and lifting go by it")
        return
    key, words = weighing_stage(facts, limits)
    due = triggers.elapsed(
        last=facts.last_weighed_on,
        every_days=limits[key],
        today=today,
        what=f"Weight ({amount(facts.mass_kg, 'mass')}, {words})",
    )
    heavy = facts.mass_kg > limits["husbandry.two_people_kg"]
    yield replace(due, instruction="Two people: it is heavier than one may lift.") if heavy else due


def weighing_stage(facts: AnimalFacts, limits: LimitsFor) -> tuple[str, str]:
    """The limit that sets how often an animal is weighed, and its stage in words."""
    if facts.quarantine is not None:
        return "husbandry.weigh_quarantine_days", "in quarantine"
    if facts.brumating_since is not None:
        return "husbandry.weigh_brumation_days", "in brumation"
    adult = facts.adult_mass_kg
    if adult and facts.mass_kg is not None and facts.mass_kg < adult * limits["husbandry.young_share"]:
        return "husbandry.weigh_young_days", "young"
    return "husbandry.weigh_adult_days", "grown"


@rules.register(
    "husbandry.quarantine_look",
    kind="animal",
    title="Look at it: quarantine",
    recorder="quarantine_look",
    one_tap="Looks normal",
    cautions=("hands", "quarantine_gear"),
)
def quarantine_look(facts: AnimalFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.quarantine is not None:
        yield triggers.elapsed(
            last=facts.last_look_on,
            every_days=limits["husbandry.look_days"],
            today=today,
            what="Look",
            since=facts.quarantine.started_on,
        )


@rules.register(
    "husbandry.quarantine_check",
    kind="animal",
    title="Quarantine check",
    recorder="quarantine_check",
    role="staff",
    cautions=("bites", "lifting", "hands", "quarantine_gear"),
)
def quarantine_check(facts: AnimalFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    if facts.quarantine is None or not facts.quarantine.checks:
        return
    first = min(facts.quarantine.checks, key=lambda check: (check.due_on, check.id))
    more = len(facts.quarantine.checks) - 1
    words = f"{first.title}, planned for {day_text(first.due_on)}" + (
        f"; {more} more to come" if more else ""
    )
    yield Due(first.due_on, words, "state", first.title, {"check": first.id})


@rules.register(
    "husbandry.quarantine_review",
    kind="animal",
    title="Quarantine ends: review",
    recorder="quarantine_review",
    role="manager",
    cautions=("vet",),
    rest_days=7,
)
def quarantine_review(facts: AnimalFacts, limits: LimitsFor, today: date) -> Iterator[Trigger | None]:
    quarantine = facts.quarantine
    if quarantine is None:
        return
    words = f"Planned end {day_text(quarantine.ends_on)}, {quarantine.days} days from {day_text(quarantine.clock_from)}"
    if quarantine.checks:
        words += (
            f"; {len(quarantine.checks)} check{'s' if len(quarantine.checks) > 1 else ''} not answered yet"
        )
    yield triggers.state(on=quarantine.ends_on, reason=words)
