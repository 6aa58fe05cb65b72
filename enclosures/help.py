"""What a bad reading asks for, computed for one water. Concentrations in mg/L, nitrogen as N; volumes m3.

`enclosures.steps` says it in words. It advises and is cautious: changing water and not feeding do little harm, waiting may. None of its limits is
published for turtles; see the limits' own sources.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.changes import ALKALINITY_MARGIN, ammonia_brought, bicarbonate_words, conditioner_words
from enclosures.chemistry import change_fraction_to_reach, thiosulfate_g
from enclosures.limits import BOUNDS, WORDS
from refuge.rules.facts import CircuitFacts, TestFacts
from refuge.rules.limits import LimitsFor

RECENT_DAYS = 14
# A change aims below the limit, so that the next test is not at it again. Common practice, no source.
AIM = 0.8
# From so many times its limit on, animals may be harmed already: the veterinarian is called at once. Assumption.
GRAVE = 4.0
ACUTE = {"unionized", "nitrite", "oxygen", "chlorine"}
UNFED = {"unionized", "nitrite", "oxygen"}  # no food and all the air there is, until a test is good
THINNED = {"unionized", "nitrite", "nitrate"}
WASHED_OUT = {"unionized", "nitrite"}  # harm at once, and new water thins them
# No more than this of what a source can mend: the rest takes ever more water for ever less. Assumption.
MOST_WANTED = 0.97
WANTED_WHERE_NONE_IS_ENOUGH = 0.8


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
    def is_high_ph(self) -> bool:
        return self.name == "ph" and not self.is_least

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
    """What a water's bad readings ask for. changes: None where new water does not help.

    unmended: readings that new water usually thins, but this source carries as much itself. bicarbonate: what is
    lacking in alkalinity after the change, in words; empty where nothing is.
    """

    troubles: tuple[Trouble, ...]
    changes: Changes | None
    unmended: tuple[Trouble, ...]
    bicarbonate: str
    source_name: str
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
        return [each for each in self.troubles if each.name in WASHED_OUT and each not in self.unmended]


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
    shares = {each: share for each in troubles if (share := _share(each, facts)) is not None}
    changes = _changes(shares, facts, limits) if shares else None
    return Help(
        troubles=troubles,
        changes=changes,
        unmended=tuple(each for each in troubles if each.name in THINNED and each not in shares),
        bicarbonate=_bicarbonate(names, changes, facts, limits),
        source_name=facts.source_name,
        stop_feeding=bool(names & UNFED),
        needs_air=bool(names & UNFED),
        dose_g=thiosulfate_g(facts.volume_m3 * 1000, chlorine),
        is_grave=any(each.name in ACUTE and each.factor >= GRAVE for each in troubles),
    )


def _bicarbonate(names: set[str], changes: Changes | None, facts: CircuitFacts, limits: LimitsFor) -> str:
    if "alkalinity" not in names:
        return ""
    renewed = 1 - (1 - changes.share) ** changes.times if changes else 0.0
    return bicarbonate_words(facts, limits, renewed)


def _changes(shares: dict[Trouble, float], facts: CircuitFacts, limits: LimitsFor) -> Changes:
    """One change, or several a day apart where one would be too much at once."""
    most = limits["water.change_most_share"]
    wanted = max(_wanted(max(shares.values())), min(limits["water.change_share"], most))
    times = 1 if wanted <= most else math.ceil(math.log1p(-wanted) / math.log1p(-min(most, 0.95)))
    share = 1 - (1 - wanted) ** (1 / times)
    volume = share * facts.volume_m3
    left = ", ".join(WORDS[each.name] for each, wished in shares.items() if wished > MOST_WANTED)
    return Changes(volume, share, times, *conditioner_words(facts, volume), left)


def _wanted(share: float) -> float:
    return WANTED_WHERE_NONE_IS_ENOUGH if share >= 1 else min(share, MOST_WANTED)


def _share(trouble: Trouble, facts: CircuitFacts) -> float | None:
    """Share of the water to renew, 0 to 1, that brings a reading well within its limit.

    1 when none is enough; None when new water of this source does not mend it at all.
    """
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
    return _diluted(test.tan, test.tan * AIM * trouble.limit / trouble.value, ammonia_brought(facts))


def _diluted(now: float, target: float, source: float) -> float | None:
    if source >= now:
        return None
    return change_fraction_to_reach(now, target, source) if source < target else 1.0
