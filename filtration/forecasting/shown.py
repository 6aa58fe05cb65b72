"""A stored forecast in words and numbers, as the page of a water shows it. No query."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from enclosures.help import Help
from filtration.forecast.outlook import CLEAR_MG_L
from filtration.forecasting.happenings import AHEAD_DAYS
from filtration.forecasting.largest import Largest, largest_of
from filtration.forecasting.limits import BOUND
from filtration.forecasting.lines import (
    ACT,
    CARE,
    WORTH_A_LINE,
    Line,
    disagreement_words,
    headline,
    meal_lines,
    risk_lines,
    sentence_start,
    work_lines,
)
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.packing import EVERY_HOURS, Bands, unpacked
from filtration.forecasting.picture import Picture, Scene, picture
from filtration.forecasting.selectors import Recent
from filtration.forecasting.sightings import CLARITY

# What can be chosen: name in the forecast, words on the chip, unit, decimals.
CHOICES = {
    "unionized": ("Ammonia, un-ionized", "mg/L N", 3),
    "nitrite": ("Nitrite", "mg/L N", 2),
    "nitrate": ("Nitrate", "mg/L N", 0),
    "alkalinity": ("Alkalinity", "mg/L CaCO₃", 0),
    "ph": ("pH", "", 1),
    "oxygen": ("Oxygen", "mg/L", 1),
    "suspended": ("Clarity (fine solids)", "mg/L", 1),
    "tan": ("Total ammonia", "mg/L N", 2),
}
# Shorter on the chips: all of them fit on a phone.
CHIPS = {"unionized": "Ammonia", "suspended": "Clarity"}


@dataclass(frozen=True, slots=True)
class Odds:
    """One limit with the chance of passing it on each day: percent, and how grave that is."""

    words: str
    limit: str
    days: list[tuple[int, str]]


@dataclass(frozen=True, slots=True)
class DayRow:
    """One day of the table: middle, the range of nine in ten, and the chance of passing the limit."""

    day: date
    middle: float
    low: float
    high: float
    chance: int | None


@dataclass(frozen=True)
class Shown:
    """Everything a page shows of one forecast, for one chosen quantity."""

    forecast: WaterForecast
    name: str
    label: str
    unit: str
    digits: int
    headline: Line
    lines: list[Line]
    disagreements: list[str]
    picture: Picture
    rows: list[DayRow]
    choices: list[tuple[str, str, bool]]
    basis: dict[str, Any]
    work: list[Line] = field(default_factory=list)
    largest: Largest | None = None
    odds: list[Odds] = field(default_factory=list)
    odds_days: list[date] = field(default_factory=list)


def shown(
    forecast: WaterForecast,
    happened: Recent,
    name: str,
    today: date,
    zone: ZoneInfo,
    help_: Help | None = None,
) -> Shown:
    """The forecast with one quantity drawn; an unknown name is taken as the one in doubt.

    help_: what the readings beyond their limits ask for today, if there are any.
    """
    name = name if name in CHOICES else first_choice(forecast)
    bands = unpacked(bytes(forecast.bands))
    label, unit, digits = CHOICES[name]
    return Shown(
        forecast=forecast,
        name=name,
        label=label,
        unit=unit,
        digits=digits,
        headline=headline(forecast, today),
        lines=[*risk_lines(forecast, today), *meal_lines(forecast, today, zone, help_)],
        disagreements=[disagreement_words(each, zone) for each in forecast.outlook.get("disagreements", [])],
        picture=drawn(forecast, bands, name, happened, zone),
        rows=_rows(forecast, bands, name, zone),
        choices=[(key, CHIPS.get(key, words), key == name) for key, (words, _, _) in CHOICES.items()],
        basis=forecast.outlook.get("basis", {}),
        work=work_lines(forecast),
        largest=largest_of(forecast.outlook, forecast.day, today=today, is_unwell=help_ is not None),
        odds=_odds(forecast),
        odds_days=[forecast.day + timedelta(days=day) for day in range(AHEAD_DAYS)],
    )


def _odds(forecast: WaterForecast) -> list[Odds]:
    """The chance of passing each limit on each day, in the order of the limits."""
    limits, chances = forecast.outlook.get("limits", []), forecast.outlook.get("chances", [])
    return [
        Odds(
            sentence_start(BOUND[name].words),
            f"{'at least' if is_least else 'at most'} {value:g} {BOUND[name].unit}".strip(),
            [(round(100 * chance), _gravity(chance)) for chance in row],
        )
        for (name, value, is_least), row in zip(limits, chances, strict=True)
    ]


def _gravity(chance: float) -> str:
    if chance < WORTH_A_LINE:
        return "none"
    return "act" if chance >= ACT else "watch" if chance >= CARE else "some"


def first_choice(forecast: WaterForecast) -> str:
    """What is in doubt, where it can be drawn; else what harms first."""
    return forecast.quantity if forecast.quantity in CHOICES else "unionized"


def is_drawn(name: str) -> str:
    """The words for a quantity that there is a picture of; empty for any other."""
    return CHOICES[name][0] if name in CHOICES else ""


def limit_of(forecast: WaterForecast, name: str) -> tuple[float | None, bool]:
    """The limit of a quantity and whether it is the least allowed."""
    if name == "suspended":
        return CLEAR_MG_L, False
    for key, value, is_least in forecast.outlook.get("limits", []):
        if key == name:
            return value, is_least
    return None, False


def highest_beside(forecast: WaterForecast, name: str) -> float | None:
    """The most allowed of a quantity that has a least as well: pH."""
    limits = [each[1:] for each in forecast.outlook.get("limits", []) if each[0] == name]
    return next((value for value, is_least in limits[1:] if not is_least), None)


def drawn(
    forecast: WaterForecast,
    bands: Bands,
    name: str,
    happened: Recent,
    zone: ZoneInfo,
    helped: Bands | None = None,
) -> Picture:
    """The picture of one quantity; with what help would do, if that was forecast as well."""
    limit, is_least = limit_of(forecast, name)
    return picture(
        Scene(
            start=forecast.start_at.astimezone(zone),
            every_hours=EVERY_HOURS,
            bands=bands.of(name),
            limit=limit,
            is_least=is_least,
            highest=highest_beside(forecast, name),
            tests=tests_of(happened, name),
            from_zero=name != "ph",
            meals=_times(happened, "meal"),
            meals_ahead=[datetime.fromisoformat(at) for at, _ in forecast.outlook.get("meals", [])],
            works=[mark.at for mark in happened.marks if mark.kind != "meal"],
            helped=helped.of(name) if helped else None,
        )
    )


def tests_of(happened: Recent, name: str) -> list[tuple[datetime, float]]:
    """The readings of one quantity; a word for clarity stands in the middle of what it means."""
    if name == "suspended":
        words = [(point.at, point.values.get("clarity")) for point in happened.tests]
        return [(at, _clarity_middle(int(word))) for at, word in words if word is not None]
    return [(point.at, value) for point in happened.tests if (value := point.values.get(name)) is not None]


def _clarity_middle(word: int) -> float:
    """mg/L; for "cannot see the bottom" the least it can mean."""
    low, high = CLARITY[word]
    return (max(low, 0.0) + high) / 2 if math.isfinite(high) else low


def _times(happened: Recent, kind: str) -> list[datetime]:
    return [mark.at for mark in happened.marks if mark.kind == kind]


def _rows(forecast: WaterForecast, bands: Bands, name: str, zone: ZoneInfo) -> list[DayRow]:
    """One row a day: what the end of that day will look like. Days are 24 hours from the forecast's beginning."""
    chances = _chances(forecast, name)
    values = bands.of(name)
    first = forecast.start_at.astimezone(zone).date()
    rows = []
    for day in range((len(values) - 1) * EVERY_HOURS // 24):
        low, _, middle, _, high = values[(day + 1) * 24 // EVERY_HOURS]
        chance = round(100 * chances[day]) if chances else None
        rows.append(DayRow(first + timedelta(days=day), float(middle), float(low), float(high), chance))
    return rows


def both_rows(
    forecast: WaterForecast, bands: Bands, helped: Bands, name: str, zone: ZoneInfo
) -> list[tuple[DayRow, DayRow]]:
    """The days without the steps and with them; chances are those without."""
    without, steps = (_rows(forecast, each, name, zone) for each in (bands, helped))
    return list(zip(without, steps, strict=True))


def _chances(forecast: WaterForecast, name: str) -> list[float]:
    """Of passing its limit, the likelier one where it has two."""
    names: Iterable[str] = (each[0] for each in forecast.outlook.get("limits", []))
    rows = zip(names, forecast.outlook.get("chances", []), strict=True)
    return [max(each) for each in zip(*(row for key, row in rows if key == name), strict=True)]
