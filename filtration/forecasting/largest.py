"""The largest meal on each day until a young filter is mature: in words, as a stepped picture and as a table.

Plain Python; shares of the planned meal as the stored outlook holds them, places in the units of the view box.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from filtration.forecasting.picture import LEFT, RIGHT, WIDTH, Place, Tick
from refuge.rules.words import amount

HEIGHT, TOP, BASE = 150, 16, 122
# Less than this share of a meal is no meal; days that differ by less than this from the first of them are one step.
NO_MEAL, ALIKE = 0.02, 0.1
# A share is found to within 5 %: from here on it is the whole plan.
WHOLE = 0.95
FEWEST_PIXELS_A_WORD = 62.0


@dataclass(frozen=True, slots=True)
class Step:
    """Some days on which the largest meal is as good as the same: the smallest of them, as a share of the plan."""

    first: date
    last: date
    share: float
    meal_kg: float

    @property
    def is_none(self) -> bool:
        return self.share < NO_MEAL

    @property
    def is_whole(self) -> bool:
        return self.share >= WHOLE

    @property
    def words(self) -> str:
        """The largest meal, with a mark of its amount."""
        return "none" if self.is_none else amount(self.share * self.meal_kg, "food")

    @property
    def percent(self) -> int:
        return round(self.share * 100)


@dataclass(frozen=True)
class Largest:
    """Everything a page shows of it. area, line: path data; plan_y: the height of the planned meal."""

    words: str
    state: str
    steps: list[Step]
    plan_kg: float
    area: str
    line: str
    plan_y: float
    days: list[Tick]
    width: int = WIDTH
    height: int = HEIGHT
    left: int = LEFT
    right: int = WIDTH - RIGHT
    base: int = BASE

    @property
    def begins_unfed(self) -> bool:
        return self.steps[0].is_none

    @property
    def begins_whole(self) -> bool:
        return self.steps[0].is_whole

    @property
    def is_stuck(self) -> bool:
        """Whether no day of these weeks bears the whole plan."""
        return not any(step.is_whole for step in self.steps)


def largest_of(
    outlook: dict[str, Any], made_on: date, *, today: date | None = None, is_unwell: bool = False
) -> Largest | None:
    """What the outlook holds of it, from today on (None: from the day it was made on); None for a filter that is not young.

    is_unwell: a reading is beyond its limit. Then it is never more than the plan, nor good.
    """
    maturing = outlook.get("maturing") or {}
    shares, kg = maturing.get("ladder"), maturing.get("meal_kg")
    if not shares or not kg:
        return None
    first = today or made_on
    shares = from_day(shares, made_on, first)
    shares = [min(share, 1.0) for share in shares] if is_unwell else shares
    steps = steps_of(shares, kg, first)
    places = _places(shares)
    there = " ".join(f"{x:.1f} {y:.1f}" for x, y in places)
    return Largest(
        words=words_of(steps, first),
        state="good" if steps[0].is_whole and not is_unwell else "watch",
        steps=steps,
        plan_kg=kg,
        area=f"M{LEFT} {BASE} {there} {WIDTH - RIGHT} {BASE}Z",
        line=f"M{there}",
        plan_y=round(_down(1.0, max(shares)), 1),
        days=_ticks(steps, first, len(shares)),
    )


def from_day(shares: Sequence[float], made_on: date, today: date) -> Sequence[float]:
    """Of shares from `made_on` on, one a day, those from today on; the last stands for the days after it."""
    return shares[min(max((today - made_on).days, 0), len(shares) - 1) :]


def steps_of(shares: Sequence[float], meal_kg: float, first: date) -> list[Step]:
    """Days with as good as the same share as one step; neither a fast nor the whole plan is mixed with less."""
    runs: list[list[int]] = []
    for day, share in enumerate(shares):
        if runs and _is_alike(shares[runs[-1][0]], share):
            runs[-1].append(day)
        else:
            runs.append([day])
    return [
        Step(
            first + timedelta(days=run[0]),
            first + timedelta(days=run[-1]),
            min(shares[day] for day in run),
            meal_kg,
        )
        for run in runs
    ]


def _is_alike(one: float, two: float) -> bool:
    if (one < NO_MEAL) != (two < NO_MEAL) or (one >= WHOLE) != (two >= WHOLE):
        return False
    return one < NO_MEAL or abs(two - one) <= ALIKE * one


def words_of(steps: Sequence[Step], made_on: date) -> str:
    """'No meal until Sat 28 Nov; then at most 125 g; the planned 390 g from Sat 19 Dec.'"""
    plan = amount(steps[0].meal_kg, "food")
    whole = _whole_from(steps)
    if whole == made_on:
        return f"The planned meals of {plan} may be given whole."
    if whole and all(step.is_none for step in steps if step.first < whole):
        return f"No meal until {day_name(whole)}, then the planned {plan}."
    return f"{_first_words(steps)}; {_whole_words(whole, plan)}."


@dataclass(frozen=True, slots=True)
class MealToday:
    """What whoever feeds must know: the share of the plan (0: none; 1: all of it, and no words), why, and what else."""

    share: float = 1.0
    words: str = ""
    more: str = ""


AS_PLANNED = MealToday()
CYCLING = "its filter is cycling"
HARMLESS = "keeps ammonia and nitrite within their limits"


def meal_of_day(shares: Sequence[float], made_on: date, today: date) -> MealToday:
    """A meal today, the very step that the page of the forecast shows for this day.

    shares: of the planned meals from `made_on` on, one a day.
    """
    ahead = steps_of(from_day(shares, made_on, today), 1.0, today)
    if ahead[0].is_whole:
        return AS_PLANNED
    if not ahead[0].is_none:
        return MealToday(ahead[0].share, sentence_case(CYCLING))
    fed = next((step for step in ahead if not step.is_none), None)
    if fed is not None:
        words = f"No food before {day_name(fed.first)}: {CYCLING}"
        return MealToday(0.0, words, f"By the forecast no meal before then {HARMLESS}.")
    more = (
        f"By the forecast no meal of these weeks {HARMLESS}. A manager decides: little food and much new water, or "
        "another place."
    )
    return MealToday(0.0, f"No food yet: {CYCLING}. Ask a manager", more)


def sentence_case(words: str) -> str:
    return words[:1].upper() + words[1:]


def _first_words(steps: Sequence[Step]) -> str:
    if not steps[0].is_none:
        return f"Until it is mature at most {steps[0].words} a meal now"
    fed = next((step for step in steps if not step.is_none), None)
    if fed is None:
        return "No meal is sure to keep the limits in the weeks looked at"
    return f"No meal until {day_name(fed.first)}, then at most {fed.words}"


def _whole_words(whole: date | None, plan: str) -> str:
    if whole is None:
        return f"the planned {plan} not within these weeks"
    return f"the planned {plan} from {day_name(whole)}"


def _whole_from(steps: Sequence[Step]) -> date | None:
    """The day from which on the whole plan may be fed."""
    less = [n for n, step in enumerate(steps) if not step.is_whole]
    after = less[-1] + 1 if less else 0
    return steps[after].first if after < len(steps) else None


def day_name(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _down(share: float, most: float) -> float:
    return BASE - (BASE - TOP) * share / max(most, 1.0)


def _places(shares: Sequence[float]) -> list[Place]:
    """Both ends of every day's step."""
    wide = (WIDTH - LEFT - RIGHT) / len(shares)
    ends = ((LEFT + wide * n, LEFT + wide * (n + 1)) for n in range(len(shares)))
    heights = (_down(share, max(shares)) for share in shares)
    return [(x, y) for both, y in zip(ends, heights, strict=True) for x in both]


def _ticks(steps: Sequence[Step], made_on: date, days: int) -> list[Tick]:
    """The first day of each step, as far as their words have room."""
    wide = (WIDTH - LEFT - RIGHT) / days
    ticks: list[Tick] = []
    for step in steps:
        x = LEFT + wide * (step.first - made_on).days
        if (not ticks or x - ticks[-1].at >= FEWEST_PIXELS_A_WORD) and x <= WIDTH - FEWEST_PIXELS_A_WORD:
            ticks.append(Tick(round(x, 1), day_name(step.first)))
    return ticks
