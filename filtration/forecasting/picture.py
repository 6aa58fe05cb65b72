"""The small picture of one quantity: bands, limit, tests, meals and work, as plain places in a drawing.

Days from a week back to two weeks ahead run from left to right. No Django; the template draws what stands here.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

WIDTH, HEIGHT = 420, 226
LEFT, RIGHT, TOP, BOTTOM = 42, 8, 14, 46
DAYS_BACK, DAYS_AHEAD = 7, 14
# The scale never reaches beyond so many times the limit: what lies there is bad enough.
MOST_OVER_LIMIT = 4.0
FEWEST_PIXELS_BETWEEN_MARKS = 5.0
Place = tuple[float, float]
Across = Callable[[datetime], float]
Down = Callable[[float], float]


@dataclass(frozen=True, slots=True)
class Tick:
    """A line of the scale with its words."""

    at: float
    words: str
    is_now: bool = False


@dataclass(frozen=True)
class Picture:
    """Everything the template draws; places in the units of the view box."""

    width: int
    height: int
    left: int
    right: int
    top: int
    base: int
    wide: str = ""
    narrow: str = ""
    middle: str = ""
    helped_wide: str = ""
    helped_middle: str = ""
    limit_y: float | None = None
    limit_words: str = ""
    highest_y: float | None = None
    highest_words: str = ""
    now_x: float = 0.0
    days: list[Tick] = field(default_factory=list)
    levels: list[Tick] = field(default_factory=list)
    tests: list[Place] = field(default_factory=list)
    bad_tests: list[Place] = field(default_factory=list)
    meals: list[float] = field(default_factory=list)
    meals_ahead: list[float] = field(default_factory=list)
    works: list[float] = field(default_factory=list)

    @property
    def limit_text_y(self) -> float:
        return self._beside(self.limit_y or 0.0)

    @property
    def highest_text_y(self) -> float:
        return self._beside(self.highest_y or 0.0)

    def _beside(self, y: float) -> float:
        """Above a line, or below it at the top of the picture."""
        return round(y - 5 if y > self.top + 16 else y + 15, 1)

    @property
    def marks_y(self) -> float:
        return self.base + 8

    @property
    def works_y(self) -> float:
        return self.base + 20

    @property
    def words_y(self) -> float:
        return self.base + 40


@dataclass(frozen=True)
class Scene:
    """What is to be drawn. bands: (records, 5) from `start` on, one every `every_hours`; helped: the same, if any.

    tests: (instant, value). limit None: none. is_least: it must not be fallen below; highest: beside that, not passed.
    """

    start: datetime
    every_hours: int
    bands: NDArray[np.float64]
    limit: float | None
    is_least: bool
    highest: float | None = None
    tests: Sequence[tuple[datetime, float]] = ()
    meals: Sequence[datetime] = ()
    meals_ahead: Sequence[datetime] = ()
    works: Sequence[datetime] = ()
    helped: NDArray[np.float64] | None = None
    days_back: int = DAYS_BACK
    from_zero: bool = True


def picture(scene: Scene) -> Picture:
    """Lay the scene out. Times in the zone of `scene.start`."""
    top = _top(scene)
    bottom = 0.0 if scene.from_zero else _bottom(scene)
    across, down = _across(scene), _down(bottom, top)
    times = [scene.start + timedelta(hours=scene.every_hours * n) for n in range(len(scene.bands))]
    xs = [across(at) for at in times]
    tests = [
        (round(across(at), 1), round(down(value), 1), value)
        for at, value in scene.tests
        if across(at) >= LEFT
    ]
    helped = scene.helped
    return Picture(
        width=WIDTH,
        height=HEIGHT,
        left=LEFT,
        right=WIDTH - RIGHT,
        top=TOP,
        base=HEIGHT - BOTTOM,
        wide=_area(xs, [down(v) for v in scene.bands[:, 0]], [down(v) for v in scene.bands[:, 4]]),
        narrow=_area(xs, [down(v) for v in scene.bands[:, 1]], [down(v) for v in scene.bands[:, 3]]),
        middle=_line(xs, [down(v) for v in scene.bands[:, 2]]),
        helped_wide=""
        if helped is None
        else _area(xs, [down(v) for v in helped[:, 0]], [down(v) for v in helped[:, 4]]),
        helped_middle="" if helped is None else _line(xs, [down(v) for v in helped[:, 2]]),
        limit_y=None if scene.limit is None else round(down(scene.limit), 1),
        limit_words=""
        if scene.limit is None
        else f"{'at least' if scene.is_least else 'at most'} {scene.limit:g}",
        highest_y=None if scene.highest is None else round(down(scene.highest), 1),
        highest_words="" if scene.highest is None else f"at most {scene.highest:g}",
        now_x=round(across(scene.start), 1),
        days=_days(scene, across),
        levels=[Tick(round(down(value), 1), f"{value:g}") for value in _levels(bottom, top)],
        tests=[(x, y) for x, y, value in tests if not _is_bad(value, scene)],
        bad_tests=[(x, y) for x, y, value in tests if _is_bad(value, scene)],
        meals=_thinned(across(at) for at in scene.meals),
        meals_ahead=_thinned(across(at) for at in scene.meals_ahead),
        works=_thinned(across(at) for at in scene.works),
    )


def _top(scene: Scene) -> float:
    """The highest value on the scale: bands, tests and the limit fit, within reason."""
    values = [float(scene.bands.max()), *(value for _, value in scene.tests)]
    if scene.helped is not None:
        values.append(float(scene.helped.max()))
    if scene.highest is not None:
        values.append(scene.highest)
    if scene.limit is None:
        return max(*values, 1e-3) * 1.05
    wanted = max(*values, scene.limit) * (1.08 if scene.from_zero else 1.02)
    return wanted if scene.is_least else min(wanted, max(scene.limit * MOST_OVER_LIMIT, _tests_top(scene)))


def _tests_top(scene: Scene) -> float:
    return max((value for _, value in scene.tests), default=0.0) * 1.08


def _across(scene: Scene) -> Across:
    first = scene.start - timedelta(days=scene.days_back)
    span = timedelta(days=scene.days_back + DAYS_AHEAD)
    return lambda at: LEFT + (WIDTH - LEFT - RIGHT) * ((at - first) / span)


def _bottom(scene: Scene) -> float:
    """The lowest value on a scale that does not begin at zero, with some room below it."""
    values = [float(scene.bands.min()), *(value for _, value in scene.tests)]
    if scene.helped is not None:
        values.append(float(scene.helped.min()))
    low = min(values if scene.limit is None else [*values, scene.limit])
    return low - 0.08 * (_top(scene) - low)


def _down(bottom: float, top: float) -> Down:
    high = HEIGHT - BOTTOM - TOP
    return lambda value: (
        HEIGHT - BOTTOM - high * (min(max(float(value), bottom), top) - bottom) / (top - bottom)
    )


def _line(xs: Sequence[float], ys: Sequence[float]) -> str:
    return "M" + " ".join(f"{x:.1f} {y:.1f}" for x, y in zip(xs, ys, strict=True))


def _area(xs: Sequence[float], low: Sequence[float], high: Sequence[float]) -> str:
    there = " ".join(f"{x:.1f} {y:.1f}" for x, y in zip(xs, low, strict=True))
    back = " ".join(f"{x:.1f} {y:.1f}" for x, y in zip(reversed(xs), reversed(high), strict=True))
    return f"M{there} {back}Z"


def _is_bad(value: float, scene: Scene) -> bool:
    if scene.limit is None:
        return False
    is_over = scene.highest is not None and value > scene.highest
    return is_over or (value < scene.limit if scene.is_least else value > scene.limit)


def _levels(bottom: float, top: float) -> list[float]:
    """Three or four round values from the bottom up."""
    rough = (top - bottom) / 3
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * each for each in (1, 2, 2.5, 5, 10) if power * each >= rough)
    first = math.ceil(bottom / step - 1e-9)
    return [round(step * n, 10) for n in range(first, first + 4) if step * n <= top]


def _days(scene: Scene, across: Across) -> list[Tick]:
    """A word under every third day; today stands at the instant the forecast counts from."""
    ticks = [Tick(round(across(scene.start), 1), "now", is_now=True)]
    midnight = scene.start.replace(hour=0, minute=0)
    for day in range(-scene.days_back + 1, DAYS_AHEAD + 1):
        noon = midnight + timedelta(days=day, hours=12)
        if day % 3 == 0 and day != 0 and LEFT + 10 <= across(noon) <= WIDTH - RIGHT - 10:
            ticks.append(Tick(round(across(noon), 1), f"{noon:%a} {noon.day}"))
    return ticks


def _thinned(places: Iterable[float]) -> list[float]:
    """Marks that do not cover each other, from left to right."""
    kept: list[float] = []
    for x in sorted(places):
        if LEFT <= x <= WIDTH - RIGHT and (not kept or x - kept[-1] >= FEWEST_PIXELS_BETWEEN_MARKS):
            kept.append(round(x, 1))
    return kept
