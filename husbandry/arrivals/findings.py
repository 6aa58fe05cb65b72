"""What speaks for and against one place for a newcomer, in words with their numbers.

Each look below yields findings of one kind; those against carry the points that husbandry.arrivals names.
"""

from collections.abc import Iterable, Iterator
from dataclasses import fields, replace
from datetime import date
from typing import Any

from enclosures.limits import BOUNDS, beyond
from husbandry.arrivals.newcomer import (
    Candidate,
    Case,
    Finding,
    Newcomer,
    Place,
    load_after,
    points,
    setbacks,
)
from husbandry.space import least_space
from refuge.rules.facts import RUNNING, AnimalFacts, CircuitFacts, FilterFacts, TestFacts
from refuge.rules.triggers import day_text, days_text
from refuge.rules.words import load_words

OLD_READING_DAYS = 30


def judge(case: Case) -> Candidate:
    """Everything that speaks for and against one place."""
    place, newcomer = case.place, case.newcomer
    findings = tuple(_blocks(place)) or tuple(each for look in LOOKS for each in look(case))
    return Candidate(
        place=place,
        findings=tuple(sorted(findings, key=lambda each: -each.weight)),
        setbacks=setbacks(place.sharing, case.today),
        load_before=place.circuit.load_share,
        load_after=load_after(place.circuit, newcomer.diet),
    )


def _blocks(place: Place) -> Iterator[Finding]:
    if not place.in_use:
        yield Finding("blocks", "Not in use")
    if place.volume_m3 <= 0:
        yield Finding("blocks", "No water volume: enter its sizes first")


def _against(name: str, words: str, extra: float = 0.0) -> Finding:
    return Finding("against", words, points(name) + extra)


def _unknown(words: str) -> Finding:
    return Finding("unknown", words, points("unknown"))


def _names(animals: Iterable[AnimalFacts], most: int = 3) -> str:
    labels = [each.label for each in animals]
    more = f" and {len(labels) - most} more" if len(labels) > most else ""
    return ", ".join(labels[:most]) + more


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def _purpose(case: Case) -> Iterator[Finding]:
    kept_for = f"Kept for {'residents' if case.place.purpose == 'resident' else case.place.purpose}"
    if case.newcomer.quarantine_days is not None:
        yield _purpose_in_quarantine(case.place.purpose, kept_for)
        return
    young = _is_young(case.newcomer)
    if case.place.purpose == "resident" or (case.place.purpose == "nursery" and young):
        yield Finding("for", kept_for)
    elif case.place.purpose == "nursery":
        why = "this one is grown" if young is False else "whether this one is young is not known"
        yield _against("near_purpose", f"{kept_for}; {why}")
    else:
        yield _against("wrong_purpose", f"{kept_for}: the next animal that needs it would find it taken")


def _purpose_in_quarantine(purpose: str, kept_for: str) -> Finding:
    if purpose == "quarantine":
        return Finding("for", kept_for)
    name = "near_purpose" if purpose == "hospital" else "wrong_purpose"
    return _against(name, f"{kept_for}, not for quarantine")


def _is_young(newcomer: Newcomer) -> bool | None:
    """Below half of the usual adult weight; None when either weight is not known."""
    if newcomer.mass_kg is None or newcomer.adult_mass_kg is None:
        return None
    return newcomer.mass_kg < newcomer.adult_mass_kg / 2


def _company(case: Case) -> Iterator[Finding]:
    living = case.place.living_in
    if not living:
        yield Finding("for", "Free: nobody lives in it")
        return
    words = f"{_count(len(living), 'animal')} in it already: {_names(living)}. Large turtles bite"
    yield _against("company", words, points("company_each", len(living)))


def _shared_water(case: Case) -> Iterator[Finding]:
    sharing = case.place.sharing
    wants_quarantine = case.newcomer.quarantine_days is not None
    residents = [each for each in sharing if each.quarantine is None]
    sitting_out = [each for each in sharing if each.quarantine is not None]
    if not sharing:
        yield Finding("for", "No other animal shares its water")
    if wants_quarantine and not case.place.circuit.is_quarantine:
        yield _against("not_set_apart", "Its water is not set apart for quarantine")
    if wants_quarantine and residents:
        yield _against("residents_exposed", _exposed_words(residents))
    if sitting_out and not wants_quarantine:
        words = (
            f"In quarantine in the same water: {_names(sitting_out)}. What they carry reaches the newcomer"
        )
        yield _against("newcomer_exposed", words)
    yield from _restarts(sitting_out, case.today)


def _exposed_words(residents: list[AnimalFacts]) -> str:
    return (
        f"Its water is shared with {_count(len(residents), 'animal')} not in quarantine ({_names(residents)}): "
        "what the newcomer carries reaches them"
    )


def _restarts(sitting_out: list[AnimalFacts], today: date) -> Iterator[Finding]:
    costs = setbacks(sitting_out, today)
    for cost in costs:
        words = (
            f"The quarantine of {cost.animal} starts anew: {_count(cost.days_lost, 'day')} lost, "
            f"planned end {day_text(cost.ends_on)} instead of {day_text(cost.ended_on)}"
        )
        yield _against("restart", words, points("restart_day", cost.days_lost))
    if unharmed := len(sitting_out) - len(costs):
        words = f"{_count(unharmed, 'animal')} in quarantine in the same water; the end of it stays"
        yield _against("quarantine_company", words)


def _space(case: Case) -> Iterator[Finding]:
    known = [length for length in case.place.carapaces_m if length is not None]
    missing = len(case.place.carapaces_m) - len(known)
    if case.newcomer.carapace_m is None:
        yield _unknown("Whether there is room is not known: measure the newcomer's shell")
    elif missing:
        who = "animal" if missing == 1 else "animals"
        yield _unknown(f"Whether there is room is not known: measure the shell of {missing} {who} in it")
    lengths = [*known, case.newcomer.carapace_m] if case.newcomer.carapace_m is not None else known
    if not lengths:
        return
    least = least_space(lengths)
    yield from _surface(case, least.surface_m2, len(lengths))
    yield from _depth(case, least.depth_m)


def _surface(case: Case, wanted: float, animals: int) -> Iterator[Finding]:
    has = case.place.surface_m2
    words = f"{case.show(has, 'area')} of water; the benchmark minimum for {_count(animals, 'animal')} is {case.show(wanted, 'area')}"
    if has < wanted:
        yield _against("small", words, points("small_share", 1 - has / wanted))
    elif case.newcomer.carapace_m is not None:
        yield Finding("for", words)


def _depth(case: Case, wanted: float) -> Iterator[Finding]:
    has = case.place.depth_m
    if has < wanted:
        words = f"{case.show(has, 'length')} deep; the benchmark minimum is {case.show(wanted, 'length')}"
        yield _against("shallow", words, points("shallow_share", 1 - has / wanted))


def _load(case: Case) -> Iterator[Finding]:
    circuit, newcomer = case.place.circuit, case.newcomer
    if newcomer.diet is None:
        yield _unknown(f"The load it brings is not known: {_load_lacks(newcomer)}")
    if circuit.load_share is None:
        yield _without_capacity(case.place)
        return
    after = load_after(circuit, newcomer.diet)
    share = circuit.load_share if after is None else after  # at least what is there already
    words = _load_words(circuit, after)
    if share > 1:
        yield _against("overload", words, points("overload_share", min(share - 1, 1.5)))
    elif share > 0.8:
        yield Finding("against", words, points("near_full", (share - 0.8) / 0.2))
    elif after is not None:
        yield Finding("for", words)


def _load_lacks(newcomer: Newcomer) -> str:
    """What to do so that the load becomes known."""
    lacks = ["enter its weight"] if newcomer.mass_kg is None else []
    lacks += [] if newcomer.food else ["choose its food"]
    return " and ".join(lacks) or "enter what a meal weighs and how often it gets one"


def _load_words(circuit: CircuitFacts, after: float | None) -> str:
    now = f"Filter load now: {load_words(circuit.load_share or 0.0, grown=circuit.grown_share)}"
    if after is not None:
        now += f". With the newcomer: {load_words(after, grown=circuit.grown_share)}"
    load = circuit.tan_g_day if after is None else after * (circuit.capacity_tan_g_day or 0.0)
    can = _grams(circuit.capacity_tan_g_day or 0.0)
    return f"{now} ({_grams(load)} of {can} g ammonia nitrogen a day)"


def _grams(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}"


def _without_capacity(place: Place) -> Finding:
    running = [each for each in place.filters if each.state in RUNNING]
    if any(not each.has_layers for each in running):
        return Finding(
            "unknown", "What its filter can carry is not known: enter its media layers", points("no_filter")
        )
    if place.filters:
        return _against("no_filter", f"No filter runs on its water: {_states(place.filters)}")
    return _against("no_filter", "No filter on its water")


def _states(filters: Iterable[FilterFacts]) -> str:
    words = {"building": "being built", "leak_tested": "leak-tested, not started"}
    return ", ".join(f"{each.label} is {words.get(each.state, each.state)}" for each in filters)


def _growing(case: Case) -> Iterator[Finding]:
    growing = [each for each in case.place.filters if each.state in {"cycling", "disturbed"}]
    if not growing:
        return
    words = _states(growing) + _carried(case.place)
    ahead = [each.days_to_mature for each in growing if each.days_to_mature]
    if ahead:
        words += f", expected in about {days_text(max(ahead))}"
    yield _against("growing", words)


def _carried(place: Place) -> str:
    """What all filters of the water carry, today and once mature: their facts are known together only."""
    today, mature = place.circuit.capacity_tan_g_day, place.circuit.mature_capacity_tan_g_day
    if not mature:
        return ""
    names = [each.label for each in place.filters]
    who = "it carries" if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]} together carry"
    then = "once mature" if len(names) == 1 else "once all are mature"
    return f": {who} {_grams(today or 0.0)} g ammonia nitrogen a day today, {_grams(mature)} g {then}"


def _temperature(case: Case) -> Iterator[Finding]:
    low, high, circuit = case.newcomer.low_c, case.newcomer.high_c, case.place.circuit
    if low is None and high is None:
        yield _unknown("The temperatures this species needs are not entered")
        return
    read_on = next((test.on for test in circuit.tests if test.temperature_c is not None), None)
    when = f"on {day_text(read_on)}" if read_on else "as a rule; not measured lately"
    water = f"Water {case.show(circuit.temperature_c, 'temperature')} {when}"
    off = _degrees_off(circuit.temperature_c, low, high)
    range_ = f"the species is kept at {_range(case, low, high)}"
    if off > 0:
        yield _against("temperature", f"{water}; {range_}", points("temperature_degree", off))
    else:
        yield Finding("for", f"{water}; {range_}")


def _degrees_off(now: float, low: float | None, high: float | None) -> float:
    below = low - now if low is not None else 0.0
    above = now - high if high is not None else 0.0
    return max(below, above, 0.0)


def _range(case: Case, low: float | None, high: float | None) -> str:
    if low is None or high is None:
        bound = "at most " if low is None else "at least "
        return bound + case.show(high if low is None else low, "temperature")
    return f"{case.show(low, 'temperature')} to {case.show(high, 'temperature')}"


def _water(case: Case) -> Iterator[Finding]:
    tests = case.place.circuit.tests
    if not tests:
        yield _unknown("Its water was never tested")
        return
    age = (case.today - tests[0].on).days
    if age > case.limits["water.interval_light_days"]:
        yield _unknown(f"Its water was last tested {_count(age, 'day')} ago: test it first")
    bad = list(_bad_readings(case))
    for words in bad:
        yield _against("bad_reading", words)
    if not bad and age <= case.limits["water.interval_light_days"]:
        yield Finding("for", f"Readings within their limits on {day_text(tests[0].on)}")


def _bad_readings(case: Case) -> Iterator[str]:
    """What the newest reading of each kind shows beyond its limit, unless it is too old to count."""
    for name in dict.fromkeys(bound[0] for bound in BOUNDS):
        newest = next((test for test in case.place.circuit.tests if getattr(test, name) is not None), None)
        if newest is not None and (case.today - newest.on).days <= OLD_READING_DAYS:
            yield from beyond(_only(newest, name), case.limits)


def _only(test: TestFacts, name: str) -> TestFacts:
    rest: dict[str, Any] = {each.name: None for each in fields(test) if each.name not in {"on", name}}
    return replace(test, **rest)


LOOKS = (_purpose, _shared_water, _company, _load, _growing, _space, _temperature, _water)
