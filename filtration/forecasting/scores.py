"""How good past forecasts were: each test held against the newest forecast made before it."""

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np
from django.urls import reverse
from numpy.typing import NDArray

from enclosures.models import Circuit, WaterTest
from filtration.forecast import Judged, Observation, Score, score
from filtration.forecast.kits import BIASES, scaled
from filtration.forecast.priors import PRIORS
from filtration.forecasting.packing import Bands, unpacked
from filtration.forecasting.records import TEST_COLUMNS, Test
from filtration.forecasting.selectors import forecasts_before
from filtration.forecasting.sightings import Sighting, sightings

LOOK_BACK = timedelta(days=180)
# Fewer readings than this say little: with ten, a true 90 % band shows 7 to 10 inside.
ENOUGH = 20
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
Levels = tuple[float, float, float, float, float]


@dataclass(frozen=True, slots=True)
class ScoreRow:
    """One quantity, or one water: how many readings, and shares of them within both bands in percent.

    parts: of a water, its quantities.
    """

    label: str
    count: int
    within_50: int
    within_90: int
    url: str = ""
    parts: tuple["ScoreRow", ...] = ()

    @property
    def is_enough(self) -> bool:
        return self.count >= ENOUGH

    @property
    def verdict(self) -> tuple[str, str]:
        """State of the look and words."""
        if not self.is_enough:
            return "unknown", "too few to tell"
        if self.within_90 < 80:
            return "watch", "too sure of itself"
        if self.within_90 > 98 and self.within_50 > 70:
            return "watch", "more cautious than need be"
        return "good", "as sure as it should be"


@dataclass(frozen=True)
class Board:
    """All scores; `total` over everything, None without a reading to judge."""

    total: ScoreRow | None
    quantities: list[ScoreRow]
    waters: list[ScoreRow]
    enough: int = ENOUGH

    @property
    def headline(self) -> str:
        """The verdict over everything, as a sentence."""
        return f"Over all: {self.total.verdict[1]}." if self.total else ""


def scores(now: datetime) -> Board:
    """Scores of the last half year: 3 queries for any number of waters."""
    judged = list(_judged(now))
    names = dict(Circuit.objects.values_list("pk", "name"))
    by_quantity, by_water = defaultdict(list), defaultdict(list)
    for pk, each in judged:
        by_quantity[each.quantity].append(each)
        by_water[pk].append(each)
    return Board(
        total=_row("All readings", [each for _, each in judged]) if judged else None,
        quantities=[_row(LABELS[name], by_quantity[name]) for name in LABELS if name in by_quantity],
        waters=[_water(pk, names[pk], by_water[pk]) for pk in sorted(by_water)],
    )


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


def _judged(now: datetime) -> Iterator[tuple[int, Judged]]:
    """Each reading beside the levels forecast for its hour."""
    tests = _tests(now)
    seen = [(pk, each) for pk, rows in tests.items() for each in sightings(rows)]
    before = forecasts_before((pk, each.at) for pk, each in seen)
    unpacked_once: dict[int, Bands] = {}
    for pk, each in seen:
        forecast = before.get((pk, each.at))
        if forecast is None:
            continue
        bands = unpacked_once.setdefault(forecast.pk, unpacked(bytes(forecast.bands)))
        hour = (each.at - forecast.start_at) / timedelta(hours=1)
        yield from ((pk, judged) for judged in _readings(each, bands, hour))


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
