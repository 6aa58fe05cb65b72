"""The chart of one water: its readings against their limits. Data in, data out; see refuge.figures."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from enclosures.selectors import TestPoint
from refuge import units
from refuge.figures import Happening, Series, Strip, strips_figure

ORDER = ("unionized", "tan", "nitrite", "nitrate", "alkalinity", "ph", "oxygen", "chlorine", "temperature")
LABELS = {
    "tan": ("Total ammonia", "mg/L N"),
    "unionized": ("Un-ionized ammonia", "mg/L N"),
    "nitrite": ("Nitrite", "mg/L N"),
    "nitrate": ("Nitrate", "mg/L N"),
    "alkalinity": ("Alkalinity", "mg/L CaCO₃"),
    "ph": ("pH", ""),
    "oxygen": ("Dissolved oxygen", "mg/L"),
    "chlorine": ("Total chlorine", "mg/L"),
}
FROM_ZERO = {"tan", "unionized", "nitrite", "nitrate", "alkalinity", "oxygen", "chlorine"}

Limits = Mapping[str, tuple[float | None, float | None]]


def readings_figure(
    points: Sequence[TestPoint],
    limits: Limits,
    changes: Sequence[tuple[datetime, float]] = (),
    system: str = units.METRIC,
) -> dict[str, Any]:
    """One strip for each kind of reading that was ever taken, with its limits; water changes as lines.

    limits: lowest and highest allowed by name, None for an open side. changes: instant and volume [m3].
    """
    happenings = [
        Happening(at, f"Water change, {units.show(volume, 'volume', system)}") for at, volume in changes
    ]
    return strips_figure([_strip(name, points, limits, system) for name in ORDER], happenings)


def _strip(name: str, points: Sequence[TestPoint], limits: Limits, system: str) -> Strip:
    low, high = limits.get(name, (None, None))
    label, unit = LABELS.get(name) or ("Temperature", units.label("temperature", system))
    # A test that left this reading out is no gap in it: each kind has a rhythm of its own.
    values = [
        (point.at, _shown(name, value, system))
        for point in points
        if (value := point.values[name]) is not None
    ]
    return Strip(label, unit, [Series(label, values)], low, high, from_zero=name in FROM_ZERO)


def _shown(name: str, value: float, system: str) -> float:
    return units.to_shown(value, "temperature", system) if name == "temperature" else value
