"""Two forecasts of one water in numbers and words: as it is, and as it would be. Plain Python.

Chances are shares (0 to 1) of the members of the ensemble; days count from 0, today. Concentrations in mg/L,
nitrogen as N.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import LEVELS, Forecast, Span
from filtration.forecasting.limits import ACUTE, Bound, bound_of

MIDDLE = LEVELS.index(0.5)
# Below NO_RISK nothing is said to threaten; above AT_RISK something is. Assumption: a hundred and some members
# cannot tell less apart.
NO_RISK, AT_RISK = 0.02, 0.05
GRAVE = 0.5  # a chance on the worst day that calls for something else
NOT_READ = 0.0005
NO_DIFFERENCE = "No difference that matters for the water"
# What is told as a difference: expected days beyond the limit, the chance of the worst day, or the middle
# forecast at its worst, as a share of the limit. Assumption.
TELLING_DAYS, TELLING_CHANCE, TELLING_SHARE = 0.5, 0.1, 0.15
# What was eaten before is gone by then: from this day on (the second week), what is fed from now on shows alone.
FRESH_FROM_DAY = 7
# Swings that are told as evener or rougher: less than this share of the other.
EVENER = 0.6
WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


@dataclass(frozen=True, eq=False)
class Side:
    """One of the two: bands (records, levels) and the chance of passing the limit on each day."""

    bands: NDArray[np.float32]
    chances: NDArray[np.float64]
    is_least: bool

    @cached_property
    def days_beyond(self) -> float:
        """Days beyond the limit that are to be expected: the chances of all days added up."""
        return float(self.chances.sum())

    @cached_property
    def worst_chance(self) -> float:
        return float(self.chances.max())

    @cached_property
    def worst_day(self) -> int:
        return int(self.chances.argmax())

    @cached_property
    def extreme(self) -> float:
        """The middle forecast at its worst: the highest value, or the lowest of what must not fall."""
        middle = self.bands[:, MIDDLE]
        return float(middle.min() if self.is_least else middle.max())

    @cached_property
    def swing(self) -> tuple[float, float]:
        """Lowest and highest of the middle forecast in the second week."""
        first = FRESH_FROM_DAY * len(self.bands) // len(self.chances)
        middle = self.bands[first:, MIDDLE]
        return float(middle.min()), float(middle.max())


@dataclass(frozen=True, eq=False)
class Course:
    """One quantity before and after. limit: in the unit of `bound`."""

    bound: Bound
    limit: float
    before: Side
    after: Side

    @cached_property
    def telling(self) -> tuple[str, float]:
        """What differs enough to be told, and by how much, above zero for the worse; ('', 0) for nothing.

        'days' beyond the limit, else the 'chance' of the worst day, else the middle forecast's 'value' at its worst.
        """
        days = (self.after.days_beyond - self.before.days_beyond) / TELLING_DAYS
        chance = (self.after.worst_chance - self.before.worst_chance) / TELLING_CHANCE
        value = (self.after.extreme - self.before.extreme) / abs(self.limit) / TELLING_SHARE
        told = {"days": days, "chance": chance, "value": -value if self.bound.is_least else value}
        return next(((kind, by) for kind, by in told.items() if abs(by) >= 1), ("", 0.0))

    @cached_property
    def verdict(self) -> str:
        """'worse', 'better' or 'same'."""
        kind, by = self.telling
        return ("worse" if by > 0 else "better") if kind else "same"

    @cached_property
    def is_calm(self) -> bool:
        """Nothing to fear on either side."""
        return max(self.after.worst_chance, self.before.worst_chance) <= NO_RISK

    @cached_property
    def day(self) -> int:
        """The day that tells most: where it got worse (or better) by most; the worst one if it is the same."""
        difference = self.after.chances - self.before.chances
        if self.verdict == "same" or not difference.any():
            return self.after.worst_day
        return int(difference.argmax() if self.verdict == "worse" else difference.argmin())

    @cached_property
    def evenness(self) -> str:
        """'evener', 'rougher' or '': how the changed water swings between meals, against the other."""
        old, new = (high - low for low, high in (self.before.swing, self.after.swing))
        if max(old, new) < TELLING_SHARE * abs(self.limit):
            return ""
        return "evener" if new < EVENER * old else ("rougher" if old < EVENER * new else "")

    @cached_property
    def is_no_higher_later(self) -> bool:
        """For what must not rise: whether the middle forecast of the second week peaks no higher than before."""
        return not self.bound.is_least and self.after.swing[1] <= self.before.swing[1]

    @property
    def passes(self) -> str:
        return "falls below" if self.bound.is_least else "passes"


def courses(before: Forecast, after: Forecast) -> list[Course]:
    """Every quantity that has a limit, in the order of the limits. Both forecasts must have the same limits."""
    return [
        Course(
            bound_of(limit.quantity, is_least=limit.is_least),
            limit.value,
            _side(before, row),
            _side(after, row),
        )
        for row, limit in enumerate(before.limits)
    ]


def _side(forecast: Forecast, row: int) -> Side:
    limit = forecast.limits[row]
    return Side(forecast.band(limit.quantity), forecast.chances[row], limit.is_least)


def chance_text(chance: float) -> str:
    """A chance as it is said: '80 %', 'under 1 %', 'over 99 %'; nobody is ever quite sure."""
    if chance < 0.01:
        return "under 1\u00a0%"
    return "over 99\u00a0%" if chance > 0.99 else f"{chance * 100:.0f}\u00a0%"


def days_text(days: float) -> str:
    """Expected days: '4.1 days', '1.0 day', 'none'."""
    if days < 0.05:
        return "none"
    return "1.0 day" if f"{days:.1f}" == "1.0" else f"{days:.1f} days"


def day_name(day: int, today: date) -> str:
    """'today', 'tomorrow', or 'day 5 (Mon 30 Nov)': the first day is today."""
    if day <= 1:
        return ("today", "tomorrow")[day]
    on = today + timedelta(days=day)
    return f"day {day + 1} ({WEEKDAYS[on.weekday()]} {on.day} {on:%b})"


def sentence(course: Course, today: date, *, is_changed: bool) -> str:
    """One quantity in a sentence, the changed water first."""
    limit = f"{course.limit:.3g} {course.bound.unit}".strip()
    if course.is_calm:
        stays = f"stays {'above' if course.bound.is_least else 'below'} {limit}"
        return f"{stays}{_moves(course) if is_changed else ''}."
    day = course.day if is_changed else course.before.worst_day
    after, before = (chance_text(side.chances[day]) for side in (course.after, course.before))
    beyond = f"{course.passes} {limit} {_on(day, today)} with {after}"
    if not is_changed:
        return f"{beyond} at worst."
    return f"{beyond}, before: {before}.{_swings(course)}"


def _on(day: int, today: date) -> str:
    name = day_name(day, today)
    return f"on {name}" if day > 1 else name


def _moves(course: Course) -> str:
    if course.verdict == "same":
        return ", before and after"
    after, before = (value_text(side.extreme) for side in (course.after, course.before))
    return f"; at its {'lowest' if course.bound.is_least else 'highest'} about {after}, before {before}"


def _swings(course: Course) -> str:
    new, old = (swing_text(side) for side in (course.after, course.before))
    if new == old or (course.verdict == "same" and not course.evenness):
        return ""
    return f" In the second week about {new}, before {old}."


def swing_text(side: Side) -> str:
    """'0.02 to 0.09': lowest and highest of the middle forecast in the second week."""
    low, high = (value_text(value) for value in side.swing)
    return low if low == high else f"{low} to {high}"


def value_text(value: float) -> str:
    """A concentration or a pH as it is said, two digits; what no kit could read is 0."""
    if abs(value) < NOT_READ:
        return "0"
    return f"{value:.2g}" if abs(value) < 10 else f"{value:.0f}"


@dataclass(frozen=True, slots=True)
class Verdict:
    """The whole in a few words. kind: a state of the look; more: what else there is to say, or empty."""

    kind: str
    words: str
    more: str = ""


def verdict(found: Sequence[Course], *, is_changed: bool) -> Verdict:
    """The whole in a few words: what gets worse, what gets better, or what the water is heading for as it is."""
    if not is_changed:
        return _as_it_is(found)
    sides = {
        word: sorted((each for each in found if each.verdict == word), key=_gravity)
        for word in ("worse", "better")
    }
    if sides["worse"] and not _only_nearer(sides):
        kind = "act" if any(each.after.worst_chance >= GRAVE for each in sides["worse"]) else "watch"
        return Verdict(
            kind, _first("Worse", sides["worse"]), f"{_also(sides, 'worse')} {_evener(found)}".strip()
        )
    if sides["better"]:
        more = f"{_also(sides, 'better')} {_evener(found)}".strip()
        return Verdict("good", _first("Better", sides["better"]), more)
    return Verdict("good", NO_DIFFERENCE, _evener(found))


def _only_nearer(sides: dict[str, list[Course]]) -> bool:
    """Whether what gets worse comes nearer to its limits only, while something passes its own less than before."""
    is_nearer = all(each.telling[0] == "value" for each in sides["worse"])
    return is_nearer and any(each.telling[0] != "value" for each in sides["better"])


def _gravity(course: Course) -> tuple[bool, bool, int, float]:
    """What is told first: what is likely beyond its limit, of that what harms at once, then what is beyond it longest."""
    sides = (course.before, course.after)
    is_likely = max(side.worst_chance for side in sides) >= GRAVE
    kind = ("days", "chance", "value").index(course.telling[0])
    longest = max(side.days_beyond for side in sides)
    return not is_likely, course.bound.quantity not in ACUTE, kind, -longest


def verdict_on_part(part: Sequence[Course], whole: Verdict) -> Verdict:
    """The verdict of a water of which a part is split off: a part in danger goes before what the rest gains."""
    risky = [each for each in part if each.after.worst_chance >= GRAVE and each.verdict == "worse"]
    if not risky:
        return whole
    first = risky[0]
    words = f"What is split off: {first.bound.words} beyond its limit {_days(first.after)} of {len(first.after.chances)} days"
    return Verdict("act", words, f"The water that stays. {whole.words}. {whole.more}".strip())


def _as_it_is(found: Sequence[Course]) -> Verdict:
    risky = [each for each in found if each.before.worst_chance >= AT_RISK]
    if not risky:
        return Verdict("good", "As it is, no limit is likely to be passed in two weeks")
    worst = max(each.before.worst_chance for each in risky)
    return Verdict("act" if worst >= GRAVE else "watch", f"As it is, at risk: {_named(risky)}")


def _first(word: str, found: Sequence[Course]) -> str:
    """The first of them with its number."""
    first = found[0]
    head, sides = f"{word}: {first.bound.words}", (first.after, first.before)
    kind, _ = first.telling
    if kind == "days":
        after, before = (_days(side) for side in sides)
        return f"{head} beyond its limit {after} of {len(first.after.chances)} days, before {before}"
    if kind == "chance":
        after, before = (chance_text(side.worst_chance) for side in sides)
        return f"{head} beyond its limit with {after} on the worst day, before {before}"
    after, before = (value_text(side.extreme) for side in sides)
    return f"{head} about {after} at its {'lowest' if first.bound.is_least else 'highest'}, before {before}"


def _evener(found: Sequence[Course]) -> str:
    """The first quantity that swings less between meals, and rises no higher, once the old meals are gone."""
    first = next(
        (
            each
            for each in found
            if each.evenness == "evener" and each.verdict != "worse" and each.is_no_higher_later
        ),
        None,
    )
    if first is None:
        return ""
    new, old = (swing_text(side) for side in (first.after, first.before))
    return f"Evener in the second week: {first.bound.words} {new}, before {old}."


def _days(side: Side) -> str:
    if side.days_beyond < 0.05:
        return "none"
    return f"{side.days_beyond:.0f}" if side.days_beyond >= 9.95 else f"{side.days_beyond:.1f}"


def _also(sides: dict[str, list[Course]], said: str) -> str:
    """Everything but what was said first."""
    left = {word: some[1:] if word == said else some for word, some in sides.items()}
    heads = {"worse": "Worse" if said == "better" else "Also worse", "better": "Better"}
    heads["better"] = "Also better" if said == "better" else "Better"
    return " ".join(f"{heads[word]}: {_named(some)}." for word, some in left.items() if some)


def _named(found: Iterable[Course]) -> str:
    return ", ".join(each.bound.words for each in found)


def mature_words(days: Span | None, within: int) -> str:
    """'5 to 18 days, most likely about 10'; what a young filter is told to take on a plan."""
    if days is None:
        return "no meal planned, so nothing to grow on"
    if days.middle is None or days.early is None:
        return f"perhaps not within {within} days"
    late = f"{days.late:.0f}" if days.late is not None else f"more than {within}"
    return f"{days.early:.0f} to {late} days, most likely about {days.middle:.0f}"
