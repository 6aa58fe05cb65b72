"""How a water stands: each reading against its limits, and the worst of them. Plain sums, no Django.

Concentrations in mg/L, nitrogen as N, temperatures in degrees Celsius.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from enclosures.limits import BOUNDS, WORDS
from refuge.rules.facts import CircuitFacts, Reading
from refuge.rules.limits import LimitsFor

GOOD, WATCH, ACT, UNKNOWN = "good", "watch", "act", "unknown"
WORSE = {GOOD: 0, UNKNOWN: 1, WATCH: 2, ACT: 3}
# What is said to be near a limit: within this share of it, or of the span between two. Common practice.
NEAR_SHARE = 0.2
# A reading that missed its turn twice says nothing about today. Common practice.
TURNS_MISSED = 2
FULLER_PANEL = {"nitrate", "alkalinity"}

NAMES = ("unionized", "tan", "nitrite", "nitrate", "alkalinity", "ph", "oxygen", "chlorine")


@dataclass(frozen=True, slots=True)
class Judged:
    """One kind of reading today: its newest value, its limits (either may be absent), and how it stands."""

    name: str
    label: str
    unit: str
    reading: Reading | None
    low: float | None
    high: float | None
    state: str
    words: str

    @property
    def limit_words(self) -> str:
        """'6.5 to 8.5', 'at most 0.05', 'at least 80'."""
        if self.low is not None and self.high is not None:
            return f"{self.low:g} to {self.high:g}"
        return f"at most {self.high:g}" if self.low is None else f"at least {self.low:g}"


def latest_readings(facts: CircuitFacts) -> dict[str, Reading | None]:
    """The newest reading of each kind among the facts' tests, and of nitrate and alkalinity however old."""
    found: dict[str, Reading | None] = {
        name: next(
            (Reading(value, test.on) for test in facts.tests if (value := getattr(test, name)) is not None),
            None,
        )
        for name in NAMES
    }
    found["nitrate"] = found["nitrate"] or facts.nitrate
    found["alkalinity"] = found["alkalinity"] or facts.alkalinity
    return found


def bounds_of(name: str, limits: LimitsFor) -> tuple[str, str, float | None, float | None]:
    """(label, unit, lowest, highest) allowed of one kind of reading, by the limits in force."""
    low = high = None
    label = unit = ""
    for key_name, label_, unit_, key, is_least in BOUNDS:
        if key_name == name:
            label, unit = label_, unit_
            low, high = (limits[key], high) if is_least else (low, limits[key])
    return label, unit, low, high


def judge(facts: CircuitFacts, limits: LimitsFor, today: date) -> list[Judged]:
    """Every kind of reading with limits, as it stands today."""
    readings = latest_readings(facts)
    return [_judged(name, readings[name], limits, today) for name in NAMES]


def _judged(name: str, reading: Reading | None, limits: LimitsFor, today: date) -> Judged:
    label, unit, low, high = bounds_of(name, limits)
    turn = limits["water.panel_days" if name in FULLER_PANEL else "water.interval_light_days"]
    state, words = how_it_stands(reading, low, high, today - timedelta(days=TURNS_MISSED * turn))
    return Judged(name, label, unit, reading, low, high, state, words)


def how_it_stands(
    reading: Reading | None, low: float | None, high: float | None, oldest: date
) -> tuple[str, str]:
    """(state, words) of one reading between its limits; a limit itself is still within.

    Beyond its limit it counts however old it is; within them only from the day `oldest` on.
    """
    if reading is None:
        return UNKNOWN, "never read"
    if low is not None and reading.value < low:
        return ACT, "too low"
    if high is not None and reading.value > high:
        return ACT, "too high"
    if reading.on < oldest:
        return UNKNOWN, "too long ago"
    return (WATCH, "near the limit") if is_near(reading.value, low, high) else (GOOD, "within limits")


def is_near(value: float, low: float | None, high: float | None) -> bool:
    """Whether a value within its limits comes near one of them."""
    if low is not None and high is not None:
        near = (high - low) * NEAR_SHARE / 2
        return value < low + near or value > high - near
    if high is not None:
        return value > high * (1 - NEAR_SHARE)
    return low is not None and value < low * (1 + NEAR_SHARE)


def summary(judged: Iterable[Judged]) -> tuple[str, str]:
    """(state, words) of a whole water: what is beyond, else near, else not known, else all well.

    Un-ionized ammonia and nitrite decide about 'not known': the other readings may be left out of a test.
    """
    rows = list(judged)
    for state in (ACT, WATCH):
        found = [f"{WORDS[row.name]} {row.words}" for row in rows if row.state == state]
        if found:
            more = f" and {len(found) - 2} more" if len(found) > 2 else ""
            return state, ", ".join(found[:2]) + more
    missing = [row for row in rows if row.name in {"unionized", "nitrite"} and row.state == UNKNOWN]
    if missing:
        return UNKNOWN, f"{WORDS[missing[0].name]} {missing[0].words}"
    return GOOD, "within limits"


def load_state(share: float | None, animals: int) -> tuple[str, str]:
    """(state, words) of the load against what the filters carry today."""
    if share is None:
        return (ACT, "no running filter") if animals else (UNKNOWN, "no running filter")
    if share > 1:
        return ACT, "more than the filters carry"
    return (WATCH, "close to what the filters carry") if share > 1 - NEAR_SHARE else (GOOD, "carried")
