"""Small line drawings of readings, as plain numbers and SVG path text. No Django in here.

Coordinates are SVG user units: x to the right, y downwards, (0, 0) at the top left.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite

Reading = float | None


@dataclass(frozen=True)
class Sparkline:
    """A drawing `width` by `height`. Every tuple in a list of points is (x, y)."""

    width: float
    height: float
    line: str
    band: tuple[float, float] | None  # top edge and height of the wanted range
    last: tuple[float, float] | None
    outside: list[tuple[float, float]]  # readings beyond a limit
    lone: list[tuple[float, float]]  # readings with a gap on both sides: a line cannot show them


def sparkline(
    values: Sequence[Reading],
    low: Reading = None,
    high: Reading = None,
    *,
    width: float = 120.0,
    height: float = 32.0,
    margin: float = 4.0,
) -> Sparkline:
    """Lay out evenly spaced readings, oldest first; None or NaN leaves a gap, never a bridged line.

    values: readings in any one unit. low, high: limits in the same unit, or None for an open side.
    The vertical scale covers the readings and the given limits.
    Raises ValueError when low is above high, or when the margin leaves no room.
    """
    if low is not None and high is not None and low > high:
        raise ValueError(f"low {low!r} is above high {high!r}")
    if min(width, height) <= 2 * margin:
        raise ValueError(f"a margin of {margin!r} leaves no room in {width!r} by {height!r}")
    known = [value if value is not None and isfinite(value) else None for value in values]
    y_of = _vertical_scale([*known, low, high], height, margin)
    step = (width - 2 * margin) / max(len(known) - 1, 1)
    points = [
        None if value is None else (round(margin + index * step, 1), round(y_of(value), 1))
        for index, value in enumerate(known)
    ]
    return Sparkline(
        width=width,
        height=height,
        line=path_through(points),
        band=_band(low, high, y_of, height),
        last=next((point for point in reversed(points) if point), None),
        outside=[
            point
            for value, point in zip(known, points, strict=True)
            if point and value is not None and is_outside(value, low, high)
        ],
        lone=[point for index, point in enumerate(points) if point and _stands_alone(points, index)],
    )


def path_through(points: Sequence[tuple[float, float] | None]) -> str:
    """SVG path data that joins neighbouring points and lifts the pen at every None."""
    parts: list[str] = []
    pen_down = False
    for point in points:
        if point is not None:
            parts.append(f"{'L' if pen_down else 'M'}{point[0]:g} {point[1]:g}")
        pen_down = point is not None
    return "".join(parts)


def is_outside(value: float, low: Reading, high: Reading) -> bool:
    """Whether the reading is beyond a limit; a reading on the limit is not."""
    return (low is not None and value < low) or (high is not None and value > high)


def _vertical_scale(values: Sequence[Reading], height: float, margin: float):
    known = [value for value in values if value is not None]
    bottom, top = (min(known), max(known)) if known else (0.0, 0.0)
    if bottom == top:
        return lambda value: height / 2
    return lambda value: margin + (top - value) / (top - bottom) * (height - 2 * margin)


def _band(low: Reading, high: Reading, y_of, height: float) -> tuple[float, float] | None:
    """Top edge and height of the wanted range; an open side reaches the edge of the drawing."""
    if low is None and high is None:
        return None
    upper = 0.0 if high is None else y_of(high)
    lower = height if low is None else y_of(low)
    return round(upper, 1), round(lower - upper, 1)


def _stands_alone(points: Sequence[tuple[float, float] | None], index: int) -> bool:
    before = points[index - 1] if index else None
    after = points[index + 1] if index + 1 < len(points) else None
    return before is None and after is None


def course_words(values: Sequence[Reading], unit: str = "") -> str:
    """The course of a line for who does not see it: 'last 24 readings: 0 to 1.2 mg/L, lately 0.3'.

    Three significant digits; '' without any reading.
    """
    known = [value for value in values if value is not None and isfinite(value)]
    if not known:
        return ""
    low, high, last = (_short(number) for number in (min(known), max(known), known[-1]))
    end = f" {unit}" if unit else ""
    if len(known) == 1:
        return f"one reading: {last}{end}"
    span = f"always {last}{end}" if low == high else f"{low} to {high}{end}, lately {last}"
    return f"last {len(known)} readings: {span}"


def _short(number: float) -> str:
    return f"{number:.0f}" if abs(number) >= 100 else f"{number:.3g}"
