"""What a bad reading asks for, computed for one water. Concentrations in mg/L, nitrogen as N; volumes m3.

`enclosures.steps` says it in words. It advises and is cautious: not feeding does little harm, waiting may. None of
its limits is published for turtles; see the limits' own sources.

A sour water is the one that a large change harms: acid holds its ammonia harmless, and new water, which lifts pH,
sets it free. It is changed in small shares, after the animals are out or the ammonia is bound.
"""

import math
from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.changes import ALKALINITY_MARGIN, ammonia_brought, bicarbonate_words, conditioner_words
from enclosures.chemistry import (
    ammonia_from_chloramine_mg_l,
    change_fraction_to_reach,
    thiosulfate_g,
    unionized_ammonia_mg_l,
)
from enclosures.limits import BOUNDS, WORDS
from refuge.rules.facts import CircuitFacts, TestFacts
from refuge.rules.limits import LimitsFor

RECENT_DAYS = 14
CHANGED_SHARE = 0.02  # less than this is no change that a test would show
STALE_DAYS = 2  # older than this, a reading is taken anew before anything is done by it: common practice
# Without these nobody can say that a water is well. Oxygen harms sooner, but few refuges can read it.
HARMS_SOON = (("unionized", "ammonia, with pH and temperature"), ("nitrite", "nitrite"))
# A change aims below the limit, so that the next test is not at it again. Common practice, no source.
AIM = 0.8
# From so many times its limit on, animals may be harmed already: the veterinarian is called at once. Assumption.
GRAVE = 4.0
ACUTE = {"unionized", "tan", "nitrite", "oxygen", "chlorine"}
AMMONIA = {"unionized", "tan"}
UNFED = ACUTE  # no food until a test is good
THINNED = {"unionized", "tan", "nitrite", "nitrate"}
WASHED_OUT = {"unionized", "tan", "nitrite"}  # harm soon, and new water thins them
BREATHED = {"unionized", "nitrite", "oxygen"}  # what all the air there is helps against
# No more than this of what a source can mend: the rest takes ever more water for ever less. Assumption.
MOST_WANTED = 0.97
WANTED_WHERE_NONE_IS_ENOUGH = 0.8
# Sour: below this pH, with ammonia that would be beyond its limit at the pH of most new water. Such a water is
# changed by a tenth a day, for a week at the most before it is judged again. Common practice, no source.
SOUR_PH, USUAL_PH = 7.0, 8.0
SOUR_SHARE, SOUR_TIMES = 0.1, 7


@dataclass(frozen=True, slots=True)
class Trouble:
    """One reading beyond its limit. now: what is left of it, by the sums, after the changes since."""

    name: str
    words: str
    unit: str
    value: float
    limit: float
    is_least: bool
    on: date
    now: float

    @property
    def is_mended(self) -> bool:
        """Whether the changes since should have brought it within its limit."""
        return self.now >= self.limit if self.is_least else self.now <= self.limit

    @property
    def shown(self) -> str:
        """The value with no more digits than a kit has."""
        return f"{self.value:.3g}"

    @property
    def is_high_ph(self) -> bool:
        return self.name == "ph" and not self.is_least

    @property
    def factor(self) -> float:
        """How many times beyond its limit it was read, at least 1."""
        if self.is_least:
            return self.limit / self.value if self.value > 0 else math.inf
        return self.value / self.limit if self.limit > 0 else math.inf


@dataclass(frozen=True, slots=True)
class Changes:
    """Water to change: `each_m3` (0: the volume is not known), so many times a day apart.

    left: what no change with this source brings within its limit, in words.
    """

    each_m3: float
    share: float
    times: int
    conditioner: str
    conditioner_g: float = 0.0
    left: str = ""


@dataclass(frozen=True, slots=True)
class Help:
    """What a water's bad readings ask for. changes: None where new water does not help, or did already.

    unmended: readings that new water usually thins, but this source carries as much itself. bicarbonate: what is
    lacking in alkalinity after the change, in words; empty where nothing is. stale_days: age of the readings where
    they are too old to act on at once. renewed: share of the water changed since (0 to 1). dose_g: thiosulfate
    against chlorine in the water itself; freed: ammonia [mg N/L] that it leaves behind where that is chloramine.
    lacks_ph: ammonia is bad and its own test left out pH; by_ph: that of another test, which it was judged by, if any.
    """

    troubles: tuple[Trouble, ...]
    changes: Changes | None
    unmended: tuple[Trouble, ...]
    bicarbonate: str
    source_name: str
    stop_feeding: bool  # until a test is good again
    needs_air: bool
    dose_g: float
    freed: float
    is_grave: bool
    is_sour: bool
    stale_days: int
    renewed: float
    lacks_ph: bool
    by_ph: float | None
    is_changed_today: bool  # so that the next change waits for tomorrow, unless a test since reads gravely

    @property
    def names(self) -> set[str]:
        return {each.name for each in self.troubles}

    @property
    def urgent(self) -> list[Trouble]:
        """Readings that more new water mends and that cannot wait for it."""
        bad = [each for each in self.troubles if each.name in WASHED_OUT and not each.is_mended]
        return [each for each in bad if each not in self.unmended]


def troubles_of(facts: CircuitFacts, limits: LimitsFor, today: date) -> tuple[Trouble, ...]:
    """The newest reading of each kind that lies beyond its limit, if it is not two weeks old."""
    found = []
    for name, words, unit, key, is_least in BOUNDS:
        test = _newest(facts.tests, name)
        if test is None or test.on < today - timedelta(days=RECENT_DAYS):
            continue
        value, limit = getattr(test, name), limits[key]
        if value < limit if is_least else value > limit:
            now = _mixed(name, test, facts)
            found.append(Trouble(name, words, unit, value, limit, is_least, test.on, now))
    return tuple(found)


def unread(facts: CircuitFacts, today: date) -> tuple[str, ...]:
    """What harms soon and was not read in the last two weeks, in words: nobody knows whether it is well."""
    since = today - timedelta(days=RECENT_DAYS)
    return tuple(words for name, words in HARMS_SOON if not _is_read(_newest(facts.tests, name), since))


def _is_read(test: TestFacts | None, since: date) -> bool:
    return test is not None and test.on >= since


def _newest(tests: tuple[TestFacts, ...], name: str) -> TestFacts | None:
    return next((test for test in tests if getattr(test, name) is not None), None)


def _mixed(name: str, test: TestFacts, facts: CircuitFacts) -> float:
    """A reading after the changes since, which thinned it or brought what the source carries."""
    value: float = getattr(test, name)
    source = {
        "unionized": _unionized_brought(test, facts),
        "tan": ammonia_brought(facts),
        "nitrite": 0.0,
        "nitrate": facts.source_nitrate,
        "alkalinity": facts.source_alkalinity,
    }.get(name)
    return value if source is None else value + (source - value) * test.renewed_since


def _unionized_brought(test: TestFacts, facts: CircuitFacts) -> float:
    """The source's ammonia at the pH and warmth of the water, which a change is taken to leave as they are."""
    return ammonia_brought(facts) * (test.unionized or 0.0) / test.tan if test.tan else 0.0


def help_for(facts: CircuitFacts, limits: LimitsFor, today: date) -> Help | None:
    """What to do about the bad readings; None when there are none."""
    troubles = troubles_of(facts, limits, today)
    if not troubles:
        return None
    names = {each.name for each in troubles}
    sour = _is_sour(facts, limits)
    shares = {each: share for each in troubles if (share := _share(each, facts)) is not None}
    changes = _changes(shares, facts, limits, sour) if shares else None
    chlorine = next((each.value for each in troubles if each.name == "chlorine"), 0.0)
    newest = max(each.on for each in troubles)
    grave = any(each.name in ACUTE and each.factor >= GRAVE for each in troubles)
    renewed = max((test.renewed_since for test in facts.tests if test.on == newest), default=0.0)
    return Help(
        troubles=troubles,
        changes=changes,
        unmended=tuple(each for each in troubles if _is_unmended(each, shares)),
        bicarbonate="" if sour else _bicarbonate(names, changes, facts, limits),
        source_name=facts.source_name,
        stop_feeding=sour or bool(names & UNFED),
        needs_air=bool(names & BREATHED),
        dose_g=thiosulfate_g(facts.volume_m3 * 1000, chlorine),
        freed=ammonia_from_chloramine_mg_l(chlorine) if facts.source_disinfectant == "chloramine" else 0.0,
        is_grave=grave,
        is_sour=sour,
        stale_days=(today - newest).days if (today - newest).days > STALE_DAYS else 0,
        renewed=renewed,
        lacks_ph=bool(names & AMMONIA) and _lacks_ph(facts),
        by_ph=_by_ph(facts),
        is_changed_today=facts.last_change_on == today and not (grave and renewed < CHANGED_SHARE),
    )


def _lacks_ph(facts: CircuitFacts) -> bool:
    """Whether nobody read pH on the day of the newest ammonia, nor since."""
    test, of_ph = _newest(facts.tests, "tan"), _newest(facts.tests, "ph")
    return test is not None and (of_ph is None or of_ph.on < test.on)


def _by_ph(facts: CircuitFacts) -> float | None:
    test = _newest(facts.tests, "tan")
    return test.unionized_ph if test else None


def _is_sour(facts: CircuitFacts, limits: LimitsFor) -> bool:
    """Whether acid keeps ammonia harmless that would harm at the pH of most new water.

    By the pH that its ammonia was judged by, or by the newest one: a test of pH alone may have found it sour since.
    """
    test, of_ph = _newest(facts.tests, "tan"), _newest(facts.tests, "ph")
    read = [test.unionized_ph if test else None, of_ph.ph if of_ph else None]
    known = [ph for ph in read if ph is not None]
    if test is None or test.tan is None or not known or min(known) >= SOUR_PH:
        return False
    freed = unionized_ammonia_mg_l(test.tan, test.unionized_temperature_c or 0.0, USUAL_PH)
    return freed > limits["water.unionized_mg_l"]


def _is_unmended(trouble: Trouble, shares: dict[Trouble, float]) -> bool:
    return trouble.name in THINNED and trouble not in shares and not trouble.is_mended


def _bicarbonate(names: set[str], changes: Changes | None, facts: CircuitFacts, limits: LimitsFor) -> str:
    if "alkalinity" not in names or facts.volume_m3 <= 0:
        return ""
    renewed = 1 - (1 - changes.share) ** changes.times if changes else 0.0
    return bicarbonate_words(facts, limits, renewed)


def _changes(shares: dict[Trouble, float], facts: CircuitFacts, limits: LimitsFor, sour: bool) -> Changes:
    """One change, or several a day apart where one would be too much at once."""
    most = min(limits["water.change_most_share"], 0.95)
    wanted = _wanted(max(shares.values()))
    if sour:
        times = min(_times(wanted, SOUR_SHARE), SOUR_TIMES)
        share = min(SOUR_SHARE, most)
    else:
        wanted = max(wanted, min(limits["water.change_share"], most))
        times = _times(wanted, most)
        share = 1 - (1 - wanted) ** (1 / times)
    volume = float(f"{share * facts.volume_m3:.3g}")  # nobody measures it finer
    left = ", ".join(WORDS[each.name] for each, wished in shares.items() if wished >= 1)
    return Changes(volume, share, times, *conditioner_words(facts, volume), left)


def _times(wanted: float, most: float) -> int:
    """How many changes of at most so much renew the share wanted."""
    return 1 if wanted <= most else math.ceil(math.log1p(-wanted) / math.log1p(-most))


def _wanted(share: float) -> float:
    return WANTED_WHERE_NONE_IS_ENOUGH if share >= 1 else min(share, MOST_WANTED)


def _share(trouble: Trouble, facts: CircuitFacts) -> float | None:
    """Share of the water to renew, 0 to 1, that brings a reading well within its limit.

    1 when none is enough; None when new water of this source does not mend it at all, or has done so.
    """
    if trouble.is_mended:
        return None
    if trouble.name in THINNED:
        return _diluted(trouble.now, AIM * trouble.limit, _source_of(trouble, facts))
    if trouble.name == "alkalinity":
        return _share_for_alkalinity(trouble, facts.source_alkalinity)
    return None


def _source_of(trouble: Trouble, facts: CircuitFacts) -> float:
    """What new water carries of it; un-ionized ammonia at the water's own pH and warmth."""
    if trouble.name == "unionized":
        test = _newest(facts.tests, "unionized")
        return _unionized_brought(test, facts) if test else 0.0
    brought = {"tan": ammonia_brought(facts), "nitrite": 0.0, "nitrate": facts.source_nitrate}
    return brought[trouble.name]


def _diluted(now: float, target: float, source: float) -> float | None:
    if source >= now:
        return None
    return change_fraction_to_reach(now, target, source) if source < target else 1.0


def _share_for_alkalinity(trouble: Trouble, source: float | None) -> float | None:
    """Up to some more than the limit, or half of what the source has above it."""
    if source is None or source <= trouble.now:
        return None
    if source <= trouble.limit:
        return 1.0
    target = min(trouble.limit * ALKALINITY_MARGIN, (trouble.limit + source) / 2)
    return (target - trouble.now) / (source - trouble.now)
