"""How good past forecasts were: each test held against the newest forecast made before it, and against older ones."""

import math
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from statistics import median

import numpy as np
from django.urls import reverse
from numpy.typing import NDArray
from scipy.stats import binomtest

from enclosures.models import Circuit, WaterTest
from filtration.forecast import Judged, Observation, Score, score
from filtration.forecast.kits import BIASES, scaled
from filtration.forecast.priors import PRIORS
from filtration.forecasting.happenings import AHEAD_DAYS
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.packing import Bands, unpacked
from filtration.forecasting.records import TEST_COLUMNS, Test
from filtration.forecasting.selectors import LEADS, changes_since, forecasts_before
from filtration.forecasting.sightings import Sighting, sightings
from refuge.rules.triggers import days_text

LOOK_BACK = timedelta(days=180)
# With fewer readings than this a forecast is not said to be right: with ten, a true 90 % band shows 7 to 10 inside.
ENOUGH = 20
# Of the interval for each of the two bands: an honest forecast is called one or the other at most once in twenty times.
CONFIDENCE = 0.975
LABELS = {
    "tan": "Total ammonia",
    "nitrite": "Nitrite",
    "nitrate": "Nitrate",
    "alkalinity": "Alkalinity",
    "ph": "pH",
    "oxygen": "Oxygen",
    "suspended": "Clarity",
}
# A colour with no darker neighbour, or "cannot see the bottom", has no upper end: taken as twice its lower one.
OPEN_END = 2.0
# Standard normal quantiles of the five levels; nothing is added to the middle.
NORMAL = (-1.6449, -0.6745, 0.0, 0.6745, 1.6449)
BIAS_SPREAD = {name: PRIORS[place].spread for name, place in BIASES.items()}
NEWEST = 0  # days ahead: as few as there are
Levels = tuple[float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One quantity, or one water: how many readings, and shares of them within both bands in percent.

    parts: of a water, its quantities. lead: hours from the forecast to the reading, least, middle and most.
    left_out: readings with a water change between forecast and test, which the forecast did not reckon with.
    """

    label: str
    count: int
    within_50: int
    within_90: int
    url: str = ""
    parts: tuple["ScoreRow", ...] = ()
    lead: tuple[float, float, float] | None = None
    left_out: int = 0

    @property
    def is_enough(self) -> bool:
        return self.count >= ENOUGH

    @property
    def lead_words(self) -> str:
        """'15 hours to 2 days before, half of them 1 day or less'."""
        least, middle, most = (_span_words(hours) for hours in self.lead or (0.0, 0.0, 0.0))
        if least == most:
            return f"{least} before"
        return f"{least} to {most} before, half of them {middle} or less"

    @property
    def range_50(self) -> tuple[int, int]:
        return true_share(self.within_50, self.count)

    @property
    def range_90(self) -> tuple[int, int]:
        return true_share(self.within_90, self.count)

    @property
    def verdict(self) -> tuple[str, str]:
        """State of the look and words: by whether chance alone explains how far the shares are from 50 and 90 %."""
        ranges = ((self.range_50, 50), (self.range_90, 90))
        if any(most < wanted for (_, most), wanted in ranges):
            return "watch", "too sure of itself"
        if any(least > wanted for (least, _), wanted in ranges):
            return "watch", "more cautious than need be"
        return ("good", "as sure as it should be") if self.is_enough else ("unknown", "too few to tell")


def _span_words(hours: float) -> str:
    return f"{hours:.0f} hours" if hours < 48 else days_text(hours / 24)


def true_share(percent: int, count: int) -> tuple[int, int]:
    """The shares [%] that so many readings leave possible: Clopper & Pearson 1934, Biometrika 26:404.

    percent: of `count` readings, at least one. A reading that lies in a band in part counts as that part.
    """
    found = binomtest(round(percent / 100 * count), count).proportion_ci(CONFIDENCE)
    return round(100 * found.low), round(100 * found.high)


@dataclass(frozen=True)
class Board:
    """All scores; `total` over everything, None without a reading to judge.

    leads: everything again, by how far ahead the forecast looked; the first is the newest before each reading, as
    in all other rows.
    """

    total: ScoreRow | None
    quantities: list[ScoreRow]
    waters: list[ScoreRow]
    leads: list[ScoreRow]
    enough: int = ENOUGH

    @property
    def headline(self) -> str:
        """The verdict over everything, as a sentence."""
        return f"Over all: {self.total.verdict[1]}." if self.total else ""


def scores(now: datetime) -> Board:
    """Scores of the last half year: 4 queries for any number of waters."""
    names = dict(Circuit.objects.values_list("pk", "name"))
    by_quantity, by_water, by_lead = defaultdict(list), defaultdict(list), defaultdict(list)
    left_out: Counter[int] = Counter()
    for each in _held(now):
        if each.is_changed:
            left_out[each.days] += 1
        else:
            by_lead[each.days].append(each)
    for each in by_lead[NEWEST]:
        by_quantity[each.judged.quantity].append(each.judged)
        by_water[each.circuit_id].append(each.judged)
    total = [each.judged for each in by_lead[NEWEST]]
    return Board(
        total=_row("All readings", total) if total else None,
        quantities=[_row(LABELS[name], by_quantity[name]) for name in LABELS if name in by_quantity],
        waters=[_water(pk, names[pk], by_water[pk]) for pk in sorted(by_water)],
        leads=[_lead(days, by_lead[days], left_out[days]) for days in (NEWEST, *LEADS) if by_lead[days]],
    )


def _lead(days: int, held: Sequence["Held"], left_out: int) -> ScoreRow:
    hours = [each.hours for each in held]
    label = f"About {days} days ahead" if days else "The newest forecast"
    row = _row(label, [each.judged for each in held])
    return replace(row, lead=(min(hours), median(hours), max(hours)), left_out=left_out)


def _water(pk: int, name: str, judged: list[Judged]) -> ScoreRow:
    parts = ((key, [each for each in judged if each.quantity == key]) for key in LABELS)
    row = _row(name, judged, reverse("water_forecast", args=[pk]))
    return replace(row, parts=tuple(_row(LABELS[key], found) for key, found in parts if found))


def _row(label: str, judged: list[Judged], url: str = "") -> ScoreRow:
    """Every reading counts once, whatever its quantity."""
    found = list(score(judged).values())
    count = sum(each.count for each in found)
    return ScoreRow(
        label, count, _percent(found, "within_50", count), _percent(found, "within_90", count), url
    )


def _percent(found: Iterable[Score], name: str, count: int) -> int:
    return round(100 * sum(getattr(each, name) * each.count for each in found) / count)


@dataclass(frozen=True, slots=True)
class Held:
    """A reading held against a forecast: which of those before it (days of LEADS, or NEWEST), and its true lead.

    is_changed: water was changed between the two. A forecast says what becomes of the water without that.
    """

    circuit_id: int
    days: int
    hours: float
    is_changed: bool
    judged: Judged


def _held(now: datetime) -> Iterator[Held]:
    """Each reading beside the levels forecast for its hour, by each of the forecasts before it."""
    tests = _tests(now)
    seen = [(pk, each) for pk, rows in tests.items() for each in sightings(rows)]
    before = forecasts_before((pk, each.at) for pk, each in seen)
    changes = changes_since(now - LOOK_BACK - timedelta(days=AHEAD_DAYS), now)
    unpacked_once: dict[int, Bands] = {}
    for pk, each in seen:
        for days, forecast in before.get((pk, each.at), {}).items():
            bands = _unpacked(forecast, unpacked_once)
            hours = (each.at - forecast.start_at) / timedelta(hours=1)
            is_changed = any(forecast.start_at < at <= each.at for at in changes.get(pk, []))
            for judged in _readings(each, bands, hours):
                yield Held(pk, days, hours, is_changed, judged)


def _unpacked(forecast: WaterForecast, once: dict[int, Bands]) -> Bands:
    if forecast.pk not in once:
        once[forecast.pk] = unpacked(bytes(forecast.bands))
    return once[forecast.pk]


def _tests(now: datetime) -> dict[int, list[Test]]:
    rows = WaterTest.objects.filter(at__gt=now - LOOK_BACK, at__lte=now).order_by("at", "pk")
    tests: dict[int, list[Test]] = defaultdict(list)
    for circuit_id, pk, at, *values in rows.values_list("circuit_id", "pk", "at", *TEST_COLUMNS):
        tests[circuit_id].append(Test(pk, at, *values))
    return tests


def _readings(seen: Sighting, bands: Bands, hour: float) -> Iterator[Judged]:
    if not 0 <= hour <= float(bands.hours[-1]):
        return
    for each in seen.observations:
        low = max(each.low, 0.0)
        high = each.high if each.high < float("inf") else low * OPEN_END
        yield Judged(each.quantity, as_read(each, bands.at_hour(each.quantity, hour)), low, high)


def as_read(seen: Observation, levels: NDArray[np.float64]) -> Levels:
    """Levels of what a kit would show, from levels of the water itself (5, 25, 50, 75, 95 %).

    On the kit's scale its error and bias add to the spread as for normal distributions; the middle stays.
    """
    error = math.hypot(seen.error, BIAS_SPREAD.get(seen.quantity, 0.0))
    places = scaled(seen, levels)
    moved = [
        places[2] + math.copysign(math.hypot(place - places[2], z * error), z)
        for place, z in zip(places, NORMAL, strict=True)
    ]
    if seen.quantity != "ph":
        moved = [max(math.exp(place) - seen.floor, 0.0) for place in moved]
    five, lower, middle, upper, ninety_five = moved
    return five, lower, middle, upper, ninety_five
