"""A new filter's way from plan to mature: where it stands today, the one step that comes next, what its state forbids."""

from dataclasses import dataclass
from datetime import date, timedelta

from filtration.nitrification import days_to_mature, within_range
from filtration.start_rules import first_flow, may_be_plugged_in
from refuge.rules.facts import RUNNING, FilterFacts
from refuge.rules.triggers import days_text

PLACES = (
    ("planned", "Planned"),
    ("building", "Being built"),
    ("leak_tested", "Leak-tested"),
    ("cycling", "Running"),
    ("mature", "Mature"),
)
ON_THE_WAY = ("building", "leak_tested", "cycling")
NOT_YET_RUN = frozenset({"drain", "rinse", "bucket_test", "pump_clean", "filter_harm"})
# Records that make no sense in a state: pages do not offer them.
FORBIDDEN = {
    "building": NOT_YET_RUN | {"filter_state"},  # a leak test that passed moves it on by itself
    "leak_tested": NOT_YET_RUN | {"leak_test"},
    "resting": frozenset({"bucket_test"}),
}


@dataclass(frozen=True)
class Place:
    """One place on the way. part: 'past', 'now' or 'ahead'. on: its day, where one is known. note: what else."""

    words: str
    part: str
    on: date | None = None
    note: str = ""


@dataclass(frozen=True)
class Step:
    """What comes next: the key of its recorder, and the words of its button."""

    recorder: str
    words: str


def way_of(
    facts: FilterFacts, today: date, *, planned_on: date | None, built_on: date | None
) -> tuple[Place, ...]:
    """The places of a filter that is not mature yet; empty for any other. planned_on, built_on: of its plan."""
    if facts.state not in ON_THE_WAY:
        return ()
    keys = [key for key, _ in PLACES]
    here = keys.index(facts.state)
    days = {
        "planned": planned_on,
        "building": built_on or (facts.state_since if facts.state == "building" else None),
        "leak_tested": facts.state_since if facts.state == "leak_tested" else facts.leak_passed_on,
        "cycling": facts.state_since if facts.state == "cycling" else None,
    }
    found = []
    for place, (key, words) in enumerate(PLACES):
        if key == "planned" and planned_on is None:
            continue
        if key == "mature":
            found.append(_mature(facts, today))
        elif place > here:
            found.append(Place(words, "ahead"))
        else:
            found.append(Place(words, "now" if place == here else "past", days[key]))
    return tuple(found)


def _mature(facts: FilterFacts, today: date) -> Place:
    """The day that the water's forecast gives, else the curve of growth; as days from its start before it runs."""
    if facts.state != "cycling":
        days = days_to_mature(within_range(facts.temperature_c), facts.seeded)
        return Place("Mature", "ahead", None, f"about {days_text(days)} after it starts")
    if facts.days_to_mature is None:
        return Place("Mature", "ahead", None, "not within the weeks that the forecast looks at")
    if facts.days_to_mature < 1:
        return Place("Mature", "ahead", None, "by now, as it is reckoned")
    return Place("Mature", "ahead", today + timedelta(days=round(facts.days_to_mature)), "expected")


def next_step(facts: FilterFacts) -> Step | None:
    """The one thing to do now with a filter that is new; None once it has run and was measured."""
    if facts.state == "building":
        return Step("leak_test", "Record its leak test")
    if facts.state == "leak_tested":
        if not may_be_plugged_in(facts):
            return Step("protection_test", "Test the device of its socket")
        return Step("filter_state", "Fill it and start it")
    if facts.state not in RUNNING:
        return None
    if facts.has_pump and facts.last_protection_on is None:
        return Step("protection_test", "Test the device of its socket")
    return Step("bucket_test", "Measure its flow") if first_flow(facts) else None
