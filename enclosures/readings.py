"""The readings of one water as a page shows them, and how those that are computed came about. No query."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from enclosures.chemistry import ammonium_pka, ion_from_nitrogen, unionized_fraction
from enclosures.models import WaterTest
from enclosures.selectors import TestPoint, last_value
from enclosures.states import Judged, judge
from refuge import units
from refuge.rounds.loaders import Moment
from refuge.rules.facts import CircuitFacts, TestFacts

DIGITS = {
    "unionized": 3,
    "tan": 2,
    "nitrite": 2,
    "nitrate": 1,
    "alkalinity": 0,
    "ph": 1,
    "oxygen": 1,
    "chlorine": 2,
}
# What is read but has no limit of its own: label, unit, decimals.
PLAIN = {"hardness": ("Hardness", "mg/L CaCO₃", 0)}
DRAWN = 24  # readings in the small line of each reading


@dataclass(frozen=True, slots=True)
class ReadingRow:
    """One reading in the table of a water's page."""

    label: str
    value: str | None
    unit: str
    on: date | None
    limit: str
    state: str
    words: str
    trend: list[float]
    low: float | None = None
    high: float | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class UnionizedSum:
    """How the newest un-ionized ammonia was computed, step by step."""

    on: date
    tan: float
    temperature_c: float
    ph: float
    pka: float
    percent: float
    unionized: float
    lent: str = ""  # what other tests lent to it, in words


def reading_rows(
    facts: CircuitFacts, points: Sequence[TestPoint], moment: Moment, system: str
) -> list[ReadingRow]:
    """Every reading of a water: those with limits first, then the others that were ever read."""
    judged = judge(facts, moment.limits(facts.id), moment.today)
    rows = [_with_limits(each, points) for each in judged]
    rows += [row for name in PLAIN if (row := _plain(name, points, moment))]
    rows += [row for row in (_temperature(points, moment, system), _clarity(points, moment)) if row]
    return rows


def _trend(points: Sequence[TestPoint], name: str) -> list[float]:
    """The last readings of one kind; tests that left it out are no gaps in it."""
    return [value for point in points if (value := point.values[name]) is not None][-DRAWN:]


def _with_limits(judged: Judged, points: Sequence[TestPoint]) -> ReadingRow:
    reading, digits = judged.reading, DIGITS[judged.name]
    return ReadingRow(
        label=judged.label,
        value=f"{reading.value:.{digits}f}" if reading else None,
        unit=judged.unit,
        on=reading.on if reading else None,
        limit=judged.limit_words,
        state=judged.state,
        words=judged.words,
        trend=_trend(points, judged.name),
        low=judged.low,
        high=judged.high,
        note=_as_ion(judged),
    )


def _as_ion(judged: Judged) -> str:
    """Nitrite and nitrate as most kits show them."""
    if judged.reading is None or judged.name not in {"nitrite", "nitrate"}:
        return ""
    species, formula = ("nitrite", "NO₂") if judged.name == "nitrite" else ("nitrate", "NO₃")
    ion = ion_from_nitrogen(species, judged.reading.value)  # type: ignore[arg-type]
    return f"{ion:.{1 if ion < 10 else 0}f} as {formula}"


def _plain(name: str, points: Sequence[TestPoint], moment: Moment) -> ReadingRow | None:
    label, unit, digits = PLAIN[name]
    last = last_value(points, name)
    if last is None:
        return None
    trend = _trend(points, name)
    return ReadingRow(label, f"{last[1]:.{digits}f}", unit, moment.day(last[0]), "", "", "", trend)


def _temperature(points: Sequence[TestPoint], moment: Moment, system: str) -> ReadingRow | None:
    last = last_value(points, "temperature")
    if last is None:
        return None
    value = units.show(last[1], "temperature", system, with_unit=False)
    unit = units.label("temperature", system)
    trend = [units.to_shown(value, "temperature", system) for value in _trend(points, "temperature")]
    return ReadingRow("Temperature", value, unit, moment.day(last[0]), "", "", "", trend)


def _clarity(points: Sequence[TestPoint], moment: Moment) -> ReadingRow | None:
    last = last_value(points, "clarity")
    if last is None:
        return None
    words = WaterTest.Clarity(int(last[1])).label
    return ReadingRow("Clarity", words, "", moment.day(last[0]), "", "", "", [])


def unionized_sum(facts: CircuitFacts) -> UnionizedSum | None:
    """The steps behind the newest un-ionized ammonia; None while no test has ammonia, and none a pH."""
    for test in facts.tests:
        ph, celsius = test.unionized_ph, test.unionized_temperature_c
        if test.unionized is not None and test.tan is not None and ph is not None and celsius is not None:
            return UnionizedSum(
                on=test.on,
                tan=test.tan,
                temperature_c=celsius,
                ph=ph,
                pka=ammonium_pka(celsius),
                percent=100 * unionized_fraction(celsius, ph),
                unionized=test.unionized,
                lent=lent_words(test),
            )
    return None


def lent_words(test: TestFacts) -> str:
    """'the pH and the temperature': what a test's un-ionized ammonia took from elsewhere; empty where it read both."""
    taken = [("the pH", test.ph), ("the temperature", test.temperature_c)]
    return " and ".join(words for words, own in taken if own is None)
