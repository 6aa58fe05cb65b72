"""Two forecasts on the same axes, as shapes for a small drawing. Plain Python; lengths in units of the drawing.

Above, the value: the 90 % and 50 % bands of the changed water, the outline of the 90 % band as it was, both
middle lines, and the limit. Below, the chance of passing the limit: one pair of bars a day.
"""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from filtration.what_if.compare import MIDDLE, Course, Side

WIDTH = 360.0
LEFT, RIGHT = 38.0, 356.0
TOP, BOTTOM = 8.0, 128.0  # of the values
BARS_TOP, BARS_BOTTOM = 150.0, 190.0  # of the chances
HEIGHT = 210.0
GAP = 2.0  # between the pairs of bars
# The axis reaches this far beyond the limit and the middle lines, so that one wide band does not flatten all.
HEADROOM, MOST_TIMES_LIMIT = 1.15, 4.0


@dataclass(frozen=True, slots=True)
class Bar:
    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True)
class Tick:
    at: float
    words: str


@dataclass(frozen=True, slots=True)
class Sketch:
    """Shapes: paths as SVG path data, bars, and where the words stand. cut: whether a band goes off the top."""

    wide: str
    narrow: str
    line: str
    old_wide: str
    old_line: str
    limit_y: float
    limit_words: str
    rises: tuple[Tick, ...]
    days: tuple[Tick, ...]
    bars: tuple[Bar, ...]
    old_bars: tuple[Bar, ...]
    cut: bool

    @property
    def bars_path(self) -> str:
        return _outline(self.bars)

    @property
    def old_bars_path(self) -> str:
        return _outline(self.old_bars)

    @property
    def day_marks(self) -> str:
        return _day_marks(self.days)


@lru_cache(maxsize=8)
def _day_marks(days: tuple[Tick, ...]) -> str:
    """The words below the days as SVG, numbers only: all drawings share them, and a template would write each anew."""
    return "".join(
        f'<text x="{day.at}" y="205">{"" if number else "day "}{day.words}</text>'
        for number, day in enumerate(days)
    )


def _outline(bars: tuple[Bar, ...]) -> str:
    """All bars as one path: a page with a hundred rectangles is slow to write."""
    return "".join(
        f"M{bar.x} {bar.y}h{bar.width}v{bar.height}h-{bar.width}Z" for bar in bars if bar.height > 0
    )


def sketch(course: Course, *, is_changed: bool) -> Sketch:
    """The drawing of one quantity; without a change only the water as it is."""
    low, high = _span(course)

    def y(values: NDArray[np.float32] | float) -> NDArray[np.float64]:
        share = (np.asarray(values, float) - low) / (high - low)
        return np.asarray(BOTTOM - np.clip(share, 0.0, 1.0) * (BOTTOM - TOP))

    new = course.after if is_changed else course.before
    tops = [side.bands[:, -1].max() for side in (course.before, course.after)]
    return Sketch(
        wide=_area(y(new.bands[:, 0]), y(new.bands[:, -1])),
        narrow=_area(y(new.bands[:, 1]), y(new.bands[:, -2])),
        line=_line(y(new.bands[:, MIDDLE])),
        old_wide=_area(y(course.before.bands[:, 0]), y(course.before.bands[:, -1])) if is_changed else "",
        old_line=_line(y(course.before.bands[:, MIDDLE])) if is_changed else "",
        limit_y=round(float(y(course.limit)), 1),
        limit_words=f"{course.limit:.3g}",
        rises=tuple(_rises(low, high, course.limit, y)),
        days=tuple(_days(len(new.chances))),
        bars=tuple(_bars(new, 0.5 if is_changed else 0.0, 0.5 if is_changed else 1.0)),
        old_bars=tuple(_bars(course.before, 0.0, 0.5)) if is_changed else (),
        cut=bool(max(tops) > high),
    )


def _span(course: Course) -> tuple[float, float]:
    """The axis: from zero for what must not rise, around the values for what must not fall, and for pH."""
    bands = np.concatenate([course.before.bands, course.after.bands])
    if course.bound.is_least or course.bound.quantity == "ph":
        low = min(float(bands[:, 0].min()), course.limit)
        high = max(float(bands[:, -1].max()), course.limit)
        room = (high - low or 1.0) * 0.08
        return max(low - room, 0.0), high + room
    middle = float(bands[:, MIDDLE].max())
    wanted = max(float(bands[:, -1].max()), course.limit) * HEADROOM
    return 0.0, min(wanted, max(course.limit * MOST_TIMES_LIMIT, middle * 1.5))


@lru_cache(maxsize=4)
def _path(count: int, *, is_backward: bool = False) -> str:
    """The points of a line with the places of its heights left open: as many lines as drawings share them."""
    xs = np.linspace(LEFT, RIGHT, count)
    return "L".join(f"{x:.0f} %.1f" for x in (xs[::-1] if is_backward else xs))


def _line(ys: NDArray[np.float64]) -> str:
    return "M" + _path(len(ys)) % tuple(ys.tolist())


def _area(low: NDArray[np.float64], high: NDArray[np.float64]) -> str:
    back = _path(len(low), is_backward=True) % tuple(low[::-1].tolist())
    return f"{_line(high)}L{back}Z"


def _rises(low: float, high: float, limit: float, y: object) -> Iterator[Tick]:
    """A few round values, but none that would stand on the limit's own."""
    step = _step((high - low) / 3)
    first = math.ceil(low / step - 1e-9)
    for number in range(first, int(high / step + 1e-9) + 1):
        value = number * step
        if abs(value - limit) > 0.12 * (high - low):
            yield Tick(round(float(y(value)), 1), f"{value:.3g}")  # type: ignore[operator]


def _step(wanted: float) -> float:
    """1, 2 or 5 times a power of ten, near what is wanted."""
    power = math.pow(10, math.floor(math.log10(wanted)))
    return next(factor * power for factor in (1, 2, 5, 10) if factor * power >= wanted * 0.999)


def _days(days: int) -> Iterator[Tick]:
    wide = (RIGHT - LEFT) / days
    return (Tick(round(LEFT + (day + 0.5) * wide, 1), str(day + 1)) for day in (0, *range(1, days, 2)[1:]))


def _bars(side: Side, place: float, share: float) -> Iterator[Bar]:
    """The chances of one side; place and share: where in each day its bar begins, and how much of it it takes."""
    wide = (RIGHT - LEFT) / len(side.chances)
    thick = round((wide - GAP) * share, 1)
    highs = np.round(side.chances * (BARS_BOTTOM - BARS_TOP), 1).tolist()
    for day, high in enumerate(highs):
        x = LEFT + day * wide + GAP / 2 + place * (wide - GAP)
        yield Bar(round(x, 1), round(BARS_BOTTOM - high, 1), thick, high)
