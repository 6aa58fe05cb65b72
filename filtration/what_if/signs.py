"""What the facts tell of a change before any forecast does: a quarantine set back, a water without a filter, a stop.

Plain Python. Common practice, no source, where no other is named; the veterinarian decides about the animals.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from filtration.harms.advice import MUCH_LEFT, Step, steps
from filtration.survival import stood_still
from filtration.what_if.changes import Change, StoppedPump
from filtration.what_if.facts import NEW
from refuge.rules.facts import RUNNING, AnimalFacts, CircuitFacts, Facts
from refuge.rules.triggers import day_text

NAMED = 4  # names that are said one by one; of the others only how many
NO_LOSS = 0.95  # a stop that leaves so much (0 to 1) of the bacteria is as good as none
SMALLEST_LOAD = 0.05  # g TAN a day that is said
UNFILTERED: tuple[Step, ...] = (
    ("vial", "Test ammonia, nitrite and pH every day, and before each meal."),
    (
        "fish",
        "Give no food, or little of it. Whatever is eaten stays in the water as ammonia; ask the veterinarian about young "
        "or sick animals.",
    ),
    ("exchange", "Change water as the tests ask. Nothing else takes the ammonia out."),
    ("move", "Move the animals to a water whose filter carries them. Or set another filter going first."),
)


@dataclass(frozen=True, slots=True)
class Sign:
    """One thing to know. kind: a state of the look; steps: what to do, each with an icon.

    is_first: it goes before whatever the forecast says, else only before what is no danger.
    """

    kind: str
    words: str
    more: str = ""
    steps: Sequence[Step] = ()
    is_first: bool = True


def signs(
    before: Facts, after: Facts, circuit_id: int, changes: Iterable[Change], *, quiet_tests: int
) -> list[Sign]:
    """Gravest first. after: with the changes made; quiet_tests: near-zero tests in a row that end a harm."""
    stops = (each for each in changes if isinstance(each, StoppedPump))
    return [
        *_quarantine(before, after),
        *_unfiltered(before, after, circuit_id),
        *(_stopped(each, quiet_tests) for each in stops),
    ]


def has_filter(facts: Facts, circuit_id: int) -> bool:
    """Whether any filter of a water runs."""
    return any(unit.circuit_id == circuit_id and unit.state in RUNNING for unit in facts.filter.values())


def _quarantine(before: Facts, after: Facts) -> Iterator[Sign]:
    """Quarantines that would end later, and who would come to share water with an animal in one."""
    late = [each for each in after.animal.values() if _is_set_back(before.animal.get(each.id), each)]
    exposed = [each for each in after.animal.values() if _is_exposed(each, before, after)]
    decides = "The veterinarian decides who may share water."
    risk = f"Exposed to a quarantine: {named(exposed)}" if exposed else ""
    if late:
        more = f"{risk}. {decides}" if risk else decides
        yield Sign("act", _set_back_words(late, before), more)
    elif exposed:
        yield Sign("act", risk, decides)


def _is_set_back(old: AnimalFacts | None, new: AnimalFacts) -> bool:
    if old is None or old.quarantine is None or new.quarantine is None:
        return False
    return new.quarantine.ends_on > old.quarantine.ends_on


def _is_exposed(animal: AnimalFacts, before: Facts, after: Facts) -> bool:
    """Not in quarantine itself, and on one water with an animal in it that was on none with it before."""
    if animal.quarantine is not None:
        return False
    was_on = before.animal[animal.id].circuit_id if animal.id in before.animal else None
    return any(
        other.quarantine is not None
        and other.circuit_id == animal.circuit_id
        and (other.id not in before.animal or before.animal[other.id].circuit_id != was_on)
        for other in after.animal.values()
    )


def _set_back_words(late: Sequence[AnimalFacts], before: Facts) -> str:
    """'Quarantine starts anew for T1 Gudgeon: it would end on 25 Nov 2027 instead of 21 Aug 2027'."""
    new = max(each.quarantine.ends_on for each in late if each.quarantine)
    was = (before.animal[each.id].quarantine for each in late)
    old = max(each.ends_on for each in was if each)
    return f"Quarantine starts anew for {named(late)}: it would end on {day_text(new)} instead of {day_text(old)}"


def named(animals: Sequence[AnimalFacts]) -> str:
    """'T1 Gudgeon, T2 Moss and 3 more'."""
    first, others = [each.label for each in animals[:NAMED]], len(animals) - NAMED
    if others > 0:
        return f"{', '.join(first)} and {others} more"
    return " and ".join([", ".join(first[:-1]), first[-1]]) if len(first) > 1 else "".join(first)


def _unfiltered(before: Facts, after: Facts, circuit_id: int) -> Iterator[Sign]:
    """The water, or what is split off it, with no running filter any more."""
    if not has_filter(before, circuit_id):
        return
    for pk, who in ((circuit_id, ""), (NEW, "What is split off: ")):
        water = after.circuit.get(pk)
        if water is not None and not has_filter(after, pk):
            yield _no_filter(water, who)


def _no_filter(water: CircuitFacts, who: str) -> Sign:
    if not water.animals:
        return Sign("watch", f"{who}No filter runs, and nobody lives in it")
    lives = "1 animal lives" if water.animals == 1 else f"{water.animals} animals live"
    load = f" of {water.tan_g_day:.1f} g TAN a day" if water.tan_g_day >= SMALLEST_LOAD else ""
    head = f"{who}No filter: carries 0{load}, and {lives} in it"
    return Sign("act", head, steps=UNFILTERED)


def _stopped(stop: StoppedPump, quiet_tests: int) -> Sign:
    """Never good news: even where some value gains by it, the animals lose flow, oxygen and much of the filter."""
    hours = f"Pumps off for {stop.hours} hour{'' if stop.hours == 1 else 's'}"
    if stop.left >= NO_LOSS:
        return Sign("watch", f"{hours}: the filter keeps its bacteria, as far as can be told", is_first=False)
    told = steps("no_flow", stood_still(stop.hours), quiet_tests=quiet_tests, hours=float(stop.hours))
    kind = "watch" if stop.left > MUCH_LEFT else "act"
    words = f"{hours}: about {stop.left * 100:.0f}\u00a0% of the filter's bacteria would be left"
    return Sign(kind, words, steps=_planned(told), is_first=False)


def _planned(told: Sequence[Step]) -> list[Step]:
    """The same for a stop that is only planned: nobody need find out why."""
    return [step for step in told if not step[1].startswith("Find out why")]
