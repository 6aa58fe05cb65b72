"""What to do now about a bad reading, computed for one water. Concentrations in mg/L, nitrogen as N; volumes m3.

It advises and is cautious: changing water and not feeding do little harm, waiting may. None of its limits is
published for turtles; see the limits' own sources.
"""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.changes import ALKALINITY_MARGIN, conditioner_words
from enclosures.chemistry import ammonia_from_chloramine_mg_l, change_fraction_to_reach, thiosulfate_g
from enclosures.limits import BOUNDS, WORDS, beyond_words
from refuge.rules.facts import CircuitFacts, TestFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.words import amount

RECENT_DAYS = 14
# A change aims below the limit, so that the next test is not at it again. Common practice, no source.
AIM = 0.8
# From so many times its limit on, animals may be harmed already: the veterinarian is called at once. Assumption.
GRAVE = 4.0
ACUTE = {"unionized", "nitrite", "oxygen", "chlorine"}
UNFED = {"unionized", "nitrite", "oxygen"}  # no food and all the air there is, until a test is good
WASHED_OUT = {"unionized", "nitrite"}  # harm at once, and new water thins them


@dataclass(frozen=True, slots=True)
class Trouble:
    """One reading beyond its limit. factor: how many times beyond, at least 1."""

    name: str
    words: str
    unit: str
    value: float
    limit: float
    is_least: bool
    on: date

    @property
    def factor(self) -> float:
        if self.is_least:
            return self.limit / self.value if self.value > 0 else math.inf
        return self.value / self.limit if self.limit > 0 else math.inf


@dataclass(frozen=True, slots=True)
class Changes:
    """Water to change: `each_m3`, so many times a day apart; `left` says what no change with this source mends."""

    each_m3: float
    share: float
    times: int
    conditioner: str
    conditioner_g: float = 0.0
    left: str = ""


@dataclass(frozen=True, slots=True)
class Help:
    """What a water's bad readings ask for. changes: None where new water does not help."""

    troubles: tuple[Trouble, ...]
    changes: Changes | None
    stop_feeding: bool  # until a test is good again
    needs_air: bool
    dose_g: float  # thiosulfate against chlorine in the water itself
    is_grave: bool

    @property
    def names(self) -> set[str]:
        return {each.name for each in self.troubles}

    @property
    def urgent(self) -> list[Trouble]:
        """Readings that new water mends and that cannot wait for it."""
        return [each for each in self.troubles if each.name in WASHED_OUT]


def troubles_of(facts: CircuitFacts, limits: LimitsFor, today: date) -> tuple[Trouble, ...]:
    """The newest reading of each kind that lies beyond its limit, if it is not two weeks old."""
    found = []
    for name, words, unit, key, is_least in BOUNDS:
        test = _newest(facts.tests, name)
        if test is None or test.on < today - timedelta(days=RECENT_DAYS):
            continue
        value, limit = getattr(test, name), limits[key]
        if value < limit if is_least else value > limit:
            found.append(Trouble(name, words, unit, value, limit, is_least, test.on))
    return tuple(found)


def _newest(tests: tuple[TestFacts, ...], name: str) -> TestFacts | None:
    return next((test for test in tests if getattr(test, name) is not None), None)


def help_for(facts: CircuitFacts, limits: LimitsFor, today: date) -> Help | None:
    """What to do about the bad readings; None when there are none, or the volume is not known."""
    troubles = troubles_of(facts, limits, today)
    if not troubles or facts.volume_m3 <= 0:
        return None
    names = {each.name for each in troubles}
    chlorine = next((each.value for each in troubles if each.name == "chlorine"), 0.0)
    return Help(
        troubles=troubles,
        changes=_changes(troubles, facts, limits),
        stop_feeding=bool(names & UNFED),
        needs_air=bool(names & UNFED),
        dose_g=thiosulfate_g(facts.volume_m3 * 1000, chlorine),
        is_grave=any(each.name in ACUTE and each.factor >= GRAVE for each in troubles),
    )


def _changes(troubles: tuple[Trouble, ...], facts: CircuitFacts, limits: LimitsFor) -> Changes | None:
    """One change, or several a day apart where one would be too much at once."""
    shares = {each.name: share for each in troubles if (share := _share(each, facts)) is not None}
    if not shares:
        return None
    wanted = max(
        min(max(shares.values()), 0.97), min(limits["water.change_share"], limits["water.change_most_share"])
    )
    most = limits["water.change_most_share"]
    times = 1 if wanted <= most else math.ceil(math.log1p(-wanted) / math.log1p(-min(most, 0.95)))
    share = 1 - (1 - wanted) ** (1 / times)
    volume = share * facts.volume_m3
    left = ", ".join(WORDS[each.name] for each in troubles if shares.get(each.name, 0) > 0.97)
    return Changes(volume, share, times, *conditioner_words(facts, volume), left)


def _share(trouble: Trouble, facts: CircuitFacts) -> float | None:
    """Share of the water to renew, 0 to 1, that brings a reading well within its limit; 1 when none is enough."""
    if trouble.name == "unionized":
        return _share_for_ammonia(trouble, facts)
    if trouble.name == "nitrite":
        return change_fraction_to_reach(trouble.value, AIM * trouble.limit, 0.0)
    if trouble.name == "nitrate":
        return _diluted(trouble.value, AIM * trouble.limit, facts.source_nitrate)
    if trouble.name == "alkalinity":
        source, target = facts.source_alkalinity, trouble.limit * ALKALINITY_MARGIN
        if source is None or source <= trouble.value:
            return None
        return (target - trouble.value) / (source - trouble.value) if source > target else 1.0
    return None


def _share_for_ammonia(trouble: Trouble, facts: CircuitFacts) -> float | None:
    """By total ammonia, warmth and pH being what they were; chloramine brings ammonia of its own."""
    test = _newest(facts.tests, "unionized")
    if test is None or not test.tan:
        return None
    brought = (
        ammonia_from_chloramine_mg_l(facts.source_chlorine_mg_l)
        if facts.source_disinfectant == "chloramine"
        else 0.0
    )
    return _diluted(test.tan, test.tan * AIM * trouble.limit / trouble.value, brought)


def _diluted(now: float, target: float, source: float) -> float:
    return change_fraction_to_reach(now, target, source) if source < target < now else 1.0


def steps(help_: Help) -> list[tuple[str, str]]:
    """What to do, in order: (icon, words with marks of amounts)."""
    found = []
    if help_.is_grave:
        found.append(("vet", "Call the veterinarian now: these values may already have harmed the animals."))
    if help_.needs_air:
        found.append(
            (
                "pump",
                "Check that the pump runs and water comes back over the overflow. Give all the air there is.",
            )
        )
    if help_.dose_g:
        found.append(
            (
                "bottle",
                f"Take the chlorine out of the water: {help_.dose_g:.1f} g of sodium thiosulfate (pentahydrate), dissolved, by the return.",
            )
        )
    if help_.stop_feeding:
        found.append(("fish", "Do not feed until a test is good again; take out what was left."))
    found += _change_steps(help_.changes)
    found.append(("vial", _retest_words(help_)))
    return found


def _change_steps(changes: Changes | None) -> list[tuple[str, str]]:
    if changes is None:
        return []
    often = (
        ("", ", and as much again tomorrow")[changes.times - 1]
        if changes.times < 3
        else (f", and as much again on each of the next {changes.times - 1} days")
    )
    once = f"Change {amount(changes.each_m3, 'volume')} now ({changes.share:.0%} of the water){often}."
    warm = "As warm as the water in the tank, slowly."
    left = f" With this source {changes.left} may stay beyond its limit." if changes.left else ""
    return [("exchange", f"{once} {changes.conditioner} {warm}{left}")]


def at_once(changes: Changes) -> tuple[str, dict[str, float]]:
    """The change for whoever is sent to do it: what to do, in words, and what a form is filled in with."""
    words = " ".join(step for _, step in _change_steps(changes))
    return words, {"volume_m3": round(changes.each_m3, 4), "conditioner_g": round(changes.conditioner_g, 2)}


def unfed_words(help_: Help | None) -> str:
    """Why animals in a water are not to be fed just now; empty when they may be."""
    if help_ is None or not help_.stop_feeding:
        return ""
    read = [each for each in help_.troubles if each.name in UNFED]
    return f"No food until a test is good: {read_words(read)}"


def read_words(troubles: Iterable[Trouble]) -> str:
    """Every one as `beyond_words` says it."""
    return "; ".join(
        beyond_words(each.words, each.value, each.unit, each.on, each.limit, each.is_least)
        for each in troubles
    )


def _retest_words(help_: Help) -> str:
    if help_.changes is not None and help_.names & ACUTE:
        return "Test again an hour after the change, and tomorrow before the next one."
    return "Test again tomorrow; two good tests in a row end this."


SIGNS = (
    "It gasps, cannot dive, floats to one side or lies limp.",
    "Eyes or skin are swollen, red or have sores.",
    "It has not eaten for days although the water is good again.",
)
